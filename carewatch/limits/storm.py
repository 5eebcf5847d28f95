"""Wind: rocking roots, torn leaves, toppled pots."""

import numpy as np

from carewatch.exposure.wind_load import VOGEL
from carewatch.limits.damage import damage, root_loss
from carewatch.limits.sheet import Case, Kind, Sheet

WIND = Kind("wind", "m/s", "tree", rests_on="gust_10m_ms")
KINDS = (WIND,)


def judge(case: Case, sheet: Sheet) -> None:
    """The strongest gust against each of the three limits; beyond are the hours beyond any of them."""
    felt, limits, numbers, gust = case.felt, case.limits, case.numbers, case.felt.gust_ms
    tied = case.columns.anchorage_floor[:, None, :] > limits.anchorage
    firm = np.where(tied, limits.rock_tied_10, limits.rock_10)
    # Ties by the hour: gusts are scaled to the untied limit so that one dose serves both.
    scaled = gust * limits.rock_10 / firm
    strongest = scaled.max(axis=0)
    rocked = damage(strongest, limits.rock_10, limits.rock_10 * numbers.rock_50_factor)
    roots = root_loss(rocked * limits.rock_weight, limits.root_supply, numbers.roots_spare, limits.roots_lost)
    torn = damage(gust.max(axis=0), limits.tear_10, limits.tear_50)
    tenth, half = numbers.topple_ratio
    fallen = damage(felt.overturning.max(axis=0), tenth, half) * numbers.topple_damage
    # The gust that would tip the pot: the moment grows with the power 2 + V of the gust.
    ratio = np.maximum(felt.overturning.max(axis=0) / tenth, 1e-6)
    tips_at = np.median(gust.max(axis=0) / ratio ** (1.0 / (2.0 + VOGEL)), axis=0)
    sheet.enter(
        WIND,
        gust,
        np.minimum(np.minimum(firm.min(axis=(0, 1)), limits.tear_10), tips_at),
        np.maximum(np.maximum(rocked * limits.rock_weight, torn), fallen),
        1.0 - (1.0 - roots) * (1.0 - torn * limits.leaf_weight) * (1.0 - fallen),
        beyond=(gust > firm) | (gust > limits.tear_10) | (felt.overturning > tenth),
    )
    sheet.roots_kept = sheet.roots_kept * (1.0 - rocked * limits.rock_weight)
    sheet.leaves_kept = sheet.leaves_kept * (1.0 - torn)
    sheet.rest_kept = sheet.rest_kept * (1.0 - fallen)
