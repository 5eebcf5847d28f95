"""What the care log says was, and is, in force: places and measures hour by hour."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.care.whole_log import ended_by
from carewatch.condition.now import Condition
from carewatch.exposure.columns import Columns
from carewatch.forecast.weather import Array, Times
from carewatch.measures.apply import Laid, columns_of
from carewatch.measures.candidates import MOVE
from carewatch.measures.catalogue import Measure, parts_of
from carewatch.measures.timing import DAY_FROM_H, HOUR, local_times
from carewatch.place.spot import Place

HABIT_DAYS = 14
# Three days in shade and four in half sun, then the old place (common practice).
STAGED_DAYS = 7
# When the sun's own times are not at hand for long records: covers from four, day measures until six (judged). Local
# hour.
EVENING_H = 16.0
DAY_UNTIL_H = 18.0


def naive_utc(moment: datetime) -> np.datetime64:
    """A moment with a time zone as a UTC stamp."""
    return np.datetime64(moment.astimezone(UTC).replace(tzinfo=None), "s")


def columns_in_force(
    garden: Garden,
    conditions: Sequence[Condition],
    places: Sequence[Place],
    measures: Mapping[str, Measure],
    times: Times,
    local: Times,
    now: datetime,
    open_ended: bool = True,
) -> Columns:
    """
    One column per tree, standing where the log says it stood and under what was in force, over the given hours.

    open_ended: measures that began and did not end go on. Without them the hours ahead show the danger itself, and what
    is in place already is tried like any other measure, at no cost: only so can it be said when it may be undone.
    """
    laid = [
        _laid(condition, _entries(garden, condition, now), places, measures, times, local, open_ended)
        for condition in conditions
    ]
    return columns_of(list(range(len(conditions))), laid, conditions, places, times.size)


def _entries(garden: Garden, condition: Condition, now: datetime) -> list[Entry]:
    mine = [entry for entry in garden.log if entry.tree == condition.tree.id and entry.at <= now]
    return sorted(mine, key=lambda entry: entry.at)


def _laid(
    condition: Condition,
    entries: Sequence[Entry],
    places: Sequence[Place],
    measures: Mapping[str, Measure],
    times: Times,
    local: Times,
    open_ended: bool,
) -> list[Laid]:
    laid = [_held(measures[name], times, local, None, None) for name in condition.tree.measures if name in measures]
    open_since: dict[str, datetime] = {}
    for entry in entries:
        if entry.work == "begin" and entry.measure:
            open_since.setdefault(entry.measure, entry.at)
        for name in ended_by(entry, open_since):
            laid += _span(name, open_since.pop(name), entry.at, places, measures, times, local)
    for name, since in open_since.items() if open_ended else ():
        laid += _span(name, since, None, places, measures, times, local)
    return laid + _stays(condition, entries, places, measures, times)


def _span(
    name: str,
    since: datetime,
    until: datetime | None,
    places: Sequence[Place],
    measures: Mapping[str, Measure],
    times: Times,
    local: Times,
) -> list[Laid]:
    """A logged measure, or a logged stay in another place, between its begin and its end."""
    parts = parts_of(name)
    if len(parts) > 1:
        return [laid for part in parts for laid in _span(part, since, until, places, measures, times, local)]
    start, stop = naive_utc(since), None if until is None else naive_utc(until)
    if name.startswith(MOVE + ":"):
        ids = [place.id for place in places]
        inside = (times > start) if stop is None else (times > start) & (times <= stop)
        return [Laid(measures[MOVE], inside, ids.index(name.partition(":")[2]))]
    return [_held(measures[name], times, local, start, stop)] if name in measures else []


def _held(
    measure: Measure, times: Times, local: Times, start: np.datetime64 | None, stop: np.datetime64 | None
) -> Laid:
    inside: NDArray[np.bool_] = np.ones(times.size, dtype=np.bool_)
    if start is not None:
        inside &= times > start
    if stop is not None:
        inside &= times <= stop
    hour = ((local - local.astype("datetime64[D]")) / HOUR).astype(np.float64)
    if measure.hours == "night":
        inside &= (hour >= EVENING_H) | (hour <= measure.off_at_h)
    if measure.hours == "day":
        inside &= (hour >= DAY_FROM_H) & (hour <= DAY_UNTIL_H)
    return Laid(measure, inside)


def _stays(
    condition: Condition,
    entries: Sequence[Entry],
    places: Sequence[Place],
    measures: Mapping[str, Measure],
    times: Times,
) -> list[Laid]:
    """Earlier places of a tree that was moved for good: before its first move it stood where the file says it lives."""
    ids = [place.id for place in places]
    moves = [(naive_utc(entry.at), entry.to) for entry in entries if entry.work == "move" and entry.to]
    laid = []
    stood = condition.tree.place
    since: np.datetime64 = np.datetime64("1900-01-01T00:00:00", "s")
    for moment, to in moves:
        inside = (times > since) & (times <= moment)
        if inside.any():
            laid.append(Laid(measures[MOVE], inside, ids.index(stood)))
        stood, since = str(to), moment
    return laid


def sun_habit_kwh(
    garden: Garden,
    conditions: Sequence[Condition],
    places: Sequence[Place],
    measures: Mapping[str, Measure],
    potential_kwh: Array,
    now: datetime,
    zone_times: tuple[Times, Times],
) -> Array:
    """
    Direct sun that the last 14 days' places and covers offered each tree on a clear day, (tree,). [kWh m⁻² d⁻¹]

    potential_kwh: of every place, (place,); zone_times: noon stamps of those days, UTC and local.
    What the place offers counts, not what clouds let through: a dull fortnight makes no leaf tender again. What each of
    the last seven days offered leaves are used to, whatever was before: so long takes the way back by stages.
    """
    times, local = zone_times
    columns = columns_in_force(garden, conditions, places, measures, times, local, now)
    offered: Array = potential_kwh[columns.place] * columns.light
    result: Array = np.maximum(offered.mean(axis=0), offered[-STAGED_DAYS:].min(axis=0))
    return result


def noons_before(now: datetime, zone: ZoneInfo) -> tuple[Times, Times]:
    """Noon stamps of the last 14 local days, UTC and local."""
    moment = naive_utc(now)
    hourly = moment - np.arange(HABIT_DAYS * 24, 0, -1) * HOUR
    local = local_times(hourly, zone)
    hour = ((local - local.astype("datetime64[D]")) / HOUR).astype(np.float64)
    noon = (hour >= 12.0) & (hour < 13.0)
    return hourly[noon], local[noon]
