"""
The whole chain in one function: weather and garden in, a judgement of every tree out.

history -> condition -> microclimate -> exposure -> limits -> spells -> measures -> choice
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np

from carewatch.alerts.call import SpellFacts, TreeCall
from carewatch.care.garden import Garden
from carewatch.care.works import WorkEffect
from carewatch.condition.now import Condition, conditions, oldest_work
from carewatch.exposure.columns import Columns, Traits, traits_of
from carewatch.exposure.march import RootState
from carewatch.exposure.run import Exposure, Whole, expose
from carewatch.forecast.history import DailyHistory, daily_history, season_ground_c
from carewatch.forecast.spinup import spin_up
from carewatch.forecast.weather import Array, Hours, Times, Weather
from carewatch.hazard.spells import Spell, spells_of
from carewatch.limits.blocks import Grounds, run_blocks, run_whole
from carewatch.limits.doses import HazardNumbers
from carewatch.limits.judge import HAZARDS, Judgement
from carewatch.limits.tolerance import tolerances
from carewatch.measures.apply import with_opened
from carewatch.measures.bench import Bench, try_measures
from carewatch.measures.catalogue import Measure
from carewatch.measures.choice import Option
from carewatch.measures.in_force import columns_in_force, naive_utc, noons_before, sun_habit_kwh
from carewatch.measures.timing import Clock, clock_of, local_times
from carewatch.physics.sun import sun_of_hours
from carewatch.place.light import canopy_leaf, clear_direct_kwh
from carewatch.place.microclimate import Microclimate, MicroclimateState, microclimate, spread_state, start_state
from carewatch.place.spot import Place

# The variable whose horizon ends what can be said of a hazard; the others rest on air temperature, which has no gaps.
RESTS_ON = {"wind": "gust_10m_ms", "soak": "rain_mm"}


@dataclass(frozen=True)
class Numbers:
    """Tables that the chain needs, as frozen values."""

    works: Mapping[str, WorkEffect]
    measures: Mapping[str, Measure]
    hazards: HazardNumbers


@dataclass(frozen=True)
class TreeOutlook:
    """
    What was found for one tree.

    condition: as it is now; spells: earliest first; options: measures as simulated, best first; against: measures that
    cannot be taken and why. standing_loss: expected if nothing is done. [0-1]
    act_by: UTC, when the work must begin, None without a spell; undo_at: UTC, None while no end is in sight.
    """

    condition: Condition
    spells: tuple[Spell, ...]
    options: tuple[Option, ...]
    against: Mapping[str, str]
    standing_loss: float
    act_by: np.datetime64 | None
    undo_at: np.datetime64 | None

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


@dataclass(frozen=True)
class Begun:
    """
    A garden as it has come to be at one moment, before the members of the forecast part.

    history: days up to now; states, traits: of every tree, in the garden's order; places: with their opened twins.
    season_c: ground below half a metre. [°C] ground: floors and enclosures; roots: root balls and pots; one member.
    offered_kwh: direct sun that each place offers on a clear day, (place,); habit_kwh: that each tree is used to,
    (tree,). [kWh m⁻² d⁻¹]
    assumed: what had to be assumed about the past, as sentences.
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
    assumed: tuple[str, ...]


def assess(
    garden: Garden,
    weather: Weather,
    numbers: Numbers,
    now: datetime,
    detail_of: str | None = None,
    told: Mapping[str, str] | None = None,
) -> Assessment:
    """
    Judge every tree of a garden.

    weather: complete, as known at `now` (with a time zone); numbers: the tables.
    detail_of: id of a tree whose hourly numbers are wanted as well.
    told: per tree, the measure that the grower was asked for and has not refused; it stands unless another is better.
    """
    site, hazards, ahead = garden.site, numbers.hazards, weather.ahead
    zone = ZoneInfo(site.time_zone)
    clock = clock_of(ahead.times, naive_utc(now), zone, site.latitude, site.longitude)
    begun = begin(garden, weather, numbers, now)
    states, traits, places, offered = begun.states, begun.traits, begun.places, begun.offered_kwh

    # From now on every member goes its own way.
    ground = spread_state(begun.ground, ahead.members)
    micro, _ = places_microclimate(garden, places, ahead, ground, begun.season_c)
    standing = columns_in_force(garden, states, places, numbers.measures, ahead.times, clock.local, now, False)
    limits = tolerances(states, begun.habit_kwh, hazards, now.astimezone(zone).date(), site.latitude)
    horizon = {name: weather.known_until[RESTS_ON.get(name, "air_temp_c")] for name in HAZARDS}
    grounds = Grounds(ahead.times, clock.local, micro, places, traits, limits, begun.roots, hazards)
    losses = np.empty((ahead.members, len(states)))
    spells: list[tuple[Spell, ...]] = []

    def read(start: int, _felt: Exposure, judged: Judgement) -> None:
        total = judged.total()
        losses[:, start : start + total.shape[1]] = total
        columns = range(total.shape[1])
        spells.extend(spells_of(judged, column, ahead.times, horizon, ahead.members) for column in columns)

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
            told=told or {},
            direct_kwh={place.id: float(value) for place, value in zip(places, offered, strict=True)},
        )
    )
    trees = tuple(
        TreeOutlook(state, found, call.options, call.against, float(lost), call.act_by, call.undo_at)
        for state, found, call, lost in zip(states, spells, calls, losses.mean(axis=0), strict=True)
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
    )


def begin(garden: Garden, weather: Weather, numbers: Numbers, now: datetime) -> Begun:
    """
    What the past has made of a garden.

    weather: complete, as known at `now` (with a time zone); numbers: the tables.
    """
    site, hazards = garden.site, numbers.hazards
    zone = ZoneInfo(site.time_zone)
    today = now.astimezone(zone).date()
    history = daily_history(
        weather.past, oldest_work(garden.log, today), today, site.latitude, site.elevation_m, weather.days
    )
    states = conditions(garden, numbers.works, hazards.gust_intact_ms, history, now)
    traits = traits_of(states)
    places = with_opened(tuple(garden.places.values()))

    # Floors, root balls and pots settle on the past, in one member, under what was really in force.
    lead = spin_up(weather)
    local = local_times(lead.hours.times, zone)
    season = season_ground_c(history)
    micro, ground = places_microclimate(garden, places, lead.hours, start_state(places, lead.hours, season), season)
    before = columns_in_force(garden, states, places, numbers.measures, lead.hours.times, local, now)
    offered = clear_direct_kwh(site, places, naive_utc(now).astype("datetime64[D]"))
    return Begun(
        history=history,
        states=states,
        traits=traits,
        places=places,
        season_c=season,
        ground=ground,
        roots=_settled(lead.hours.times, local, micro, places, before, traits, hazards),
        offered_kwh=offered,
        habit_kwh=sun_habit_kwh(garden, states, places, numbers.measures, offered, now, noons_before(now, zone)),
        assumed=_assumptions(history, lead.assumed),
    )


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
            f"Before {history.assumed_before} the season's mean temperatures stand in for missing records."
        )
    if history.gaps:
        days = sum((last - first).days + 1 for first, last in history.gaps)
        told = ", ".join(str(first) if first == last else f"{first} to {last}" for first, last in history.gaps[:3])
        more = ", and others" if len(history.gaps) > 3 else ""
        sentences.append(f"No record of {days} days ({told}{more}): temperatures are drawn from the days around them.")
    if lead:
        sentences.append("Less than 14 days of past weather are known: pots are taken as full before them.")
    return tuple(sentences)


def places_microclimate(
    garden: Garden, places: tuple[Place, ...], hours: Hours, state: MicroclimateState, season_c: float
) -> tuple[Microclimate, MicroclimateState]:
    """
    What each of the places offers over the hours, and their state after the last.

    state: at the first hour; season_c: temperature of the ground below half a metre. [°C]
    """
    site = garden.site
    sun = sun_of_hours(hours.times, site.latitude, site.longitude, site.elevation_m)
    leaf = canopy_leaf(hours.times, site.latitude, site.elevation_m)
    return microclimate(hours, sun, site, places, leaf, state, season_c)


def _settled(
    times: Times,
    local: Times,
    micro: Microclimate,
    places: tuple[Place, ...],
    columns: Columns,
    traits: Traits,
    hazards: HazardNumbers,
) -> RootState:
    """State of root balls, pots and leaves after the past hours."""
    _, roots = expose(
        times,
        local,
        micro,
        places,
        columns,
        traits,
        hazards.supply_cap_mmol,
        hazards.uptake_c,
        hazards.soak_q10,
        None,
    )
    return roots


def calls(assessment: Assessment) -> tuple[TreeCall, ...]:
    """Every tree in danger in plain values, in the garden's order, whether or not a measure is worth taking."""
    zone = ZoneInfo(assessment.garden.site.time_zone)
    return tuple(_call(tree, assessment, zone) for tree in assessment.trees if tree.spells)


def moment_of(stamp: np.datetime64, zone: ZoneInfo) -> datetime:
    """A UTC stamp as a moment in a time zone."""
    return datetime.fromtimestamp(int(stamp.astype("datetime64[s]").astype(np.int64)), UTC).astimezone(zone)


def _call(tree: TreeOutlook, assessment: Assessment, zone: ZoneInfo) -> TreeCall:
    chosen = tree.chosen
    name = chosen.name if chosen else ""
    measures = assessment.measures
    row = measures[name.partition(":")[0]] if name else None
    rejected = next(
        (
            option
            for option in tree.options
            if not option.chosen and option.telling and _family(option.name) != _family(name)
        ),
        None,
    )
    act_by = tree.act_by if tree.act_by is not None else assessment.clock.now
    return TreeCall(
        tree=tree.condition.tree.id,
        place=tree.condition.place,
        layer=tree.condition.layer,
        spells=tuple(_facts(tree, spell, zone) for spell in tree.spells),
        measure=name,
        in_force=name in tree.condition.begun,
        why=chosen.why if chosen else "",
        standing_loss=tree.standing_loss,
        loss_with=chosen.loss if chosen else tree.standing_loss,
        minutes=chosen.minutes if chosen else 0.0,
        act_by=moment_of(act_by, zone),
        undo_at=None if tree.undo_at is None else moment_of(tree.undo_at, zone),
        harm=row.harm if row else "",
        caution=row.caution if row else "",
        rejected=rejected.name if rejected else "",
        rejected_why=rejected.why if rejected else "",
    )


def _family(name: str) -> str:
    """Measures of one family are told apart in the list, not in a message: all fleece, all moves."""
    return name.partition(":")[0].partition("-")[0]


def _facts(tree: TreeOutlook, spell: Spell, zone: ZoneInfo) -> SpellFacts:
    return SpellFacts(
        hazard=spell.hazard,
        organ=organ_of(spell.hazard, tree.condition.in_leaf),
        starts=moment_of(spell.starts, zone),
        ends=moment_of(spell.ends, zone),
        peak_at=moment_of(spell.peak_at, zone),
        peak=spell.peak,
        limit=spell.limit,
        unit=spell.unit,
        probability=spell.probability,
        damage=spell.damage,
        loss=spell.loss,
        loss_if=spell.loss_if,
        severity=spell.severity,
        certainty=spell.certainty,
    )


def organ_of(hazard: str, in_leaf: bool) -> str:
    """The organ that a hazard hurts first."""
    if hazard in ("root-freeze", "root-heat", "soak"):
        return "roots"
    if hazard == "wind":
        return "tree"
    return "leaves" if in_leaf else "buds"
