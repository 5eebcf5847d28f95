"""The weeks after the forecast: hours that the same weeks of past years had here, or what is usual."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pandas as pd

from carewatch.forecast.complete import complete
from carewatch.forecast.ensemble import dress, ranked_paths, widen_radiation
from carewatch.forecast.errors import ForecastErrors
from carewatch.forecast.history import DailyHistory, seasonal_mean_c
from carewatch.forecast.packing import columns, unpacked
from carewatch.forecast.raw import RawForecast
from carewatch.forecast.record import ORIGINS, PastDay
from carewatch.forecast.weather import Array, ForecastUnusable, Hours, Times, Weather
from carewatch.physics.sun import sun_of_hours
from carewatch.place.spot import Site

# Years of the record that are looked at, and days by which each is moved to and fro, so that one year's weeks become
# five courses: weather is not tied to a date, and the sun of two weeks earlier or later is nearly the same (judged).
YEARS = 4
MOVED_DAYS = (0, -7, 7, -14, 14)
DAY_H = 24
HOUR = np.timedelta64(3600, "s")
# Without a record: daily means lie 3.3 K around what is usual and remember it for 62 hours (correlation of one day with
# the next 0.68), warmest and coldest hour are 7 K apart, cloud covers two thirds with 1.5 around it in its logit, wind
# is spread by 0.5 in its logarithm. Computed from the fifteen test reference years 2010 of the German weather service.
USUAL_RANGE_K = 7.0
USUAL_CLOUD = 0.67
# Of those stations some are mountains: what blows over lowlands is about 3 m/s (estimate).
USUAL_WIND_MS = 3.0
USUAL_ERRORS = ForecastErrors(
    lead_days=(0.0, 400.0),
    air_sd_k=(3.3, 3.3),
    air_bias_k=(0.0, 0.0),
    wind_log_sd=(0.5, 0.5),
    cloud_logit_sd=(1.5, 1.5),
    memory_h=62.0,
    members=1,
    source="computed from the test reference years 2010 of the German weather service (DWD)",
)
WARMEST_AT_H = 15.0
# What so many last days were above or below the season, half of it is taken for the site's own (as forecast.history).
USUAL_WEEKS_DAYS = 60
# Temperatures that follow what is usual when a course is moved to another date.
WARMTH = ("air_temp_c", "dew_point_c", "soil_temp_c")


@dataclass(frozen=True)
class Weeks:
    """
    The forecast and the weeks after it.

    hours: of every member, the forecast's own first; forecast: how many of them are forecast.
    kind: "record" (past years here), "usual" (no record of these weeks), or "forecast" (it reaches far enough).
    told: a sentence for the grower.
    """

    hours: Hours
    forecast: int
    kind: str
    told: str


def carried_on(
    weather: Weather, until: np.datetime64, record: Iterable[PastDay], history: DailyHistory, site: Site, now: datetime
) -> Weeks:
    """
    The members of a forecast, each carried on to a later hour by one course of the site's own climate.

    until: UTC stamp of the last hour; record: hours of past days, any origin; history: daily past up to now, which
    says how this site differs from others of its latitude. now: aware; no later day of the record is used.
    """
    ahead = weather.ahead
    missing = int((until - ahead.times[-1]) / HOUR)
    if missing <= 0:
        return Weeks(ahead, len(ahead), "forecast", "The forecast reaches over all these weeks.")
    times = (ahead.times[-1] + np.arange(1, missing + 1) * HOUR).astype("datetime64[s]")
    courses, years = _recorded(times, record, site, now)
    if courses:
        picked = [courses[member % len(courses)] for member in range(ahead.members)]
        values = {name: np.concatenate([course[name] for course in picked], axis=1) for name in ahead.values}
        told = (
            f"After the forecast, the weather that these weeks had here in {_listed(years)} stands in "
            f"({len(courses)} courses, moved by up to two weeks)."
        )
        kind = "record"
    else:
        values = _usual(times, history, ahead.members, site)
        told = (
            "After the forecast, what is usual on these dates stands in, 3.3 K more or less and without rain: there is "
            "no hourly record of these weeks here yet."
        )
        kind = "usual"
    joined = {name: np.concatenate([ahead.values[name], values[name]], axis=0) for name in ahead.values}
    return Weeks(Hours(np.concatenate([ahead.times, times]), joined), len(ahead), kind, told)


def _recorded(
    times: Times, record: Iterable[PastDay], site: Site, now: datetime
) -> tuple[list[dict[str, Array]], list[int]]:
    """Complete courses of past years for these hours, (hour, 1), each year as it was before it is moved."""
    days = _days(record, now.astimezone(UTC).date())
    if not days:
        return [], []
    found: list[dict[str, Array]] = []
    years: list[int] = []
    for moved in MOVED_DAYS:
        for back in range(1, YEARS + 1):
            shift = moved - round(365.25 * back)
            course = _course(times, shift, days, site)
            if course is not None:
                found.append(course)
                years.append((times[0].astype("datetime64[D]") + shift).astype(date).year)
    return found, sorted(set(years))


def _days(record: Iterable[PastDay], before: date) -> dict[date, Array]:
    """Hours per UTC day before a date, (24, column), the most trusted origin's value wherever there is one."""
    merged: dict[date, Array] = {}
    for day in sorted(record, key=lambda each: ORIGINS.index(each.origin)):
        if day.day < before:
            hours = unpacked(day.content)
            known = merged.get(day.day)
            merged[day.day] = hours if known is None else np.where(np.isfinite(hours), hours, known)
    return merged


def _course(times: Times, shift_days: int, days: dict[date, Array], site: Site) -> dict[str, Array] | None:
    """The hours so many days earlier as a complete course for these, or None where the record has a gap."""
    stamps = times + np.timedelta64(shift_days * DAY_H * 3600, "s")
    first: date = stamps[0].astype("datetime64[D]").astype(date)
    # One hour more: the last one counts as still to come.
    last: date = (stamps[-1] + HOUR).astype("datetime64[D]").astype(date)
    wanted = [first + timedelta(days=number) for number in range((last - first).days + 1)]
    if any(day not in days for day in wanted):
        return None
    index = pd.date_range(pd.Timestamp(first, tz="UTC"), periods=len(wanted) * DAY_H, freq="h")
    frame = pd.DataFrame(np.concatenate([days[day] for day in wanted]), index=index, columns=columns())
    begins, ends = pd.Timestamp(stamps[0], tz="UTC"), pd.Timestamp(stamps[-1], tz="UTC")
    past = _completed(frame.loc[begins : ends + pd.Timedelta(hours=1)].dropna(axis=1, how="all"), ends, site)
    if past is None or len(past) != times.size:
        return None
    warmer = seasonal_mean_c(times.astype("datetime64[D]"), *site.position)
    warmer = warmer - seasonal_mean_c(stamps.astype("datetime64[D]"), *site.position)
    return {name: values + warmer[:, None] if name in WARMTH else values for name, values in past.values.items()}


def _completed(frame: pd.DataFrame, ends: pd.Timestamp, site: Site) -> Hours | None:
    """The hours up to `ends` with everything filled in that can be, or None without air temperature."""
    raw = RawForecast("recorded", None, *site.position, frame, {})
    try:
        weather = complete(raw, *site.position, ends.to_pydatetime(), USUAL_ERRORS)
    except ForecastUnusable:
        return None
    return weather.past


def _usual(times: Times, history: DailyHistory, members: int, site: Site) -> dict[str, Array]:
    """What is usual on these dates, spread by what is usual, (hour, member)."""
    days = times.astype("datetime64[D]")
    mean_c = seasonal_mean_c(days, *site.position)
    recent = history.days[-USUAL_WEEKS_DAYS:]
    own = history.mean_c[-USUAL_WEEKS_DAYS:] - seasonal_mean_c(recent, *site.position)
    hour = ((times - days) / HOUR).astype(np.float64) + site.longitude / 15.0
    air = mean_c + 0.5 * float(own.mean()) + 0.5 * USUAL_RANGE_K * np.cos(2.0 * np.pi * (hour - WARMEST_AT_H) / DAY_H)
    one_more = np.append(times, times[-1] + HOUR)
    frame = pd.DataFrame(
        {
            "air_temp_c": np.append(air, air[-1]),
            "wind_10m_ms": USUAL_WIND_MS,
            "cloud": USUAL_CLOUD,
            "rain_mm": 0.0,
            "snowfall_cm": 0.0,
            "snow_depth_m": 0.0,
        },
        index=pd.DatetimeIndex(one_more).tz_localize("UTC"),
    )
    # Without a dew point the night's coldest hour is taken as saturated (forecast.complete, FAO-56 eq. 48).
    past = _completed(frame, pd.Timestamp(times[-1], tz="UTC"), site)
    if past is None:
        raise ValueError("a usual course is complete")
    single = {name: values[:, 0] for name, values in past.values.items()}
    leads = np.zeros(times.size)
    paths = ranked_paths(times.size, members, USUAL_ERRORS.memory_h)
    spread = dress(single, leads, replace(USUAL_ERRORS, members=members), paths)
    return widen_radiation(spread, single, sun_of_hours(times, *site.position))


def _listed(years: Sequence[int]) -> str:
    return f"{years[0]}" if len(years) == 1 else f"{', '.join(map(str, years[:-1]))} and {years[-1]}"
