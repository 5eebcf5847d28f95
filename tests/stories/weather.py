"""Weather for stories: a few numbers a day drawn out into hours, and what a weather service says of them and when."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from carewatch.demo.invent import air_temperature
from carewatch.forecast.weather import Array, Times
from carewatch.physics.sun import clear_sky_global_wm2, cloud_transmission, sun_of_hours

Answer = dict[str, Any]
Index = NDArray[np.int64]

HOURS_A_DAY = 24
# Units of a document with wind in m/s, by Open-Meteo's names (its documentation).
UNITS = {
    "temperature_2m": "°C",
    "dew_point_2m": "°C",
    "wind_speed_10m": "m/s",
    "wind_gusts_10m": "m/s",
    "shortwave_radiation": "W/m²",
    "cloud_cover": "%",
    "rain": "mm",
    "snowfall": "cm",
    "snow_depth": "m",
}
# Gust over mean wind in the open: 1.5 to 1.8 (general meteorology, from memory).
GUSTY = 1.6


@dataclass(frozen=True)
class Day:
    """
    One day of the site's own sun.

    low_c, high_c: of the air, the low in the morning of that day at sunrise, the high in its afternoon. [°C]
    dew_c: dew point at noon. [°C] cloud: cover by day, cloud_night: in the small hours before it. [%]
    wind_ms: mean wind at 10 m by day, calm_ms: in the small hours before it. [m/s] gust_ms: highest gust. [m/s]
    rain_mm: sum, evenly over rain_hours from rain_from_h on, by the sun's clock. [mm], [h], [h]
    snow_cm: new snow in the same hours. [cm] snow_m: depth lying. [m]
    """

    low_c: float
    high_c: float
    dew_c: float
    cloud: float = 40.0
    cloud_night: float | None = None
    wind_ms: float = 2.5
    calm_ms: float | None = None
    gust_ms: float | None = None
    rain_mm: float = 0.0
    rain_from_h: float = 0.0
    rain_hours: float = 24.0
    snow_cm: float = 0.0
    snow_m: float = 0.0

    def but(self, **changes: float) -> "Day":
        """The day with some numbers changed."""
        return replace(self, **changes)


@dataclass(frozen=True)
class Spot:
    """Where it is. latitude, longitude: [°]; elevation_m: [m]"""

    latitude: float = 50.0
    longitude: float = 9.0
    elevation_m: float = 200.0


@dataclass(frozen=True)
class Course:
    """Hours of weather. times: UTC stamps, (hour,); hourly: by Open-Meteo's names, in UNITS, (hour,)."""

    spot: Spot
    times: Times
    hourly: Mapping[str, Array]

    @property
    def ends(self) -> datetime:
        """The last hour, UTC."""
        return _moment(self.times[-1])

    def until(self, at: datetime, then: "Course") -> "Course":
        """Up to a moment this course, after it another one. then: of the same hours."""
        past = self.times <= _stamp(at)
        return replace(self, hourly={name: np.where(past, self.hourly[name], then.hourly[name]) for name in UNITS})

    def document(self, issued_at: datetime, past_days: int, ahead_days: int) -> Answer:
        """
        What the forecast service answers at `issued_at`: whole UTC days, some of them past, as documented.

        past_days: whole UTC days before today; ahead_days: from today on. [d]
        """
        midnight = issued_at.astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)
        first, end = (_stamp(midnight + timedelta(days=days)) for days in (-past_days, ahead_days))
        kept = (self.times >= first) & (self.times < end)
        seconds = self.times[kept].astype(np.int64)
        return {
            "latitude": self.spot.latitude,
            "longitude": self.spot.longitude,
            "elevation": self.spot.elevation_m,
            "utc_offset_seconds": 0,
            "timezone": "GMT",
            "hourly_units": {"time": "unixtime", **UNITS},
            "hourly": {
                "time": seconds.tolist(),
                # Adding zero turns a rounded -0.0 into 0.0.
                **{name: (np.round(self.hourly[name][kept], 1) + 0.0).tolist() for name in UNITS},
            },
        }


def course_of(spot: Spot, first: date, days: Sequence[Day]) -> Course:
    """The hours of days that follow each other. first: the day of the first one, by the sun's clock."""
    start = np.datetime64(first, "s")
    # A margin, so that every UTC day of the days is whole whatever the longitude.
    times = start + np.arange(len(days) * HOURS_A_DAY) * np.timedelta64(3600, "s")
    utc_h = np.arange(len(days) * HOURS_A_DAY, dtype=np.float64)
    hour = utc_h + spot.longitude / 15.0
    sun = sun_of_hours(times, spot.latitude, spot.longitude, spot.elevation_m)
    table = {entry.name: np.array([_value(day, entry.name) for day in days], dtype=np.float64) for entry in fields(Day)}
    midnight = np.arange(len(days)) * float(HOURS_A_DAY)
    low = air_temperature(hour, table["low_c"], table["high_c"], _sunrise_h(hour, sun.elevation_deg))

    def between(night: str, by_day: str) -> Array:
        anchors = np.stack([midnight + 3.0, midnight + 13.0], axis=1).ravel()
        return np.interp(hour, anchors, np.stack([table[night], table[by_day]], axis=1).ravel())

    of_day: Index = np.clip(hour // HOURS_A_DAY, 0, len(days) - 1).astype(np.int64)
    wet = _wet(hour, of_day, table)
    air = np.round(low, 1)
    raining = (wet > 0.0) & (table["rain_mm"] + table["snow_cm"] > 0.0)[of_day]
    told: Array = np.maximum(between("cloud_night", "cloud"), np.where(raining, 95.0, 0.0))
    cloud: Array = np.round(told).astype(np.float64)
    dew = np.interp(hour, midnight + 12.0, table["dew_c"])
    # Rain brings the air near its dew point.
    dew = np.where((wet > 0.0) & (table["rain_mm"] > 0.0)[of_day], np.maximum(dew, air - 1.2), dew)
    wind = between("calm_ms", "wind_ms")
    # The highest gust blows with the highest wind of its day; other hours keep their share of it.
    gust = wind * (table["gust_ms"] / np.maximum(np.maximum(table["wind_ms"], table["calm_ms"]), 0.1))[of_day]
    clear = clear_sky_global_wm2(sun.elevation_deg, sun.extraterrestrial_normal_wm2)
    hourly = {
        "temperature_2m": air,
        "dew_point_2m": np.minimum(dew, air - 0.3),
        "wind_speed_10m": wind,
        "wind_gusts_10m": np.maximum(gust, wind),
        "shortwave_radiation": clear * cloud_transmission(cloud / 100.0),
        "cloud_cover": cloud,
        "rain": wet * table["rain_mm"][of_day],
        "snowfall": wet * table["snow_cm"][of_day],
        "snow_depth": table["snow_m"][of_day],
    }
    return Course(spot, times, hourly)


def _value(day: Day, name: str) -> float:
    given = getattr(day, name)
    if given is not None:
        return float(given)
    if name == "gust_ms":
        return GUSTY * max(day.wind_ms, day.wind_ms if day.calm_ms is None else day.calm_ms)
    return day.cloud if name == "cloud_night" else day.wind_ms


def _wet(hour: Array, of_day: Index, table: Mapping[str, Array]) -> Array:
    """The share of its day's rain that falls in each hour. [0-1]"""
    since = hour - of_day * HOURS_A_DAY - table["rain_from_h"][of_day]
    lasts = np.maximum(table["rain_hours"][of_day], 1.0)
    return np.where((since >= 0.0) & (since < lasts), 1.0 / lasts, 0.0)


def _sunrise_h(hour: Array, elevation_deg: Array) -> float:
    """The sun's clock at sunrise, in the middle of the days. [h]"""
    middle = hour[(hour >= (hour[-1] // 48) * HOURS_A_DAY)]
    up = elevation_deg[hour >= middle[0]][:HOURS_A_DAY] > 0.0
    risen = middle[:HOURS_A_DAY][up]
    return float(np.clip(risen.min() % HOURS_A_DAY if risen.size else 8.0, 4.0, 9.0))


def _stamp(at: datetime) -> np.datetime64:
    return np.datetime64(at.astimezone(UTC).replace(tzinfo=None), "s")


def _moment(stamp: np.datetime64) -> datetime:
    return datetime.fromtimestamp(int(stamp.astype("datetime64[s]").astype(np.int64)), UTC)
