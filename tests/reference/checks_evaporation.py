"""Reference evapotranspiration: FAO-56 examples 8, 10, 11, 12, 17, 18, 19 step by step."""

from collections.abc import Callable
from functools import cache, partial
from types import SimpleNamespace

import numpy as np

from carewatch.physics.evaporation import (
    clear_sky_mj,
    cloudiness_factor,
    extraterrestrial_daily_mj,
    extraterrestrial_hourly_mj,
    net_longwave_daily_mj,
    net_longwave_hourly_mj,
    net_radiation_daily_mj,
    net_radiation_hourly_mj,
    net_shortwave_mj,
    reference_et_daily_mm,
    reference_et_hourly_mm,
    seasonal_correction_h,
    soil_heat_flux_hourly_mj,
    soil_heat_flux_monthly_mj,
    solar_from_sunshine_mj,
    solar_hour_angle_rad,
)
from carewatch.physics.humidity import (
    pressure_at_kpa,
    psychrometric_constant_kpa_k,
    saturation_slope_kpa_k,
    saturation_vapour_pressure_kpa,
)
from carewatch.physics.sun import day_length_h, declination_rad, inverse_relative_distance
from carewatch.physics.wind import wind_to_2m_ms
from tests.reference.registry import Chapter, Check, one

BANGKOK = "Bangkok, April, 34.8/25.6 °C, 2.85 kPa, 2 m/s, 8.5 h"
UCCLE = "Uccle, 6 July, 21.5/12.3 °C, 84/63 %, 10 km/h, 9.25 h"
NIGHT = "N'Diaye, 1 October 02-03 h, 28 °C, 90 %, 1.9 m/s, Rs/Rso 0.8"
DAY = "N'Diaye, 1 October 14-15 h, 38 °C, 52 %, 3.3 m/s, 2.450 MJ"
RIO = "Rio de Janeiro, May, 220 h of sun in 31 d"


@cache
def _bangkok() -> SimpleNamespace:
    """Every step of example 17."""
    day, latitude, high, low, vapour = one(105), 13.0 + 44.0 / 60.0, one(34.8), one(25.6), one(2.85)
    s = SimpleNamespace()
    s.pressure = pressure_at_kpa(2.0)
    s.saturated = 0.5 * (saturation_vapour_pressure_kpa(high) + saturation_vapour_pressure_kpa(low))
    s.slope = saturation_slope_kpa_k(one(30.2))
    s.gamma = psychrometric_constant_kpa_k(s.pressure)
    s.outside = extraterrestrial_daily_mj(day, latitude)
    s.daylight = day_length_h(day, latitude)
    s.solar = solar_from_sunshine_mj(one(8.5), s.daylight, s.outside)
    s.clear = clear_sky_mj(s.outside, 2.0)
    s.longwave = net_longwave_daily_mj(high, low, vapour, s.solar / s.clear)
    s.net = net_radiation_daily_mj(s.solar, s.clear, high, low, vapour)
    s.soil = soil_heat_flux_monthly_mj(one(29.2), one(30.2))
    s.radiation_term = reference_et_daily_mm(high, low, s.saturated, one(2.0), s.net, s.soil, s.pressure)
    s.wind_term = reference_et_daily_mm(high, low, vapour, one(2.0), one(0.0), one(0.0), s.pressure)
    s.evaporation = reference_et_daily_mm(high, low, vapour, one(2.0), s.net, s.soil, s.pressure)
    return s


@cache
def _uccle() -> SimpleNamespace:
    """Every step of example 18."""
    day, latitude, high, low = one(187), 50.8, one(21.5), one(12.3)
    s = SimpleNamespace()
    s.pressure = pressure_at_kpa(100.0)
    s.gamma = psychrometric_constant_kpa_k(s.pressure)
    s.wind = wind_to_2m_ms(one(10.0 / 3.6), 10.0)
    at_high, at_low = saturation_vapour_pressure_kpa(high), saturation_vapour_pressure_kpa(low)
    s.saturated = 0.5 * (at_high + at_low)
    s.vapour = 0.5 * (0.84 * at_low + 0.63 * at_high)
    s.deficit = s.saturated - s.vapour
    s.slope = saturation_slope_kpa_k(one(16.9))
    s.outside = extraterrestrial_daily_mj(day, latitude)
    s.daylight = day_length_h(day, latitude)
    s.solar = solar_from_sunshine_mj(one(9.25), s.daylight, s.outside)
    s.clear = clear_sky_mj(s.outside, 100.0)
    s.shortwave = net_shortwave_mj(s.solar)
    s.longwave = net_longwave_daily_mj(high, low, s.vapour, s.solar / s.clear)
    s.net = net_radiation_daily_mj(s.solar, s.clear, high, low, s.vapour)
    s.evaporation = reference_et_daily_mm(high, low, s.vapour, s.wind, s.net, 0.0, s.pressure)
    return s


@cache
def _ndiaye(hour: str) -> SimpleNamespace:
    """Every step of example 19, for "night" or "day"; the station's clock is one hour behind UTC."""
    by_day = hour == "day"
    temp, humidity, wind = (one(38.0), 0.52, one(3.3)) if by_day else (one(28.0), 0.90, one(1.9))
    day, latitude, daylight = one(274), 16.0 + 13.0 / 60.0, np.array(by_day)
    s = SimpleNamespace()
    s.distance, s.declination = inverse_relative_distance(day), declination_rad(day)
    s.seasonal = seasonal_correction_h(day)
    s.pressure = pressure_at_kpa(8.0)
    s.gamma = psychrometric_constant_kpa_k(s.pressure)
    s.saturated = saturation_vapour_pressure_kpa(temp)
    s.vapour = humidity * s.saturated
    s.deficit = s.saturated - s.vapour
    s.slope = saturation_slope_kpa_k(temp)
    s.hour_angle = solar_hour_angle_rad(one(15.5 if by_day else 3.5), day, -16.25)
    s.outside = extraterrestrial_hourly_mj(day, latitude, s.hour_angle)
    s.clear = clear_sky_mj(s.outside, 8.0)
    s.solar = one(2.450 if by_day else 0.0)
    s.relative = s.solar / s.clear if by_day else one(0.8)
    s.cloudiness = cloudiness_factor(s.relative)
    s.shortwave = net_shortwave_mj(s.solar)
    s.longwave = net_longwave_hourly_mj(temp, s.vapour, s.relative)
    s.net = net_radiation_hourly_mj(s.solar, temp, s.vapour, s.relative)
    s.soil = soil_heat_flux_hourly_mj(s.net, daylight)
    s.radiation_term = reference_et_hourly_mm(temp, s.saturated, wind, s.net, s.pressure, daylight)
    s.wind_term = reference_et_hourly_mm(temp, s.vapour, wind, one(0.0), s.pressure, daylight)
    s.evaporation = reference_et_hourly_mm(temp, s.vapour, wind, s.net, s.pressure, daylight)
    return s


@cache
def _rio() -> SimpleNamespace:
    """The steps of examples 10 to 12; 11 and 12 go on from the rounded 14.5 and 18.8 MJ of example 10."""
    day, latitude = one(135), -(22.0 + 54.0 / 60.0)
    s = SimpleNamespace()
    s.outside = extraterrestrial_daily_mj(day, latitude)
    s.solar = solar_from_sunshine_mj(one(220.0 / 31.0), day_length_h(day, latitude), s.outside)
    s.clear = clear_sky_mj(s.outside, 0.0)
    s.longwave = net_longwave_daily_mj(one(25.1), one(19.1), one(2.1), one(14.5 / 18.8))
    return s


def _step(example: Callable[[], SimpleNamespace], name: str) -> float:
    """One step of a worked example."""
    return float(getattr(example(), name))


BANGKOK_STEPS = (
    ("mean saturation [kPa]", "saturated", 4.42, 0.005),
    ("slope of saturation [kPa K⁻¹]", "slope", 0.246, 0.0005),
    ("psychrometric constant [kPa K⁻¹]", "gamma", 0.0674, 0.0001),
    ("extraterrestrial radiation [MJ m⁻² d⁻¹]", "outside", 38.06, 0.01),
    ("daylight hours [h]", "daylight", 12.31, 0.01),
    ("global radiation [MJ m⁻² d⁻¹]", "solar", 22.65, 0.01),
    ("clear-sky radiation [MJ m⁻² d⁻¹]", "clear", 28.54, 0.01),
    ("net longwave loss [MJ m⁻² d⁻¹]", "longwave", 3.10, 0.02),
    ("net radiation [MJ m⁻² d⁻¹]", "net", 14.33, 0.02),
    ("soil heat flux [MJ m⁻² d⁻¹]", "soil", 0.14, 0.005),
    ("radiation term [mm d⁻¹]", "radiation_term", 3.97, 0.01),
    ("wind term [mm d⁻¹]", "wind_term", 1.75, 0.01),
    ("reference evapotranspiration [mm d⁻¹]", "evaporation", 5.72, 0.02),
)
UCCLE_STEPS = (
    ("air pressure [kPa]", "pressure", 100.1, 0.05),
    ("psychrometric constant [kPa K⁻¹]", "gamma", 0.0666, 0.0001),
    ("wind at 2 m [m s⁻¹]", "wind", 2.078, 0.002),
    ("mean saturation [kPa]", "saturated", 1.997, 0.001),
    ("vapour pressure [kPa]", "vapour", 1.409, 0.001),
    ("vapour pressure deficit [kPa]", "deficit", 0.589, 0.001),
    ("slope of saturation [kPa K⁻¹]", "slope", 0.122, 0.0005),
    ("extraterrestrial radiation [MJ m⁻² d⁻¹]", "outside", 41.09, 0.01),
    ("daylight hours [h]", "daylight", 16.1, 0.05),
    ("global radiation [MJ m⁻² d⁻¹]", "solar", 22.07, 0.01),
    ("clear-sky radiation [MJ m⁻² d⁻¹]", "clear", 30.90, 0.01),
    ("net shortwave [MJ m⁻² d⁻¹]", "shortwave", 17.00, 0.01),
    ("net longwave loss [MJ m⁻² d⁻¹]", "longwave", 3.71, 0.01),
    ("net radiation [MJ m⁻² d⁻¹]", "net", 13.28, 0.01),
    ("reference evapotranspiration [mm d⁻¹]", "evaporation", 3.88, 0.03),
)
NIGHT_STEPS = (
    ("saturation [kPa]", "saturated", 3.780, 0.0005),
    ("vapour pressure [kPa]", "vapour", 3.402, 0.0005),
    ("slope of saturation [kPa K⁻¹]", "slope", 0.220, 0.0005),
    ("psychrometric constant [kPa K⁻¹]", "gamma", 0.0673, 0.0001),
    ("cloud factor [-]", "cloudiness", 0.730, 0.0005),
    ("net longwave loss [MJ m⁻² h⁻¹]", "longwave", 0.100, 0.0005),
    ("net radiation [MJ m⁻² h⁻¹]", "net", -0.100, 0.0005),
    ("soil heat flux [MJ m⁻² h⁻¹]", "soil", -0.050, 0.0005),
    ("radiation term [mm h⁻¹]", "radiation_term", -0.01, 0.005),
    ("wind term [mm h⁻¹]", "wind_term", 0.018, 0.0005),
    ("reference evapotranspiration [mm h⁻¹]", "evaporation", 0.00, 0.01),
)
DAY_STEPS = (
    ("relative distance dr [-]", "distance", 1.0001, 0.0001),
    ("declination [rad]", "declination", -0.0753, 0.0001),
    ("seasonal correction [h]", "seasonal", 0.1889, 0.0001),
    ("hour angle in the middle [rad]", "hour_angle", 0.682, 0.0005),
    ("extraterrestrial radiation [MJ m⁻² h⁻¹]", "outside", 3.543, 0.001),
    ("clear-sky radiation [MJ m⁻² h⁻¹]", "clear", 2.658, 0.001),
    ("global over clear sky [-]", "relative", 0.922, 0.0005),
    ("cloud factor [-]", "cloudiness", 0.894, 0.0005),
    ("saturation [kPa]", "saturated", 6.625, 0.0005),
    ("vapour pressure [kPa]", "vapour", 3.445, 0.0005),
    ("vapour pressure deficit [kPa]", "deficit", 3.180, 0.0005),
    ("slope of saturation [kPa K⁻¹]", "slope", 0.358, 0.0005),
    ("net longwave loss [MJ m⁻² h⁻¹]", "longwave", 0.137, 0.0005),
    ("net shortwave [MJ m⁻² h⁻¹]", "shortwave", 1.887, 0.001),
    ("net radiation [MJ m⁻² h⁻¹]", "net", 1.749, 0.0005),
    ("soil heat flux [MJ m⁻² h⁻¹]", "soil", 0.175, 0.0005),
    ("radiation term [mm h⁻¹]", "radiation_term", 0.46, 0.005),
    ("wind term [mm h⁻¹]", "wind_term", 0.17, 0.005),
    ("reference evapotranspiration [mm h⁻¹]", "evaporation", 0.63, 0.01),
)

CHAPTER = Chapter(
    "Evaporation",
    (
        Check(
            "extraterrestrial radiation [MJ m⁻² d⁻¹]",
            "FAO-56 example 8",
            "3 September, 20° S",
            32.2,
            0.1,
            lambda: extraterrestrial_daily_mj(one(246), -20.0),
        ),
        Check("extraterrestrial radiation [MJ m⁻² d⁻¹]", "FAO-56 example 10", RIO, 25.1, 0.05, lambda: _rio().outside),
        Check("global radiation [MJ m⁻² d⁻¹]", "FAO-56 example 10", RIO, 14.5, 0.05, lambda: _rio().solar),
        Check("clear-sky radiation [MJ m⁻² d⁻¹]", "FAO-56 example 10", RIO, 18.8, 0.05, lambda: _rio().clear),
        Check(
            "net longwave loss [MJ m⁻² d⁻¹]",
            "FAO-56 example 11",
            RIO + ", 25.1/19.1 °C, 2.1 kPa",
            3.5,
            0.05,
            lambda: _rio().longwave,
            "recomputed",
        ),
        Check(
            "net shortwave [MJ m⁻² d⁻¹]",
            "FAO-56 example 12",
            "14.5 MJ, albedo 0.23",
            11.165,
            0.005,
            lambda: net_shortwave_mj(one(14.5)),
            "recomputed",
        ),
        Check(
            "net radiation [MJ m⁻² d⁻¹]",
            "FAO-56 example 12",
            "14.5 MJ and example 11",
            7.6,
            0.05,
            lambda: net_shortwave_mj(one(14.5)) - _rio().longwave,
            "recomputed",
        ),
        *(
            Check(quantity, "FAO-56 example 17", BANGKOK, expected, tolerance, partial(_step, _bangkok, name))
            for quantity, name, expected, tolerance in BANGKOK_STEPS
        ),
        *(
            Check(quantity, "FAO-56 example 18", UCCLE, expected, tolerance, partial(_step, _uccle, name))
            for quantity, name, expected, tolerance in UCCLE_STEPS
        ),
        *(
            Check(
                quantity,
                "FAO-56 example 19",
                NIGHT,
                expected,
                tolerance,
                partial(_step, partial(_ndiaye, "night"), name),
            )
            for quantity, name, expected, tolerance in NIGHT_STEPS
        ),
        *(
            Check(
                quantity, "FAO-56 example 19", DAY, expected, tolerance, partial(_step, partial(_ndiaye, "day"), name)
            )
            for quantity, name, expected, tolerance in DAY_STEPS
        ),
    ),
)
