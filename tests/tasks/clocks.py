"""Gardens that were never planted, carried through invented years, for tests of the long clock."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from carewatch.care.garden import Garden, NoticeRules, Stock
from carewatch.care.log import Entry
from carewatch.care.tree import Tree
from carewatch.condition.stage import stage_of
from carewatch.config.tables import load_tables
from carewatch.forecast.history import DailyHistory
from carewatch.forecast.weather import Weather
from carewatch.place.spot import Place, Site
from carewatch.tasks.clock import Ahead, looked_ahead, tasks_of
from carewatch.tasks.prospect import Prospect
from carewatch.tasks.task import Task
from tests.condition.grown import NORTH, TABLES, lived_outdoors, noon, tree, until, year_like

NUMBERS = load_tables().tasks
PLENTY = Stock(100.0, 100.0, 10, True)
RULES = NoticeRules(time(22), time(6, 30), time(7), 0.5, True, 20.0, (), 60)
# Two years before anything happens, and three after.
YEARS = year_like("2023-09-01", "2028-12-31")
SITE = Site("Nowhere", NORTH, 13.0, 80.0, "Europe/Berlin", "suburban")


def place(name: str, kind: str, **given: Any) -> Place:
    """A corner of the garden, as the table has its kind."""
    return replace(TABLES.place_kinds[kind], id=name, **given)


PLACES = tuple(
    place(name, kind) for name, kind in (("bench", "bench"), ("shade", "shade"), ("wall", "wall"), ("lawn", "ground"))
)


def entry(work: str, day: str, name: str = "maple", **given: Any) -> Entry:
    """An entry of the log at noon of a day."""
    return Entry(name, work, noon(day), **given)


def garden_of(
    log: Sequence[Entry], trees: Sequence[Tree] | None = None, places: Sequence[Place] = PLACES, site: Site = SITE
) -> Garden:
    """A garden with these trees, one maple on the bench unless others are given."""
    ordered = tuple(sorted(log, key=lambda item: item.at))
    planted = tuple(trees) if trees is not None else (tree(),)
    return Garden(site, {spot.id: spot for spot in places}, planted, ordered, RULES, PLENTY)


def ahead_on(day: str, garden: Garden, years: DailyHistory = YEARS, weather: Weather | None = None) -> Ahead:
    """What the long clock looks at in the evening of a day, by the weather up to it."""
    now = _evening(day, garden)
    return looked_ahead(garden, TABLES.condition, until(years, now.date()), now, weather)


def _evening(day: str, garden: Garden) -> datetime:
    return datetime.combine(date.fromisoformat(day), time(18), tzinfo=ZoneInfo(garden.site.time_zone))


def tasks_on(
    day: str,
    garden: Garden,
    years: DailyHistory = YEARS,
    weather: Weather | None = None,
) -> tuple[Task, ...]:
    """The tasks as they stand in the evening of a day, by the weather up to it."""
    now = _evening(day, garden)
    return tasks_of(ahead_on(day, garden, years, weather), garden, NUMBERS, until(years, now.date()), now)


def task_on(day: str, kind: str, garden: Garden, years: DailyHistory = YEARS, about: str | None = None) -> Task | None:
    """The one task of a kind, or None."""
    found = [task for task in tasks_on(day, garden, years) if task.kind == kind and about in (None, task.about)]
    assert len(found) <= 1, found
    return found[0] if found else None


def needed(day: str, kind: str, garden: Garden, years: DailyHistory = YEARS, about: str | None = None) -> Task:
    """The one task of a kind, which must be there."""
    found = task_on(day, kind, garden, years, about)
    assert found is not None, f"no {kind} on {day}"
    return found


def prospect_of(
    log: Sequence[Entry], years: DailyHistory, latitude: float = NORTH, today: date | None = None, species: str = ""
) -> Prospect:
    """A tree through years that are all known."""
    planted = tree(species=species or "Acer palmatum")
    lived = lived_outdoors(years, latitude)
    last: date = years.days[-1].astype(date)
    return Prospect(planted, tuple(log), lived, stage_of(planted.species, lived, log), TABLES.condition, today or last)


def warmer(years: DailyHistory, shift_k: float) -> DailyHistory:
    """The same years, every day of them warmer by a shift. [K]"""
    return DailyHistory(years.days, np.asarray(years.mean_c + shift_k), years.assumed_before)
