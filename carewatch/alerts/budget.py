"""How much may be said in a day: at most three ordinary messages, and the last of them only where it matters."""

from collections.abc import Sequence
from datetime import datetime

from carewatch.alerts.danger import Notice
from carewatch.alerts.notices import SEVERE, rank

# Messages a day that are not severe (design; judged).
MOST_A_DAY = 3
# What counts: all that is pushed but the daily rounds, which come at their hour, and words on the watch itself.
COUNTED = ("call", "worse", "repeat", "stand-down", "bring-back", "season", "question")
# The third one is kept for what spoils if it is not said on the day. Judged.
CAN_WAIT = ("repeat", "season", "question")


def said_today(spoken: Sequence[Notice], now: datetime) -> int:
    """How many ordinary messages have been made today. now: in the site's zone."""
    return sum(
        notice.kind in COUNTED
        and rank(notice.severity) < SEVERE
        and notice.created_at.astimezone(now.tzinfo).date() == now.date()
        for notice in spoken
    )


def may_say(kind: str, severity: str, already: int) -> bool:
    """Whether one more message of this kind may be made today after so many ordinary ones."""
    if rank(severity) >= SEVERE or kind not in COUNTED:
        return True
    return already < MOST_A_DAY - (kind in CAN_WAIT)


def is_last(severity: str, already: int) -> bool:
    """Whether an ordinary message after so many is the day's last."""
    return rank(severity) < SEVERE and already == MOST_A_DAY - 1
