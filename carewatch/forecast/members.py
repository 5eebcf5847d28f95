"""The members of a real ensemble on the hours of the single run: what each gives, and how it goes on where it ends."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carewatch.forecast.ensemble import CLOUD_EDGE
from carewatch.forecast.errors import ForecastErrors
from carewatch.forecast.raw import VARIABLES
from carewatch.forecast.weather import Array

# Below this a wind has no useful logarithm: a cup anemometer starts to turn at about 0.5 m/s (WMO Guide No. 8, part I,
# chapter 5; from memory). Only differences of what is above it are carried on. [m s⁻¹]
LEAST_WIND_MS = 0.3


@dataclass(frozen=True)
class _Course:
    """
    How one quantity of the members runs beside the single run, shape (hour, member) in its own scale.

    apart: member less run, NaN where the member is unknown. path: deviates of the dressing. [-]
    spread: of the single run's error by lead. near: of what even a perfect member misses. shape (hour, 1)
    """

    apart: Array
    path: Array
    spread: Array
    near: float


def alive(air_c: Array) -> NDArray[np.bool_]:
    """Which members know anything about the hours. air_c: (hour, member) with NaN; result: (member,)."""
    known: NDArray[np.bool_] = np.any(np.isfinite(air_c), axis=0)
    return known


def last_own_hour(air_c: Array) -> int:
    """Row of the last hour that any member knows, -1 for none. air_c: (hour, member) with NaN."""
    rows = np.flatnonzero(np.isfinite(air_c).any(axis=1))
    return int(rows[-1]) if rows.size else -1


def join_members(
    single: Mapping[str, Array],
    given: Mapping[str, Array],
    leads_h: Array,
    errors: ForecastErrors,
    paths: tuple[Array, ...],
) -> dict[str, Array]:
    """
    Every variable for every hour and member, shape (hour, member).

    single: canonical variables of the run, (hour,). given: what came per member, (hour, member), NaN where unknown; air
    at least. leads_h: hours since the forecast was issued. [h] paths: from ranked_paths, air (shared by dew point),
    wind (shared by gust), cloud.

    Where a member is known it is taken at its word, but for what no member can know: the error that is left at lead
    zero (cell against garden, analysis against truth) is added to its air and dew point as a path of exact quantiles.
    Source: dressing of each member by the error of the best one, Roulston & Smith 2003, Tellus 55A:16-30.
    A hole between known hours is drawn by the member's distance from the run. Beyond its last hour that distance fades
    with the memory of errors while the error of the single run grows in its place, on the same path: no jump where it
    ends, and after a few days what `dress` would give. A variable that is not given per member is the run's own there.
    Of dew point it is the distance below the air.
    """
    days = np.maximum(leads_h, 0.0) / 24.0

    def by_lead(values: tuple[float, ...]) -> Array:
        return np.interp(days, errors.lead_days, values)[:, None]

    air_path, wind_path, cloud_path = paths
    known = np.isfinite(given["air_temp_c"])
    count = known.shape[1]
    ahead = {name: _own(single[name], given.get(name), count) for name in VARIABLES}

    def shifted(name: str) -> Array:
        course = _Course(given[name] - single[name][:, None], air_path, by_lead(errors.air_sd_k), errors.air_sd_k[0])
        return _carried(course, errors.memory_h, by_lead(errors.air_bias_k))

    air = shifted("air_temp_c")
    dew = shifted("dew_point_c") if "dew_point_c" in given else air
    ahead["air_temp_c"] = single["air_temp_c"][:, None] + air
    ahead["dew_point_c"] = np.minimum(single["dew_point_c"][:, None] + dew, ahead["air_temp_c"])

    def apart(scaled: Array, members: Array | None) -> Array:
        """Of a variable that is not given per member, none as long as the member itself is known."""
        return np.where(known, 0.0, np.nan) if members is None else members - scaled[:, None]

    for name in ("wind_10m_ms", "gust_10m_ms"):
        own = _log(given[name]) if name in given else None
        scaled = _log(single[name])
        course = _Course(apart(scaled, own), wind_path, by_lead(errors.wind_log_sd), 0.0)
        carried = single[name][:, None] * np.exp(_carried(course, errors.memory_h))
        ahead[name] = np.where(_is_own(given.get(name), known), ahead[name], carried)
    ahead["gust_10m_ms"] = np.maximum(ahead["gust_10m_ms"], ahead["wind_10m_ms"])

    own = _logit(given["cloud"]) if "cloud" in given else None
    scaled = _logit(single["cloud"])
    course = _Course(apart(scaled, own), cloud_path, by_lead(errors.cloud_logit_sd), 0.0)
    carried = 1.0 / (1.0 + np.exp(-scaled[:, None] - _carried(course, errors.memory_h)))
    ahead["cloud"] = np.where(_is_own(given.get("cloud"), known), ahead["cloud"], carried)
    return ahead


def _own(run: Array, members: Array | None, count: int) -> Array:
    """What the members say, the run where they say nothing."""
    alone = np.repeat(run[:, None], count, axis=1)
    return alone if members is None else np.where(np.isfinite(members), members, alone)


def _is_own(members: Array | None, known: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Where a value needs no carrying on: given, or the run's beside a member that is known."""
    return known if members is None else np.isfinite(members)


def _carried(course: _Course, memory_h: float, bias: Array | None = None) -> Array:
    """
    The distance from the run at every hour, (hour, member). memory_h: e-folding time of errors. [h]

    Away from the nearest known hour by h, of its distance exp(−h/memory) is left, and the path of the dressing comes
    in as far as it is news since then: that has the variance 1 − exp(−2h/memory) of what was forgotten.
    """
    known = np.isfinite(course.apart)
    hours, members = known.shape
    row = np.arange(hours)[:, None]
    before = np.maximum.accumulate(np.where(known, row, -1), axis=0)
    after = np.minimum.accumulate(np.where(known, row, hours)[::-1], axis=0)[::-1]
    column = np.arange(members)[None, :]
    # What a member misses even where it is known runs on through its holes.
    apart = course.apart + course.near * course.path
    first, last = np.clip(before, 0, hours - 1), np.clip(after, 0, hours - 1)
    at_first, at_last = apart[first, column], apart[last, column]
    has_before, has_after = before >= 0, after < hours
    share = (row - first) / np.maximum(last - first, 1)
    between = at_first + share * (at_last - at_first)
    end = np.where(has_before, first, last)
    keep = np.where(has_before | has_after, np.exp(-np.abs(row - end) / memory_h), 0.0)
    left = np.where(keep > 0.0, keep * np.where(has_before, at_first, at_last), 0.0)
    news = course.path - keep * course.path[end, column]
    beyond = left + course.spread * news + (0.0 if bias is None else (1.0 - keep) * bias)
    carried: Array = np.where(known, apart, np.where(has_before & has_after, between, beyond))
    return carried


def _log(wind_ms: Array) -> Array:
    return np.log(np.maximum(wind_ms, LEAST_WIND_MS))


def _logit(cloud: Array) -> Array:
    inside = np.clip(cloud, CLOUD_EDGE, 1.0 - CLOUD_EDGE)
    odds: Array = np.log(inside / (1.0 - inside))
    return odds
