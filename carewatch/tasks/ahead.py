"""Daily means of the days to come: what the forecast holds, then the site's own season, the same every time."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from carewatch.condition.season import EQUINOX, season_of
from carewatch.forecast.history import DailyHistory, seasonal_mean_c
from carewatch.forecast.weather import Array, DayMeans, Times
from carewatch.place.spot import Site

YEAR_DAYS = 366
# Days of the year that lend each other their record, as a standard deviation: short enough for a season's shape, long
# enough that one year's cold week makes no cold week of every year (judged). [d]
SPREAD_DAYS = 12.0
# Where the record is silent, half of what the rest of it differs from the season's mean counts, less the farther that
# season is, as in forecast.history; it weighs like so many days of record (judged). [d]
SILENT_DAYS = 2.0
# So many days of the darker half of the year make a winter on record, of the lighter half a summer, and the days of
# three of them a record that knows a hard one (judged). [d]
HALF_KNOWN_DAYS, HALVES_KNOWN_DAYS = 60, 3 * 170
SPELL_DAYS = 3
LEAST_SPELL_K = 2.0


def continued(history: DailyHistory, days_ahead: int, site: Site, foreseen: DayMeans | None = None) -> DailyHistory:
    """
    The history with so many days after it.

    foreseen: daily means of the forecast, used where they lie after the history. Beyond follows `usual_mean_c`.
    """
    last = history.days[-1]
    ahead = np.arange(last + 1, last + 1 + days_ahead, dtype="datetime64[D]")
    mean_c = usual_mean_c(history, ahead, site)
    if foreseen is not None:
        place = (foreseen.days - ahead[0]).astype(np.int64)
        inside = (place >= 0) & (place < ahead.size)
        mean_c[place[inside]] = foreseen.mean_c[inside]
    return replace(history, days=np.concatenate([history.days, ahead]), mean_c=np.concatenate([history.mean_c, mean_c]))


def usual_mean_c(history: DailyHistory, days: Times, site: Site) -> Array:
    """
    Mean air temperature that a calendar day usually has at this site. [°C]

    days: datetime64[D]. The season's mean of that part of the world, corrected by what the record differs from it
    around that day of the year.
    """
    known = _known(history)
    season = seasonal_mean_c(history.days, *site.position)
    away = (history.mean_c - season)[known]
    result = seasonal_mean_c(days, *site.position)
    if not away.size:
        return result
    at = _year_day(history.days)[known]
    weight = np.bincount(at, minlength=YEAR_DAYS).astype(np.float64)
    total = np.bincount(at, weights=away, minlength=YEAR_DAYS)
    number = np.arange(YEAR_DAYS)
    apart = np.abs(number[:, None] - number[None, :])
    apart = np.minimum(apart, YEAR_DAYS - apart)
    kernel = np.exp(-0.5 * (apart / SPREAD_DAYS) ** 2)
    near = 0.5 * (1.0 + np.cos(2.0 * np.pi * apart / YEAR_DAYS))
    elsewhere = 0.5 * (near @ total) / away.size
    around = (kernel @ total + SILENT_DAYS * elsewhere) / (kernel @ weight + SILENT_DAYS)
    result += around[_year_day(days)]
    return result


def before_this_half(history: DailyHistory, latitude: float, *, dark: bool) -> DailyHistory:
    """
    The history up to the equinox at which the darker (dark) or lighter half of the year began; all of it in the other.

    What had to be ready before a half does not move with the weather of that half. latitude: north positive. [°]
    It may come out empty.
    """
    inside = (season_of(history.days, latitude).height < EQUINOX) == dark
    other = np.flatnonzero(~inside)
    kept = int(other[-1]) + 1 if other.size else 0
    return replace(history, days=history.days[:kept], mean_c=history.mean_c[:kept])


def winter_on_record(history: DailyHistory, latitude: float) -> bool:
    """Whether the days on record of the darker halves of years make a winter. latitude: north positive. [°]"""
    return int(np.count_nonzero(_known(history) & _of_half(history.days, latitude, winter=True))) >= HALF_KNOWN_DAYS


def cold_spell_k(history: DailyHistory, site: Site, otherwise_k: float) -> float:
    """
    By how much the coldest three days of a winter lie below what is usual on those days. [K]

    The coldest on record in the darker half of the year; not less than otherwise_k while fewer than three winters are
    on record: one may have been a mild one. [K]
    """
    return _spell_k(history, site, otherwise_k, winter=True)


def hot_spell_k(history: DailyHistory, site: Site, otherwise_k: float) -> float:
    """By how much the hottest three days of a summer lie above what is usual; as for the winter's coldest. [K]"""
    return _spell_k(history, site, otherwise_k, winter=False)


def _spell_k(history: DailyHistory, site: Site, otherwise_k: float, *, winter: bool) -> float:
    usual = usual_mean_c(history, history.days, site)
    counted = _known(history) & _of_half(history.days, site.latitude, winter=winter)
    if np.count_nonzero(counted) < HALF_KNOWN_DAYS:
        return otherwise_k
    away = usual - history.mean_c if winter else history.mean_c - usual
    spell = np.convolve(np.where(counted, away, 0.0), np.ones(SPELL_DAYS) / SPELL_DAYS, mode="valid")
    few = np.count_nonzero(counted) < HALVES_KNOWN_DAYS
    return max(otherwise_k if few else LEAST_SPELL_K, float(spell.max()))


def _of_half(days: Times, latitude: float, *, winter: bool) -> NDArray[np.bool_]:
    """Days of the darker (winter) or lighter half of the year."""
    middle = 10.0 if (latitude >= 0) == winter else 192.0
    found: NDArray[np.bool_] = np.cos(2.0 * np.pi * (_year_day(days).astype(np.float64) - middle) / 365.25) > 0.0
    return found


def _known(history: DailyHistory) -> NDArray[np.bool_]:
    """Days that are on record, or drawn between days that are."""
    if history.assumed_before is None:
        return np.ones(history.days.size, dtype=np.bool_)
    known: NDArray[np.bool_] = history.days >= np.datetime64(history.assumed_before)
    return known


def _year_day(days: Times) -> NDArray[np.int64]:
    """Days since 1 January."""
    found: NDArray[np.int64] = (days - days.astype("datetime64[Y]")).astype(np.int64)
    return found
