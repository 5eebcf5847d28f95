"""Longwave radiation of sky and surfaces."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial
from importlib.util import find_spec
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from carewatch.physics.humidity import dew_point_c, saturation_vapour_pressure_kpa
from carewatch.physics.radiation import blackbody_wm2, sky_emissivity_clear, sky_longwave_wm2
from tests.reference.registry import Chapter, Check, one

PRATA = "Prata 1996, Q. J. R. Meteorol. Soc. 122:1127"
KONZELMANN = "Konzelmann et al. 1994, Global Planet. Change 9:143, with Prata's clear sky"
# Measured under a sky whose cloud observers gave in octas: octas, number of synoptic observations, and the means of
# air temperature, dew point [°C] and longwave down [W m⁻²] over the half hour around them, from the station's file.
PAYERNE = "measured: Payerne, June 2016, Baseline Surface Radiation Network (station file of MeteoSwiss)"
OCTAS = (
    (0, 9, 20.7, 18.1, 352),
    (1, 11, 21.5, 16.4, 352),
    (2, 12, 17.8, 13.0, 320),
    (3, 11, 19.2, 15.4, 343),
    (4, 4, 15.9, 13.3, 330),
    (5, 16, 17.5, 14.1, 340),
    (6, 18, 17.2, 12.9, 344),
    (7, 35, 16.6, 14.2, 363),
    (8, 62, 14.6, 13.9, 370),
)
# Air, humidity and octas are observed; the longwave is not measured but computed by the weather service: clear skies as
# 9.9e-6 sigma T^6 to 0.3 %, clouded ones from the kinds of cloud that were seen (Czeplak & Kasten 1987, from memory).
# Its clear sky knows no vapour and is 10 to 20 W m⁻² warmer than the others on summer days; its covered sky is 0.90 of
# a black body in the mean, where 0.95 was measured at Payerne. What frost nights need is compared.
TEST_YEARS = "computed: 15 test reference years 2010, German weather service (package demandlib)"
# What good methods reach in half hours: -9 to 4 W m⁻² in the mean, 11 to 22 root mean square (Crawford & Duchon 1999).
REACHED_BIAS_WM2 = 9.0
REACHED_RMS_WM2 = (11.0, 22.0)


def _vapour(temp_c: float, humidity_pct: float) -> NDArray[np.float64]:
    return saturation_vapour_pressure_kpa(one(temp_c)) * humidity_pct / 100.0


def _emissivity(temp_c: float, humidity_pct: float) -> NDArray[np.float64]:
    return sky_emissivity_clear(_vapour(temp_c, humidity_pct), one(temp_c))


def _effective_emissivity(cloud: float) -> NDArray[np.float64]:
    """Of the sky over air at 10 °C and 70 %. [-]"""
    dew_point = dew_point_c(_vapour(10.0, 70.0))
    return sky_longwave_wm2(one(10.0), dew_point, one(cloud)) / blackbody_wm2(one(10.0))


def _sky_longwave(air_c: float, dew_c: float, cloud: float) -> NDArray[np.float64]:
    return sky_longwave_wm2(one(air_c), one(dew_c), one(cloud))


def _spread_of_formulas(which: Callable[..., float]) -> float:
    """Least or greatest of five other clear-sky formulas at 0 °C and 80 %. [W m-2]"""
    e_hpa, kelvin = 6.108 * 0.80, 273.15
    emissivities = (
        0.52 + 0.065 * e_hpa**0.5,
        9.365e-6 * kelvin**2,
        1.0 - 0.261 * float(np.exp(-7.77e-4 * (273.0 - kelvin) ** 2)),
        0.70 + 5.95e-5 * e_hpa * float(np.exp(1500.0 / kelvin)),
        1.24 * (e_hpa / kelvin) ** (1.0 / 7.0),
    )
    return which(emissivities) * 5.670374419e-8 * kelvin**4


@dataclass(frozen=True)
class _Sky:
    """Hours of test years: octas [0-8], whether a night below 5 °C, carewatch's longwave less the file's. [W m⁻²]"""

    octas: NDArray[np.float64]
    frosty: NDArray[np.bool_]
    difference: NDArray[np.float64]


@cache
def _test_years() -> _Sky:
    """Every hour in which the sky could be seen."""
    package = find_spec("demandlib")
    if package is None or not package.submodule_search_locations:
        raise ModuleNotFoundError("demandlib, of the extra `test`")
    folder = Path(package.submodule_search_locations[0]) / "vdi" / "resources_weather"
    rows = np.concatenate([_rows(path) for path in sorted(folder.glob("TRY2010_*_Jahr.dat"))])
    rows = rows[rows[:, 5] <= 8.0]
    octas, air, pressure_hpa, mixing_g_kg, direct, diffuse, down = (rows[:, at] for at in (5, 8, 9, 10, 13, 14, 16))
    dew_point = np.minimum(dew_point_c(0.1 * pressure_hpa * mixing_g_kg / (622.0 + mixing_g_kg)), air)
    frosty = (direct + diffuse == 0.0) & (air < 5.0)
    return _Sky(octas, frosty, sky_longwave_wm2(air, dew_point, octas / 8.0) - down)


def _rows(path: Path) -> NDArray[np.float64]:
    lines = path.read_text(encoding="utf-8", errors="replace").splitlines()
    first = next(index for index, line in enumerate(lines) if line.startswith("***")) + 1
    return np.array([line.split() for line in lines[first:] if line.strip()], dtype=np.float64)


def _test_year_bias(least: float, most: float, nights: bool) -> float:
    """Mean difference at so many octas, of all hours or of nights below 5 °C. [W m⁻²]"""
    sky = _test_years()
    chosen = (sky.octas >= least) & (sky.octas <= most) & (sky.frosty | (not nights))
    return float(sky.difference[chosen].mean())


def _test_year_rms() -> float:
    return float(np.sqrt((_test_years().difference ** 2).mean()))


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
                PRATA,
                f"{temp} °C, {humidity} %",
                emissivity,
                0.001,
                partial(_emissivity, temp, humidity),
                "from memory",
            )
            for temp, humidity, emissivity in ((20, 50, 0.788), (10, 70, 0.766), (0, 80, 0.732), (-5, 70, 0.711))
        ),
        *(
            Check(
                "emissivity of a clouded sky [-]",
                KONZELMANN,
                f"10 °C, 70 %, cloud {cloud}",
                emissivity,
                0.001,
                partial(_effective_emissivity, cloud),
                "from memory",
            )
            for cloud, emissivity in ((0.0, 0.766), (0.5, 0.777), (1.0, 0.952))
        ),
        Check(
            "clear sky within five other formulas [W m⁻²]",
            "Brunt 1932, Swinbank 1963, Idso & Jackson 1969, Brutsaert 1975, Idso 1981",
            "0 °C, 80 %: middle and half width of their range",
            0.5 * (_spread_of_formulas(min) + _spread_of_formulas(max)),
            0.5 * (_spread_of_formulas(max) - _spread_of_formulas(min)),
            lambda: _emissivity(0.0, 80.0) * blackbody_wm2(one(0.0)),
            "from memory",
        ),
        *(
            Check(
                "longwave of the sky [W m⁻²]",
                PAYERNE,
                f"{octas} octas, mean of {count} observations: {air} °C, dew point {dew} °C",
                float(longwave),
                REACHED_RMS_WM2[0],
                partial(_sky_longwave, air, dew, octas / 8.0),
                "published",
            )
            for octas, count, air, dew, longwave in OCTAS
        ),
        *(
            Check(
                "longwave of the sky, mean difference [W m⁻²]",
                TEST_YEARS,
                what,
                0.0,
                REACHED_BIAS_WM2,
                partial(_test_year_bias, least, most, nights),
                "other program",
            )
            for what, least, most, nights in (
                ("all hours", 0.0, 8.0, False),
                ("nights below 5 °C, all", 0.0, 8.0, True),
                ("nights below 5 °C, 0 to 2 octas", 0.0, 2.0, True),
                ("nights below 5 °C, 3 to 6 octas", 3.0, 6.0, True),
            )
        ),
        Check(
            "longwave of the sky, root mean square difference [W m⁻²]",
            TEST_YEARS,
            "all hours: 11 to 22 is what methods reach against measurements (Crawford & Duchon 1999)",
            0.5 * sum(REACHED_RMS_WM2),
            0.5 * (REACHED_RMS_WM2[1] - REACHED_RMS_WM2[0]),
            _test_year_rms,
            "other program",
        ),
    ),
)
