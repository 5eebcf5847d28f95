"""Winter chill: portions of the Dynamic Model, Utah units beside them, and the hours that daily means stand for."""

import numpy as np

from carewatch.forecast.weather import Array

# Dynamic Model (Fishman, Erez & Couvillon 1987, J. Theor. Biol. 124:473 and 126:309; Erez et al. 1990, Acta Hort.
# 276:165): activation energies over the gas constant [K], rates [h⁻¹], slope, temperature of transition [K]. These
# constants go with a zero of 273 K.
ENERGY_FORMED_K, ENERGY_LOST_K = 4153.5, 12888.8
RATE_FORMED_H, RATE_LOST_H = 139500.0, 2.567e18
SLOPE, TRANSITION_K, ZERO_K = 1.6, 277.0, 273.0
# Utah model (Richardson, Seeley & Walker 1974, HortScience 9:331): upper ends of the classes, which belong to them, and
# units per hour. [°C], [h⁻¹]
UTAH_UPPER_C = (1.4, 2.4, 9.1, 12.4, 15.9, 18.0)
UTAH_UNITS = np.array([0.0, 0.5, 1.0, 0.5, 0.0, -0.5, -1.0])
# Warmest to coldest hour of a day outdoors in the chilling half of the year (5 to 9 K in four typical years from Lisbon
# to Chicago; any of these gives the portions of the real hours within a tenth). Estimate. [K]
DAILY_RANGE_K = 7.0
WARMEST_H = 15.0


def chill_portions(air_temp_c: Array) -> Array:
    """
    Chill portions that each hour completes, shape (hour,).

    air_temp_c: hourly, shape (hour,). [°C]

    A precursor forms in the cold and is lost in warmth; whenever one portion of it has come together, cold of about
    4 °C and more fixes it for good. Source: Fishman, Erez & Couvillon 1987.
    """
    kelvin = air_temp_c + ZERO_K
    # The logistic is all but 0 or 1 a few kelvins from its middle.
    fixing = np.clip(SLOPE * TRANSITION_K * (kelvin - TRANSITION_K) / kelvin, -50.0, 50.0)
    fixed = 1.0 / (1.0 + np.exp(-fixing))
    steady = RATE_FORMED_H / RATE_LOST_H * np.exp((ENERGY_LOST_K - ENERGY_FORMED_K) / kelvin)
    left = np.exp(-RATE_LOST_H * np.exp(-ENERGY_LOST_K / kelvin))
    completed = np.zeros(air_temp_c.size)
    precursor = 0.0
    for hour, (goal, kept, share) in enumerate(zip(steady.tolist(), left.tolist(), fixed.tolist(), strict=True)):
        precursor = goal - (goal - precursor) * kept
        if precursor >= 1.0:
            completed[hour] = share * precursor
            precursor *= 1.0 - share
    return completed


def utah_units(air_temp_c: Array) -> Array:
    """
    Utah chill units of each hour, which may be negative, shape as given.

    air_temp_c: hourly. [°C]
    Source: Richardson, Seeley & Walker 1974, HortScience 9:331-332.
    """
    result: Array = UTAH_UNITS[np.searchsorted(UTAH_UPPER_C, air_temp_c, side="left")]
    return result


def hourly_course_c(mean_c: Array, range_k: float) -> Array:
    """
    Temperature of each hour of days of which only the mean is known, shape (day × 24,). [°C]

    mean_c: of the day, shape (day,). [°C]; range_k: from the coldest hour to the warmest. [K]
    A sine with its peak at three in the afternoon (the simplest of the courses that Linvill 1990, HortScience 25:14,
    compares; the mean decides, the course hardly).
    """
    hour = np.arange(24.0)
    wave = 0.5 * range_k * np.cos(2.0 * np.pi * (hour - WARMEST_H) / 24.0)
    return (mean_c[:, None] + wave).ravel()


def daily_portions(mean_c: Array, range_k: float) -> Array:
    """
    Chill portions that each day completes, shape (day,).

    mean_c: of the day, shape (day,). [°C]; range_k: from the coldest hour to the warmest. [K]
    """
    result: Array = chill_portions(hourly_course_c(mean_c, range_k)).reshape(-1, 24).sum(axis=1)
    return result


def competence(portions: Array, needed: float, cost: float) -> Array:
    """
    How far buds answer to warmth: 1 once they have had their chill, exponentially less before. [0-1]

    portions: had so far, shape (day,); needed: for full competence; cost: exponent at no chill at all. [-]

    So that warmth without enough chill opens them, too, late and after more of it. Source: form after Hänninen 1990
    (Acta For. Fenn. 213, parallel model); that the thermal time of bud break falls exponentially with chill: Cannell &
    Smith 1983 (J. Appl. Ecol. 20:951, Sitka spruce: 67.4 + 4401.8·exp(-0.042 days), numbers from memory).
    """
    if needed <= 0.0:
        return np.ones_like(portions)
    result: Array = np.exp(-cost * np.maximum(0.0, 1.0 - portions / needed))
    return result


def growing_degree_days(mean_c: Array, base_c: float) -> Array:
    """
    Thermal time of each day: the mean above a base, never negative. [°C d]

    mean_c: of the day, or half the sum of its extremes; base_c: the same unit.
    Source: the simple mean method, as the Western Regional Climate Center prints it.
    """
    result: Array = np.maximum(mean_c - base_c, 0.0)
    return result
