"""A small garden on a cold night that no forecast ever had, for trying measures on it."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, time

import numpy as np
import pandas as pd

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
    index = pd.date_range("2026-05-01", periods=192, freq="h", tz="UTC")
    hour = np.arange(192)
    cold = np.where((hour > 5 * 24 + 12) & (hour < 7 * 24), -6.0, 0.0)
    air = 9.0 + 6.0 * np.cos(2.0 * np.pi * (hour - 14) / 24.0) + cold + warmer_k
    sun = np.maximum(np.sin(2.0 * np.pi * (hour % 24 - 5) / 30.0), 0.0) * ((hour % 24 > 4) & (hour % 24 < 20))
    columns: Mapping[str, object] = {
        "air_temp_c": air,
        "dew_point_c": np.minimum(air - 1.5, 2.0 + warmer_k),
        "wind_10m_ms": np.full(192, 1.2),
        "gust_10m_ms": np.full(192, 3.0),
        "global_wm2": 600.0 * sun,
        "cloud": np.zeros(192),
        "rain_mm": np.zeros(192),
        "snowfall_cm": np.zeros(192),
        "snow_depth_m": np.zeros(192),
        "pressure_kpa": np.full(192, 98.4),
    }
    return RawForecast(
        "recorded", NOW, SITE.latitude, SITE.longitude, SITE.elevation_m, pd.DataFrame(columns, index), {}
    )


def assessed(grown: Garden, answer: RawForecast | None = None, now: datetime = NOW) -> Assessment:
    """The whole judgement of a garden on that night."""
    weather = complete(
        answer or cold_night(), SITE.latitude, SITE.longitude, SITE.elevation_m, now, TABLES.forecast_errors
    )
    return assess(grown, weather, Numbers(TABLES.works, TABLES.measures, TABLES.hazards), now)
