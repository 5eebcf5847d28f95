"""What is kept of the last judgement for the next one: a cache and never a truth, one row that may go at any time."""

from carewatch import __version__
from carewatch.exposure.kept import Checkpoint
from carewatch.sqlite.database import Snapshot, Transaction
from carewatch.sqlite.text_time import time_text


def kept_checkpoint(snapshot: Snapshot) -> Checkpoint | None:
    """The newest checkpoint of this release, or None. Whether it still holds, its reader sees by its key."""
    row = snapshot.execute(
        "SELECT key, content FROM checkpoint WHERE release = ? ORDER BY made_at DESC, key LIMIT 1", (__version__,)
    ).fetchone()
    return None if row is None else Checkpoint(row["key"], bytes(row["content"]))


def keep_checkpoint(transaction: Transaction, checkpoint: Checkpoint) -> None:
    """
    Keep a checkpoint in place of all earlier ones: only the newest can serve the next judgement.

    One that is kept already is left as it is, unless its content is another.
    """
    same = transaction.execute(
        "SELECT 1 FROM checkpoint WHERE key = ? AND content = ? AND release = ?",
        (checkpoint.key, checkpoint.content, __version__),
    ).fetchone()
    if same is not None:
        return
    transaction.execute("DELETE FROM checkpoint")
    transaction.execute(
        "INSERT INTO checkpoint (key, content, release, made_at) VALUES (?, ?, ?, ?)",
        (checkpoint.key, checkpoint.content, __version__, time_text(transaction.now)),
    )
