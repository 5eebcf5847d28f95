"""Tokens of answer links: who has one may answer one notice without a password. Only their hashes are kept."""

import re
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256
from typing import Literal

from carewatch.sqlite.database import Snapshot, Transaction
from carewatch.sqlite.text_time import time_of, time_text

# A link stays good for what is answered after the night; later it would only be a key that lies about. Judged.
TOKEN_OUTLIVES_NOTICE = timedelta(days=3)
# For so long one that comes too late is told so; after that it is unknown. Judged.
FORGOTTEN_AFTER = timedelta(days=30)
# Hexadecimal: it can neither be taken for an option on a command line nor be spoilt by a change of case.
TOKEN_BYTES = 16
_TOKEN = re.compile(r"[0-9a-f]{32}")


@dataclass(frozen=True)
class TokenFound:
    """
    What a token is good for.

    state: "good"; "too-late" for one whose time is over; "unknown" for one that was never given out, or is forgotten.
    notice, channel: which notice it answers, as it went out on which channel; "" for an unknown one.
    good_until: UTC; None for an unknown one.
    """

    state: Literal["good", "too-late", "unknown"]
    notice: str = ""
    channel: str = ""
    good_until: datetime | None = None


def issue_token(transaction: Transaction, notice_id: str, channel: str) -> str:
    """
    A new secret of 128 bits, as 32 hex digits, for a link to this notice on this channel. Only its hash is stored.

    It has to be made where the message is put together: nothing that is kept can bring it back.

    Raises StoreRefused when there is no such notice, when the transaction ends at the latest.
    """
    token = secrets.token_hex(TOKEN_BYTES)
    transaction.execute(
        "INSERT INTO answer_token (token_hash, notice, channel, issued_at) VALUES (?, ?, ?, ?)",
        (_hash(token), notice_id, channel, time_text(transaction.now)),
    )
    return token


def find_token(snapshot: Snapshot, token: str) -> TokenFound:
    """What a token from a link is good for now; spaces around it, and capitals, are not held against it."""
    plain = token.strip().lower()
    if not _TOKEN.fullmatch(plain):
        return TokenFound("unknown")
    # Found by the hash of what was given: how long it takes tells nothing about the tokens that there are.
    row = snapshot.execute(
        "SELECT notice, channel, useless_after FROM answer_token JOIN notice ON notice.id = answer_token.notice "
        "WHERE token_hash = ?",
        (_hash(plain),),
    ).fetchone()
    if row is None:
        return TokenFound("unknown")
    until = time_of(row["useless_after"]) + TOKEN_OUTLIVES_NOTICE
    return TokenFound("good" if snapshot.now <= until else "too-late", row["notice"], row["channel"], until)


def forget_tokens(transaction: Transaction) -> int:
    """How many tokens were deleted, because their notice is long past."""
    return transaction.execute(
        "DELETE FROM answer_token WHERE notice IN (SELECT id FROM notice WHERE useless_after < ?)",
        (time_text(transaction.now - FORGOTTEN_AFTER),),
    ).rowcount


def _hash(token: str) -> str:
    return sha256(token.encode()).hexdigest()
