"""
Wind: from one height to another, its force on a crown, and what topples a pot.

Every function takes float64 arrays of any shapes that broadcast and answers NaN where an input is NaN.
"""

import numpy as np
from numpy.typing import NDArray

Hours = NDArray[np.float64]

STANDARD_GRAVITY_MS2 = 9.80665
# kg m-3, at 20 °C and 1013 hPa; ASHRAE Fundamentals 2017, ch. 1. Cold air at -5 °C is 9 % denser.
AIR_DENSITY_KGM3 = 1.204

FORECAST_HEIGHT_M = 10.0
# Displacement and height of the roughness elements, in roughness lengths. FAO-56 box 4: d = 2/3 h and z0 = 0.123 h.
DISPLACEMENT_IN_ROUGHNESS = (2.0 / 3.0) / 0.123
ELEMENT_HEIGHT_IN_ROUGHNESS = 1.0 / 0.123
ROUGHNESS_LIMIT_M = 0.6
# A crown that yields no more resists like a bluff body; judged, from the 1.0 to 1.2 of plates and cylinders.
RIGID_DRAG_COEFFICIENT = 1.0


def wind_at_height_ms(wind_10m_ms: Hours, height_m: Hours | float, roughness_m: Hours | float) -> Hours:
    """
    Wind speed at a height over open ground, neutral air. [m s-1]

    wind_10m_ms: forecast wind at 10 m, 0 upwards; negative gives NaN. [m s-1]
    height_m: where the wind is wanted, 0 to 30. [m]
    roughness_m: roughness length, above 0 up to 0.6 (lawn 0.015, open farmland 0.03, hedged gardens 0.1 to 0.3);
    beyond that 10 m stands among the houses and the law does not hold: NaN. [m]

    u(z) = u10 ln((z - d)/z0) / ln((10 - d)/z0) with the displacement d = 5.42 z0. The law ends at the top of the
    roughness elements (z = 8.13 z0, where ln((z - d)/z0) is 1): a plant lower than that keeps the wind of that top,
    rather than the zero and below that the logarithm would give. It errs towards more wind down there.
    Source: Allen et al. 1998, FAO-56 eq. 47 and box 4, of which this is the general form.
    """
    roughness = np.asarray(roughness_m, dtype=np.float64)
    usable = np.where((roughness > 0.0) & (roughness <= ROUGHNESS_LIMIT_M), roughness, np.nan)
    relative_height = np.maximum(np.asarray(height_m, dtype=np.float64) / usable, ELEMENT_HEIGHT_IN_ROUGHNESS)
    here = np.log(relative_height - DISPLACEMENT_IN_ROUGHNESS)
    there = np.log(FORECAST_HEIGHT_M / usable - DISPLACEMENT_IN_ROUGHNESS)
    return np.where(wind_10m_ms >= 0.0, wind_10m_ms, np.nan) * (here / there)


def wind_to_2m_ms(wind_ms: Hours, height_m: Hours | float) -> Hours:
    """
    Wind speed 2 m above clipped grass, as the reference evapotranspiration wants it. [m s-1]

    wind_ms: measured or forecast wind, 0 upwards; negative gives NaN. [m s-1]
    height_m: height of that wind, 0.5 to 30; lower gives NaN. [m]

    Source: Allen et al. 1998, FAO-56 eq. 47.
    """
    height = np.asarray(height_m, dtype=np.float64)
    usable = np.where(height >= 0.5, height, np.nan)
    return np.where(wind_ms >= 0.0, wind_ms, np.nan) * 4.87 / np.log(67.8 * usable - 5.42)


def drag_force_n(
    speed_ms: Hours,
    frontal_area_m2: Hours | float,
    drag_coefficient: Hours | float,
    vogel_exponent: Hours | float,
    reference_speed_ms: float,
) -> Hours:
    """
    Force of the wind on a crown that gives way. [N]

    speed_ms: wind at crown height, 0 to 40; negative gives NaN. [m s-1]
    frontal_area_m2: what the crown shows the wind in still air, leaves included. [m2]
    drag_coefficient: above 0, as measured at reference_speed_ms and referred to the still-air area; broad-leaved crowns
    at 20 m/s 0.15 to 0.22 (Vollsinger et al. 2005), conifers 0.22 to 0.47 (Rudnicki et al. 2004). [-]
    vogel_exponent: 0 for a rigid body, -0.5 to -1.2 for leafy crowns (Vogel 1989; de Langre 2008). [-]
    reference_speed_ms: at which the coefficient was measured. [m s-1]

    F = 1/2 rho Cd(U) A U^2 with Cd(U) = Cd (U/Uref)^V, so that F grows as U^(2+V). Below the reference speed Cd(U)
    rises to that of a rigid body (1.0, or Cd itself if larger) and no further.
    Source: Vogel 1989, J. Exp. Bot. 40:941-948; de Langre 2008, Annu. Rev. Fluid Mech. 40:141-168.
    """
    speed = np.where(speed_ms >= 0.0, speed_ms, np.nan)
    coefficient = np.asarray(drag_coefficient, dtype=np.float64)
    with np.errstate(divide="ignore"):
        yielding = coefficient * (speed / reference_speed_ms) ** np.asarray(vogel_exponent, dtype=np.float64)
    effective = np.minimum(yielding, np.maximum(coefficient, RIGID_DRAG_COEFFICIENT))
    return np.asarray(0.5 * AIR_DENSITY_KGM3 * effective * frontal_area_m2 * speed * speed)


def overturning_moment_nm(force_n: Hours, lever_m: Hours | float) -> Hours:
    """
    Moment with which the wind tips a pot about the edge of its base. [N m]

    force_n: force on the crown. [N]
    lever_m: height of the crown's centre above the ground the pot stands on. [m]

    Source: definition of a moment.
    """
    return force_n * lever_m


def restoring_moment_nm(mass_kg: Hours | float, half_base_m: Hours | float) -> Hours:
    """
    Moment with which its weight holds a pot down. [N m]

    mass_kg: pot, substrate, water and plant. [kg]
    half_base_m: level distance from the centre of mass to the edge it would tip over. [m]

    Source: definition of a moment, standard gravity.
    """
    return np.asarray(STANDARD_GRAVITY_MS2 * np.asarray(mass_kg, dtype=np.float64) * half_base_m)


def beaufort_lower_limit_ms(beaufort: Hours) -> Hours:
    """
    Lowest 10 m wind speed of a Beaufort force. [m s-1]

    beaufort: force, 1 to 12; outside NaN. [-]

    v = 0.836 (B - 1/2)^(3/2); the published table is this, read in knots and rounded, within 0.1 m s-1.
    Source: World Meteorological Organization 1970, The Beaufort Scale of Wind Force (Reports on Marine Science
    Affairs 3).
    """
    usable = np.where((beaufort >= 1.0) & (beaufort <= 12.0), beaufort, np.nan)
    return 0.836 * (usable - 0.5) ** 1.5
