"""What leaves say of the roots: seen firm, hanging or wilted, they correct the supply that a table could only guess."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from carewatch.care.log import Entry

# What roots were found to bring, against what the table had: leaves that do not hang at two in the afternoon; that hang
# then and are up again by nine in the evening; that hang still at dawn. Estimates: the order of the three is common
# practice, the steps are wide enough to be worth asking for and small enough to be wrong about once. [-]
FIRM, HANGING, STILL_HANGING = 1.25, 0.8, 0.5
SOURCE = "the grower's answer; its weight is an estimate (that leaves know better than a table is common practice)"
# Leaves that hang in the morning until this hour have not come up in the night (judged). [h]
DAWN_UNTIL_H = 10


@dataclass(frozen=True)
class Verdict:
    """What was seen of the leaves on a day, in words, and the factor by which it corrects root supply. [-]"""

    on: date
    words: str
    factor: float


def verdict(entry: Entry) -> Verdict | None:
    """What an entry says of the roots; None for what says nothing of them. entry.at: in the site's zone."""
    if entry.work != "observe":
        return None
    day = entry.at.date()
    if entry.seen == "firm":
        return Verdict(day, "leaves seen firm", FIRM)
    if entry.seen == "wilting" and entry.at.hour < DAWN_UNTIL_H:
        return Verdict(day, "leaves seen hanging still at dawn", STILL_HANGING)
    if entry.seen in ("hanging", "wilting"):
        return Verdict(day, "leaves seen hanging by day", HANGING)
    return None


def told(verdicts: Sequence[Verdict]) -> str:
    """What leaves corrected, as a clause; "" for nothing."""
    return "; ".join(f"{found.words} on {found.on} (× {found.factor:g})" for found in verdicts)


def credited(verdicts: Sequence[Verdict]) -> str:
    """What leaves corrected and why it counts, to be added to the source of the number; "" for nothing."""
    return f"; {told(verdicts)}: {SOURCE}" if verdicts else ""
