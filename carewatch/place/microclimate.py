"""The forecast carried to each corner of the garden: light, wind, rain, floor, and the air of enclosures."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from carewatch.forecast.weather import Array, Hours
from carewatch.physics.ground import SNOW_ALBEDO, Floor, GroundState, floor_of, ground_step
from carewatch.physics.humidity import saturation_vapour_pressure_kpa
from carewatch.physics.radiation import blackbody_wm2, sky_longwave_wm2
from carewatch.physics.sun import SunHours
from carewatch.physics.wind import wind_at_height_ms
from carewatch.place.enclosure import Enclosures, enclosed_wind_ms, enclosure_step, enclosures, striving_c
from carewatch.place.light import passing, sun_sine
from carewatch.place.spot import Place, Site

# Share of the forecast's open wind that reaches a garden in such surroundings. Forecast wind at 10 m belongs to open
# country; suburbs halve it near the ground (estimate from roughness 0.03 m against 0.5 m by the log law). [0-1]
SURROUNDINGS_WIND = {"open": 1.0, "suburban": 0.6, "sheltered": 0.4}
OPEN_ROUGHNESS_M = 0.03
WIND_HEIGHT_M = 2.0
# Gust over mean at 10 m in the open: 1.5-1.8 (general meteorology, from memory). [-]
GUST_OVER_MEAN = 1.6
# A cloth that takes half of the light stands for about a third of the sky at night (as tables/measures.toml has it for
# shade-cloth, from memory). [sky hidden per light taken]
CLOTH_HIDES_SKY = 0.6
# Snow of this depth covers the floor (as physics.ground has it). [m]
COVERING_SNOW_M = 0.02
# 7 cm of fresh snow are 10 mm of water (Open-Meteo documentation of `snowfall`, whose numbers these are). [mm cm⁻¹]
SNOW_WATER_MM_PER_CM = 10.0 / 7.0


@dataclass(frozen=True)
class MicroclimateState:
    """Carry-over of the places: floor temperatures and enclosure air, shape (member, place). [°C]"""

    ground: GroundState
    enclosure_c: Array


@dataclass(frozen=True)
class Microclimate:
    """
    What each place offers, hour by hour; arrays (hour, member, place).

    air_2m_c: air at 2 m, or the mixed air of an enclosure. [°C]; skin_c, soil_c: floor and soil at about 10 cm. [°C]
    stirring_ms: open-country wind at 2 m, which decides how stable the air near the floor is. [m s⁻¹]
    vapour_kpa: of that air. [kPa]; wind_2m_ms, gust_2m_ms: at 2 m over the floor, shelter applied. [m s⁻¹]
    beam_wm2: direct sun on a plane that faces it. [W m⁻²]; diffuse_wm2: on a level plane from above. [W m⁻²]
    reflected_wm2: on a level plane from below. [W m⁻²]
    sky_wm2: longwave of a full hemisphere of this sky. [W m⁻²]; sky_view: share of it that is seen. [0-1]
    surround_c: temperature of what hides the sky. [°C]; rain_mm: that reaches an uncovered pot. [mm]
    snow_mm: water in the snow that falls on an uncovered crown; snow_depth_m: of lying snow. [mm], [m]
    pressure_kpa: [kPa]; settled: 1 outside, 0 in mixed air. [-]
    open_air_c: air at 2 m outside all places, shape (hour, member, 1). [°C]
    elevation_deg: of the sun in the middle of what the hour has of it, shape (hour,). [°]
    """

    air_2m_c: Array
    skin_c: Array
    soil_c: Array
    vapour_kpa: Array
    wind_2m_ms: Array
    stirring_ms: Array
    gust_2m_ms: Array
    beam_wm2: Array
    diffuse_wm2: Array
    reflected_wm2: Array
    sky_wm2: Array
    sky_view: Array
    surround_c: Array
    rain_mm: Array
    snow_mm: Array
    snow_depth_m: Array
    pressure_kpa: Array
    settled: Array
    open_air_c: Array
    elevation_deg: Array


def start_state(places: Sequence[Place], hours: Hours, season_c: float | None = None) -> MicroclimateState:
    """
    State at the first hour: the mean air of the first day; soils half way to the season's ground, or as they are given.

    season_c: temperature of the ground below half a metre at this time of year, or None. [°C]
    """
    air = hours.values["air_temp_c"][:24].mean(axis=0)
    soil = hours.values["soil_temp_c"][0]
    deep = air if season_c is None else np.full_like(air, season_c)
    soil = np.where(np.isfinite(soil), soil, 0.5 * (air + deep))
    shape = (hours.members, len(places))
    soil_c = np.broadcast_to(soil[:, None], shape).copy()
    heated = np.array([-np.inf if place.heated_to_c is None else place.heated_to_c for place in places])
    air_c = np.maximum(np.broadcast_to(air[:, None], shape), heated)
    deep_c = np.broadcast_to(deep[:, None], shape).copy()
    return MicroclimateState(GroundState(air_c.copy(), soil_c, deep_c), air_c)


def microclimate(
    hours: Hours,
    sun: SunHours,
    site: Site,
    places: Sequence[Place],
    canopy_leaf: Array,
    state: MicroclimateState,
    season_c: float | None = None,
) -> tuple[Microclimate, MicroclimateState]:
    """
    Microclimate of all places over the hours, and the state after the last of them.

    sun: of each hour, from sun_of_hours; canopy_leaf: share of their leaves that trees above a place carry, (hour,).
    season_c: temperature of the ground below half a metre at this time of year, or None. [°C]
    """
    value = {name: array[:, :, None] for name, array in hours.values.items()}
    shape = (len(hours), hours.members, len(places))
    air = value["air_temp_c"]
    vapour_out = saturation_vapour_pressure_kpa(np.minimum(value["dew_point_c"], air))
    inside = enclosures(places)
    enclosed = np.array([place.enclosed for place in places])
    wind, gust, stirring = _winds(value, site, places)
    passes = passing(places, sun, canopy_leaf)
    beam = value["direct_normal_wm2"] * passes.beam[:, None, :]
    diffuse = value["diffuse_wm2"] * passes.diffuse[:, None, :]
    sine = sun_sine(sun)[:, None, None]
    level = beam * sine + diffuse
    sky = np.broadcast_to(sky_longwave_wm2(air, value["dew_point_c"], value["cloud"]), shape)
    cloth_open = 1.0 - CLOTH_HIDES_SKY * np.array([place.shade_cloth for place in places])
    view = np.where(enclosed, 0.0, passes.view * cloth_open)[:, None, :]
    # What the enclosures' air strives for knows the light and the sky outside its cover.
    at = inside.at
    roof_light = value["direct_normal_wm2"] * sine * passes.roof_beam[:, None, at]
    roof_light = roof_light + value["diffuse_wm2"] * passes.roof_diffuse[:, None, at]
    sky_loss = (blackbody_wm2(air) - sky[:, :, :1]) * passes.view[:, None, at]
    snow = np.where(enclosed, 0.0, value["snow_depth_m"])
    floor = floor_of(tuple(place.floor for place in places))
    air_2m, ground, after = _march(
        _Outside(
            air=np.broadcast_to(air, shape),
            vapour=np.broadcast_to(vapour_out, shape),
            wind=wind,
            stirring=stirring,
            level=level,
            longwave=view * sky + (1.0 - view) * blackbody_wm2(air),
            snow=snow,
            striving=striving_c(inside, air, roof_light, sky_loss),
        ),
        floor,
        inside,
        state,
        season_c,
    )
    reach = np.array([place.rain_reach for place in places])
    albedo = floor.albedo + (SNOW_ALBEDO - floor.albedo) * np.clip(snow / COVERING_SNOW_M, 0.0, 1.0)
    return (
        Microclimate(
            air_2m_c=air_2m,
            skin_c=np.where(enclosed, air_2m, ground[0]),
            soil_c=ground[1],
            vapour_kpa=_vapour_kpa(vapour_out, air_2m, ground[1], inside),
            wind_2m_ms=wind,
            stirring_ms=stirring,
            gust_2m_ms=gust,
            beam_wm2=beam,
            diffuse_wm2=diffuse,
            reflected_wm2=albedo * level,
            sky_wm2=sky,
            sky_view=np.broadcast_to(view, shape),
            surround_c=air_2m,
            rain_mm=value["rain_mm"] * reach,
            snow_mm=value["snowfall_cm"] * (SNOW_WATER_MM_PER_CM * reach),
            snow_depth_m=snow,
            pressure_kpa=np.broadcast_to(value["pressure_kpa"], shape),
            settled=np.broadcast_to(np.where(enclosed, 0.0, 1.0), shape),
            open_air_c=air,
            elevation_deg=sun.elevation_deg,
        ),
        after,
    )


def _winds(value: dict[str, Array], site: Site, places: Sequence[Place]) -> tuple[Array, Array, Array]:
    """
    Wind and gust of each place at 2 m, and the open-country wind there. [m s⁻¹]

    What a gust adds to the mean wind is turbulence, whose spread does not change with height near the ground (Panofsky
    & Dutton 1984, Atmospheric Turbulence, ch. 7): towards the floor the mean falls, the gusts' part of it stays.
    """
    share = wind_at_height_ms(np.array(1.0), WIND_HEIGHT_M, OPEN_ROUGHNESS_M)
    gust_share = (share + GUST_OVER_MEAN - 1.0) / GUST_OVER_MEAN
    reach = SURROUNDINGS_WIND[site.surroundings] * np.array([1.0 - place.shelter for place in places])
    open_wind = np.where(value["wind_10m_ms"] >= 0.0, value["wind_10m_ms"], np.nan) * share
    open_gust = np.where(value["gust_10m_ms"] >= 0.0, value["gust_10m_ms"], np.nan) * gust_share
    wind = enclosed_wind_ms(places, open_wind * reach)
    gust = enclosed_wind_ms(places, open_gust * reach)
    return wind, gust, np.broadcast_to(open_wind, wind.shape)


def _vapour_kpa(vapour_out: Array, air_c: Array, soil_c: Array, inside: Enclosures) -> Array:
    """
    Vapour of each place's air. [kPa]

    That outside, in enclosures nearer to what their moist soil saturates; never more than the air holds.
    """
    vapour = np.broadcast_to(vapour_out, air_c.shape).copy()
    if inside.any:
        at = inside.at
        there = vapour[:, :, at]
        there = there + inside.damp * (saturation_vapour_pressure_kpa(soil_c[:, :, at]) - there)
        vapour[:, :, at] = np.minimum(there, saturation_vapour_pressure_kpa(air_c[:, :, at]))
    return vapour


@dataclass(frozen=True)
class _Outside:
    """What does not depend on what is carried, (hour, member, place); longwave and snow are those on the floor."""

    air: Array
    vapour: Array
    wind: Array
    stirring: Array
    level: Array
    longwave: Array
    snow: Array
    striving: Array


def _march(
    outside: _Outside,
    floor: Floor,
    inside: Enclosures,
    state: MicroclimateState,
    season_c: float | None,
) -> tuple[Array, tuple[Array, Array], MicroclimateState]:
    """Air of every place, and its floor's skin and soil, hour by hour."""
    at = inside.at
    air, vapour, longwave = outside.air, outside.vapour, outside.longwave
    if inside.any:
        air, vapour = air.copy(), vapour.copy()
    skin, soil = np.empty_like(outside.level), np.empty_like(outside.level)
    ground, enclosure = state.ground, state.enclosure_c[:, at]
    for hour in range(air.shape[0]):
        if inside.any:
            enclosure = enclosure_step(inside, enclosure, outside.striving[hour], ground.deep_c[:, at])
            air[hour][:, at] = enclosure
            vapour[hour][:, at] = np.minimum(vapour[hour][:, at], saturation_vapour_pressure_kpa(enclosure))
            longwave[hour][:, at] = blackbody_wm2(enclosure)
        ground = ground_step(
            ground,
            floor,
            air[hour],
            vapour[hour],
            outside.wind[hour],
            outside.level[hour],
            longwave[hour],
            outside.snow[hour],
            outside.stirring[hour],
            season_c,
        )
        skin[hour], soil[hour] = ground.skin_c, ground.soil_c
    return air, (skin, soil), MicroclimateState(ground, air[-1].copy())


def spread_state(state: MicroclimateState, members: int) -> MicroclimateState:
    """The one member of an analysed past, handed to every member of what is ahead."""
    ground = state.ground
    return MicroclimateState(
        GroundState(
            np.repeat(ground.skin_c[:1], members, axis=0),
            np.repeat(ground.soil_c[:1], members, axis=0),
            np.repeat(ground.deep_c[:1], members, axis=0),
        ),
        np.repeat(state.enclosure_c[:1], members, axis=0),
    )
