"""Longwave radiation of sky and surfaces."""

from collections.abc import Callable
from functools import partial

import numpy as np
from numpy.typing import NDArray

from carewatch.physics.humidity import dew_point_c, saturation_vapour_pressure_kpa
from carewatch.physics.radiation import blackbody_wm2, sky_emissivity_clear, sky_longwave_wm2
from tests.reference.registry import Chapter, Check, one

BRUTSAERT = "Brutsaert 1975, Water Resour. Res. 11:742"
CRAWFORD_DUCHON = "Crawford & Duchon 1999, J. Appl. Meteor. 38:474, with Brutsaert's clear sky"


def _vapour(temp_c: float, humidity_pct: float) -> NDArray[np.float64]:
    return saturation_vapour_pressure_kpa(one(temp_c)) * humidity_pct / 100.0


def _emissivity(temp_c: float, humidity_pct: float) -> NDArray[np.float64]:
    return sky_emissivity_clear(_vapour(temp_c, humidity_pct), one(temp_c))


def _effective_emissivity(cloud: float) -> NDArray[np.float64]:
    """Of the sky over air at 10 °C and 70 %. [-]"""
    dew_point = dew_point_c(_vapour(10.0, 70.0))
    return sky_longwave_wm2(one(10.0), dew_point, one(cloud)) / blackbody_wm2(one(10.0))


def _spread_of_formulas(which: Callable[..., float]) -> float:
    """Least or greatest of six clear-sky formulas at 0 °C and 80 %. [W m-2]"""
    e_hpa, kelvin = 6.108 * 0.80, 273.15
    water = 46.5 * e_hpa / kelvin
    emissivities = (
        0.52 + 0.065 * e_hpa**0.5,
        9.365e-6 * kelvin**2,
        1.0 - 0.261 * float(np.exp(-7.77e-4 * (273.0 - kelvin) ** 2)),
        0.70 + 5.95e-5 * e_hpa * float(np.exp(1500.0 / kelvin)),
        1.0 - (1.0 + water) * float(np.exp(-((1.2 + 3.0 * water) ** 0.5))),
    )
    return which(emissivities) * 5.670374419e-8 * kelvin**4


CHAPTER = Chapter(
    "Longwave radiation",
    (
        Check(
            "black body [W m⁻²]",
            "Stefan-Boltzmann constant, CODATA 2018",
            "0 °C",
            315.66,
            0.01,
            lambda: blackbody_wm2(one(0.0)),
            "arithmetic",
        ),
        *(
            Check(
                "emissivity of a clear sky [-]",
                BRUTSAERT,
                f"{temp} °C, {humidity} %",
                emissivity,
                0.001,
                partial(_emissivity, temp, humidity),
                "from memory",
            )
            for temp, humidity, emissivity in ((20, 50, 0.783), (10, 70, 0.753), (0, 80, 0.698), (-5, 70, 0.651))
        ),
        *(
            Check(
                "emissivity of a clouded sky [-]",
                CRAWFORD_DUCHON,
                f"10 °C, 70 %, cloud {cloud}",
                emissivity,
                0.001,
                partial(_effective_emissivity, cloud),
                "from memory",
            )
            for cloud, emissivity in ((0.0, 0.753), (0.5, 0.876), (1.0, 1.0))
        ),
        Check(
            "clear sky within five other formulas [W m⁻²]",
            "Brunt 1932, Swinbank 1963, Idso & Jackson 1969, Idso 1981, Prata 1996",
            "0 °C, 80 %: middle and half width of their range",
            0.5 * (_spread_of_formulas(min) + _spread_of_formulas(max)),
            0.5 * (_spread_of_formulas(max) - _spread_of_formulas(min)),
            lambda: _emissivity(0.0, 80.0) * blackbody_wm2(one(0.0)),
            "from memory",
        ),
    ),
)
