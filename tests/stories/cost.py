"""What silence would have cost: the same engine on the weather that really came, as one certain member."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np

from carewatch.alerts.call import TreeCall
from carewatch.assess import Numbers, assess, begin, places_microclimate
from carewatch.care.garden import Garden
from carewatch.config.tables import Tables, load_tables
from carewatch.exposure.run import Exposure
from carewatch.forecast.complete import LEAST_MEMBERS, complete
from carewatch.forecast.raw import RawForecast
from carewatch.forecast.weather import Weather
from carewatch.limits.blocks import Grounds, run_blocks
from carewatch.limits.judge import HAZARDS, Judgement
from carewatch.limits.tolerance import tolerances
from carewatch.measures.choice import handling_loss
from carewatch.measures.in_force import columns_in_force, naive_utc
from carewatch.measures.timing import local_times
from carewatch.outcome import calls
from carewatch.place.microclimate import spread_state
from carewatch.weather_api.open_meteo import ForecastDocuments, SourceOptions
from carewatch.weather_api.sources import read_documents
from tests.stories.weather import Answer

# Dangers are looked for in so many days from the moment on: beyond a week a single run is not judged, but this one is
# no forecast.
LONGEST = timedelta(days=40)


@dataclass(frozen=True)
class Fate:
    """
    What became of a tree.

    alone: share lost with nothing done, done: with what was in force, carrying included. [0-1]
    by_hazard: shares lost with nothing done, of hazards that took any. [0-1]
    call: of one who knew the weather, None where nothing passed a limit.
    """

    tree: str
    alone: float
    done: float
    by_hazard: Mapping[str, float]
    call: TreeCall | None


@cache
def _tables() -> Tables:
    return load_tables()


def _numbers() -> Numbers:
    tables = _tables()
    return Numbers(tables.condition, tables.measures, tables.hazards)


def certain(garden: Garden, document: Answer, now: datetime) -> Weather:
    """The weather of a document taken at its word: members that are all alike, so that nothing of it is cut off."""
    site = garden.site
    options = SourceOptions(site.latitude, site.longitude, site.elevation_m, ensemble_model=None)
    raw: RawForecast = read_documents(options, ForecastDocuments(document, None), now.astimezone(UTC))
    air = raw.single[["air_temp_c"]]
    alike = air.set_axis([0], axis=1).reindex(columns=range(LEAST_MEMBERS), method="ffill")
    raw = replace(raw, members={"air_temp_c": alike})
    errors = _tables().forecast_errors
    return complete(raw, site.latitude, site.longitude, site.elevation_m, now, errors)


def foreseen(garden: Garden, document: Answer, now: datetime) -> dict[str, TreeCall]:
    """By tree, the call of one who takes a document at its word, with nothing in force."""
    weather = certain(garden, document, now)
    return {call.tree: call for call in calls(assess(_bare(garden), weather, _numbers(), now))}


def fates(garden: Garden, logged: Garden, document: Answer, begins: datetime, ends: datetime) -> tuple[Fate, ...]:
    """
    What the weather of a document did to every tree from one moment to another.

    garden: without what was answered and logged during the story; logged: with it. begins, ends: aware.
    """
    weather = _cut(certain(garden, document, begins), ends)
    there = {tree.id for tree in garden.trees}
    # A tree that was moved for good stands there from then on, as by a measure.
    log = [
        replace(entry, work="begin", measure=f"move:{entry.to}")
        if entry.work == "move" and entry.at > begins
        else entry
        for entry in logged.log
    ]
    logged = replace(logged, trees=tuple(tree for tree in logged.trees if tree.id in there), log=tuple(log))
    known = {call.tree: call for call in calls(assess(_bare(garden), weather, _numbers(), begins))}
    alone, by_hazard, _ = _losses(_bare(garden), weather, begins, begins)
    done, _, handled = _losses(logged, weather, begins, ends)
    return tuple(
        Fate(
            tree=tree.id,
            alone=float(alone[column]),
            done=1.0 - (1.0 - float(done[column])) * (1.0 - float(handled[column])),
            by_hazard={hazard: float(lost[column]) for hazard, lost in by_hazard.items() if lost[column] >= 0.005},
            call=known.get(tree.id),
        )
        for column, tree in enumerate(garden.trees)
    )


def _bare(garden: Garden) -> Garden:
    """The garden without measures that were begun: what would be if nobody did anything."""
    return replace(garden, log=tuple(entry for entry in garden.log if entry.work not in ("begin", "end")))


def _cut(weather: Weather, ends: datetime) -> Weather:
    ahead = weather.ahead
    kept = int(np.searchsorted(ahead.times, naive_utc(ends), side="right"))
    hours = replace(ahead, times=ahead.times[:kept], values={name: rows[:kept] for name, rows in ahead.values.items()})
    known = {name: min(until, kept) for name, until in weather.known_until.items()}
    return replace(weather, ahead=hours, known_until=known)


def _losses(
    garden: Garden, weather: Weather, begins: datetime, seen_from: datetime
) -> tuple[np.ndarray, dict[str, np.ndarray], np.ndarray]:
    """Per tree: what is lost, by which hazard, and what carrying cost. seen_from: entries until then count. [0-1]"""
    site, numbers, ahead = garden.site, _numbers(), weather.ahead
    zone = ZoneInfo(site.time_zone)
    begun = begin(garden, weather, numbers, begins)
    places, hazards = begun.places, numbers.hazards
    micro, _ = places_microclimate(garden, places, ahead, spread_state(begun.ground, ahead.members), begun.season_c)
    local = local_times(ahead.times, zone)
    columns = columns_in_force(
        garden, begun.states, places, numbers.measures, ahead.times, local, seen_from, seen_from > begins
    )
    limits = tolerances(begun.states, begun.habit_kwh, hazards, begins.astimezone(zone).date(), site.latitude)
    grounds = Grounds(ahead.times, local, micro, places, begun.traits, limits, begun.roots, hazards)
    total = np.zeros(len(begun.states))
    by_hazard = {hazard: np.zeros(len(begun.states)) for hazard in HAZARDS}

    def read(start: int, _felt: Exposure, judged: Judgement) -> None:
        lost = judged.total().mean(axis=0)
        total[start : start + lost.size] = lost
        for hazard in HAZARDS:
            by_hazard[hazard][start : start + lost.size] = judged.loss[hazard].mean(axis=0)

    run_blocks(grounds, columns, read)
    handled = np.array(
        [
            handling_loss(state, float(limits.carry_harm[column]), _carries(garden, state.tree.id, begins), spare)
            for column, state in enumerate(begun.states)
            for spare in (hazards.roots_spare,)
        ]
    )
    return total, by_hazard, handled


def _carries(garden: Garden, tree: str, since: datetime) -> int:
    """How often the tree was lifted since a moment: out and back for each move."""
    moves: Sequence[str] = [
        entry.measure or ""
        for entry in garden.log
        if entry.tree == tree and entry.work in ("begin", "end") and entry.at > since
    ]
    return sum(name.startswith("move:") for name in moves)
