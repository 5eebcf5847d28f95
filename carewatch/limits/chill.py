"""Cold above zero that hurts the leaves of tender kinds."""

import numpy as np

from carewatch.forecast.weather import Array
from carewatch.limits.damage import damage_by_ratio
from carewatch.limits.sheet import Case, Kind, Sheet

CHILL = Kind("chill", "°C·h", "leaves")
KINDS = (CHILL,)


def judge(case: Case, sheet: Sheet) -> None:
    """
    Degree-hours of cold against what a tender kind bears; doses harm by their ratio, as durations do.

    What the nights before now have taken cannot be lost again.
    """
    limits, numbers = case.limits, case.numbers
    some = np.nonzero(np.isfinite(limits.chill_10))[0]
    if some.size == 0:
        sheet.quiet(CHILL)
        return
    tissue_c = case.felt.tissue_c[..., some]
    carried = limits.chill_carried[some]
    dose = cold_hours(tissue_c, numbers.chill_below_c, numbers.chill_mends_h, carried)
    tenth, half = limits.chill_10[some], limits.chill_50[some]
    before, after = (damage_by_ratio(most, tenth, half) for most in (carried, np.maximum(dose.max(axis=0), carried)))
    hurt = (after - before) / np.maximum(1.0 - before, 1e-9)
    loss = hurt * limits.leaf_weight[some]
    beyond = (dose > tenth) & (tissue_c < numbers.chill_below_c)
    sheet.enter_some(CHILL, some, dose, tenth, hurt, loss, dose, beyond)
    sheet.leaves_kept[:, some] *= 1.0 - hurt


def cold_hours(tissue_c: Array, below_c: float, mends_h: float, carried: Array | float = 0.0) -> Array:
    """
    Degree-hours below a temperature that a leaf carries, hour by hour. [°C·h]

    tissue_c: (hour, ...). [°C]; mends_h: in so many hours above it all but 1/e is made good. [h]
    carried: by it at the beginning. [°C·h]
    """
    lacks = np.maximum(below_c - tissue_c, 0.0)
    kept = np.where(lacks > 0.0, 1.0, np.exp(-1.0 / mends_h))
    dose = np.empty_like(lacks)
    carries = np.zeros(lacks.shape[1:]) + carried
    for hour in range(lacks.shape[0]):
        carries = carries * kept[hour] + lacks[hour]
        dose[hour] = carries
    return dose
