"""Tasks that growth and season bring: wire, sacrifices, shade, feeding, cut paste, turning to the light."""

from collections.abc import Iterator, Mapping
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from carewatch.care.log import Entry
from carewatch.care.planned import TAKEN_OFF_BY, late_summer_after
from carewatch.condition.now import Condition
from carewatch.condition.season import before_autumn
from carewatch.condition.stage import FLUSHING, MATURE
from carewatch.place.spot import Place
from carewatch.tasks.layers import last_look
from carewatch.tasks.numbers import TaskNumbers
from carewatch.tasks.prospect import Flags, Prospect, stands_at
from carewatch.tasks.task import Draft
from carewatch.tasks.wording import day_of

Positions = NDArray[np.int64]
SHADE_CLOTH = "shade-cloth"
SHADY = ("shade", "under-tree")
# Places whose light comes from one side.
ONE_SIDED = ("wall", "shade", "indoors")
# A sacrifice that is planned anew replaces the older plan.
ENDS_SACRIFICE = (*TAKEN_OFF_BY, "sacrifice")
ROOT_WORKS = ("sever-layer", "root-prune", "repot", "lift")


def wires(prospect: Prospect, numbers: TaskNumbers) -> Iterator[Draft]:
    """Looks at every wire that stands, weekly in strong growth, and when it mostly comes off."""
    needle = prospect.tree.species.leaf_class == "needle"
    off_from, off_until = numbers.wire_off_needle_days if needle else numbers.wire_off_days
    grows = prospect.growing(numbers.growth_mean_c)
    for entry, ended in _wires(prospect.log):
        on, about = entry.at.date(), entry.branch or ""
        days = np.flatnonzero(grows & (prospect.lived.days > np.datetime64(on)))
        off = _grown(prospect, days, off_from)
        if off is not None:
            last = _grown(prospect, days, off_until) or prospect.end
            gauge = f" of {entry.gauge_mm:g} mm" if entry.gauge_mm is not None else ""
            yield Draft(
                "wire-off",
                off,
                off,
                last,
                f"The wire{gauge} was set on {day_of(on)}; it comes off when it begins to mark the bark.",
                "Growth moves it: a branch in full vigour is marked weeks earlier, a weak one later. What the bark "
                "shows at the weekly look decides.",
                numbers.sources["wire"],
                about,
                None if ended is None else ended.at.date(),
            )
        if ended is None:
            yield from _wire_check(prospect, entry, days, numbers)


def _wire_check(prospect: Prospect, entry: Entry, days: Positions, numbers: TaskNumbers) -> Iterator[Draft]:
    """The next look at one wire; days: positions of days of growth since it was set."""
    on = entry.at.date()
    start = _grown(prospect, days, numbers.wire_grown_days)
    if start is None:
        return
    looked = last_look(prospect.log, "wire-check", entry.branch, on)
    first = start if looked is None else max(start, looked + timedelta(days=numbers.wire_every_days))
    # Outside of the season wire does not bite: the next look waits for growth.
    later = days[days >= prospect.index(first)]
    if first > prospect.end or not later.size:
        return
    first = prospect.day(int(later[0]))
    had = int(np.count_nonzero(days <= prospect.index(prospect.today)))
    weeks = "once a week" if numbers.wire_every_days == 7 else f"every {numbers.wire_every_days} days"
    yield Draft(
        "wire-check",
        first,
        first,
        first + timedelta(days=numbers.wire_every_days - 1),
        f"Wired on {day_of(on)}, {had} days of strong growth since then: from the fourth week of it wire bites, so "
        f"look {weeks} and take it off when it begins to mark the bark.",
        "Growth moves it: only days in leaf at a mean of 12 °C and more count.",
        numbers.sources["wire"],
        entry.branch or "",
    )


def _wires(log: tuple[Entry, ...]) -> list[tuple[Entry, Entry | None]]:
    """Every wire of a log with the entry that took it off, or None while it stands."""
    found: list[tuple[Entry, Entry | None]] = []
    for entry in log:
        if entry.work == "wire" or (entry.work == "bend" and entry.gauge_mm is not None):
            found.append((entry, None))
            continue
        whole = entry.work == "unwire" and entry.branch is None
        part = entry.branch is not None and entry.work in ("unwire", *TAKEN_OFF_BY)
        if whole or part:
            found = [
                (wire, entry if ended is None and (whole or wire.branch == entry.branch) else ended)
                for wire, ended in found
            ]
    return found


def _grown(prospect: Prospect, days: Positions, count: int) -> date | None:
    """The day after so many days of growth, or None where it is not in sight."""
    return prospect.day(int(days[count])) if count < days.size else None


def sacrifices(prospect: Prospect, latitude: float, numbers: TaskNumbers) -> Iterator[Draft]:
    """Branches and trunks that were left to thicken what is below them, and when they go. latitude: north positive."""
    for position, entry in enumerate(prospect.log):
        if entry.work != "sacrifice" or entry.branch is None:
            continue
        due = entry.due or late_summer_after(entry.at.date(), latitude)
        after = prospect.log[position + 1 :]
        ended = next((other for other in after if other.branch == entry.branch and other.work in ENDS_SACRIFICE), None)
        if ended is not None and ended.work == "sacrifice":
            continue
        yield Draft(
            "sacrifice-off",
            due - timedelta(days=numbers.sacrifice_before_days),
            due,
            due + timedelta(days=numbers.sacrifice_after_days),
            f"It was planned on {day_of(entry.at.date())} to go by {day_of(due)}: a large cut of late summer closes "
            "before growth ends.",
            "Your own date moves it (amend the entry with --due). It stays a year longer where it has not thickened "
            "enough, and in a season in which the tree lost roots or leaves.",
            numbers.sources["sacrifice"],
            entry.branch,
            None if ended is None else ended.at.date(),
        )


def shades(prospect: Prospect, places: Mapping[str, Place], numbers: TaskNumbers) -> Iterator[Draft]:
    """The end of shade at dormancy or when roots supply again, and the second shade at flush."""
    enough = prospect.numbers.recovery.supply_restored
    asking = [
        work.entry.at.date()
        for work in prospect.now.opened
        if work.effect.sun_first_kwh is not None and work.effect.root_supply < enough
    ]
    if not asking:
        return
    newest = max(asking)
    free = prospect.first(lambda condition: condition.sun_limit_kwh is None, newest)
    until = prospect.index(free) if free is not None else prospect.lived.days.size
    needed = prospect.in_leaf() & (prospect.lived.days >= np.datetime64(newest))
    needed[until:] = False
    spans = _spans(needed)
    shaded = is_shaded(prospect, places)
    supply = f"{prospect.now.root_supply * 100:.0f} %"
    for start, stop in spans:
        begins = prospect.day(start)
        restored = stop == until
        ends = prospect.day(min(stop, prospect.lived.days.size - 1))
        if begins > newest and prospect.stage.phases[start] == FLUSHING:
            shaded_on = _shaded_on(prospect, places, begins - timedelta(days=numbers.second_shade_before_days))
            yield Draft(
                "second-shade",
                begins - timedelta(days=numbers.second_shade_before_days),
                begins,
                begins + timedelta(days=numbers.second_shade_after_days),
                f"At flush its roots will supply {prospect.on(begins).root_supply * 100:.0f} % of the crown: soft "
                "leaves on few roots are its worst danger, more than what leaves it has in autumn. Shade and shelter "
                f"from wind until {day_of(ends)}.",
                f"Leaf-out moves it (an observation wins), and warmth: shade may go when supply is back to "
                f"{enough * 100:.0f} %.",
                numbers.sources["shade"],
                done_on=shaded_on,
            )
        ended = _unshaded_on(prospect, places, ends - timedelta(days=numbers.soon_days))
        in_time = ends + timedelta(days=numbers.end_shade_days + numbers.kept_days) >= prospect.today
        if in_time and stop < prospect.lived.days.size and (shaded or ended is not None):
            why = (
                f"its roots supply {enough * 100:.0f} % by then ({supply} today)"
                if restored
                else f"leaves are down; shade until dormancy was for them ({supply} of supply today)"
            )
            yield Draft(
                "end-shade",
                ends,
                ends,
                ends + timedelta(days=numbers.end_shade_days),
                f"It may stand in the light again: {why}.",
                "Warmth moves it: what its roots gain, or the day its leaves fall; an observation wins."
                + ("" if restored else " At flush the shade comes back."),
                numbers.sources["shade"],
                done_on=ended,
            )
            shaded = False


def _spans(marked: Flags) -> list[tuple[int, int]]:
    """First and past-the-last position of each stretch of marked days."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], marked.astype(np.int8), [0]])))
    return [(int(start), int(stop)) for start, stop in edges.reshape(-1, 2)]


def is_shaded(prospect: Prospect, places: Mapping[str, Place]) -> bool:
    """Whether a tree stands in the shade of its place or under shade cloth today."""
    condition: Condition = prospect.now
    cloth = SHADE_CLOTH in (*condition.measures, *condition.begun)
    return cloth or _shady(places.get(stands_at(prospect.tree, prospect.log)))


def _shady(place: Place | None) -> bool:
    return place is not None and (place.kind in SHADY or place.shade_cloth > 0.0)


def _shaded_on(prospect: Prospect, places: Mapping[str, Place], since: date) -> date | None:
    """Day on which it came into shade, `since` or later; it counts from `since` where it stands in shade by then."""
    if since > prospect.today:
        return None
    for entry in prospect.log:
        into = (entry.work == "begin" and entry.measure == SHADE_CLOTH) or (
            entry.work == "move" and _shady(places.get(entry.to or ""))
        )
        if into and entry.at.date() >= since:
            return entry.at.date()
    return since if is_shaded(prospect, places) else None


def _unshaded_on(prospect: Prospect, places: Mapping[str, Place], since: date) -> date | None:
    """Day on which the log has it out of the shade, `since` or later."""
    if is_shaded(prospect, places):
        return None
    for entry in reversed(prospect.log):
        out = (entry.work == "end" and entry.measure == SHADE_CLOTH) or (
            entry.work == "move" and not _shady(places.get(entry.to or ""))
        )
        if out and entry.at.date() >= since:
            return entry.at.date()
    return None


def feeding(prospect: Prospect, numbers: TaskNumbers) -> Iterator[Draft]:
    """When feeding may be taken up again after the newest work on roots."""
    works = [entry for entry in prospect.log if entry.work in ROOT_WORKS]
    if not works:
        return
    on = works[-1].at.date()
    earliest = on + timedelta(days=numbers.rules.wait("feed", works[-1].work)[0])
    phases = prospect.stage.phases
    good = ((phases == FLUSHING) | (phases == MATURE)) & before_autumn(prospect.lived.season)
    first = prospect.first_of(good, earliest)
    if first is None:
        return
    end = prospect.first_of(~good, first)
    last = (end or prospect.end) - timedelta(days=1)
    fed = next((entry for entry in prospect.log if entry.work == "feed" and entry.at.date() >= earliest), None)
    best = min(max(first, on + timedelta(days=numbers.feed_best_days)), last)
    yield Draft(
        "resume-feeding",
        first,
        best,
        max(first, last),
        f"{works[-1].work} was on {day_of(on)}: nothing is fed for four to six weeks after root work, and only in "
        "growth.",
        "Growth moves it: with leaves that open late it begins late; after late summer it waits for spring.",
        numbers.sources["feed"],
        done_on=None if fed is None else fed.at.date(),
    )


def pastes(prospect: Prospect, numbers: TaskNumbers) -> Iterator[Draft]:
    """A look at every fresh seal of cut paste."""
    for entry in prospect.log:
        if not (entry.paste or entry.work == "seal"):
            continue
        on = entry.at.date()
        first, last = (on + timedelta(days=days) for days in (numbers.paste_first_days, numbers.paste_last_days))
        looked = last_look(prospect.log, "paste-check", entry.branch, on)
        sealed = next(
            (
                other.at.date()
                for other in prospect.log
                if other.work == "seal" and other.at > entry.at and other.branch in (None, entry.branch)
            ),
            None,
        )
        yield Draft(
            "paste-check",
            first,
            first,
            last,
            f"Cuts of {day_of(on)} ({entry.work}) were sealed: has the paste set, and do its edges hold? Wounds are "
            "entered in their first two weeks.",
            "Weather moves it: rain in the first day or two, frost, and heat above 35 °C loosen it; look after them.",
            numbers.sources["paste"],
            entry.branch or "",
            min((day for day in (looked, sealed) if day is not None), default=None),
        )


def turning(prospect: Prospect, places: Mapping[str, Place], numbers: TaskNumbers) -> Iterator[Draft]:
    """When a pot in one-sided light is to be turned next; layers that stand still not before they may."""
    place = places.get(stands_at(prospect.tree, prospect.log))
    if place is None or place.kind not in ONE_SIDED or prospect.tree.fixed:
        return
    came = [entry.at.date() for entry in prospect.log if entry.work == "move"]
    looked = last_look(prospect.log, "turn", None, date.min)
    grows = prospect.growing(numbers.growth_mean_c)
    # Where nobody wrote down when it was turned last, the season's growth counts from its begin.
    index = prospect.index(prospect.today)
    rested = np.flatnonzero(prospect.stage.phases[: index + 1] < FLUSHING)
    begun = prospect.day(int(rested[-1])) if rested.size else prospect.day(0)
    since = max([begun, *came, *([looked] if looked else [])])
    first = since + timedelta(days=numbers.turn_every_days)
    layer = next((entry for entry in reversed(prospect.log) if entry.work == "sever-layer"), None)
    moves = "Growth moves it: in winter it can wait."
    if layer is not None:
        still = layer.at.date() + timedelta(days=numbers.rules.wait("untie", "sever-layer")[0])
        if still > prospect.today:
            moves += f" A new layer is not turned before {day_of(still)}."
        first = max(first, still)
    next_growth = prospect.first_of(grows, first)
    if next_growth is None:
        return
    yield Draft(
        "turn",
        next_growth,
        next_growth,
        next_growth + timedelta(days=numbers.turn_every_days),
        f"The light at {place.id} comes from one side: a quarter turn every few weeks keeps the crown even.",
        moves,
        numbers.sources["turn"],
    )
