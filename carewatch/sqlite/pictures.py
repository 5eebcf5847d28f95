"""Pictures of notices, kept from before the first try to send until the notice is of no use: a crash loses none."""

from dataclasses import dataclass

from carewatch.sqlite.database import Snapshot, Transaction
from carewatch.sqlite.text_time import time_text

# More than any picture has; a database of a home server must not grow by what goes wrong in drawing. [bytes]
LARGEST = 200_000
LONGEST_CAPTION = 500


@dataclass(frozen=True)
class KeptPicture:
    """A picture as it was drawn. png: the file's bytes; caption: what it shows, in words."""

    png: bytes
    caption: str


def keep_picture(transaction: Transaction, notice_id: str, picture: KeptPicture) -> bool:
    """
    True when the picture is kept now; False for one that is empty or too large, and where the notice has one already.

    Raises StoreRefused when there is no such notice, when the transaction ends at the latest.
    """
    if not 0 < len(picture.png) <= LARGEST:
        return False
    added = transaction.execute(
        "INSERT INTO notice_picture (notice, png, caption) VALUES (?, ?, ?) ON CONFLICT (notice) DO NOTHING",
        (notice_id, picture.png, picture.caption[:LONGEST_CAPTION]),
    )
    return added.rowcount == 1


def picture_of_notice(snapshot: Snapshot, notice_id: str) -> KeptPicture | None:
    """The picture of a notice, or None."""
    row = snapshot.execute("SELECT png, caption FROM notice_picture WHERE notice = ?", (notice_id,)).fetchone()
    return None if row is None else KeptPicture(row["png"], row["caption"])


def forget_pictures(transaction: Transaction) -> int:
    """How many pictures were deleted because their notice is of no use any more."""
    return transaction.execute(
        "DELETE FROM notice_picture WHERE notice IN (SELECT id FROM notice WHERE useless_after < ?)",
        (time_text(transaction.now),),
    ).rowcount
