"""What burns, dries or scorches leaves."""

import numpy as np

from carewatch.forecast.weather import Array
from carewatch.limits.damage import damage, day_dose_k
from carewatch.limits.sheet import Case, Kind, Sheet

HEAT = Kind("heat", "°C", "leaves", summed=True)
DRYING = Kind("drying", "share of leaf water", "leaves")
SUN = Kind("sun", "kWh/m²·d", "leaves", summed=True)
KINDS = (HEAT, DRYING, SUN)
# Above this leaves are lost whatever the duration (hazards.toml: heat). [°C]
HIGHEST_LEAF_C = 53.0


def judge(case: Case, sheet: Sheet) -> None:
    """Enter all three."""
    _heat(case, sheet)
    limits, felt = case.limits, case.felt
    dry = damage(felt.roots.tissue_loss.max(axis=0), limits.drying_10, limits.drying_50)
    sheet.enter(DRYING, felt.roots.tissue_loss, limits.drying_10, dry, _lose(case, sheet, dry))
    scorched = damage(felt.direct_kwh.max(axis=0), limits.sun_10, limits.sun_50)
    sheet.enter(SUN, felt.direct_kwh, limits.sun_10, scorched, _lose(case, sheet, scorched))


def _lose(case: Case, sheet: Sheet, share: Array) -> Array:
    """Take a share of the leaves; returns what that alone costs the tree. [0-1]"""
    sheet.leaves_kept = sheet.leaves_kept * (1.0 - share)
    return share * case.limits.leaf_weight


def _heat(case: Case, sheet: Sheet) -> None:
    """Leaf temperature with the time it lasts. The four-hour limit is that of an hour less the slope times log10(4)."""
    limits, tissue_c, slope_k = case.limits, case.felt.tissue_c, case.numbers.heat_slope_k
    excess = day_dose_k(tissue_c, limits.heat_10 + slope_k * np.log10(4.0), slope_k, case.day_start)
    with np.errstate(invalid="ignore"):
        as_felt = np.where(np.isfinite(limits.heat_10), limits.heat_10 + excess, tissue_c)
    dose = np.where(tissue_c > HIGHEST_LEAF_C, np.maximum(as_felt, HIGHEST_LEAF_C + 10.0), as_felt)
    burnt = damage(dose.max(axis=0), limits.heat_10, limits.heat_50)
    sheet.enter(HEAT, dose, limits.heat_10, burnt, _lose(case, sheet, burnt), shown=tissue_c)
