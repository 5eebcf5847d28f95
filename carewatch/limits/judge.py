"""From what a column feels to what it loses: dose, damage and loss of every hazard."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carewatch.exposure.columns import Columns
from carewatch.exposure.run import Exposure
from carewatch.exposure.wind_load import VOGEL
from carewatch.forecast.weather import Array
from carewatch.limits.damage import damage, root_loss, running_dose_k
from carewatch.limits.doses import HazardNumbers
from carewatch.limits.tolerance import Tolerance

Flags = NDArray[np.bool_]

HAZARDS = ("frost", "root-freeze", "heat", "root-heat", "drying", "sun", "wind", "soak")
COLD = ("frost", "root-freeze")
# Hazards whose dose is a running sum of the day, and the growth in an hour that counts. [K], [kWh m⁻² d⁻¹]
SUMMED = ("heat", "root-heat", "sun")
GROWS = 0.005
UNITS = {
    "frost": "°C",
    "root-freeze": "°C",
    "heat": "°C",
    "root-heat": "°C",
    "drying": "share of leaf water",
    "sun": "kWh/m²·d",
    "wind": "m/s",
    "soak": "h",
}
# Roots stand evenly in the five shells; a quarter of the outermost shell's faces the sun (geometry, judged). [0-1]
SHELL_SHARE = 0.2
SUN_SIDE_SHARE = 0.25
# Two slopes below the harm of one hour a whole day does not reach a tenth of it: nothing needs to be summed. [K]
COOL_K = 20.0
# Above this leaves are lost whatever the duration (hazards.toml: heat). [°C]
HIGHEST_LEAF_C = 53.0


@dataclass(frozen=True)
class Judgement:
    """
    What the columns lose.

    dose: per hazard, (hour, member, column), in the hazard's unit; shown: what a thermometer or gauge would say, the
    same but for heat, where the dose counts the time as well; limit: per hazard, (column,), the 10 % dose; beyond:
    per hazard, (hour, member, column), true where the limit is passed.
    together: loss by all hazards; what one has taken of an organ the others cannot take again; None: their product.
    damage: share of the organ, loss: what it costs the tree, per hazard, (member, column). [0-1]
    """

    dose: Mapping[str, Array]
    shown: Mapping[str, Array]
    limit: Mapping[str, Array]
    beyond: Mapping[str, Flags]
    damage: Mapping[str, Array]
    loss: Mapping[str, Array]
    together: Array | None = None

    def total(self) -> Array:
        """Loss by all hazards together, (member, column). [0-1]"""
        if self.together is not None:
            return self.together
        kept = np.ones_like(next(iter(self.loss.values())))
        for loss in self.loss.values():
            kept = kept * (1.0 - loss)
        return 1.0 - kept


@dataclass
class _Sheet:
    """Entries per hazard as they are worked out, and what of leaves, roots and the rest all hazards together leave."""

    dose: dict[str, Array]
    limit: dict[str, Array]
    hurt: dict[str, Array]
    loss: dict[str, Array]
    leaves_kept: Array
    roots_kept: Array
    rest_kept: Array


def judge(felt: Exposure, limits: Tolerance, columns: Columns, numbers: HazardNumbers) -> Judgement:
    """Dose, damage and loss of each column; limits belong to the columns, one row each."""
    whole = np.ones(felt.tissue_c.shape[1:])
    sheet = _Sheet({}, {}, {}, {}, whole, whole.copy(), whole.copy())
    dose, limit, hurt, loss = sheet.dose, sheet.limit, sheet.hurt, sheet.loss
    day_start = np.searchsorted(felt.day, felt.day, side="left")

    _frost(felt, limits, sheet)

    shells = felt.roots.shells_c
    dose["root-freeze"] = shells.min(axis=1)
    frozen = np.zeros(felt.tissue_c.shape[1:])
    for shell in range(shells.shape[1]):
        lowest = shells[:, shell].min(axis=0)
        young = damage(lowest, limits.root_frost_young_10, limits.root_frost_young_50)
        mature = damage(lowest, limits.root_frost_mature_10, limits.root_frost_mature_50)
        frozen += SHELL_SHARE * (limits.young * young + (1.0 - limits.young) * mature)
    limit["root-freeze"] = np.where(limits.young >= 0.3, limits.root_frost_young_10, limits.root_frost_mature_10)
    hurt["root-freeze"] = frozen
    loss["root-freeze"] = root_loss(frozen, limits.root_supply, numbers.roots_spare)
    sheet.roots_kept = sheet.roots_kept * (1.0 - frozen)

    # The four-hour limit is that of one hour less the slope times log10(4).
    one_hour = limits.heat_10 + numbers.heat_slope_k * np.log10(4.0)
    excess = _dose_k(felt.tissue_c, one_hour, numbers.heat_slope_k, day_start)
    with np.errstate(invalid="ignore"):
        leaf_heat = np.where(np.isfinite(limits.heat_10), limits.heat_10 + excess, felt.tissue_c)
    dose["heat"] = np.where(felt.tissue_c > HIGHEST_LEAF_C, np.maximum(leaf_heat, HIGHEST_LEAF_C + 10.0), leaf_heat)
    limit["heat"] = limits.heat_10
    hurt["heat"] = damage(dose["heat"].max(axis=0), limits.heat_10, limits.heat_50)
    loss["heat"] = hurt["heat"] * limits.leaf_weight
    sheet.leaves_kept = sheet.leaves_kept * (1.0 - hurt["heat"])

    _root_heat(felt, limits, numbers, day_start, sheet)

    dose["drying"] = felt.roots.tissue_loss
    limit["drying"] = limits.drying_10
    hurt["drying"] = damage(dose["drying"].max(axis=0), limits.drying_10, limits.drying_50)
    loss["drying"] = hurt["drying"] * limits.leaf_weight
    sheet.leaves_kept = sheet.leaves_kept * (1.0 - hurt["drying"])

    dose["sun"] = felt.direct_kwh
    limit["sun"] = limits.sun_10
    hurt["sun"] = damage(dose["sun"].max(axis=0), limits.sun_10, limits.sun_50)
    loss["sun"] = hurt["sun"] * limits.leaf_weight
    sheet.leaves_kept = sheet.leaves_kept * (1.0 - hurt["sun"])

    stormy = _wind(felt, limits, columns, numbers, sheet)

    _soak(felt, limits, numbers, sheet)

    beyond = {name: (dose[name] < limit[name]) if name in COLD else (dose[name] > limit[name]) for name in HAZARDS}
    beyond["wind"] = stormy
    for name in SUMMED:
        # A sum stays high until midnight; the spell is the hours in which it still grows.
        beyond[name] &= np.diff(dose[name], axis=0, prepend=0.0) > GROWS
    shown = {**dose, "heat": felt.tissue_c, "root-heat": felt.sun_side_c}
    by_leaves = (1.0 - sheet.leaves_kept) * limits.leaf_weight
    by_roots = root_loss(1.0 - sheet.roots_kept, limits.root_supply, numbers.roots_spare)
    together = 1.0 - (1.0 - by_leaves) * (1.0 - by_roots) * sheet.rest_kept
    return Judgement(dose, shown, limit, beyond, hurt, loss, together)


def _frost(
    felt: Exposure,
    limits: Tolerance,
    sheet: _Sheet,
) -> None:
    """Frost on leaves and buds; entries for "frost" are added."""
    dose, limit, hurt, loss = sheet.dose, sheet.limit, sheet.hurt, sheet.loss
    dose["frost"] = felt.tissue_c
    # Dew or rime on tender leaves starts the freezing: what is felt is as if it were that much colder.
    wet = np.where(felt.wet, limits.wet_shift_k, 0.0)
    as_felt = felt.tissue_c - wet
    at = as_felt.argmin(axis=0)[None]
    leaf = damage(np.take_along_axis(as_felt, at, axis=0)[0], limits.leaf_frost_10, limits.leaf_frost_50)
    bud = damage(felt.tissue_c.min(axis=0), limits.bud_frost_10, limits.bud_frost_50)
    # The limit shown is that of the organ which is worth more: colouring leaves hide no wood that would suffer.
    by_bud = np.isfinite(limits.bud_frost_10) & (limits.bud_weight > limits.leaf_weight)
    # For leaves it is the limit of wet ones where most members have them wet in their coldest hour.
    wet_10 = limits.leaf_frost_10 + np.median(np.take_along_axis(wet, at, axis=0)[0], axis=0)
    limit["frost"] = np.where(by_bud, limits.bud_frost_10, wet_10)
    hurt["frost"] = np.maximum(leaf, bud)
    loss["frost"] = 1.0 - (1.0 - leaf * limits.leaf_weight) * (1.0 - bud * limits.bud_weight)
    sheet.leaves_kept = sheet.leaves_kept * (1.0 - leaf)
    sheet.rest_kept = sheet.rest_kept * (1.0 - bud * limits.bud_weight)


def _root_heat(
    felt: Exposure,
    limits: Tolerance,
    numbers: HazardNumbers,
    day_start: NDArray[np.int64],
    sheet: _Sheet,
) -> None:
    """Heat of each shell and of the sunlit side, with the time it lasts; entries for "root-heat" are added."""
    dose, limit, hurt, loss = sheet.dose, sheet.limit, sheet.hurt, sheet.loss
    shells = felt.roots.shells_c
    half = numbers.root_heat_50_c + numbers.root_heat_young_shift_k * limits.young
    one_hour = half - numbers.root_heat_slope_k * np.log10(1.0 / numbers.root_heat_ref_h)
    burnt = np.zeros(felt.tissue_c.shape[1:])
    tenth = numbers.root_heat_10_shift_k
    for shell in range(shells.shape[1]):
        outer = shell == shells.shape[1] - 1
        share = SHELL_SHARE * (1.0 - SUN_SIDE_SHARE) if outer else SHELL_SHARE
        felt_k = _dose_k(shells[:, shell], one_hour, numbers.root_heat_slope_k, day_start).max(axis=0)
        burnt += share * damage(felt_k, tenth, 0.0)
    sunny = _dose_k(felt.sun_side_c, one_hour, numbers.root_heat_slope_k, day_start)
    burnt += SHELL_SHARE * SUN_SIDE_SHARE * damage(sunny.max(axis=0), tenth, 0.0)
    dose["root-heat"] = one_hour + sunny
    limit["root-heat"] = one_hour + tenth
    hurt["root-heat"] = burnt
    loss["root-heat"] = root_loss(burnt, limits.root_supply, numbers.roots_spare)
    sheet.roots_kept = sheet.roots_kept * (1.0 - burnt)


def _dose_k(temp_c: Array, one_hour_c: Array, slope_k: float, day_start: NDArray[np.int64]) -> Array:
    """The running dose of heat; for a block that is cool throughout, simply how far it stays below harm. [K]"""
    below: Array = temp_c - one_hour_c
    finite = np.isfinite(one_hour_c)
    if not finite.any() or float(below[:, :, finite].max()) < -COOL_K:
        return below
    return running_dose_k(temp_c, one_hour_c, slope_k, day_start)


def _soak(felt: Exposure, limits: Tolerance, numbers: HazardNumbers, sheet: _Sheet) -> None:
    """Hours without air at the roots; entries for "soak" are added."""
    dose, limit, hurt, loss = sheet.dose, sheet.limit, sheet.hurt, sheet.loss
    dose["soak"] = felt.roots.soaked_h
    limit["soak"] = limits.soak_10
    # Durations harm by their ratio: the curve is drawn over the logarithm of the hours.
    longest = np.log(np.maximum(dose["soak"].max(axis=0), 0.1))
    tenth = np.log(limits.soak_10)
    hurt["soak"] = damage(longest, tenth, tenth + np.log(numbers.soak_50_factor))
    loss["soak"] = root_loss(hurt["soak"], limits.root_supply, numbers.roots_spare)
    sheet.roots_kept = sheet.roots_kept * (1.0 - hurt["soak"])


def _wind(
    felt: Exposure,
    limits: Tolerance,
    columns: Columns,
    numbers: HazardNumbers,
    sheet: _Sheet,
) -> np.ndarray:
    """Rocking roots, torn leaves, toppled pots; entries for "wind" are added; returns the hours beyond a limit."""
    dose, limit, hurt, loss = sheet.dose, sheet.limit, sheet.hurt, sheet.loss
    gust = felt.gust_ms
    tied = columns.anchorage_floor[:, None, :] > limits.anchorage
    firm = np.where(tied, limits.rock_tied_10, limits.rock_10)
    # Ties by the hour: gusts are scaled to the untied limit so that one dose serves both.
    scaled = gust * limits.rock_10 / firm
    strongest = scaled.max(axis=0)
    rocked = damage(strongest, limits.rock_10, limits.rock_10 * numbers.rock_50_factor)
    roots = root_loss(rocked * limits.rock_weight, limits.root_supply, numbers.roots_spare)
    torn = damage(gust.max(axis=0), limits.tear_10, limits.tear_50)
    tenth, half = numbers.topple_ratio
    fallen = damage(felt.overturning.max(axis=0), tenth, half) * numbers.topple_damage
    # The gust that would tip the pot: the moment grows with the power 2 + V of the gust.
    ratio = np.maximum(felt.overturning.max(axis=0) / tenth, 1e-6)
    tips_at = np.median(gust.max(axis=0) / ratio ** (1.0 / (2.0 + VOGEL)), axis=0)
    dose["wind"] = gust
    limit["wind"] = np.minimum(np.minimum(firm.min(axis=(0, 1)), limits.tear_10), tips_at)
    hurt["wind"] = np.maximum(np.maximum(rocked * limits.rock_weight, torn), fallen)
    sheet.roots_kept = sheet.roots_kept * (1.0 - rocked * limits.rock_weight)
    sheet.leaves_kept = sheet.leaves_kept * (1.0 - torn)
    sheet.rest_kept = sheet.rest_kept * (1.0 - fallen)
    loss["wind"] = 1.0 - (1.0 - roots) * (1.0 - torn * limits.leaf_weight) * (1.0 - fallen)
    return np.asarray((gust > firm) | (gust > limits.tear_10) | (felt.overturning > tenth))
