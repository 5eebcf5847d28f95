"""A decoded answer of MET Norway becomes the canonical hours, or is refused; what is drawn between them is named."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from carewatch.forecast.raw import AUXILIARY, VARIABLES, RawForecast
from carewatch.forecast.steps import between_instants_c
from carewatch.weather_api.met_norway import SOURCE
from carewatch.weather_api.refused import SourceRefused
from carewatch.weather_api.timeline import instant
from carewatch.weather_api.variables import TABLE, Units, plausible

# Steps of the last days are six hours long; a longer one is a gap.
LONGEST_STEP_H = 6
# Ten days of hours, twice; what spans more comes from a broken stamp and would only cost memory.
_LONGEST_HOURS = 480
# The model outside of the Nordic countries is run four times a day and published some hours later: an answer counts as
# issued when it was fetched, but never longer than this after its own last update. Two runs, judged.
OWN_AGE = timedelta(hours=12)
# As much rain as snow falls at this air temperature. Source: Jennings et al. 2018, Nature Communications 9:1148 (mean
# of the northern hemisphere 1.0 °C, from memory).
RAIN_SNOW_C = 1.0
# 7 cm of fresh snow are 10 mm of water. Source: Open-Meteo documentation of `snowfall`, as for the first source.
_SNOW_CM_PER_MM = 0.7

_CELSIUS: Units = {"celsius": (1.0, 0.0), "°C": (1.0, 0.0)}
_FRACTION: Units = {"%": (0.01, 0.0)}
_SPEED: Units = {"m/s": (1.0, 0.0)}
_AMOUNT: Units = {"mm": (1.0, 0.0)}
_TABLE = {variable.name: variable for variable in TABLE}

Hours = NDArray[np.float64]


@dataclass(frozen=True)
class _Instant:
    """One quantity given at the stamps. name: canonical; spelling, units: MET Norway's."""

    name: str
    spelling: str
    units: Units


# Source of names and units: MET Norway, Locationforecast data model.
_INSTANTS = (
    _Instant("air_temp_c", "air_temperature", _CELSIUS),
    _Instant("dew_point_c", "dew_point_temperature", _CELSIUS),
    _Instant("relative_humidity", "relative_humidity", {"%": (1.0, 0.0)}),
    _Instant("wind_10m_ms", "wind_speed", _SPEED),
    _Instant("gust_10m_ms", "wind_speed_of_gust", _SPEED),
    _Instant("cloud", "cloud_area_fraction", _FRACTION),
)


@dataclass(frozen=True)
class _Step:
    """One entry of the time series. details: at its stamp; next_1h, next_6h: of the hours after it, or empty."""

    at: datetime
    details: Mapping[str, object]
    next_1h: Mapping[str, object]
    next_6h: Mapping[str, object]
    length_h: int


def is_met_norway(document: object) -> bool:
    """Whether a decoded document has the outer form of a Locationforecast answer."""
    properties = document.get("properties") if isinstance(document, dict) else None
    return isinstance(properties, dict) and "timeseries" in properties


def parse_met_norway(
    document: object,
    *,
    latitude: float | None = None,
    longitude: float | None = None,
    source: str = SOURCE,
    fetched_at: datetime | None = None,
    origin: str = "the answer of MET Norway",
) -> RawForecast:
    """
    The forecast that the document holds.

    document: the decoded JSON of Locationforecast 2.0. latitude, longitude: of the site, for the hours of sunrise
    between six-hourly values; None takes those of the answer. [°]
    source: goes into the result. fetched_at: aware; None takes the answer's own time of update.
    origin: what it is, as the subject of a sentence.

    Instants stay on their stamps; what falls in the hours after a stamp goes to the stamps at which those hours end.
    Between six-hourly instants air temperature follows the curve of forecast.steps, other instants a straight line, and
    precipitation is spread evenly. Radiation, snow depth and, outside of the Nordic countries, gusts are not in it.

    Raises SourceRefused when it has no usable time or no air temperature.
    """
    notes: list[str] = []
    properties = document.get("properties") if isinstance(document, dict) else None
    if not isinstance(properties, dict):
        raise SourceRefused(f"{origin} is not a weather answer (it has no properties)", transient=False)
    steps = _steps(properties.get("timeseries"), origin, notes)
    meta = _table(properties, "meta")
    units = _table(meta, "units")
    index = _index(steps, origin)
    given = {entry.name: _given(entry, steps, units, notes) for entry in _INSTANTS}
    if not np.isfinite(given["air_temp_c"]).any():
        raise SourceRefused(
            f"{origin} has no air temperature (air_temperature), which every judgement needs", transient=False
        )
    there = _coordinates(document)
    at_latitude = there[0] if latitude is None else latitude
    at_longitude = there[1] if longitude is None else longitude
    single = _hours(steps, given, units, index, (at_latitude, at_longitude), notes)
    updated_at = instant(meta.get("updated_at"), 0)
    _name_what_is_missing(single, notes)
    issued_at = updated_at if fetched_at is None else fetched_at.astimezone(UTC)
    if fetched_at is not None and updated_at is not None and fetched_at - updated_at > OWN_AGE:
        issued_at = updated_at + OWN_AGE
        notes.append(f"MET Norway last updated this forecast at {updated_at:%Y-%m-%d %H:%M} UTC.")
    return RawForecast(source, issued_at, there[0], there[1], there[2], single, {}, tuple(notes))


def _steps(series: object, origin: str, notes: list[str]) -> tuple[_Step, ...]:
    """The entries of the time series in the order of their stamps, each once."""
    if not isinstance(series, list) or not series:
        raise SourceRefused(f"{origin} has no times", transient=False)
    found: dict[datetime, Mapping[str, Any]] = {}
    unreadable = 0
    for entry in series:
        at = instant(entry.get("time"), 0) if isinstance(entry, dict) else None
        if at is None or at.minute or at.second:
            unreadable += 1
        else:
            found.setdefault(at, _table(entry, "data"))
    if unreadable:
        notes.append(f"{unreadable} of {len(series)} times cannot be read; their values were left out.")
    if not found:
        raise SourceRefused(f"{origin} has no value at a full hour UTC", transient=False)
    stamps = sorted(found)
    lengths = [round((after - at) / timedelta(hours=1)) for at, after in pairwise(stamps)] + [0]
    return tuple(
        _Step(
            at,
            _table(found[at], "instant", "details"),
            _table(found[at], "next_1_hours"),
            _table(found[at], "next_6_hours"),
            length,
        )
        for at, length in zip(stamps, lengths, strict=True)
    )


def _index(steps: Sequence[_Step], origin: str) -> pd.DatetimeIndex:
    hours = sum(step.length_h for step in steps) + 1
    if hours > _LONGEST_HOURS:
        raise SourceRefused(f"{origin} spans {hours / 24:.0f} days, so its times are broken", transient=False)
    start = pd.Timestamp(steps[0].at).as_unit("us")
    return pd.date_range(start, periods=hours, freq="h", unit="us")


def _table(outer: object, *names: str) -> Mapping[str, Any]:
    """The table under the names, one in the other; empty where there is none."""
    for name in names:
        outer = outer.get(name) if isinstance(outer, Mapping) else None
    return outer if isinstance(outer, Mapping) else {}


def _number(value: object) -> float:
    """The value as a finite float, NaN for anything else."""
    if isinstance(value, bool) or not isinstance(value, (int, float)) or abs(value) > 1e9:
        return np.nan
    return float(value)


def _given(entry: _Instant, steps: Sequence[_Step], units: Mapping[str, object], notes: list[str]) -> Hours:
    """One quantity at every stamp in the canonical unit, NaN where it is not given."""
    values = np.array([_number(step.details.get(entry.spelling)) for step in steps])
    return _canonical(values, entry.name, entry.spelling, units.get(entry.spelling), entry.units, notes)


def _canonical(values: Hours, name: str, spelling: str, unit: object, known: Units, notes: list[str]) -> Hours:
    if not np.isfinite(values).any():
        return values
    variable = _TABLE[name]
    factor = known.get(unit) if isinstance(unit, str) else None
    if factor is None:
        notes.append(f"{spelling}: in an unknown unit, so left out.")
        return np.full(len(values), np.nan)
    kept, removed, _ = plausible(values * factor[0] + factor[1], variable)
    if removed:
        notes.append(f"{removed} values of {variable.words} are impossible and were left out.")
    return kept


def _hours(
    steps: Sequence[_Step],
    given: Mapping[str, Hours],
    units: Mapping[str, object],
    index: pd.DatetimeIndex,
    site: tuple[float, float],
    notes: list[str],
) -> pd.DataFrame:
    """The canonical columns that there are, hour by hour."""
    stamps = np.array([np.datetime64(step.at.replace(tzinfo=None), "s") for step in steps])
    hours = stamps[0] + np.arange(len(index)) * np.timedelta64(3600, "s")
    places = ((stamps - stamps[0]) / np.timedelta64(3600, "s")).astype(np.intp)
    lengths = np.array([step.length_h for step in steps])
    columns: dict[str, Hours] = {}
    for name, values in given.items():
        if name == "air_temp_c":
            low, high = (
                np.array([_number(_table(step.next_6h, "details").get(f"air_temperature_{end}")) for step in steps])
                for end in ("min", "max")
            )
            drawn = between_instants_c(stamps, values, low, high, hours, *site)
        elif name == "gust_10m_ms":
            # A maximum says nothing about the hours between: those are left to the estimate from wind.
            drawn = np.full(len(index), np.nan)
            drawn[places] = values
        else:
            drawn = _straight(places, values, len(index))
        columns[name] = _without_gaps(drawn, places, values)
    columns["dew_point_c"] = np.minimum(columns["dew_point_c"], columns["air_temp_c"])
    rain, snow = _precipitation(steps, places, lengths, columns["air_temp_c"], units, notes)
    columns |= {"rain_mm": rain, "snowfall_cm": snow}
    _name_steps(steps, notes)
    kept = {name: columns[name] for name in (*VARIABLES, *AUXILIARY) if np.isfinite(columns.get(name, [])).any()}
    return pd.DataFrame(kept, index=index, dtype="float64")


def _straight(places: NDArray[np.intp], values: Hours, hours: int) -> Hours:
    known = np.isfinite(values)
    if not known.any():
        return np.full(hours, np.nan)
    return np.interp(np.arange(hours), places[known], values[known], left=np.nan, right=np.nan)


def _without_gaps(drawn: Hours, places: NDArray[np.intp], values: Hours) -> Hours:
    """The drawn values without those between instants that lie further apart than a step may be long."""
    known = places[np.isfinite(values)]
    for before, after in pairwise(known.tolist()):
        if after - before > LONGEST_STEP_H:
            drawn[before + 1 : after] = np.nan
    return drawn


def _precipitation(
    steps: Sequence[_Step],
    places: NDArray[np.intp],
    lengths: NDArray[np.intp],
    air_temp_c: Hours,
    units: Mapping[str, object],
    notes: list[str],
) -> tuple[Hours, Hours]:
    """Rain [mm] and snowfall [cm] of the hour that ends at each stamp, from the amounts after the entries' stamps."""
    periods = [(step.next_1h, 1) if step.next_1h else (step.next_6h, LONGEST_STEP_H) for step in steps]
    amounts = np.array([_number(_table(period, "details").get("precipitation_amount")) for period, _ in periods])
    unit = units.get("precipitation_amount")
    amounts = _canonical(amounts, "precipitation", "precipitation_amount", unit, _AMOUNT, notes)
    water, frozen = np.full(len(air_temp_c), np.nan), np.full(len(air_temp_c), np.nan)
    for place, length, amount, (period, hours) in zip(places, lengths, amounts, periods, strict=True):
        # An amount of six hours before the next entry of one hour would be counted again by that entry.
        if np.isnan(amount) or (hours > length > 0):
            continue
        ends = slice(place + 1, place + 1 + hours)
        water[ends] = amount / hours
        frozen[ends] = _frozen_share(_table(period, "summary").get("symbol_code"))
    frozen = np.where(np.isnan(frozen), air_temp_c <= RAIN_SNOW_C, frozen)
    if bool(((water > 0.0) & (frozen > 0.0)).any()):
        notes.append("Snowfall is told from rain by the weather symbol, and by air temperature where there is none.")
    return water * (1.0 - frozen), water * frozen * _SNOW_CM_PER_MM


def _frozen_share(symbol: object) -> float:
    """Share of snow in the precipitation of a symbol such as "lightsnowshowers_day"; NaN where it says none. [0-1]"""
    if not isinstance(symbol, str):
        return np.nan
    if "sleet" in symbol:
        return 0.5
    return 1.0 if "snow" in symbol else 0.0


def _name_steps(steps: Sequence[_Step], notes: list[str]) -> None:
    longer = [step for step in steps if step.length_h > 1]
    if longer:
        notes.append(
            f"From {longer[0].at:%Y-%m-%d %H:%M} UTC on values are given every few hours: air temperature between them "
            "is a curve through them and the lows and highs of each step (Fritsch & Carlson 1980), wind, dew point and "
            "cloud are straight lines, and precipitation is spread evenly: estimated."
        )
    broken = sum(step.length_h > LONGEST_STEP_H for step in steps)
    if broken:
        notes.append(f"{broken} steps are longer than {LONGEST_STEP_H} hours and are gaps.")


def _name_what_is_missing(single: pd.DataFrame, notes: list[str]) -> None:
    absent = [name for name in VARIABLES if name not in single.columns]
    if absent:
        notes.append(f"Not in this answer: {', '.join(_words(name) for name in absent)}.")


def _words(name: str) -> str:
    return _TABLE[name].words if name in _TABLE else "rain"


def _coordinates(document: object) -> tuple[float, float, float | None]:
    """Latitude, longitude and height of the answer; NaN where it does not say. [°, °, m]"""
    place = _table(document, "geometry").get("coordinates")
    numbers = [_number(item) for item in place] if isinstance(place, list) else []
    longitude, latitude, height = (*numbers, np.nan, np.nan, np.nan)[:3]
    return latitude, longitude, None if np.isnan(height) else height
