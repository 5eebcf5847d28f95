"""
Readers of station files, each for one format; a new file in a known format needs nothing here.

Sources of the formats: KNMI hourly data (header of the file); NOAA SURFRAD README; FLUXNET2015 and AmeriFlux BASE
variable names; the bigleaf package's example data; ARM surface energy balance system (SEBS) b1 files.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.io import netcdf_file

from carewatch.physics.humidity import dew_point_c, dew_point_from_humidity_c, saturation_vapour_pressure_kpa
from carewatch.physics.radiation import STEFAN_BOLTZMANN
from tests.reference.measured.record import SHORT_GRASS_M, Array, NotScored, Record, hourly_means, record_of

# Emissivity of grass, 0.95-0.99 (Campbell & Norman 1998, table 11.3). What is not emitted is reflected sky.
SURFACE_EMISSIVITY = 0.97
# Towers over low plants carry their anemometer 2 to 4 m above the ground; the files do not say. [m]
TOWER_WIND_M = 3.0
# Towers whose surface is published: height of the plants and of the anemometer. Of any other file the plants are short
# grass. AT-Neu: hay meadow, cut three times, in full growth in July (Knauer et al. 2018, PLoS ONE 13(8):e0201114,
# ancillary data of the bigleaf package; Hammerle et al. 2008, Biogeosciences 5:421-431). [m], [m]
SITES = {"AT-Neu": (0.5, 3.0)}
# Photons per joule of global radiation: 4.57 µmol per joule of visible light, 0.45 of the whole (McCree 1972; Meek
# et al. 1984). [µmol J⁻¹]
PHOTONS_PER_JOULE = 2.06
MEADOW_ALBEDO = 0.23


@dataclass(frozen=True)
class Form:
    """A format: its name, whether a file is of it (by its name and first text), and its reader."""

    name: str
    knows: Callable[[Path, str], bool]
    read: Callable[[Path], Record]


def surface_c(upward_wm2: Array, downward_wm2: Array) -> Array:
    """Temperature of a grey surface from the longwave above it. [°C]"""
    own = upward_wm2 - (1.0 - SURFACE_EMISSIVITY) * downward_wm2
    return (own / (SURFACE_EMISSIVITY * STEFAN_BOLTZMANN)) ** 0.25 - 273.15


def surroundings(path: Path) -> tuple[float, float]:
    """Height of the plants and of the anemometer of a tower, by the site's code in the file's name. [m], [m]"""
    name = path.name.replace("_", "-")
    return next((heights for site, heights in SITES.items() if site in name), (SHORT_GRASS_M, TOWER_WIND_M))


def read_knmi(path: Path) -> Record:
    """
    KNMI hourly file: instants at 1.5 m, wind of the hour at 10 m, minimum at 10 cm of six hours. Stamps UT.

    Tenths of °C, of m/s, J/cm², octas (9: sky invisible).
    """
    lines = path.read_text(encoding="latin-1").splitlines()
    head = next(index for index, line in enumerate(lines) if line.startswith("# STN,") and "HH" in line)
    names = [name.strip() for name in lines[head].lstrip("# ").split(",")]
    rows = [[cell.strip() for cell in line.split(",")] for line in lines[head + 1 :] if line.strip()]
    cells = pd.DataFrame(rows, columns=names).apply(pd.to_numeric)
    if len(set(cells["STN"])) > 1:
        raise NotScored("several stations in one file")
    day = pd.to_datetime(cells["YYYYMMDD"].astype(int).astype(str), format="%Y%m%d")
    frame = pd.DataFrame(
        {
            "air_temp_c": 0.1 * cells["T"],
            "dew_point_c": np.minimum(0.1 * cells["TD"], 0.1 * cells["T"]),
            "wind_ms": 0.1 * cells["FH"],
            "global_wm2": cells["Q"] * 1e4 / 3600.0,
            "cloud": np.minimum(cells["N"], 8) / 8.0,
            "target_c": 0.1 * cells["T10N"],
        }
    )
    frame.index = pd.DatetimeIndex(day + pd.to_timedelta(cells["HH"], unit="h"))
    return record_of(path.name, "KNMI hourly", frame, 10.0, 0.1, 6)


def read_surfrad(path: Path) -> Record:
    """SURFRAD file of one day: where it is, then minutes, UTC, each value with its quality flag; wind at 10 m."""
    with path.open(encoding="latin-1") as file:
        where = [line.split() for line in (file.readline(), file.readline())][1]
    cells = np.loadtxt(path, skiprows=2, ndmin=2)

    def good(column: int) -> Array:
        return np.where((cells[:, column + 1] == 0) & (cells[:, column] > -9000.0), cells[:, column], np.nan)

    air, down, up = good(38), good(16), good(22)
    frame = pd.DataFrame(
        {
            "air_temp_c": air,
            "dew_point_c": dew_point_from_humidity_c(air, np.clip(good(40), 1.0, 100.0)),
            "wind_ms": good(42),
            "global_wm2": np.maximum(good(8), 0.0),
            "longwave_wm2": down,
            "target_c": surface_c(up, down),
        }
    )
    parts = {"year": cells[:, 0], "month": cells[:, 2], "day": cells[:, 3], "hour": cells[:, 4], "minute": cells[:, 5]}
    frame.index = pd.DatetimeIndex(pd.to_datetime(pd.DataFrame(parts).astype(int)))
    # The file counts longitude westwards.
    location = (float(where[0]), -float(where[1]), float(where[2]))
    return record_of(path.name, "SURFRAD", hourly_means(frame).iloc[1:], 10.0, 0.0, 1, location=location)


def read_bigleaf(path: Path) -> Record:
    """
    Half-hours of the bigleaf package: net radiation and longwave up, photons for light; stamps at the beginning.

    Longwave down is what closes net radiation with the light and an albedo; by night it is simply Rn + LW_up.
    """
    cells = pd.read_csv(path)
    light = np.maximum(cells["PPFD"].to_numpy(np.float64), 0.0) / PHOTONS_PER_JOULE
    up = cells["LW_up"].to_numpy(np.float64)
    down = cells["Rn"].to_numpy(np.float64) + up - (1.0 - MEADOW_ALBEDO) * light
    air = cells["Tair"].to_numpy(np.float64)
    frame = pd.DataFrame(
        {
            "air_temp_c": air,
            "dew_point_c": _dew_from_deficit_c(air, cells["VPD"].to_numpy(np.float64)),
            "wind_ms": cells["wind"].to_numpy(np.float64),
            "global_wm2": light,
            "longwave_wm2": down,
            "target_c": surface_c(up, down),
        }
    )
    start = pd.to_datetime((cells["year"] * 1000 + cells["doy"].astype(int)).astype(str), format="%Y%j")
    frame.index = pd.DatetimeIndex(start + pd.to_timedelta(cells["hour"] + 0.5, unit="h"))
    sward_m, wind_m = surroundings(path)
    return record_of(path.name, "bigleaf half-hourly", hourly_means(frame), wind_m, 0.0, 1, sward_m)


def read_tower(path: Path) -> Record:
    """AmeriFlux BASE or FLUXNET2015 file: TIMESTAMP_END in local standard time, -9999 for missing."""
    cells = pd.read_csv(path, comment="#", na_values=["-9999", "-6999"])
    air, light = _column(cells, "TA", "TA_F"), _column(cells, "SW_IN", "SW_IN_F")
    down, up = _column(cells, "LW_IN", "LW_IN_F"), _column(cells, "LW_OUT")
    humidity, deficit_hpa = _column(cells, "RH"), _column(cells, "VPD", "VPD_F", "VPD_PI")
    dew = dew_point_from_humidity_c(air, np.clip(humidity, 1.0, 100.0))
    frame = pd.DataFrame(
        {
            "air_temp_c": air,
            "dew_point_c": np.where(np.isfinite(dew), dew, _dew_from_deficit_c(air, 0.1 * deficit_hpa)),
            "wind_ms": _column(cells, "WS", "WS_F"),
            "global_wm2": np.maximum(light, 0.0),
            "longwave_wm2": down,
            "soil_temp_c": _column(cells, "TS", "TS_F_MDS_1"),
            "target_c": surface_c(up, down),
        }
    )
    if frame["target_c"].isna().all():
        raise NotScored("not recorded: longwave up and down")
    frame.index = pd.DatetimeIndex(pd.to_datetime(cells["TIMESTAMP_END"].astype(str), format="%Y%m%d%H%M"))
    sward_m, wind_m = surroundings(path)
    return record_of(path.name, "AmeriFlux or FLUXNET tower", hourly_means(frame), wind_m, 0.0, 1, sward_m)


def read_arm(path: Path) -> Record:
    """ARM surface energy balance system: longwave both ways and soil, but neither air temperature nor wind."""
    with netcdf_file(path, mmap=False) as file:
        names = sorted(name for name in file.variables if not name.startswith("qc_"))
    has = [name for name in names if name in {"down_long", "up_long", "soil_temp_1"}]
    raise NotScored(f"read with {', '.join(has) or 'nothing of use'}, but it has no air temperature, humidity and wind")


def _dew_from_deficit_c(air_c: Array, deficit_kpa: Array) -> Array:
    vapour = np.maximum(saturation_vapour_pressure_kpa(air_c) - deficit_kpa, 0.02)
    return np.minimum(dew_point_c(vapour), air_c)


def _column(cells: pd.DataFrame, *names: str) -> Array:
    """The first of these variables that the file has, at its first position; NaN where it has none."""
    for name in names:
        for column in (name, f"{name}_1_1_1", f"{name}_1"):
            if column in cells:
                return cells[column].to_numpy(np.float64)
    return np.full(len(cells), np.nan)


FORMS = (
    Form("KNMI hourly", lambda _path, head: "T10N" in head and "# STN" in head, read_knmi),
    Form(
        "SURFRAD", lambda path, head: path.suffix == ".dat" and "version" in head.partition("\n")[2][:80], read_surfrad
    ),
    Form("bigleaf half-hourly", lambda _path, head: head.startswith("year,") and "LW_up" in head, read_bigleaf),
    Form("AmeriFlux or FLUXNET tower", lambda _path, head: "TIMESTAMP_END" in head[:500], read_tower),
    Form("ARM SEBS", lambda path, head: path.suffix in {".cdf", ".nc"} and head.startswith("CDF"), read_arm),
)
