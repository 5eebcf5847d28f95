"""What commands ask the long clock: the garden's tasks, and one tree's months ahead."""

from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from carewatch.care.garden import Garden
from carewatch.condition.now import oldest_work
from carewatch.config.tables import Tables
from carewatch.forecast.history import DailyHistory, daily_history
from carewatch.forecast.weather import DayMeans, Hours, Weather
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


def tree_ahead(garden: Garden, tables: Tables, moment: datetime, weather: Weather, tree: str) -> Prospect:
    """One tree of the garden carried ahead."""
    history = history_of(garden, moment, weather, None)
    ahead = looked_ahead(garden, tables.condition, history, moment, weather, [tree])
    return ahead.found[0]
