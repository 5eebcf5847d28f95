"""What was told and how it stands: whether there is another hour to act, what stays, what is held back."""

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from carewatch.alerts.call import TreeCall
from carewatch.alerts.danger import Danger, Notice
from carewatch.alerts.messages import held_back_line
from carewatch.alerts.timing import between
from carewatch.alerts.wording import LONGEST, listed

# An unanswered call whose hour has passed is told anew when there is a new hour, so much later, at which to act: the
# next evening of the same cold spell. Judged.
NEXT_HOUR = timedelta(hours=12)
WINTER_PLACE = "That is the winter place"
CLOTH_STAYS_OVER = "Leave the shade cloth over"
# Whom the sentence names stays without another word; whom it only counts is told again. Judged.
MOST_LISTED = 8


def winter_places(trees: Sequence[str]) -> str:
    """That trees are brought to where they winter, and stay."""
    if len(trees) == 1:
        return f"{WINTER_PLACE} of {trees[0]}: leave it there."
    return f"{WINTER_PLACE.replace('That is', 'Those are')}s of {listed(trees, MOST_LISTED)}: leave them there."


def settled(danger: Danger, spoken: Sequence[Notice]) -> bool:
    """Whether the grower was told, when asked to carry or shade a tree, to leave it there, or the cloth over it."""
    asked = [notice.body for notice in spoken if any(line.danger == danger.id for line in notice.lines)]
    stays = (WINTER_PLACE.partition("the ")[2], CLOTH_STAYS_OVER)
    said = [line for body in asked for line in body.split("\n") if any(words in line for words in stays)]
    return any(danger.tree in re.split(r"[ ,:]+|\. ", line) for line in said)


def has_next_hour(told: Sequence[Danger], call: TreeCall, now: datetime) -> bool:
    """Whether what was told passed its hour without being done, refused or eased, and there is another hour to act."""
    hours = [danger.spoken_act_by for danger in told if danger.spoken_act_by is not None]
    if not hours or any(danger.answer == "skip" or (is_on(danger) and not is_poured(danger)) for danger in told):
        return False
    passed = max(hours, key=lambda hour: hour.astimezone(UTC))
    return between(passed, now) > timedelta(0) and between(passed, call.act_by) >= NEXT_HOUR and now < call.act_by


def is_on(danger: Danger) -> bool:
    """Whether what was asked for is done."""
    return danger.answer == "done" or danger.in_force


def is_poured(danger: Danger) -> bool:
    """Whether what was asked is done at once and does not stay: water lasts for the hours that it buys."""
    return danger.spoken_measure == "water"


def is_past(moment: datetime | None, now: datetime) -> bool:
    """Whether a moment has come; one that never comes has not."""
    return moment is not None and between(moment, now) >= timedelta(0)


def with_held(notices: Sequence[Notice], held: Sequence[str]) -> tuple[Notice, ...]:
    """The notices, the last of them with what was held back."""
    if not notices or not held:
        return tuple(notices)
    last = notices[-1]
    line = held_back_line(list(dict.fromkeys(held)))
    kept = last.body.split("\n")
    while len(kept) > 1 and len("\n".join(kept)) + len(line) + 2 > LONGEST:
        kept.pop()
    return (*notices[:-1], replace(last, body="\n".join(kept).rstrip() + f"\n\n{line}"))
