"""A small garden on a cold night that no forecast ever had, for trying measures on it."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, time

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from carewatch.assess import Assessment, Numbers, assess
from carewatch.care.garden import Garden, NoticeRules, Stock
from carewatch.care.log import Entry
from carewatch.care.tree import Tree
from carewatch.forecast.complete import complete
from carewatch.forecast.raw import RawForecast
from carewatch.place.spot import Place, Site
from tests.condition.grown import TABLES

NOW = datetime(2026, 5, 6, 10, 0, tzinfo=UTC)
SITE = Site("a garden", 50.3, 9.1, 250.0, "Europe/Berlin", "suburban")
PLENTY = Stock(100.0, 100.0, 10, True)


def corner(name: str, kind: str, *, room: int | None = None, heated_to_c: float | None = None) -> Place:
    """A place as its kind usually is."""
    template = TABLES.place_kinds[kind]
    warm = template.heated_to_c if heated_to_c is None else heated_to_c
    return replace(template, id=name, room=room, heated_to_c=warm)


def garden(
    trees: Sequence[Tree],
    log: Sequence[Entry] = (),
    *,
    stock: Stock = PLENTY,
    shed_room: int | None = 10,
    frame_room: int | None = None,
    lift_kg: float = 20.0,
) -> Garden:
    """Lawn, bench, frame, paved wall, living room, shed, and a north side with an open sky and hardly any sun."""
    places = (
        corner("lawn", "ground"),
        corner("bench", "bench"),
        corner("frame", "cold-frame", room=frame_room),
        corner("wall", "wall"),
        corner("room", "indoors"),
        corner("shed", "shed", room=shed_room),
        replace(corner("north", "ground"), canopy_in_leaf=0.1, canopy_leafless=0.1),
    )
    rules = NoticeRules(time(22), time(6, 30), time(7), 0.5, True, lift_kg, (), 60)
    return Garden(SITE, {place.id: place for place in places}, tuple(trees), tuple(log), rules, stock)


def cold_night(warmer_k: float = 0.0) -> RawForecast:
    """Five days of May before now and three after it: clear, calm, two nights near zero. warmer_k: all of it. [K]"""
    return clear_days(192, warmer_k + np.where(_between(192, 5.5, 7.0), -6.0, 0.0), warmer_k)


def two_colds(apart_days: int, second_k: float = -5.0) -> RawForecast:
    """Eleven mild days after now, with one cold night tomorrow and one so many days after it, colder by second_k."""
    hours = 16 * 24
    warmer = np.where(_between(hours, 5.5, 6.4), -5.0, 8.0)
    return clear_days(hours, np.where(_between(hours, 5.5 + apart_days, 6.4 + apart_days), second_k, warmer), 6.0)


def _between(hours: int, first_day: float, last_day: float) -> NDArray[np.bool_]:
    hour = np.arange(hours)
    return (hour > first_day * 24) & (hour < last_day * 24)


def clear_days(
    hours: int, warmer_k: NDArray[np.float64], dew_warmer_k: float = 0.0, noon_wm2: float = 600.0
) -> RawForecast:
    """Clear, calm days of May from the first on; warmer_k: per hour, (hour,). [K]"""
    index = pd.date_range("2026-05-01", periods=hours, freq="h", tz="UTC")
    hour = np.arange(hours)
    air = 9.0 + 6.0 * np.cos(2.0 * np.pi * (hour - 14) / 24.0) + warmer_k
    sun = np.maximum(np.sin(2.0 * np.pi * (hour % 24 - 5) / 30.0), 0.0) * ((hour % 24 > 4) & (hour % 24 < 20))
    columns: Mapping[str, object] = {
        "air_temp_c": air,
        "dew_point_c": np.minimum(air - 1.5, 2.0 + dew_warmer_k),
        "wind_10m_ms": np.full(hours, 1.2),
        "gust_10m_ms": np.full(hours, 3.0),
        "global_wm2": noon_wm2 * sun,
        "cloud": np.zeros(hours),
        "rain_mm": np.zeros(hours),
        "snowfall_cm": np.zeros(hours),
        "snow_depth_m": np.zeros(hours),
        "pressure_kpa": np.full(hours, 98.4),
    }
    return RawForecast(
        "recorded", NOW, SITE.latitude, SITE.longitude, SITE.elevation_m, pd.DataFrame(columns, index), {}
    )


def assessed(
    grown: Garden, answer: RawForecast | None = None, now: datetime = NOW, told: Mapping[str, str] | None = None
) -> Assessment:
    """The whole judgement of a garden on that night. told: per tree, what its grower was asked for."""
    weather = complete(
        answer or cold_night(), SITE.latitude, SITE.longitude, SITE.elevation_m, now, TABLES.forecast_errors
    )
    return assess(grown, weather, Numbers(TABLES.condition, TABLES.measures, TABLES.hazards), now, told=told)
