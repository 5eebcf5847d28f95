"""What one tree felt in an uneventful day, in which single things can be made worse."""

from types import SimpleNamespace
from typing import cast

import numpy as np
from numpy.typing import NDArray

from carewatch.condition.now import Condition
from carewatch.exposure.columns import NEUTRAL, Columns
from carewatch.exposure.run import Exposure
from carewatch.limits.judge import Judgement, judge
from carewatch.limits.tolerance import Tolerance, tolerances
from tests.condition.grown import NORTH, TABLES, noon

Array = NDArray[np.float64]
Felt = float | Array

SHELLS = 5


def uneventful(
    hours: int = 24,
    *,
    tissue_c: Felt = 12.0,
    wet: bool = False,
    shells_c: Felt = 12.0,
    tissue_loss: Felt = 0.0,
    soaked_h: Felt = 0.0,
    direct_kwh: Felt = 0.0,
    gust_ms: Felt = 1.0,
    overturning: Felt = 0.05,
    sun_side_c: Felt | None = None,
    bark_c: Felt = 12.0,
    top_ice: Felt = 0.0,
    water_left: Felt = 0.8,
    thaw_age_h: float = 1e4,
    snow_mm: Felt = 0.0,
    ice_mm: Felt = 0.0,
    warmth_kd: Felt | None = None,
    open_kd: Felt = 0.0,
    open_low_c: float = 5.0,
    dark_d: Felt | None = None,
    damp_h: Felt | None = None,
) -> Exposure:
    """
    One member, one column; every quantity a number or one value per hour. wet: dew or rime on the leaves.

    warmth_kd, dark_d, damp_h: as exposure.shelter has them, None where no shelter acts.
    """

    def course(value: Felt) -> Array:
        return np.broadcast_to(np.asarray(value, dtype=np.float64), (hours,)).reshape(hours, 1, 1).copy()

    shells = np.repeat(course(shells_c)[:, None], SHELLS, axis=1)
    times = np.datetime64("2026-01-01T01:00:00", "s") + np.arange(hours) * np.timedelta64(3600, "s")
    return cast(
        "Exposure",
        SimpleNamespace(
            times=times,
            day=(times - np.timedelta64(30, "m")).astype("datetime64[D]"),
            tissue_c=course(tissue_c),
            wet=course(1.0 if wet else 0.0) > 0.0,
            roots=SimpleNamespace(
                shells_c=shells,
                tissue_loss=course(tissue_loss),
                soaked_h=course(soaked_h),
                water_left=course(water_left),
            ),
            direct_kwh=course(direct_kwh),
            gust_ms=course(gust_ms),
            overturning=course(overturning),
            sun_side_c=course(shells_c if sun_side_c is None else sun_side_c),
            bark_c=course(bark_c),
            top_ice=course(top_ice),
            thaw_age_h=np.full((1, 1), thaw_age_h),
            crown_snow_mm=course(snow_mm),
            crown_ice_mm=course(ice_mm),
            sheltered=SimpleNamespace(
                warmth_kd=course(0.0 if warmth_kd is None else warmth_kd),
                open_kd=course(open_kd),
                open_low_c=np.full((1, 1), open_low_c),
                dark_d=course(0.0 if dark_d is None else dark_d),
                damp_h=course(0.0 if damp_h is None else damp_h),
                forced=_touched(warmth_kd),
                starved=_touched(dark_d),
                damp=_touched(damp_h),
            ),
        ),
    )


def _touched(value: Felt | None) -> NDArray[np.int64]:
    return np.arange(0 if value is None else 1)


def bare_column(hours: int = 24, anchorage_floor: float = 0.0) -> Columns:
    """The tree as it stands, under nothing; anchorage_floor: hold that ties lend."""
    values = {name: np.full((hours, 1), neutral) for name, neutral in NEUTRAL.items()}
    values["anchorage_floor"] = np.full((hours, 1), anchorage_floor)
    return Columns(tree=np.zeros(1, dtype=np.int64), place=np.zeros((hours, 1), dtype=np.int64), **values)


def limits_of(condition: Condition, day: str, habit_kwh: float = 4.0, latitude: float = NORTH) -> Tolerance:
    """What a tree can stand on a day."""
    return tolerances([condition], np.array([habit_kwh]), TABLES.hazards, noon(day).date(), latitude)


def judged(felt: Exposure, limits: Tolerance, anchorage_floor: float = 0.0) -> Judgement:
    """What it loses by what it felt."""
    return judge(felt, limits, bare_column(felt.times.size, anchorage_floor), TABLES.hazards)
