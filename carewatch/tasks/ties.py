"""Tasks of ties: the monthly look before they bite, and the day on which they may go."""

from collections.abc import Iterable, Iterator
from datetime import date, timedelta

import numpy as np

from carewatch.care.log import Entry
from carewatch.care.whole_log import in_force
from carewatch.tasks.layers import last_entry, last_look
from carewatch.tasks.numbers import TaskNumbers
from carewatch.tasks.prospect import Prospect
from carewatch.tasks.task import Draft
from carewatch.tasks.wording import day_of

TIES = "tie-down"
# Works that loosen roots: what stood still before them stands still anew. A carry, level and tied, is no such work, or
# the winter plan would put every layer back by a winter.
LOOSENS = ("sever-layer", "root-prune", "repot", "lift")


def untie(prospect: Prospect, numbers: TaskNumbers) -> Iterator[Draft]:
    """When the ties of a tree may go: after twelve months for a layer, for any tree when its roots hold it."""
    tied = _tied_since(prospect.log)
    ended = last_entry(prospect.log, ("untie",))
    if tied is None:
        # What was untied lately is told as done, with the window that it had.
        if ended is None or (prospect.today - ended.at.date()).days > numbers.kept_days:
            return
        tied = ended.at.date()
    still_days, practice = numbers.rules.wait("untie", "sever-layer")
    loosened = [entry for entry in prospect.log if entry.work in LOOSENS]
    layer = last_entry(prospect.log, ("sever-layer",))
    since = loosened[-1].at.date() if loosened else tied
    still = layer is not None and (since - layer.at.date()).days < still_days
    earliest = since + timedelta(days=still_days) if still else since
    firm = prospect.first(lambda condition: condition.anchorage >= numbers.hold_enough, since)
    by_calendar = firm is not None and firm <= earliest
    first = max(earliest, firm or prospect.end)
    last = first + timedelta(days=numbers.untie_open_days)
    hold = f"its roots hold it at {prospect.now.anchorage * 100:.0f} % today"
    need = f"ties stay until {numbers.hold_enough * 100:.0f} %"
    if still:
        reason = (
            f"Its roots were left to themselves on {day_of(since)}: a layer stands absolutely still for twelve months, "
            f"and {need}; {hold}."
        )
    else:
        reason = f"{hold[0].upper()}{hold[1:]}; {need}."
    if firm is None:
        moves = "Warmth decides: so far it is not in sight, and a warm summer brings it nearer."
    elif by_calendar and still:
        moves = (
            f"The calendar decides: no warmth brings it forward; a summer so cold that its hold is not there by then "
            f"puts it back (foreseen for {day_of(firm)})."
        )
    else:
        bound = f", but not before {day_of(earliest)}" if still else ""
        moves = f"Warmth decides: a cool summer puts it back, a warm one brings it forward{bound}."
    done = ended.at.date() if ended is not None and ended.at.date() >= tied else None
    source = f"{numbers.sources['untie']}; {practice}" if still else numbers.sources["untie"]
    yield Draft("untie", first, first, last, reason, moves, source, done_on=done)


def tie_check(prospect: Prospect, numbers: TaskNumbers) -> Iterator[Draft]:
    """The next look at ties that hold a tree: once a month while it grows, since they bite as the trunk thickens."""
    on = _tied_on(prospect)
    if on is None:
        return
    grows = prospect.growing(numbers.growth_mean_c)
    days = np.flatnonzero(grows & (prospect.lived.days > np.datetime64(on)))
    looked = last_look(prospect.log, "tie-check", None, on)
    if looked is not None:
        earliest = looked + timedelta(days=numbers.tie_every_days)
    elif days.size > numbers.tie_every_days:
        earliest = prospect.day(int(days[numbers.tie_every_days]))
    else:
        return
    # What does not thicken is not cut: at rest the next look waits for growth.
    first = prospect.first_of(grows, earliest)
    if first is None:
        return
    # Ties that may go by then are taken off and not looked at, unless the grower leaves them on.
    left_on = any(entry.work == "put-off" and entry.measure == "untie" for entry in prospect.log)
    if not left_on and any(off.first <= max(first, prospect.today) for off in untie(prospect, numbers)):
        return
    had = int(np.count_nonzero(days <= prospect.index(prospect.today)))
    weeks = " to ".join(f"{count // 7}" for count in numbers.tie_bites_days)
    layer = last_entry(prospect.log, ("sever-layer",)) is not None
    yield Draft(
        "tie-check",
        first,
        first,
        first + timedelta(days=numbers.tie_every_days - 1),
        f"Tied on {day_of(on)}, {had} days of growth since then: ties bite after {weeks} weeks of growth, so look at "
        "them once a month where they touch the bark"
        + (", loosen or pad them, and do not rock the layer over it." if layer else ", and loosen or pad them."),
        f"Growth moves it: only days in leaf at a mean of {numbers.growth_mean_c:.0f} °C and more count; in winter it "
        "can wait.",
        numbers.sources["ties"],
    )


def _tied_on(prospect: Prospect) -> date | None:
    """Since when ties hold a tree, by a work or as a measure; None if none do or nobody wrote it down."""
    measure = in_force(prospect.log, prospect.tree.id).get(TIES)
    found = [_tied_since(prospect.log), None if measure is None else measure.at.date()]
    return min((day for day in found if day is not None), default=None)


def _tied_since(log: Iterable[Entry]) -> date | None:
    """The day on which the ties that hold a tree were first set, or None if none do."""
    since: date | None = None
    for entry in log:
        if entry.work == "untie":
            since = None
        elif since is None and (entry.work == "tie-down" or entry.tied):
            since = entry.at.date()
    return since
