"""How far the database has come in time."""

from datetime import datetime

from carewatch.sqlite.database import Snapshot
from carewatch.sqlite.text_time import optional_time


def newest_row(snapshot: Snapshot) -> datetime | None:
    """When the newest forecast was fetched or notice was made, UTC; None while there is neither."""
    row = snapshot.execute(
        "SELECT max(at) AS at FROM "
        "(SELECT max(fetched_at) AS at FROM fetch UNION ALL SELECT max(created_at) FROM notice)"
    ).fetchone()
    return optional_time(row["at"])
