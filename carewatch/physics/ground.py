"""The garden floor: its temperature by energy balance, and the air between it and the height of the forecast."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carewatch.physics.humidity import saturation_vapour_pressure_kpa, slope_of_saturated_kpa_k
from carewatch.physics.radiation import STEFAN_BOLTZMANN

Array = NDArray[np.float64]

HOUR_S = 3600.0
DAY_S = 86_400.0
VON_KARMAN = 0.4
GRAVITY = 9.81
# Density times specific heat of air near 10 °C. [J m⁻³ K⁻¹]
AIR_HEAT = 1_230.0
# Psychrometric constant near sea level (FAO-56 eq. 8). [kPa K⁻¹]
PSYCHROMETRIC = 0.066
FORECAST_HEIGHT_M = 2.0
# Roughness of short grass for momentum, and a tenth of it for heat (Allen et al. 1998, FAO-56 box 4: 0.123 and
# 0.0123 of a 0.12 m sward). [m], [-]
ROUGHNESS_M = 0.015
HEAT_ROUGHNESS_SHARE = 0.1
# Thermal properties of moist loam: 1.0 W m⁻¹ K⁻¹ and 2.5 MJ m⁻³ K⁻¹ (Oke 1987, table 2.1, between dry and wet clay).
SOIL_CONDUCTIVITY = 1.0
SOIL_HEAT = 2.5e6
# A quarter of moist loam is water, whose freezing frees 334 kJ/kg: as much as cooling the soil by 33 K (Oke 1987, table
# 2.1, for the properties). It freezes within about a kelvin below 0 °C (judged). [-], [K]
SOIL_LATENT_RATIO = 34.0
SOIL_FREEZING_K = 1.0
# The deep temperature follows the upper soil over about five days (Deardorff 1978: the annual wave). [d]
DEEP_DAYS = 5.0
# The ground below half a metre lends its warmth over about this time: the square of 0.5 m over a diffusivity of
# 4e-7 m² s⁻¹ is a week (Oke 1987, for the diffusivity). [d]
SEASON_DAYS = 7.0
# Conductance between the radiating skin and the soil. Grass insulates: 7 is the number of the scheme's own paper
# (Viterbo & Beljaars 1995). Others: 3 to 6 fitted at Cabauw (Beljaars & Betts 1993), 5 (Moene & van Dam 2014, ch. 2),
# 5.9 (Vilà-Guerau de Arellano et al. 2015, short grass), 10 in ECMWF's later schemes. Over the grass of Payerne in June
# 2016 (Baseline Surface Radiation Network, longwave up and down measured) the error of the nights is 1.5, 1.1 and 0.7 K
# root mean square at 5, 7 and 10. Bare soil and paving hardly insulate (estimate). [W m⁻² K⁻¹]
SKIN_CONDUCTANCE = {"grass": 7.0, "soil": 15.0, "paved": 40.0}
# Share of sunlight thrown back: grass 0.23 (FAO-56), bare moist soil 0.15, concrete 0.25, snow 0.75 (Oke 1987, table
# 1.1).
ALBEDO = {"grass": 0.23, "soil": 0.15, "paved": 0.25}
SNOW_ALBEDO = 0.75
# Snow of this depth hides the floor. Judged. [m]
COVERING_SNOW_M = 0.02
# Surface resistance: watered grass in hourly steps by day (Allen et al. 2006, Agric. Water Manage. 81:1-22; their 200
# by night is that of dry leaves with closed stomata, and at night grass is wet with dew more often than not), moist
# bare soil (Oke 1987, order), paving gives off nothing. [s m⁻¹]
SURFACE_RESISTANCE = {"grass": 50.0, "soil": 300.0, "paved": 1e5}
# Thermal conductivity of settled snow (Oke 1987, table 2.1: 0.08 fresh to 0.42 old). [W m⁻¹ K⁻¹]
SNOW_CONDUCTIVITY = 0.2
EMISSIVITY = 0.97
# Air that a cup anemometer calls calm still exchanges as in this wind (Allen et al. 1998, FAO-56, ch. 3). [m s⁻¹]
LEAST_WIND_MS = 0.5
# The skin's iteration ends when nothing would move by more than this (NaN never moves). What is left then is below 0.01
# K in any weather that was seen, for the steps shrink quadratically. No step is longer than the second; one that turns
# back after the early ones is halved, lest it swing about the point where stable air turns unstable. Judged.
# [K], [K], [-], [-]
SETTLED_K = 0.02
LONGEST_STEP_K = 10.0
EARLY_STEPS = 3
MOST_STEPS = 20


@dataclass(frozen=True)
class GroundState:
    """Temperatures of skin, upper soil (about 10 cm) and deep soil, each of shape (member, place). [°C]"""

    skin_c: Array
    soil_c: Array
    deep_c: Array


@dataclass(frozen=True)
class Floor:
    """
    Properties of each place's floor, shape (place,): see the tables above for units.

    neutral: transfer velocity over wind at 2 m in neutral air, one for all places. [-]
    free: what holds back its growth in unstable air, as stability. [-]
    """

    skin_conductance: Array
    albedo: Array
    surface_resistance: Array
    neutral: float
    free: float


def floor_of(kinds: tuple[str, ...], roughness_m: float | None = None) -> Floor:
    """
    Floor properties of the named kinds, in their order.

    roughness_m: of the surface around, whatever the kind; None: short grass. [m]
    """
    neutral, free = _transfer(ROUGHNESS_M if roughness_m is None else roughness_m)
    return Floor(
        np.array([SKIN_CONDUCTANCE[kind] for kind in kinds]),
        np.array([ALBEDO[kind] for kind in kinds]),
        np.array([SURFACE_RESISTANCE[kind] for kind in kinds]),
        neutral,
        free,
    )


def _transfer(roughness_m: float) -> tuple[float, float]:
    """Neutral transfer velocity over wind, and what holds it back in unstable air: see Floor."""
    to_momentum = math.log(FORECAST_HEIGHT_M / roughness_m)
    to_heat = math.log(FORECAST_HEIGHT_M / (HEAT_ROUGHNESS_SHARE * roughness_m))
    neutral = VON_KARMAN**2 / (to_momentum * to_heat)
    return neutral, 75.0 * neutral * math.sqrt(FORECAST_HEIGHT_M / roughness_m)


def richardson(air_temp_c: Array, skin_c: Array, wind_2m_ms: Array) -> Array:
    """
    Bulk Richardson number of the layer between floor and 2 m: positive when the floor is colder. [-]

    air_temp_c, skin_c: [°C]; wind_2m_ms: [m s⁻¹].
    """
    return (air_temp_c - skin_c) * _richardson_per_k(air_temp_c, wind_2m_ms)


def _richardson_per_k(air_temp_c: Array, wind_2m_ms: Array) -> Array:
    """Bulk Richardson number for each kelvin that the floor is colder. [K⁻¹]"""
    wind = np.maximum(wind_2m_ms, LEAST_WIND_MS)
    result: Array = (GRAVITY * FORECAST_HEIGHT_M) / ((air_temp_c + 273.15) * (wind * wind))
    return result


def stability(richardson_number: Array, free: float) -> tuple[Array, Array]:
    """
    Transfer of heat over that in neutral air, and its change with the Richardson number. [-], [-]

    richardson_number: bulk. [-]; free: as Floor. [-]

    1 at 0, falling in stable and rising in unstable air, with one slope where the two meet.
    Source: Louis, Tiedtke & Geleyn 1982 (coefficients b = c = d = 5), from memory.
    """
    stable = np.maximum(richardson_number, 0.0)
    root = np.sqrt(1.0 + 5.0 * stable)
    factor = 1.0 / (1.0 + 15.0 * stable * root)
    slope = factor * factor * (-15.0 - 112.5 * stable) / root
    unstable = stable - richardson_number
    if np.count_nonzero(unstable):
        held = 1.0 / (1.0 + free * np.sqrt(unstable))
        # Where this is not zero the stable part stands at its neutral values, 1 and -15.
        factor += 15.0 * unstable * held
        slope += 15.0 - 7.5 * held * (1.0 + held)
    return factor, slope


def exchange_ms(wind_2m_ms: Array, richardson_number: Array, roughness_m: float | None = None) -> Array:
    """
    Transfer velocity for heat between floor and 2 m. [m s⁻¹]

    wind_2m_ms: [m s⁻¹]; richardson_number: bulk. [-]; roughness_m: of the floor; None: short grass. [m]
    Source: as stability.
    """
    neutral, free = _transfer(ROUGHNESS_M if roughness_m is None else roughness_m)
    factor, _ = stability(richardson_number, free)
    return neutral * np.maximum(wind_2m_ms, LEAST_WIND_MS) * factor


def ground_step(
    state: GroundState,
    floor: Floor,
    air_temp_c: Array,
    vapour_kpa: Array,
    wind_2m_ms: Array,
    sunlight_wm2: Array,
    longwave_wm2: Array,
    snow_depth_m: Array,
    stirring_ms: Array | None = None,
    season_c: Array | float | None = None,
) -> GroundState:
    """
    State of the floor one hour later.

    All arrays (member, place): air_temp_c at 2 m [°C], vapour_kpa [kPa], wind_2m_ms [m s⁻¹], sunlight_wm2 global at
    the floor [W m⁻²], longwave_wm2 that comes down on the floor [W m⁻²], snow_depth_m [m].

    stirring_ms: open-country wind at 2 m that decides how stable the air is; None: wind_2m_ms. Houses and hedges slow
    the wind, but what slows it stirs the air: with the slowed wind the layer would decouple in any garden. [m s⁻¹]

    season_c: temperature of the ground below half a metre at this time of year, to which deep soil is held; None: it
    follows the upper soil alone. [°C]

    Water in the soil freezes between 0 and -1 °C and holds it there while it does.
    The skin holds no heat; the soil below follows force-restore with the skin's flux solved together with it, so the
    step is stable at any conductance. Source: Deardorff 1978, eq. 8; skin layer after Viterbo & Beljaars 1995.
    """
    conductance, albedo = floor.skin_conductance, floor.albedo
    if np.count_nonzero(snow_depth_m):
        depth = np.maximum(snow_depth_m, 0.0)
        conductance = conductance / (1.0 + (0.5 / SNOW_CONDUCTIVITY) * conductance * depth)
        albedo = albedo + (SNOW_ALBEDO - albedo) * np.minimum(depth / COVERING_SNOW_M, 1.0)
    absorbed = (1.0 - albedo) * sunlight_wm2 + EMISSIVITY * longwave_wm2
    air = _Air(
        np.ascontiguousarray(air_temp_c), vapour_kpa, wind_2m_ms, wind_2m_ms if stirring_ms is None else stirring_ms
    )
    wave_m = math.sqrt(SOIL_CONDUCTIVITY / SOIL_HEAT * DAY_S)
    force = conductance * (HOUR_S * 2.0 * math.sqrt(math.pi) / (SOIL_HEAT * wave_m))
    restore = HOUR_S * 2.0 * math.pi / DAY_S
    own = state.soil_c + restore * state.deep_c
    skin, soil = state.skin_c, state.soil_c
    thawed = bool(soil.min() > 0.0)
    if thawed:
        below = _ThawedSoil(own, force, restore, conductance)
        skin = _settled_skin_c(skin, floor, air, absorbed, below)
        soil = below.temp_c(skin)
    if not (thawed and soil.min() >= 0.0):
        held = own + (SOIL_LATENT_RATIO - 1.0) * _icy_k(state.soil_c)
        icy = _FreezingSoil(held, force, restore, conductance)
        skin = _settled_skin_c(skin, floor, air, absorbed, icy)
        soil = icy.temp_c(skin)
    deep = state.deep_c + (soil - state.deep_c) * (HOUR_S / (DEEP_DAYS * DAY_S))
    if season_c is not None:
        deep = deep + (season_c - deep) * (HOUR_S / (SEASON_DAYS * DAY_S))
    return GroundState(skin, soil, deep)


@dataclass(frozen=True)
class _Air:
    """Temperature [°C], vapour pressure [kPa], wind that carries heat and wind that decides the stability [m s⁻¹]."""

    temp_c: Array
    vapour_kpa: Array
    wind_ms: Array
    stirring_ms: Array


class _ThawedSoil:
    """Soil that stays above 0 °C: (1 + force + restore) times it is its own heat and force times the skin."""

    def __init__(self, own: Array, force: Array, restore: float, conductance: Array) -> None:
        whole = 1.0 + force + restore
        self.rest, self.per_skin = own / whole, force / whole
        self.given = conductance * self.rest
        self.per_k = _laid_out(conductance * (1.0 - self.per_skin), own)

    def temp_c(self, skin_c: Array) -> Array:
        """Temperature at the end of the hour under such a skin. [°C]"""
        return self.rest + self.per_skin * skin_c

    def flux(self, skin_c: Array) -> tuple[Array, Array]:
        """Flux into the soil [W m⁻²], and its rise with the skin's temperature [W m⁻² K⁻¹]."""
        return self.per_k * skin_c - self.given, self.per_k


class _FreezingSoil:
    """
    Soil that may hold ice: its heat has a piece on which a kelvin weighs SOIL_LATENT_RATIO times as much.

    The three pieces (thawed, freezing, frozen) are solved with the temperature at the end of the hour, so nothing jumps
    where one goes over into the next and no heat is lost.
    """

    def __init__(self, own: Array, force: Array, restore: float, conductance: Array) -> None:
        whole = 1.0 + force + restore
        icy = whole + (SOIL_LATENT_RATIO - 1.0)
        self.own, self.force, self.conductance = own, _laid_out(force, own), _laid_out(conductance, own)
        self.per_heat, self.per_icy_heat = _laid_out(1.0 / whole, own), _laid_out(1.0 / icy, own)
        self.frozen = _laid_out(-SOIL_FREEZING_K * icy, own)

    def temp_c(self, skin_c: Array) -> Array:
        """Temperature at the end of the hour under such a skin. [°C]"""
        heat = self.own + self.force * skin_c
        freezing = np.minimum(np.maximum(heat, self.frozen), 0.0)
        return (heat - freezing) * self.per_heat + freezing * self.per_icy_heat

    def flux(self, skin_c: Array) -> tuple[Array, Array]:
        """Flux into the soil [W m⁻²], and its rise with the skin's temperature [W m⁻² K⁻¹]."""
        heat = self.own + self.force * skin_c
        between = (heat < 0.0) & (heat > self.frozen)
        per_skin = self.force * np.where(between, self.per_icy_heat, self.per_heat)
        return self.conductance * (skin_c - self.temp_c(skin_c)), self.conductance * (1.0 - per_skin)


def _laid_out(values: Array, like: Array) -> Array:
    """Values of each place for every member: to broadcast them in every step costs more than the arithmetic."""
    result = np.empty_like(like)
    result[...] = values
    return result


def _icy_k(soil_c: Array) -> Array:
    """How far the soil has gone through freezing, 0 to -SOIL_FREEZING_K. [K]"""
    return np.minimum(np.maximum(soil_c, -SOIL_FREEZING_K), 0.0)


def _settled_skin_c(
    skin_c: Array, floor: Floor, air: _Air, absorbed_wm2: Array, soil: _ThawedSoil | _FreezingSoil
) -> Array:
    """
    Temperature at which the skin loses what it gains, by Newton's iteration from skin_c. [°C]

    absorbed_wm2: of sun and sky. [W m⁻²]
    What is lost rises with the skin's temperature everywhere: one solution, no hysteresis.
    """
    warmth = air.temp_c
    number_per_k = -_richardson_per_k(warmth, air.stirring_ms)
    still = (AIR_HEAT * floor.neutral) * np.maximum(air.wind_ms, LEAST_WIND_MS)
    still_per_k = still * number_per_k
    resistance = _laid_out((PSYCHROMETRIC / AIR_HEAT) * floor.surface_resistance, warmth)
    skin = last = skin_c
    for turn in range(MOST_STEPS):
        warmer = skin - warmth
        sensible, sensible_per_k = stability(number_per_k * warmer, floor.free)
        sensible *= still
        sensible_per_k *= still_per_k
        saturated = saturation_vapour_pressure_kpa(skin)
        excess = saturated - air.vapour_kpa
        # Dew and rime need no stomata; evaporation does.
        wet = 1.0 / (PSYCHROMETRIC + sensible * (resistance * (excess > 0.0)))
        vapour_drive = wet * excess
        kelvin = skin + 273.15
        radiated_per_k = (4.0 * EMISSIVITY * STEFAN_BOLTZMANN) * (kelvin * kelvin * kelvin)
        into_soil, soil_per_k = soil.flux(skin)
        balance = absorbed_wm2 - 0.25 * radiated_per_k * kelvin - into_soil - sensible * (warmer + vapour_drive)
        # What the air takes more for each kelvin: by the warmer skin itself, and by the exchange that it changes.
        to_air_per_k = sensible * (1.0 + wet * slope_of_saturated_kpa_k(saturated, skin))
        to_air_per_k += sensible_per_k * (warmer + PSYCHROMETRIC * wet * vapour_drive)
        step = balance / (radiated_per_k + soil_per_k + np.maximum(to_air_per_k, 0.0))
        step = np.minimum(np.maximum(step, -LONGEST_STEP_K), LONGEST_STEP_K)
        settled = turn > 0 and not np.count_nonzero(np.abs(step) > SETTLED_K)
        if turn > EARLY_STEPS:
            step = np.where(step * last < 0.0, 0.5 * step, step)
        skin = skin + step
        if settled:
            break
        last = step
    return skin


def air_at_height_c(
    air_2m_c: Array, skin_c: Array, wind_2m_ms: Array, height_m: Array, settled: Array | float = 1.0
) -> Array:
    """
    Air temperature between the floor and 2 m. [°C]

    air_2m_c, skin_c: [°C]; wind_2m_ms: [m s⁻¹]; height_m: above the floor, 0.02 to 2 m; higher gives the 2 m value. [m]
    settled: share of the profile that is felt; 0 in a closed room whose air is mixed. [0-1]

    Logarithmic profile, with the linear part of a stable layer (Businger et al. 1971; Dyer 1974: 1 + 5 z/L); z/L from
    the bulk Richardson number as Ri/(1-5Ri), capped at 1.
    """
    colder = air_2m_c - skin_c
    number = np.minimum(np.maximum(colder * _richardson_per_k(air_2m_c, wind_2m_ms), 0.0), 1.0 / 6.0)
    height = np.minimum(np.maximum(height_m, 0.02), FORECAST_HEIGHT_M)
    heat_roughness_m = HEAT_ROUGHNESS_SHARE * ROUGHNESS_M
    whole = math.log(FORECAST_HEIGHT_M / heat_roughness_m)
    above = np.log(FORECAST_HEIGHT_M / height)
    left = 1.0 - height / FORECAST_HEIGHT_M
    # (1 - 5 Ri) times numerator and denominator of the profile, whose linear part is then 5 Ri.
    linear = 5.0 * number
    log_part = 1.0 - linear
    missing = (above * log_part + left * linear) / (whole * log_part + linear)
    result: Array = air_2m_c - missing * settled * colder
    return result
