"""The forecast carried to each corner of the garden: light, wind, rain, floor, and the air of enclosures."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from carewatch.forecast.weather import Array, Hours
from carewatch.physics.ground import Floor, GroundState, floor_of, ground_step
from carewatch.physics.humidity import saturation_vapour_pressure_kpa
from carewatch.physics.radiation import blackbody_wm2, sky_longwave_wm2
from carewatch.physics.sun import SunPosition, clear_sky_global_wm2, mid_hour, split_beam_diffuse, sun_position
from carewatch.physics.wind import wind_at_height_ms
from carewatch.place.spot import Place, Site

# Share of the forecast's open wind that reaches a garden in such surroundings. Forecast wind at 10 m belongs to open
# country; suburbs halve it near the ground (estimate from roughness 0.03 m against 0.5 m by the log law). [0-1]
SURROUNDINGS_WIND = {"open": 1.0, "suburban": 0.6, "sheltered": 0.4}
OPEN_ROUGHNESS_M = 0.03
# Air in a closed enclosure hardly moves. Judged. [m s⁻¹]
ENCLOSED_WIND_MS = 0.1
# Diffuse light thrown back by the floor reaches leaves from below: grass 0.23 (FAO-56). [-]
FLOOR_REFLECTS = 0.2


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
    pressure_kpa: [kPa]; settled: 1 outside, 0 in mixed air. [-]
    elevation_deg: of the sun at mid-hour, shape (hour,). [°]
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
    pressure_kpa: Array
    settled: Array
    elevation_deg: Array


def horizon_at_deg(horizon: Sequence[tuple[float, float]], azimuth_deg: Array) -> Array:
    """Height of a place's horizon in the given directions, straight lines between its points. [°]"""
    if not horizon:
        return np.zeros_like(azimuth_deg)
    points = sorted(horizon)
    azimuths = np.array([point[0] for point in points])
    heights = np.array([point[1] for point in points])
    result: Array = np.interp(azimuth_deg, azimuths, heights, period=360.0)
    return result


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
    sun: SunPosition,
    site: Site,
    places: Sequence[Place],
    in_leaf: bool,
    state: MicroclimateState,
    season_c: float | None = None,
) -> tuple[Microclimate, MicroclimateState]:
    """
    Microclimate of all places over the hours, and the state after the last of them.

    sun: position at mid-hour of each hour; in_leaf: trees that shade a place are in leaf.
    season_c: temperature of the ground below half a metre at this time of year, or None. [°C]
    """
    value = {name: array[:, :, None] for name, array in hours.values.items()}
    air = value["air_temp_c"]
    vapour_out = saturation_vapour_pressure_kpa(value["dew_point_c"])
    enclosed = np.array([place.enclosed for place in places])
    reach = SURROUNDINGS_WIND[site.surroundings] * np.array([1.0 - place.shelter for place in places])
    open_wind = wind_at_height_ms(value["wind_10m_ms"], np.float64(2.0), OPEN_ROUGHNESS_M)
    wind = open_wind * reach
    stirring = np.broadcast_to(open_wind, wind.shape)
    gust = wind_at_height_ms(value["gust_10m_ms"], np.float64(2.0), OPEN_ROUGHNESS_M) * reach
    wind = np.where(enclosed, ENCLOSED_WIND_MS, wind)
    gust = np.where(enclosed, ENCLOSED_WIND_MS, gust)
    passing = np.array([(1.0 - place.shade_cloth) * place.glazing for place in places])
    canopy = np.array([place.canopy_in_leaf if in_leaf else place.canopy_leafless for place in places])
    sees_sun = np.stack(
        [sun.elevation_deg > horizon_at_deg(place.horizon, sun.azimuth_deg) for place in places], axis=-1
    )[:, None, :]
    view = np.array([place.sky_view for place in places])
    beam = value["direct_normal_wm2"] * passing * canopy * sees_sun
    diffuse = value["diffuse_wm2"] * passing * view
    level = beam * np.sin(np.radians(np.clip(sun.elevation_deg, 0.0, 90.0)))[:, None, None] + diffuse
    sky = np.broadcast_to(sky_longwave_wm2(air, value["dew_point_c"], value["cloud"]), wind.shape)
    view_long = np.where(enclosed, 0.0, view)
    floor = floor_of(tuple(place.floor for place in places))
    inside, ground, after = _march(
        hours, places, floor, enclosed, (wind, stirring), level, sky, view_long, vapour_out, state, season_c
    )
    air_2m = np.where(enclosed, inside, air)
    rain = value["rain_mm"] * np.array([place.rain_reach for place in places])
    return (
        Microclimate(
            air_2m_c=air_2m,
            skin_c=np.where(enclosed, inside, ground[0]),
            soil_c=ground[1],
            vapour_kpa=np.minimum(np.broadcast_to(vapour_out, wind.shape), saturation_vapour_pressure_kpa(air_2m)),
            wind_2m_ms=wind,
            stirring_ms=stirring,
            gust_2m_ms=gust,
            beam_wm2=beam,
            diffuse_wm2=diffuse,
            reflected_wm2=FLOOR_REFLECTS * level,
            sky_wm2=sky,
            sky_view=np.broadcast_to(view_long, wind.shape),
            surround_c=air_2m,
            rain_mm=rain,
            pressure_kpa=np.broadcast_to(value["pressure_kpa"], wind.shape),
            settled=np.broadcast_to(np.where(enclosed, 0.0, 1.0), wind.shape),
            elevation_deg=sun.elevation_deg,
        ),
        after,
    )


def _march(
    hours: Hours,
    places: Sequence[Place],
    floor: Floor,
    enclosed: Array,
    winds: tuple[Array, Array],
    level: Array,
    sky: Array,
    view: Array,
    vapour: Array,
    state: MicroclimateState,
    season_c: float | None,
) -> tuple[Array, tuple[Array, Array], MicroclimateState]:
    """Enclosure air, and floor skin and soil, hour by hour."""
    damping = np.array([max(place.damping_h, 1e-3) for place in places])
    gain = np.array([place.solar_gain_k_per_100wm2 for place in places]) / 100.0
    heated = np.array([-np.inf if place.heated_to_c is None else place.heated_to_c for place in places])
    follow = 1.0 - np.exp(-1.0 / damping)
    wind, stirring = winds
    inside = np.empty_like(wind)
    skin = np.empty_like(wind)
    soil = np.empty_like(wind)
    ground, enclosure = state.ground, state.enclosure_c
    open_light = hours.values["global_wm2"]
    for hour in range(len(hours)):
        air = hours.values["air_temp_c"][hour][:, None]
        # A closed enclosure leans on the soil under it by a third: what lifts its night minimum (estimate).
        target = 0.67 * (air + gain * open_light[hour][:, None]) + 0.33 * ground.deep_c
        enclosure = np.maximum(enclosure + follow * (target - enclosure), heated)
        above = np.where(enclosed, enclosure, air)
        longwave = view * sky[hour] + (1.0 - view) * blackbody_wm2(above)
        ground = ground_step(
            ground,
            floor,
            above,
            np.minimum(vapour[hour], saturation_vapour_pressure_kpa(above)),
            wind[hour],
            level[hour],
            longwave,
            np.where(enclosed, 0.0, hours.values["snow_depth_m"][hour][:, None]),
            stirring[hour],
            season_c,
        )
        inside[hour], skin[hour], soil[hour] = enclosure, ground.skin_c, ground.soil_c
    return inside, (skin, soil), MicroclimateState(ground, enclosure)


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


def clear_direct_kwh(site: Site, places: Sequence[Place], day: np.datetime64, in_leaf: bool) -> Array:
    """
    Direct sun on a level leaf that each place offers on a cloudless day, (place,). [kWh m⁻² d⁻¹]

    day: UTC date. The sun passes the place's horizon, the trees above it, cloth and glazing.
    """
    stamps = day.astype("datetime64[s]") + np.arange(1, 25) * np.timedelta64(3600, "s")
    sun = sun_position(mid_hour(stamps), site.latitude, site.longitude, site.elevation_m)
    clear = clear_sky_global_wm2(sun.elevation_deg, sun.extraterrestrial_normal_wm2)
    direct, _ = split_beam_diffuse(clear, sun.elevation_deg, sun.extraterrestrial_normal_wm2)
    level = direct * np.sin(np.radians(np.clip(sun.elevation_deg, 0.0, 90.0)))
    return np.array(
        [
            float((level * (sun.elevation_deg > horizon_at_deg(place.horizon, sun.azimuth_deg))).sum())
            * (1.0 - place.shade_cloth)
            * place.glazing
            * (place.canopy_in_leaf if in_leaf else place.canopy_leafless)
            / 1000.0
            for place in places
        ]
    )
