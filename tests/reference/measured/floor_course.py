"""carewatch's garden floor through the hours of a record: open grass under the whole sky."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from carewatch.forecast.history import daily_history, season_ground_c
from carewatch.forecast.weather import Hours
from carewatch.physics.ground import air_at_height_c, floor_of, ground_step
from carewatch.physics.humidity import saturation_vapour_pressure_kpa
from carewatch.physics.sun import SunHours
from carewatch.physics.wind import wind_at_height_ms
from carewatch.place import microclimate
from carewatch.place.spot import Place, Site
from tests.reference.measured.record import SHORT_GRASS_M, Array, Record

# Roughness and displacement of a sward in heights of its plants (Allen et al. 1998, FAO-56 box 4). [-]
ROUGHNESS_SHARE, DISPLACEMENT_SHARE = 0.123, 2.0 / 3.0
# The first day comes so often before the record begins: soil and floor forget what they were started with. [d]
SPIN_UP_DAYS = 3
# A forecast's worth of hours: so long the ground below half a metre keeps the temperature of the season. [h]
ONE_SEASON_H = 21 * 24
SITE = Site("station", 0.0, 0.0, 0.0, "UTC", "open")


@dataclass(frozen=True)
class Course:
    """Of each hour, (hour,): floor and air at the height of the target [°C], and wind at 2 m [m s⁻¹]."""

    skin_c: Array
    near_c: Array
    wind_2m_ms: Array


def open_place(floor: str) -> Place:
    """A station's lawn (or other floor): nothing around it."""
    return Place("station", "open", 0.0, 1.0, (), 0.0, 1.0, 0.0, 1.0, 1.0, floor, False, 1.0, 1.0, 0.0, None, None)


def floor_course(record: Record, longwave_measured: bool, floor: str = "grass") -> Course:
    """
    The floor of an open place through the record.

    longwave_measured: the recorded sky, else carewatch's formula from cloud; a file without cloud counts as clear, as
    it does for a forecast without cloud. floor: as place.spot.
    """
    hours = _hours(record)
    season = _season_c(record, hours)
    if longwave_measured:
        skin, wind = _with_measured_sky(record, hours, floor, season)
    else:
        places = (open_place(floor),)
        here, _ = microclimate.microclimate(
            hours,
            _no_beam(len(hours)),
            SITE,
            places,
            np.ones(len(hours)),
            microclimate.start_state(places, hours, season),
            season,
        )
        skin, wind = here.skin_c[:, 0, 0], here.wind_2m_ms[:, 0, 0]
    near = air_at_height_c(hours.values["air_temp_c"][:, 0], skin, wind, np.full(wind.shape, record.target_height_m))
    first = 24 * SPIN_UP_DAYS
    chosen = near if record.target_height_m > 0.0 else skin
    return Course(skin[first:], chosen[first:], wind[first:])


def wind_2m_ms(record: Record) -> Array:
    """
    Recorded wind brought to 2 m. [m s⁻¹]

    From 10 m as carewatch does it; from a tower by the log law over its sward, to 2 m above the height at which the
    wind seems to end in it.
    """
    wind = record.inputs["wind_ms"]
    if record.wind_height_m == 10.0:
        return wind_at_height_ms(wind, 2.0, microclimate.OPEN_ROUGHNESS_M)
    roughness_m = ROUGHNESS_SHARE * record.sward_m
    above_m = record.wind_height_m - DISPLACEMENT_SHARE * record.sward_m
    result: Array = wind * (np.log(2.0 / roughness_m) / np.log(above_m / roughness_m))
    return result


def _hours(record: Record) -> Hours:
    """The record as carewatch's hours, the first day repeated before it. All light counts as diffuse: it is level."""
    count = record.times.size
    nothing = np.zeros(count)
    wind_10m = wind_2m_ms(record) / wind_at_height_ms(np.ones(1), 2.0, microclimate.OPEN_ROUGHNESS_M)
    values = {
        "air_temp_c": record.inputs["air_temp_c"],
        "dew_point_c": record.inputs["dew_point_c"],
        "wind_10m_ms": wind_10m,
        "gust_10m_ms": wind_10m,
        "global_wm2": record.inputs["global_wm2"],
        "direct_normal_wm2": nothing,
        "diffuse_wm2": record.inputs["global_wm2"],
        "cloud": record.inputs.get("cloud", nothing),
        "rain_mm": nothing,
        "snowfall_cm": nothing,
        "snow_depth_m": nothing,
        "pressure_kpa": np.full(count, 101.3),
        "soil_temp_c": record.inputs.get("soil_temp_c", np.full(count, np.nan)),
    }
    before = np.tile(np.arange(24) % count, SPIN_UP_DAYS)
    order = np.concatenate([before, np.arange(count)])
    start = record.times[0] - np.timedelta64(before.size, "h")
    times = start + np.arange(order.size) * np.timedelta64(1, "h")
    return Hours(times.astype("datetime64[s]"), {name: value[order, None] for name, value in values.items()})


def _no_beam(count: int) -> SunHours:
    nothing = np.zeros(count)
    return SunHours(nothing, nothing, nothing, nothing[:, None], nothing[:, None])


def _season_c(record: Record, hours: Hours) -> float | None:
    """Ground below half a metre as the service has it that knows no past; None: the file says not where. [°C]"""
    if record.location is None or record.times.size > ONE_SEASON_H:
        return None
    last = record.times[-1].astype("datetime64[D]").astype(date)
    return season_ground_c(daily_history(hours, last - timedelta(days=120), last, *record.location))


def _with_measured_sky(record: Record, hours: Hours, floor: str, season: float | None) -> tuple[Array, Array]:
    order = np.concatenate([np.tile(np.arange(24), SPIN_UP_DAYS), np.arange(record.times.size)])
    sky = record.inputs["longwave_wm2"][order]
    state = microclimate.start_state((open_place(floor),), hours, season).ground
    tall = record.sward_m != SHORT_GRASS_M
    kind = floor_of((floor,), ROUGHNESS_SHARE * record.sward_m if tall else None)
    wind = wind_2m_ms(record)[order]
    skin = np.empty(order.size)
    snow = np.zeros((1, 1))
    for hour in range(order.size):
        air = hours.values["air_temp_c"][hour][:, None]
        state = ground_step(
            state,
            kind,
            air,
            saturation_vapour_pressure_kpa(hours.values["dew_point_c"][hour][:, None]),
            wind[hour] * np.ones((1, 1)),
            hours.values["global_wm2"][hour][:, None],
            sky[hour] * np.ones((1, 1)),
            snow,
            season_c=season,
        )
        skin[hour] = state.skin_c[0, 0]
    return skin, wind
