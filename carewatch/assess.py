"""
The whole chain in one function: weather and garden in, a judgement of every tree out.

history -> condition -> microclimate -> exposure -> limits -> spells -> measures -> choice
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np

from carewatch.care.garden import Garden
from carewatch.condition.now import Condition, conditions, oldest_work
from carewatch.condition.numbers import ConditionNumbers
from carewatch.exposure.columns import Columns, Traits, traits_of
from carewatch.exposure.kept import Checkpoint
from carewatch.exposure.march import RootState
from carewatch.exposure.run import Exposure, Whole
from carewatch.exposure.settle import Stretch, WaterNumbers, microclimate_of, settle, split_at_midnight
from carewatch.exposure.toll import Toll
from carewatch.forecast.history import DailyHistory, daily_history, season_ground_c
from carewatch.forecast.spinup import spin_up
from carewatch.forecast.weather import Array, Hours, Weather
from carewatch.hazard.course import Band, worst_band
from carewatch.hazard.spells import Spell, over_frozen_roots, spells_of
from carewatch.limits.blocks import Grounds, run_blocks, run_whole
from carewatch.limits.doses import HazardNumbers
from carewatch.limits.judge import HAZARDS, RESTS_ON, Judgement
from carewatch.limits.lost_already import (
    NOTHING,
    Losses,
    LostAlready,
    OnADay,
    lost_already,
    on_a_day,
    seen_at,
    that_counts,
    with_toll,
)
from carewatch.limits.tolerance import tolerances
from carewatch.measures.apply import with_opened
from carewatch.measures.bench import try_measures
from carewatch.measures.catalogue import Measure
from carewatch.measures.choice import Option
from carewatch.measures.forgotten import relied_on
from carewatch.measures.in_force import columns_in_force, naive_utc, noons_before, sun_habit_kwh
from carewatch.measures.sharing import Displaced
from carewatch.measures.timing import Clock, clock_of, local_times
from carewatch.measures.trials import Bench, nearly_cold
from carewatch.place.light import clear_direct_kwh
from carewatch.place.microclimate import Microclimate, MicroclimateState, spread_state
from carewatch.place.spot import Place

# Entries that leave a tree what it is; what water does is in the columns.
NO_CHANGE = ("water", "checked", "put-off")


@dataclass(frozen=True)
class Numbers:
    """Tables that the chain needs, as frozen values."""

    condition: ConditionNumbers
    measures: Mapping[str, Measure]
    hazards: HazardNumbers


@dataclass(frozen=True)
class TreeOutlook:
    """
    What was found for one tree.

    condition: as it is now; spells: earliest first; options: measures as simulated, best first; against: measures that
    cannot be taken and why. standing_loss: expected if nothing is done. [0-1]
    act_by: UTC, when the work must begin, None without a spell; undo_at: UTC, None while no end is in sight.
    band: course of the costliest spell's hazard, None without a spell.
    factor: how many times its cost a measure had to gain; displaced: what others got in its stead, or None; weighed:
    the chosen option, or what was found too little. lost: what the last days have probably taken already.
    """

    condition: Condition
    spells: tuple[Spell, ...]
    options: tuple[Option, ...]
    against: Mapping[str, str]
    standing_loss: float
    act_by: np.datetime64 | None
    undo_at: np.datetime64 | None
    band: Band | None = None
    factor: float = 1.0
    displaced: Displaced | None = None
    weighed: Option | None = None
    lost: LostAlready = NOTHING

    @property
    def chosen(self) -> Option | None:
        """The measure to take, or None."""
        return next((option for option in self.options if option.chosen), None)


@dataclass(frozen=True)
class Detail:
    """Baseline of the one tree that was asked for, in column `column`, with all that led to it."""

    felt: Exposure
    whole: Whole
    judged: Judgement
    column: int


@dataclass(frozen=True)
class Assessment:
    """
    Judgement of the whole garden at one moment, in numbers that any output is read from.

    trees: in the garden's order. detail: every number of the one tree that was asked for, or None.
    horizon: per hazard, hours ahead that are known. assumed: what had to be assumed about the past, as sentences.
    checkpoint: of the past, for the next judgement.
    """

    garden: Garden
    weather: Weather
    now: datetime
    clock: Clock
    places: tuple[Place, ...]
    trees: tuple[TreeOutlook, ...]
    detail: Detail | None
    horizon: Mapping[str, int]
    measures: Mapping[str, Measure]
    assumed: tuple[str, ...]
    checkpoint: Checkpoint


@dataclass(frozen=True)
class Begun:
    """
    A garden as it has come to be at one moment, before the members of the forecast part.

    history: days up to now; states, traits: of every tree, in the garden's order; places: with their opened twins.
    season_c: ground below half a metre. [°C] ground: floors and enclosures; roots: root balls and pots; one member.
    offered_kwh: direct sun that each place offers on a clear day, (place,); habit_kwh: that each tree is used to,
    (tree,). [kWh m⁻² d⁻¹] toll: what the past has probably killed of leaves.
    assumed: what had to be assumed about the past, as sentences. checkpoint: of it, for the next time.
    """

    history: DailyHistory
    states: tuple[Condition, ...]
    traits: Traits
    places: tuple[Place, ...]
    season_c: float
    ground: MicroclimateState
    roots: RootState
    offered_kwh: Array
    habit_kwh: Array
    toll: Toll
    assumed: tuple[str, ...]
    checkpoint: Checkpoint


def assess(
    garden: Garden,
    weather: Weather,
    numbers: Numbers,
    now: datetime,
    detail_of: str | None = None,
    told: Mapping[str, str] | None = None,
    kept: Checkpoint | None = None,
) -> Assessment:
    """
    Judge every tree of a garden.

    weather: complete, as known at `now` (with a time zone); numbers: the tables.
    detail_of: id of a tree whose hourly numbers are wanted as well.
    told: per tree, the measure that the grower was asked for and has not refused; it stands unless another is better.
    kept: checkpoint of an earlier judgement, which saves time and changes nothing.
    """
    site, hazards, ahead = garden.site, numbers.hazards, weather.ahead
    zone = ZoneInfo(site.time_zone)
    clock = clock_of(ahead.times, naive_utc(now), zone, site.latitude, site.longitude)
    begun = begin(garden, weather, numbers, now, kept)
    states, traits, places, offered = begun.states, begun.traits, begun.places, begun.offered_kwh

    # From now on every member goes its own way.
    ground = spread_state(begun.ground, ahead.members)
    micro, _ = places_microclimate(garden, places, ahead, ground, begun.season_c)
    standing = columns_in_force(garden, states, places, numbers.measures, ahead.times, clock.local, now, False)
    whole = tolerances(states, begun.habit_kwh, hazards, now.astimezone(zone).date(), site.latitude)
    limits = with_toll(whole, begun.toll)
    horizon = {name: weather.known_until[RESTS_ON[name]] for name in HAZARDS}
    grounds = Grounds(ahead.times, clock.local, micro, places, traits, limits, begun.roots, hazards)
    losses = np.empty((ahead.members, len(states)))
    near = np.zeros((ahead.times.size, len(states)), dtype=np.bool_)
    spells: list[tuple[Spell, ...]] = []
    bands: list[Band | None] = []

    def read(start: int, felt: Exposure, judged: Judgement) -> None:
        total = judged.total()
        losses[:, start : start + total.shape[1]] = total
        near[:, start : start + total.shape[1]] = nearly_cold(judged)
        for column in range(total.shape[1]):
            found = spells_of(judged, column, ahead.times, horizon, ahead.members)
            found = over_frozen_roots(found, felt.roots.shells_c[..., column])
            if states[start + column].dead:
                # Nothing is lost of a dead tree: it asks for no measure, no room and no word.
                found, losses[:, start + column], near[:, start + column] = (), 0.0, False
            spells.append(found)
            bands.append(worst_band(judged, column, found))

    run_blocks(grounds, standing, read)
    calls = try_measures(
        Bench(
            garden=garden,
            conditions=states,
            places=places,
            measures=numbers.measures,
            hazards=hazards,
            clock=clock,
            grounds=grounds,
            standing=standing,
            losses=losses,
            spells=tuple(spells),
            near=near,
            told=told or {},
            direct_kwh={place.id: float(value) for place, value in zip(places, offered, strict=True)},
        )
    )
    trees = tuple(
        TreeOutlook(
            condition=state,
            spells=found,
            options=call.options,
            against=call.against,
            standing_loss=float(lost),
            act_by=call.act_by,
            undo_at=call.undo_at,
            band=band,
            factor=call.factor,
            displaced=call.displaced,
            weighed=call.weighed,
            lost=gone,
        )
        for state, found, call, lost, band, gone in zip(
            states, spells, calls, losses.mean(axis=0), bands, lost_already(begun.toll), strict=True
        )
    )
    return Assessment(
        garden=garden,
        weather=weather,
        now=now,
        clock=clock,
        places=places,
        trees=trees,
        detail=_detail(grounds, standing, states, detail_of),
        horizon=horizon,
        measures=numbers.measures,
        assumed=begun.assumed,
        checkpoint=begun.checkpoint,
    )


def begin(garden: Garden, weather: Weather, numbers: Numbers, now: datetime, kept: Checkpoint | None = None) -> Begun:
    """
    What the past has made of a garden.

    weather: complete, as known at `now` (with a time zone); numbers: the tables; kept: as for assess.
    """
    site, hazards = garden.site, numbers.hazards
    zone = ZoneInfo(site.time_zone)
    history, states = _lived(garden, weather, numbers, now.astimezone(zone).date(), now)
    logged = [entry for entry in garden.log if entry.at <= now]
    states, forgotten = relied_on(states, logged, history, numbers.measures)
    places = with_opened(tuple(garden.places.values()))
    traits, season = traits_of(states), season_ground_c(history)

    # Floors, root balls and pots settle on the past, in one member, under what was really in force: up to the last
    # midnight as the trees were then, which is the same at every hour of the day, and since then as they are now.
    lead = spin_up(weather)
    until, since = split_at_midnight(lead.hours)
    midnight = until.times[-1].astype(datetime).replace(tzinfo=UTC)
    evening = midnight.astimezone(zone)
    earlier, were = _lived(garden, weather, numbers, evening.date() - timedelta(days=1), evening)

    def stretch(hours: Hours, conditions: tuple[Condition, ...], traits: Traits, season_c: float) -> Stretch:
        local = local_times(hours.times, zone)
        known = min(now, midnight) if hours is until else now
        columns = columns_in_force(garden, conditions, places, numbers.measures, hours.times, local, known)
        return Stretch(hours, local, columns, traits, season_c)

    offered = clear_direct_kwh(site, places, naive_utc(now).astype("datetime64[D]"))
    habit = sun_habit_kwh(garden, states, places, numbers.measures, offered, now, noons_before(now, zone))
    known_from = weather.past.times[0] if weather.past.times.size else naive_utc(now)
    settled, checkpoint = settle(
        stretch(until, were, traits_of(were), season_ground_c(earlier)),
        stretch(since, states, traits, season),
        site,
        places,
        WaterNumbers(hazards.supply_cap_mmol, hazards.uptake_c, hazards.soak_q10),
        (
            _losses(garden, numbers, were, earlier, evening, True, known_from),
            _losses(garden, numbers, states, history, now, False, known_from),
        ),
        (garden.trees, _told(garden, midnight), numbers.condition, hazards, earlier),
        kept,
    )
    return Begun(
        history=history,
        states=states,
        traits=traits,
        places=places,
        season_c=season,
        ground=settled.ground,
        roots=settled.roots,
        offered_kwh=offered,
        habit_kwh=habit,
        toll=that_counts(settled.toll),
        assumed=(*_assumptions(history, lead.assumed), *forgotten),
        checkpoint=checkpoint,
    )


def _lived(
    garden: Garden, weather: Weather, numbers: Numbers, last: date, now: datetime
) -> tuple[DailyHistory, tuple[Condition, ...]]:
    """Days up to the last one, and every tree as it was then by what the log had at that time."""
    site = garden.site
    first = oldest_work([entry for entry in garden.log if entry.at <= now], last)
    history = daily_history(weather.past, first, last, *site.position, weather.days)
    return history, conditions(garden, numbers.condition, history, now)


def _told(garden: Garden, until: datetime) -> list[str]:
    """What the log had told of the trees themselves, wherever each entry stands."""
    known = (entry for entry in garden.log if entry.at <= until and entry.work not in NO_CHANGE)
    return [repr(replace(entry, note=None, origin="")) for entry in known]


def _losses(
    garden: Garden,
    numbers: Numbers,
    states: tuple[Condition, ...],
    history: DailyHistory,
    until: datetime,
    by_days: bool,
    known_from: np.datetime64,
) -> Losses:
    """
    What counts the losses of a stretch of the past that ends at `until`, in the site's clock.

    states: the trees then; history: days up to then. by_days: each day by the trees as they were on it.
    known_from: what was assumed of the weather before it has taken nothing. UTC.
    """
    zone, latitude = ZoneInfo(garden.site.time_zone), garden.site.latitude
    last_day: date = history.days[-1].astype(date)

    @cache
    def last() -> OnADay:
        return on_a_day(states, numbers.hazards, last_day, latitude)

    @cache
    def on(day: date) -> OnADay:
        count = int(np.searchsorted(history.days, np.datetime64(day), side="right"))
        if day >= last_day or count == 0:
            return last()
        past = replace(history, days=history.days[:count], mean_c=history.mean_c[:count])
        ends = datetime.combine(day + timedelta(days=1), time(), zone)
        then = conditions(garden, numbers.condition, past, ends)
        return on_a_day(then, numbers.hazards, day, latitude)

    seen = {organ: np.maximum(seen_at(states, garden.log, organ, until), known_from) for organ in ("leaves", "buds")}
    return Losses(last, on if by_days else None, seen["leaves"], seen["buds"])


def _detail(grounds: Grounds, standing: Columns, states: tuple[Condition, ...], detail_of: str | None) -> Detail | None:
    position = next((index for index, state in enumerate(states) if state.tree.id == detail_of), None)
    if position is None:
        return None
    felt, judged = run_whole(grounds, standing.select(np.array([position])))
    return None if felt.whole is None else Detail(felt, felt.whole, judged, 0)


def _assumptions(history: DailyHistory, lead: bool) -> tuple[str, ...]:
    sentences = []
    if history.assumed_before is not None:
        sentences.append(
            f"How warm it was before {_spoken(history.assumed_before)} is not on record here: the usual weather of "
            "the season stands in, so how far a tree has recovered, and how hardy it is, is told less surely."
        )
    if history.gaps:
        days = sum((last - first).days + 1 for first, last in history.gaps)
        told = ", ".join(
            _spoken(first) if first == last else f"{_spoken(first)} to {_spoken(last)}"
            for first, last in history.gaps[:3]
        )
        more = ", and others" if len(history.gaps) > 3 else ""
        days_are = "1 day of the past is" if days == 1 else f"{days} days of the past are"
        sentences.append(f"{days_are} not on record ({told}{more}): as warm as the days around is assumed.")
    if lead:
        sentences.append(
            "Less than 14 days of past weather are known: before them pots are taken as watered to the full, so a pot "
            "may be drier than is said here."
        )
    return tuple(sentences)


def _spoken(day: date) -> str:
    return f"{day.day} {day:%b %Y}"


def places_microclimate(
    garden: Garden, places: tuple[Place, ...], hours: Hours, state: MicroclimateState, season_c: float
) -> tuple[Microclimate, MicroclimateState]:
    """
    What each of the places offers over the hours, and their state after the last.

    state: at the first hour; season_c: temperature of the ground below half a metre. [°C]
    """
    return microclimate_of(garden.site, places, hours, state, season_c)
