"""Which season a tree believes it is in: chill, warmth, day length and cold, and observations above all."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from math import erf

import numpy as np
from numpy.typing import NDArray

from carewatch.care.log import Entry
from carewatch.care.species import Species
from carewatch.condition.chill import competence, growing_degree_days
from carewatch.condition.lived import Lived
from carewatch.condition.season import EQUINOX, LATE_SUMMER, Season, out_of_season, season_of
from carewatch.forecast.weather import Array

# Phases in the order of the year; evergreens use other names for the same clock. Until new tips open they are still
# called winter-hard: how far they have softened is told by condition.hardiness, day by day.
PHASES = ("dormant", "bud-swell", "flush", "mature-leaf", "colouring")
DORMANT, SWELLING, FLUSHING, MATURE, COLOURING = range(5)
EVERGREEN_NAMES = {
    "dormant": "winter-hard",
    "bud-swell": "winter-hard",
    "flush": "new-tips",
    "mature-leaf": "summer",
    "colouring": "hardening",
}
PHASE_SEEN = {
    "bud-swell": SWELLING,
    "leaf-out": FLUSHING,
    "mature": MATURE,
    "colouring": COLOURING,
    "leaf-fall": DORMANT,
    "dormant": DORMANT,
}
# Thermal time after leaf works counts above this (common practice for trees of cool climates). [°C]
GROWTH_BASE_C = 5.0
# Warmth moves buds the more the longer the days, from hardly at all at the first to in full at the second length: what
# keeps mild January weeks from opening them. Direction: Blümel & Chmielewski 2012 (Agric. For. Meteorol. 164:10,
# forcing weighted by day length; from memory); the lengths are estimates, fitted from Lisbon to Potsdam. [h]
LIGHT_FROM_H, LIGHT_FULL_H = 9.5, 12.5
# Senescence after Delpierre et al. 2009 with x = y = 2 and base 28.5 °C (from memory). [°C]
SENESCENCE_BASE_C = 28.5
# Spring models miss by one, autumn models by two weeks (Olsson & Jönsson 2015: hardly better than the mean date). [d]
SPRING_SPREAD_DAYS, AUTUMN_SPREAD_DAYS = 10, 14
# "Give or take" holds eight trees in ten: its half width in standard deviations of a normal spread.
SPREAD_SDS = 1.28
# Beyond two standard deviations a stage is out of the question: the share of a normal spread on either side (judged).
TAIL = 0.02275
# For so many days after an observation the date of the next stage is no surer than this share of them (judged). [-]
SPREAD_PER_DAY_SEEN = 0.3
# A tree seen at rest though the model saw it stir has at most this share of its way to bud swell behind it (judged).
STIRRED_AT_MOST = 0.8
# The same of the ripening of leaves that were seen green though the model saw them colour (judged). [-]
GREEN_AT_MOST = 0.65
# Where a short record begins: sun heights between which trees are taken to be in leaf, and between which their buds are
# taken to go from rest to leaf-out (late April and early October of the north; mid-February to mid-April). Judged.
IN_LEAF_RISING, IN_LEAF_FALLING = 0.81, 0.39
STIRS_FROM, STIRS_FOR = 0.2, 0.56


@dataclass(frozen=True)
class Stage:
    """
    Phase of one tree on every day of its past.

    phases: index into PHASES per day, shape (day,); today: name of the stage now.
    waking: how far buds are from rest (0) over swelling (1) to leaf-out (2), which lasts until midsummer; (day,).
    basis: "observed on DATE" or "modelled, give or take N days", and what was seen but does not fit the season.
    chances: probability of each of PHASES today; one of them is sure right after an observation. [0-1]
    forces: share of a day's warmth that moves the buds now, by chill had and day length; 0 where they rest or are open.
    [0-1]
    turns: position among the days at which each phase begins, and the phase, in order; seen: positions of observations.
    """

    phases: NDArray[np.int64]
    today: str
    waking: Array
    basis: str
    chances: tuple[float, ...]
    forces: float = 0.0
    turns: tuple[tuple[float, int], ...] = ()
    seen: tuple[int, ...] = ()

    def chances_on(self, day: int, rising: bool) -> tuple[float, ...]:
        """Probability of each phase on a day, by its position, as it will be known then. rising: days lengthen."""
        newest = max((at for at in self.seen if at <= day), default=None)
        return _chances(self.turns, day, newest, _spread_days(int(self.phases[day]), rising))


@dataclass(frozen=True)
class _Course:
    """
    Running sums over a year before the record, the record, and some days ahead; arrays (day,). first: of record.

    forces: share of a day's warmth that moves buds. [0-1]
    """

    season: Season
    forces: Array
    forcing: Array
    above_zero: Array
    ripening: Array
    first: int
    size: int


def senescence_per_day(mean_c: Array, day_length_h: Array, start_h: float) -> Array:
    """
    What a day adds to the ripening of leaves; nothing in warmth above 28.5 °C or before days are short.

    mean_c: of the day. [°C]; day_length_h: [h]; start_h: length below which it begins. [h]
    Source: Delpierre et al. 2009, Agric. For. Meteorol. 149:938, x = y = 2 (constants from memory).
    """
    lack = np.maximum(SENESCENCE_BASE_C - mean_c, 0.0)
    return np.where(day_length_h < start_h, lack**2 * (day_length_h / start_h) ** 2, 0.0)


def stage_of(species: Species, lived: Lived, log: Sequence[Entry]) -> Stage:
    """
    Stage of a tree through its past.

    log: its entries; the last observation before a day decides that day and re-anchors what follows. One that cannot be
    true at that time of year is left out, and the basis says so.
    """
    seen, odd = _observations(species, lived, log)
    course = _course(species, lived)
    positions = {course.first + (day - lived.days[0].astype(date)).days: phase for day, phase in seen.items()}
    seen_at = {at: p for at, p in positions.items() if 0 <= at < course.size}
    phases, waking, turns = _run(species, course, seen_at)
    last = course.first + lived.days.size - 1
    phase = int(phases[last])
    spread = _spread_days(phase, bool(course.season.rising[last]))
    newest = max((at for at in positions if at <= last), default=None)
    chances = _chances(turns, last, newest, spread)
    name = PHASES[phase]
    newest_day = max(seen, default=None)
    if newest is not None and newest_day is not None and last - newest <= spread:
        basis = f"observed on {newest_day}"
    else:
        basis = f"modelled, give or take {spread} days"
    return Stage(
        phases=phases[course.first : last + 1],
        today=EVERGREEN_NAMES[name] if species.evergreen else name,
        waking=waking[course.first : last + 1],
        basis="; ".join([basis, *odd]),
        chances=chances,
        forces=float(course.forces[last]) if phase in (DORMANT, SWELLING) else 0.0,
        turns=tuple((begins - course.first, phase) for begins, phase in turns),
        seen=tuple(at - course.first for at in sorted(positions)),
    )


def stage_names(species: Species) -> Mapping[str, str]:
    """Name that each phase has in a species."""
    return EVERGREEN_NAMES if species.evergreen else {name: name for name in PHASES}


def is_leaf_loss(seen: str | None, day: date, lived: Lived, species: Species) -> bool:
    """Whether leaves that were seen falling were lost in season, rather than shed in autumn."""
    return seen == "leaf-fall" and not sheds(species, day, lived.latitude)


def sheds(species: Species, day: date, latitude: float) -> bool:
    """Whether leaves that fall on a day are shed and not lost: of deciduous trees from mid-August on till buds stir."""
    if species.evergreen:
        return False
    season = season_of(np.array([np.datetime64(day)]), latitude)
    return bool(season.height[0] < (EQUINOX if season.rising[0] else LATE_SUMMER))


def _observations(species: Species, lived: Lived, log: Sequence[Entry]) -> tuple[dict[date, int], list[str]]:
    """Phase seen per local date, the last entry of a day, and a remark on each that does not fit the season."""
    found: dict[date, int] = {}
    odd: list[str] = []
    for entry in sorted((entry for entry in log if entry.work == "observe" and entry.seen in PHASE_SEEN), key=_at):
        seen, day = str(entry.seen), entry.at.date()
        if species.evergreen and seen in ("leaf-fall", "colouring"):
            continue
        if is_leaf_loss(seen, day, lived, species):
            continue
        if out_of_season(seen, np.datetime64(day), lived.latitude, species):
            odd.append(f"{seen} seen on {day} does not fit the season and is left out")
            continue
        if day <= lived.today:
            found[day] = PHASE_SEEN[seen]
    return found, odd


def _at(entry: Entry) -> datetime:
    return entry.at


def _course(species: Species, lived: Lived) -> _Course:
    """Sums that decide the stages."""
    season = lived.around
    mean_c, portions = lived.extended(lived.mean_c), lived.extended(lived.portions)
    had = _portions_had(portions, season, species.chill_portions)
    ready = competence(had, species.chill_portions, species.chill_cost)
    # From the autumn equinox to midwinter buds rest, however warm it is.
    awake = season.rising | (season.height >= EQUINOX)
    lit = np.clip((season.length_h - LIGHT_FROM_H) / (LIGHT_FULL_H - LIGHT_FROM_H), 0.0, 1.0)
    forces = np.where(awake, lit * ready, 0.0)
    warmth = forces * growing_degree_days(mean_c, species.forcing_base_c)
    ripening = senescence_per_day(mean_c, season.length_h, species.colouring_day_length_h)
    return _Course(
        season=season,
        forces=forces,
        forcing=np.cumsum(warmth),
        above_zero=np.cumsum(np.maximum(mean_c, 0.0)),
        ripening=np.cumsum(np.where(season.rising, 0.0, ripening)),
        first=lived.before,
        size=mean_c.size,
    )


def _portions_had(portions: Array, season: Season, needed: float) -> Array:
    """Chill portions since the last autumn equinox; before the first one what its season lets expect."""
    total = np.cumsum(portions)
    short = ~season.rising & (season.height < EQUINOX)
    begins = short & ~np.concatenate([[True], short[:-1]])
    start = np.maximum.accumulate(np.where(begins, total - portions, 0.0))
    share = 1.0 if season.rising[0] else float(np.clip((EQUINOX - season.height[0]) / EQUINOX, 0.0, 1.0))
    expected = np.where(np.maximum.accumulate(begins), 0.0, share * needed)
    result: Array = total - start + expected
    return result


class _Walk:
    """One tree's way through its phases: where it is, and what its sums were when that phase began."""

    def __init__(self, species: Species, course: _Course) -> None:
        self.species, self.course = species, course
        rising = course.season.rising
        turns = np.nonzero(rising[1:] != rising[:-1])[0] + 1
        self.midwinters = turns[rising[turns]]
        self.midsummers = turns[~rising[turns]]
        self.forced_from = self.aged_from = self.ripe_from = 0.0
        height, up = float(course.season.height[0]), bool(rising[0])
        self.phase = MATURE if height >= (IN_LEAF_RISING if up else IN_LEAF_FALLING) else DORMANT
        if self.phase == DORMANT and up:
            stirred = float(np.clip((height - STIRS_FROM) / STIRS_FOR, 0.0, 0.9))
            self.forced_from = -stirred * species.leaf_out_gdd

    def enter(self, phase: int, at: int) -> None:
        """The phase begins on a day of its own accord."""
        self.phase = phase
        if phase == DORMANT:
            self.forced_from = float(self.course.forcing[at])
        if phase == FLUSHING:
            self.aged_from = float(self.course.above_zero[at])
        if phase == MATURE:
            self.ripe_from = self._ripe_at_midsummer(at)

    def anchor(self, phase: int, at: int) -> None:
        """The phase was seen: the sums become what the model would have at its start."""
        species, course, before = self.species, self.course, self.phase
        forcing, ripening = float(course.forcing[at]), float(course.ripening[at])
        self.phase = phase
        if phase == DORMANT:
            stirred = forcing - self.forced_from if before in (DORMANT, SWELLING) else 0.0
            self.forced_from = forcing - min(stirred, STIRRED_AT_MOST * species.bud_swell_gdd)
        if phase == SWELLING:
            self.forced_from = forcing - species.bud_swell_gdd
        if phase == FLUSHING:
            self.aged_from = float(course.above_zero[at])
        if phase in (MATURE, COLOURING):
            ripe = ripening - self._ripe_at_midsummer(at)
            if phase == MATURE:
                # Still green though the model saw it colour: a late tree; colour comes in a week or so, not today.
                ripe = min(ripe, GREEN_AT_MOST * species.colouring_sum)
            else:
                half_way = 0.5 * (species.colouring_sum + species.leaf_fall_sum)
                ripe = min(max(ripe, species.colouring_sum), half_way)
            self.ripe_from = ripening - ripe

    def leaves_at(self, at: int) -> tuple[int, int]:
        """First day after `at` on which the next phase begins of its own accord, and that phase."""
        species, course = self.species, self.course
        if self.phase == DORMANT:
            return _first(course.forcing, self.forced_from + species.bud_swell_gdd, at), SWELLING
        if self.phase == SWELLING:
            return _first(course.forcing, self.forced_from + species.leaf_out_gdd, at), FLUSHING
        if self.phase == FLUSHING:
            return _first(course.above_zero, self.aged_from + species.flush_gdd, at), MATURE
        # No leaf and no summer lasts over the shortest day.
        winter = self.midwinters[np.searchsorted(self.midwinters, at, side="right") :]
        turn = int(winter[0]) if winter.size else course.size
        colouring = self.phase == MATURE
        goal = species.colouring_sum if colouring else species.leaf_fall_sum
        ripe = _first(course.ripening, self.ripe_from + goal, at)
        return min(ripe, turn), COLOURING if colouring and ripe < turn else DORMANT

    def turns_at(self, turn: int) -> float:
        """
        When on the day at `turn` the next phase begins, as a position between the day before and it.

        Whole days would move the chance of a stage by a sixth from one hour to the next.
        """
        species, course = self.species, self.course
        total, goal = {
            DORMANT: (course.forcing, self.forced_from + species.bud_swell_gdd),
            SWELLING: (course.forcing, self.forced_from + species.leaf_out_gdd),
            FLUSHING: (course.above_zero, self.aged_from + species.flush_gdd),
            MATURE: (course.ripening, self.ripe_from + species.colouring_sum),
            COLOURING: (course.ripening, self.ripe_from + species.leaf_fall_sum),
        }[self.phase]
        before, after = float(total[turn - 1]), float(total[turn])
        # Where the shortest day ends a phase no sum does.
        lacks = (after - goal) / (after - before) if before < goal <= after else 0.0
        return turn - lacks

    def waking(self, begin: int, end: int) -> Array:
        """From rest (0) over swelling (1) to leaf-out (2) on the days of one phase."""
        species, course = self.species, self.course
        forced = course.forcing[begin:end] - self.forced_from
        if self.phase == DORMANT:
            return np.clip(forced / species.bud_swell_gdd, 0.0, 1.0)
        if self.phase == SWELLING:
            span = species.leaf_out_gdd - species.bud_swell_gdd
            return 1.0 + np.clip((forced - species.bud_swell_gdd) / span, 0.0, 1.0)
        if self.phase == FLUSHING:
            return np.full(end - begin, 2.0)
        return np.where(course.season.rising[begin:end], 2.0, 0.0)

    def _ripe_at_midsummer(self, at: int) -> float:
        """Ripening sum from which a year's own begins: nothing adds to it while days lengthen."""
        course = self.course
        if course.season.rising[at]:
            return float(course.ripening[at])
        last = int(np.searchsorted(self.midsummers, at, side="right")) - 1
        return float(course.ripening[self.midsummers[last]]) if last >= 0 else 0.0


def _first(total: Array, goal: float, after: int) -> int:
    """First position after one at which a running sum has come to a goal; the end if it never does."""
    return max(int(np.searchsorted(total, goal, side="left")), after + 1)


def _run(
    species: Species, course: _Course, seen: Mapping[int, int]
) -> tuple[NDArray[np.int64], Array, list[tuple[float, int]]]:
    """Phase and waking of every day, and where each phase begins, to the part of a day; seen: phase by position."""
    phases = np.empty(course.size, dtype=np.int64)
    waking = np.empty(course.size)
    walk = _Walk(species, course)
    turns = [(-np.inf, walk.phase)]
    ahead = sorted(seen)
    at = 0
    while at < course.size:
        while ahead and ahead[0] <= at:
            walk.anchor(seen[ahead.pop(0)], at)
            turns.append((at - 0.5, walk.phase))
        turn, phase = walk.leaves_at(at)
        end = min(turn, ahead[0] if ahead else course.size, course.size)
        phases[at:end], waking[at:end] = walk.phase, walk.waking(at, end)
        if end == turn and not (ahead and ahead[0] == end) and end < course.size:
            turns.append((walk.turns_at(end), phase))
            walk.enter(phase, end)
        at = end
    return phases, waking, turns


def _spread_days(phase: int, rising: bool) -> int:
    """By how much the date of a stage may be off. [d]"""
    autumn = phase == COLOURING or (phase == DORMANT and not rising)
    return AUTUMN_SPREAD_DAYS if autumn else SPRING_SPREAD_DAYS


def _chances(turns: Sequence[tuple[float, int]], today: int, newest: int | None, spread_days: int) -> tuple[float, ...]:
    """
    Probability of each phase today.

    turns: position at which each phase begins, and the phase, in order.
    A tree that is so many days ahead of the model or behind it is today where the model has it that much later or
    earlier, but no earlier than where it was last seen.
    """
    sd = spread_days / SPREAD_SDS
    if newest is not None:
        sd = min(sd, SPREAD_PER_DAY_SEEN * (today - newest))
        known = max(index for index, (begins, _) in enumerate(turns) if begins <= newest)
        turns = [(-np.inf, turns[known][1]), *turns[known + 1 :]]
    width = max(sd, 1e-3) * 2.0**0.5
    below = [0.5 * (1.0 + erf((begins - today) / width)) for begins, _ in turns[1:]]
    later = [min(max((share - TAIL) / (1.0 - 2.0 * TAIL), 0.0), 1.0) for share in below]
    found = [0.0] * len(PHASES)
    for (_, phase), since, until in zip(turns, [0.0, *later], [*later, 1.0], strict=True):
        found[phase] += max(until - since, 0.0)
    return tuple(found)
