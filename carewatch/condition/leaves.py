"""What leaves say of the roots: seen firm, hanging or wilted, they correct the supply that a table could only guess."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from carewatch.care.log import Entry
from carewatch.condition.numbers import LeafNumbers

SOURCE = "the grower's answer; its weight is an estimate (that leaves know better than a table is common practice)"


@dataclass(frozen=True)
class Verdict:
    """What was seen of the leaves on a day, in words, and the factor by which it corrects root supply. [-]"""

    on: date
    words: str
    factor: float


def verdict(entry: Entry, numbers: LeafNumbers) -> Verdict | None:
    """What an entry says of the roots; None for what says nothing of them. entry.at: in the site's zone."""
    if entry.work != "observe":
        return None
    day = entry.at.date()
    if entry.seen == "firm":
        return Verdict(day, "leaves seen firm", numbers.firm_factor)
    if entry.seen == "wilting" and entry.at.hour < numbers.dawn_until_h:
        return Verdict(day, "leaves seen hanging still at dawn", numbers.still_hanging_factor)
    if entry.seen in ("hanging", "wilting"):
        return Verdict(day, "leaves seen hanging by day", numbers.hanging_factor)
    return None


def told(verdicts: Sequence[Verdict]) -> str:
    """What leaves corrected, as a clause; "" for nothing."""
    return "; ".join(f"{found.words} on {found.on} (× {found.factor:g})" for found in verdicts)


def credited(verdicts: Sequence[Verdict]) -> str:
    """What leaves corrected and why it counts, to be added to the source of the number; "" for nothing."""
    return f"; {told(verdicts)}: {SOURCE}" if verdicts else ""
