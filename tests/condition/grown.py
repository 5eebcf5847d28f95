"""Trees that were never grown, and years that no record knows, for tests of what a tree is."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from carewatch.care.log import Entry
from carewatch.care.tree import Pot, Tree
from carewatch.condition.lived import Lived, Past
from carewatch.condition.now import Condition, condition_of
from carewatch.condition.stage import Stage, stage_of
from carewatch.config.tables import load_tables
from carewatch.forecast.history import DailyHistory

TABLES = load_tables()
GUST_INTACT_MS = TABLES.hazards.gust_intact_ms
# North-east Germany; Tasmania.
NORTH, SOUTH = 52.4, -42.9


def plastic_pot(volume_l: float = 3.0, length_cm: float = 18.0, depth_cm: float = 14.0) -> Pot:
    """A black nursery pot."""
    return Pot(volume_l, length_cm, length_cm, depth_cm, "plastic", "black", 0.2, 2.5, 0.93)


def tree(
    name: str = "maple",
    species: str = "Acer palmatum",
    *,
    place: str = "bench",
    worth: float = 1.0,
    fixed: bool = False,
    volume_l: float = 3.0,
    height_cm: float = 45.0,
    crown_cm: float = 30.0,
    measures: tuple[str, ...] = (),
) -> Tree:
    """A small tree in three litres of akadama, watered daily."""
    return Tree(
        id=name,
        species=TABLES.species_for(species),
        place=place,
        worth=worth,
        fixed=fixed,
        height_cm=height_cm,
        crown_cm=crown_cm,
        substrate=TABLES.substrates["akadama-mix"],
        watering="daily",
        measures=measures,
        pot=plastic_pot(volume_l),
    )


def noon(day: str) -> datetime:
    """Noon of a date, UTC."""
    return datetime.fromisoformat(f"{day}T12:00:00+00:00").astimezone(UTC)


def year_like(
    first: str, last: str, *, latitude: float = NORTH, mean_c: float = 9.9, half_range_c: float = 9.4
) -> DailyHistory:
    """
    Daily means with the season and weather of some three days' length, both dates included.

    mean_c, half_range_c: of the year; the defaults are near the normals of Potsdam (from memory). [°C]
    """
    days = np.arange(np.datetime64(first), np.datetime64(last) + 1, dtype="datetime64[D]")
    number = days.astype(np.int64).astype(np.float64)
    year_day = (days - days.astype("datetime64[Y]")).astype(np.float64)
    peak = 205.0 if latitude >= 0 else 23.0
    season = half_range_c * np.cos(2.0 * np.pi * (year_day - peak) / 365.25)
    weather = 2.5 * np.sin(number * 2.0) + 2.5 * np.sin(number * 0.9 + 1.0)
    return DailyHistory(days, mean_c + season + weather, None)


def steady(first: str, last: str, air_c: float) -> DailyHistory:
    """Days of one temperature."""
    days = np.arange(np.datetime64(first), np.datetime64(last) + 1, dtype="datetime64[D]")
    return DailyHistory(days, np.full(days.size, air_c), None)


def until(history: DailyHistory, last: date) -> DailyHistory:
    """The history as it was known on a day."""
    known = history.days <= np.datetime64(last)
    return DailyHistory(history.days[known], history.mean_c[known], history.assumed_before)


def lived_outdoors(history: DailyHistory, latitude: float) -> Lived:
    """The past of a tree that always stood in the open air of its site."""
    return Past(history, {}, latitude).lived_by("", ())


# Pasts that were made, because tests ask for many trees of one day; each of a few kilobytes, so that a year fits.
_PASTS: dict[tuple[int, int, float], tuple[DailyHistory, Lived]] = {}


def outdoors(history: DailyHistory, latitude: float = NORTH) -> Lived:
    """The past of trees that stood in the open; of one history and length it is made once."""
    key = (hash(history.mean_c.tobytes()), hash(history.days.tobytes()), latitude)
    if key not in _PASTS:
        if len(_PASTS) > 400:
            _PASTS.clear()
        _PASTS[key] = (history, lived_outdoors(history, latitude))
    return _PASTS[key][1]


def stages(species: str, history: DailyHistory, log: Sequence[Entry] = (), latitude: float = NORTH) -> Stage:
    """Stage of a species through a history in the open."""
    return stage_of(TABLES.species_for(species), outdoors(history, latitude), log)


def first_day(stage: Stage, history: DailyHistory, phase: int, after: str) -> date:
    """First day after a date on which a phase (index of PHASES) holds."""
    holds: NDArray[np.bool_] = (stage.phases == phase) & (history.days >= np.datetime64(after))
    day: date = history.days[int(np.argmax(holds))].astype(date)
    assert holds.any(), f"never in phase {phase} after {after}"
    return day


def on(
    day: str,
    log: Sequence[Entry],
    history: DailyHistory,
    grown: Tree | None = None,
    latitude: float = NORTH,
) -> Condition:
    """Condition at noon of a day, from a log and the history up to that day."""
    now = noon(day)
    past = outdoors(until(history, now.date()), latitude)
    planted = grown or tree()
    return condition_of(planted, log, TABLES.condition, past, stage_of(planted.species, past, log))


def severed(day: str, roots: str = "sparse", *, worked: bool = False, tied: bool = False) -> Entry:
    """A layer cut from its mother tree."""
    return Entry("maple", "sever-layer", noon(day), roots=roots, roots_worked=worked, tied=tied)


def days_later(day: str, count: int) -> str:
    """ISO date so many days after another."""
    return (noon(day) + timedelta(days=count)).date().isoformat()
