"""Water vapour: the worked examples of FAO-56, the ASHRAE tables, the psychrometer, and psychrolib."""

from functools import cache, partial

import numpy as np
import psychrolib
from numpy.typing import NDArray

from carewatch.physics.humidity import (
    dew_point_c,
    dew_point_from_humidity_c,
    pressure_at_kpa,
    psychrometric_constant_kpa_k,
    saturation_over_ice_kpa,
    saturation_slope_kpa_k,
    saturation_vapour_pressure_kpa,
    vapour_deficit_kpa,
    wet_bulb_c,
)
from tests.reference.registry import Chapter, Check, one, worst

psychrolib.SetUnitSystem(psychrolib.SI)

FAO_5_INPUTS = "18 to 25 °C, 82 to 54 %"
ASHRAE = "ASHRAE Fundamentals 2017, ch. 1 table 3"
STATES = 2000

SATURATION_TABLE = {
    1: 0.657,
    5: 0.872,
    10: 1.228,
    15: 1.705,
    20: 2.338,
    25: 3.168,
    30: 4.243,
    35: 5.623,
    38: 6.625,
    40: 7.376,
    45: 9.582,
    48: 11.163,
}
SLOPE_TABLE = {1: 0.047, 10: 0.082, 20: 0.145, 30: 0.243, 40: 0.393}


def _saturation(temp_c: float) -> NDArray[np.float64]:
    return saturation_vapour_pressure_kpa(one(temp_c))


def _water_pa(temp_c: float) -> NDArray[np.float64]:
    return 1000.0 * _saturation(temp_c)


def _ice_pa(temp_c: float) -> NDArray[np.float64]:
    return 1000.0 * saturation_over_ice_kpa(one(temp_c))


def _vapour_from_extremes() -> NDArray[np.float64]:
    return 0.5 * (_saturation(18.0) * 0.82 + _saturation(25.0) * 0.54)


def _mean_saturation(low_c: float, high_c: float) -> NDArray[np.float64]:
    return 0.5 * (_saturation(low_c) + _saturation(high_c))


@cache
def _saturation_states() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Random temperatures and psychrolib's saturation pressures. [°C, kPa]"""
    temps = np.random.default_rng(5).uniform(0.1, 50.0, STATES)
    return temps, np.array([psychrolib.GetSatVapPres(float(temp)) for temp in temps]) / 1000.0


def _water_difference_pct() -> float:
    temps, theirs = _saturation_states()
    return worst(100.0 * (saturation_vapour_pressure_kpa(temps) / theirs - 1.0))


def _ice_difference_pct() -> float:
    temps = np.random.default_rng(6).uniform(-30.0, -0.1, STATES)
    theirs = np.array([psychrolib.GetSatVapPres(float(temp)) for temp in temps]) / 1000.0
    return worst(100.0 * (saturation_over_ice_kpa(temps) / theirs - 1.0))


def _dew_point_difference() -> float:
    temps, theirs = _saturation_states()
    return worst(dew_point_c(theirs) - temps)


def _humid_states() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Random temperatures and humidities whose dew point is above freezing. [°C], [%]"""
    random = np.random.default_rng(9)
    temps = random.uniform(10.0, 45.0, STATES)
    driest = 100.0 * saturation_vapour_pressure_kpa(one(0.5)) / saturation_vapour_pressure_kpa(temps)
    return temps, random.uniform(driest, 99.9)


def _dew_point_from_humidity_difference() -> float:
    temps, humidities = _humid_states()
    theirs = np.array(
        [
            psychrolib.GetTDewPointFromRelHum(float(temp), float(humidity) / 100.0)
            for temp, humidity in zip(temps, humidities, strict=True)
        ]
    )
    return worst(dew_point_from_humidity_c(temps, humidities) - theirs)


def _deficit_difference_pct() -> float:
    """Worst difference of the deficit, over the saturation pressure. [%]"""
    temps, humidities = _humid_states()
    pressure_pa = 101_325.0
    theirs = np.empty(STATES)
    for state, (temp, humidity) in enumerate(zip(temps, humidities, strict=True)):
        ratio = psychrolib.GetHumRatioFromRelHum(float(temp), float(humidity) / 100.0, pressure_pa)
        theirs[state] = psychrolib.GetVaporPressureDeficit(float(temp), ratio, pressure_pa) / 1000.0
    ours = vapour_deficit_kpa(temps, dew_point_from_humidity_c(temps, humidities))
    return worst(100.0 * (ours - theirs) / saturation_vapour_pressure_kpa(temps))


def _wet_bulb_states() -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Random air temperature, dew point and pressure, dew point above freezing. [°C, °C, kPa]"""
    random = np.random.default_rng(7)
    temps = random.uniform(4.0, 42.0, STATES)
    return temps, random.uniform(0.5, temps - 1.0), random.uniform(75.0, 104.0, STATES)


def _thermodynamic_difference() -> float:
    """Worst difference to the thermodynamic wet bulb, per kelvin of wet-bulb depression. [-]"""
    temps, dew_points, pressures = _wet_bulb_states()
    theirs = np.array(
        [
            psychrolib.GetTWetBulbFromTDewPoint(float(temp), float(dew_point), float(pressure) * 1000.0)
            for temp, dew_point, pressure in zip(temps, dew_points, pressures, strict=True)
        ]
    )
    return worst((wet_bulb_c(temps, dew_points, pressures) - theirs) / (temps - theirs))


def _psychrometer_residual() -> float:
    """Worst residual of the psychrometer equation, with its author's own saturation formula. [K of the wet bulb]"""
    random = np.random.default_rng(8)
    temps = random.uniform(-15.0, 45.0, STATES)
    dew_points = temps - random.uniform(0.0, 25.0, STATES)
    pressures_hpa = random.uniform(750.0, 1040.0, STATES)
    wet = wet_bulb_c(temps, dew_points, pressures_hpa / 10.0)
    at_wet = 6.1078 * 10.0 ** (7.5 * wet / (wet + 237.3))
    vapour = 6.1078 * 10.0 ** (7.5 * dew_points / (dew_points + 237.3))
    residual_hpa = at_wet - pressures_hpa * (temps - wet) * 0.000660 * (1.0 + 0.00115 * wet) - vapour
    slope_hpa_k = at_wet * np.log(10.0) * 7.5 * 237.3 / (wet + 237.3) ** 2 + 0.000660 * pressures_hpa
    return worst(residual_hpa / slope_hpa_k)


CHAPTER = Chapter(
    "Humidity",
    (
        Check("air pressure [kPa]", "FAO-56 example 2", "1800 m", 81.8, 0.05, lambda: pressure_at_kpa(1800.0)),
        Check(
            "psychrometric constant [kPa K⁻¹]",
            "FAO-56 example 2",
            "1800 m",
            0.054,
            0.0005,
            lambda: psychrometric_constant_kpa_k(pressure_at_kpa(1800.0)),
        ),
        Check("saturation at maximum [kPa]", "FAO-56 example 3", "24.5 °C", 3.075, 0.005, lambda: _saturation(24.5)),
        Check("saturation at minimum [kPa]", "FAO-56 example 3", "15 °C", 1.705, 0.005, lambda: _saturation(15.0)),
        Check(
            "mean saturation [kPa]",
            "FAO-56 example 3",
            "24.5 and 15 °C",
            2.39,
            0.005,
            lambda: _mean_saturation(15.0, 24.5),
        ),
        Check("saturation at mean [kPa]", "FAO-56 example 3", "19.75 °C", 2.30, 0.005, lambda: _saturation(19.75)),
        Check("air pressure [kPa]", "FAO-56 example 4", "1200 m", 87.9, 0.05, lambda: pressure_at_kpa(1200.0)),
        Check("saturation at wet bulb [kPa]", "FAO-56 example 4", "19.5 °C", 2.267, 0.0005, lambda: _saturation(19.5)),
        Check(
            "wet bulb [°C]",
            "FAO-56 example 4, backwards (its vapour pressure is rounded: ±0.03 K)",
            "25.6 °C, 1.91 kPa, 1200 m",
            19.5,
            0.05,
            lambda: wet_bulb_c(one(25.6), dew_point_c(one(1.91)), pressure_at_kpa(1200.0)),
            "recomputed",
        ),
        Check(
            "saturation at minimum [kPa]",
            "FAO-56 example 5",
            "18 °C",
            2.064,
            0.0005,
            lambda: _saturation(18.0),
            "recomputed",
        ),
        Check(
            "saturation at maximum [kPa]",
            "FAO-56 example 5",
            "25 °C",
            3.168,
            0.0005,
            lambda: _saturation(25.0),
            "recomputed",
        ),
        Check("vapour pressure [kPa]", "FAO-56 example 5", FAO_5_INPUTS, 1.70, 0.005, _vapour_from_extremes),
        Check(
            "vapour pressure from mean humidity [kPa]",
            "FAO-56 example 5",
            "18 to 25 °C, 68 %",
            1.78,
            0.005,
            lambda: 0.68 * _mean_saturation(18.0, 25.0),
        ),
        Check(
            "vapour pressure deficit [kPa]",
            "FAO-56 example 6",
            FAO_5_INPUTS,
            0.91,
            0.01,
            lambda: _mean_saturation(18.0, 25.0) - _vapour_from_extremes(),
            "recomputed",
        ),
        Check(
            "vapour pressure deficit [kPa]",
            "FAO-56 table 2.3, 25 less 15 °C",
            "25 °C, dew point 15 °C",
            3.168 - 1.705,
            0.001,
            lambda: vapour_deficit_kpa(one(25.0), one(15.0)),
            "recomputed",
        ),
        *(
            Check(
                "saturation [kPa]",
                "FAO-56 annex 2, table 2.3",
                f"{temp} °C",
                kpa,
                0.001,
                partial(_saturation, temp),
                "recomputed",
            )
            for temp, kpa in SATURATION_TABLE.items()
        ),
        *(
            Check(
                "slope of saturation [kPa K⁻¹]",
                "FAO-56 annex 2, table 2.4",
                f"{temp} °C",
                slope,
                0.0005,
                partial(saturation_slope_kpa_k, one(temp)),
                "recomputed",
            )
            for temp, slope in SLOPE_TABLE.items()
        ),
        *(
            Check(
                "saturation over water [Pa]",
                ASHRAE + " (±0.2 %)",
                f"{temp} °C",
                pascal,
                0.002 * pascal,
                partial(_water_pa, temp),
            )
            for temp, pascal in ((5, 872.6), (25, 3169.7), (50, 12351.3))
        ),
        *(
            Check(
                "saturation over ice [Pa]",
                ASHRAE + " (±0.03 %)",
                f"{temp} °C",
                pascal,
                0.0003 * pascal,
                partial(_ice_pa, temp),
            )
            for temp, pascal in ((-20, 103.24), (-5, 401.74))
        ),
        *(
            Check(
                "saturation over water below 0 °C [Pa]",
                "Goff-Gratch (WMO-49)",
                f"{temp} °C",
                pascal,
                1.0,
                partial(_water_pa, temp),
                "other program",
            )
            for temp, pascal in ((-20, 125.4), (-10, 286.2), (-5, 421.4))
        ),
        *(
            Check(
                "saturation over ice [Pa]",
                "Goff-Gratch (WMO-49)",
                f"{temp} °C",
                pascal,
                0.5,
                partial(_ice_pa, temp),
                "other program",
            )
            for temp, pascal in ((-20, 103.2), (-10, 259.7), (-5, 401.4))
        ),
        *(
            Check(
                "standard air pressure [kPa]",
                "ASHRAE Fundamentals 2017, ch. 1 table 1 (of air at 15 °C; FAO-56 has 20)",
                f"{elevation} m",
                pascal / 1000.0,
                0.002 * pascal / 1000.0,
                partial(pressure_at_kpa, elevation),
            )
            for elevation, pascal in ((0.0, 101_325.0), (500.0, 95_461.0), (1000.0, 89_875.0))
        ),
        Check(
            "wet bulb [°C]",
            "Stull 2011, J. Appl. Meteor. Climatol. 50:2267 (a fit, mean error 0.3 K)",
            "20 °C, 50 %, 1013 hPa",
            13.7,
            0.3,
            lambda: wet_bulb_c(one(20.0), dew_point_from_humidity_c(one(20.0), one(50.0)), 101.325),
            "recomputed",
        ),
        Check(
            "wet bulb below 0 °C [°C]",
            "psychrometer equation, water bulb",
            "0 °C, dew point -5 °C, 1013 hPa",
            -1.74,
            0.01,
            lambda: wet_bulb_c(one(0.0), one(-5.0), 101.3),
            "other program",
        ),
        Check(
            "dew point [°C]",
            "Magnus inverse",
            "25 °C, 54 %",
            15.0,
            0.1,
            lambda: dew_point_from_humidity_c(one(25.0), one(54.0)),
            "other program",
        ),
        Check(
            "worst saturation difference [%]",
            "psychrolib (Tetens form against Hyland-Wexler)",
            f"{STATES} random states, 0 to 50 °C",
            0.0,
            0.2,
            _water_difference_pct,
            "other program",
        ),
        Check(
            "worst saturation difference over ice [%]",
            "psychrolib (Magnus form against Hyland-Wexler)",
            f"{STATES} random states, -30 to 0 °C",
            0.0,
            0.05,
            _ice_difference_pct,
            "other program",
        ),
        Check(
            "worst dew point difference [K]",
            "psychrolib (0.2 % of vapour pressure is 0.03 K)",
            f"{STATES} random states, 0 to 50 °C",
            0.0,
            0.03,
            _dew_point_difference,
            "other program",
        ),
        Check(
            "worst dew point difference, from relative humidity [K]",
            "psychrolib (as above, at both temperatures)",
            f"{STATES} random states, 10 to 45 °C, dew point above 0 °C",
            0.0,
            0.06,
            _dew_point_from_humidity_difference,
            "other program",
        ),
        Check(
            "worst deficit difference [% of saturation]",
            "psychrolib (Tetens form against Hyland-Wexler)",
            f"{STATES} random states, 10 to 45 °C, dew point above 0 °C",
            0.0,
            0.2,
            _deficit_difference_pct,
            "other program",
        ),
        Check(
            "worst wet bulb difference, per kelvin of depression [-]",
            "psychrolib (thermodynamic wet bulb; a ventilated one stays 1 to 2 % of the depression above)",
            f"{STATES} random states, dew point above 0 °C",
            0.0,
            0.02,
            _thermodynamic_difference,
            "other program",
        ),
        Check(
            "worst residual of the psychrometer equation [K]",
            "Jenne 1980, after Smithsonian Tables p. 365, with its own saturation formula",
            f"{STATES} random states, -15 to 45 °C",
            0.0,
            0.02,
            _psychrometer_residual,
        ),
    ),
)
