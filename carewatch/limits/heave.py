"""Night ice in the top of the substrate that lifts what roots hardly hold, and tears them."""

import numpy as np

from carewatch.forecast.weather import Array
from carewatch.limits.damage import root_loss
from carewatch.limits.sheet import Case, Flags, Kind, Sheet

HEAVE = Kind("heave", "freezes", "roots")
KINDS = (HEAVE,)
# A layer has frozen when half of its water is ice, and can freeze anew when all but a tenth has thawed (judged). [0-1]
FROZEN, THAWED = 0.5, 0.1


def judge(case: Case, sheet: Sheet) -> None:
    """
    Freezes of the moist top against the hold that is left.

    Each takes the same share of hold, and tears part of the roots that held by it. Straight, not logistic: every lift
    counts as much as the one before.
    """
    felt, limits, numbers = case.felt, case.limits, case.numbers
    some = np.nonzero(limits.held < numbers.heave_anchorage)[0]
    if some.size == 0:
        sheet.quiet(HEAVE)
        return
    hold = np.maximum(limits.anchorage[some], numbers.heave_hold)
    loose = case.columns.anchorage_floor[:, some] < numbers.heave_anchorage
    counts = (felt.roots.water_left[..., some] > numbers.heave_water_left) & loose[:, None, :]
    lifts = freezes(felt.top_ice[..., some], counts)
    dose = np.cumsum(lifts, axis=0, dtype=np.float64)
    torn_by_each = numbers.heave_torn * numbers.heave_hold / hold
    hurt = np.minimum(dose[-1] * torn_by_each, 1.0)
    loss = root_loss(hurt, limits.root_supply[some], numbers.roots_spare, limits.roots_lost[some])
    # From the first lift on that costs something: a tenth of the roots, or less where the tree can spare none.
    tenth = 0.1 / torn_by_each
    # All freezes from the first one that harms to the last are one danger: what it costs is counted once.
    more_to_come = np.maximum(dose[-1] - np.concatenate([np.zeros_like(dose[:1]), dose[:-1]]), 0.0) > 0.0
    sheet.enter_some(HEAVE, some, dose, tenth, hurt, loss, dose, (dose > tenth) & more_to_come)
    sheet.roots_kept[:, some] *= 1.0 - hurt


def freezes(ice: Array, counts: Flags) -> Flags:
    """
    Hours in which a layer freezes that had thawed before, true or false.

    ice: share of its water that is ice, (hour, ...). [0-1]; counts: hours in which that would lift the tree. A layer
    that is frozen at the beginning has done its harm.
    """
    found = np.zeros(ice.shape, dtype=np.bool_)
    thawed = ice[0] < FROZEN
    for hour in range(ice.shape[0]):
        now = thawed & (ice[hour] >= FROZEN)
        found[hour] = now & counts[hour]
        thawed = (thawed & ~now) | (ice[hour] <= THAWED)
    return found
