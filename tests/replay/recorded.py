"""Recorded hourly weather that really was, as hours of a story: a station of KNMI, or a typical year in EPW form."""

import gzip
import os
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np

from carewatch.forecast.weather import Array, Times
from tests.stories.weather import GUSTY, UNITS, Course, Spot

SHARED = Path(os.environ.get("CAREWATCH_SHARED", Path(__file__).parents[3] / "shared")) / "data"
ABSENT = "the recorded weather is not at hand (CAREWATCH_SHARED names its folder)"
# J/cm² of an hour as a mean. [W m⁻²]
PER_HOUR = 1e4 / 3600.0


@dataclass(frozen=True)
class Station:
    """A place with weather. file: below the shared data; zone: of its clocks; cold_from: day before its cold spells."""

    name: str
    file: str
    spot: Spot
    zone: str
    cold_from: date


# Positions and heights: KNMI's list of stations (from memory); the head of the EPW file. De Bilt is January 2000 as it
# was, with one hard night; Chicago is put together of months that were, laid into 2026: its last week of November goes
# down to −16 °C.
DE_BILT = Station(
    "De Bilt", "surface/knmi_uurgeg_260_2000_jan-jun.txt", Spot(52.10, 5.18, 2.0), "Europe/Amsterdam", date(2000, 1, 10)
)
CHICAGO = Station(
    "Chicago",
    "years/USA_IL_Chicago-OHare.Intl.AP.725300_TMY3.epw.gz",
    Spot(41.98, -87.92, 201.0),
    "America/Chicago",
    date(2026, 11, 8),
)
STATIONS = {station.name.lower().replace(" ", "-"): station for station in (DE_BILT, CHICAGO)}


def at_hand(station: Station, folder: Path = SHARED) -> bool:
    """Whether its weather lies there."""
    return (folder / station.file).exists()


def weather_of(station: Station, folder: Path = SHARED) -> Course:
    """All hours of a station."""
    path = folder / station.file
    if path.name.endswith(".epw.gz"):
        with gzip.open(path, "rt", encoding="latin-1") as file:
            return _epw(file.read().splitlines(), station)
    return _knmi(path.read_text(encoding="latin-1").splitlines(), station)


def _knmi(lines: list[str], station: Station) -> Course:
    """Hours of KNMI: tenths of units, hour n ends at n UT, cloud in octas with 9 for a hidden sky, -1 for a trace."""
    head = next(line for line in lines if line.startswith("# STN"))
    names = [name.strip(" #") for name in head.split(",")]
    rows = [[cell.strip() for cell in line.split(",")] for line in lines if line.partition(",")[0].strip().isdigit()]
    table = {name: _numbers([row[column] for row in rows]) for column, name in enumerate(names) if name}
    stamps = [datetime.strptime(row[1], "%Y%m%d").replace(tzinfo=UTC) + timedelta(hours=int(row[2])) for row in rows]
    octas = np.minimum(_filled(table["N"]), 8.0)
    hourly = {
        "temperature_2m": table["T"] / 10.0,
        "dew_point_2m": table["TD"] / 10.0,
        "wind_speed_10m": table["FF"] / 10.0,
        "wind_gusts_10m": table["FX"] / 10.0,
        "shortwave_radiation": table["Q"] * PER_HOUR,
        "cloud_cover": octas / 8.0 * 100.0,
        "rain": np.maximum(table["RH"], 0.0) / 10.0,
        "snowfall": np.zeros(len(rows)),
        "snow_depth": np.zeros(len(rows)),
    }
    return _course(station, _stamps(stamps), hourly)


def _epw(lines: list[str], station: Station) -> Course:
    """EnergyPlus weather: standard time, hour n ends at n; dry bulb, dew, radiation, wind and cloud in tenths."""
    ahead_h = float(lines[0].split(",")[8])
    rows = [line.split(",") for line in lines[8:]]
    column = {name: _numbers([row[index] for row in rows]) for name, index in _EPW.items()}
    first = datetime(2026, 1, 1, tzinfo=UTC) - timedelta(hours=ahead_h)
    stamps = [first + timedelta(hours=hour + 1) for hour in range(len(rows))]
    rain = np.where(column["rain"] > 900.0, 0.0, column["rain"])
    hourly = {
        "temperature_2m": column["air"],
        "dew_point_2m": column["dew"],
        "wind_speed_10m": column["wind"],
        "wind_gusts_10m": column["wind"] * GUSTY,
        "shortwave_radiation": column["global"],
        "cloud_cover": column["cloud"] * 10.0,
        "rain": rain,
        "snowfall": np.zeros(len(rows)),
        "snow_depth": np.zeros(len(rows)),
    }
    return _course(station, _stamps(stamps), hourly)


_EPW = {"air": 6, "dew": 7, "global": 13, "wind": 21, "cloud": 22, "rain": 33}


def _course(station: Station, times: Times, hourly: dict[str, Array]) -> Course:
    filled = {name: _filled(hourly[name]) for name in UNITS}
    return Course(station.spot, times, filled)


def _stamps(moments: list[datetime]) -> Times:
    return np.array([moment.replace(tzinfo=None) for moment in moments], dtype="datetime64[s]")


def _numbers(cells: list[str]) -> Array:
    return np.array([float(cell) if cell else np.nan for cell in cells])


def _filled(values: Array) -> Array:
    """Without holes: straight lines across what is missing."""
    known = np.isfinite(values)
    return np.interp(np.arange(values.size), np.flatnonzero(known), values[known])
