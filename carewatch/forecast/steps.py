"""Hours between values that a source gives every few hours: a curve through them, their lows and their highs."""

import numpy as np
from scipy.interpolate import PchipInterpolator

from carewatch.forecast.weather import Array, Times
from carewatch.physics.sun import sun_times_utc

# The warmest moment of a day after its solar noon: 1.86 h at 1.5 m. Source: Parton & Logan 1981, Agric. Meteorol.
# 23:205-216 (from memory); the coldest is sunrise there, within minutes. [h]
WARMEST_AFTER_NOON_H = 1.86
# A low or high within this of the step's own ends is that end: values are rounded to a tenth. [K]
SAME_K = 0.1

_HOUR = np.timedelta64(3600, "s")


def between_instants_c(
    instants: Times, air_temp_c: Array, low_c: Array, high_c: Array, hours: Times, latitude: float, longitude: float
) -> Array:
    """
    Air temperature at every hour, shape (hour,). [°C]

    instants: stamps at which it is given, rising, UTC, shape (instant,). air_temp_c: there. [°C]
    low_c, high_c: least and highest of the step that begins at each instant; NaN where they are not given. [°C]
    hours: stamps wanted, UTC; NaN outside of the instants. latitude, longitude: of the site. [°]

    Instants alone miss the minimum of a night: a low beyond both ends of its step becomes a point of its own at the
    hour of sunrise, a high at the warmest hour of the day, each moved into the step. The curve through all points
    goes beyond none of them.
    Source: Fritsch & Carlson 1980, SIAM J. Numer. Anal. 17:238-246 (monotone cubic).
    """
    known = np.isfinite(air_temp_c)
    instants, air, low, high = instants[known], air_temp_c[known], low_c[known], high_c[known]
    if instants.size < 2:
        return np.where(np.isin(hours, instants), air[0] if air.size else np.nan, np.nan)
    at_h = (instants - instants[0]) / _HOUR
    points = dict(zip(at_h.tolist(), air.tolist(), strict=True))
    days = np.arange(
        instants[0].astype("datetime64[D]") - 1, instants[-1].astype("datetime64[D]") + 2, dtype="datetime64[D]"
    )
    sunrise, sunset = sun_times_utc(days, latitude, longitude)
    coldest_h = (sunrise - instants[0]) / _HOUR
    warmest_h = coldest_h + (sunset - sunrise) / _HOUR / 2.0 + WARMEST_AFTER_NOON_H
    for step in np.flatnonzero(np.diff(at_h) > 1.0):
        begin, end = at_h[step], at_h[step + 1]
        ends = air[step : step + 2]
        middle = (begin + end) / 2.0
        inner = [(_nearest(coldest_h, middle), low[step])] if low[step] < ends.min() - SAME_K else []
        inner += [(_nearest(warmest_h, middle), high[step])] if high[step] > ends.max() + SAME_K else []
        points |= _placed(inner, begin, end)
    order = np.array(sorted(points))
    curve = PchipInterpolator(order, np.array([points[hour] for hour in order.tolist()]), extrapolate=False)
    result: Array = np.asarray(curve((hours - instants[0]) / _HOUR), dtype=np.float64)
    return result


def _nearest(candidates_h: Array, middle_h: float) -> float:
    """The candidate nearest to the middle of a step; the middle itself where the sun neither rises nor sets. [h]"""
    away = np.abs(candidates_h - middle_h)
    return middle_h if np.isnan(away).all() else float(candidates_h[np.nanargmin(away)])


def _placed(inner: list[tuple[float, float]], begin_h: float, end_h: float) -> dict[float, float]:
    """The points at whole hours inside their step, in the order in which they follow each other, none on another."""
    placed: dict[float, float] = {}
    first, last = begin_h + 1.0, end_h - 1.0
    for wanted_h, value in sorted(inner):
        hour = min(max(round(wanted_h), first), last)
        if hour in placed:
            hour = hour + 1.0 if hour < last else hour - 1.0
        if first <= hour <= last and hour not in placed:
            placed[hour] = value
    return placed
