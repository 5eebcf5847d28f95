"""Temperature of leaf or bud and its transpiration: once with all the water it asks for, once with closed stomata."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
# From the supplied leaf on two steps are enough for the closed one (tests/properties pins it).
FURTHER_STEPS = 2
# Hours that are solved together at most. Measured. [h]
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
    shut_mol = traits.closed_mol * (traits.tender + (1.0 - traits.tender) * cuticle_share(around.crown_air_c))
    open_mol = shut_mol + np.maximum(traits.stomatal_mol - traits.closed_mol, 0.0) * opening
    supplied, demand, closed, loss = (np.empty_like(absorbed) for _ in range(4))
    # A day at a time: what the solver goes over many times then stays in the cache.
    opens = (open_mol != shut_mol).any(axis=(1, 2))
    for part in _runs(opens):
        air = (around.crown_air_c[part], around.vapour_kpa[part], around.wind_ms[part])
        rest = (absorbed[part], around.pressure_kpa[part], traits.dimension_m)
        supplied[part], demand[part] = organ_temperature_c(*air, *rest, open_mol[part], SOLVER_STEPS)
        if opens[part.start]:
            closed[part], loss[part] = organ_temperature_c(*air, *rest, shut_mol[part], FURTHER_STEPS, supplied[part])
        else:
            # In the dark, and on bare trees, all stomata are closed: one solution is both.
            closed[part], loss[part] = supplied[part], demand[part]
    return Tissue(supplied, closed, demand, loss, deficit)


def cuticle_share(temp_c: Array) -> Array:
    """
    Share of their conductance at 25 °C that closed leaves keep at a temperature. [0-1]

    temp_c: [°C]. Above 25 °C it is left at 1.

    Permeability of cuticles doubles on average from 15 to 35 °C (Riederer & Schreiber 2001, J. Exp. Bot. 52:2023), a
    factor of 2^((T - 25)/20); the square here is within 0.04 of it from -10 to 25 °C and costs no power.
    """
    share = np.minimum(np.maximum((temp_c + 45.0) / 70.0, 0.0), 1.0)
    return share * share


def _runs(opens: NDArray[np.bool_]) -> Iterator[slice]:
    """Hours in pieces that fit the cache and are of one kind."""
    start = 0
    for hour in range(1, opens.size + 1):
        if hour == opens.size or hour - start == CHUNK_H or opens[hour] != opens[start]:
            yield slice(start, hour)
            start = hour


def limited_c(supplied_c: Array, closed_c: Array, demand_mol: Array, closed_mol: Array, rate_mol: Array) -> Array:
    """
    Temperature of the organ at the transpiration its roots allow, between closed and supplied. [°C]

    The first four as in Tissue; rate_mol: what it gives off. [mol m⁻² s⁻¹]. Between the two states temperature is
    linear in the rate to 0.05 K.
    """
    span = demand_mol - closed_mol
    share = (demand_mol - rate_mol) / np.where(span > 1e-9, span, np.inf)
    np.minimum(np.maximum(share, 0.0, out=share), 1.0, out=share)
    share *= closed_c - supplied_c
    share += supplied_c
    return share
