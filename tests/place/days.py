"""Invented days of one member, and what the kinds of place make of them."""

from dataclasses import dataclass, replace

import numpy as np

from carewatch.config.tables import load_tables
from carewatch.forecast.weather import Array, Hours
from carewatch.measures.apply import with_opened
from carewatch.physics.sun import clear_sky_global_wm2, cloud_transmission, split_beam_diffuse, sun_of_hours
from carewatch.place.light import canopy_leaf
from carewatch.place.microclimate import Microclimate, microclimate, start_state
from carewatch.place.spot import Place, Site

HOUR = np.timedelta64(3600, "s")
KINDS = load_tables().place_kinds
# Longitude 0: the sun is in the south at 12 UTC.
SITE = Site("a garden", 52.0, 0.0, 40.0, "UTC", "suburban")


def hours_of(
    begins: str,
    *,
    days: int = 8,
    site: Site = SITE,
    mean_c: float = 10.0,
    swing_k: float = 5.0,
    dew_c: float = 4.0,
    cloud: float = 0.0,
    wind_ms: float = 1.5,
    snow_m: float = 0.0,
    soil_c: float = np.nan,
) -> Hours:
    """
    Days that repeat themselves: air coldest at 4 and warmest at 16 UTC, the light that the sun and the cloud give.

    mean_c, swing_k: of the air; dew_c: dew point, or the air where that is lower. [°C, K]
    """
    times = np.datetime64(begins, "s") + np.arange(1, 24 * days + 1) * HOUR
    clock = np.arange(1, 24 * days + 1) % 24
    air = mean_c - swing_k * np.cos(2.0 * np.pi * (clock - 4.0) / 24.0)
    sun = sun_of_hours(times, site.latitude, site.longitude, site.elevation_m)
    light = clear_sky_global_wm2(sun.elevation_deg, sun.extraterrestrial_normal_wm2) * cloud_transmission(
        np.full(times.size, cloud)
    )
    direct, diffuse = split_beam_diffuse(light, sun.elevation_deg, sun.extraterrestrial_normal_wm2)
    values = {
        "air_temp_c": air,
        "dew_point_c": np.minimum(dew_c, air - 0.5),
        "wind_10m_ms": np.full(times.size, wind_ms),
        "gust_10m_ms": np.full(times.size, 1.6 * wind_ms),
        "global_wm2": light,
        "direct_normal_wm2": direct,
        "diffuse_wm2": diffuse,
        "cloud": np.full(times.size, cloud),
        "rain_mm": np.full(times.size, 0.5),
        "snowfall_cm": np.zeros(times.size),
        "snow_depth_m": np.full(times.size, snow_m),
        "pressure_kpa": np.full(times.size, 101.0),
        "soil_temp_c": np.full(times.size, soil_c),
    }
    return Hours(times, {name: array[:, None] for name, array in values.items()})


@dataclass(frozen=True)
class Stay:
    """The last day of a run, by place: hours along the first axis, which ends at midnight UTC."""

    hours: Hours
    micro: Microclimate
    index: dict[str, int]

    def last_day(self, name: str, values: Array) -> Array:
        """The last 24 hours of a microclimate's array at one place."""
        day: Array = values[-24:, 0, self.index[name]]
        return day

    def air(self, name: str) -> Array:
        """Air of the last day there. [°C]"""
        return self.last_day(name, self.micro.air_2m_c)

    def outside(self, variable: str = "air_temp_c") -> Array:
        """The weather of the last day."""
        day: Array = self.hours.values[variable][-24:, 0]
        return day


def corner(kind: str, name: str | None = None, **changes: object) -> Place:
    """A place as its kind usually is, but for the changes."""
    return replace(KINDS[kind], id=name or kind, **changes)  # type: ignore[arg-type]  # names of fields, checked at run time


def stay(hours: Hours, *places: Place, site: Site = SITE, season_c: float | None = None) -> Stay:
    """What the places, and the opened twins of those that open, make of the hours."""
    all_places = with_opened(places)
    sun = sun_of_hours(hours.times, site.latitude, site.longitude, site.elevation_m)
    leaf = canopy_leaf(hours.times, site.latitude, site.elevation_m)
    micro, _ = microclimate(hours, sun, site, all_places, leaf, start_state(all_places, hours, season_c), season_c)
    return Stay(hours, micro, {place.id: position for position, place in enumerate(all_places)})
