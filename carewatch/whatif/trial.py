"""The tree with a work added, run through the engine from the hour of the work on, for every day in question."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import date, datetime
from itertools import pairwise
from typing import Any

import numpy as np

from carewatch.assess import Begun, Numbers, places_microclimate
from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.condition.now import Condition
from carewatch.exposure.bark import thaw_age_h
from carewatch.exposure.columns import Columns, traits_of
from carewatch.exposure.march import March, RootState, start_roots
from carewatch.exposure.run import Exposure, expose, shape_of
from carewatch.exposure.shelter import unsheltered
from carewatch.forecast.weather import Array, Hours, Times
from carewatch.hazard.spells import Spell, spells_of
from carewatch.limits.judge import HAZARDS, judge
from carewatch.limits.tolerance import tolerances
from carewatch.measures.apply import Laid, lay_over
from carewatch.measures.in_force import columns_in_force
from carewatch.place.microclimate import Microclimate, spread_state

# Condition and limits are looked at anew after so many hours: a week changes roots and stage enough to matter. [h]
CHAPTER_H = 168
# The arrays (hour, member, column) of an exposure that judging reads.
HOURLY = (
    *("tissue_c", "wet", "gust_ms", "overturning", "direct_kwh", "sun_side_c", "bark_c", "top_ice"),
    *("crown_snow_mm", "crown_ice_mm"),
)


@dataclass(frozen=True)
class Candidate:
    """
    One day on which the work could be done.

    at: the hour of the work, at the site; entry: the work as it would be logged then.
    first, last: positions of the first hour after it, and after the last that counts.
    """

    at: datetime
    entry: Entry
    first: int
    last: int


@dataclass(frozen=True)
class Found:
    """A spell, and whether leaves hung on the tree then and it was a layer in its first year."""

    spell: Spell
    in_leaf: bool
    layer: bool


@dataclass(frozen=True)
class Outcome:
    """
    What one course of things costs the tree.

    losses: by all hazards together, per member. [0-1] by_hazard: expected, per hazard. [0-1]
    found: spells, the costliest first.
    """

    losses: Array
    by_hazard: Mapping[str, float]
    found: tuple[Found, ...]

    @property
    def loss(self) -> float:
        """Expected loss. [0-1]"""
        return float(self.losses.mean())


@dataclass(frozen=True)
class Trial:
    """
    What the engine needs for one tree.

    garden: with this tree alone, and its log. hours, local: forecast and the weeks after it; the site's clock.
    condition_on: the tree on a day, with a work added (on that day or before it) or as it stands.
    horizon: hours of the forecast that are known, per hazard; forecast: hours of it.
    aftercare: measures that are laid over the tree from the work on, beside those in force.
    fresh_pot: the work gives the tree another pot than the one it stands in.
    """

    garden: Garden
    begun: Begun
    numbers: Numbers
    hours: Hours
    local: Times
    forecast: int
    horizon: Mapping[str, int]
    condition_on: Callable[[Entry | None, date], Condition]
    now: datetime
    aftercare: Sequence[Laid] = ()
    fresh_pot: bool = False


@dataclass
class _Way:
    """One course of things while it is run: the tree as it stands (candidate None), or with the work done."""

    candidate: Candidate | None
    condition: Condition
    state: RootState
    parts: list[Exposure] = field(default_factory=list)


@dataclass
class _Tally:
    """Worst loss by each hazard so far, per member, over some hours of a course, and its spells."""

    loss: dict[str, Array] = field(default_factory=dict)
    found: list[Found] = field(default_factory=list)

    def outcome(self) -> Outcome:
        kept: Array = np.ones_like(next(iter(self.loss.values())))
        for loss in self.loss.values():
            kept = kept * (1.0 - loss)
        found = sorted(self.found, key=lambda each: (-each.spell.loss, each.spell.first, each.spell.hazard))
        by_hazard = {name: float(loss.mean()) for name, loss in self.loss.items()}
        return Outcome(1.0 - kept, by_hazard, tuple(found))


def outcomes(trial: Trial, candidates: Sequence[Candidate]) -> list[tuple[Outcome, Outcome]]:
    """
    For each day: what it costs to do the work then, and what the same weeks cost without it.

    One run for all days. As the tree stands it is one column; at the hour of a work a column joins that begins with the
    state which that tree's root ball, pot and leaves have then. So no hour before the work counts for it, and one
    night costs every day's column the same. Within a chapter of a week condition and limits stay as they were at its
    beginning, or at the work; what one hazard costs is the worst of the chapters, not their sum: what is dead cannot
    die again.
    """
    columns, micro = _surroundings(trial)
    members = trial.hours.members
    roots = trial.begun.roots.select(np.array([0])).spread(members)
    standing = _Way(None, trial.condition_on(None, trial.now.date()), roots)
    ways = [standing]
    done = [_Tally() for _ in candidates]
    undone = [_Tally() for _ in candidates]
    begins = {candidate.first: candidate for candidate in candidates}
    end = max(candidate.last for candidate in candidates)
    for start, stop in _chapters(trial, end):
        day = trial.local[start].astype("datetime64[D]").astype(date)
        for way in ways:
            way.condition = trial.condition_on(None if way.candidate is None else way.candidate.entry, day)
            way.parts = []
        cuts = sorted({start, stop, *(first for first in begins if start < first < stop)})
        for begin, cut in pairwise(cuts):
            if begin in begins:
                ways.append(_joining(trial, begins[begin], standing, micro, columns))
            _march(trial, ways, slice(begin, cut), columns, micro)
        chapter = {id(way): _joined(way.parts) for way in ways}
        for position, candidate in enumerate(candidates):
            first, last = max(start, candidate.first), min(stop, candidate.last)
            if first < last:
                part = slice(first, last)
                worked = next(way for way in ways if way.candidate is candidate)
                _judge(trial, worked, worked.condition, chapter[id(worked)], done[position], part, stop, columns)
                # What the tree can stand without the work is what it can on the same day.
                begun_here = start < candidate.first
                alike = trial.condition_on(None, candidate.at.date()) if begun_here else standing.condition
                _judge(trial, standing, alike, chapter[id(standing)], undone[position], part, stop, columns)
    return [(with_work.outcome(), without.outcome()) for with_work, without in zip(done, undone, strict=True)]


def _chapters(trial: Trial, end: int) -> list[tuple[int, int]]:
    """Weeks of hours; the forecast's end begins a new one. All begin with a day, so that sums of a day stay whole."""
    day = (trial.local - np.timedelta64(30, "m")).astype("datetime64[D]")
    wanted = {*range(CHAPTER_H, trial.forecast, CHAPTER_H), *range(trial.forecast, end, CHAPTER_H)}
    cuts = {int(np.searchsorted(day, day[cut - 1], side="right")) for cut in wanted}
    return list(pairwise(sorted({0, end, *(cut for cut in cuts if 0 < cut < end)})))


# Columns of _surroundings: the tree as it stands, and under what is laid over it after the work.
STANDING, WORKED = 0, 1


def _surroundings(trial: Trial) -> tuple[Columns, Microclimate]:
    """Where the tree stands and under what, without the work and after it, and what the places offer."""
    garden, begun, hours = trial.garden, trial.begun, trial.hours
    columns = columns_in_force(
        garden, begun.states, begun.places, trial.numbers.measures, hours.times, trial.local, trial.now
    )
    worked = lay_over(columns, [trial.aftercare], begun.places)
    both = {
        entry.name: np.concatenate([getattr(columns, entry.name), getattr(worked, entry.name)], axis=-1)
        for entry in fields(Columns)
    }
    ground = spread_state(begun.ground, hours.members)
    micro, _ = places_microclimate(garden, begun.places, hours, ground, begun.season_c)
    return Columns(**both), micro


def _joining(trial: Trial, candidate: Candidate, standing: _Way, micro: Microclimate, columns: Columns) -> _Way:
    """The course that begins with the work, from the state in which the tree stands at that hour."""
    condition = trial.condition_on(candidate.entry, candidate.at.date())
    state = standing.state
    if trial.fresh_pot:
        traits = traits_of([condition])
        soil_c = micro.soil_c[candidate.first][:, columns.place[candidate.first, WORKED : WORKED + 1]]
        state = start_roots(shape_of(traits), traits, soil_c)
    return _Way(candidate, condition, state)


def _march(trial: Trial, ways: Sequence[_Way], part: slice, columns: Columns, micro: Microclimate) -> None:
    """Run all courses over some hours."""
    hazards = trial.numbers.hazards
    kinds = np.array([STANDING if way.candidate is None else WORKED for way in ways])
    state = RootState(
        **{
            entry.name: np.concatenate([getattr(way.state, entry.name) for way in ways], axis=-1)
            for entry in fields(RootState)
        }
    )
    felt, after = expose(
        trial.hours.times[part],
        trial.local[part],
        Microclimate(**{entry.name: getattr(micro, entry.name)[part] for entry in fields(Microclimate)}),
        trial.begun.places,
        columns.select(kinds).span(part),
        traits_of([way.condition for way in ways]),
        hazards.supply_cap_mmol,
        hazards.uptake_c,
        hazards.soak_q10,
        state,
    )
    for position, way in enumerate(ways):
        own = np.array([position])
        way.state = after.select(own)
        way.parts.append(_column(felt, own))


def _judge(
    trial: Trial,
    way: _Way,
    condition: Condition,
    chapter: Exposure,
    tally: _Tally,
    part: slice,
    stop: int,
    columns: Columns,
) -> None:
    """
    Add to a tally what some hours of a course cost.

    condition: what the tree can stand in them. chapter: exposure of the course that ends at `stop`; part: its hours.
    """
    begin = stop - chapter.times.size
    felt = _hours(chapter, slice(part.start - begin, part.stop - begin))
    hazards = trial.numbers.hazards
    day = trial.local[part.start].astype("datetime64[D]").astype(date)
    limits = tolerances([condition], trial.begun.habit_kwh[:1], hazards, day, trial.garden.site.latitude)
    own = np.array([STANDING if way.candidate is None else WORKED])
    judged = judge(felt, limits, columns.select(own).span(part), hazards)
    for name in HAZARDS:
        worst = tally.loss.get(name)
        loss = judged.loss[name][:, 0]
        tally.loss[name] = loss if worst is None else np.maximum(worst, loss)
    # What of the forecast is not known of a hazard makes no spell; the weeks after it are known to be unknown.
    in_forecast = part.start < trial.forecast
    known = {name: trial.horizon[name] - part.start if in_forecast else felt.times.size for name in HAZARDS}
    ends = {name: max(0, hours) for name, hours in known.items()}
    spells = spells_of(judged, 0, felt.times, ends, trial.hours.members)
    tally.found += [Found(spell, condition.in_leaf, condition.layer) for spell in spells]


def _column(felt: Exposure, own: np.ndarray) -> Exposure:
    """One column of an exposure."""
    roots = March(**{entry.name: getattr(felt.roots, entry.name)[..., own] for entry in fields(March)})
    hourly: dict[str, Any] = {name: getattr(felt, name)[..., own] for name in HOURLY}
    # What shelter does to a tree it does with and without the work.
    alone = unsheltered((*felt.tissue_c.shape[:2], own.size))
    return replace(felt, roots=roots, thaw_age_h=felt.thaw_age_h[:, own], sheltered=alone, **hourly)


def _joined(parts: Sequence[Exposure]) -> Exposure:
    """Exposures of consecutive hours as one; what is summed since midnight goes on over their seams."""
    direct = [parts[0].direct_kwh]
    for before, part in pairwise(parts):
        same_day = (part.day == before.day[-1])[:, None, None]
        direct.append(part.direct_kwh + np.where(same_day, direct[-1][-1], 0.0))
    roots = March(
        **{entry.name: np.concatenate([getattr(part.roots, entry.name) for part in parts]) for entry in fields(March)}
    )
    hourly: dict[str, Any] = {
        name: np.concatenate([getattr(part, name) for part in parts]) for name in HOURLY if name != "direct_kwh"
    }
    return replace(
        parts[0],
        times=np.concatenate([part.times for part in parts]),
        day=np.concatenate([part.day for part in parts]),
        roots=roots,
        direct_kwh=np.concatenate(direct),
        **hourly,
    )


def _hours(felt: Exposure, part: slice) -> Exposure:
    """Some hours of an exposure; the sun of their first day counts from their first hour on."""
    roots = March(**{entry.name: getattr(felt.roots, entry.name)[part] for entry in fields(March)})
    hourly: dict[str, Any] = {name: getattr(felt, name)[part] for name in HOURLY}
    if part.start > 0:
        before = felt.bark_c[: part.start]
        hourly["sheltered"] = unsheltered((felt.times[part].size, *felt.tissue_c.shape[1:]))
        hourly["thaw_age_h"] = thaw_age_h(before, felt.thaw_age_h)
        same_day = (felt.day[part] == felt.day[part.start - 1])[:, None, None]
        hourly["direct_kwh"] = hourly["direct_kwh"] - np.where(same_day, felt.direct_kwh[part.start - 1], 0.0)
    return replace(felt, times=felt.times[part], day=felt.day[part], roots=roots, **hourly)
