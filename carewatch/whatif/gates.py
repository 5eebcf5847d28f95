"""What is asked before the weather: whether the season, and what was done to the tree, allow a work at all."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from carewatch.alerts.meaning import WINTER_KINDS
from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.care.tree import Tree
from carewatch.care.work_rules import SeasonRule, StackingRule, WorkRules
from carewatch.condition.stage import DORMANT, PHASES, SWELLING, stage_names
from carewatch.tasks.almanac import EVENTS, Almanac, Flags, SeasonDays

MONTHS = "January February March April May June July August September October November December".split()
WORDS = {
    "root-prune": "root-pruning",
    "repot": "repotting",
    "lift": "lifting",
    "defoliate": "stripping",
    "hard-prune": "hard pruning",
    "cut-off": "taking off a branch",
    "sever-layer": "severing",
    "set-layer": "setting a layer",
    "graft": "grafting",
    "wire": "wiring",
    "bend": "heavy bending",
    "unwire": "taking off wire",
    "seal": "sealing",
    "tie-down": "tying down",
    "untie": "untying",
    "sacrifice": "leaving a sacrifice",
    "feed": "feeding",
}
# After a hard work of late autumn midwinter is no new season yet (judged). [d]
LEAST_SEASON_DAYS = 90
# Steps in which it is looked when a tree will be strong again. [d]
STRENGTH_STEP_DAYS = 14
TREE_PHASES = {
    "dormant": "at rest",
    "bud-swell": "with swelling buds",
    "flush": "in soft new leaf",
    "mature-leaf": "in mature leaf",
    "colouring": "in autumn colour",
    "winter-hard": "in its winter rest",
    "new-tips": "with soft new tips",
    "summer": "in its summer growth",
    "hardening": "hardening for winter",
}


@dataclass(frozen=True)
class Barrier:
    """
    Why a work is not right on a day.

    kind: "season", "stacking" or "strength". why: sentences. source: where the rule comes from.
    """

    kind: str
    why: str
    source: str


@dataclass(frozen=True)
class Gates:
    """
    What season and log say to one work on one tree, for every day of an almanac.

    allowed: (day,). barriers: why a day, by index, is barred; none where it is not.
    remark: the sentence that an allowed day, by index, wants said, or "".
    """

    almanac: Almanac
    allowed: Flags
    barriers: Callable[[int], tuple[Barrier, ...]]
    remark: Callable[[int], str]

    def on(self, day: date) -> tuple[Barrier, ...]:
        """Why the work is barred on a day; none where it is not."""
        return self.barriers(self.almanac.index(day))

    def opens(self, day: date) -> date | None:
        """First day from this one on that is not barred; None: as far as the almanac goes."""
        return self.almanac.first(self.allowed, self.almanac.index(day))


def gates_of(
    garden: Garden,
    tree: Tree,
    work: Entry,
    log: Sequence[Entry],
    rules: WorkRules,
    almanac: Almanac,
    supply_on: Callable[[date], float],
) -> Gates:
    """
    The gates of a work.

    work: as it would be logged, its day does not count; log: entries of the tree up to now, oldest first.
    supply_on: root supply of the tree as it stands, on a day from today on. [0-1]
    """
    rule = rules.season_of(work.work, tree.species)
    season = _Seasonal(garden, tree, work.work, rule, almanac)
    waits = _waits(work, log, rules, almanac)
    weak_until = _weak_until(work, rules, almanac, supply_on)
    allowed = season.allowed.copy()
    for wait in waits:
        allowed &= almanac.days >= np.datetime64(wait.until)
    if weak_until is not None:
        allowed &= almanac.days >= np.datetime64(weak_until)

    def barriers(index: int) -> tuple[Barrier, ...]:
        day = almanac.day(index)
        found = [barrier for barrier in (season.barrier(index),) if barrier is not None]
        found += [wait.barrier(day) for wait in waits if day < wait.until]
        if weak_until is not None and day < weak_until:
            share = supply_on(almanac.day(almanac.today))
            found.append(
                Barrier(
                    "strength",
                    f"Its roots feed only {share * 100:.0f} % of its crown now; {WORDS[work.work]} wants "
                    f"{rules.vigour.least_root_supply * 100:.0f} %, which it has again about {month_of(weak_until)}.",
                    rules.vigour.source,
                )
            )
        return tuple(found)

    return Gates(almanac, allowed, barriers, season.remark)


def month_of(day: date) -> str:
    """Which part of which month, as one speaks of a date that is not certain."""
    part = "early" if day.day <= 10 else "mid" if day.day <= 20 else "late"
    return f"{part} {MONTHS[day.month - 1]} {day.year}"


def day_of(day: date) -> str:
    """A date in full."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


class _Seasonal:
    """The season's part: windows and what else of the year is asked for."""

    def __init__(self, garden: Garden, tree: Tree, work: str, rule: SeasonRule | None, almanac: Almanac) -> None:
        self.tree, self.work, self.rule, self.almanac = tree, work, rule, almanac
        self.winter_places = [
            place.id for place in garden.places.values() if place.heated_to_c is not None or place.kind in WINTER_KINDS
        ]
        every = np.ones(almanac.days.size, dtype=np.bool_)
        self.days = SeasonDays(every, every, every, every) if rule is None else almanac.season_days(rule)
        self.allowed: Flags = self.days.right(rule is not None and rule.winter_place and bool(self.winter_places))

    def barrier(self, index: int) -> Barrier | None:
        """Why the season bars a day, or None."""
        rule = self.rule
        if rule is None or self.allowed[index]:
            return None
        day, name = self.almanac.day(index), WORDS[self.work]
        if not rule.windows:
            said = f"{name[0].upper()}{name[1:]} is never right on {self.tree.species.asked_for}: {rule.why}."
            return Barrier("season", said, rule.source)
        north = " (months of the north; half a year later here)" if self._in_southern_months() else ""
        when = f"{name[0].upper()}{name[1:]} of {self.tree.species.asked_for} is right {rule.when}{north}: {rule.why}."
        opens = self.almanac.first(self.allowed, index)
        then = "not in sight" if opens is None else f"from about {month_of(opens)} on"
        return Barrier("season", f"{when} On {day_of(day)} {self._how(index)}. Its time is {then}.", rule.source)

    def _in_southern_months(self) -> bool:
        """Whether the rule names dates, and they are other ones here."""
        windows = self.rule.windows if self.rule is not None else ()
        dated = any({window.opens.at, window.closes.at} - EVENTS.keys() for window in windows)
        return dated and self.almanac.latitude < 0.0

    def remark(self, index: int) -> str:
        """What must be said of an allowed day that is let off a condition, or ""."""
        rule = self.rule
        if rule is None or not self.allowed[index] or self.days.roots[index] or rule.root_weeks is None:
            return ""
        return (
            f"Fewer than {rule.root_weeks} weeks are left to it above {rule.root_above_c:.0f} °C in the root zone: it "
            f"needs a frost-free place for the winter ({', '.join(self.winter_places)})."
        )

    def _how(self, index: int) -> str:
        """How it stands on a day that is barred, as a clause."""
        rule, almanac = self.rule, self.almanac
        if rule is None or not self.days.inside[index]:
            phase = int(almanac.phases[index])
            name = stage_names(self.tree.species)[PHASES[phase]]
            # An evergreen whose buds swell is called winter-hard still; the grower sees the buds.
            shown = "bud-swell" if phase == SWELLING else name
            resting = phase == DORMANT and not self.tree.species.evergreen
            return f"it is {TREE_PHASES['dormant' if resting else shown]}"
        if not self.days.nights[index]:
            return f"nights are usually about {almanac.night_c[index]:.0f} °C"
        if not self.days.frost[index]:
            weeks = int(almanac.days_until(almanac.frosty())[index]) // 7
            return f"frost is usual {'now' if weeks == 0 else f'{weeks} weeks later'}"
        cool = int(almanac.days_until(almanac.root_c <= (rule.root_above_c or 0.0))[index])
        return f"its root zone stays above {rule.root_above_c:.0f} °C for {cool // 7} weeks only"


@dataclass(frozen=True)
class _Wait:
    """An earlier entry that a work waits for, the rule's words, and until when."""

    earlier: Entry
    work: str
    why: str
    source: str
    until: date

    def barrier(self, day: date) -> Barrier:
        """The wait in words, for a day before its end."""
        on = self.earlier.at.date()
        what = f"{self.earlier.seen} was seen" if self.earlier.seen else f"{WORDS[self.earlier.work]} was"
        apart = (day - on).days
        ago = f", {apart} day{'' if apart == 1 else 's'} before" if apart < 100 else ""
        said = f"{what[0].upper()}{what[1:]} on {day_of(on)}{ago}; {self.why}. It waits until {day_of(self.until)}."
        return Barrier("stacking", said, self.source)


def _waits(work: Entry, log: Sequence[Entry], rules: WorkRules, almanac: Almanac) -> list[_Wait]:
    """Every rule of stacking that the log sets off, the longest wait of each."""
    waits = []
    for rule in rules.stacking:
        if work.work in rule.works:
            waits += _longest(_after(work, entry, rule, almanac) for entry in log if _meant(entry, rule))
    if is_heavy(work, rules):
        why = "of hard works a tree bears one a season"
        waits += _longest(
            _Wait(entry, work.work, why, rules.heavy_source, next_season(entry.at.date(), almanac))
            for entry in log
            if is_heavy(entry, rules)
        )
    # One earlier work is told of once, by the rule that asks for the longest wait.
    best: dict[tuple[str, date], _Wait] = {}
    for wait in waits:
        key = (wait.earlier.work, wait.earlier.at.date())
        if key not in best or wait.until > best[key].until:
            best[key] = wait
    return list(best.values())


def _meant(entry: Entry, rule: StackingRule) -> bool:
    return entry.work in rule.after or (entry.seen is not None and entry.seen in rule.after)


def _after(work: Entry, entry: Entry, rule: StackingRule, almanac: Almanac) -> _Wait:
    on = entry.at.date()
    until = next_season(on, almanac) if rule.days is None else on + timedelta(days=rule.days)
    return _Wait(entry, work.work, rule.why, rule.source, until)


def _longest(waits: Iterable[_Wait]) -> list[_Wait]:
    found = sorted(waits, key=lambda wait: wait.until)
    return found[-1:]


def is_heavy(entry: Entry, rules: WorkRules) -> bool:
    """Whether an entry counts as a hard work."""
    least = rules.heavy.get(entry.work)
    if least is None:
        return False
    # Who does not say how much took all leaves, or the usual third of the roots.
    usual = 1 / 3 if entry.work == "root-prune" else 1.0
    return (usual if entry.removed is None else entry.removed) > least or least == 0.0


def next_season(day: date, almanac: Almanac) -> date:
    """First day of the next growing season after one: from midwinter on, but not within LEAST_SEASON_DAYS."""
    earliest = day + timedelta(days=LEAST_SEASON_DAYS)
    rising = almanac.season.rising
    turns = np.nonzero(rising[1:] & ~rising[:-1])[0] + 1
    later = [almanac.day(int(turn)) for turn in turns if almanac.day(int(turn)) > day]
    return max(later[0], earliest) if later else earliest


def _weak_until(work: Entry, rules: WorkRules, almanac: Almanac, supply_on: Callable[[date], float]) -> date | None:
    """Day on which its roots will feed enough of the crown again, the last one that is looked at, or None for now."""
    least = rules.vigour.least_root_supply
    if work.work not in rules.vigour.works or supply_on(almanac.day(almanac.today)) >= least:
        return None
    for index in range(almanac.today + STRENGTH_STEP_DAYS, almanac.days.size, STRENGTH_STEP_DAYS):
        if supply_on(almanac.day(index)) >= least:
            return almanac.day(index)
    return almanac.day(almanac.days.size - 1)
