"""What commands ask the long clock: the garden's tasks, and one tree's months ahead."""

from collections.abc import Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from carewatch.care.garden import Garden
from carewatch.condition.now import oldest_work
from carewatch.config.load import Loaded
from carewatch.config.tables import Tables
from carewatch.daemon.season import as_told, season_known
from carewatch.forecast.history import DailyHistory, daily_history
from carewatch.forecast.weather import DayMeans, Hours, Weather
from carewatch.sqlite.database import Database
from carewatch.sqlite.facts import all_facts
from carewatch.tasks.clock import Ahead, looked_ahead, tasks_of
from carewatch.tasks.prospect import Prospect
from carewatch.tasks.task import Task

NO_HOURS = Hours(np.array([], dtype="datetime64[s]"), {"air_temp_c": np.empty((0, 1))})


def history_of(garden: Garden, moment: datetime, weather: Weather | None, record: DayMeans | None) -> DailyHistory:
    """The daily past as a judgement sees it; record: of past days, used where there is no forecast."""
    site = garden.site
    today = moment.astimezone(ZoneInfo(site.time_zone)).date()
    past, days = (NO_HOURS, record) if weather is None else (weather.past, weather.days)
    return daily_history(past, oldest_work(garden.log, today), today, *site.position, days)


def garden_ahead(
    garden: Garden, tables: Tables, moment: datetime, weather: Weather | None, record: DayMeans | None = None
) -> tuple[Ahead, tuple[Task, ...]]:
    """The garden's trees carried ahead, and every task of theirs, the most urgent first."""
    history = history_of(garden, moment, weather, record)
    ahead = looked_ahead(garden, tables.condition, history, moment, weather)
    return ahead, tasks_of(ahead, garden, tables.tasks, history, moment)


def as_sent(tasks: Sequence[Task], loaded: Loaded, moment: datetime, now: datetime) -> tuple[Task, ...]:
    """
    The tasks with the dates and places of the winter plan that the service told: by hand nobody reads of others.

    Raises StoreRefused.
    """
    with Database.open_for_reading(loaded.database_file, now) as database, database.snapshot(now) as snapshot:
        facts = all_facts(snapshot)
    site = loaded.garden.site
    known = season_known(facts, (), places=loaded.garden.places)
    return as_told(tasks, known, site.latitude, moment.astimezone(ZoneInfo(site.time_zone)).date())


def tree_ahead(garden: Garden, tables: Tables, moment: datetime, weather: Weather, tree: str) -> Prospect:
    """One tree of the garden carried ahead."""
    history = history_of(garden, moment, weather, None)
    ahead = looked_ahead(garden, tables.condition, history, moment, weather, [tree])
    return ahead.found[0]
