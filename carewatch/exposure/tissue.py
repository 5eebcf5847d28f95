"""Temperature of leaf or bud and its transpiration: once with all the water it asks for, once with closed stomata."""

from dataclasses import dataclass

import numpy as np

from carewatch.exposure.columns import Traits
from carewatch.exposure.surroundings import Surroundings
from carewatch.forecast.weather import Array
from carewatch.physics.humidity import saturation_vapour_pressure_kpa
from carewatch.physics.leaf import EMISSIVITY, organ_temperature_c

# A green leaf absorbs half of the sun's energy (Campbell & Norman 1998, table 11.3: 0.5 in the short wave). [-]
ABSORPTIVITY = 0.5
# Light at which stomata are half open (order of Campbell & Norman 1998, section 14.5; from memory). [W m⁻²]
HALF_OPEN_WM2 = 100.0
# Deficit at which stomata have closed by half (Leuning 1995: D0 about 1.5 kPa; from memory). [kPa]
HALF_CLOSED_KPA = 1.5
# Three steps of the solver end within 0.06 K, far inside what a forecast knows (physics.leaf).
SOLVER_STEPS = 3
# Hours that are solved together. Measured. [h]
CHUNK_H = 12


@dataclass(frozen=True)
class Tissue:
    """
    Organ that faces the sky, arrays (hour, member, column).

    supplied_c, closed_c: temperature with open and with closed stomata. [°C]
    demand_mol, closed_mol: transpiration in both states, per one-sided leaf area. [mol m⁻² s⁻¹]
    vpd_kpa: of the air at the crown. [kPa]
    """

    supplied_c: Array
    closed_c: Array
    demand_mol: Array
    closed_mol: Array
    vpd_kpa: Array


def tissue(around: Surroundings, traits: Traits) -> Tissue:
    """Both states of every column's outermost leaf, or its buds where it has no leaves."""
    faces_sun = np.maximum(around.sun_sine, 0.5)
    sunlight = around.beam_wm2 * faces_sun + around.diffuse_wm2 + around.reflected_wm2
    absorbed = ABSORPTIVITY * sunlight + EMISSIVITY * (around.longwave_down_wm2 + around.longwave_up_wm2)
    deficit = saturation_vapour_pressure_kpa(around.crown_air_c) - around.vapour_kpa
    opening = sunlight / (sunlight + HALF_OPEN_WM2) / (1.0 + np.maximum(deficit, 0.0) / HALF_CLOSED_KPA)
    open_mol = traits.closed_mol + np.maximum(traits.stomatal_mol - traits.closed_mol, 0.0) * opening
    supplied, demand, closed, loss = (np.empty_like(absorbed) for _ in range(4))
    shut_mol = traits.closed_mol + np.zeros(absorbed.shape[1:])
    # A day at a time: what the solver goes over many times then stays in the cache.
    for start in range(0, absorbed.shape[0], CHUNK_H):
        part = slice(start, start + CHUNK_H)
        air = (around.crown_air_c[part], around.vapour_kpa[part], around.wind_ms[part])
        rest = (absorbed[part], around.pressure_kpa[part], traits.dimension_m)
        supplied[part], demand[part] = organ_temperature_c(*air, *rest, open_mol[part], SOLVER_STEPS)
        closed[part], loss[part] = organ_temperature_c(*air, *rest, shut_mol, SOLVER_STEPS)
    return Tissue(supplied, closed, demand, loss, deficit)


def limited_c(parts: Tissue, rate_mol: Array) -> Array:
    """
    Temperature of the organ at the transpiration its roots allow, between closed and supplied. [°C]

    rate_mol: what it gives off. [mol m⁻² s⁻¹]. Between the two states temperature is linear in the rate to 0.05 K.
    """
    span = parts.demand_mol - parts.closed_mol
    share = np.clip((parts.demand_mol - rate_mol) / np.where(span > 1e-9, span, np.inf), 0.0, 1.0)
    return parts.supplied_c + share * (parts.closed_c - parts.supplied_c)
