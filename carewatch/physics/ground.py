"""The garden floor: its temperature by energy balance, and the air between it and the height of the forecast."""

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
FORECAST_HEIGHT_M = 2.0
# Roughness of short grass for momentum, and a tenth of it for heat (Allen et al. 1998, FAO-56 box 4: 0.123 and
# 0.0123 of a 0.12 m sward). [m]
ROUGHNESS_M = 0.015
ROUGHNESS_HEAT_M = 0.0015
# Thermal properties of moist loam: 1.0 W m⁻¹ K⁻¹ and 2.5 MJ m⁻³ K⁻¹ (Oke 1987, table 2.1, between dry and wet clay).
SOIL_CONDUCTIVITY = 1.0
SOIL_HEAT = 2.5e6
# A quarter of moist loam is water, whose freezing frees 334 kJ/kg: as much as cooling the soil by 33 K (Oke 1987, table
# 2.1, for the properties). It freezes within about a kelvin below 0 °C (judged). [-], [K]
SOIL_LATENT_RATIO = 34.0
SOIL_FREEZING_K = 1.0
# The ground below half a metre lends its warmth over about this time: the square of 0.5 m over a diffusivity of
# 4e-7 m² s⁻¹ is a week (Oke 1987, for the diffusivity). [d]
SEASON_DAYS = 7.0
# Conductance between the radiating skin and the soil: grass insulates (5: between 3-6 fitted at Cabauw by Beljaars &
# Betts 1993 and the 7-10 of Viterbo & Beljaars 1995), bare soil and paving hardly do (estimate). [W m⁻² K⁻¹]
SKIN_CONDUCTANCE = {"grass": 5.0, "soil": 15.0, "paved": 40.0}
# Share of sunlight thrown back: grass 0.23 (FAO-56), bare moist soil 0.15, concrete 0.25, snow 0.75 (Oke 1987, table
# 1.1).
ALBEDO = {"grass": 0.23, "soil": 0.15, "paved": 0.25}
SNOW_ALBEDO = 0.75
# Surface resistance of watered grass by day (FAO-56), of moist bare soil (Oke 1987, order), paving gives off nothing.
# [s m⁻¹]
SURFACE_RESISTANCE = {"grass": 70.0, "soil": 300.0, "paved": 1e5}
# Thermal conductivity of settled snow (Oke 1987, table 2.1: 0.08 fresh to 0.42 old). [W m⁻¹ K⁻¹]
SNOW_CONDUCTIVITY = 0.2
EMISSIVITY = 0.97
LEAST_WIND_MS = 0.3
# The skin's iteration ends when nothing moves by more than this; NaN never moves. Judged. [K]
SETTLED_K = 0.01


@dataclass(frozen=True)
class GroundState:
    """Temperatures of skin, upper soil (about 10 cm) and deep soil, each of shape (member, place). [°C]"""

    skin_c: Array
    soil_c: Array
    deep_c: Array


@dataclass(frozen=True)
class Floor:
    """Properties of each place's floor, shape (place,): see the tables above for units."""

    skin_conductance: Array
    albedo: Array
    surface_resistance: Array


def floor_of(kinds: tuple[str, ...]) -> Floor:
    """Floor properties of the named kinds, in their order."""
    return Floor(
        np.array([SKIN_CONDUCTANCE[kind] for kind in kinds]),
        np.array([ALBEDO[kind] for kind in kinds]),
        np.array([SURFACE_RESISTANCE[kind] for kind in kinds]),
    )


def richardson(air_temp_c: Array, skin_c: Array, wind_2m_ms: Array) -> Array:
    """
    Bulk Richardson number of the layer between floor and 2 m: positive when the floor is colder. [-]

    air_temp_c, skin_c: [°C]; wind_2m_ms: [m s⁻¹].
    """
    wind = np.maximum(wind_2m_ms, LEAST_WIND_MS)
    result: Array = GRAVITY / (air_temp_c + 273.15) * (air_temp_c - skin_c) * FORECAST_HEIGHT_M / wind**2
    return result


def exchange_ms(wind_2m_ms: Array, richardson_number: Array) -> Array:
    """
    Transfer velocity for heat between floor and 2 m. [m s⁻¹]

    wind_2m_ms: [m s⁻¹]; richardson_number: bulk. [-]
    Source: Louis, Tiedtke & Geleyn 1982 (coefficients b = c = d = 5), from memory.
    """
    wind = np.maximum(wind_2m_ms, LEAST_WIND_MS)
    to_momentum = np.log(FORECAST_HEIGHT_M / ROUGHNESS_M)
    to_heat = np.log(FORECAST_HEIGHT_M / ROUGHNESS_HEAT_M)
    neutral = VON_KARMAN**2 / (to_momentum * to_heat)
    stable = np.maximum(richardson_number, 0.0)
    unstable = np.maximum(-richardson_number, 0.0)
    damped = 1.0 / (1.0 + 15.0 * stable * np.sqrt(1.0 + 5.0 * stable))
    raised = 1.0 + 15.0 * unstable / (1.0 + 75.0 * neutral * np.sqrt(unstable * FORECAST_HEIGHT_M / ROUGHNESS_M))
    result: Array = neutral * wind * np.where(richardson_number > 0.0, damped, raised)
    return result


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
    snow = np.clip(snow_depth_m / 0.02, 0.0, 1.0)
    conductance = floor.skin_conductance / (
        1.0 + floor.skin_conductance * 0.5 * np.maximum(snow_depth_m, 0.0) / SNOW_CONDUCTIVITY
    )
    albedo = floor.albedo + (SNOW_ALBEDO - floor.albedo) * snow
    stirred = wind_2m_ms if stirring_ms is None else stirring_ms
    gives = np.where((state.soil_c <= 0.0) & (state.soil_c > -SOIL_FREEZING_K), 1.0 / SOIL_LATENT_RATIO, 1.0)
    depth = np.sqrt(SOIL_CONDUCTIVITY / SOIL_HEAT * DAY_S)
    force = gives * 2.0 * np.sqrt(np.pi) / (SOIL_HEAT * depth)
    restore = gives * 2.0 * np.pi / DAY_S
    shrink = 1.0 / (1.0 + HOUR_S * (force * conductance + restore))
    soil_rest = shrink * (state.soil_c + HOUR_S * restore * state.deep_c)
    soil_per_skin = shrink * HOUR_S * force * conductance
    absorbed = (1.0 - albedo) * sunlight_wm2 + EMISSIVITY * longwave_wm2
    skin = state.skin_c
    last = np.zeros_like(skin)
    for _ in range(5):
        velocity = exchange_ms(wind_2m_ms, richardson(air_temp_c, skin, stirred))
        sensible = AIR_HEAT * velocity
        saturated = saturation_vapour_pressure_kpa(skin)
        excess = saturated - vapour_kpa
        # Dew and rime need no stomata; evaporation does, and stops on snow-free frozen floors only slowly.
        resistance = 1.0 / velocity + np.where(excess > 0.0, floor.surface_resistance, 0.0)
        latent = AIR_HEAT / (0.066 * resistance)
        kelvin = skin + 273.15
        emitted = EMISSIVITY * STEFAN_BOLTZMANN * kelvin**4
        into_soil = conductance * (skin - soil_rest - soil_per_skin * skin)
        balance = absorbed - emitted - sensible * (skin - air_temp_c) - latent * excess - into_soil
        slope = (
            4.0 * emitted / kelvin
            + sensible
            + latent * slope_of_saturated_kpa_k(saturated, skin)
            + conductance * (1 - soil_per_skin)
        )
        # Exchange changes fast where stable air turns unstable: a step that turns back is halved, or it would swing.
        step = np.clip(balance / slope, -8.0, 8.0)
        step = np.where(step * last < 0.0, 0.5 * step, step)
        last = step
        skin = skin + step
        if not np.any(np.abs(step) > SETTLED_K):
            break
    drawn = (soil_rest + soil_per_skin * skin - state.soil_c) / gives
    soil = _soil_temperature_c(_soil_heat_k(state.soil_c) + drawn)
    # The deep temperature follows the soil over about five days (Deardorff 1978: the annual wave).
    deep = state.deep_c + (soil - state.deep_c) * HOUR_S / (5.0 * DAY_S)
    if season_c is not None:
        deep = deep + (season_c - deep) * HOUR_S / (SEASON_DAYS * DAY_S)
    return GroundState(skin, soil, deep)


def _soil_heat_k(soil_c: Array) -> Array:
    """Heat of the soil above 0 °C in kelvins of unfrozen soil, with the heat of freezing between 0 and -1 °C. [K]"""
    in_range = np.clip(soil_c, -SOIL_FREEZING_K, 0.0)
    result: Array = soil_c + (SOIL_LATENT_RATIO - 1.0) * in_range
    return result


def _soil_temperature_c(heat_k: Array) -> Array:
    """Temperature of soil that holds so much heat: the inverse of _soil_heat_k. [°C]"""
    span = SOIL_LATENT_RATIO * SOIL_FREEZING_K
    colder = heat_k + span - SOIL_FREEZING_K
    return np.where(heat_k >= 0.0, heat_k, np.where(heat_k >= -span, heat_k / SOIL_LATENT_RATIO, colder))


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
    number = np.clip(richardson(air_2m_c, skin_c, wind_2m_ms), 0.0, 0.1667)
    over_length = number / (1.0 - 5.0 * number) / FORECAST_HEIGHT_M
    height = np.clip(height_m, 0.02, FORECAST_HEIGHT_M)
    share = (np.log(height / ROUGHNESS_HEAT_M) + 5.0 * height * over_length) / (
        np.log(FORECAST_HEIGHT_M / ROUGHNESS_HEAT_M) + 5.0 * FORECAST_HEIGHT_M * over_length
    )
    result: Array = air_2m_c - (1.0 - share) * settled * (air_2m_c - skin_c)
    return result
