"""Reference evapotranspiration against the refet program, on random weather."""

from functools import cache
from types import SimpleNamespace

import numpy as np
import refet
from numpy.typing import NDArray

from carewatch.physics.evaporation import (
    clear_sky_mj,
    extraterrestrial_daily_mj,
    extraterrestrial_hourly_mj,
    net_radiation_daily_mj,
    net_radiation_hourly_mj,
    reference_et_daily_mm,
    reference_et_hourly_mm,
    solar_hour_angle_rad,
)
from carewatch.physics.humidity import pressure_at_kpa, saturation_vapour_pressure_kpa
from carewatch.physics.sun import declination_rad
from carewatch.physics.wind import wind_to_2m_ms
from tests.reference.registry import Chapter, Check, worst

STATES = 2000


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


def _daily_difference() -> float:
    """Worst difference to refet's daily short reference. [mm d-1]"""
    w = _weather(11)
    outside = extraterrestrial_daily_mj(w.day, w.latitude)
    solar = w.clearness * outside
    net = net_radiation_daily_mj(solar, clear_sky_mj(outside, w.elevation), w.high, w.low, w.vapour, "asce")
    ours = reference_et_daily_mm(
        w.high, w.low, w.vapour, wind_to_2m_ms(w.wind, 10.0), net, 0.0, pressure_at_kpa(w.elevation)
    )
    theirs = refet.Daily(
        tmin=w.low,
        tmax=w.high,
        rs=solar,
        uz=w.wind,
        zw=10.0,
        elev=w.elevation,
        lat=w.latitude,
        doy=w.day,
        ea=w.vapour,
        method="asce",
    )
    return worst(ours - theirs.eto())


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
    declination = declination_rad(w.day)
    angle = solar_hour_angle_rad(w.hour, w.day, w.longitude)
    phi = np.radians(w.latitude)
    sine = np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * np.cos(angle)
    return worst((ours - reference.rn)[np.arcsin(sine) > 0.3])


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


CHAPTER = Chapter(
    "Evaporation in random weather",
    (
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
    ),
)
