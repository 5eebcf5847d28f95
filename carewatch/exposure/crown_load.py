"""Snow and ice that a crown holds, hour by hour."""

import numpy as np

from carewatch.exposure.columns import Columns, Traits
from carewatch.exposure.surroundings import Surroundings
from carewatch.forecast.weather import Array
from carewatch.place.microclimate import Microclimate

# Snow sticks where the wet bulb is near freezing, a third of it when it is dry and cold; warmer it is rain before long
# (wet snow from -1 to +1 °C: common practice; the rest judged). Wet bulb [°C], share that stays [-].
STICKS_C, STICKS = (-6.0, -1.0, 1.0, 2.0), (0.3, 1.0, 1.0, 0.0)
# What crowns hold slides off by warmth above -3 °C and by wind (Roesch et al. 2001, Clim. Dyn. 17:933; constants from
# memory). [K s], [m]
SLIDES_ABOVE_C, SLIDES_KS, BLOWN_M = -3.0, 1.87e5, 1.56e5
# Below this what lies is frozen on and is not shaken off (common practice: never when it is frozen). [°C]
FROZEN_C = -1.0
# Ice round twigs loosens and falls within hours of a thaw (judged). [mm h⁻¹ K⁻¹]
ICE_MELTS = 0.5
# Simple model of freezing rain: ice of one thickness all round, whatever the twig's (Jones 1998, Weather Forecast.
# 13:42-51; CRREL report ADA633270, equation from memory): from rain falling and drifting; liquid water in the air
# 0.067 P^0.846 [g m⁻³], P [mm h⁻¹].
ICE_DENSITY, LIQUID, LIQUID_POWER = 0.9, 0.067, 0.846
# Psychrometric constant and slope of saturation at 0 °C: wet bulb by one step, good near freezing. [kPa K⁻¹]
PSYCHROMETRIC, SLOPE = 0.066, 0.0445
HOUR_S = 3600.0


def is_wintry(micro: Microclimate) -> bool:
    """Whether snow or freezing rain falls anywhere in these hours; most weather costs no more than this look."""
    if np.count_nonzero(micro.snow_mm):
        return True
    return bool(micro.open_air_c.min() < 1.0 and ((micro.rain_mm > 0.0) & (micro.open_air_c < 1.0)).any())


def falls(around: Surroundings, deficit_kpa: Array, columns: Columns, traits: Traits) -> dict[str, Array]:
    """
    What of each hour's snow and rain stays on the crown, and what loosens it; arrays (hour, member, column).

    deficit_kpa: of the air at the crown. [kPa]
    snow_stays: as water. [mm]; ice_grows: thickness. [mm]; snow_kept: share of lying snow. [0-1]; ice_melts: [mm]
    """
    air = around.crown_air_c
    wet_bulb = air - np.maximum(deficit_kpa, 0.0) / (PSYCHROMETRIC + SLOPE)
    stays = np.zeros_like(air)
    if np.count_nonzero(around.snow_mm):
        reaches = traits.snow_catch * (columns.rain * columns.crown_snow)[:, None, :]
        stays = around.snow_mm * np.interp(wet_bulb, STICKS_C, STICKS) * reaches
    grows, freezing = np.zeros_like(air), (around.rain_mm > 0.0) & (wet_bulb < 0.0)
    grows[freezing] = ice_mm(around.rain_mm[freezing], around.wind_ms[freezing])
    loosened = np.maximum(air - SLIDES_ABOVE_C, 0.0) / SLIDES_KS + around.wind_ms / BLOWN_M
    return {
        "snow_stays": stays,
        "ice_grows": grows,
        "snow_kept": np.exp(-HOUR_S * loosened) * np.where(air > FROZEN_C, columns.crown_snow[:, None, :], 1.0),
        "ice_melts": ICE_MELTS * np.maximum(wet_bulb, 0.0),
    }


def ice_mm(rain_mm: Array, wind_ms: Array) -> Array:
    """
    Thickness of ice that an hour of freezing rain leaves round a twig. [mm]

    rain_mm: in the hour. [mm]; wind_ms: at the crown. [m s⁻¹]
    Source: Jones 1998: sqrt((P)² + (3.6 V W)²) / (π · 0.9), with densities relative to water.
    """
    drifting = 3.6 * wind_ms * LIQUID * np.maximum(rain_mm, 0.0) ** LIQUID_POWER
    result: Array = np.hypot(rain_mm, drifting) / (np.pi * ICE_DENSITY)
    return result


def hold(found: dict[str, Array], snow_mm: Array, ice_began_mm: Array) -> tuple[Array, Array]:
    """
    Snow (as water) and ice on the crown at the end of each hour, (hour, member, column). [mm]

    found: from `falls`, all hours, which are used up; snow_mm, ice_began_mm: at the beginning,
    (member, column).
    """
    snow, ice, kept, melts = (found.pop(name) for name in ("snow_stays", "ice_grows", "snow_kept", "ice_melts"))
    lies, clings = snow_mm, ice_began_mm
    for hour in range(snow.shape[0]):
        lies = lies * kept[hour] + snow[hour]
        clings = np.maximum(clings + ice[hour] - melts[hour], 0.0)
        snow[hour], ice[hour] = lies, clings
    return snow, ice
