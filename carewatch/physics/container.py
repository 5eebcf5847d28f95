"""
Water in a container: what a substrate holds after drainage, how deep the pot, and what is left of it for the tree.

A pot has a lower end: there the drained substrate is saturated, and it holds less the higher above it. So a shallow pot
is wetter, per volume, than a deep one of the same substrate. Every function takes float64 arrays of any shapes that
broadcast and answers NaN where an input is NaN.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Hours = NDArray[np.float64]

# Depth of the shallow end of the two depths between which a substrate's slope is stated; Owen & Altland 2008 measured
# 3.8 to 15.2 cm, over which the decline was linear. [cm]
SHALLOW_CM = 5.0
# Roots want at least this much air: the lower end of what container media have, 10 to 30 % (Yeager et al., best
# management practices, from memory). [-]
LEAST_AIR = 0.10
# Share of the available water that trees take up without stress (FAO-56 table 22: p about 0.5 for trees). [-]
EASY_SHARE = 0.5
# The length of a curve is looked for between these, by halving their ratio until rounding is left. [cm]
SHORTEST_CM: Final = 1e-3
LONGEST_CM: Final = 1e4
HALVINGS = 60


@dataclass(frozen=True)
class Retention:
    """
    Water that a drained substrate holds at a height above the pot's lower end, arrays of one shape.

    porosity: pore space, all of it full at the lower end. [-]
    residual: what is held however high. [-]
    length_cm: height over which what is held beyond the residual falls to 37 %. [cm]
    """

    porosity: Hours
    residual: Hours
    length_cm: Hours


def retention(
    porosity: Hours | float,
    water_at_capacity: Hours | float,
    reference_depth_cm: Hours | float,
    depth_slope: Hours | float,
) -> Retention:
    """
    The curve of a substrate that holds so much in a pot of the reference depth and so much more in a shallow one.

    porosity: pore space, above water_at_capacity. [-]
    water_at_capacity: mean of the drained pot of the reference depth. [-]
    reference_depth_cm: of that pot, deeper than 5 cm. [cm]
    depth_slope: by how much the mean rises per cm down to a pot 5 cm deep, 0 or more. [cm-1]

    NaN where no curve does that: where the shallow pot would hold more than its pores, or would have to be so much
    wetter that the substrate could not be full at its lower end. The mean over the depth H of residual + (porosity -
    residual) exp(-h / length) is residual + (porosity - residual) (1 - exp(-x)) / x with x = H / length; the length is
    found by halving.
    Source: integration of the moisture retention curve over the height of the container, Bilderback & Fonteno 1987,
    J. Environ. Hort. 5:180-182 and Milks, Fonteno & Larson 1989, J. Amer. Soc. Hort. Sci. 114:53-56; the exponential
    stands in for their curve of five constants, which hobby substrates have nobody to measure (judged).
    """
    pores, held, deep, slope = np.broadcast_arrays(
        *(np.asarray(each, dtype=np.float64) for each in (porosity, water_at_capacity, reference_depth_cm, depth_slope))
    )
    air, shallow_air = pores - held, pores - held - slope * (deep - SHALLOW_CM)
    possible = (slope >= 0.0) & (held >= 0.0) & (deep > SHALLOW_CM) & (shallow_air > 0.0)
    # The share of the deep pot's air that the shallow one keeps rises from their ratio of depths (long curves) to 1.
    wanted = np.where(possible, shallow_air / np.where(possible, air, 1.0), np.nan)
    short, long = np.full(pores.shape, SHORTEST_CM), np.full(pores.shape, LONGEST_CM)
    for _ in range(HALVINGS):
        middle = np.sqrt(short * long)
        too_long = (1.0 - _mean_share(SHALLOW_CM / middle)) / (1.0 - _mean_share(deep / middle)) < wanted
        short, long = np.where(too_long, short, middle), np.where(too_long, middle, long)
    length = np.where(wanted > SHALLOW_CM / deep, short, np.nan)
    share = _mean_share(deep / length)
    residual = (held - pores * share) / (1.0 - share)
    return Retention(pores, np.where(residual >= 0.0, residual, np.nan), length)


def water_at_height(substrate: Retention, height_cm: Hours | float) -> Hours:
    """
    Water that the drained substrate holds at a height above the pot's lower end. [-]

    height_cm: 0 or more; less gives NaN. [cm]

    Source: as retention.
    """
    height = np.asarray(height_cm, dtype=np.float64)
    above = np.where(height >= 0.0, height, np.nan)
    return substrate.residual + (substrate.porosity - substrate.residual) * np.exp(-above / substrate.length_cm)


def container_capacity(substrate: Retention, depth_cm: Hours | float) -> Hours:
    """
    Water that a drained pot holds, mean over its depth: the shallower, the more. [-]

    depth_cm: of the substrate, above 0; else NaN. [cm]

    Source: as retention.
    """
    depth = np.asarray(depth_cm, dtype=np.float64)
    relative = np.where(depth > 0.0, depth, np.nan) / substrate.length_cm
    return substrate.residual + (substrate.porosity - substrate.residual) * _mean_share(relative)


def air_space(substrate: Retention, depth_cm: Hours | float) -> Hours:
    """
    Air in a drained pot, mean over its depth. [-]

    depth_cm: of the substrate, above 0; else NaN. [cm]

    Source: definition, porosity less container capacity (Fonteno 1989, Acta Hort. 238:67-74).
    """
    return substrate.porosity - container_capacity(substrate, depth_cm)


def airless_height_cm(substrate: Retention, depth_cm: Hours | float, least_air: float = LEAST_AIR) -> Hours:
    """
    Height of the layer at the bottom of a drained pot that has less air than roots want. [cm]

    depth_cm: of the substrate; the layer is no higher. [cm]
    least_air: [-]

    Source: as retention, solved for the height.
    """
    room = substrate.porosity - substrate.residual
    with np.errstate(divide="ignore"):
        height = -substrate.length_cm * np.log(1.0 - np.minimum(least_air / room, 1.0))
    return np.minimum(height, np.asarray(depth_cm, dtype=np.float64))


def total_available_mm(water_at_capacity: Hours, water_at_wilting: Hours, depth_m: Hours | float) -> Hours:
    """
    Water that roots can take from a full pot, as a depth of water. [mm]

    water_at_capacity, water_at_wilting: of the substrate's volume. [-]
    depth_m: of the rooted substrate. [m]

    Source: Allen et al. 1998, FAO-56 eq. 82.
    """
    return 1000.0 * (water_at_capacity - water_at_wilting) * depth_m


def readily_available_mm(total_mm: Hours, easy_share: Hours | float = EASY_SHARE) -> Hours:
    """
    The part of it that they take without stress. [mm]

    total_mm: eq. 82. [mm]
    easy_share: as easy_share_at gives it; 0.5 for trees. [-]

    Source: Allen et al. 1998, FAO-56 eq. 83.
    """
    return total_mm * easy_share


def easy_share_at(evapotranspiration_mm_d: Hours, table_share: float = EASY_SHARE) -> Hours:
    """
    Share of the available water that is taken up without stress, the less the more the day asks for; 0.1 to 0.8. [-]

    evapotranspiration_mm_d: of the unstressed tree over the day. [mm d-1]
    table_share: at 5 mm d-1. [-]

    Source: Allen et al. 1998, FAO-56 table 22, note 2: p + 0.04 (5 - ETc).
    """
    return np.clip(table_share + 0.04 * (5.0 - evapotranspiration_mm_d), 0.1, 0.8)


def stress_factor(depletion_mm: Hours, total_mm: Hours, easy_share: Hours | float = EASY_SHARE) -> Hours:
    """
    Share of the water asked for that roots can still bring: 1 down to the readily available, then falling to 0. [-]

    depletion_mm: how much is missing to the full pot. [mm]
    total_mm: eq. 82; both may be shares of it, the total then being 1. [mm]
    easy_share: below 1. [-]

    Source: Allen et al. 1998, FAO-56 eq. 84.
    """
    return np.clip((total_mm - depletion_mm) / ((1.0 - easy_share) * total_mm), 0.0, 1.0)


def depletion_after_mm(
    depletion_mm: Hours, gained_mm: Hours, evapotranspiration_mm: Hours, total_mm: Hours
) -> tuple[Hours, Hours]:
    """
    What is missing to the full pot after a step, and what has run out at its bottom. [mm], [mm]

    depletion_mm: before. [mm]
    gained_mm: rain and watering that went in. [mm]
    evapotranspiration_mm: of the tree as stressed as it is. [mm]
    total_mm: eq. 82; more cannot be missing. [mm]

    Source: Allen et al. 1998, FAO-56 eq. 85 to 88, without run-off and capillary rise: a pot has neither.
    """
    after = depletion_mm - gained_mm + evapotranspiration_mm
    return np.clip(after, 0.0, total_mm), np.maximum(-after, 0.0)


def waterlogged_after_h(
    waterlogged_h: Hours, air: Hours, root_temp_c: Hours, q10: float, hours: float = 1.0, least_air: float = LEAST_AIR
) -> Hours:
    """
    Hours that roots have been without air, counted as at 20 °C; made good again at half the pace. [h]

    waterlogged_h: before. [h]
    air: share of the substrate's volume that is air now. [-]
    root_temp_c: [°C]
    q10: by how much the demand for oxygen grows in 10 K; 2 is the common rule. [-]
    hours: length of the step. [h]
    least_air: with less, roots are without. [-]

    The recovery is judged.
    """
    pace = q10 ** ((root_temp_c - 20.0) / 10.0)
    known = waterlogged_h + 0.0 * (air + pace)
    return np.where(air < least_air, known + hours * pace, np.maximum(known - 0.5 * hours, 0.0))


def _mean_share(relative: Hours) -> Hours:
    """Mean of exp(-h) from 0 to the given height: 1 at 0, falling to 0. [-]"""
    return np.asarray(-np.expm1(-relative) / relative, dtype=np.float64)
