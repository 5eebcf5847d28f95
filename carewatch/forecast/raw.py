"""What a weather source hands over: canonical names and units, nothing estimated, nothing hidden."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import pandas as pd

# Hourly, UTC. State variables are instants at the stamp; fluxes (radiation, rain, snowfall, gust) belong to the hour
# that ends at it.
VARIABLES = (
    "air_temp_c",
    "dew_point_c",
    "wind_10m_ms",
    "gust_10m_ms",
    "global_wm2",
    "direct_normal_wm2",
    "diffuse_wm2",
    "cloud",
    "rain_mm",
    "snowfall_cm",
    "snow_depth_m",
    "pressure_kpa",
    "soil_temp_c",
)
# Given by some sources and only used to estimate a canonical variable: relative humidity [%].
AUXILIARY = ("relative_humidity",)


@dataclass(frozen=True)
class RawForecast:
    """
    One accepted answer of a weather source.

    source: "open-meteo", "met-norway" or "recorded".
    issued_at: when it was fetched or recorded, UTC, or None when the file does not say.
    latitude, longitude, elevation_m: of the grid cell. [°], [m]
    single: DataFrame, index hourly UTC (unique, rising, no gaps), columns a subset of VARIABLES + AUXILIARY, float64,
    NaN where the source has null. A variable that is all null is left out.
    members: per variable a DataFrame of the same index, one column per ensemble member (column 0 is the control).
    notes: what a reader should know about this answer, as plain sentences.
    """

    source: str
    issued_at: datetime | None
    latitude: float
    longitude: float
    elevation_m: float | None
    single: pd.DataFrame
    members: Mapping[str, pd.DataFrame]
    notes: tuple[str, ...] = ()
