"""Harm that shelter itself does: buds that warmth moves, leaves that the dark starves, mould in still damp air."""

import numpy as np

from carewatch.forecast.weather import Array
from carewatch.limits.damage import damage, damage_by_ratio
from carewatch.limits.sheet import Case, Index, Kind, Sheet

FORCING = Kind("forcing", "share of the way to leaf-out", "buds")
DARK = Kind("dark", "d", "leaves")
DAMP = Kind("damp", "h as at 20 °C", "leaves")
KINDS = (FORCING, DARK, DAMP)
# Points of the way to leaf-out at which the limit is looked for. [-]
WAYS = np.linspace(0.0, 1.0, 51)


def judge(case: Case, sheet: Sheet) -> None:
    """Enter all three."""
    _forcing(case, sheet)
    _dark(case, sheet)
    _damp(case, sheet)


def _forcing(case: Case, sheet: Sheet) -> None:
    """
    How far the warmth of its place moves the buds of a tree, against how far they may be when the last frosts come.

    The harm is what the coldest night to come, by forecast or climate, would take of buds as far as they get in shelter
    and would leave of buds as they are now or would be outside. Softness that is there already is no new harm.
    """
    limits, shelter = case.limits, case.felt.sheltered
    some = shelter.forced
    if some.size == 0 or not np.isfinite(limits.frost_to_come_c[some]).any():
        sheet.quiet(FORCING)
        return
    open_kd = limits.open_kd[some]
    # To leaf-out and no further: what opens then is leaf, of which frost has its own limits.
    inside, outside = (
        np.minimum((limits.forced_kd[some] + limits.forces[some] * gained[..., some]) / open_kd, 1.0)
        for gained in (shelter.warmth_kd, shelter.open_kd)
    )
    now = np.minimum(limits.forced_kd[some] / open_kd, 1.0)
    cold = np.minimum(shelter.open_low_c[:, some], limits.frost_to_come_c[some])
    there, else_where = (_lost(case, some, way, cold) for way in (inside[-1], np.maximum(outside[-1], now)))
    gained = (inside[-1] - outside[-1]) > case.numbers.forcing_least
    hurt = np.where(gained, np.maximum(there - else_where, 0.0) / np.maximum(1.0 - else_where, 1e-9), 0.0)
    loss = hurt * case.numbers.organ_weight["buds"]
    limit = _way_borne(case, some, np.median(cold, axis=0))
    # Warm hours of the days at whose end the buds have come too far: it is their warmth that is to be kept away.
    ends = np.searchsorted(case.felt.day, case.felt.day, side="right") - 1
    beyond = (inside[ends] > limit) & (inside[ends] > outside[ends] + case.numbers.forcing_least) & (hurt > 0.0)
    beyond &= np.diff(inside, axis=0, prepend=now[None, None] * np.ones_like(inside[:1])) > 0.0
    sheet.enter_some(FORCING, some, inside, limit, hurt, loss, inside, beyond)
    sheet.rest_kept[:, some] *= 1.0 - loss


def _bears(case: Case, some: Index, way: Array) -> tuple[Array, Array]:
    """Frost of 10 % and 50 % damage that buds bear on their way to leaf-out, (..., len(some)). [°C]"""
    limits = case.limits
    swells = limits.swell_kd[some] / limits.open_kd[some]
    first, second = np.clip(way / swells, 0.0, 1.0), np.clip((way - swells) / (1.0 - swells), 0.0, 1.0)
    found = []
    for dose in ("10", "50"):
        rest, swell, opens = (getattr(limits, f"{name}_{dose}")[some] for name in ("rest", "swell", "open"))
        found.append(rest + first * (swell - rest) + second * (opens - swell))
    return found[0], found[1]


def _lost(case: Case, some: Index, way: Array, cold_c: Array) -> Array:
    """Share of the buds that a night takes, (member, len(some)). [0-1]"""
    return damage(cold_c, *_bears(case, some, way))


def _way_borne(case: Case, some: Index, cold_c: Array) -> Array:
    """How far buds may be for a tenth of them to be lost in a night, (len(some),); infinite where no night harms."""
    tenth, _ = _bears(case, some, np.broadcast_to(WAYS[:, None], (WAYS.size, some.size)))
    harmed = tenth > cold_c
    return np.where(harmed.any(axis=0), WAYS[np.argmax(harmed, axis=0)], np.inf)


def _dark(case: Case, sheet: Sheet) -> None:
    """
    Days in the dark against what leaves bear; what the days behind have taken cannot be lost again.

    A stay beyond the limit of which the forecast sees no end is taken to go on for as long again as leaves bear
    (judged): day by day it would never be worth a walk, and one morning all would be lost.
    """
    limits, shelter = case.limits, case.felt.sheltered
    some = shelter.starved[np.isfinite(limits.dark_10[shelter.starved])]
    if some.size == 0:
        sheet.quiet(DARK)
        return
    carried = limits.dark_carried[some]
    dose = _never_below_nothing(shelter.dark_d[..., some], carried)
    tenth, half = limits.dark_10[some], limits.dark_50[some]
    before = damage_by_ratio(carried, tenth, half)
    # The share of all leaves: what long stays took before is gone, and no one has seen that it went.
    goes_on = (dose[-1] > tenth) & (shelter.dark_d[-1][:, some] > 0.0)
    most = np.maximum(dose.max(axis=0), dose[-1] + tenth * goes_on)
    hurt = np.maximum(damage_by_ratio(most, tenth, half) - before, 0.0)
    beyond = (dose > tenth) & (shelter.dark_d[..., some] > 0.0)
    sheet.enter_some(DARK, some, dose, tenth, hurt, hurt * limits.leaf_weight[some], dose, beyond)
    sheet.leaves_kept[:, some] *= 1.0 - hurt


def _never_below_nothing(steps: Array, began: Array) -> Array:
    """Running sum of steps along the hours that never falls below nothing; began: before the first."""
    found = np.empty_like(steps)
    total = np.broadcast_to(began, steps.shape[1:])
    for hour in range(steps.shape[0]):
        total = np.maximum(total + steps[hour], 0.0)
        found[hour] = total
    return found


def _damp(case: Case, sheet: Sheet) -> None:
    """Wet hours in still air against those after which mould shows; harms by their ratio, as durations do."""
    limits, shelter = case.limits, case.felt.sheltered
    some = shelter.damp[np.isfinite(limits.damp_10[shelter.damp])]
    if some.size == 0:
        sheet.quiet(DAMP)
        return
    dose = shelter.damp_h[..., some]
    tenth, half = limits.damp_10[some], limits.damp_50[some]
    before, after = (damage_by_ratio(most, tenth, half) for most in (dose[0], dose.max(axis=0)))
    hurt = np.maximum(after - before, 0.0) / np.maximum(1.0 - before, 1e-9)
    rises = np.diff(dose, axis=0, prepend=dose[:1]) > 0.0
    sheet.enter_some(DAMP, some, dose, tenth, hurt, hurt * limits.leaf_weight[some], dose, (dose > tenth) & rises)
    sheet.leaves_kept[:, some] *= 1.0 - hurt
