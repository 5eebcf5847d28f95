"""
Gardens and weather that nobody has, drawn by chance from a seed, for asking what may never be silent.

A case is drawn from one number alone; what is changed about it (colder nights, a forgotten past, nulls in a forecast)
is laid over it afterwards, so that both sides of a comparison share all the rest.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta

import numpy as np
import pandas as pd

from carewatch.alerts.call import TreeCall
from carewatch.assess import Assessment, Numbers, assess
from carewatch.care.garden import Garden, NoticeRules, Stock
from carewatch.care.log import Entry
from carewatch.care.tree import Pot
from carewatch.forecast.complete import complete
from carewatch.forecast.raw import RawForecast
from carewatch.forecast.weather import Array
from carewatch.outcome import calls
from carewatch.physics.sun import clear_sky_global_wm2, cloud_transmission, sun_of_hours
from carewatch.place.spot import Site
from tests.condition.grown import TABLES, tree
from tests.measures.gardens import corner

NUMBERS = Numbers(TABLES.condition, TABLES.measures, TABLES.hazards)
SITE = Site("a garden", 50.3, 9.1, 250.0, "Europe/Berlin", "suburban")
DECIDUOUS = ("Acer palmatum", "Ulmus parvifolia", "Carpinus betulus", "Fagus sylvatica", "Larix decidua", "Malus")
EVERGREEN = ("Pinus thunbergii", "Juniperus chinensis", "Olea europaea", "Buxus sempervirens", "Ficus microcarpa")
PLACES = ("lawn", "bench", "shed", "frame")
OPEN = ("lawn", "bench")
# Means and half the range of a day's temperatures by month, in the middle of Germany (from memory). [°C], [K]
MONTH_MEAN_C = (0.5, 1.5, 5.0, 9.0, 13.5, 16.5, 18.5, 18.0, 14.0, 9.5, 5.0, 1.5)
MONTH_SWING_K = (3.0, 3.5, 4.5, 5.5, 6.0, 6.0, 6.0, 6.0, 5.5, 4.0, 3.0, 2.5)
PAST_DAYS = 16
# Hours of the moment that is asked at, UTC.
ASKED_AT_H = 10
PLENTY = Stock(1000.0, 1000.0, 1000, True)
NONE = Stock(0.0, 0.0, 0, False)


@dataclass(frozen=True)
class Case:
    """A garden and what is foreseen for it."""

    seed: int
    garden: Garden
    now: datetime
    raw: RawForecast


def rules(away: Sequence[tuple[object, object]] = (), caution: float = 0.5) -> NoticeRules:
    """Nights are quiet, the garden has no lamp."""
    return NoticeRules(time(22), time(6, 30), time(7), caution, True, 20.0, tuple(away), 60)  # type: ignore[arg-type]


def drawn(seed: int, trees: int = 12, days_ahead: int = 3) -> Case:
    """The case of a seed: a garden with so many trees, and its weather."""
    chance = np.random.default_rng(seed)
    month = int(chance.choice([1, 2, 3, 4, 5, 9, 10, 11, 12]))
    now = datetime(2026, month, int(chance.integers(1, 28)), ASKED_AT_H, tzinfo=UTC)
    raw = weather_of(chance, now, days_ahead)
    garden = garden_of(chance, now, trees)
    return Case(seed, garden, now, raw)


def weather_of(chance: np.random.Generator, now: datetime, days_ahead: int) -> RawForecast:
    """A past near its month's mean, and a few days ahead of which some may be far colder."""
    days = PAST_DAYS + days_ahead + 1
    month = now.month - 1
    mean = MONTH_MEAN_C[month] + 2.5 * chance.standard_normal() + 1.5 * chance.standard_normal(days)
    swing = MONTH_SWING_K[month] * chance.uniform(0.5, 1.4, days)
    low, high = mean - swing, mean + swing
    # Some nights ahead are cold ones, now and then the past had one.
    fall = float(chance.choice([0.0, 4.0, 8.0, 12.0, 16.0]))
    first = PAST_DAYS + int(chance.integers(0, days_ahead))
    cold = slice(first, first + int(chance.integers(1, 4)))
    low[cold] -= fall
    high[cold] -= 0.6 * fall
    if chance.random() < 0.3:
        before = int(chance.integers(0, PAST_DAYS - 1))
        low[before : before + 2] -= fall
        high[before : before + 2] -= 0.6 * fall
    high = np.maximum(high, low + 1.0)
    cloud = chance.choice([0.0, 0.1, 0.5, 1.0], days)
    wind = chance.choice([0.5, 1.5, 3.0, 6.0], days)
    rain = np.where(chance.random(days) < 0.3, chance.uniform(0.5, 10.0, days), 0.0)
    dry = chance.uniform(0.2, 6.0, days)
    return hours_of(now, days, low, high, cloud, wind, rain, dry)


def hours_of(
    now: datetime, days: int, low: Array, high: Array, cloud: Array, wind: Array, rain: Array, dry: Array
) -> RawForecast:
    """Days drawn out into hours; dry: how far the dew point lies below the day's low. [K]"""
    first = (now - timedelta(days=PAST_DAYS)).replace(hour=0)
    index = pd.date_range(first, periods=24 * days, freq="h")
    times = index.tz_localize(None).to_numpy().astype("datetime64[s]")
    day = np.arange(24 * days) // 24
    hour = np.arange(24 * days) % 24
    # Coldest at five, warmest at two in the afternoon: a cosine from each to the next.
    nodes_h = np.stack([24.0 * np.arange(days) + 5.0, 24.0 * np.arange(days) + 14.0], axis=1).ravel()
    nodes_c = np.stack([low, high], axis=1).ravel()
    at = np.clip(np.searchsorted(nodes_h, 24.0 * day + hour, side="right") - 1, 0, nodes_h.size - 2)
    share = np.clip((24.0 * day + hour - nodes_h[at]) / (nodes_h[at + 1] - nodes_h[at]), 0.0, 1.0)
    air = nodes_c[at] + (nodes_c[at + 1] - nodes_c[at]) * 0.5 * (1.0 - np.cos(np.pi * share))
    sun = sun_of_hours(times, SITE.latitude, SITE.longitude, SITE.elevation_m)
    light = clear_sky_global_wm2(sun.elevation_deg, sun.extraterrestrial_normal_wm2)
    columns: Mapping[str, object] = {
        "air_temp_c": air,
        "dew_point_c": np.minimum(air, (low - dry)[day]),
        "wind_10m_ms": wind[day],
        "gust_10m_ms": 1.7 * wind[day],
        "global_wm2": light * cloud_transmission(cloud[day]),
        "cloud": cloud[day],
        "rain_mm": np.where(air > 0.5, rain[day] / 24.0, 0.0),
        "snowfall_cm": np.where(air <= 0.5, rain[day] / 24.0, 0.0),
        "snow_depth_m": np.zeros(24 * days),
        "pressure_kpa": np.full(24 * days, 98.4),
    }
    frame = pd.DataFrame(columns, index)
    return RawForecast("recorded", now, SITE.latitude, SITE.longitude, SITE.elevation_m, frame, {})


def garden_of(chance: np.random.Generator, now: datetime, count: int) -> Garden:
    """Trees in pots, some of them worked on, some of them watched."""
    trees, log = [], []
    for number in range(count):
        name = f"tree{number}"
        evergreen = chance.random() < 0.4
        kind = str(chance.choice(EVERGREEN if evergreen else DECIDUOUS))
        place = str(chance.choice(PLACES, p=[0.35, 0.45, 0.1, 0.1]))
        litres = float(chance.choice([0.8, 3.0, 8.0, 25.0]))
        side = (litres * 1000.0 / 0.8) ** (1.0 / 3.0)
        grown = tree(
            name, kind, place=place, worth=float(chance.choice([0.5, 1.0, 3.0])), fixed=bool(chance.random() < 0.15)
        )
        pot = Pot(litres, side, side, 0.8 * side, "plastic", "black", 0.2, 2.5, 0.93)
        trees.append(replace(grown, pot=pot))
        log += log_of(chance, name, evergreen, now)
    places = (
        corner("lawn", "ground"),
        corner("bench", "bench"),
        corner("frame", "cold-frame"),
        corner("shed", "shed", room=None),
    )
    stock = PLENTY if chance.random() < 0.7 else NONE
    return Garden(SITE, {place.id: place for place in places}, tuple(trees), tuple(log), rules(), stock)


def log_of(chance: np.random.Generator, name: str, evergreen: bool, now: datetime) -> list[Entry]:
    """What was done to a tree, and what was seen of it."""
    found: list[Entry] = []
    draw = chance.random()
    ago = now - timedelta(days=int(chance.integers(5, 300)))
    if draw < 0.25:
        roots = str(chance.choice(["sparse", "fair", "dense"]))
        found.append(Entry(name, "sever-layer", ago, roots=roots, tied=bool(chance.random() < 0.5)))
    elif draw < 0.4:
        found.append(Entry(name, "repot", ago, removed=0.3))
    elif draw < 0.5:
        found.append(Entry(name, "root-prune", ago, removed=0.5))
    if not evergreen and now.month in (4, 5) and chance.random() < 0.5:
        found.append(Entry(name, "observe", now - timedelta(days=int(chance.integers(1, 9))), seen="leaf-out"))
    return found


def with_air(case: Case, change_k: Array) -> Case:
    """The case with other air and dew point; change_k: per hour of its forecast, (hour,). [K]"""
    single = case.raw.single.copy()
    single["air_temp_c"] = single["air_temp_c"] + change_k
    single["dew_point_c"] = single["dew_point_c"] + change_k
    return replace(case, raw=replace(case.raw, single=single))


def colder_nights(case: Case, by_k: float) -> Case:
    """Every night ahead is colder by so much, with the humidity of before. [K]"""
    index = pd.DatetimeIndex(case.raw.single.index)
    night = (index.hour >= 17) | (index.hour <= 8)
    return with_air(case, np.where(night & (index > pd.Timestamp(case.now)), -by_k, 0.0))


def without_past(case: Case, hours: int) -> Case:
    """The forecast begins so many hours before now. [h]"""
    begins = pd.Timestamp(case.now) - pd.Timedelta(hours=hours)
    return replace(case, raw=replace(case.raw, single=case.raw.single[case.raw.single.index >= begins]))


def judged(case: Case, now: datetime | None = None) -> Assessment:
    """The judgement of a case, by the real chain."""
    at = now or case.now
    weather = complete(case.raw, SITE.latitude, SITE.longitude, SITE.elevation_m, at, TABLES.forecast_errors)
    return assess(case.garden, weather, NUMBERS, at)


def called(case: Case) -> dict[str, TreeCall]:
    """What is found by tree, in plain values."""
    return {call.tree: call for call in calls(judged(case))}


def loss_by(assessment: Assessment, hazards: Sequence[str]) -> dict[str, float]:
    """By tree, what the worst spell of these hazards would cost, 0 without one. [0-1]"""
    return {
        one.condition.tree.id: max((spell.loss for spell in one.spells if spell.hazard in hazards), default=0.0)
        for one in assessment.trees
    }
