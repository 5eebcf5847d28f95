"""Solar position, sunrise, day length, and the division of global radiation."""

import warnings
from functools import cache

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from pvlib import clearsky, irradiance, solarposition, spa

from carewatch.physics.sun import (
    SOLAR_CONSTANT_WM2,
    SunPosition,
    clear_sky_global_wm2,
    cloud_transmission,
    day_length_h,
    declination_rad,
    inverse_relative_distance,
    split_beam_diffuse,
    sun_position,
    sun_times_utc,
    sunset_hour_angle_rad,
)
from tests.reference.registry import Chapter, Check, one, worst

NREL = "Reda & Andreas 2004, NREL/TP-560-34302, table A5.1"
NREL_INPUTS = "2003-10-17 19:30:30 UTC, 39.742476 N, 105.1786 W, 1830.14 m, 820 hPa, 11 °C, ΔT 67 s"
FAO_8 = "FAO-56 example 8"
FAO_8_INPUTS = "3 September, 20° S"
STATES = 2000


@cache
def _nrel_position(pressure_kpa: float) -> SunPosition:
    return sun_position(
        np.array(["2003-10-17T19:30:30"], dtype="datetime64[s]"),
        39.742476,
        -105.1786,
        1830.14,
        pressure_kpa=pressure_kpa,
        air_temp_c=11.0,
        delta_t_s=67.0,
    )


def _time_of_day_s(time: NDArray[np.datetime64]) -> float:
    return float((time - time.astype("datetime64[D]")).astype("timedelta64[s]").astype(np.int64)[0])


def _golden_days() -> NDArray[np.datetime64]:
    return np.array(["2003-10-17"], dtype="datetime64[D]")


@cache
def _almanac_differences() -> tuple[float, float]:
    """Worst elevation and azimuth difference to a low-order almanac (sun higher than 5°, lower than 85°). [°]"""
    random = np.random.default_rng(1)
    worst_elevation, worst_azimuth = 0.0, 0.0
    for _ in range(20):
        latitude, longitude = random.uniform(-65.0, 65.0), random.uniform(-180.0, 180.0)
        seconds = random.integers(1_577_836_800, 1_893_456_000, STATES // 20)
        times = pd.DatetimeIndex(pd.to_datetime(seconds, unit="s", utc=True))
        with warnings.catch_warnings():
            # pvlib's almanac calls pandas in a way that a later pandas will refuse.
            warnings.simplefilter("ignore")
            almanac = solarposition.ephemeris(times, latitude, longitude, pressure=101325.0, temperature=12.0)
        ours = sun_position(seconds.astype("datetime64[s]"), latitude, longitude, 0.0, pressure_kpa=101.325)
        up = (ours.elevation_deg > 5.0) & (ours.elevation_deg < 85.0)
        azimuth = (ours.azimuth_deg - almanac["azimuth"].to_numpy() + 180.0) % 360.0 - 180.0
        worst_elevation = max(worst_elevation, worst((ours.elevation_deg - almanac["apparent_elevation"])[up]))
        worst_azimuth = max(worst_azimuth, worst((azimuth * np.cos(np.radians(ours.elevation_deg)))[up]))
    return worst_elevation, worst_azimuth


@cache
def _rising_and_setting_differences() -> tuple[float, float]:
    """Worst difference of sunrise and sunset to SPA's own interpolated times, 20 places, 100 days each. [s]"""
    random = np.random.default_rng(2)
    worst_rise, worst_set = 0.0, 0.0
    for _ in range(20):
        # Nearer than this to Greenwich and the equator both fall on the UT day, which SPA's times are bound to.
        latitude, longitude = random.uniform(-50.0, 50.0), random.uniform(-40.0, 40.0)
        days = np.sort(random.integers(18_262, 21_914, STATES // 20)).astype("datetime64[D]")
        midnight = days.astype("datetime64[s]").astype(np.int64).astype(np.float64)
        _, rise, fall = spa.transit_sunrise_sunset(midnight, latitude, longitude, 69.2, 1)
        ours_rise, ours_fall = sun_times_utc(days, latitude, longitude)
        worst_rise = max(worst_rise, worst(ours_rise.astype(np.int64) - rise))
        worst_set = max(worst_set, worst(ours_fall.astype(np.int64) - fall))
    return worst_rise, worst_set


@cache
def _split_states() -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Random global radiation, elevation, day of year and extraterrestrial radiation."""
    random = np.random.default_rng(3)
    elevation = random.uniform(5.0, 85.0, STATES)
    day = random.integers(1, 366, STATES).astype(np.float64)
    outside = np.asarray(irradiance.get_extra_radiation(day), dtype=np.float64)
    # Clearer than this, a low sun meets the ceiling of clean air, which is carewatch's own.
    clearness = random.uniform(0.0, np.where(elevation > 30.0, 0.75, 0.6))
    return clearness * outside * np.sin(np.radians(elevation)), elevation, day, outside


def _erbs_difference(column: str) -> float:
    total, elevation, day, outside = _split_states()
    direct_normal, diffuse = split_beam_diffuse(total, elevation, outside)
    theirs = irradiance.erbs(total, 90.0 - elevation, day)
    return worst({"dni": direct_normal, "dhi": diffuse}[column] - theirs[column])


def _closure() -> float:
    random = np.random.default_rng(4)
    total, elevation = random.uniform(0.0, 1300.0, STATES), random.uniform(-10.0, 90.0, STATES)
    direct_normal, diffuse = split_beam_diffuse(total, elevation, np.full(STATES, 1361.0))
    return worst(direct_normal * np.sin(np.radians(elevation)) + diffuse - total)


def _haurwitz_difference() -> float:
    elevation = np.linspace(0.5, 90.0, STATES)
    theirs = clearsky.haurwitz(pd.Series(90.0 - elevation))["ghi"].to_numpy()
    return worst(clear_sky_global_wm2(elevation, one(SOLAR_CONSTANT_WM2)) - theirs)


def _distance_difference_pct() -> float:
    year = np.arange(1.0, 366.0)
    theirs = irradiance.get_extra_radiation(year, solar_constant=1.0, method="spencer")
    return worst(100.0 * (inverse_relative_distance(year) / theirs - 1.0))


def _highest(date: str, latitude: float) -> float:
    """Highest elevation of that day at Greenwich's meridian, minute by minute, without refraction. [°]"""
    times = np.datetime64(date, "m") + np.arange(24 * 60)
    return float(sun_position(times.astype("datetime64[s]"), latitude, 0.0, 0.0, pressure_kpa=0.0).elevation_deg.max())


CHAPTER = Chapter(
    "Sun",
    (
        Check(
            "zenith, refracted [°]",
            NREL,
            NREL_INPUTS,
            50.11162,
            0.0003,
            lambda: 90.0 - _nrel_position(82.0).elevation_deg,
        ),
        Check("azimuth from north [°]", NREL, NREL_INPUTS, 194.34024, 0.0003, lambda: _nrel_position(82.0).azimuth_deg),
        Check(
            "elevation, refracted [°]", NREL, NREL_INPUTS, 39.888378, 1e-5, lambda: _nrel_position(82.0).elevation_deg
        ),
        Check(
            "elevation without air [°]",
            NREL,
            NREL_INPUTS + ", no refraction",
            39.872046,
            1e-5,
            lambda: _nrel_position(0.0).elevation_deg,
        ),
        Check(
            "sunrise [s after midnight UTC]",
            "NREL SPA tester output",
            "2003-10-17, 39.742476 N, 105.1786 W: 06:12:43 local",
            13 * 3600 + 12 * 60 + 43,
            2.0,
            lambda: _time_of_day_s(sun_times_utc(_golden_days(), 39.742476, -105.1786)[0]),
            "from memory",
        ),
        Check(
            "sunset [s after midnight UTC]",
            "NREL SPA tester output (its days are UT days: this is the evening of the 16th)",
            "2003-10-17 UT, 39.742476 N, 105.1786 W: 17:20:19 local",
            20 * 60 + 19,
            2.0,
            lambda: _time_of_day_s(sun_times_utc(_golden_days() - 1, 39.742476, -105.1786)[1]),
            "from memory",
        ),
        Check(
            "relative distance dr [-]", FAO_8, FAO_8_INPUTS, 0.985, 0.0005, lambda: inverse_relative_distance(one(246))
        ),
        Check("declination [rad]", FAO_8, FAO_8_INPUTS, 0.120, 0.0005, lambda: declination_rad(one(246))),
        Check(
            "sunset hour angle [rad]",
            FAO_8,
            FAO_8_INPUTS,
            1.527,
            0.0005,
            lambda: sunset_hour_angle_rad(one(246), -20.0),
        ),
        Check(
            "daylight hours [h]", "FAO-56 example 9", FAO_8_INPUTS, 11.7, 0.05, lambda: day_length_h(one(246), -20.0)
        ),
        Check(
            "daylight hours [h]",
            "FAO-56 example 10",
            "15 May, 22°54' S",
            10.9,
            0.05,
            lambda: day_length_h(one(135), -22.9),
        ),
        Check(
            "daylight hours [h]",
            "FAO-56 example 17",
            "15 April, 13°44' N",
            12.31,
            0.01,
            lambda: day_length_h(one(105), 13.73),
        ),
        Check(
            "daylight hours [h]",
            "FAO-56 example 18",
            "6 July, 50°48' N",
            16.1,
            0.05,
            lambda: day_length_h(one(187), 50.8),
        ),
        Check(
            "worst distance of the sun, squared [%]",
            "pvlib, Spencer 1971",
            "every day of a year",
            0.0,
            0.3,
            _distance_difference_pct,
            "other program",
        ),
        Check(
            "daylight, midnight sun [h]",
            "definition",
            "21 June, 70° N",
            24.0,
            1e-9,
            lambda: day_length_h(one(172), 70.0),
            "arithmetic",
        ),
        Check(
            "daylight, polar night [h]",
            "definition",
            "21 June, 70° S",
            0.0,
            1e-9,
            lambda: day_length_h(one(172), -70.0),
            "arithmetic",
        ),
        Check(
            "highest sun, summer [°]",
            "definition, 90 - |φ - δ|",
            "21 June 2023, 40° N, no air",
            73.44,
            0.1,
            lambda: _highest("2023-06-21", 40.0),
            "arithmetic",
        ),
        Check(
            "highest sun, winter [°]",
            "definition, 90 - |φ - δ|",
            "21 December 2023, 40° N, no air",
            26.56,
            0.1,
            lambda: _highest("2023-12-21", 40.0),
            "arithmetic",
        ),
        Check(
            "highest sun, summer [°]",
            "definition, 90 - |φ - δ|",
            "21 December 2023, 40° S, no air",
            73.44,
            0.1,
            lambda: _highest("2023-12-21", -40.0),
            "arithmetic",
        ),
        Check(
            "worst elevation difference [°]",
            "pvlib ephemeris (low-order almanac, ±0.02°)",
            f"{STATES} random states",
            0.0,
            0.03,
            lambda: _almanac_differences()[0],
            "other program",
        ),
        Check(
            "worst azimuth difference [° on the sky]",
            "pvlib ephemeris (low-order almanac, ±0.02°)",
            f"{STATES} random states",
            0.0,
            0.03,
            lambda: _almanac_differences()[1],
            "other program",
        ),
        Check(
            "worst sunrise difference [s]",
            "SPA's interpolated times (A.2), pvlib",
            f"{STATES} random days",
            0.0,
            3.0,
            lambda: _rising_and_setting_differences()[0],
            "other program",
        ),
        Check(
            "worst sunset difference [s]",
            "SPA's interpolated times (A.2), pvlib",
            f"{STATES} random days",
            0.0,
            3.0,
            lambda: _rising_and_setting_differences()[1],
            "other program",
        ),
        Check(
            "clear sky, worst difference [W m⁻²]",
            "pvlib haurwitz",
            f"{STATES} elevations",
            0.0,
            1e-9,
            _haurwitz_difference,
            "other program",
        ),
        Check(
            "overcast lets through [-]",
            "Kasten & Czeplak 1980",
            "n = 1",
            0.25,
            1e-9,
            lambda: cloud_transmission(one(1.0)),
            "from memory",
        ),
        Check(
            "clear lets through [-]",
            "Kasten & Czeplak 1980",
            "n = 0",
            1.0,
            1e-9,
            lambda: cloud_transmission(one(0.0)),
            "from memory",
        ),
        Check(
            "worst beam difference [W m⁻²]",
            "pvlib erbs",
            f"{STATES} random states",
            0.0,
            1e-6,
            lambda: _erbs_difference("dni"),
            "other program",
        ),
        Check(
            "worst diffuse difference [W m⁻²]",
            "pvlib erbs",
            f"{STATES} random states",
            0.0,
            1e-6,
            lambda: _erbs_difference("dhi"),
            "other program",
        ),
        Check(
            "beam and diffuse make global [W m⁻²]",
            "definition",
            f"{STATES} random states, impossible ones too",
            0.0,
            1e-9,
            _closure,
            "arithmetic",
        ),
    ),
)
