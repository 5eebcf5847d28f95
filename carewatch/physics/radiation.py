"""
Longwave radiation of the sky and of surfaces.

Every function takes float64 arrays of any shapes that broadcast and answers NaN where an input is NaN.
"""

import numpy as np
from numpy.typing import NDArray

from carewatch.physics.humidity import saturation_vapour_pressure_kpa

Hours = NDArray[np.float64]

# W m-2 K-4; CODATA 2018.
STEFAN_BOLTZMANN = 5.670374419e-8
ZERO_CELSIUS_K = 273.15


def sky_emissivity_clear(vapour_pressure_kpa: Hours, air_temp_c: Hours) -> Hours:
    """
    Emissivity of a cloudless sky, seen from the ground. [-]

    vapour_pressure_kpa: at 2 m, 0.05 to 6. [kPa]
    air_temp_c: at 2 m, -25 to 45. [°C]

    Published clear-sky formulas differ by 0.1 in cold dry air (about 35 W m-2, 2 K of a leaf's temperature on a frost
    night); this one is among the colder ones, so it errs towards warning of frost.
    Source: Brutsaert 1975, Water Resources Research 11:742-744, 1.24 (e/T)^(1/7) with e in hPa and T in K.
    """
    return 1.24 * (10.0 * vapour_pressure_kpa / (air_temp_c + ZERO_CELSIUS_K)) ** (1.0 / 7.0)


def sky_longwave_wm2(air_temp_c: Hours, dew_point_c: Hours, cloud: Hours) -> Hours:
    """
    Longwave radiation a level surface receives from an open sky. [W m-2]

    air_temp_c, dew_point_c: at 2 m, -25 to 45. [°C]
    cloud: part of the sky that is covered, 0 to 1. [-]

    A covered sky radiates at the air temperature, which is true of low cloud and too much for high thin cloud. The
    paper takes the cloud fraction from measured sunshine; a forecast's cloud cover stands in for it here, because
    the nights that matter have no sun. Its yearly sine for the clear part is not used: it was fitted to one station.
    Measured error of the method: -9 to +4 W m-2 in the monthly mean, 11 to 22 W m-2 root mean square.
    Source: Crawford & Duchon 1999, J. Appl. Meteor. 38:474-480, (clf + (1 - clf) emissivity) sigma T^4.
    """
    clear = sky_emissivity_clear(saturation_vapour_pressure_kpa(dew_point_c), air_temp_c)
    return (cloud + (1.0 - cloud) * clear) * blackbody_wm2(air_temp_c)


def blackbody_wm2(temp_c: Hours) -> Hours:
    """
    Radiation a black surface gives off. [W m-2]

    temp_c: temperature of the surface, from -273.15 upwards. [°C]

    Source: Stefan-Boltzmann law.
    """
    kelvin = temp_c + ZERO_CELSIUS_K
    squared = kelvin * kelvin
    return STEFAN_BOLTZMANN * squared * squared
