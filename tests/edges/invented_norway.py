"""Answers of MET Norway's Locationforecast, invented: the documented form, numbers that nobody measured or forecast."""

import json
import math
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

Answer = dict[str, Any]
HOURLY_H, STEPS = 56, 24
UNITS = {
    "air_pressure_at_sea_level": "hPa",
    "air_temperature": "celsius",
    "air_temperature_max": "celsius",
    "air_temperature_min": "celsius",
    "cloud_area_fraction": "%",
    "dew_point_temperature": "celsius",
    "precipitation_amount": "mm",
    "relative_humidity": "%",
    "wind_from_direction": "degrees",
    "wind_speed": "m/s",
    "wind_speed_of_gust": "m/s",
}


def daily_course_c(at: datetime, lowest_c: float = 2.0, highest_c: float = 10.0) -> float:
    """Air temperature at a moment: coldest at 3 h UTC, warmest at 15 h. [°C]"""
    middle, swing = (lowest_c + highest_c) / 2.0, (highest_c - lowest_c) / 2.0
    return middle - swing * math.cos(2.0 * math.pi * (at.hour - 3) / 24.0)


def norway(
    begins: datetime,
    updated_at: datetime,
    air_c: Callable[[datetime], float] = daily_course_c,
    *,
    rain_mm: float = 0.0,
    symbol: str | None = "rain",
    gusts: bool = False,
    latitude: float = 50.3,
    longitude: float = 9.1,
    height_m: int = 250,
) -> Answer:
    """
    An answer from a full hour on: hourly for 56 hours, then six-hourly for six days, the last entry an instant only.

    rain_mm: in every hour. symbol: of every period. gusts: as in the Nordic countries.
    """
    stamps = [begins + timedelta(hours=hour) for hour in range(HOURLY_H)]
    first = begins + timedelta(hours=HOURLY_H)
    first += timedelta(hours=-first.hour % 6)
    while stamps[-1] + timedelta(hours=1) < first:
        stamps.append(stamps[-1] + timedelta(hours=1))
    stamps += [first + timedelta(hours=6 * step) for step in range(STEPS)]
    series = []
    for number, at in enumerate(stamps):
        details = {
            "air_pressure_at_sea_level": 1015.0,
            "air_temperature": round(air_c(at), 1),
            "cloud_area_fraction": 25.0,
            "dew_point_temperature": round(air_c(at) - 3.0, 1),
            "relative_humidity": 80.0,
            "wind_from_direction": 270.0,
            "wind_speed": 2.0,
        }
        if gusts:
            details["wind_speed_of_gust"] = 5.0
        data: Answer = {"instant": {"details": details}}
        summary = {"symbol_code": symbol}
        if at < first:
            data["next_1_hours"] = {"summary": summary, "details": {"precipitation_amount": rain_mm}}
        if number < len(stamps) - 1:
            after = [air_c(at + timedelta(hours=hour)) for hour in range(7)]
            ends = {"air_temperature_min": round(min(after), 1), "air_temperature_max": round(max(after), 1)}
            data["next_6_hours"] = {
                "summary": summary,
                "details": {**ends, "precipitation_amount": round(6 * rain_mm, 2)},
            }
        series.append({"time": at.strftime("%Y-%m-%dT%H:%M:%SZ"), "data": data})
    meta = {"updated_at": updated_at.strftime("%Y-%m-%dT%H:%M:%SZ"), "units": UNITS}
    place = {"type": "Point", "coordinates": [longitude, latitude, height_m]}
    return {"type": "Feature", "geometry": place, "properties": {"meta": meta, "timeseries": series}}


def encoded(answer: Answer) -> bytes:
    """The answer as it travels."""
    return json.dumps(answer).encode()
