"""Wet snow and ice on the crown: branches that bend and break."""

import numpy as np

from carewatch.limits.damage import damage_by_ratio
from carewatch.limits.sheet import Case, Kind, Sheet

LOAD = Kind("load", "mm", "branches", rests_on="rain_mm")
KINDS = (LOAD,)


def judge(case: Case, sheet: Sheet) -> None:
    """
    The heaviest load of all hours; ice counts as the snow that breaks as much.

    What lies on the crown now has been borne: only what comes on top of it harms.
    """
    felt, limits, numbers = case.felt, case.limits, case.numbers
    some = np.nonzero((felt.crown_snow_mm > 0.0).any(axis=(0, 1)) | (felt.crown_ice_mm > 0.0).any(axis=(0, 1)))[0]
    if some.size == 0:
        sheet.quiet(LOAD)
        return
    tenth, half = limits.load_10[some], limits.load_50[some]
    dose = felt.crown_snow_mm[..., some] + felt.crown_ice_mm[..., some] * (
        numbers.load_firm_mm[0] / numbers.load_ice_mm
    )
    before, after = (damage_by_ratio(most, tenth, half) for most in (dose[0], dose.max(axis=0)))
    hurt = (after - before) / np.maximum(1.0 - before, 1e-9)
    loss = hurt * numbers.load_breaks
    sheet.enter_some(LOAD, some, dose, tenth, hurt, loss, dose, (dose > tenth) & (hurt > 0.0))
    sheet.rest_kept[:, some] *= 1.0 - loss
