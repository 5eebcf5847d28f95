"""What the microclimate of a place is at one column: at its height, under its covers, hour by hour."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carewatch.exposure.columns import Columns, Traits
from carewatch.forecast.weather import Array
from carewatch.physics.ground import air_at_height_c
from carewatch.physics.humidity import saturation_vapour_pressure_kpa
from carewatch.physics.radiation import blackbody_wm2
from carewatch.physics.wind import wind_at_height_ms
from carewatch.place.microclimate import GUST_OVER_MEAN, OPEN_ROUGHNESS_M, Microclimate
from carewatch.place.spot import Place

GRASS_ROUGHNESS_M = 0.015
# A cover that lets in light but neither wind nor longwave warms in the sun: fleece by some 8 K at 700 W m⁻² (common
# practice: it cooks by more than 8 K over the air), a closed tent by twice that, an open-sided shade cloth hardly (air
# under it is no warmer: from memory). The air that comes in carries the warmth out, so what the wind loses counts twice
# (estimate). [K per W m⁻², times cover, times the square of the share of the wind that is kept off]
COVER_SUN_GAIN = 0.058
# Cloth over the crown does a fifth for the pot below it of what it does for the crown: of the warmth that it holds, and
# of the sky that it hides (common practice: fleece buys a root ball half a degree, no more). [-]
POT_LIFT = 0.2
# The warmth that a cover traps from the floor is halved by this wind over it (common practice: fleece gives about half
# in wind; where "wind" begins is judged). [m s⁻¹]
HALF_LIFT_MS = 2.5
# A bench of slats hides half of the floor at this height from the leaves above it (judged). [m]
FLOOR_VIEW_FALL_M = 0.7
# Nothing anywhere; whole arrays are views of it.
_ZERO = np.zeros(())


@dataclass(frozen=True)
class Surroundings:
    """
    Around each column, arrays (hour, member, column).

    crown_air_c, pot_air_c: air at mid-crown and at the pot. [°C]; vapour_kpa: at the crown. [kPa]
    wind_ms, gust_ms: at mid-crown. [m s⁻¹]; pot_wind_ms: at the pot. [m s⁻¹]
    beam_wm2: sun on a plane that faces it; diffuse_wm2, reflected_wm2: on level planes. [W m⁻²]
    sun_sine: sine of the sun's elevation, (hour, 1, 1). [-]
    longwave_down_wm2, longwave_up_wm2: on level planes at the crown; pot_down_wm2, pot_up_wm2: at the pot.
    [W m⁻²]
    skin_c, soil_c: of the floor. [°C]; rain_mm: [mm]; pressure_kpa: [kPa]
    snow_mm: water in the snow that falls there. [mm]; snow_depth_m: of lying snow. [m]
    """

    crown_air_c: Array
    pot_air_c: Array
    vapour_kpa: Array
    wind_ms: Array
    gust_ms: Array
    pot_wind_ms: Array
    beam_wm2: Array
    diffuse_wm2: Array
    reflected_wm2: Array
    sun_sine: Array
    longwave_down_wm2: Array
    longwave_up_wm2: Array
    pot_down_wm2: Array
    pot_up_wm2: Array
    skin_c: Array
    soil_c: Array
    rain_mm: Array
    pressure_kpa: Array
    snow_mm: Array
    snow_depth_m: Array


def surroundings(
    micro: Microclimate,
    places: Sequence[Place],
    columns: Columns,
    traits: Traits,
    chosen: NDArray[np.int64] | None = None,
) -> Surroundings:
    """
    Surroundings of every column; traits belong to the columns, one each.

    chosen: members to run per column, (member, column); None: all.
    """
    hours, members, spots = micro.air_2m_c.shape
    member = np.arange(members)[:, None] if chosen is None else chosen
    # Where in a row of (member, place) each column looks, in every hour; most columns never move.
    stays = bool((columns.place == columns.place[0]).all())
    looks = member * spots + (columns.place[0] if stays else columns.place[:, None, :])
    if not stays:
        looks = looks + np.arange(hours)[:, None, None] * (members * spots)

    def here(values: Array) -> Array:
        found: Array = values.reshape(hours, -1).take(looks, axis=1) if stays else values.reshape(-1).take(looks)
        return found

    def where_any(values: Array) -> Array:
        # Most weather brings no snow: then nothing is looked up.
        return here(values) if np.count_nonzero(values) else np.broadcast_to(_ZERO, (hours, *member.shape))

    def per_hour(values: Array) -> Array:
        return values[:, None, :]

    place_height = np.array([place.height_m for place in places])[columns.place]
    base = np.where(np.isnan(columns.base_height_m), place_height, columns.base_height_m)
    crown_height = per_hour(np.maximum(base - columns.in_ground * traits.depth_m, 0.0) + traits.mid_crown_m)
    pot_height = per_hour(np.maximum(base, 0.0) + traits.depth_m / 2)
    air_2m, skin, wind_2m = here(micro.air_2m_c), here(micro.skin_c), here(micro.wind_2m_ms)
    settled, stirring = here(micro.settled), here(micro.stirring_ms)
    cover = per_hour(columns.sky_cover)
    kept_wind = per_hour(columns.wind)
    light = per_hour(columns.light)
    beam, diffuse = here(micro.beam_wm2) * light, here(micro.diffuse_wm2) * light
    sine = np.sin(np.radians(np.clip(micro.elevation_deg, 0.0, 90.0)))[:, None, None]
    sunlight = beam * sine + diffuse
    held = per_hour(columns.air_lift_c) * (sunlight < 20.0) / (1.0 + wind_2m / HALF_LIFT_MS)
    lift = held + COVER_SUN_GAIN * cover * (1.0 - kept_wind) ** 2 * sunlight
    crown_air = air_at_height_c(air_2m, skin, stirring, crown_height, settled) + lift
    pot_air = air_at_height_c(air_2m, skin, stirring, pot_height, settled) + POT_LIFT * lift
    vapour = np.minimum(here(micro.vapour_kpa), saturation_vapour_pressure_kpa(crown_air))
    saturated = saturation_vapour_pressure_kpa(crown_air)
    vapour = saturated - per_hour(columns.vpd) * (saturated - vapour)
    profile = _wind_share(crown_height)
    view = here(micro.sky_view)
    sky = here(micro.sky_wm2)
    beside = (1.0 - view) * blackbody_wm2(here(micro.surround_c))
    emitted = blackbody_wm2(crown_air)
    down = beside + view * ((1.0 - cover) * sky + cover * emitted)
    # Where nothing is covered the pot sees what the crown sees.
    pot_cover = POT_LIFT * cover
    uncovered = np.count_nonzero(cover) == 0
    pot_down = down if uncovered else beside + view * ((1.0 - pot_cover) * sky + pot_cover * blackbody_wm2(pot_air))
    floor_seen = np.exp(-per_hour(np.maximum(base, 0.0)) / FLOOR_VIEW_FALL_M)
    floor = floor_seen * blackbody_wm2(skin)
    up = floor + (1.0 - floor_seen) * emitted
    pot_up = up if uncovered else floor + (1.0 - floor_seen) * blackbody_wm2(crown_air - (1.0 - POT_LIFT) * lift)
    return Surroundings(
        crown_air_c=crown_air,
        pot_air_c=pot_air,
        vapour_kpa=vapour,
        wind_ms=wind_2m * profile * kept_wind,
        gust_ms=here(micro.gust_2m_ms) * _gust_share(profile) * kept_wind,
        pot_wind_ms=wind_2m * _wind_share(pot_height) * kept_wind,
        beam_wm2=beam,
        diffuse_wm2=diffuse,
        reflected_wm2=here(micro.reflected_wm2) * light,
        sun_sine=sine,
        longwave_down_wm2=down,
        longwave_up_wm2=up,
        pot_down_wm2=pot_down,
        pot_up_wm2=pot_up,
        skin_c=skin,
        soil_c=here(micro.soil_c),
        rain_mm=here(micro.rain_mm) * per_hour(columns.rain),
        pressure_kpa=here(micro.pressure_kpa),
        snow_mm=where_any(micro.snow_mm),
        snow_depth_m=where_any(micro.snow_depth_m),
    )


def _gust_share(mean_share: Array) -> Array:
    """Gust at a height over the gust at 2 m: the mean falls, what turbulence adds stays (place.microclimate). [-]"""
    at_2m = wind_at_height_ms(np.array(1.0), np.array(2.0), OPEN_ROUGHNESS_M)
    turbulent = GUST_OVER_MEAN - 1.0
    return (at_2m * mean_share + turbulent) / (at_2m + turbulent)


def _wind_share(height_m: Array) -> Array:
    """Wind at a height over the wind at 2 m, from the log law over grass. [-]"""
    one = np.ones_like(height_m)
    return wind_at_height_ms(one, height_m, GRASS_ROUGHNESS_M) / wind_at_height_ms(one, 2.0, GRASS_ROUGHNESS_M)
