"""Daily air temperatures of the past: known hours where there are any, the season's mean before them."""

from dataclasses import dataclass
from datetime import date

import numpy as np

from carewatch.forecast.weather import Array, Hours, Times


@dataclass(frozen=True)
class DailyHistory:
    """
    One row per day up to today.

    days: datetime64[D]; mean_c: mean air temperature. [°C]
    assumed_before: first day that is known; earlier ones follow the season's mean. None: all are known.
    """

    days: Times
    mean_c: Array
    assumed_before: date | None


def seasonal_mean_c(days: Times, latitude: float, elevation_m: float) -> Array:
    """
    Mean air temperature of a calendar day in lowland temperate climates of this latitude. [°C]

    days: datetime64[D]; latitude [°]; elevation_m [m].
    Annual mean 27 - 27·sin²(latitude) at sea level, 6.5 K per km less above it, yearly swing 0.17 K per degree of
    latitude with its peak on 24 July (24 January in the south): an estimate within 3 K of the January and July normals
    of Lisbon, Vienna, De Bilt and Potsdam (from memory). East coasts and the inner continents have colder winters.
    Replaced by records as soon as there are any.
    """
    year_day = (days - days.astype("datetime64[Y]")).astype(np.float64)
    peak = 205.0 if latitude >= 0 else 23.0
    annual = 27.0 - 27.0 * np.sin(np.radians(latitude)) ** 2 - 0.0065 * elevation_m
    result: Array = annual + 0.17 * abs(latitude) * np.cos(2.0 * np.pi * (year_day - peak) / 365.25)
    return result


def daily_history(past: Hours, since: date, today: date, latitude: float, elevation_m: float) -> DailyHistory:
    """
    Daily means from `since` to `today`, both included.

    Days with at least 18 known hours count as known. Earlier days follow seasonal_mean_c, shifted by half of what the
    known days differ from it (a record of weeks says only so much about the months before it).
    """
    days = np.arange(np.datetime64(min(since, today)), np.datetime64(today) + 1, dtype="datetime64[D]")
    mean = seasonal_mean_c(days, latitude, elevation_m)
    if not len(past):
        return DailyHistory(days, mean, today)
    stamp = past.times.astype("datetime64[D]")
    air = past.values["air_temp_c"][:, 0]
    index = (stamp - days[0]).astype(np.int64)
    inside = (index >= 0) & (index < days.size)
    count = np.bincount(index[inside], minlength=days.size)
    total = np.bincount(index[inside], weights=air[inside], minlength=days.size)
    known = count >= 18
    # Today is hardly over; a few hours of it still say more than the calendar.
    known[-1] = known[-1] or count[-1] >= 6
    if not known.any():
        return DailyHistory(days, mean, today)
    recorded = np.where(known, total / np.maximum(count, 1), mean)
    shift = 0.5 * float((recorded - mean)[known].mean())
    first = int(np.argmax(known))
    result = np.where(known, recorded, mean + shift)
    return DailyHistory(days, result, days[first].astype(date) if first > 0 else None)


# The ground below half a metre remembers about this long (thermal damping of loam, Oke 1987, order). [d]
GROUND_MEMORY_DAYS = 40.0


def season_ground_c(history: DailyHistory) -> float:
    """Temperature of the ground below half a metre today: the air of the past weeks, the later the more. [°C]"""
    age = np.arange(history.mean_c.size)[::-1]
    weight = np.exp(-age / GROUND_MEMORY_DAYS)
    return float((weight * history.mean_c).sum() / weight.sum())
