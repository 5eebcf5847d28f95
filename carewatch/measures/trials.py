"""What is tried on the bench: single measures and pairs of them, with their hours, their work and the rounds for it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from carewatch.care.garden import Garden
from carewatch.condition.now import Condition
from carewatch.exposure.columns import Columns
from carewatch.forecast.weather import Array
from carewatch.hazard.spells import CREDIBLE, Spell
from carewatch.limits.blocks import Grounds
from carewatch.limits.doses import HazardNumbers
from carewatch.limits.judge import KINDS, Judgement
from carewatch.measures.candidates import Candidate, candidates, too_windy
from carewatch.measures.catalogue import TOGETHER, Measure
from carewatch.measures.timing import (
    DAY_FROM_H,
    DRY_FIRST_H,
    HOUR,
    SHUT_BEFORE_SUNSET_H,
    STAYS_H,
    WATER_BY_H,
    WET_MM,
    Clock,
    act_by,
    acting_hours,
    is_away,
    moved_gap_h,
    rounds_needed,
    sun_is_low,
    together,
    undo_at,
    well_over,
)
from carewatch.place.spot import Place

VENTILATE = "ventilate"
# Hazards of which a tree that was moved away keeps a distance of so many kelvin before it comes back (common practice).
# Of cold above zero, which adds up, every hour counts in which it does.
COLD_HAZARDS = ("frost", "root-freeze", "chill")
NEAR_K = 2.0
# Cold above zero adds up; hours so far below what counts belong to the nights that matter (judged). [K]
REAL_CHILL_K = 2.0
# A pot that dries out is watered every morning, from six to eight (common practice). Local hours.
DAILY = "daily"
WATER_IN_HEAT_H, WATERED_BY_H = 7, 8


@dataclass(frozen=True)
class Bench:
    """
    All that a trial needs: the garden as it stands and the weather at its places.

    told: per tree, the measure that the grower was asked for. standing: baseline columns, one per tree.
    losses: of the baseline, all hazards together, (member, tree). [0-1]
    near: hours in which cold comes within NEAR_K of a limit of the tree as it stands, (hour, tree).
    """

    garden: Garden
    conditions: tuple[Condition, ...]
    places: tuple[Place, ...]
    measures: Mapping[str, Measure]
    hazards: HazardNumbers
    clock: Clock
    grounds: Grounds
    standing: Columns
    losses: Array
    spells: tuple[tuple[Spell, ...], ...]
    near: NDArray[np.bool_]
    direct_kwh: Mapping[str, float]
    told: Mapping[str, str]


@dataclass(frozen=True)
class Part:
    """
    One measure of a trial.

    acts: its hours, (hour,). minutes: work on the tree itself, over all times that it is put in place. [min]
    rounds: minutes of each round that it needs, by name; trees that need the same round share it. [min]
    carries: how often the tree is handled. begins, undo: UTC, undo None while no end is in sight.
    hands: times that it is put in place on days on which nobody is there.
    stays: how often it is put in place and undone with so long in between that each time can be decided by itself.
    """

    candidate: Candidate
    acts: NDArray[np.bool_]
    minutes: float
    rounds: Mapping[str, float]
    carries: int
    begins: np.datetime64
    undo: np.datetime64 | None
    hands: int = 0
    stays: int = 1


def name_of(parts: Sequence[Part]) -> str:
    """How parts that are taken together are named."""
    return TOGETHER.join(part.candidate.name for part in parts)


@dataclass(frozen=True)
class Trial:
    """One or more measures on one tree, all laid over it."""

    tree: int
    parts: tuple[Part, ...]

    @property
    def name(self) -> str:
        """Name as it is shown: "fleece", "move:shed", or "fleece+plunge" for what is taken together."""
        return name_of(self.parts)

    @property
    def begun(self) -> bool:
        """All of it is in place already."""
        return all(part.candidate.begun for part in self.parts)

    @property
    def carries(self) -> int:
        """How often the tree is handled for it."""
        return sum(part.carries for part in self.parts)

    @property
    def hands(self) -> int:
        """How often hands are needed for it on days on which nobody is there."""
        return sum(part.hands for part in self.parts)

    @property
    def begins(self) -> np.datetime64:
        """When the work must begin, UTC."""
        return min(part.begins for part in self.parts if self.begun or not part.candidate.begun)

    @property
    def undo(self) -> np.datetime64 | None:
        """When all of it may be undone, UTC, or None."""
        ends = [part.undo for part in self.parts]
        return None if any(end is None for end in ends) else max(end for end in ends if end is not None)

    @property
    def rounds(self) -> dict[str, float]:
        """Minutes of each round that it needs, by name. [min]"""
        return {name: minutes for part in self.parts for name, minutes in part.rounds.items()}

    @property
    def own_minutes(self) -> float:
        """Work on the tree itself. [min]"""
        return sum(part.minutes for part in self.parts)

    @property
    def minutes(self) -> float:
        """All work, where its rounds serve this tree alone. [min]"""
        return self.own_minutes + sum(self.rounds.values())


def nearly_cold(judged: Judgement) -> NDArray[np.bool_]:
    """Hours in which, credibly, cold comes within NEAR_K of a limit of the columns or below, (hour, column)."""
    near = [
        (judged.dose[name] < judged.limit[name] + NEAR_K).mean(axis=1) >= CREDIBLE
        for name in COLD_HAZARDS
        if name in judged.dose and KINDS[name].cold
    ]
    some = np.nonzero(np.isfinite(judged.limit["chill"]))[0] if "chill" in judged.limit else np.zeros(0, np.int64)
    result: NDArray[np.bool_] = np.logical_or.reduce(near)
    if some.size:
        dose = judged.dose["chill"][..., some]
        result[:, some] |= (np.diff(dose, axis=0, prepend=dose[:1]) > 0.0).mean(axis=1) >= CREDIBLE
    return result


def singles(bench: Bench, used: Mapping[str, int]) -> tuple[list[Trial], list[dict[str, str]]]:
    """
    Every single measure that can be tried, all that is in place already taken together, and the reasons against others.

    used: places of each place that are taken for good. Trees without a spell are left in peace.
    """
    trials: list[Trial] = []
    against: list[dict[str, str]] = []
    for tree, (condition, spells) in enumerate(zip(bench.conditions, bench.spells, strict=True)):
        if not spells:
            against.append({})
            continue
        wanted, reasons = candidates(
            condition, spells, bench.garden, bench.measures, used, bench.direct_kwh[condition.place]
        )
        begun: list[Part] = []
        for candidate in wanted:
            part, reason = _part(bench, tree, candidate)
            if part is None:
                reasons[candidate.name] = reason
                continue
            trials.append(Trial(tree, (part,)))
            if candidate.begun:
                begun.append(part)
        if len(begun) > 1:
            trials.append(Trial(tree, tuple(_in_order(begun))))
        against.append(reasons)
    return trials, against


def _in_order(parts: Sequence[Part]) -> list[Part]:
    """The parts so that one stands before what it goes with, as its name is told."""
    ranked = list(parts)
    for one in parts:
        for other in parts:
            first, second = ranked.index(one), ranked.index(other)
            if other.candidate.name in one.candidate.measure.goes_with and second < first:
                ranked.insert(second, ranked.pop(first))
    return ranked


def first_stay(bench: Bench, trial: Trial) -> Trial | None:
    """The trial for the nearest of several stays alone; None where there is one only, or it is in place already."""
    part = trial.parts[0]
    if len(trial.parts) > 1 or part.stays == 1 or trial.begun:
        return None
    short, _ = _part(bench, trial.tree, part.candidate, most=1)
    return None if short is None else Trial(trial.tree, (short,))


def _part(bench: Bench, tree: int, candidate: Candidate, most: int | None = None) -> tuple[Part | None, str]:
    """The candidate with its hours and its work, or why it is too late or too windy for it; most: stays that count."""
    measure, clock = candidate.measure, bench.clock
    relieved = [spell for spell in bench.spells[tree] if spell.hazard in measure.hazards] or list(bench.spells[tree])
    stays = [
        _stay(bench, tree, candidate, [relieved[position] for position in group])
        for group in together([(spell.starts, spell.ends) for spell in relieved], _gap_h(bench, tree, measure))
    ][:most]
    if candidate.begun:
        stays[0] = replace(stays[0], begins=clock.now)
    if measure.refill and not candidate.begun and stays[0].begins < clock.now:
        return None, "too late in the day: leaves and pot would be wet at dusk"
    daily = measure.hours != "spell"
    hours = [acting_hours(clock, measure, stay.begins, stay.undo) for stay in stays]
    if measure.refill and _by_drying(relieved):
        # What dries out in a day is dry again the next.
        daily, hours = True, [_every_morning(clock, inside) for inside in hours]
    acts = np.logical_or.reduce(hours)
    if not acts.any():
        return None, "it would come too late"
    first = stays[0]
    if candidate.begun:
        return Part(candidate, acts, 0.0, {}, 0, first.begins, first.undo), ""
    gusts = bench.grounds.micro.gust_2m_ms[acts][:, :, int(bench.standing.place[0, tree])]
    if too_windy(measure, gusts):
        return None, f"gusts pass the {measure.gust_limit_ms:.0f} m/s that it bears"
    dates = mornings(clock, acts) if daily else _dates(clock, stays)
    away = unattended(bench, measure, dates)
    rounds = {f"{candidate.name}@{date}": measure.minutes_round for date in dates if measure.minutes_round}
    if measure.refill and daily and any(one.tree.watering == DAILY for one in bench.conditions):
        # Whoever waters other pots every day has the can in hand.
        rounds = {}
    times = rounds_needed(acts) if daily else len(stays)
    minutes = (first.minutes - measure.minutes_round) * times
    carries = measure.carries * len(stays)
    return Part(candidate, acts, minutes, rounds, carries, first.begins, first.undo, len(away), len(stays)), ""


def unattended(bench: Bench, measure: Measure, dates: Sequence[str]) -> list[str]:
    """
    Of the days on which it is put in place those on which nobody is there, or the morning after to take it off.

    Who is away already has somebody who does it: then no day is told apart.
    """
    rules = bench.garden.notices
    if is_away(bench.clock.now_local.astype("datetime64[D]"), rules):
        return []
    days = [(date, np.datetime64(date, "D")) for date in dates]
    night = measure.hours == "night"
    return [date for date, day in days if is_away(day, rules) or (night and is_away(day + 1, rules))]


def _gap_h(bench: Bench, tree: int, measure: Measure) -> float | None:
    """How long after one spell the next may begin for the measure to stay in between; None: it stays for all."""
    return moved_gap_h(bench.conditions[tree].layer) if measure.carries else STAYS_H


def _every_morning(clock: Clock, inside: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Of these hours the first, and on each later day the one in which pots are watered in heat."""
    hour = (clock.local - clock.local.astype("datetime64[D]")) // HOUR
    first = inside & (np.cumsum(inside) == 1)
    result: NDArray[np.bool_] = first | (inside & (hour == WATER_IN_HEAT_H))
    return result


def _dates(clock: Clock, stays: Sequence["_Stay"]) -> list[str]:
    """The days, by the site's clock, on which a measure that stays is put in place."""
    return sorted({str(clock.to_local(stay.begins).astype("datetime64[D]")) for stay in stays})


def mornings(clock: Clock, acts: NDArray[np.bool_]) -> list[str]:
    """The days on which something that comes and goes is put in place."""
    begins = clock.local[acts & ~np.concatenate([[False], acts[:-1]])]
    return sorted({str(moment.astype("datetime64[D]")) for moment in begins})


@dataclass(frozen=True)
class _Stay:
    """One time in place. minutes: of one round to one tree. [min]"""

    begins: np.datetime64
    undo: np.datetime64 | None
    minutes: float


def _stay(bench: Bench, tree: int, candidate: Candidate, spells: Sequence[Spell]) -> _Stay:
    """When a measure is put in place for some spells, and when it may be undone after them."""
    measure, condition, clock = candidate.measure, bench.conditions[tree], bench.clock
    rules = bench.garden.notices
    once = measure.minutes_round + measure.minutes_pot
    once += measure.minutes_per_10kg * condition.tree.wet_mass_kg() / 10.0
    # What comes and goes is not put up before leaving: who has the watch then does it on the day.
    there = rules if measure.hours == "spell" else replace(rules, away=())
    begins = min(act_by(clock, spell.hazard, _starts(bench, tree, spell), once, there) for spell in spells)
    if measure.hours == "night":
        begins = max(min(begins, _before_sunset(clock, begins, once)), clock.now)
    if measure.refill:
        dries = _by_drying(spells)
        begins = min(begins, _water_by(clock, begins, WATERED_BY_H if dries else WATER_BY_H))
        begins = max(begins, clock.now) if dries else begins
    if measure.hours == "day":
        begins = _next_opening(clock, begins)
    ends = max(spell.ends for spell in spells)
    if all(spell.hazard == "sun" for spell in spells):
        ends = sun_is_low(clock, ends)
    if candidate.destination and any(spell.hazard in COLD_HAZARDS for spell in spells):
        ends = well_over(clock, ends, bench.near[:, tree])
    if "soak" in measure.hazards and not candidate.destination:
        ends = _dry_again(bench, tree, measure, min(spell.starts for spell in spells), ends)
    return _Stay(begins, undo_at(clock, measure, ends, rules), once)


def _starts(bench: Bench, tree: int, spell: Spell) -> np.datetime64:
    """When a spell begins to do harm: of cold that adds up, the first hour of the nights that bring it to its limit."""
    starts, times = spell.starts, bench.clock.utc
    if spell.hazard != "chill":
        return starts
    air = np.median(bench.grounds.micro.air_2m_c[:, :, int(bench.standing.place[0, tree])], axis=1)
    for stamp in times[(air < bench.hazards.chill_below_c - REAL_CHILL_K) & (times <= starts)][::-1]:
        if starts - stamp > STAYS_H * HOUR:
            break
        starts = stamp - HOUR
    return starts


def _dry_again(bench: Bench, tree: int, measure: Measure, starts: np.datetime64, ends: np.datetime64) -> np.datetime64:
    """A day after the last rain of a wet spell; what keeps no rain off stays to the spell's own end at least."""
    rain_mm = bench.grounds.micro.rain_mm[:, :, int(bench.standing.place[0, tree])]
    rained = well_over(bench.clock, starts, np.median(rain_mm, axis=1) > WET_MM, DRY_FIRST_H)
    dry = rained + DRY_FIRST_H * HOUR if rained > starts else ends
    return dry if measure.rain == 0.0 else max(dry, ends)


def _next_opening(clock: Clock, begins: np.datetime64) -> np.datetime64:
    """The moment itself within the hours of a day in which such a measure acts, else the next morning's first."""
    day = clock.to_local(begins).astype("datetime64[D]")
    if begins > clock.sunset_of(day) - SHUT_BEFORE_SUNSET_H * HOUR:
        day = day + 1
    opening: np.datetime64 = clock.to_utc(day.astype("datetime64[s]") + DAY_FROM_H * HOUR)
    return max(begins, opening)


def _before_sunset(clock: Clock, begins: np.datetime64, minutes: float) -> np.datetime64:
    """An hour before the sunset of that day and the work: covers keep the warmth that the floor still has."""
    day = clock.to_local(begins).astype("datetime64[D]")
    moment: np.datetime64 = clock.sunset_of(day) - HOUR - np.timedelta64(round(minutes * 60), "s")
    return moment


def _water_by(clock: Clock, begins: np.datetime64, hour: int) -> np.datetime64:
    """That hour, on the clock on the wall, of the day on which watering would begin, UTC."""
    day = clock.to_local(begins).astype("datetime64[D]")
    return clock.to_utc(day.astype("datetime64[s]") + hour * HOUR)


def _by_drying(spells: Sequence[Spell]) -> bool:
    """Water is wanted for its own sake, and not against frost."""
    return all(spell.hazard == "drying" for spell in spells)
