"""How near a model and the plain rule come to what was recorded, with the spread that resampled days give."""

from collections.abc import Callable
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from carewatch.physics.humidity import saturation_vapour_pressure_kpa
from carewatch.physics.radiation import blackbody_wm2, sky_emissivity_clear
from tests.reference.measured.floor_course import Course
from tests.reference.measured.record import Array, Flags, Record

SEED = 20_000
RESAMPLINGS = 1_000
# An interval from fewer days says nothing.
LEAST_DAYS = 8
# Global radiation below which an hour counts as dark. [W m⁻²]
DARK_WM2 = 1.0
# Nights by wind at 2 m and cloud: radiation frost wants less than 2 m/s and a clear sky (Snyder & de Melo-Abreu 2005,
# ch. 5); above 4 m/s or under a covered sky the ground is hardly colder (common practice).
CALM_MS, WINDY_MS, CLEAR, COVERED = 2.0, 4.0, 0.35, 0.8
CLASSES = ("clear and calm", "between", "covered", "windy")


@dataclass(frozen=True)
class Pairs:
    """Model and plain rule against the record, one row per block with all inputs, all of shape (pair,). [°C]"""

    model_c: Array
    plain_c: Array
    recorded_c: Array
    day: NDArray[np.int64]
    hour: NDArray[np.int64]
    night: Flags
    kind: NDArray[np.str_]

    def only(self, chosen: Flags) -> "Pairs":
        """The chosen rows."""
        return Pairs(**{field.name: getattr(self, field.name)[chosen] for field in fields(self)})


@dataclass(frozen=True)
class Score:
    """
    count: pairs; frosts: recorded below 0 °C; bias_k, rmse_k: of the temperature. [K]

    hit_rate: share of the frosts that were told; false_ratio: share of what was told that was none; csi: hits over
    hits, misses and false alarms. NaN where there is nothing to count.
    """

    count: float
    frosts: float
    bias_k: float
    rmse_k: float
    hit_rate: float
    false_ratio: float
    csi: float


MEASURES = tuple(field.name for field in fields(Score))[2:]


def pairs_of(record: Record, course: Course) -> Pairs:
    """
    One pair per block whose hours all have their inputs and whose target was recorded.

    The minimum of a block includes the instant at which it begins; a block of one hour is the hour itself. The plain
    rule is the air of the same hours.
    """
    first = record.block_h if record.block_h > 1 else 0
    ends = np.flatnonzero(np.isfinite(record.target_c))
    ends = ends[ends >= first]
    within = ends[:, None] - np.arange(record.block_h)
    spanned = ends[:, None] - np.arange(first + 1)
    whole = record.known[spanned].all(axis=1)
    ends, within, spanned = ends[whole], within[whole], spanned[whole]
    dark = record.inputs["global_wm2"] < DARK_WM2
    hours = (record.times - record.times.astype("datetime64[D]")) / np.timedelta64(1, "h")
    return Pairs(
        model_c=course.near_c[spanned].min(axis=1),
        plain_c=record.inputs["air_temp_c"][spanned].min(axis=1),
        recorded_c=record.target_c[ends],
        day=record.days[ends],
        hour=hours.astype(np.int64)[ends],
        night=dark[within].mean(axis=1) >= 0.5,
        kind=_kind(course.wind_2m_ms[within].mean(axis=1), _cloud(record)[within].mean(axis=1)),
    )


def score(told_c: Array, recorded_c: Array) -> Score:
    """Score of temperatures against the record, frost being below 0 °C."""
    if not told_c.size:
        return Score(0.0, 0.0, *([float("nan")] * len(MEASURES)))
    off = told_c - recorded_c
    told, frost = told_c < 0.0, recorded_c < 0.0
    hits, either = float((told & frost).sum()), float((told | frost).sum())
    return Score(
        float(told_c.size),
        float(frost.sum()),
        float(off.mean()),
        float(np.sqrt((off**2).mean())),
        _share(hits, float(frost.sum())),
        1.0 - _share(hits, float(told.sum())),
        _share(hits, either),
    )


def interval(pairs: Pairs, told: Callable[[Pairs], Array]) -> dict[str, tuple[float, float]] | None:
    """For each measure the range that holds 95 % of its values when days are drawn anew; None for too few days."""
    days, index = np.unique(pairs.day, return_inverse=True)
    if days.size < LEAST_DAYS:
        return None
    rows = [np.flatnonzero(index == day) for day in range(days.size)]
    random = np.random.default_rng(SEED)
    found = []
    for _ in range(RESAMPLINGS):
        drawn = np.concatenate([rows[day] for day in random.integers(0, days.size, days.size)])
        one = score(told(pairs)[drawn], pairs.recorded_c[drawn])
        found.append([getattr(one, measure) for measure in MEASURES])
    table = np.array(found)
    spread = {}
    for position, measure in enumerate(MEASURES):
        known = table[np.isfinite(table[:, position]), position]
        low, high = np.quantile(known, (0.025, 0.975)) if known.size else (np.nan, np.nan)
        spread[measure] = (float(low), float(high))
    return spread


def _share(part: float, whole: float) -> float:
    return part / whole if whole else float("nan")


def _kind(wind_2m_ms: Array, cloud: Array) -> NDArray[np.str_]:
    calm_clear = (wind_2m_ms < CALM_MS) & (cloud < CLEAR)
    return np.select(
        [wind_2m_ms >= WINDY_MS, cloud >= COVERED, calm_clear], [CLASSES[3], CLASSES[2], CLASSES[0]], CLASSES[1]
    )


def _cloud(record: Record) -> Array:
    """Recorded cloud, or what the recorded sky amounts to beyond a clear one (Crawford & Duchon 1999). [0-1]"""
    if "cloud" in record.inputs:
        return record.inputs["cloud"]
    air = record.inputs["air_temp_c"]
    if "longwave_wm2" not in record.inputs:
        return np.zeros_like(air)
    clear = sky_emissivity_clear(saturation_vapour_pressure_kpa(record.inputs["dew_point_c"]), air)
    seen = record.inputs["longwave_wm2"] / blackbody_wm2(air)
    return np.clip((seen - clear) / (1.0 - clear), 0.0, 1.0)
