"""Answers of a weather source, invented: a calm week at 50.3° N, from which things can be left out."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from carewatch.config.tables import load_tables
from carewatch.forecast.complete import complete
from carewatch.forecast.raw import RawForecast
from carewatch.forecast.weather import Weather

Array = NDArray[np.float64]

LATITUDE, LONGITUDE, ELEVATION_M = 50.3, 9.1, 250.0
NOW = datetime(2026, 6, 10, 12, 30, tzinfo=UTC)
BEGINS = datetime(2026, 6, 8, 0, 0, tzinfo=UTC)
HOURS = 168


def frame(hours: int = HOURS) -> pd.DataFrame:
    """Every canonical variable of an ordinary week in June."""
    index = pd.date_range(BEGINS, periods=hours, freq="h")
    hour = np.arange(hours)
    air = 16.0 + 6.0 * np.cos(2.0 * np.pi * (hour - 14) / 24.0)
    light = np.maximum(np.sin(2.0 * np.pi * (hour % 24 - 5) / 30.0), 0.0) * ((hour % 24 > 4) & (hour % 24 < 20))
    return pd.DataFrame(
        {
            "air_temp_c": air,
            "dew_point_c": air - 5.0,
            "wind_10m_ms": np.full(hours, 3.0),
            "gust_10m_ms": np.full(hours, 6.0),
            "global_wm2": 700.0 * light,
            "direct_normal_wm2": 600.0 * light,
            "diffuse_wm2": 150.0 * light,
            "cloud": np.full(hours, 0.4),
            "rain_mm": np.zeros(hours),
            "snowfall_cm": np.zeros(hours),
            "snow_depth_m": np.zeros(hours),
            "pressure_kpa": np.full(hours, 98.4),
            "soil_temp_c": np.full(hours, 15.0),
        },
        index=index,
    )


def raw(
    single: pd.DataFrame,
    members: dict[str, pd.DataFrame] | None = None,
    *,
    issued_at: datetime | None = NOW,
    latitude: float = LATITUDE,
    elevation_m: float | None = ELEVATION_M,
) -> RawForecast:
    """An accepted answer for the invented site."""
    return RawForecast("recorded", issued_at, latitude, LONGITUDE, elevation_m, single, members or {})


def completed(answer: RawForecast, now: datetime = NOW) -> Weather:
    """The weather that carewatch makes of an answer."""
    return complete(answer, LATITUDE, LONGITUDE, ELEVATION_M, now, load_tables().forecast_errors)


def first_ahead(now: datetime = NOW) -> int:
    """Row of the first hour after `now`."""
    return int((now - BEGINS) / timedelta(hours=1)) + 1
