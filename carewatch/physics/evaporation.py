"""
Reference evapotranspiration of a clipped grass, hour by hour or day by day, and the radiation it needs.

FAO-56 throughout, one function per equation, in its units (MJ m-2 per hour or day). Every function takes float64
arrays of any shapes that broadcast and answers NaN where an input is NaN. `standard` chooses between the coefficients
of Allen et al. 1998 ("fao") and those of the ASCE standardized short reference of 2005 ("asce"), which differ by night
and day within the hourly equation.
"""

from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from carewatch.physics.humidity import (
    psychrometric_constant_kpa_k,
    saturation_slope_kpa_k,
    saturation_vapour_pressure_kpa,
    slope_of_saturated_kpa_k,
)
from carewatch.physics.sun import declination_rad, inverse_relative_distance, sunset_hour_angle_rad

Hours = NDArray[np.float64]
Standard = Literal["fao", "asce"]

SOLAR_CONSTANT_MJ_PER_MIN = 0.0820
GRASS_ALBEDO = 0.23
# MJ m-2 d-1 K-4
STEFAN_BOLTZMANN_MJ_PER_DAY: Final = {"fao": 4.903e-9, "asce": 4.901e-9}
# K; what FAO-56 and ASCE-EWRI add to °C in their longwave equations.
ZERO_CELSIUS_K = 273.16


def extraterrestrial_daily_mj(day_of_year: Hours, latitude: Hours | float) -> Hours:
    """
    Extraterrestrial radiation on level ground over a day. [MJ m-2 d-1]

    day_of_year: 1 to 366. [d]
    latitude: -90 to 90, positive north. [°]

    Source: Allen et al. 1998, FAO-56 eq. 21.
    """
    declination = declination_rad(day_of_year)
    sunset = sunset_hour_angle_rad(day_of_year, latitude)
    phi = np.radians(latitude)
    geometry = sunset * np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * np.sin(sunset)
    outside = 24.0 * 60.0 / np.pi * SOLAR_CONSTANT_MJ_PER_MIN * inverse_relative_distance(day_of_year)
    return np.asarray(outside * geometry, dtype=np.float64)


def seasonal_correction_h(day_of_year: Hours) -> Hours:
    """
    Equation of time for hourly radiation. [h]

    day_of_year: 1 to 366. [d]

    Source: Allen et al. 1998, FAO-56 eq. 32 and 33.
    """
    b = 2.0 * np.pi * (day_of_year - 81.0) / 364.0
    return 0.1645 * np.sin(2.0 * b) - 0.1255 * np.cos(b) - 0.025 * np.sin(b)


def solar_hour_angle_rad(mid_hour_utc_h: Hours, day_of_year: Hours, longitude: Hours | float) -> Hours:
    """
    Hour angle of the sun in the middle of the hour, 0 at solar noon, in -pi to pi. [rad]

    mid_hour_utc_h: UTC clock time of the middle of the hour, 0 to 24. [h]
    day_of_year: by the date at the place. [d]
    longitude: positive east (FAO-56 counts west positive, from the zone's meridian). [°]

    Source: Allen et al. 1998, FAO-56 eq. 31.
    """
    turned = np.pi / 12.0 * (mid_hour_utc_h + longitude / 15.0 + seasonal_correction_h(day_of_year) - 12.0)
    return (turned + np.pi) % (2.0 * np.pi) - np.pi


def extraterrestrial_hourly_mj(day_of_year: Hours, latitude: Hours | float, hour_angle_rad: Hours) -> Hours:
    """
    Extraterrestrial radiation on level ground over one hour. [MJ m-2 h-1]

    day_of_year: 1 to 366. [d]
    latitude: -90 to 90, positive north. [°]
    hour_angle_rad: of the sun in the middle of the hour. [rad]

    The hour is cut at sunrise and sunset, so that an hour half in the dark counts its bright half. Under the midnight
    sun there is nothing to cut, at midnight neither.
    Source: Allen et al. 1998, FAO-56 eq. 28 to 30; the cut as in ASCE-EWRI 2005, eq. 56.
    """
    declination = declination_rad(day_of_year)
    sunset = sunset_hour_angle_rad(day_of_year, latitude)
    horizon = np.where(sunset < np.pi, sunset, np.inf)
    half_hour = np.pi / 24.0
    first = np.clip(hour_angle_rad - half_hour, -horizon, horizon)
    last = np.clip(hour_angle_rad + half_hour, -horizon, horizon)
    phi = np.radians(latitude)
    geometry = (last - first) * np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * (
        np.sin(last) - np.sin(first)
    )
    outside = 12.0 * 60.0 / np.pi * SOLAR_CONSTANT_MJ_PER_MIN * inverse_relative_distance(day_of_year)
    return np.asarray(outside * geometry, dtype=np.float64)


def solar_from_sunshine_mj(sunshine_h: Hours, day_length_h: Hours, extraterrestrial_mj: Hours) -> Hours:
    """
    Global radiation of a day from its hours of bright sunshine. [MJ m-2 d-1]

    sunshine_h, day_length_h: bright and possible hours; a day without daylight gives NaN. [h]
    extraterrestrial_mj: eq. 21. [MJ m-2 d-1]

    Source: Allen et al. 1998, FAO-56 eq. 35 with a = 0.25, b = 0.50.
    """
    possible = np.where(day_length_h > 0.0, day_length_h, np.nan)
    return (0.25 + 0.50 * sunshine_h / possible) * extraterrestrial_mj


def clear_sky_mj(extraterrestrial_mj: Hours, elevation_m: Hours | float) -> Hours:
    """
    Global radiation under a cloudless sky, per hour or day as extraterrestrial_mj. [MJ m-2]

    extraterrestrial_mj: eq. 21 or 28. [MJ m-2]
    elevation_m: above sea level, 0 to 4500. [m]

    Source: Allen et al. 1998, FAO-56 eq. 37.
    """
    return (0.75 + 2e-5 * elevation_m) * extraterrestrial_mj


def net_shortwave_mj(global_mj: Hours, albedo: Hours | float = GRASS_ALBEDO) -> Hours:
    """
    Solar radiation that the grass keeps, per hour or day as global_mj. [MJ m-2]

    global_mj: global radiation. [MJ m-2]
    albedo: 0.23 is FAO-56's reference grass. [-]

    Source: Allen et al. 1998, FAO-56 eq. 38.
    """
    return (1.0 - albedo) * global_mj


def net_longwave_daily_mj(
    air_temp_max_c: Hours,
    air_temp_min_c: Hours,
    vapour_pressure_kpa: Hours,
    relative_solar: Hours,
    standard: Standard = "fao",
) -> Hours:
    """
    Longwave radiation that the grass loses over a day. [MJ m-2 d-1]

    air_temp_max_c, air_temp_min_c: of the day, at 2 m. [°C]
    vapour_pressure_kpa: actual. [kPa]
    relative_solar: global over clear-sky radiation, limited as in cloudiness_factor. [-]

    Source: Allen et al. 1998, FAO-56 eq. 39.
    """
    mean_fourth_power = 0.5 * ((air_temp_max_c + ZERO_CELSIUS_K) ** 4 + (air_temp_min_c + ZERO_CELSIUS_K) ** 4)
    return (
        STEFAN_BOLTZMANN_MJ_PER_DAY[standard]
        * mean_fourth_power
        * vapour_factor(vapour_pressure_kpa)
        * cloudiness_factor(relative_solar)
    )


def net_longwave_hourly_mj(
    air_temp_c: Hours, vapour_pressure_kpa: Hours, relative_solar: Hours, standard: Standard = "fao"
) -> Hours:
    """
    Longwave radiation that the grass loses over an hour. [MJ m-2 h-1]

    air_temp_c: mean of the hour, at 2 m. [°C]
    vapour_pressure_kpa: actual. [kPa]
    relative_solar: global over clear-sky radiation; at night that of the hours before sunset. [-]

    Source: Allen et al. 1998, FAO-56 eq. 39 with a 24th of the Stefan-Boltzmann constant (text below eq. 53).
    """
    return (
        STEFAN_BOLTZMANN_MJ_PER_DAY[standard]
        / 24.0
        * (air_temp_c + ZERO_CELSIUS_K) ** 4
        * vapour_factor(vapour_pressure_kpa)
        * cloudiness_factor(relative_solar)
    )


def vapour_factor(vapour_pressure_kpa: Hours) -> Hours:
    """
    Net emissivity between grass and a clear sky. [-]

    vapour_pressure_kpa: actual, 0 to 5.8; the factor turns negative beyond. [kPa]

    Source: Allen et al. 1998, FAO-56 eq. 39, second factor.
    """
    return 0.34 - 0.14 * np.sqrt(vapour_pressure_kpa)


def cloudiness_factor(relative_solar: Hours) -> Hours:
    """
    Part of the clear-sky longwave loss that clouds leave. [-]

    relative_solar: global over clear-sky radiation; taken within 0.3 (overcast) to 1.0 (clear). [-]

    Source: Allen et al. 1998, FAO-56 eq. 39, third factor, upper limit there; lower limit ASCE-EWRI 2005, eq. 18.
    """
    return 1.35 * np.clip(relative_solar, 0.3, 1.0) - 0.35


def net_radiation_hourly_mj(
    global_mj: Hours,
    air_temp_c: Hours,
    vapour_pressure_kpa: Hours,
    relative_solar: Hours,
    standard: Standard = "fao",
) -> Hours:
    """
    Radiation that the reference grass keeps over an hour. [MJ m-2 h-1]

    global_mj: global radiation; 1 W m-2 over an hour is 0.0036 MJ m-2. [MJ m-2 h-1]
    air_temp_c: mean of the hour, at 2 m. [°C]
    vapour_pressure_kpa: actual. [kPa]
    relative_solar: global over clear-sky radiation; at night that of the hours before sunset. [-]

    Source: Allen et al. 1998, FAO-56 eq. 38 to 40.
    """
    return net_shortwave_mj(global_mj) - net_longwave_hourly_mj(
        air_temp_c, vapour_pressure_kpa, relative_solar, standard
    )


def net_radiation_daily_mj(
    global_mj: Hours,
    clear_sky_mj: Hours,
    air_temp_max_c: Hours,
    air_temp_min_c: Hours,
    vapour_pressure_kpa: Hours,
    standard: Standard = "fao",
) -> Hours:
    """
    Radiation that the reference grass keeps over a day. [MJ m-2 d-1]

    global_mj, clear_sky_mj: global radiation and that of a cloudless day; NaN in the polar night. [MJ m-2 d-1]
    air_temp_max_c, air_temp_min_c: of the day, at 2 m. [°C]
    vapour_pressure_kpa: actual. [kPa]

    Source: Allen et al. 1998, FAO-56 eq. 38 to 40.
    """
    relative_solar = global_mj / np.where(clear_sky_mj > 0.0, clear_sky_mj, np.nan)
    return net_shortwave_mj(global_mj) - net_longwave_daily_mj(
        air_temp_max_c, air_temp_min_c, vapour_pressure_kpa, relative_solar, standard
    )


def soil_heat_flux_monthly_mj(air_temp_before_c: Hours, air_temp_now_c: Hours) -> Hours:
    """
    Heat that goes into the soil in a month when the next month is not known yet. [MJ m-2 d-1]

    air_temp_before_c, air_temp_now_c: mean air temperature of the month before and of this one. [°C]

    Source: Allen et al. 1998, FAO-56 eq. 44.
    """
    return 0.14 * (air_temp_now_c - air_temp_before_c)


def soil_heat_flux_hourly_mj(net_radiation_mj: Hours, daylight: NDArray[np.bool_]) -> Hours:
    """
    Heat that goes into the soil under the reference grass. [MJ m-2 h-1]

    net_radiation_mj: of the hour. [MJ m-2 h-1]
    daylight: whether the sun is up.

    The ASCE standard of 2005 has the same two numbers for the short reference.
    Source: Allen et al. 1998, FAO-56 eq. 45 and 46.
    """
    return np.where(daylight, 0.1, 0.5) * net_radiation_mj


def reference_et_daily_mm(
    air_temp_max_c: Hours,
    air_temp_min_c: Hours,
    vapour_pressure_kpa: Hours,
    wind_2m_ms: Hours,
    net_radiation_mj: Hours,
    soil_heat_flux_mj: Hours | float,
    pressure_kpa: Hours | float,
) -> Hours:
    """
    Evapotranspiration of the reference grass over a day. [mm d-1]

    air_temp_max_c, air_temp_min_c: of the day, at 2 m. [°C]
    vapour_pressure_kpa: actual. [kPa]
    wind_2m_ms: mean of the day at 2 m; wind_to_2m_ms brings it there. [m s-1]
    net_radiation_mj: of the day. [MJ m-2 d-1]
    soil_heat_flux_mj: 0 for single days. [MJ m-2 d-1]
    pressure_kpa: air pressure. [kPa]

    Saturation is the mean of that at the maximum and at the minimum; at the mean temperature it comes out 3 % less.
    The daily ASCE short reference has the same coefficients (900, 0.34).
    Source: Allen et al. 1998, FAO-56 eq. 6 and 12.
    """
    mean_temp_c = 0.5 * (air_temp_max_c + air_temp_min_c)
    saturated = 0.5 * (saturation_vapour_pressure_kpa(air_temp_max_c) + saturation_vapour_pressure_kpa(air_temp_min_c))
    slope = saturation_slope_kpa_k(mean_temp_c)
    gamma = psychrometric_constant_kpa_k(pressure_kpa)
    radiation_term = 0.408 * slope * (net_radiation_mj - soil_heat_flux_mj)
    wind_term = gamma * 900.0 / (mean_temp_c + 273.0) * wind_2m_ms * (saturated - vapour_pressure_kpa)
    return (radiation_term + wind_term) / (slope + gamma * (1.0 + 0.34 * wind_2m_ms))


def reference_et_hourly_mm(
    air_temp_c: Hours,
    vapour_pressure_kpa: Hours,
    wind_2m_ms: Hours,
    net_radiation_mj: Hours,
    pressure_kpa: Hours | float,
    daylight: NDArray[np.bool_],
    standard: Standard = "fao",
) -> Hours:
    """
    Evapotranspiration of the reference grass over an hour; below zero where dew falls. [mm h-1]

    air_temp_c: mean of the hour, at 2 m. [°C]
    vapour_pressure_kpa: actual. [kPa]
    wind_2m_ms: mean of the hour at 2 m. [m s-1]
    net_radiation_mj: of the hour. [MJ m-2 h-1]
    pressure_kpa: air pressure. [kPa]
    daylight: whether the sun is up; sets the soil heat flux, and in "asce" the wind coefficient.
    standard: "fao" takes 0.34 by day and night, "asce" 0.24 by day and 0.96 by night.

    Source: Allen et al. 1998, FAO-56 eq. 53; ASCE-EWRI 2005, The ASCE Standardized Reference Evapotranspiration
    Equation, table 1 (short reference).
    """
    saturated = saturation_vapour_pressure_kpa(air_temp_c)
    slope = slope_of_saturated_kpa_k(saturated, air_temp_c)
    gamma = psychrometric_constant_kpa_k(pressure_kpa)
    available = net_radiation_mj - soil_heat_flux_hourly_mj(net_radiation_mj, daylight)
    deficit = saturated - vapour_pressure_kpa
    wind_coefficient = np.where(daylight, 0.24, 0.96) if standard == "asce" else 0.34
    return (0.408 * slope * available + gamma * 37.0 / (air_temp_c + 273.0) * wind_2m_ms * deficit) / (
        slope + gamma * (1.0 + wind_coefficient * wind_2m_ms)
    )
