"""Root ball, water and tissue water hour by hour: what is warm, what is wet, and what the roots can bring."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carewatch.exposure.columns import Columns, Traits
from carewatch.exposure.pot_wall import WallExchange
from carewatch.exposure.tissue import Tissue
from carewatch.forecast.weather import Array
from carewatch.physics.root_ball import (
    SHELLS,
    WATER_HEAT,
    BallShape,
    ball_step,
    conductivity_shape,
    enthalpy_j,
    heat_capacities,
    shell_factors,
    temperature_c,
)

# Kilograms of water per mole, and seconds per hour.
MOLAR_MASS = 0.018
HOUR_S = 3600.0
# Stress begins when half of the available water is used (FAO-56 table 22: p about 0.5 for trees). [0-1]
EASY_SHARE = 0.5
# Substrate evaporates this share of the reference rate while its top is moist (as exposure.pot_wall). [-]
BARE_SHARE = 0.8
# Roots want at least this much air (hazards.toml: soak). [0-1]
LEAST_AIR = 0.10
# A ball that can breathe again makes good a wet hour in two (judged). [-]
BREATHING_RECOVERS = 0.5


@dataclass(frozen=True)
class RootState:
    """
    Carry-over, arrays (member, column).

    enthalpy (SHELLS, member, column) [J]; water: volumetric [0-1];
    tissue_lack_gm2: water that leaves lack [g m⁻²]; soaked_h: hours without air, as at 20 °C [h].
    """

    enthalpy: Array
    water: Array
    tissue_lack_gm2: Array
    soaked_h: Array

    def select(self, index: NDArray[np.int64]) -> "RootState":
        """State of these columns."""
        return RootState(
            self.enthalpy[..., index],
            self.water[..., index],
            self.tissue_lack_gm2[..., index],
            self.soaked_h[..., index],
        )

    def spread(self, members: int) -> "RootState":
        """The one member of an analysed past, handed to every member of what is ahead."""
        return RootState(
            np.repeat(self.enthalpy[:, :1], members, axis=1),
            np.repeat(self.water[:1], members, axis=0),
            np.repeat(self.tissue_lack_gm2[:1], members, axis=0),
            np.repeat(self.soaked_h[:1], members, axis=0),
        )


@dataclass(frozen=True)
class March:
    """
    Course of root ball and water, arrays (hour, member, column).

    shells_c: (hour, SHELLS, member, column), innermost first. [°C]; uptake: [0-1]
    supply_mol, rate_mol: what roots can bring and what leaves give off, per leaf area. [mol m⁻² s⁻¹]
    water_left: share of the available water. [0-1]; tissue_loss: share of the leaves' water that is lost. [0-1]
    soaked_h: [h]
    """

    shells_c: Array
    uptake: Array
    supply_mol: Array
    rate_mol: Array
    water_left: Array
    tissue_loss: Array
    soaked_h: Array


def start_roots(shape: BallShape, traits: Traits, soil_c: Array) -> RootState:
    """Ball at the given temperature (member, column), pot at capacity, leaves turgid, roots breathing. [°C]"""
    water = np.broadcast_to(traits.capacity, soil_c.shape).copy()
    liquid, frozen, latent = heat_capacities(shape, water, traits.porosity, traits.solid_heat_mj)
    enthalpy = np.broadcast_to(enthalpy_j(soil_c, liquid, frozen, latent), (SHELLS, *soil_c.shape)).copy()
    return RootState(enthalpy, water, np.zeros_like(soil_c), np.zeros_like(soil_c))


def march(
    wall: WallExchange,
    parts: Tissue,
    reference_mm: Array,
    rain_mm: Array,
    watering: Array,
    columns: Columns,
    traits: Traits,
    shape: BallShape,
    supply_cap_mol: float,
    uptake_points: tuple[tuple[float, float], ...],
    soak_q10: float,
    state: RootState,
) -> tuple[March, RootState]:
    """
    Walk through the hours.

    reference_mm: reference evapotranspiration at the column. [mm h⁻¹]; rain_mm: that reaches the pot. [mm]
    watering: 1 in hours in which the habit waters, (hour, column).
    Order within an hour: root ball, uptake, supply against demand, leaf water, bucket.
    """
    hours, members, count = rain_mm.shape
    shells = np.empty((hours, SHELLS, members, count))
    uptake, supply, rate, left, loss, soaked = (np.empty((hours, members, count)) for _ in range(6))
    enthalpy, water, lack, wet = state.enthalpy, state.water, state.tissue_lack_gm2, state.soaked_h
    warm, share = np.array(uptake_points).T
    wilting = traits.capacity * (1.0 - traits.available)
    litres = traits.volume_m3 * 1000.0
    pot_leaf = np.where(traits.leaf_area > 0.0, traits.root_supply / np.maximum(traits.leaf_area, 1e-6), 0.0)
    shell_water_j_k = shape.volume_m3 / SHELLS * WATER_HEAT
    ball_factors, ball_size = shell_factors(), conductivity_shape(shape)
    log_q10 = np.log(soak_q10) / 10.0
    owed = np.zeros_like(water)
    for hour in range(hours):
        liquid, frozen, latent = heat_capacities(shape, water, traits.porosity, traits.solid_heat_mj)
        conductivity = traits.conductivity_dry + (traits.conductivity_wet - traits.conductivity_dry) * np.minimum(
            water / traits.capacity, 1.0
        )
        between = np.multiply.outer(ball_factors, conductivity * ball_size)
        enthalpy, _ = ball_step(
            enthalpy, liquid, frozen, latent, between, wall.conductance_w_k[hour], wall.surround_c[hour]
        )
        temp = temperature_c(enthalpy, liquid, frozen, latent)
        takes = np.interp(temp, warm, share).sum(axis=0) / SHELLS
        available = np.clip((water - wilting) / (traits.capacity - wilting), 0.0, 1.0)
        stress = np.minimum(available / (1.0 - EASY_SHARE), 1.0)
        brings = supply_cap_mol * pot_leaf * takes * stress
        least = np.maximum(parts.closed_mol[hour], 0.0)
        wants = np.maximum(parts.demand_mol[hour], 0.0)
        gives = np.maximum(np.minimum(wants, brings), np.minimum(least, wants))
        lack = np.clip(
            lack + (gives - brings) * MOLAR_MASS * HOUR_S * 1000.0 * traits.in_leaf, 0.0, traits.leaf_water_gm2
        )
        drawn = np.minimum(gives, brings) * MOLAR_MASS * HOUR_S * traits.crown_leaf_m2
        bare = BARE_SHARE * available * np.maximum(reference_mm[hour], 0.0) * columns.top_exchange[hour] * traits.top_m2
        gained = rain_mm[hour] * traits.top_m2
        liquid_share = (temp > 0.0).sum(axis=0) / SHELLS
        new_water = np.clip(water + (gained - drawn - bare) / litres, 0.3 * wilting, traits.porosity)
        above = np.maximum(new_water - traits.capacity, 0.0)
        new_water = new_water - above * (1.0 - np.exp(-1.0 / traits.drain_hours)) * liquid_share
        pours = np.maximum(watering[hour] * (1.0 - columns.hold_water[hour]), columns.refill[hour])
        filled = np.maximum(new_water, traits.capacity)
        # No water goes onto a frozen ball: it is made up for as soon as that has thawed.
        owed = np.maximum(owed, pours)
        thawed = liquid_share > 0.5
        new_water = np.where((owed > 0.0) & thawed, filled, new_water)
        owed = np.where(thawed, 0.0, owed)
        airless = traits.porosity - new_water < LEAST_AIR
        pace = np.exp(log_q10 * (temp.sum(axis=0) / SHELLS - 20.0))
        wet = np.where(airless, wet + pace, np.maximum(wet - BREATHING_RECOVERS, 0.0))
        # Added or lost water has the temperature of the ball; a frozen ball keeps its share of ice.
        warmer = 1.0 + (new_water - water) * shell_water_j_k / liquid
        if enthalpy.min() >= 0.0:
            enthalpy = enthalpy * warmer
        else:
            enthalpy = np.where(enthalpy >= 0.0, enthalpy * warmer, enthalpy * (new_water / water))
        water = new_water
        shells[hour], uptake[hour], supply[hour], rate[hour] = temp, takes, brings, gives
        left[hour], loss[hour], soaked[hour] = available, lack / traits.leaf_water_gm2, wet
    return March(shells, uptake, supply, rate, left, loss, soaked), RootState(enthalpy, water, lack, wet)
