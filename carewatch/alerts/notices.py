"""How a notice is made: ranks of severity, ids that stand for what is said, and the notice around a message."""

import hashlib
from datetime import datetime, timedelta

from carewatch.alerts.danger import SEVERITIES, Notice, NoticeLine
from carewatch.alerts.wording import Message, unbroken

SEVERE = SEVERITIES.index("Severe")


def rank(severity: str) -> int:
    """Place of a CAP severity in rising order; an empty one counts as unknown."""
    return SEVERITIES.index(severity) if severity in SEVERITIES else 0


def identity(*parts: str) -> str:
    """16 hex digits that stand for these words: the same words, the same id."""
    return hashlib.sha256("\x1f".join(parts).encode()).hexdigest()[:16]


def made_notice(
    kind: str,
    severity: str,
    message: Message,
    now: datetime,
    useless_after: datetime,
    key: str,
    lines: tuple[NoticeLine, ...] = (),
) -> Notice:
    """A notice to be sent at once; key: what it says, in words that are the same whenever it says the same."""
    return Notice(
        id=identity("notice", key),
        kind=kind,
        severity=severity,
        title=unbroken(message.title),
        body=unbroken(message.body),
        created_at=now,
        due_at=now,
        useless_after=max(useless_after, now + timedelta(minutes=30)),
        dedup=identity("key", key),
        lines=lines,
    )
