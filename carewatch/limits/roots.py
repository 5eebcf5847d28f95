"""What hurts the root ball where it is: frozen, hot, or without air."""

import numpy as np

from carewatch.forecast.weather import Array
from carewatch.limits.damage import damage, day_dose_k, of_the_rest, root_loss
from carewatch.limits.sheet import Case, Kind, Sheet
from carewatch.limits.tolerance import Tolerance

ROOT_FREEZE = Kind("root-freeze", "°C", "roots", cold=True)
ROOT_HEAT = Kind("root-heat", "°C", "roots", summed=True)
SOAK = Kind("soak", "h", "roots", rests_on="rain_mm")
KINDS = (ROOT_FREEZE, ROOT_HEAT, SOAK)
# Roots stand evenly in the five shells; a quarter of the outermost shell's faces the sun (geometry, judged). [0-1]
SHELL_SHARE = 0.2
SUN_SIDE_SHARE = 0.25
# Share of young roots from which on their limit is the one shown (judged); or from less on, where the tree cannot spare
# so many. [0-1]
MANY_YOUNG = 0.3


def judge(case: Case, sheet: Sheet) -> None:
    """Enter all three."""
    _freeze(case, sheet)
    _heat(case, sheet)
    _soak(case, sheet)


def _lose(case: Case, sheet: Sheet, share: Array) -> Array:
    """Take a share of the roots; returns what that alone costs the tree. [0-1]"""
    sheet.roots_kept = sheet.roots_kept * (1.0 - share)
    return root_loss(share, case.limits.root_supply, case.numbers.roots_spare, case.limits.roots_lost)


def _freeze(case: Case, sheet: Sheet) -> None:
    """Coldest hour of each shell; young and ripe roots die each at their own temperature."""
    limits, shells = case.limits, case.felt.roots.shells_c
    frozen = of_the_rest(frozen_share(shells, limits), limits.roots_lost)
    many = (limits.young >= MANY_YOUNG) | (limits.young > case.numbers.roots_spare * limits.root_supply)
    limit = np.where(many, limits.root_frost_young_10, limits.root_frost_mature_10)
    sheet.enter(ROOT_FREEZE, shells.min(axis=1), limit, frozen, _lose(case, sheet, frozen))


def frozen_share(shells: Array, limits: Tolerance) -> Array:
    """Share of the roots that freeze, (member, column). [0-1]; shells: (hour, shell, member, column). [°C]"""
    frozen = np.zeros(shells.shape[2:])
    for shell in range(shells.shape[1]):
        lowest = shells[:, shell].min(axis=0)
        young = damage(lowest, limits.root_frost_young_10, limits.root_frost_young_50)
        mature = damage(lowest, limits.root_frost_mature_10, limits.root_frost_mature_50)
        frozen += SHELL_SHARE * (limits.young * young + (1.0 - limits.young) * mature)
    return frozen


def _heat(case: Case, sheet: Sheet) -> None:
    """Heat of each shell and of the sunlit side, with the time it lasts."""
    limits, numbers, shells = case.limits, case.numbers, case.felt.roots.shells_c
    half = numbers.root_heat_50_c + numbers.root_heat_young_shift_k * limits.young
    one_hour = half - numbers.root_heat_slope_k * np.log10(1.0 / numbers.root_heat_ref_h)
    burnt = np.zeros(sheet.shape[1:])
    tenth = numbers.root_heat_10_shift_k
    for shell in range(shells.shape[1]):
        outer = shell == shells.shape[1] - 1
        share = SHELL_SHARE * (1.0 - SUN_SIDE_SHARE) if outer else SHELL_SHARE
        felt_k = day_dose_k(shells[:, shell], one_hour, numbers.root_heat_slope_k, case.day_start).max(axis=0)
        burnt += share * damage(felt_k, tenth, 0.0)
    sunny = day_dose_k(case.felt.sun_side_c, one_hour, numbers.root_heat_slope_k, case.day_start)
    burnt += SHELL_SHARE * SUN_SIDE_SHARE * damage(sunny.max(axis=0), tenth, 0.0)
    loss = _lose(case, sheet, burnt)
    sheet.enter(ROOT_HEAT, one_hour + sunny, one_hour + tenth, burnt, loss, shown=case.felt.sun_side_c)


def _soak(case: Case, sheet: Sheet) -> None:
    """Hours without air. Durations harm by their ratio: the curve is drawn over the logarithm of the hours."""
    limits, soaked_h = case.limits, case.felt.roots.soaked_h
    longest = np.log(np.maximum(soaked_h.max(axis=0), 0.1))
    tenth = np.log(limits.soak_10)
    rotten = damage(longest, tenth, tenth + np.log(case.numbers.soak_50_factor))
    sheet.enter(SOAK, soaked_h, limits.soak_10, rotten, _lose(case, sheet, rotten))
