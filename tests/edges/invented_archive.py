"""Answers of an archive of past weather, invented: the documented form of Open-Meteo's, numbers nobody measured."""

import math
from collections.abc import Collection
from datetime import UTC, date, datetime, timedelta
from typing import Any

Answer = dict[str, Any]
UNITS = {
    "time": "unixtime",
    "temperature_2m": "°C",
    "dew_point_2m": "°C",
    "wind_speed_10m": "m/s",
    "wind_gusts_10m": "m/s",
    "shortwave_radiation": "W/m²",
    "cloud_cover": "%",
    "precipitation": "mm",
    "rain": "mm",
    "snowfall": "cm",
    "snow_depth": "m",
    "surface_pressure": "hPa",
    "soil_temperature_0_to_7cm": "°C",
}


def day_mean_c(day: date) -> float:
    """Of the invented year: warmest at the end of July. [°C]"""
    return 10.0 + 9.0 * math.cos(2.0 * math.pi * (day.timetuple().tm_yday - 205) / 365.25)


def archive(first: date, last: date, unknown: Collection[date] = ()) -> Answer:
    """The answer to a first and a last day. unknown: days that the archive does not have yet: all null."""
    hourly: dict[str, list[float | None]] = {name: [] for name in UNITS}
    for number in range((last - first).days + 1):
        day = first + timedelta(days=number)
        for hour in range(24):
            at = datetime(day.year, day.month, day.day, hour, tzinfo=UTC)
            air = day_mean_c(day) - 4.0 * math.cos(2.0 * math.pi * (hour - 3) / 24.0)
            light = max(0.0, math.sin(2.0 * math.pi * (hour - 6) / 24.0))
            values = {
                "temperature_2m": round(air, 1),
                "dew_point_2m": round(air - 3.0, 1),
                "wind_speed_10m": 2.0 + 0.1 * hour,
                "wind_gusts_10m": 5.0 + 0.1 * hour,
                "shortwave_radiation": round(500.0 * light),
                "cloud_cover": 40 + hour,
                "precipitation": 0.0,
                "rain": 0.0,
                "snowfall": 0.0,
                "snow_depth": 0.0,
                "surface_pressure": 985.0,
                "soil_temperature_0_to_7cm": round(day_mean_c(day), 1),
            }
            hourly["time"].append(int(at.timestamp()))
            for name, value in values.items():
                hourly[name].append(None if day in unknown else value)
    place = {"latitude": 50.3, "longitude": 9.1, "elevation": 250.0, "utc_offset_seconds": 0, "timezone": "GMT"}
    return {**place, "hourly_units": UNITS, "hourly": hourly}
