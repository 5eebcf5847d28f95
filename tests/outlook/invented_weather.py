"""Weather that never happened, as a weather service would send it: a few numbers a day, drawn out into hours."""

import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

# What floor and pot need to settle; they are given three days more of the first one's weather.
PAST_DAYS = 2
COOLEST_AT_H = 5
WARMEST_AT_H = 14

Answer = dict[str, Any]


@dataclass(frozen=True)
class Day:
    """
    One day.

    low_c, high_c: of the air, at COOLEST_AT_H and WARMEST_AT_H UTC. [°C]; dew_c: dew point all day. [°C]
    cloud: cover. [%]; wind_ms: mean at 10 m. [m/s]; gusts are `gusty` times that. [-]; rain_mm: each hour. [mm]
    snow_cm: new snow, each hour. [cm]; lying_m: depth of lying snow. [m]
    """

    low_c: float
    high_c: float
    dew_c: float
    cloud: float
    wind_ms: float
    gusty: float = 1.6
    rain_mm: float = 0.0
    snow_cm: float = 0.0
    lying_m: float = 0.0


def answer(issued_at: datetime, before: Day, ahead: Sequence[Day], past_days: int = PAST_DAYS) -> Answer:
    """
    An answer of the Open-Meteo forecast API: `past_days` days like `before`, then those ahead from the day of issue on.

    issued_at: a full hour. Radiation, pressure and soil are left out, as some services do: the program estimates them.
    """
    midnight = issued_at.astimezone(UTC).replace(hour=0)
    first = midnight - timedelta(days=past_days)
    days = [before] * past_days + list(ahead)
    hours = list(_hours(days))
    return {
        "latitude": 50.0,
        "longitude": 9.0,
        "elevation": 200.0,
        "utc_offset_seconds": 0,
        "current": {"time": int(issued_at.timestamp()), "interval": 900},
        "hourly_units": {
            "time": "unixtime",
            "temperature_2m": "°C",
            "dew_point_2m": "°C",
            "wind_speed_10m": "m/s",
            "wind_gusts_10m": "m/s",
            "cloud_cover": "%",
            "rain": "mm",
            "snowfall": "cm",
            "snow_depth": "m",
        },
        "hourly": {
            "time": [int((first + timedelta(hours=hour)).timestamp()) for hour in range(len(hours))],
            "temperature_2m": [round(air, 1) for air, _ in hours],
            "dew_point_2m": [round(min(day.dew_c, air - 0.3), 1) for air, day in hours],
            "wind_speed_10m": [day.wind_ms for _, day in hours],
            "wind_gusts_10m": [round(day.wind_ms * day.gusty, 1) for _, day in hours],
            "cloud_cover": [day.cloud for _, day in hours],
            "rain": [day.rain_mm for _, day in hours],
            "snowfall": [day.snow_cm for _, day in hours],
            "snow_depth": [day.lying_m for _, day in hours],
        },
    }


def _hours(days: Sequence[Day]) -> Iterator[tuple[float, Day]]:
    """Air temperature and day of each hour: half a cosine from low to high, and another to the next day's low."""
    for index, day in enumerate(days):
        before, after = days[max(index - 1, 0)], days[min(index + 1, len(days) - 1)]
        for hour in range(24):
            yield _air_c(hour, before, day, after), day


def _air_c(hour: int, before: Day, day: Day, after: Day) -> float:
    night_h = 24 - WARMEST_AT_H + COOLEST_AT_H
    if hour < COOLEST_AT_H:
        start_c, end_c, share = before.high_c, day.low_c, (hour + 24 - WARMEST_AT_H) / night_h
    elif hour <= WARMEST_AT_H:
        start_c, end_c, share = day.low_c, day.high_c, (hour - COOLEST_AT_H) / (WARMEST_AT_H - COOLEST_AT_H)
    else:
        start_c, end_c, share = day.high_c, after.low_c, (hour - WARMEST_AT_H) / night_h
    return start_c + (end_c - start_c) * 0.5 * (1.0 - math.cos(math.pi * share))


def save(path: Path, content: Answer) -> Path:
    """Write an answer where a configuration can name it."""
    path.write_text(json.dumps(content), encoding="utf-8")
    return path
