"""Light at a place: what horizon, trees by season, cloth and glazing leave of it, and what a day sums to."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from carewatch.forecast.weather import Array, Times
from carewatch.physics.sun import SunHours, clear_sky_global_wm2, split_beam_diffuse, sun_of_hours
from carewatch.place.spot import Place, Site

# Day of the year on which half of the leaves of garden trees are out, and half down, at 50° N near sea level. The
# season of leaves lasts from 24 April to 28 October in the mean of the phenological gardens of Europe (Chmielewski &
# Rötzer 2001, Agric. For. Meteorol. 108:101-112: first leaves of early kinds to leaf fall); beech and oak follow from 2
# May on (Dittmar & Elling 2006, Eur. J. Forest Res. 125:181-188), so that half is reached at the end of April.
HALF_OUT_DAY, HALF_DOWN_DAY = 120.0, 301.0
# Leaves need four weeks from the first buds to full size, and fall over five (common practice). [d]
OUT_DAYS, DOWN_DAYS = 28.0, 35.0
# Spring comes later, and autumn earlier, by so much per degree towards the pole. Estimate: 2.5 days in spring in Europe
# (Rötzer & Chmielewski 2001, Climate Res. 18:249-257, from memory), less on the east coasts of continents, which are as
# late as Europe several degrees farther north; autumn about as much. [d per degree]
DAYS_PER_DEGREE = 1.5
HOME_LATITUDE_DEG = 50.0
# Nearer to the equator trees keep other seasons, nearer to the pole there are hardly any. Judged. [°]
LEAF_LATITUDES_DEG = (30.0, 67.0)
# Spring is later by two days per 100 m, autumn hardly moves (Dittmar & Elling 2006, abstract). [d m⁻¹]
SPRING_DAYS_PER_M = 0.02
# A crown half as wide again as it is deep: the way of a beam through it grows towards the horizon as through an
# ellipsoid, not as through an endless layer. Estimate: open-grown broad-leaved trees.
CROWN_WIDTH = 1.5
# Sun at which a place's share of passing beam is meant: between the summer and the winter sun under which Konarska et
# al. 2014 measured single trees at 57.7° N. Estimate. [°]
CROWN_SUN_DEG = 30.0
# A share of light that passes no tree at all is taken as this, so that it has a logarithm.
LEAST_PASSING = 1e-4
# Refractive index of glass (Duffie & Beckman 2013, ch. 5.1); polyethylene, 1.51, is the same.
GLASS_INDEX = 1.526
# Diffuse light of the sky passes a level pane as a beam that meets it at this angle (Brandemuehl & Beckman 1980, Solar
# Energy 24:511-513). [°]
DIFFUSE_INCIDENCE_DEG = 59.7
# From this share on the light comes through a roof of glass or film; less is what finds its way in by a window, and
# keeps no angle. Judged.
ROOF_GLAZING = 0.5
# Below this elevation the roof has no more meaning than the frame around it. Judged. [°]
LOWEST_ON_ROOF_DEG = 5.0
# Photons that plants use in each joule of global radiation: 0.45 of its energy is 400 to 700 nm (Meek et al. 1984,
# Agron. J. 76:939-945), with 4.57 µmol per joule of it (McCree 1972, Agric. Meteorol. 10:443-453; Thimijan & Heins
# 1983, HortScience 18:818-822, daylight). [mol J⁻¹]
PHOTONS_MOL_PER_J = 0.45 * 4.57e-6
HOUR_S = 3600.0


@dataclass(frozen=True)
class Passing:
    """
    What reaches each place of the light outside, arrays (hour, place). [0-1]

    beam, diffuse: at the plants, over direct normal radiation and over diffuse radiation on level ground.
    roof_beam, roof_diffuse: the same before glass and film, on the enclosure.
    view: share of the hemisphere that is open sky that day.
    """

    beam: Array
    diffuse: Array
    roof_beam: Array
    roof_diffuse: Array
    view: Array


def canopy_leaf(times: Times, latitude: float, elevation_m: float) -> Array:
    """
    Share of their leaves that deciduous trees of gardens carry at each time, (hour,). [0-1]

    times: UTC stamps; latitude: north positive. [°]; elevation_m: above sea level. [m]

    A mean of years and kinds: a year, or a tree, may be two weeks earlier or later. Sources stand with the constants.
    """
    day = (times.astype("datetime64[s]") - times.astype("datetime64[Y]")) / np.timedelta64(1, "D") + 1.0
    if latitude < 0.0:
        day = (day + 181.0) % 365.0 + 1.0
    from_home = float(np.clip(abs(latitude), *LEAF_LATITUDES_DEG)) - HOME_LATITUDE_DEG
    half_out = HALF_OUT_DAY + DAYS_PER_DEGREE * from_home + SPRING_DAYS_PER_M * max(elevation_m, 0.0)
    half_down = HALF_DOWN_DAY - DAYS_PER_DEGREE * from_home
    out = 0.5 + (day - half_out) / OUT_DAYS
    down = 0.5 + (half_down - day) / DOWN_DAYS
    result: Array = np.clip(np.minimum(out, down), 0.0, 1.0)
    return result


def horizon_at_deg(horizon: Sequence[tuple[float, float]], azimuth_deg: Array) -> Array:
    """Height of a place's horizon in the given directions, straight lines between its points. [°]"""
    if not horizon:
        return np.zeros_like(azimuth_deg)
    points = sorted(horizon)
    azimuths = np.array([point[0] for point in points])
    heights = np.array([point[1] for point in points])
    result: Array = np.interp(azimuth_deg, azimuths, heights, period=360.0)
    return result


def sees_sun(places: Sequence[Place], sun: SunHours) -> Array:
    """Share of each hour's sun that clears a place's horizon, (hour, place). [0-1]"""
    up = sun.course_elevation_deg > 0.0
    sunlit = np.maximum(up.sum(axis=1), 1)
    clears = [
        up & (sun.course_elevation_deg > horizon_at_deg(place.horizon, sun.course_azimuth_deg)) if place.horizon else up
        for place in places
    ]
    return np.stack([seen.sum(axis=1) / sunlit for seen in clears], axis=-1)


def glass_passes(incidence_deg: Array) -> Array:
    """
    Share of a beam that one pane passes, over what passes it at a right angle. [0-1]

    incidence_deg: between beam and the pane's normal, 0 to 90. [°]

    Reflection at both faces without absorption, mean of both polarisations.
    Source: Fresnel; Duffie & Beckman 2013, Solar Engineering of Thermal Processes, eq. 5.1.1 to 5.1.7.
    """
    angle = np.radians(np.clip(incidence_deg, 0.01, 89.9))
    inside = np.arcsin(np.sin(angle) / GLASS_INDEX)
    across = (np.sin(inside - angle) / np.sin(inside + angle)) ** 2
    along = (np.tan(inside - angle) / np.tan(inside + angle)) ** 2
    straight = ((GLASS_INDEX - 1.0) / (GLASS_INDEX + 1.0)) ** 2
    passes = 0.5 * ((1.0 - across) / (1.0 + across) + (1.0 - along) / (1.0 + along))
    result: Array = passes * (1.0 + straight) / (1.0 - straight)
    return result


def crown_path(elevation_deg: Array) -> Array:
    """
    Length of a beam's way through a crown over that under the sun for which its shade is stated. [-]

    elevation_deg: of the sun. [°]

    Chord through the middle of an ellipsoid. Source: geometry; crowns as ellipsoids after Norman & Welles 1983, Agron.
    J. 75:481-488.
    """
    return _chord(np.maximum(elevation_deg, 0.0)) / _chord(np.array(CROWN_SUN_DEG))


def _chord(elevation_deg: Array) -> Array:
    """Chord through the middle of a crown of depth 1."""
    angle = np.radians(elevation_deg)
    result: Array = 1.0 / np.sqrt((np.cos(angle) / CROWN_WIDTH) ** 2 + np.sin(angle) ** 2)
    return result


def between_seasons(bare: Array, in_leaf: Array, leaf: Array) -> Array:
    """
    Share of light that passes trees of which `leaf` of the leaves are out, (hour, place). [0-1]

    bare, in_leaf: what passes without leaves and with all of them, (place,). [0-1]; leaf: (hour,). [0-1]

    Source: Monsi & Saeki 1953 (Beer's law): each leaf takes its share of what the others leave, so that the logarithm
    of what passes falls with leaf area.
    """
    without, full = np.log(np.maximum(bare, LEAST_PASSING)), np.log(np.maximum(in_leaf, LEAST_PASSING))
    result: Array = np.exp(without + leaf[:, None] * (full - without))
    return result


def passing(places: Sequence[Place], sun: SunHours, leaf: Array) -> Passing:
    """
    What horizon, trees, cloth and glazing of each place leave of the light.

    sun: of the hours; leaf: share of their leaves that deciduous trees carry, (hour,). [0-1]
    """

    def each(values: Sequence[float]) -> Array:
        return np.array(values, dtype=np.float64)

    cloth = 1.0 - each([place.shade_cloth for place in places])
    glazing = each([place.glazing for place in places])
    in_leaf = each([place.canopy_in_leaf for place in places])
    bare = each([place.canopy_leafless for place in places])
    view_in_leaf = each([place.sky_view for place in places])
    view_bare = each(
        [place.sky_view if place.sky_view_leafless is None else place.sky_view_leafless for place in places]
    )
    trees = between_seasons(bare, in_leaf, leaf) ** crown_path(sun.elevation_deg)[:, None]
    view = between_seasons(view_bare, view_in_leaf, leaf)
    incidence = 90.0 - np.maximum(sun.elevation_deg, LOWEST_ON_ROOF_DEG)
    roof = glazing >= ROOF_GLAZING
    pane = glass_passes(incidence)[:, None]
    beam_glazing = np.where(roof & (glazing < 1.0), glazing * pane, glazing)
    diffuse_pane = float(glass_passes(np.array(DIFFUSE_INCIDENCE_DEG)))
    diffuse_glazing = np.where(roof & (glazing < 1.0), glazing * diffuse_pane, glazing)
    roof_beam = sees_sun(places, sun) * trees * cloth
    roof_diffuse = view * cloth
    return Passing(roof_beam * beam_glazing, roof_diffuse * diffuse_glazing, roof_beam, roof_diffuse, view)


def sun_sine(sun: SunHours) -> Array:
    """Sine of the sun's elevation, zero below the horizon, (hour,). [-]"""
    result: Array = np.sin(np.radians(np.clip(sun.elevation_deg, 0.0, 90.0)))
    return result


def clear_direct_kwh(site: Site, places: Sequence[Place], day: np.datetime64) -> Array:
    """
    Direct sun on a level leaf that each place offers on a cloudless day, (place,). [kWh m⁻² d⁻¹]

    day: UTC date. The sun passes the place's horizon, the trees above it as they are that day, cloth and glazing.
    """
    stamps = day.astype("datetime64[D]").astype("datetime64[s]") + np.arange(1, 25) * np.timedelta64(3600, "s")
    sun = sun_of_hours(stamps, site.latitude, site.longitude, site.elevation_m)
    clear = clear_sky_global_wm2(sun.elevation_deg, sun.extraterrestrial_normal_wm2)
    direct, _ = split_beam_diffuse(clear, sun.elevation_deg, sun.extraterrestrial_normal_wm2)
    leaf = canopy_leaf(stamps, site.latitude, site.elevation_m)
    level = (direct * sun_sine(sun))[:, None] * passing(places, sun, leaf).beam
    result: Array = level.sum(axis=0) / 1000.0
    return result


def daily_light_mol(light_wm2: Array, day: Times) -> tuple[Times, Array]:
    """
    Days, and the daily light integral of each: photons of 400 to 700 nm on a level leaf. [mol m⁻² d⁻¹]

    light_wm2: beam on the level and diffuse together, hourly means, hours along the first axis. [W m⁻²]
    day: date to which each hour belongs, (hour,), rising; a day that begins or ends in between sums what there is.

    Source: McCree 1972 and Thimijan & Heins 1983 (4.57 µmol per joule of daylight), Meek et al. 1984 (0.45 of it).
    """
    days, first = np.unique(day, return_index=True)
    sums: Array = np.add.reduceat(light_wm2, first, axis=0) * (HOUR_S * PHOTONS_MOL_PER_J)
    return days, sums
