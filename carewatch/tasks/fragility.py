"""How fragile a tree is month by month, and what is left of each deficit that a work opened."""

from calendar import monthrange
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

from carewatch.condition.leaves import told
from carewatch.condition.now import Condition
from carewatch.condition.recovery import Opened
from carewatch.tasks.prospect import Prospect

# A share that is nearly whole, or of young roots nearly none, counts as closed (judged). [0-1]
NEARLY_WHOLE, HARDLY_ANY = 0.9, 0.1
# What works opened longer ago than these shares is no more to be looked at: as good as an untouched tree
# (judged). [0-1]
AS_GOOD_AS_WHOLE, AS_GOOD_AS_NONE = 0.98, 0.02
USUAL_MONTHS = 14


@dataclass(frozen=True)
class FragilityPoint:
    """
    The tree at the end of a month.

    month: months since the course begins; on: the day. ahead: it lies after today and is foreseen.
    root_supply, anchorage, young_roots, leaf_area: [0-1]; capped: the calendar holds its anchorage at this. [0-1]
    stage: name. tied: ties hold it. shade: what works opened asks for shade.
    """

    month: int
    on: date
    ahead: bool
    root_supply: float
    anchorage: float
    young_roots: float
    leaf_area: float
    capped: float | None
    stage: str
    tied: bool
    shade: bool


@dataclass(frozen=True)
class Deficit:
    """
    One thing that a work took from a tree.

    what: "root supply", "anchorage", "young roots" or "leaf area". began, today: values. [0-1]
    closes_by: what closes it, a sentence. enough: the value at which it counts as closed. [0-1]
    closed_on: the day, past or foreseen; None if it is not in sight. source: of its numbers.
    """

    work: str
    on: date
    what: str
    began: float
    today: float
    closes_by: str
    enough: float
    closed_on: date | None
    source: str


def fragility_course(prospect: Prospect, begin: date, months: int = USUAL_MONTHS) -> tuple[FragilityPoint, ...]:
    """
    The course of a tree's fragility: the day itself and the same day of so many months after it.

    Days after the last one of the prospect are left out.
    """
    days = [(month, _months_later(begin, month)) for month in range(months + 1)]
    return tuple(fragility_on(prospect, begin, day) for _, day in days if day <= prospect.end)


def course_begins(prospect: Prospect) -> date:
    """The day of the oldest work that still weighs on the tree; today if none does."""
    weighing = [work.entry.at.date() for work in prospect.now.opened if _weighs(work)]
    return min(weighing, default=prospect.today)


def needs_shade(condition: Condition) -> bool:
    """Whether what works opened asks for shade: leaves on roots, or new leaves, that cannot bear the sun."""
    return condition.in_leaf and condition.sun_limit_kwh is not None


def deficits(prospect: Prospect) -> tuple[Deficit, ...]:
    """Every deficit that works of the log opened and that is not closed long ago, oldest work first."""
    found: list[Deficit] = []
    for position, work in enumerate(prospect.now.opened):
        if _weighs(work):
            found += _deficits(prospect, position, work)
    return tuple(found)


def _deficits(prospect: Prospect, position: int, work: Opened) -> list[Deficit]:
    effect, on = work.effect, work.entry.at.date()
    restored = prospect.numbers.recovery.supply_restored

    def closed(holds: Callable[[Opened], bool], since: date) -> date | None:
        return prospect.first(lambda condition: holds(condition.opened[position]), since)

    found = []
    if effect.root_supply < AS_GOOD_AS_WHOLE:
        day = closed(lambda opened: opened.root_supply >= restored, on)
        said = (
            f"warmth of the root zone under leaves ({effect.supply_theta:.0f} °C·d bring most of it, "
            f"{work.theta:.0f} were had); at {restored:.1f} the limits of sun end"
        )
        said += f"; corrected by {told(work.leaves)}" if work.leaves else ""
        found.append(_deficit(work, "root supply", effect.root_supply, work.root_supply, said, restored, day))
    if effect.anchorage < AS_GOOD_AS_WHOLE:
        day = closed(lambda opened: opened.anchorage >= NEARLY_WHOLE, on)
        caps = ", ".join(f"{highest:.2f} before day {before}" for before, highest in effect.anchor_caps)
        said = f"the same warmth, more slowly ({effect.anchor_theta:.0f} °C·d)" + (
            f"; the calendar lets it be at most {caps}" if caps else ""
        )
        found.append(_deficit(work, "anchorage", effect.anchorage, work.anchorage, said, NEARLY_WHOLE, day))
    peak = max(effect.young_roots, effect.young_roots_peak)
    if peak > AS_GOOD_AS_NONE:
        # A pruned tree first makes new roots: they can ripen only when they are there.
        since = on + timedelta(days=int(effect.young_roots_peak_days))
        day = closed(lambda opened: opened.young_roots <= HARDLY_ANY, min(since, prospect.end))
        said = "ripening, in warmth between bud break and early September only"
        found.append(_deficit(work, "young roots", peak, work.young_roots, said, HARDLY_ANY, day))
    if effect.leaf_area < AS_GOOD_AS_WHOLE:
        day = closed(lambda opened: opened.leaf_area >= NEARLY_WHOLE, on)
        said = f"warmth of the growing season: buds move after {effect.leaf_regrow_start:.0f} °C·d, nine tenths of "
        said += f"what is missing are back after {effect.leaf_regrow_full:.0f}; a spring brings new leaves"
        found.append(_deficit(work, "leaf area", effect.leaf_area, work.leaf_area, said, NEARLY_WHOLE, day))
    return found


def _deficit(
    work: Opened, what: str, began: float, today: float, closes_by: str, enough: float, closed_on: date | None
) -> Deficit:
    return Deficit(
        work.effect.name, work.entry.at.date(), what, began, today, closes_by, enough, closed_on, work.effect.source
    )


def _weighs(work: Opened) -> bool:
    shares = min(work.root_supply, work.anchorage, work.leaf_area)
    return shares < AS_GOOD_AS_WHOLE or work.young_roots > AS_GOOD_AS_NONE


def fragility_on(prospect: Prospect, begin: date, day: date) -> FragilityPoint:
    """The tree on one day of a course that begins on another."""
    month = 12 * (day.year - begin.year) + day.month - begin.month
    if _months_later(begin, month) > day:
        month -= 1
    condition = prospect.on(day)
    return FragilityPoint(
        month=month,
        on=day,
        ahead=day > prospect.today,
        root_supply=condition.root_supply,
        anchorage=condition.anchorage,
        young_roots=condition.young_roots,
        leaf_area=condition.leaf_area,
        capped=_cap(condition),
        stage=condition.stage,
        tied=condition.tied,
        shade=needs_shade(condition),
    )


def _cap(condition: Condition) -> float | None:
    """The calendar's highest anchorage, where a work is held at it."""
    for work in condition.opened:
        running = [highest for before, highest in work.effect.anchor_caps if work.days < before]
        if running and work.anchorage >= min(running) - 1e-9:
            return min(running)
    return None


def _months_later(day: date, months: int) -> date:
    """The same day of a later month, or its last one."""
    year, month = divmod(day.month - 1 + months, 12)
    year += day.year
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))
