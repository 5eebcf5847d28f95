"""
The sun: where it stands, when it rises, what it sends, and how cloud divides that into beam and diffuse.

Positions are NREL's SPA through pvlib; the round-figure astronomy of FAO-56 (declination up to 1° off in autumn) is
here only for daily sums. NaN or NaT in gives NaN or NaT out. Times are UTC, longitudes positive east.
"""

from dataclasses import dataclass, fields
from datetime import datetime
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from carewatch.physics.spa import load_spa

# Loaded once, at import; a function of it is a function of numpy arrays.
spa = load_spa()

Hours = NDArray[np.float64]
Times = NDArray[np.datetime64]

# W m-2 at one astronomical unit; Kopp & Lean 2011, Geophys. Res. Lett. 38:L01706.
SOLAR_CONSTANT_WM2 = 1360.8
# Terrestrial time minus UT1, IERS, years 2020 to 2030 within 1 s; one second moves the sun by 0.00001°.
DELTA_T_S = 69.2
# At sunrise the upper limb touches the horizon: radius 16', refraction 34'.
RISING_ELEVATION_DEG = -0.8333
SUN_TURN_DEG_PER_S = 360.0 / 86400.0

# Lower than this, the beam is a small remainder divided by a small sine: all of it counts as diffuse.
BEAM_LOWEST_ELEVATION_DEG = 3.0
# Instants of each hour at which the sun is looked up, evenly spread: every five minutes. Judged.
INSTANTS_PER_HOUR = 12
# cos(zenith) below which the clearness index keeps its denominator; as in pvlib's Erbs model.
CLEARNESS_LOWEST_SINE = 0.065
# Below this, sunshine outside the atmosphere is none; it only keeps a division by zero away. [W m-2]
LEAST_SUNSHINE_WM2 = 1e-6
# Linke turbidity of clean, cold, dry air: the clearest there is near the ground.
CLEANEST_LINKE_TURBIDITY = 2.0


@dataclass(frozen=True)
class SunPosition:
    """
    The sun hour by hour, all of shape (hour,).

    elevation_deg: apparent elevation, refraction included, of the centre; negative below the horizon. [°]
    azimuth_deg: from north through east. [°]
    extraterrestrial_normal_wm2: sunshine outside the atmosphere, on a surface facing the sun. [W m-2]
    """

    elevation_deg: Hours
    azimuth_deg: Hours
    extraterrestrial_normal_wm2: Hours


@dataclass(frozen=True)
class SunHours(SunPosition):
    """
    The sun of whole hours, for what is a mean over each of them.

    elevation_deg, azimuth_deg: in the middle of the part of the hour in which the sun is up; of a dark hour, in its
    middle. [°]
    extraterrestrial_normal_wm2: mean over the whole hour, the dark part of it counting as nothing. [W m-2]
    course_elevation_deg, course_azimuth_deg: at evenly spread instants of the hour, (hour, instant). [°]
    """

    course_elevation_deg: Hours
    course_azimuth_deg: Hours


def mid_hour(times: Times) -> Times:
    """
    The middle of the hour that ends at each stamp, where the sun stands for that hour's fluxes.

    times: stamps, UTC.
    """
    return times - np.timedelta64(30, "m")


def sun_of_hours(times: Times, latitude: float, longitude: float, elevation_m: float) -> SunHours:
    """
    The sun of the hours that end at the stamps, as SunHours.

    times: consecutive hourly stamps, UTC, shape (hour,), 1950 to 2100.
    latitude, longitude: of the place, longitude positive east. [°]
    elevation_m: of the place above sea level. [m]

    A flux that is a mean over the hour belongs to the middle of that hour; in the hours of sunrise and sunset, to the
    middle of the part that has sun, with the extraterrestrial sunshine of that part: the convention of hourly
    radiation models (Duffie & Beckman 2013, Solar Engineering of Thermal Processes, ch. 1.10 and 2.13: the integral of
    the hour, which its midpoint stands for). Between the middles of the hours the course is a smooth curve, within
    0.3° of the sun itself while that is from 5° to 60° high.
    """
    return _sun_from(times[0].astype("datetime64[s]").item(), times.size, latitude, longitude, elevation_m)


# A judgement asks for the same hours up to three times.
@lru_cache(maxsize=8)
def _sun_from(first: datetime | None, hours: int, latitude: float, longitude: float, elevation_m: float) -> SunHours:
    """As sun_of_hours; first: the first stamp, UTC. The arrays are shared and cannot be written to."""
    begin = np.datetime64(first, "s")
    around = begin + np.arange(-2, hours + 2) * np.timedelta64(1, "h") - np.timedelta64(30, "m")
    middle = sun_position(around, latitude, longitude, elevation_m)
    elevation, azimuth = middle.elevation_deg[2:-2], middle.azimuth_deg[2:-2]
    lower, upper = _beside(np.diff(middle.elevation_deg))
    before, after = _beside(_turned(np.diff(middle.azimuth_deg)))
    moment = (2.0 * np.arange(INSTANTS_PER_HOUR) + 1.0) / INSTANTS_PER_HOUR - 1.0

    def at(moments: Hours) -> tuple[Hours, Hours]:
        rise = 0.5 * (upper - lower)[:, None] * moments + 0.5 * (lower + upper)[:, None] * moments**2
        turn = 0.5 * (after - before)[:, None] * moments + 0.5 * (before + after)[:, None] * moments**2
        return elevation[:, None] + rise, (azimuth[:, None] + turn) % 360.0

    course_elevation, course_azimuth = at(moment)
    up = course_elevation > 0.0
    sunlit = up.mean(axis=1)
    partly = (sunlit > 0.0) & (sunlit < 1.0)
    centre = np.where(partly, (up * moment).sum(axis=1) / np.maximum(up.sum(axis=1), 1), 0.0)
    centre_elevation, centre_azimuth = at(centre[:, None])
    found = SunHours(
        elevation_deg=centre_elevation[:, 0],
        azimuth_deg=centre_azimuth[:, 0],
        extraterrestrial_normal_wm2=middle.extraterrestrial_normal_wm2[2:-2] * sunlit,
        course_elevation_deg=course_elevation,
        course_azimuth_deg=course_azimuth,
    )
    for each in fields(found):
        getattr(found, each.name).flags.writeable = False
    return found


def sun_position(
    times_utc: Times,
    latitude: float,
    longitude: float,
    elevation_m: float,
    *,
    pressure_kpa: float | None = None,
    air_temp_c: float = 12.0,
    delta_t_s: float = DELTA_T_S,
    horizon_refraction_deg: float = 0.5667,
) -> SunPosition:
    """
    Where the sun stands at each time, as a SunPosition of arrays (hour,).

    times_utc: instants, shape (hour,), 1950 to 2100 with the default delta_t_s.
    latitude, longitude: of the place, longitude positive east. [°]
    elevation_m: of the place above sea level. [m]
    pressure_kpa, air_temp_c: for refraction; pressure of the standard atmosphere if not given. [kPa, °C]
    delta_t_s: terrestrial time minus UT1. [s]
    horizon_refraction_deg: refraction at sunrise and sunset. [°]

    Source: Reda & Andreas 2004 (rev. 2008), NREL/TP-560-34302, uncertainty 0.0003°.
    """
    pressure_hpa = 1013.25 * (1.0 - 2.25577e-5 * elevation_m) ** 5.25588 if pressure_kpa is None else 10 * pressure_kpa
    seconds = _unix_seconds(times_utc)
    _, _, apparent_elevation, _, azimuth, _ = spa.solar_position_numpy(
        seconds, latitude, longitude, elevation_m, pressure_hpa, air_temp_c, delta_t_s, horizon_refraction_deg, 1
    )
    distance = spa.earthsun_distance(seconds, delta_t_s, 1)
    return SunPosition(
        elevation_deg=np.asarray(apparent_elevation, dtype=np.float64),
        azimuth_deg=np.asarray(azimuth, dtype=np.float64),
        extraterrestrial_normal_wm2=np.asarray(SOLAR_CONSTANT_WM2 / np.square(distance), dtype=np.float64),
    )


def sun_times_utc(dates: Times, latitude: float, longitude: float) -> tuple[Times, Times]:
    """
    Sunrise and sunset of each day, UTC to the second, NaT where the sun does not cross the horizon that day.

    dates: days (datetime64[D]) by the place's own sun: the pair encloses the noon that falls on that date there,
    so far from Greenwich a sunrise may bear the date before, or a sunset the date after, in UTC.
    latitude, longitude: of the place, longitude positive east. [°]

    A level horizon; refraction 34', upper limb. Real refraction moves it by a minute.
    Source: hour angle from the declination of SPA (Reda & Andreas 2004), refined at the instant itself.
    """
    noon = _unix_seconds(dates.astype("datetime64[D]").astype("datetime64[s]")) + 43200.0 - longitude * 240.0
    noon = _hour_angle_instant(noon, np.zeros_like(noon), latitude, longitude)
    # Both at once: SPA takes as long for a few instants as for twice as many.
    side = np.repeat([-1.0, 1.0], noon.size)
    rise, set_ = np.split(_crossing(np.concatenate([noon, noon]), side, latitude, longitude), 2)
    return _as_times(rise), _as_times(set_)


def inverse_relative_distance(day_of_year: Hours) -> Hours:
    """
    Inverse relative distance from the earth to the sun, squared. [-]

    day_of_year: 1 to 366. [d]

    Source: Allen et al. 1998, FAO-56 eq. 23.
    """
    return 1.0 + 0.033 * np.cos(2.0 * np.pi / 365.0 * day_of_year)


def declination_rad(day_of_year: Hours) -> Hours:
    """
    Solar declination for daily radiation sums. [rad]

    day_of_year: 1 to 366. [d]

    Up to 1° off in autumn; for shade and sunrise use sun_position and sun_times_utc.
    Source: Allen et al. 1998, FAO-56 eq. 24.
    """
    return 0.409 * np.sin(2.0 * np.pi / 365.0 * day_of_year - 1.39)


def sunset_hour_angle_rad(day_of_year: Hours, latitude: Hours | float) -> Hours:
    """
    Hour angle of the sunset, without refraction: 0 in the polar night, pi under the midnight sun. [rad]

    day_of_year: 1 to 366. [d]
    latitude: -90 to 90, positive north. [°]

    Source: Allen et al. 1998, FAO-56 eq. 25.
    """
    cosine = -np.tan(np.radians(latitude)) * np.tan(declination_rad(day_of_year))
    return np.asarray(np.arccos(np.clip(cosine, -1.0, 1.0)), dtype=np.float64)


def day_length_h(day_of_year: Hours, latitude: Hours | float) -> Hours:
    """
    Hours of daylight, without refraction: 0 in the polar night, 24 under the midnight sun. [h]

    day_of_year: 1 to 366. [d]
    latitude: -90 to 90, positive north. [°]

    About 10 minutes shorter than sunrise to sunset in middle latitudes.
    Source: Allen et al. 1998, FAO-56 eq. 34.
    """
    return 24.0 / np.pi * sunset_hour_angle_rad(day_of_year, latitude)


def clear_sky_global_wm2(elevation_deg: Hours, extraterrestrial_normal_wm2: Hours) -> Hours:
    """
    Global radiation on level ground under a cloudless sky; zero when the sun is down. [W m-2]

    elevation_deg: of the sun. [°]
    extraterrestrial_normal_wm2: carries the distance of the sun into a formula fitted to the yearly mean. [W m-2]

    Fitted near sea level; mountain air lets 5 to 10 % more through at 2000 m.
    Source: Haurwitz 1945, J. Meteor. 2:154-166, in the form 1098 cos z exp(-0.059 / cos z).
    """
    sine = np.sin(np.radians(elevation_deg))
    above = np.where(sine > 0.0, sine, 1.0)
    clear = 1098.0 * above * np.exp(-0.059 / above) * extraterrestrial_normal_wm2 / SOLAR_CONSTANT_WM2
    return np.where(sine > 0.0, clear, 0.0 * sine * extraterrestrial_normal_wm2)


def cloud_transmission(cloud: Hours) -> Hours:
    """
    Part of the clear-sky global radiation that a cloud cover lets through. [-]

    cloud: part of the sky that is covered, 0 to 1; outside NaN. [-]

    Source: Kasten & Czeplak 1980, Solar Energy 24:177-189, 1 - 0.75 n^3.4 (ten years at Hamburg).
    """
    covered = np.where((cloud >= 0.0) & (cloud <= 1.0), cloud, np.nan)
    return 1.0 - 0.75 * covered**3.4


def split_beam_diffuse(
    global_wm2: Hours, elevation_deg: Hours, extraterrestrial_normal_wm2: Hours
) -> tuple[Hours, Hours]:
    """
    Direct normal and diffuse level radiation, which together make the global radiation. [W m-2, W m-2]

    global_wm2: global radiation on level ground, hourly mean, 0 upwards; negative gives NaN. [W m-2]
    elevation_deg: of the sun in the middle of the hour. [°]
    extraterrestrial_normal_wm2: outside the atmosphere, facing the sun. [W m-2]

    Below 3° all counts as diffuse; above, the beam is at most what the cleanest air lets through, and what exceeds it
    is diffuse. So no division by a small sine can make a beam that never shone.
    Source: Erbs, Klein & Duffie 1982, Solar Energy 28:293-302, eq. 1 (diffuse part by clearness index); Kasten 1996,
    Solar Energy 56:239-244 (clear beam at Linke turbidity 2); Kasten & Young 1989, Appl. Opt. 28:4735 (air mass).
    """
    total = np.where(global_wm2 >= 0.0, global_wm2, np.nan)
    sine = np.sin(np.radians(elevation_deg))
    # A whole hour of the night has no sunshine outside the atmosphere to compare with: what twilight it has is diffuse.
    outside = np.maximum(extraterrestrial_normal_wm2 * np.maximum(sine, CLEARNESS_LOWEST_SINE), LEAST_SUNSHINE_WM2)
    clearness = np.minimum(total / outside, 1.0)
    beam_on_level = total * (1.0 - _diffuse_part(clearness))
    high_enough = elevation_deg >= BEAM_LOWEST_ELEVATION_DEG
    ceiling = clearest_beam_wm2(elevation_deg, extraterrestrial_normal_wm2)
    direct_normal = np.minimum(beam_on_level / np.where(high_enough, sine, 1.0), ceiling)
    direct_normal = np.where(high_enough, direct_normal, 0.0 * direct_normal)
    diffuse = total - direct_normal * sine
    return direct_normal, diffuse


def clearest_beam_wm2(elevation_deg: Hours, extraterrestrial_normal_wm2: Hours) -> Hours:
    """
    Direct normal radiation through the cleanest air near sea level: more than this never comes. [W m-2]

    elevation_deg: of the sun; below 3° that of 3°. [°]
    extraterrestrial_normal_wm2: outside the atmosphere, facing the sun. [W m-2]

    Source: Kasten 1996 and Kasten & Young 1989, as in split_beam_diffuse.
    """
    return extraterrestrial_normal_wm2 * _cleanest_transmission(elevation_deg)


def _diffuse_part(clearness: Hours) -> Hours:
    """Diffuse part of the global radiation. [-] Erbs et al. 1982, eq. 1."""
    overcast = 1.0 - 0.09 * clearness
    broken = 0.9511 + clearness * (-0.1604 + clearness * (4.388 + clearness * (-16.638 + clearness * 12.336)))
    part = np.where(clearness <= 0.22, overcast, np.where(clearness <= 0.8, broken, 0.165))
    return np.where(np.isnan(clearness), np.nan, part)


def _cleanest_transmission(elevation_deg: Hours) -> Hours:
    """Part of the beam that comes through the cleanest air. [-] Kasten 1996, Kasten & Young 1989; from 3° up."""
    elevation = np.maximum(elevation_deg, BEAM_LOWEST_ELEVATION_DEG)
    mass = 1.0 / (np.sin(np.radians(elevation)) + 0.50572 * (elevation + 6.07995) ** -1.6364)
    clean_dry_depth = 1.0 / (6.6296 + mass * (1.7513 + mass * (-0.1202 + mass * (0.0065 - mass * 0.00013))))
    return np.exp(-0.8662 * CLEANEST_LINKE_TURBIDITY * clean_dry_depth * mass)


def _beside(steps: Hours) -> tuple[Hours, Hours]:
    """
    What an angle lacks at the begin and has more at the end of each hour, from its steps between the hours' middles.

    steps: of the hours and two more on either side, n + 3. The edge between two hours lies where the cubic through the
    four middles around it says: half of the step between the two, and a sixteenth of what the outer steps differ by.
    """
    share = 0.5 * steps[1:-1] + (steps[:-2] - steps[2:]) / 16.0
    return share[:-1] - steps[1:-2], share[1:]


def _turned(angle_deg: Hours) -> Hours:
    """A difference of azimuths as the shorter turn, -180 to 180. [°]"""
    return np.asarray((angle_deg + 180.0) % 360.0 - 180.0)


def _unix_seconds(times: Times) -> Hours:
    """Seconds since 1970 UTC, NaN for NaT. [s]"""
    milliseconds = times.astype("datetime64[ms]")
    return np.where(np.isnat(milliseconds), np.nan, milliseconds.astype(np.int64) / 1000.0)


def _as_times(seconds: Hours) -> Times:
    """Times of whole seconds since 1970 UTC, NaT for NaN."""
    known = np.isfinite(seconds)
    whole = np.where(known, np.round(np.where(known, seconds, 0.0)), 0.0).astype(np.int64)
    return np.where(known, whole.astype("datetime64[s]"), np.datetime64("NaT", "s"))


def _hour_angle_instant(guess_s: Hours, hour_angle_deg: Hours, latitude: float, longitude: float) -> Hours:
    """The instant nearest to the guess at which the sun has this hour angle. [s since 1970]"""
    sidereal, right_ascension, _ = spa.solar_position_numpy(
        guess_s, latitude, longitude, 0.0, 1013.25, 12.0, DELTA_T_S, 0.5667, 1, sst=True
    )
    behind = (hour_angle_deg - (sidereal + longitude - right_ascension) + 180.0) % 360.0 - 180.0
    return np.asarray(guess_s + behind / SUN_TURN_DEG_PER_S, dtype=np.float64)


def _crossing(noon_s: Hours, side: Hours, latitude: float, longitude: float) -> Hours:
    """When the sun crosses the horizon before (side -1) or after (side 1) its noon, NaN if it does not. [s]"""
    instant = noon_s
    for _ in range(4):
        _, _, declination = spa.solar_position_numpy(
            instant, latitude, longitude, 0.0, 1013.25, 12.0, DELTA_T_S, 0.5667, 1, sst=True
        )
        cosine = (
            np.sin(np.radians(RISING_ELEVATION_DEG)) - np.sin(np.radians(latitude)) * np.sin(np.radians(declination))
        ) / (np.cos(np.radians(latitude)) * np.cos(np.radians(declination)))
        angle = np.degrees(np.arccos(np.where(np.abs(cosine) <= 1.0, cosine, np.nan)))
        instant = _hour_angle_instant(noon_s + side * angle / SUN_TURN_DEG_PER_S, side * angle, latitude, longitude)
    return instant
