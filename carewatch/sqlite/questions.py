"""What the grower was asked: each question once, however long ago."""

from datetime import datetime

from carewatch.sqlite.database import Snapshot
from carewatch.sqlite.text_time import time_of


def questions_asked(snapshot: Snapshot) -> tuple[tuple[str, datetime], ...]:
    """Every tree that a question was about and when (UTC) it was asked, oldest first."""
    rows = snapshot.execute(
        "SELECT tree, created_at FROM notice JOIN notice_line ON notice_line.notice = notice.id "
        "WHERE kind = 'question' ORDER BY created_at, tree"
    )
    return tuple((row["tree"], time_of(row["created_at"])) for row in rows)
