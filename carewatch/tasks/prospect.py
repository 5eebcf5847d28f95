"""One tree on every day from its past to some eighteen months ahead, if nothing more is done to it."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.care.species import Species
from carewatch.care.tree import Tree
from carewatch.condition.lived import Lived, Past
from carewatch.condition.now import Condition, condition_of
from carewatch.condition.numbers import ConditionNumbers
from carewatch.condition.season import Season
from carewatch.condition.stage import FLUSHING, MATURE, PHASES, Stage, stage_names, stage_of
from carewatch.forecast.history import DailyHistory

Flags = NDArray[np.bool_]
# Eighteen months, so that the first root work of a layer that was severed today is in sight. [d]
AHEAD_DAYS = 580


@dataclass(frozen=True)
class Prospect:
    """
    A tree, its own entries (oldest first, none after today) and the days that it lived and will live.

    lived, stage: from the first day of the record to the last day ahead.
    today: the last day that is known.
    """

    tree: Tree
    log: tuple[Entry, ...]
    lived: Lived
    stage: Stage
    numbers: ConditionNumbers
    today: date
    _met: dict[int, Condition] = field(default_factory=dict, compare=False, repr=False)

    @property
    def end(self) -> date:
        """The last day ahead."""
        return self.lived.today

    @property
    def now(self) -> Condition:
        """The tree as it is today."""
        return self.on(self.today)

    def index(self, day: date) -> int:
        """Position of a day, or of the nearest one that is looked at."""
        return self.lived.index(day)

    def day(self, index: int) -> date:
        """The day at a position."""
        found: date = self.lived.days[index].astype(date)
        return found

    def on(self, day: date) -> Condition:
        """The tree at the end of a day, by the entries up to it."""
        index = self.index(day)
        if index not in self._met:
            until = index + 1
            log = [entry for entry in self.log if entry.at.date() <= day]
            self._met[index] = condition_of(
                self.tree,
                log,
                self.numbers,
                _until(self.lived, until),
                _stage_until(self.stage, until, self.tree.species, bool(self.lived.season.rising[index])),
            )
        return self._met[index]

    def first(self, holds: Callable[[Condition], bool], since: date) -> date | None:
        """First day from `since` on of which something holds that stays so once it does; None if it does not come."""
        low, high = self.index(since), self.index(self.end)
        if not holds(self.on(self.end)):
            return None
        while low < high:
            middle = (low + high) // 2
            if holds(self.on(self.day(middle))):
                high = middle
            else:
                low = middle + 1
        return self.day(low)

    def first_of(self, days: Flags, since: date) -> date | None:
        """First day from `since` on that is marked; days: shape (day,)."""
        if since > self.end:
            return None
        start = self.index(since)
        found = np.flatnonzero(days[start:])
        return self.day(start + int(found[0])) if found.size else None

    def in_leaf(self) -> Flags:
        """Days on which the species carries leaves."""
        if self.tree.species.evergreen:
            return np.ones(self.lived.days.size, dtype=np.bool_)
        leaves: Flags = self.stage.phases >= FLUSHING
        return leaves

    def growing(self, mean_c: float) -> Flags:
        """Days of growth: flush or mature leaf, at a daily mean from `mean_c` on. [°C]"""
        phases = self.stage.phases
        grows: Flags = ((phases == FLUSHING) | (phases == MATURE)) & (self.lived.mean_c >= mean_c)
        return grows

    def begins(self, phase: int) -> Flags:
        """Days on which a phase begins."""
        holds = self.stage.phases == phase
        first: Flags = holds & ~np.concatenate([[False], holds[:-1]])
        return first


def prospects(
    garden: Garden,
    numbers: ConditionNumbers,
    whole: DailyHistory,
    now: datetime,
    trees: Iterable[str] | None = None,
) -> tuple[Prospect, ...]:
    """
    The prospect of every tree of the garden, or of those that are named, in the garden's order.

    whole: the daily past with the days ahead (tasks.ahead.continued); now: in the site's zone, on one of its days.
    Trees in winter quarters come home in spring when buds begin to move, if the log does not say otherwise by then.
    """
    named = None if trees is None else set(trees)
    past = Past(whole, garden.places, garden.site.latitude)
    today = now.date()
    known = [entry for entry in garden.log if entry.at <= now]
    shared: dict[tuple[object, ...], Stage] = {}
    found = []
    for tree in garden.trees:
        if named is not None and tree.id not in named:
            continue
        log = tuple(sorted((entry for entry in known if entry.tree == tree.id), key=lambda entry: entry.at))
        lived = past.lived_by(tree.place, (*log, *_homecoming(tree, log, garden, past, now)))
        seen = tuple((entry.at.date(), entry.seen) for entry in log if entry.work == "observe")
        key = (tree.species.name, tree.species.found_by, id(lived), seen)
        if key not in shared:
            shared[key] = stage_of(tree.species, lived, log)
        found.append(Prospect(tree, log, lived, shared[key], numbers, today))
    return tuple(found)


def stands_at(tree: Tree, log: Sequence[Entry]) -> str:
    """Where a tree stands, measures that moved it included."""
    stands = home = tree.place
    for entry in log:
        if entry.work == "move" and entry.to:
            stands = home = entry.to
        elif entry.work == "begin" and entry.measure and entry.measure.startswith("move:"):
            stands = entry.measure.removeprefix("move:")
        elif entry.work == "end" and entry.measure and entry.measure.startswith("move:"):
            stands = home
    return stands


def _homecoming(tree: Tree, log: Sequence[Entry], garden: Garden, past: Past, now: datetime) -> tuple[Entry, ...]:
    """The move out of quarters in which it does not live, on the day ahead on which its buds stir there."""
    stands = stands_at(tree, log)
    place, home = garden.places.get(stands), garden.places.get(tree.place)
    if place is None or not place.enclosed or home is None or home.enclosed:
        return ()
    lived = past.lived_by(tree.place, log)
    stage = stage_of(tree.species, lived, log)
    start = lived.index(now.date()) + 1
    awake = np.flatnonzero(lived.season.rising[start:] & (stage.waking[start:] >= 1.0))
    days = int(awake[0]) + 1 if awake.size else None
    if days is None:
        return ()
    return (Entry(tree.id, "move", now + timedelta(days=days), to=tree.place),)


def _until(lived: Lived, count: int) -> Lived:
    """The first days of a past."""
    season = lived.season
    return replace(
        lived,
        days=lived.days[:count],
        season=Season(season.height[:count], season.rising[:count], season.length_h[:count]),
        mean_c=lived.mean_c[:count],
        root_c=lived.root_c[:count],
        portions=lived.portions[:count],
    )


def _stage_until(stage: Stage, count: int, species: Species, rising: bool) -> Stage:
    """The first days of a stage's course; rising: days lengthen on the last of them."""
    phase = int(stage.phases[count - 1])
    return Stage(
        phases=stage.phases[:count],
        today=stage_names(species)[PHASES[phase]],
        waking=stage.waking[:count],
        basis=stage.basis,
        chances=stage.chances_on(count - 1, rising),
    )
