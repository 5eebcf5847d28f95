"""Typical weather years of several climates as daily pasts: EPW files and test reference years of the DWD, gzipped."""

import gzip
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from carewatch.forecast.history import DailyHistory

Array = NDArray[np.float64]
HOURS = 8760
# The two calendar years that a typical year is laid into, one after the other.
FIRST_DAY, END_DAY = "2025-01-01", "2027-01-01"
SHOWN_YEAR = "2026"


@dataclass(frozen=True)
class WeatherYear:
    """name: of the station; latitude: north positive. [°]; air_temp_c: hourly, local standard time. [°C]"""

    name: str
    latitude: float
    air_temp_c: Array

    def history(self, shift_k: float = 0.0) -> DailyHistory:
        """The year twice over in daily means, all of it warmer by a shift. [K]"""
        mean_c = self.air_temp_c.reshape(-1, 24).mean(axis=1) + shift_k
        days = np.arange(np.datetime64(FIRST_DAY), np.datetime64(END_DAY), dtype="datetime64[D]")
        return DailyHistory(days, np.concatenate([mean_c, mean_c]), None)


def read_year(path: Path) -> WeatherYear | None:
    """The year in a file, or None where it is of neither form or not one whole year."""
    if not path.name.endswith(".gz"):
        return None
    with gzip.open(path, "rt", encoding="latin-1") as file:
        lines = file.read().splitlines()
    year = _epw(lines) if ".epw" in path.name else _reference_year(lines)
    return year if year is not None and year.air_temp_c.size == HOURS else None


def years_in(folder: Path) -> list[WeatherYear]:
    """Every weather year of a folder, by file name."""
    found = [read_year(path) for path in sorted(folder.iterdir()) if path.is_file()]
    return [year for year in found if year is not None]


def _epw(lines: list[str]) -> WeatherYear:
    """EnergyPlus weather: name, latitude in the first line; dry bulb in the seventh column after eight head lines."""
    head = lines[0].split(",")
    air = np.array([float(line.split(",")[6]) for line in lines[8:]])
    return WeatherYear(head[1], float(head[6]), air)


def _reference_year(lines: list[str]) -> WeatherYear | None:
    """DWD test reference year 2010: station and position in the head, air temperature in the ninth column after it."""
    end = next((row for row, line in enumerate(lines) if line.startswith("***")), None)
    if end is None:
        return None
    name = next(line.split(":")[1].split("  ")[0].strip() for line in lines if line.startswith("Station"))
    position = next(line for line in lines if line.startswith("Lage"))
    degrees, minutes = re.findall(r"\d+", position)[:2]
    air = np.array([float(line.split()[8]) for line in lines[end + 1 :] if line.strip()])
    return WeatherYear(name, float(degrees) + float(minutes) / 60.0, air)
