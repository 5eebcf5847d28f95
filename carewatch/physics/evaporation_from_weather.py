"""
Reference evapotranspiration straight from weather, quickly: the equations of physics.evaporation in one pass.

The same numbers as the functions there, one after the other, to rounding. What makes it quick: expressions are shared,
the sun is worked out once per hour and not once per member, and long arrays go through in blocks that stay in the
processor's cache. Every function takes float64 arrays of any shapes that broadcast and answers NaN where an input is
NaN.
"""

from collections.abc import Iterator, Sequence
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from carewatch.physics.evaporation import (
    GRASS_ALBEDO,
    SOLAR_CONSTANT_MJ_PER_MIN,
    STEFAN_BOLTZMANN_MJ_PER_DAY,
    ZERO_CELSIUS_K,
    Standard,
    clear_sky_mj,
    extraterrestrial_daily_mj,
    net_radiation_daily_mj,
    reference_et_daily_mm,
    seasonal_correction_h,
)
from carewatch.physics.humidity import pressure_at_kpa, psychrometric_constant_kpa_k
from carewatch.physics.sun import declination_rad, inverse_relative_distance
from carewatch.physics.wind import wind_to_2m_ms

Hours = NDArray[np.float64]

# Values that go through together: the arrays between weather and answer stay in the processor's cache.
BLOCK = 12_288
BETWEEN = 4
LONGEST_YEAR_D = 366
HALF_HOUR_RAD: Final = np.pi / 24.0
# With a sun lower than 0.3 rad, global over clear-sky radiation does not tell the cloud (ASCE-EWRI 2005, at eq. 45).
LOW_SUN_SINE: Final = float(np.sin(0.3))


def reference_et_from_weather_hourly_mm(
    air_temp_c: Hours,
    vapour_pressure_kpa: Hours,
    wind_ms: Hours,
    global_mj: Hours,
    day_of_year: Hours,
    mid_hour_utc_h: Hours,
    latitude: Hours | float,
    longitude: Hours | float,
    elevation_m: Hours | float,
    low_sun_relative: Hours | float,
    wind_height_m: Hours | float = 10.0,
    standard: Standard = "fao",
    out: Hours | None = None,
) -> Hours:
    """
    Evapotranspiration of the reference grass over an hour; below zero where dew falls. [mm h-1]

    The sun costs as much time as day, hour and place are long together: where weather is (hour, member, column) and
    they are (hour, 1, 1), that of the hours only.

    air_temp_c: mean of the hour, at 2 m. [°C]
    vapour_pressure_kpa: actual. [kPa]
    wind_ms: mean of the hour at wind_height_m, 0 upwards; negative gives NaN. [m s-1]
    global_mj: global radiation; 1 W m-2 over an hour is 0.0036 MJ m-2. [MJ m-2 h-1]
    day_of_year: by the date at the place, 1 to 366. [d]
    mid_hour_utc_h: UTC clock time of the middle of the hour, 0 to 24. [h]
    latitude, longitude: positive north and east. [°]
    elevation_m: above sea level, 0 to 4500; sets the air pressure. [m]
    low_sun_relative: global over clear-sky radiation that counts while the sun is below 0.3 rad: that of the hours
    before, or by climate 0.4 to 0.6 (humid) or 0.7 to 0.8 (arid; FAO-56, text to eq. 53, from memory). [-]
    wind_height_m: 10 is the height of forecasts. [m]
    standard: as in reference_et_hourly_mm.
    out: where the answer goes, of the shape to which all the others broadcast, which is else ValueError; None: a new
    array. A large one costs a fifth of the time if the system has to find its memory.

    An hour counts as day where its net radiation is not negative: so ASCE-EWRI 2005 has it. FAO-56 speaks of daylight;
    this way the heat flux into the soil has no jump.
    Source: Allen et al. 1998, FAO-56 eq. 7, 8, 11, 13, 28 to 33, 37 to 40, 45 to 47, 53; ASCE-EWRI 2005, eq. 1.
    """
    phi = np.radians(np.asarray(latitude, dtype=np.float64))
    sun = [day_of_year, mid_hour_utc_h, np.radians(longitude), np.sin(phi), np.cos(phi)]
    sun_shape = np.broadcast_shapes(*(np.shape(each) for each in sun))
    gamma = psychrometric_constant_kpa_k(pressure_at_kpa(elevation_m)) / 4098.0
    wind_weight = 37.0 * gamma * wind_to_2m_ms(np.ones(()), wind_height_m)
    air = [air_temp_c, vapour_pressure_kpa, wind_ms, global_mj, gamma, wind_weight]
    sky = [clear_sky_mj(np.ones(()), elevation_m), np.asarray(low_sun_relative, dtype=np.float64)]
    shape = np.broadcast_shapes(sun_shape, *(np.shape(each) for each in (*air, *sky)))
    if out is not None and out.shape != shape:
        raise ValueError(f"out has the shape {out.shape}, the answer {shape}")
    answer = np.empty(shape) if out is None else out
    rows = answer.reshape(shape or (1,))
    blocks = list(_blocks(rows.shape))
    room = np.empty((BETWEEN, max((rows[block].size for block in blocks), default=0)))
    # A sun shorter than the weather is worked out before, one as long with it, block by block.
    beforehand = int(np.prod(sun_shape)) < rows.size
    with np.errstate(divide="ignore", invalid="ignore"):
        if beforehand:
            sunlit = _sunlit([np.broadcast_to(each, sun_shape) for each in sun], np.empty((BETWEEN, *sun_shape)))
            sun, sky = [], list(_cloud_terms(*sunlit, *sky))
        given = [np.broadcast_to(each, rows.shape) for each in (*air, *sky, *sun)]
        for block in blocks:
            into, here = rows[block], [each[block] for each in given]
            between = room[:, : into.size].reshape(BETWEEN, *into.shape)
            clouds = here[6:] if beforehand else _cloud_terms(*_sunlit(here[8:], between), here[6], here[7], between)
            _evaporate(into, here[:6], clouds, between, standard)
    return answer


def reference_et_from_weather_daily_mm(
    air_temp_max_c: Hours,
    air_temp_min_c: Hours,
    vapour_pressure_kpa: Hours,
    wind_ms: Hours,
    global_mj: Hours,
    day_of_year: Hours,
    latitude: Hours | float,
    elevation_m: Hours | float,
    wind_height_m: Hours | float = 10.0,
    standard: Standard = "fao",
) -> Hours:
    """
    Evapotranspiration of the reference grass over a day; NaN in the polar night. [mm d-1]

    air_temp_max_c, air_temp_min_c: of the day, at 2 m. [°C]
    vapour_pressure_kpa: actual, mean of the day. [kPa]
    wind_ms: mean of the day at wind_height_m, 0 upwards; negative gives NaN. [m s-1]
    global_mj: global radiation. [MJ m-2 d-1]
    day_of_year: 1 to 366. [d]
    latitude: positive north. [°]
    elevation_m: above sea level, 0 to 4500; sets the air pressure. [m]
    wind_height_m: 10 is the height of forecasts. [m]
    standard: the two differ by the rounding of the Stefan-Boltzmann constant only.

    Source: Allen et al. 1998, FAO-56 eq. 6 to 8, 21, 37 to 40, 47.
    """
    clear = clear_sky_mj(extraterrestrial_daily_mj(day_of_year, latitude), elevation_m)
    net = net_radiation_daily_mj(global_mj, clear, air_temp_max_c, air_temp_min_c, vapour_pressure_kpa, standard)
    wind_2m_ms = wind_to_2m_ms(wind_ms, wind_height_m)
    return reference_et_daily_mm(
        air_temp_max_c, air_temp_min_c, vapour_pressure_kpa, wind_2m_ms, net, 0.0, pressure_at_kpa(elevation_m)
    )


def _sunlit(sun: Sequence[Hours], between: Hours) -> tuple[Hours, NDArray[np.bool_]]:
    """
    Extraterrestrial radiation of the hours with a high sun, and in which it is too low to tell the cloud. [MJ m-2 h-1]

    sun: day, hour, longitude in radians, sine and cosine of the latitude. between: arrays to work in; the first takes
    the radiation.

    A sun as high is up for the whole hour: no sunrise cuts it, and in eq. 28 the difference of the sines is
    2 cos(middle) sin(half an hour). With a lower one the radiation is not asked for.
    """
    day, hour, east, north_sine, north_cosine = sun
    outside, steady, swing, turning = between
    _of_day(day, (outside, steady, swing, turning))
    steady *= north_sine
    swing *= north_cosine
    np.subtract(hour, turning, out=turning)
    turning *= np.pi / 12.0
    turning += east
    np.cos(turning, out=turning)
    turning *= swing
    low = np.add(steady, turning, out=swing) < LOW_SUN_SINE
    steady *= 2.0 * HALF_HOUR_RAD
    turning *= 2.0 * np.sin(HALF_HOUR_RAD)
    steady += turning
    outside *= steady
    return outside, low


def _cloud_terms(
    outside: Hours,
    low: NDArray[np.bool_],
    clear_share: Hours,
    low_relative: Hours,
    between: Hours | tuple[None, None] = (None, None),
) -> tuple[Hours, Hours]:
    """
    Cloud factor of eq. 39, as global radiation times the first plus the second. [m2 h MJ-1], [-]

    outside, low: as from _sunlit. clear_share: clear-sky over extraterrestrial radiation. [-]
    between: where the two go.
    """
    per_global = np.multiply(outside, clear_share, out=between[0])
    per_global = np.divide(1.35, per_global, out=per_global)
    np.copyto(per_global, 0.0, where=low)
    otherwise = np.multiply(low, low_relative, out=between[1])
    otherwise *= 1.35
    otherwise -= 0.35
    return per_global, otherwise


def _of_day(day: Hours, out: tuple[Hours, Hours, Hours, Hours]) -> None:
    """Write radiation outside, sine and cosine of the declination, Greenwich's noon. [MJ m-2 rad-1], [-], [-], [h]"""
    if day.size > LONGEST_YEAR_D and day.min() >= 0.0 and day.max() <= LONGEST_YEAR_D:
        number = day.astype(np.intp)
        if np.array_equal(number, day):
            # "clip" only saves the check of what has just been checked.
            for each, into in zip(_every_day(), out, strict=True):
                np.take(each, number, out=into, mode="clip")
            return
    for each, into in zip(_astronomy(day), out, strict=True):
        into[...] = each


@cache
def _every_day() -> tuple[Hours, Hours, Hours, Hours]:
    """The astronomy of every day of a year, by its number."""
    return _astronomy(np.arange(LONGEST_YEAR_D + 1, dtype=np.float64))


def _astronomy(day: Hours) -> tuple[Hours, Hours, Hours, Hours]:
    declination = declination_rad(day)
    strength = 12.0 * 60.0 / np.pi * SOLAR_CONSTANT_MJ_PER_MIN * inverse_relative_distance(day)
    return strength, np.sin(declination), np.cos(declination), 12.0 - seasonal_correction_h(day)


def _evaporate(
    answer: Hours, air: Sequence[Hours], clouds: Sequence[Hours], between: Hours, standard: Standard
) -> None:
    """
    Write FAO-56 eq. 53, both sides of its fraction over 4098, of which the slope of saturation is a multiple. [mm h-1]

    air: temperature, vapour pressure, wind, global radiation; psychrometric constant over 4098, and that times 37 and
    the wind at 2 m per wind. clouds: as from _cloud_terms. between: arrays to work in, the first two of which may hold
    the clouds.
    """
    temp, vapour, wind, solar, gamma, wind_weight = air
    net, other, slope, below = between
    # Net radiation, eq. 38 to 40.
    np.multiply(solar, clouds[0], out=net)
    net += clouds[1]
    np.minimum(net, 1.0, out=net)
    np.maximum(net, 1.35 * 0.3 - 0.35, out=net)
    np.add(temp, ZERO_CELSIUS_K, out=other)
    other *= other
    other *= other
    net *= other
    sigma = STEFAN_BOLTZMANN_MJ_PER_DAY[standard] / 24.0
    np.sqrt(vapour, out=other)
    other *= -0.14 * sigma
    other += 0.34 * sigma
    net *= other
    np.multiply(solar, 1.0 - GRASS_ALBEDO, out=other)
    np.subtract(other, net, out=net)
    # Saturation, eq. 11, and its slope, eq. 13.
    np.add(temp, 237.3, out=slope)
    np.divide(-17.27 * 237.3, slope, out=answer)
    answer += 17.27 + np.log(0.6108)
    np.exp(answer, out=answer)
    slope *= slope
    np.divide(answer, slope, out=slope)
    # The wind's part above the line, and the resistance below it.
    if wind.min() < 0.0:
        wind = np.where(wind >= 0.0, wind, np.nan)
    np.multiply(wind, wind_weight, out=below)
    answer -= vapour
    answer *= below
    np.add(temp, 273.0, out=other)
    answer /= other
    if standard == "asce":
        # 0.24 by day and 0.96 by night.
        np.copysign(0.36 / 37.0, net, out=other)
        np.subtract(0.60 / 37.0, other, out=other)
        below *= other
    else:
        below *= 0.34 / 37.0
    below += gamma
    below += slope
    # Of a gain the soil takes a tenth, of a loss it bears half: the greater of the two, eq. 45 and 46.
    np.multiply(net, 0.5 * 0.408, out=other)
    net *= 0.9 * 0.408
    np.maximum(net, other, out=net)
    net *= slope
    answer += net
    answer /= below


def _blocks(shape: tuple[int, ...]) -> Iterator[tuple[slice, ...]]:
    """Slices of about BLOCK values that cover an array of this shape, in the order in which it lies in memory."""
    if not shape:
        yield ()
        return
    row = int(np.prod(shape[1:]))
    if len(shape) > 1 and row > BLOCK:
        for index in range(shape[0]):
            for rest in _blocks(shape[1:]):
                yield (slice(index, index + 1), *rest)
        return
    count = -(-shape[0] * row // BLOCK)
    step = -(-shape[0] // max(count, 1))
    for start in range(0, shape[0], max(step, 1)):
        yield (slice(start, start + step),)
