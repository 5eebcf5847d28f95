"""Root ball, water and tissue water hour by hour: what is warm, what is wet, and what the roots can bring."""

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from carewatch.exposure.columns import Columns, Traits
from carewatch.forecast.weather import Array
from carewatch.physics.container import EASY_SHARE, LEAST_AIR
from carewatch.physics.root_ball import (
    FUSION,
    ICE_HEAT,
    SHELLS,
    WATER_HEAT,
    BallShape,
    ball_hour,
    conductivity_shape,
    enthalpy_j,
    heat_capacities,
    shell_factors,
)

# Kilograms of water per mole, and seconds per hour.
MOLAR_MASS = 0.018
HOUR_S = 3600.0
# Substrate evaporates this share of the reference rate while its top is moist (as exposure.pot_wall). [-]
BARE_SHARE = 0.8
# A ball that can breathe again makes good a wet hour in two (judged). [-]
BREATHING_RECOVERS = 0.5
# Stands for never in an age. [h]
LONG_AGO_H = 1e4


@dataclass(frozen=True)
class RootState:
    """
    Carry-over, arrays (member, column).

    enthalpy (SHELLS, member, column) [J]; water: volumetric [0-1];
    tissue_lack_gm2: water that leaves lack [g m⁻²]; soaked_h: hours without air, as at 20 °C [h].
    thaw_age_h: since bark that shade has left last thawed in the sun, LONG_AGO_H where it did not lately. [h]
    crown_snow_mm, crown_ice_mm: snow as water, and ice round the twigs, that the crown holds. [mm]
    damp_h: hours of wet leaves in still air, as at 20 °C. [h]
    """

    enthalpy: Array
    water: Array
    tissue_lack_gm2: Array
    soaked_h: Array
    thaw_age_h: Array
    crown_snow_mm: Array
    crown_ice_mm: Array
    damp_h: Array

    def select(self, index: NDArray[np.int64]) -> "RootState":
        """State of these columns."""
        return RootState(**{field.name: getattr(self, field.name)[..., index] for field in fields(self)})

    def spread(self, members: int) -> "RootState":
        """The one member of an analysed past, handed to every member of what is ahead."""
        return RootState(
            **{field.name: np.repeat(getattr(self, field.name)[..., :1, :], members, axis=-2) for field in fields(self)}
        )


@dataclass(frozen=True)
class Drive:
    """
    What drives root ball and water, arrays (hour, member, column).

    conductance_w_k, surround_c: of the outermost shell to what surrounds it. [W K⁻¹], [°C]
    demand_mol, closed_mol: transpiration that open and closed leaves ask for, per leaf area. [mol m⁻² s⁻¹]
    rises: share of the substrate's volume that rain fills; dries: that a moist top gives off. [h⁻¹]
    """

    conductance_w_k: Array
    surround_c: Array
    demand_mol: Array
    closed_mol: Array
    rises: Array
    dries: Array


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
    nothing = np.zeros_like(soil_c)
    return RootState(enthalpy, water, nothing, nothing, np.full_like(soil_c, LONG_AGO_H), nothing, nothing, nothing)


def rain_and_drying(rain_mm: Array, reference_mm: Array, columns: Columns, traits: Traits) -> tuple[Array, Array]:
    """
    Share of the substrate that rain fills, and that evaporation from a moist top empties, in each hour. [h⁻¹]

    rain_mm: that reaches the pot. [mm]; reference_mm: reference evapotranspiration at the column. [mm h⁻¹]
    """
    top_per_litre = traits.top_m2 / (traits.volume_m3 * 1000.0)
    bare = BARE_SHARE * columns.top_exchange * top_per_litre
    return rain_mm * top_per_litre, np.maximum(reference_mm, 0.0) * bare[:, None, :]


def march(
    drive: Drive,
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

    watering: 1 in hours in which the habit waters, (hour, column).
    Order within an hour: root ball, uptake, supply against demand, leaf water, bucket.
    """
    hours, members, count = drive.rises.shape
    pots = _pots_of(traits, shape, supply_cap_mol, members)
    walk = _Walk(pots, state, np.array(uptake_points).T, np.log(soak_q10) / 10.0)
    size = members * count
    shells = np.empty((hours, SHELLS, size))
    uptake, supply, rate, left, loss, soaked = (np.empty((hours, size)) for _ in range(6))
    rows = {field.name: getattr(drive, field.name).reshape(hours, -1) for field in fields(drive)}
    pours = np.maximum(watering * (1.0 - columns.hold_water), columns.refill)
    poured: NDArray[np.bool_] = np.asarray(pours.any(axis=1))
    for hour in range(hours):
        now = {name: values[hour] for name, values in rows.items()}
        shells[hour] = walk.warm(now["conductance_w_k"], now["surround_c"])
        uptake[hour], supply[hour], rate[hour] = walk.drink(now["demand_mol"], now["closed_mol"])
        left[hour] = walk.available
        walk.fill(now["rises"], now["dries"], _rows(pours[hour], members) if poured[hour] else None)
        loss[hour], soaked[hour] = walk.lack, walk.wet
    loss /= pots.leaf_water_gm2
    shaped = [values.reshape(hours, members, count) for values in (uptake, supply, rate, left, loss, soaked)]
    return March(shells.reshape(hours, SHELLS, members, count), *shaped), walk.state(members)


def _rows(per_column: Array, members: int) -> Array:
    """One value per member and column, in a row: numpy works through one long row faster than through many short."""
    return np.broadcast_to(per_column, (members, per_column.size)).reshape(-1)


@dataclass(frozen=True)
class _Pots:
    """
    What does not change on the way, one value per member and column in a row.

    capacity, wilting, driest, porosity: volumetric. [0-1]; range_water: between wilting and capacity. [0-1]
    brings_mol: what roots bring at best, per leaf area. [mol m⁻² s⁻¹]; leaf_water_gm2: [g m⁻²]
    lack_per_mol: [g m⁻² h⁻¹ per mol m⁻² s⁻¹]; draws_per_mol: share of the substrate. [h⁻¹ per mol m⁻² s⁻¹]
    drains: share of free water that runs off in an hour. [0-1]
    shell_water_j_k: heat capacity of a shell full of water; solids_j_k: of its solids. [J K⁻¹]
    conducts_dry, conducts_more: of the ball when dry, and what water adds at capacity. [W K⁻¹]
    """

    capacity: Array
    wilting: Array
    driest: Array
    porosity: Array
    range_water: Array
    brings_mol: Array
    leaf_water_gm2: Array
    lack_per_mol: Array
    draws_per_mol: Array
    drains: Array
    shell_water_j_k: Array
    solids_j_k: Array
    conducts_dry: Array
    conducts_more: Array


def _pots_of(traits: Traits, shape: BallShape, supply_cap_mol: float, members: int) -> _Pots:
    litres = traits.volume_m3 * 1000.0
    wilting = traits.capacity * (1.0 - traits.available)
    supply_per_leaf = np.where(traits.leaf_area > 0.0, traits.root_supply / np.maximum(traits.leaf_area, 1e-6), 0.0)
    shell, ball = shape.volume_m3 / SHELLS, conductivity_shape(shape)
    values = _Pots(
        capacity=traits.capacity,
        wilting=wilting,
        driest=0.3 * wilting,
        porosity=traits.porosity,
        range_water=traits.capacity - wilting,
        brings_mol=supply_cap_mol * supply_per_leaf,
        leaf_water_gm2=traits.leaf_water_gm2,
        lack_per_mol=MOLAR_MASS * HOUR_S * 1000.0 * traits.in_leaf,
        draws_per_mol=MOLAR_MASS * HOUR_S * traits.crown_leaf_m2 / litres,
        drains=1.0 - np.exp(-1.0 / traits.drain_hours),
        shell_water_j_k=shell * WATER_HEAT,
        solids_j_k=shell * (1.0 - traits.porosity) * traits.solid_heat_mj * 1e6,
        conducts_dry=traits.conductivity_dry * ball,
        conducts_more=(traits.conductivity_wet - traits.conductivity_dry) * ball,
    )
    return _Pots(**{field.name: _rows(getattr(values, field.name), members) for field in fields(values)})


class _Walk:
    """Root balls and pots on their way through the hours; every array one value per member and column in a row."""

    def __init__(self, pots: _Pots, state: RootState, uptake_points: Array, log_q10: float) -> None:
        self.pots, self.began = pots, state
        self.uptake_at_c, self.uptake_share = uptake_points
        self.log_q10 = log_q10
        self.enthalpy = state.enthalpy.reshape(SHELLS, -1)
        self.water, self.lack, self.wet = (
            values.reshape(-1) for values in (state.water, state.tissue_lack_gm2, state.soaked_h)
        )
        self.owed: Array | None = None
        self.available = np.zeros_like(self.water)
        self.used = np.zeros_like(self.water)
        self.temp = np.zeros_like(self.enthalpy)
        self.liquid_j_k = pots.solids_j_k + self.water * pots.shell_water_j_k
        self.ball_factors = shell_factors()[:, None]

    def state(self, members: int) -> RootState:
        """Carry-over for the next walk; what the walk knows nothing of is as it began."""
        return replace(
            self.began,
            enthalpy=self.enthalpy.reshape(SHELLS, members, -1),
            water=self.water.reshape(members, -1),
            tissue_lack_gm2=self.lack.reshape(members, -1),
            soaked_h=self.wet.reshape(members, -1),
        )

    def warm(self, conductance_w_k: Array, surround_c: Array) -> Array:
        """Shells at the end of the hour, (SHELLS, ...). [°C]"""
        pots, water = self.pots, self.water
        conducts = np.minimum(water / pots.capacity, 1.0)
        conducts *= pots.conducts_more
        conducts += pots.conducts_dry
        in_water = water * pots.shell_water_j_k
        self.enthalpy, self.temp = ball_hour(
            self.enthalpy,
            self.liquid_j_k,
            pots.solids_j_k + in_water * (ICE_HEAT / WATER_HEAT),
            in_water * (FUSION / WATER_HEAT),
            self.ball_factors * conducts,
            conductance_w_k,
            surround_c,
        )
        return self.temp

    def drink(self, demand_mol: Array, closed_mol: Array) -> tuple[Array, Array, Array]:
        """Uptake of the roots, what they can bring, and what the leaves give off; leaves lose the difference."""
        pots = self.pots
        uptake = np.interp(self.temp, self.uptake_at_c, self.uptake_share).sum(axis=0) / SHELLS
        available = (self.water - pots.wilting) / pots.range_water
        np.minimum(np.maximum(available, 0.0, out=available), 1.0, out=available)
        brings = np.minimum(available / (1.0 - EASY_SHARE), 1.0)
        brings *= pots.brings_mol
        brings *= uptake
        wants = np.maximum(demand_mol, 0.0)
        self.used = np.minimum(wants, brings)
        # Closed leaves still lose something, whether or not the roots bring it.
        gives = np.maximum(self.used, np.minimum(closed_mol, wants))
        lack = self.lack + (gives - brings) * pots.lack_per_mol
        self.lack = np.minimum(np.maximum(lack, 0.0, out=lack), pots.leaf_water_gm2, out=lack)
        self.available = available
        return uptake, brings, gives

    def fill(self, rises: Array, dries: Array, pours: Array | None) -> None:
        """Rain, drinking and drying, draining and watering of the hour, and what they do to the breath of the roots."""
        pots, temp = self.pots, self.temp
        water = self.water + rises
        water -= self.used * pots.draws_per_mol
        water -= dries * self.available
        np.minimum(np.maximum(water, pots.driest, out=water), pots.porosity, out=water)
        cold = not temp.min() > 0.0
        liquid_share = (temp > 0.0).sum(axis=0) / SHELLS if cold else np.ones_like(water)
        above = water - pots.capacity
        if not above.max() <= 0.0:
            np.maximum(above, 0.0, out=above)
            above *= pots.drains
            above *= liquid_share
            water -= above
        if pours is not None or self.owed is not None:
            water = self._water(water, liquid_share > 0.5, pours)
        self._breathe(water)
        # Added or lost water has the temperature of the ball; a frozen ball keeps its share of ice.
        self.liquid_j_k = pots.solids_j_k + water * pots.shell_water_j_k
        enthalpy = temp * self.liquid_j_k
        self.enthalpy = (
            np.where(self.enthalpy >= 0.0, enthalpy, self.enthalpy * (water / self.water)) if cold else enthalpy
        )
        self.water = water

    def _water(self, water: Array, thawed: NDArray[np.bool_], pours: Array | None) -> Array:
        """No water goes onto a frozen ball: it is made up for as soon as that has thawed."""
        due = np.zeros_like(water) if self.owed is None else self.owed
        if pours is not None:
            due = np.maximum(due, pours)
        left = np.where(thawed, 0.0, due)
        self.owed = left if left.any() else None
        return np.where((due > 0.0) & thawed, np.maximum(water, self.pots.capacity), water)

    def _breathe(self, water: Array) -> None:
        airless = self.pots.porosity - water < LEAST_AIR
        recovered = np.maximum(self.wet - BREATHING_RECOVERS, 0.0)
        if airless.any():
            pace = np.exp(self.log_q10 * (self.temp.sum(axis=0) / SHELLS - 20.0))
            recovered = np.where(airless, self.wet + pace, recovered)
        self.wet = recovered
