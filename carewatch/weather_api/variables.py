"""What Open-Meteo calls things: spellings old and new, units, and which values can be true at all."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

# unit → (factor, offset): canonical = given × factor + offset
Units = Mapping[str, tuple[float, float]]

_CELSIUS: Units = {"°C": (1.0, 0.0), "°F": (5.0 / 9.0, -160.0 / 9.0)}
_METRES_PER_SECOND: Units = {
    "m/s": (1.0, 0.0),
    "km/h": (1.0 / 3.6, 0.0),
    "mp/h": (0.44704, 0.0),
    "mph": (0.44704, 0.0),
    "kn": (1852.0 / 3600.0, 0.0),
}
_METRES: Units = {"mm": (1e-3, 0.0), "cm": (1e-2, 0.0), "m": (1.0, 0.0), "inch": (0.0254, 0.0), "ft": (0.3048, 0.0)}
_MILLIMETRES: Units = {unit: (factor * 1e3, 0.0) for unit, (factor, _) in _METRES.items()}
_CENTIMETRES: Units = {unit: (factor * 1e2, 0.0) for unit, (factor, _) in _METRES.items()}
_WATTS_PER_M2: Units = {"W/m²": (1.0, 0.0), "W/m2": (1.0, 0.0)}
_FRACTION: Units = {"%": (0.01, 0.0)}
_PERCENT: Units = {"%": (1.0, 0.0)}
_KILOPASCAL: Units = {"hPa": (0.1, 0.0)}


@dataclass(frozen=True)
class Variable:
    """
    One quantity of an answer.

    name: the canonical name, or that of an ingredient of one.
    words: the same for a person.
    spellings: the source's names for it, best first.
    units: how each documented unit becomes the canonical one.
    possible: outside of it a value cannot be true and becomes unknown.
    sensible: a possible value is moved into it, as rounding and interpolation leave small nonsense.
    of_the_hour: whether it is a sum, mean or maximum over the hour that ends at the stamp.
    """

    name: str
    words: str
    spellings: tuple[str, ...]
    units: Units
    possible: tuple[float, float]
    sensible: tuple[float, float]
    of_the_hour: bool = False


# Ranges are common sense beyond the WMO weather extremes (air −89.2 and 56.7 °C, 305 mm in 42 minutes, gust 113 m/s);
# what lies far outside them is a missing-value code or a wrong unit.
_RADIATION = ((-100.0, 2000.0), (0.0, 2000.0))
_WATER = ((-1.0, 500.0), (0.0, 500.0))
TABLE = (
    Variable("air_temp_c", "air temperature", ("temperature_2m",), _CELSIUS, (-90.0, 60.0), (-90.0, 60.0)),
    Variable("dew_point_c", "dew point", ("dew_point_2m", "dewpoint_2m"), _CELSIUS, (-110.0, 60.0), (-110.0, 60.0)),
    Variable(
        "relative_humidity",
        "relative humidity",
        ("relative_humidity_2m", "relativehumidity_2m"),
        _PERCENT,
        (-1.0, 150.0),
        (0.0, 100.0),
    ),
    Variable(
        "wind_10m_ms", "wind", ("wind_speed_10m", "windspeed_10m"), _METRES_PER_SECOND, (0.0, 120.0), (0.0, 120.0)
    ),
    Variable(
        "gust_10m_ms",
        "gust",
        ("wind_gusts_10m", "windgusts_10m"),
        _METRES_PER_SECOND,
        (0.0, 150.0),
        (0.0, 150.0),
        of_the_hour=True,
    ),
    Variable("global_wm2", "global radiation", ("shortwave_radiation",), _WATTS_PER_M2, *_RADIATION, of_the_hour=True),
    Variable(
        "direct_normal_wm2",
        "direct normal radiation",
        ("direct_normal_irradiance",),
        _WATTS_PER_M2,
        *_RADIATION,
        of_the_hour=True,
    ),
    Variable("diffuse_wm2", "diffuse radiation", ("diffuse_radiation",), _WATTS_PER_M2, *_RADIATION, of_the_hour=True),
    Variable("cloud", "cloud cover", ("cloud_cover", "cloudcover"), _FRACTION, (-0.01, 2.0), (0.0, 1.0)),
    Variable("precipitation", "precipitation", ("precipitation",), _MILLIMETRES, *_WATER, of_the_hour=True),
    Variable("rain", "rain", ("rain",), _MILLIMETRES, *_WATER, of_the_hour=True),
    Variable("showers", "showers", ("showers",), _MILLIMETRES, *_WATER, of_the_hour=True),
    Variable("snowfall_cm", "snowfall", ("snowfall",), _CENTIMETRES, (-1.0, 300.0), (0.0, 300.0), of_the_hour=True),
    Variable("snow_depth_m", "snow depth", ("snow_depth",), _METRES, (-0.1, 30.0), (0.0, 30.0)),
    Variable("pressure_kpa", "pressure", ("surface_pressure",), _KILOPASCAL, (30.0, 110.0), (30.0, 110.0)),
    Variable(
        "soil_temp_c",
        "soil temperature",
        ("soil_temperature_6cm", "soil_temperature_0_to_7cm", "soil_temperature_0_to_10cm"),
        _CELSIUS,
        (-70.0, 80.0),
        (-70.0, 80.0),
    ),
)
# rain_mm is put together from these; the rest of the table is canonical.
INGREDIENTS = ("precipitation", "rain", "showers")

_MEMBER = re.compile(r"member(\d{2,3})(?:_(.+))?")
# What follows a name in another variable of its own, not in the same variable of another model.
_OTHER_VARIABLE = frozenset(
    {
        "low",
        "mid",
        "high",
        "instant",
        "probability",
        "height",
        "water",
        "equivalent",
        "previous",
        "max",
        "min",
        "mean",
        "median",
        "sum",
        "spread",
        "anomaly",
        "hours",
        "type",
        "clear",
    }
)


@dataclass(frozen=True)
class Key:
    """One key of `hourly` taken apart: member 0 is the control or the only run, model is empty where none is named."""

    member: int
    model: str


def read_key(key: str, spelling: str) -> Key | None:
    """
    The parts of a key that carries this spelling, or None when the key is another variable.

    Forms: name, name_model, name_memberNN, name_memberNN_model.
    """
    if key == spelling:
        return Key(0, "")
    if not key.startswith(f"{spelling}_"):
        return None
    rest = key[len(spelling) + 1 :]
    member = _MEMBER.fullmatch(rest)
    if member:
        return Key(int(member[1]), member[2] or "")
    if not rest or rest[0].isdigit() or rest.split("_")[0] in _OTHER_VARIABLE:
        return None
    return Key(0, rest)


def convert(values: NDArray[np.float64], unit: object, variable: Variable) -> NDArray[np.float64] | None:
    """The values in the canonical unit, or None when the unit is not one that is documented for the variable."""
    known = variable.units.get(unit.strip()) if isinstance(unit, str) else None
    return None if known is None else values * known[0] + known[1]


def plausible(values: NDArray[np.float64], variable: Variable) -> tuple[NDArray[np.float64], int, int]:
    """The values with what cannot be true made NaN and small nonsense moved, and how many were removed and moved."""
    known = ~np.isnan(values)
    possible = (values >= variable.possible[0]) & (values <= variable.possible[1])
    kept = np.where(possible, values, np.nan)
    sensible = np.clip(kept, *variable.sensible)
    return sensible, int((known & ~possible).sum()), int((possible & (sensible != values)).sum())
