"""Frost on leaves, buds and the rims of fresh cuts."""

import numpy as np

from carewatch.limits.damage import DOUBT, damage, of_the_rest
from carewatch.limits.sheet import Case, Kind, Sheet

FROST = Kind("frost", "°C", "foliage", cold=True)
KINDS = (FROST,)
# Organ that leads where a cut loses more than leaves and buds do.
CUTS = "fresh cuts"


def judge(case: Case, sheet: Sheet) -> None:
    """
    Tissue minimum against the limits of what is there.

    Dew or rime on tender leaves starts the freezing: what they feel is as if it were that much colder. Of leaves and
    buds only what the nights before have left can be lost; that they took what they could is no more than likely.
    """
    felt, limits = case.felt, case.limits
    wet = np.where(felt.wet, limits.wet_shift_k, 0.0)
    as_felt = felt.tissue_c - wet
    at = as_felt.argmin(axis=0)[None]
    coldest = felt.tissue_c.min(axis=0)
    leaf = damage(np.take_along_axis(as_felt, at, axis=0)[0], limits.leaf_frost_10, limits.leaf_frost_50)
    bud = damage(coldest, limits.bud_frost_10, limits.bud_frost_50)
    leaf = of_the_rest(leaf, limits.leaf_frost_taken, DOUBT)
    bud = of_the_rest(bud, limits.bud_frost_taken, DOUBT)
    # The limit shown is that of the organ which loses most: colouring leaves hide no wood that would suffer,
    # and wood that bears the night hides no leaves that may be green. Where neither loses it is the one worth more.
    by_leaf, by_wood = (leaf * limits.leaf_weight).mean(axis=0), (bud * limits.bud_weight).mean(axis=0)
    heavier = np.where(by_leaf == by_wood, limits.bud_weight > limits.leaf_weight, by_wood > by_leaf)
    by_bud = np.isfinite(limits.bud_frost_10) & heavier
    # For leaves it is the limit of wet ones where most members have them wet in their coldest hour.
    wet_10 = limits.leaf_frost_10 + np.median(np.take_along_axis(wet, at, axis=0)[0], axis=0)
    limit = np.where(by_bud, limits.bud_frost_10, wet_10)
    leading = np.where(by_bud, "buds", "leaves")
    hurt = np.maximum(leaf, bud)
    loss = 1.0 - (1.0 - leaf * limits.leaf_weight) * (1.0 - bud * limits.bud_weight)
    rest = 1.0 - bud * limits.bud_weight
    if (limits.wound_weight > 0.0).any():
        rim = damage(coldest, limits.wound_frost_10, limits.wound_frost_50)
        leads = (rim * limits.wound_weight).mean(axis=0) > loss.mean(axis=0)
        leading = np.where(leads, CUTS, leading)
        limit = np.where(leads, limits.wound_frost_10, limit)
        hurt = np.maximum(hurt, rim)
        loss = 1.0 - (1.0 - loss) * (1.0 - rim * limits.wound_weight)
        rest = rest * (1.0 - rim * limits.wound_weight)
    sheet.leading[FROST.name] = leading
    # The limit told goes by the greater half of the members; a member with wet leaves is beyond by its own.
    leaf_led = leading == "leaves"
    beyond = (felt.tissue_c < limit) | (leaf_led & (as_felt < limits.leaf_frost_10))
    sheet.enter(FROST, felt.tissue_c, limit, hurt, loss, beyond=beyond)
    sheet.leaves_kept = sheet.leaves_kept * (1.0 - leaf)
    sheet.rest_kept = sheet.rest_kept * rest
