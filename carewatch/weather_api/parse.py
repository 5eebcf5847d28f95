"""A decoded Open-Meteo answer becomes the canonical hours, or is refused; whatever is dropped or moved is named."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from carewatch.forecast.raw import AUXILIARY, VARIABLES, RawForecast
from carewatch.weather_api.refused import SourceRefused, one_line
from carewatch.weather_api.timeline import Timeline, instant, read_timeline, utc_offset_s
from carewatch.weather_api.variables import INGREDIENTS, TABLE, Variable, convert, plausible, read_key

# 7 cm of fresh snow are 10 mm of water. Source: Open-Meteo documentation of `snowfall`.
_SNOW_WATER_MM_PER_CM = 10.0 / 7.0
_WORDS = {variable.name: variable.words for variable in TABLE} | {"rain_mm": "rain"}

Hours = NDArray[np.float64]
Members = dict[int, Hours]


@dataclass(frozen=True)
class _Choice:
    """The values of one variable, by member, from one model (empty: none is named)."""

    members: Members
    model: str


def parse_open_meteo(
    document: object,
    *,
    source: str = "open-meteo",
    issued_at: datetime | None = None,
    origin: str = "the answer of Open-Meteo",
) -> RawForecast:
    """
    The forecast that the document holds.

    document: the decoded JSON of the forecast, ensemble or archive interface.
    source: goes into the result.
    issued_at: when it was fetched, aware; None takes `current.time` where the document has it.
    origin: what it is, as the subject of a sentence.

    Sums, means and maxima stay on the stamp at which their hour ends, as Open-Meteo gives them. Rain is the liquid
    part: rain + showers where both are given, else precipitation less the water of snowfall, else rain, else
    precipitation.

    Raises SourceRefused when it is an error message, has no hours or has no air temperature.
    """
    notes: list[str] = []
    answer = _one_place(document, origin, notes)
    hourly = answer.get("hourly")
    if not isinstance(hourly, dict):
        raise SourceRefused(f"{origin} has no hourly values", transient=False)
    timeline = read_timeline(answer, hourly.get("time"), origin, notes)
    units = answer.get("hourly_units")
    reader = _Reader(hourly, units if isinstance(units, dict) else {}, timeline, notes)

    chosen = reader.read_all()
    if "air_temp_c" not in chosen:
        why = "".join(f" ({note.rstrip('.')})" for note in notes if note.startswith("temperature_2m"))
        raise SourceRefused(
            f"{origin} has no air temperature (temperature_2m), which every judgement needs{why}", transient=False
        )
    _name_models(chosen, notes)
    values = {name: choice.members for name, choice in chosen.items() if name not in INGREDIENTS}
    liquid = _liquid({name: choice.members for name, choice in chosen.items()}, notes)
    if liquid:
        values["rain_mm"] = liquid

    single = _single(values, timeline.index, notes)
    members = _members(values, timeline.index, notes)
    _name_what_is_missing(single, hourly, notes)
    latitude, longitude, elevation_m = (_number(answer.get(key)) for key in ("latitude", "longitude", "elevation"))
    if latitude is None or longitude is None:
        notes.append("The answer does not say for which place it is.")
    current = answer.get("current")
    if issued_at is None and isinstance(current, dict):
        issued_at = instant(current.get("time"), utc_offset_s(answer) or 0)
    return RawForecast(
        source=source,
        issued_at=None if issued_at is None else issued_at.astimezone(UTC),
        latitude=np.nan if latitude is None else latitude,
        longitude=np.nan if longitude is None else longitude,
        elevation_m=elevation_m,
        single=single,
        members=members,
        notes=tuple(notes),
    )


def _one_place(document: object, origin: str, notes: list[str]) -> Mapping[str, object]:
    """The one answer in the document. Raises SourceRefused for an error message and for anything but an object."""
    if isinstance(document, list):
        if not document:
            raise SourceRefused(f"{origin} is an empty list", transient=False)
        if len(document) > 1:
            notes.append(f"The answer holds {len(document)} places; the first was taken.")
        document = document[0]
    if not isinstance(document, dict):
        raise SourceRefused(f"{origin} is not a weather answer (it is JSON, but no object)", transient=False)
    if document.get("error"):
        reason = document.get("reason")
        said = one_line(reason) if isinstance(reason, str) and reason else "no reason given"
        raise SourceRefused(f"{origin} is an error message: {said}", transient=False)
    return document


class _Reader:
    """Reads variable after variable out of one answer, and remembers which model gave the air temperature."""

    def __init__(
        self, hourly: Mapping[str, object], units: Mapping[str, object], timeline: Timeline, notes: list[str]
    ) -> None:
        self._hourly = hourly
        self._units = units
        self._timeline = timeline
        self._notes = notes
        self._preferred_model = ""
        self._dropped: dict[str, list[str]] = {}

    def read_all(self) -> dict[str, _Choice]:
        """Every variable of the table that has a value, air temperature first."""
        chosen: dict[str, _Choice] = {}
        for variable in TABLE:
            choice = self._read(variable)
            for reason, keys in self._dropped.items():
                shown = ", ".join(keys) if len(keys) <= 3 else f"{keys[0]} to {keys[-1]} ({len(keys)} arrays)"
                self._notes.append(f"{shown}: {reason}, so left out.")
            self._dropped.clear()
            if choice is None:
                continue
            chosen[variable.name] = choice
            if variable.name == "air_temp_c":
                self._preferred_model = choice.model
        return chosen

    def _read(self, variable: Variable) -> _Choice | None:
        """The variable from the model of the air temperature, else from the first model that has values."""
        by_model: dict[tuple[int, str], dict[int, str]] = {}
        for rank, spelling in enumerate(variable.spellings):
            for key in self._hourly:
                parts = read_key(key, spelling)
                if parts is not None:
                    by_model.setdefault((rank, parts.model), {}).setdefault(parts.member, key)
        order = sorted(by_model, key=lambda place: place[1] != self._preferred_model)
        for place in order:
            members = self._read_members(variable, by_model[place])
            if members:
                return _Choice(members, place[1])
        return None

    def _read_members(self, variable: Variable, keys: Mapping[int, str]) -> Members:
        members: Members = {}
        removed = moved = 0
        for member, key in sorted(keys.items()):
            values = self._values(key, variable)
            if values is None:
                continue
            sensible, removed_here, moved_here = plausible(values, variable)
            removed, moved = removed + removed_here, moved + moved_here
            laid = self._timeline.lay_out(sensible, variable.of_the_hour)
            if np.isnan(laid).all():
                self._drop(key, "no usable value")
            else:
                members[member] = laid
        if removed:
            self._notes.append(f"{removed} values of {variable.words} are impossible and were left out.")
        if moved:
            low, high = variable.sensible
            self._notes.append(f"{moved} values of {variable.words} were moved into {low:g} to {high:g}.")
        return members

    def _values(self, key: str, variable: Variable) -> Hours | None:
        """The array under the key in the canonical unit, or None with a note."""
        given = self._hourly[key]
        if not isinstance(given, list):
            self._drop(key, "not a list of values")
            return None
        if len(given) != self._timeline.count:
            self._drop(key, f"{len(given)} values for {self._timeline.count} times")
            return None
        values, unreadable = _floats(given)
        if unreadable:
            self._notes.append(f"{key}: {unreadable} values that are not numbers were left out.")
        if np.isnan(values).all():
            self._drop(key, "no value at all")
            return None
        unit = self._units.get(key)
        converted = convert(values, unit, variable)
        if converted is None:
            self._drop(key, f"in the unknown unit '{one_line(str(unit))}'" if unit else "without a unit")
            return None
        return converted

    def _drop(self, key: str, reason: str) -> None:
        """Remember why the array under the key is not used, to be named once for all arrays of the variable."""
        self._dropped.setdefault(reason, []).append(key)


def _floats(given: list[object]) -> tuple[Hours, int]:
    """The list as floats, NaN for null and for what is no finite number, and how many of the latter there were."""
    if set(map(type, given)) <= {float, type(None)}:
        # As nearly every list is; nothing but an infinity or NaN is no number then.
        values = np.array(given, dtype=np.float64)
        missing = given.count(None)
        unreadable = len(given) - missing - int(np.isfinite(values).sum())
        return np.where(np.isfinite(values), values, np.nan), unreadable
    values = np.full(len(given), np.nan)
    unreadable = 0
    for position, item in enumerate(given):
        if item is None:
            continue
        number = _number(item)
        if number is None:
            unreadable += 1
        else:
            values[position] = number
    return values, unreadable


def _number(item: object) -> float | None:
    """The item as a finite float, or None."""
    if isinstance(item, bool) or not isinstance(item, (int, float)):
        return None
    try:
        number = float(item)
    except OverflowError:
        return None
    return number if np.isfinite(number) else None


def _name_models(chosen: Mapping[str, _Choice], notes: list[str]) -> None:
    main = chosen["air_temp_c"].model
    if main:
        notes.append(f"Values are those of the model {main} where nothing else is said.")
    for name, choice in chosen.items():
        if choice.model != main:
            notes.append(f"{_WORDS[name].capitalize()} is that of {choice.model or 'no named model'}.")


def _liquid(values: Mapping[str, Members], notes: list[str]) -> Members:
    """Rain per member and hour, from the best ingredients that each hour has. [mm]"""
    rain, showers = values.get("rain", {}), values.get("showers", {})
    total, snow = values.get("precipitation", {}), values.get("snowfall_cm", {})
    fallback_hours = {"precipitation less the water of snowfall": 0, "rain without showers": 0, "all precipitation": 0}
    liquid: Members = {}
    for member in sorted(rain.keys() | total.keys()):
        unknown = np.full(len(next(iter((rain or total).values()))), np.nan)
        amounts = rain.get(member, unknown) + showers.get(member, unknown)
        less_snow = total.get(member, unknown) - _SNOW_WATER_MM_PER_CM * snow.get(member, unknown)
        for way, substitute in zip(
            fallback_hours,
            (np.clip(less_snow, 0.0, None), rain.get(member, unknown), total.get(member, unknown)),
            strict=True,
        ):
            filled = np.isnan(amounts) & ~np.isnan(substitute)
            fallback_hours[way] += int(filled.sum())
            amounts = np.where(filled, substitute, amounts)
        if not np.isnan(amounts).all():
            liquid[member] = amounts
    for way, hours in fallback_hours.items():
        if hours:
            of_members = f" of {len(liquid)} members together" if len(liquid) > 1 else ""
            notes.append(f"Rain is {way} in {hours} hours{of_members}.")
    return liquid


def _single(values: Mapping[str, Members], index: pd.DatetimeIndex, notes: list[str]) -> pd.DataFrame:
    """The control, or the only run: the canonical columns that it has, in canonical order."""
    columns = {name: values[name][0] for name in (*VARIABLES, *AUXILIARY) if 0 in values.get(name, {})}
    if "air_temp_c" not in columns:
        # Members without a control: the first of them stands in, so that there is a single run at all.
        first = min(values["air_temp_c"])
        notes.append(f"The answer has no control run; member {first} stands in for it.")
        columns = {name: values[name][first] for name in (*VARIABLES, *AUXILIARY) if first in values.get(name, {})}
    return pd.DataFrame(columns, index=index, dtype="float64")


def _members(values: Mapping[str, Members], index: pd.DatetimeIndex, notes: list[str]) -> dict[str, pd.DataFrame]:
    """
    Per variable a frame with the same members in the same order, or nothing when there are fewer than two.

    A variable that most members lack is left to the single run rather than that members are lost for it.
    """
    together = set(values["air_temp_c"])
    if len(together) < 2:
        return {}
    kept = []
    for name in (*VARIABLES, *AUXILIARY):
        have = together & values.get(name, {}).keys()
        if 2 * len(have) > len(values["air_temp_c"]):
            kept.append(name)
            together &= have
        elif have - {0}:
            notes.append(f"{_WORDS[name].capitalize()} is given for {len(have)} members only; the single run serves.")
    left_out = len(values["air_temp_c"]) - len(together)
    if left_out:
        notes.append(f"{left_out} members lack a variable that the others have and were left out.")
    if len(together) < 2:
        return {}
    ordered = sorted(together)
    return {
        name: pd.DataFrame(np.column_stack([values[name][member] for member in ordered]), index=index) for name in kept
    }


def _name_what_is_missing(single: pd.DataFrame, hourly: Mapping[str, object], notes: list[str]) -> None:
    absent = [name for name in VARIABLES if name not in single.columns]
    if absent:
        notes.append(f"Not in this answer: {_listed(absent, lambda name: _WORDS[name])}.")
    holes = {name: int(single[name].isna().sum()) for name in single.columns}
    holed = [name for name, count in holes.items() if count]
    if holed:
        spoken = _listed(holed, lambda name: f"{_WORDS[name]} {holes[name]}")
        notes.append(f"Hours without a value, of {len(single)}: {spoken}.")
    present = {name for name in ("direct_radiation", "pressure_msl") if any(read_key(key, name) for key in hourly)}
    if "direct_radiation" in present and "direct_normal_wm2" not in single.columns:
        notes.append("Direct radiation is given on the horizontal only and was left out.")
    if "pressure_msl" in present and "pressure_kpa" not in single.columns:
        notes.append("Pressure is given for sea level only and was left out.")


def _listed(names: Iterable[str], words: Callable[[str], str]) -> str:
    return ", ".join(words(name) for name in names)
