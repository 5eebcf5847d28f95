"""Reference evapotranspiration against the refet program, on random weather."""

from functools import cache
from types import SimpleNamespace

import numpy as np
import refet
from numpy.typing import NDArray

from carewatch.physics.evaporation import (
    Standard,
    clear_sky_mj,
    extraterrestrial_daily_mj,
    extraterrestrial_hourly_mj,
    net_radiation_daily_mj,
    net_radiation_hourly_mj,
    reference_et_daily_mm,
    reference_et_hourly_mm,
    solar_hour_angle_rad,
)
from carewatch.physics.evaporation_from_weather import (
    reference_et_from_weather_daily_mm,
    reference_et_from_weather_hourly_mm,
)
from carewatch.physics.humidity import pressure_at_kpa, saturation_vapour_pressure_kpa
from carewatch.physics.sun import declination_rad
from carewatch.physics.wind import wind_to_2m_ms
from tests.reference.registry import Chapter, Check, one, worst

STATES = 5000
# refet and the ASCE standard do not judge the cloud by a sun lower than 0.3 rad.
LOW_SUN_SINE = float(np.sin(0.3))


@cache
def _weather(seed: int) -> SimpleNamespace:
    """Random days or hours of ordinary weather."""
    random = np.random.default_rng(seed)
    w = SimpleNamespace()
    w.low = random.uniform(-5.0, 28.0, STATES)
    w.high = w.low + random.uniform(1.0, 18.0, STATES)
    w.vapour = saturation_vapour_pressure_kpa(w.low) * random.uniform(0.3, 1.0, STATES)
    w.wind = random.uniform(0.3, 12.0, STATES)
    w.elevation = random.uniform(0.0, 2500.0, STATES)
    w.latitude = random.uniform(-60.0, 60.0, STATES)
    w.longitude = random.uniform(-180.0, 180.0, STATES)
    w.day = random.integers(1, 366, STATES).astype(np.float64)
    w.hour = random.integers(0, 24, STATES).astype(np.float64)
    w.clearness = random.uniform(0.2, 0.78, STATES)
    return w


@cache
def _daily_reference() -> NDArray[np.float64]:
    """The daily short reference of refet. [mm d-1]"""
    w = _weather(11)
    return np.asarray(
        refet.Daily(
            tmin=w.low,
            tmax=w.high,
            rs=_daily_solar(),
            uz=w.wind,
            zw=10.0,
            elev=w.elevation,
            lat=w.latitude,
            doy=w.day,
            ea=w.vapour,
            method="asce",
        ).eto(),
        dtype=np.float64,
    )


def _daily_solar() -> NDArray[np.float64]:
    w = _weather(11)
    return np.asarray(w.clearness * extraterrestrial_daily_mj(w.day, w.latitude), dtype=np.float64)


def _daily_from_weather_difference(standard: Standard) -> float:
    """Worst difference to refet's daily short reference, from weather to the end. [mm d-1]"""
    w = _weather(11)
    ours = reference_et_from_weather_daily_mm(
        w.high, w.low, w.vapour, w.wind, _daily_solar(), w.day, w.latitude, w.elevation, 10.0, standard
    )
    return worst(ours - _daily_reference())


def _daily_difference() -> float:
    """Worst difference to refet's daily short reference. [mm d-1]"""
    w = _weather(11)
    outside = extraterrestrial_daily_mj(w.day, w.latitude)
    solar = w.clearness * outside
    net = net_radiation_daily_mj(solar, clear_sky_mj(outside, w.elevation), w.high, w.low, w.vapour, "asce")
    ours = reference_et_daily_mm(
        w.high, w.low, w.vapour, wind_to_2m_ms(w.wind, 10.0), net, 0.0, pressure_at_kpa(w.elevation)
    )
    return worst(ours - _daily_reference())


@cache
def _hourly_reference() -> refet.Hourly:
    w = _weather(12)
    return refet.Hourly(
        tmean=w.high,
        rs=_hourly_solar(),
        uz=w.wind,
        zw=10.0,
        elev=w.elevation,
        lat=w.latitude,
        lon=w.longitude,
        doy=w.day,
        time=w.hour,
        ea=w.vapour,
        method="asce",
    )


def _hourly_outside() -> NDArray[np.float64]:
    w = _weather(12)
    return extraterrestrial_hourly_mj(w.day, w.latitude, solar_hour_angle_rad(w.hour + 0.5, w.day, w.longitude))


def _hourly_solar() -> NDArray[np.float64]:
    return np.asarray(_weather(12).clearness * _hourly_outside(), dtype=np.float64)


def _hourly_outside_difference() -> float:
    """Worst difference to refet's extraterrestrial radiation. [MJ m-2 h-1]"""
    return worst(_hourly_outside() - _hourly_reference().ra)


def _hourly_net_difference() -> float:
    """Worst difference to refet's net radiation, where its sun is high enough to judge the cloud. [MJ m-2 h-1]"""
    w, reference = _weather(12), _hourly_reference()
    clear = clear_sky_mj(_hourly_outside(), w.elevation)
    relative = _hourly_solar() / np.where(clear > 0.0, clear, np.nan)
    ours = net_radiation_hourly_mj(_hourly_solar(), w.high, w.vapour, relative, "asce")
    # refet takes the sky as clear whenever the sun at the beginning of the hour is lower than 0.3 rad.
    return worst((ours - reference.rn)[_elevation_sine(w.hour) > LOW_SUN_SINE])


def _elevation_sine(hour_utc_h: NDArray[np.float64]) -> NDArray[np.float64]:
    """Of the sun, at these times of the hourly weather's days. [-]"""
    w = _weather(12)
    declination = declination_rad(w.day)
    angle = solar_hour_angle_rad(hour_utc_h, w.day, w.longitude)
    phi = np.radians(w.latitude)
    sine = np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * np.cos(angle)
    return np.asarray(sine, dtype=np.float64)


def _hourly_from_weather(standard: Standard) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Hourly reference from weather to the end, and where refet has the same notion of a low sun. [mm h-1]"""
    w = _weather(12)
    ours = reference_et_from_weather_hourly_mm(
        w.high,
        w.vapour,
        w.wind,
        _hourly_solar(),
        w.day,
        w.hour + 0.5,
        w.latitude,
        w.longitude,
        w.elevation,
        1.0,
        10.0,
        standard,
    )
    # carewatch asks in the middle of the hour whether the sun is low, refet at its beginning.
    alike = (_elevation_sine(w.hour) < LOW_SUN_SINE) == (_elevation_sine(w.hour + 0.5) < LOW_SUN_SINE)
    return ours, alike


def _hourly_from_weather_difference() -> float:
    """Worst difference to refet's hourly short reference, from weather to the end. [mm h-1]"""
    ours, alike = _hourly_from_weather("asce")
    return worst((ours - _hourly_reference().eto())[alike])


def _hourly_fao_difference() -> float:
    """Worst difference to refet's equation with the coefficients of FAO-56, 37 and 0.34 by day and night. [mm h-1]"""
    ours, alike = _hourly_from_weather("fao")
    theirs = _hourly_reference()
    soil = np.where(theirs.rn < 0.0, 0.5, 0.1) * theirs.rn
    reference = refet.calcs.etsz(
        theirs.rn, soil, theirs.tmean, theirs.u2, theirs.vpd, theirs.es_slope, theirs.psy, 37.0, 0.34
    )
    return worst((ours - reference)[alike])


def _hourly_difference() -> float:
    """Worst difference to refet's hourly short reference on its own net radiation, day and night. [mm h-1]"""
    w, reference = _weather(12), _hourly_reference()
    ours = reference_et_hourly_mm(
        w.high,
        w.vapour,
        wind_to_2m_ms(w.wind, 10.0),
        reference.rn,
        pressure_at_kpa(w.elevation),
        reference.rn >= 0.0,
        "asce",
    )
    return worst(ours - reference.eto())


def _fallon_hour() -> NDArray[np.float64]:
    """Fallon, Nevada, 18 to 19 h UTC on 1 July 2015, from the station's record. [mm h-1]"""
    vapour = saturation_vapour_pressure_kpa(one((49.36 - 32.0) / 1.8))
    return reference_et_from_weather_hourly_mm(
        one((91.80 - 32.0) / 1.8),
        vapour,
        one(3.33 * 0.44704),
        one(61.16 * 0.041868),
        one(182.0),
        one(18.5),
        39.4575,
        -118.77388,
        1208.5,
        1.0,
        3.0,
        "asce",
    )


def _fallon_day() -> NDArray[np.float64]:
    """The same station, the whole of that day, with the clear sky of that program. [mm d-1]"""
    high, low, vapour = (
        one((102.80 - 32.0) / 1.8),
        one((66.65 - 32.0) / 1.8),
        saturation_vapour_pressure_kpa(one((49.84 - 32.0) / 1.8)),
    )
    net = net_radiation_daily_mj(one(674.07 * 0.041868), one(31.56594), high, low, vapour, "asce")
    wind = wind_to_2m_ms(one(4.80 * 0.44704), 3.0)
    return reference_et_daily_mm(high, low, vapour, wind, net, 0.0, pressure_at_kpa(1208.5))


CHAPTER = Chapter(
    "Evaporation against another program",
    (
        Check(
            "hourly short reference [mm h⁻¹]",
            "refet's own tests (AgriMet station)",
            "Fallon, 1 July 2015 18 h UTC, 91.80 °F, dew point 49.36 °F, 3.33 mph at 3 m, 61.16 langleys",
            0.60635,
            0.0001,
            _fallon_hour,
            "other program",
        ),
        Check(
            "daily short reference [mm d⁻¹]",
            "the Ref-ET way, in refet's own tests",
            "Fallon, 1 July 2015, 66.65-102.80 °F, dew 49.84 °F, 4.80 mph at 3 m, 674.07 langleys, clear sky 31.566 MJ",
            7.942,
            0.005,
            _fallon_day,
            "other program",
        ),
        Check(
            "worst daily difference [mm d⁻¹]",
            "refet Daily, ASCE short reference (its slope is rounded: 2503)",
            f"{STATES} random days",
            0.0,
            0.001,
            _daily_difference,
            "other program",
        ),
        Check(
            "worst extraterrestrial difference [MJ m⁻² h⁻¹]",
            "refet Hourly, ASCE",
            f"{STATES} random hours",
            0.0,
            1e-6,
            _hourly_outside_difference,
            "other program",
        ),
        Check(
            "worst net radiation difference [MJ m⁻² h⁻¹]",
            "refet Hourly, ASCE (its Stefan-Boltzmann is rounded: 2.042e-10)",
            f"{STATES} random hours, sun above 17°",
            0.0,
            1e-4,
            _hourly_net_difference,
            "other program",
        ),
        Check(
            "worst hourly difference [mm h⁻¹]",
            "refet Hourly, ASCE short reference (its slope is rounded: 2503)",
            f"{STATES} random hours, day and night",
            0.0,
            1e-4,
            _hourly_difference,
            "other program",
        ),
        Check(
            "worst hourly difference from weather [mm h⁻¹]",
            "refet Hourly, ASCE short reference (roundings as above)",
            f"{STATES} random hours, day and night",
            0.0,
            2e-4,
            _hourly_from_weather_difference,
            "other program",
        ),
        Check(
            "worst hourly difference from weather [mm h⁻¹]",
            "refet's equation with FAO-56's coefficients (roundings as above, Stefan-Boltzmann 0.04 %)",
            f"{STATES} random hours, day and night",
            0.0,
            2e-4,
            _hourly_fao_difference,
            "other program",
        ),
        Check(
            "worst daily difference from weather [mm d⁻¹]",
            "refet Daily, ASCE short reference (its slope is rounded: 2503)",
            f"{STATES} random days",
            0.0,
            0.001,
            lambda: _daily_from_weather_difference("asce"),
            "other program",
        ),
        Check(
            "worst daily difference from weather, FAO-56 [mm d⁻¹]",
            "refet Daily (the same equation; Stefan-Boltzmann 4.901 for 4.903: 0.04 % of the longwave loss)",
            f"{STATES} random days",
            0.0,
            0.003,
            lambda: _daily_from_weather_difference("fao"),
            "other program",
        ),
    ),
)
