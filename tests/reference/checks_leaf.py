"""The leaf's balance against another program's printed answer, and its boundary layer against other textbooks."""

from functools import cache, partial

import numpy as np
from numpy.typing import NDArray

from carewatch.physics.humidity import saturation_vapour_pressure_kpa
from carewatch.physics.leaf import (
    EMISSIVITY,
    LATENT_VAPOUR,
    MOLAR_HEAT,
    boundary_vapour_mol,
    heat_conductance_mol,
    organ_temperature_c,
)
from carewatch.physics.radiation import blackbody_wm2
from tests.reference.registry import Chapter, Check, one

Array = NDArray[np.float64]

TEALEAVES = "tealeaves (R), printed in its introduction: Nu 0.60 Re^0.5 where carewatch has Campbell & Norman's"
TEALEAVES_INPUTS = "25 °C, 50 %, 2 m/s, 10 cm, 1363.8 W/m² on both faces, stomata 2.5 µmol m⁻² s⁻¹ Pa⁻¹ per face"
# What carewatch raises conductances by outdoors (Campbell & Norman 1998, section 7.9): forced convection in laminar
# streams is that of a wind weaker by its square.
OUTDOORS = 1.4
# Moles of air per cubic metre at 20 and 25 °C, 1013 hPa.
MOLAR_20, MOLAR_25 = 41.6, 40.9


def _laminar_ms(wind_ms: float) -> Array:
    return one(wind_ms / OUTDOORS**2)


@cache
def _tealeaves() -> tuple[float, float]:
    """Temperature and transpiration of the default leaf of that program. [°C], [mol m⁻² s⁻¹]"""
    wind, size = _laminar_ms(2.0), one(0.1)
    face = 2.5e-6 * 101_324.6
    boundary = float(boundary_vapour_mol(wind, size))
    both = 2.0 * face * boundary / (face + boundary)
    leaf, rate = organ_temperature_c(
        one(25.0),
        0.5 * saturation_vapour_pressure_kpa(one(25.0)),
        wind,
        one(1363.813),
        one(101.3246),
        size,
        # Stomata on one face that let out as much as these on each of two.
        one(both * boundary / (boundary - both)),
    )
    return float(leaf), float(rate)


def _sensible_wm2() -> float:
    excess = _tealeaves()[0] - 25.0
    return float(MOLAR_HEAT * heat_conductance_mol(_laminar_ms(2.0), one(0.1), one(excess)) * excess)


def _face_ms(wind_ms: float, dimension_m: float, molar: float) -> float:
    """Heat conductance of one face in a laminar stream. [m s⁻¹]"""
    return float(0.5 * heat_conductance_mol(_laminar_ms(wind_ms), one(dimension_m), one(0.0))) / molar


def _outdoor_layer_mm(wind_ms: float, dimension_m: float) -> float:
    """Thickness of still air that conducts as well as one face outdoors, at 0.0259 W m⁻¹ K⁻¹. [mm]"""
    film = MOLAR_HEAT * 0.5 * float(heat_conductance_mol(one(wind_ms), one(dimension_m), one(0.0)))
    return 1000.0 * 0.0259 / film


CHAPTER = Chapter(
    "Leaf",
    (
        Check("temperature [°C]", TEALEAVES, TEALEAVES_INPUTS, 28.27, 0.3, lambda: _tealeaves()[0]),
        Check("sensible heat [W m⁻²]", TEALEAVES, TEALEAVES_INPUTS, 107.36, 4.0, _sensible_wm2),
        Check(
            "latent heat [W m⁻²]",
            TEALEAVES,
            TEALEAVES_INPUTS,
            348.51,
            5.0,
            lambda: LATENT_VAPOUR * _tealeaves()[1],
        ),
        Check("transpiration [mol m⁻² s⁻¹]", TEALEAVES, TEALEAVES_INPUTS, 0.007948, 0.0001, lambda: _tealeaves()[1]),
        Check(
            "radiation given off [W m⁻²]",
            TEALEAVES,
            TEALEAVES_INPUTS,
            907.95,
            4.0,
            lambda: 2.0 * EMISSIVITY * blackbody_wm2(one(_tealeaves()[0])),
        ),
        Check(
            "heat conductance of one face [m s⁻¹]",
            "tealeaves (R), printed in its manual",
            "25 °C, 2 m/s, 10 cm; the other coefficients: 10 %",
            0.01377,
            0.0014,
            partial(_face_ms, 2.0, 0.1, MOLAR_25),
        ),
        Check(
            "vapour conductance of one face [m s⁻¹]",
            "tealeaves (R), printed in its manual",
            "25 °C, 2 m/s, 10 cm; the other coefficients: 10 %",
            0.01482,
            0.0015,
            lambda: boundary_vapour_mol(_laminar_ms(2.0), one(0.1)) / MOLAR_25,
        ),
        Check(
            "heat conductance of one face [m s⁻¹]",
            "MAESPA's equation after Leuning et al. 1995, printed in the manual of DynACof (R)",
            "3 m/s, 6.8 cm; the other coefficients: 10 %",
            0.01993,
            0.002,
            partial(_face_ms, 3.0, 0.068, MOLAR_25),
        ),
        Check(
            "heat conductance of both faces [mm s⁻¹]",
            "Jones 2014, Plants and Microclimate, ch. 3: 6.62 √(u/d)",
            "1 m/s, 5 cm",
            29.6,
            1.0,
            lambda: 2000.0 * _face_ms(1.0, 0.05, MOLAR_20),
            "from memory",
        ),
        Check(
            "still layer outdoors [mm]",
            "Nobel 2009, Physicochemical and Environmental Plant Physiology, ch. 7: 4.0 √(l/v)",
            "0.8 m/s, 10 cm; both are means of gusty air: 20 %",
            1.4,
            0.28,
            partial(_outdoor_layer_mm, 0.8, 0.1),
            "from memory",
        ),
    ),
)
