"""Daily air temperatures of the past: days that are known, drawn through gaps, the season's mean before them."""

from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

import numpy as np

from carewatch.forecast.normals import normals_c
from carewatch.forecast.weather import Array, DayMeans, Hours, Times

DAY_H = 24
YEAR_D = 365.25
# Hours from which on a day, or the last 24 hours, count as known, and the same of today where nothing is known before
# (judged). [h]
KNOWN_H, TODAY_H = 18, 6


@dataclass(frozen=True)
class DailyHistory:
    """
    One row per day up to today.

    days: datetime64[D]; mean_c: mean air temperature. [°C]
    assumed_before: first day that is known; earlier ones follow the season's mean. None: all are known.
    gaps: first and last day of each stretch between known days that is not known itself.
    """

    days: Times
    mean_c: Array
    assumed_before: date | None
    gaps: tuple[tuple[date, date], ...] = ()


def seasonal_mean_c(days: Times, latitude: float, longitude: float, elevation_m: float) -> Array:
    """
    Mean air temperature that a calendar day usually has in this part of the world. [°C]

    days: datetime64[D]; latitude, longitude: north and east positive [°]; elevation_m [m].
    One swing from January to July as stations around have it (`forecast.normals`), warmest on 24 July, in the south on
    24 January. Replaced by records as soon as there are any.
    """
    january_c, july_c = normals_c(latitude, longitude, elevation_m)
    result: Array = 0.5 * (january_c + july_c) + 0.5 * (july_c - january_c) * around_the_year(days, 205.0)
    return result


def around_the_year(days: Times, day: float) -> Array:
    """1 on that day of the year, -1 half a year from it. days: datetime64[D]; day: since 1 January. [d]"""
    year_day = (days - days.astype("datetime64[Y]")).astype(np.float64)
    result: Array = np.cos(2.0 * np.pi * (year_day - day) / YEAR_D)
    return result


def daily_history(
    past: Hours,
    since: date,
    today: date,
    latitude: float,
    longitude: float,
    elevation_m: float,
    record: DayMeans | None = None,
) -> DailyHistory:
    """
    Daily means from `since` to `today`, both included.

    past: hours up to now; days with at least 18 known hours count as known, and a day that is not over counts as its
    last 24 hours: its night alone would set it back. record: means of days that `past` need not reach; where both know
    a day, `past` does better.
    Days before the first known one follow seasonal_mean_c, shifted by half of what the known whole days differ from it
    (a record of weeks says only so much about the months before it), by less the farther that season is: what a place
    differs in January says nothing about its July (`forecast.normals`: correlation -0.07). In a gap the difference from
    the season goes over from that of the day before it to that of the day after it.
    """
    days = np.arange(np.datetime64(min(since, today)), np.datetime64(today) + 1, dtype="datetime64[D]")
    season = seasonal_mean_c(days, latitude, longitude, elevation_m)
    recorded = np.full(days.size, np.nan)
    if record is not None:
        place = (record.days - days[0]).astype(np.int64)
        inside = (place >= 0) & (place < days.size)
        recorded[place[inside]] = record.mean_c[inside]
    recorded = _of_hours(past, days, recorded)
    known = np.isfinite(recorded)
    if not known.any():
        return DailyHistory(days, season, today)
    first = int(np.argmax(known))
    rows = np.flatnonzero(known)
    away = (recorded - season)[known]
    result = season + np.interp(np.arange(days.size), rows, away)
    result[known] = recorded[known]
    # What is assumed of months ago must not change with the hour of today: its own mean has no say while others have.
    whole = away[rows != _under_way(past, days)] if rows.size > 1 else away
    year_day = float((days[first] - days[first].astype("datetime64[Y]")).astype(np.float64))
    near = 0.5 * (1.0 + around_the_year(days[:first], year_day))
    result[:first] = season[:first] + 0.5 * float(whole.mean()) * near
    gaps = tuple(
        (_date(days[before]) + timedelta(days=1), _date(days[after]) - timedelta(days=1))
        for before, after in pairwise(rows.tolist())
        if after - before > 1
    )
    return DailyHistory(days, result, _date(days[first]) if first > 0 else None, gaps)


def _date(day: np.datetime64) -> date:
    found: date = day.astype("datetime64[D]").astype(object)
    return found


def _of_hours(past: Hours, days: Times, otherwise: Array) -> Array:
    """Means of the days that hours make known, and elsewhere what was known otherwise. [°C]"""
    if not len(past):
        return otherwise
    air = past.values["air_temp_c"][:, 0]
    index = (past.times.astype("datetime64[D]") - days[0]).astype(np.int64)
    inside = (index >= 0) & (index < days.size)
    count = np.bincount(index[inside], minlength=days.size)
    total = np.bincount(index[inside], weights=air[inside], minlength=days.size)
    known = count >= KNOWN_H
    mean_c = total / np.maximum(count, 1)
    under_way = _under_way(past, days)
    if under_way is not None:
        recent = past.times > past.times[-1] - np.timedelta64(DAY_H, "h")
        enough = np.count_nonzero(recent) >= KNOWN_H
        if enough:
            mean_c[under_way] = air[recent].mean()
        # Where nothing is known of the day before, some hours of it still say more than the calendar.
        known[under_way] = enough or count[under_way] >= TODAY_H
    return np.where(known, mean_c, otherwise)


def _under_way(past: Hours, days: Times) -> int | None:
    """Position of the UTC day that is not over at the last hour of the past, or None."""
    if not len(past) or past.times[-1] - past.times[-1].astype("datetime64[D]") == np.timedelta64(DAY_H - 1, "h"):
        return None
    at = int((past.times[-1].astype("datetime64[D]") - days[0]).astype(np.int64))
    return at if 0 <= at < days.size else None


# The ground below half a metre remembers about this long (thermal damping of loam, Oke 1987, order). [d]
GROUND_MEMORY_DAYS = 40.0


def season_ground_c(history: DailyHistory) -> float:
    """Temperature of the ground below half a metre today: the air of the past weeks, the later the more. [°C]"""
    age = np.arange(history.mean_c.size)[::-1]
    weight = np.exp(-age / GROUND_MEMORY_DAYS)
    return float((weight * history.mean_c).sum() / weight.sum())
