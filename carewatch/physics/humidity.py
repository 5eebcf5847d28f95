"""
Water vapour in air: saturation, dew point, deficit, wet bulb, air pressure.

Every function takes float64 arrays of any shapes that broadcast and answers NaN where an input is NaN. Nothing is
clamped into range; the ranges stated are those within which the formulas are trusted.
"""

import numpy as np
from numpy.typing import NDArray

Hours = NDArray[np.float64]

WET_BULB_TOLERANCE_K = 1e-3
WET_BULB_STEPS = 30


def saturation_vapour_pressure_kpa(air_temp_c: Hours) -> Hours:
    """
    Vapour pressure of air saturated over liquid water. [kPa]

    air_temp_c: air temperature, -40 to 60. [°C]

    Over water also below 0 °C; hoar frost needs saturation_over_ice_kpa. Within 0.2 % of the ASHRAE tables from 0 to
    50 °C, within 0.7 % of Goff-Gratch down to -20 °C.
    Source: Allen et al. 1998, FAO Irrigation and Drainage Paper 56, eq. 11.
    """
    return 0.6108 * np.exp(17.27 * air_temp_c / (air_temp_c + 237.3))


def saturation_over_ice_kpa(temp_c: Hours) -> Hours:
    """
    Vapour pressure of air saturated over ice. [kPa]

    temp_c: temperature of the ice, -40 to 0. Above 0 °C there is no ice: NaN. [°C]

    Within 0.05 % of the ASHRAE tables down to -20 °C; at 0 °C it lies 0.07 % above the value over water.
    Source: World Meteorological Organization 2008, Guide to Instruments (WMO-No. 8), annex 4.B, Magnus form over ice.
    """
    over_ice = 0.6112 * np.exp(22.46 * temp_c / (temp_c + 272.62))
    return np.where(temp_c <= 0.0, over_ice, np.nan)


def saturation_slope_kpa_k(air_temp_c: Hours) -> Hours:
    """
    Rise of the saturation vapour pressure (over water) with temperature. [kPa K-1]

    air_temp_c: air temperature, -40 to 60. [°C]

    Source: Allen et al. 1998, FAO-56 eq. 13.
    """
    return slope_of_saturated_kpa_k(saturation_vapour_pressure_kpa(air_temp_c), air_temp_c)


def slope_of_saturated_kpa_k(saturated_kpa: Hours, air_temp_c: Hours) -> Hours:
    """
    The same slope where the saturation pressure is known already: solvers need both. [kPa K-1]

    saturated_kpa: saturation vapour pressure at that temperature. [kPa]; air_temp_c: [°C]
    """
    base = air_temp_c + 237.3
    return 4098.0 * saturated_kpa / (base * base)


def dew_point_c(vapour_pressure_kpa: Hours) -> Hours:
    """
    Temperature at which air of this vapour pressure is saturated over water. [°C]

    vapour_pressure_kpa: 0.02 to 20; zero or less has no dew point: NaN. [kPa]

    Source: Allen et al. 1998, FAO-56 eq. 11 solved for temperature.
    """
    positive = np.where(vapour_pressure_kpa > 0.0, vapour_pressure_kpa, np.nan)
    logarithm = np.log(positive / 0.6108)
    return 237.3 * logarithm / (17.27 - logarithm)


def dew_point_from_humidity_c(air_temp_c: Hours, relative_humidity_pct: Hours) -> Hours:
    """
    Dew point over water from relative humidity over water. [°C]

    air_temp_c: air temperature, -40 to 60. [°C]
    relative_humidity_pct: 1 to 100; zero or less has no dew point: NaN. [%]

    Source: Allen et al. 1998, FAO-56 eq. 10 and 11.
    """
    return dew_point_c(saturation_vapour_pressure_kpa(air_temp_c) * relative_humidity_pct / 100.0)


def vapour_deficit_kpa(air_temp_c: Hours, dew_point_c: Hours) -> Hours:
    """
    Vapour pressure deficit of the air. [kPa]

    air_temp_c, dew_point_c: -40 to 60. [°C]

    A dew point above the air temperature (rounding of the source, or fog) gives a deficit of zero, not less: air does
    not hold more than saturation for an hour.
    Source: Allen et al. 1998, FAO-56 eq. 11 and 14.
    """
    deficit = saturation_vapour_pressure_kpa(air_temp_c) - saturation_vapour_pressure_kpa(dew_point_c)
    return np.maximum(deficit, 0.0)


def psychrometric_constant_kpa_k(pressure_kpa: Hours | float) -> Hours:
    """
    Psychrometric constant of the air, latent heat fixed at 2.45 MJ kg-1. [kPa K-1]

    pressure_kpa: air pressure, 50 to 110. [kPa]

    Source: Allen et al. 1998, FAO-56 eq. 8.
    """
    return np.asarray(0.665e-3 * np.asarray(pressure_kpa, dtype=np.float64))


def pressure_at_kpa(elevation_m: Hours | float) -> Hours:
    """
    Mean air pressure at an elevation. [kPa]

    elevation_m: above sea level, -400 to 4500. [m]

    Source: Allen et al. 1998, FAO-56 eq. 7 (standard atmosphere at 20 °C). ASHRAE's table assumes 15 °C and is up to
    0.8 % lower at 4000 m; the warmer one suits a growing season.
    """
    return np.asarray(101.3 * ((293.0 - 0.0065 * np.asarray(elevation_m, dtype=np.float64)) / 293.0) ** 5.26)


def wet_bulb_c(air_temp_c: Hours, dew_point_c: Hours, pressure_kpa: Hours | float) -> Hours:
    """
    Temperature of a ventilated wet bulb covered with water, also below 0 °C. [°C]

    air_temp_c: air temperature, -40 to 50. [°C]
    dew_point_c: over water. Where it lies above the air temperature the air counts as saturated. [°C]
    pressure_kpa: air pressure, 50 to 110. [kPa]

    Solves e(Tw) - A P (T - Tw)(1 + 0.00115 Tw) = e(Td), A = 0.000660 K-1, by Newton's method from the air temperature
    downwards; the left side is convex and rising, so every step stays above the root. NaN where it has not settled to
    0.001 K. A bulb covered with ice reads 0.3 K lower in air of 0 °C and -5 °C dew point. The thermodynamic wet bulb
    is lower too, by 1 to 2 % of the depression.
    Source: psychrometer equation of the Smithsonian Meteorological Tables p. 365, as given in Jenne 1980, NCAR.
    """
    pressure = np.asarray(pressure_kpa, dtype=np.float64)
    vapour = saturation_vapour_pressure_kpa(np.minimum(dew_point_c, air_temp_c))
    coefficient = 0.000660 * pressure
    wet = np.asarray(air_temp_c + 0.0 * vapour * pressure)
    last_step = np.full(wet.shape, np.inf)
    for _ in range(WET_BULB_STEPS):
        surplus = (
            saturation_vapour_pressure_kpa(wet) - coefficient * (air_temp_c - wet) * (1.0 + 0.00115 * wet) - vapour
        )
        slope = saturation_slope_kpa_k(wet) + coefficient * (1.0 + 0.00115 * (2.0 * wet - air_temp_c))
        last_step = surplus / slope
        wet = wet - last_step
        if not np.any(np.abs(last_step) > WET_BULB_TOLERANCE_K):
            break
    return np.where(np.abs(last_step) <= WET_BULB_TOLERANCE_K, wet, np.nan)
