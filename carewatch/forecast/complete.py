"""From an answer of a source to complete hours: gaps closed, missing variables estimated and named, members joined."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd

from carewatch.forecast.ensemble import dress, ranked_paths, widen_radiation
from carewatch.forecast.errors import ForecastErrors
from carewatch.forecast.members import alive, join_members, last_own_hour
from carewatch.forecast.raw import VARIABLES, RawForecast
from carewatch.forecast.sunlight import complete_sunlight, divided_members
from carewatch.forecast.weather import Array, ForecastUnusable, Hours, Times, Weather
from carewatch.physics.humidity import dew_point_from_humidity_c, pressure_at_kpa
from carewatch.physics.sun import SunHours, sun_of_hours

# A gap of up to three hours is a straight line between its ends (DEVELOPERS.md, decisions); a longer one is unknown.
LONGEST_GAP_H = 3
# Where wind is unknown a nearly calm hour is assumed: it makes frost and heat worse, not better. Judged. [m s⁻¹]
UNKNOWN_WIND_MS = 1.0
# Gust over mean wind where a source gives none: 1.5-1.8 in the open (general meteorology, from memory). [-]
GUST_FACTOR = 1.6
# Ensembles smaller than this say too little about a night; a dressed single run is used instead. Judged.
LEAST_MEMBERS = 5
# Beyond a week the spread of a single run is as wide as the climate: almost any fortnight would hold a killing night.
SINGLE_RUN_H = 168
BEYOND = "The ensemble ends before the single run, which says too little beyond seven days; later hours are not judged."


@dataclass(frozen=True)
class Filled:
    """One variable after filling: values, how many hours the source gave, and how many hours ahead are known."""

    values: Array
    given: int
    known_until: int


def complete(
    raw: RawForecast, latitude: float, longitude: float, elevation_m: float, now: datetime, errors: ForecastErrors
) -> Weather:
    """
    Weather as known at `now`, from one answer.

    raw: as the source gave it; latitude, longitude [°] and elevation_m [m] of the site; now: with a time zone.
    Raises ForecastUnusable when there is no air temperature around `now`.
    """
    stamp = pd.Timestamp(now).tz_convert("UTC")
    frame = _window(raw.single, stamp)
    times = _stamps(frame)
    first = int(np.searchsorted(times, _stamp_of(now), side="right"))
    issued = min(raw.issued_at or now, now)
    notes = list(raw.notes)
    if raw.issued_at is None:
        notes.append("The file does not say when it was issued; it is taken as issued at the time asked for.")
    filled, missing, estimated = _fill(frame, times, first, latitude, longitude, elevation_m)
    notes += [*_site_notes(raw, latitude, longitude, elevation_m), *_cut_notes(raw.single, frame)]
    air = _members_air(raw, frame.index)[first:]
    own = alive(air)
    whole = int(own.sum()) >= LEAST_MEMBERS
    if own.any() and not whole:
        notes.append(f"{int(own.sum())} members are too few for an ensemble: the single run is dressed instead.")
    most = max(SINGLE_RUN_H, last_own_hour(air) + 1 if whole else 0)
    if len(frame) > first + most:
        frame, times, air = frame.iloc[: first + most], times[: first + most], air[:most]
        filled, missing, estimated = _fill(frame, times, first, latitude, longitude, elevation_m)
        notes.append(
            BEYOND if whole else "A single forecast says too little beyond seven days; later hours are not judged."
        )
    past = Hours(times[:first], {name: part.values[:first, None] for name, part in filled.items()})
    leads = (times[first:] - _stamp_of(issued)) / np.timedelta64(1, "h")
    single = {name: part.values[first:] for name, part in filled.items()}
    geometry = sun_of_hours(times[first:], latitude, longitude, elevation_m)
    if whole:
        members = {name: table.reindex(frame.index).to_numpy(np.float64)[first:] for name, table in raw.members.items()}
        ahead, said = _of_ensemble(
            times[first:], {name: table[:, own] for name, table in members.items()}, single, leads, errors, geometry
        )
        notes += said
    else:
        ahead = dress(single, leads, errors, _paths(times[first:], errors.members, errors))
        ahead = widen_radiation(ahead, single, geometry)
    return Weather(
        source=raw.source,
        issued_at=issued,
        age_hours=max(0.0, (now - issued) / timedelta(hours=1)),
        past=past,
        ahead=Hours(times[first:], ahead),
        members_from="ensemble" if whole else "dressed",
        missing=tuple(missing),
        estimated=tuple(estimated),
        known_until={name: part.known_until for name, part in filled.items()},
        notes=tuple(notes),
    )


def _stamps(frame: pd.DataFrame) -> Times:
    """UTC stamps of a frame's rows, datetime64[s]."""
    index = pd.DatetimeIndex(frame.index).tz_convert("UTC").tz_localize(None)
    stamps: Times = index.to_numpy().astype("datetime64[s]")
    return stamps


def _stamp_of(moment: datetime) -> np.datetime64:
    """A moment with a time zone as a UTC stamp."""
    return np.datetime64(moment.astimezone(UTC).replace(tzinfo=None), "s")


def _window(single: pd.DataFrame, now: pd.Timestamp) -> pd.DataFrame:
    """Hours around now in which air temperature is known without a long gap."""
    if "air_temp_c" not in single or single.empty:
        raise ForecastUnusable("The forecast has no air temperature, which every judgement needs.")
    first, last = single.index[0], single.index[-1]
    if now >= last:
        raise ForecastUnusable(
            f"The forecast ends at {last:%Y-%m-%d %H:%M} UTC, before the time asked for "
            f"({now:%Y-%m-%d %H:%M} UTC). Fetch a new one, or choose an earlier time with --at."
        )
    if now < first - pd.Timedelta(hours=1):
        raise ForecastUnusable(
            f"The forecast begins at {first:%Y-%m-%d %H:%M} UTC, after the time asked for "
            f"({now:%Y-%m-%d %H:%M} UTC). Choose a later time with --at."
        )
    air = _short_gaps_closed(single["air_temp_c"])
    known = air.notna().to_numpy()
    ahead = int(single.index.searchsorted(now, side="right"))
    if ahead >= known.size or not known[ahead]:
        raise ForecastUnusable(f"Air temperature is missing for the hours after {now:%Y-%m-%d %H:%M} UTC.")
    stop = ahead + int(np.argmin(known[ahead:])) if not known[ahead:].all() else known.size
    back = known[:ahead][::-1]
    start = 0 if back.all() else ahead - int(np.argmin(back))
    window: pd.DataFrame = single.iloc[start:stop].copy()
    window["air_temp_c"] = air.iloc[start:stop]
    return window


def _short_gaps_closed(series: pd.Series) -> pd.Series:
    """The series with gaps of up to LONGEST_GAP_H hours between known values drawn as straight lines."""
    known = series.notna()
    if known.all() or not known.any():
        return series
    run = known.cumsum()
    length = (~known).groupby(run).transform("sum")
    drawn = series.interpolate(method="linear", limit_area="inside")
    return series.where(known | (length > LONGEST_GAP_H), drawn)


def _fill(
    frame: pd.DataFrame, times: Times, first: int, latitude: float, longitude: float, elevation_m: float
) -> tuple[dict[str, Filled], list[str], list[str]]:
    """Every canonical variable for every hour; names of what is missing and of what was estimated, with how."""
    hours = times.size
    missing: list[str] = []
    estimated: list[str] = []
    given: dict[str, Array] = {}
    for name in (*VARIABLES, "relative_humidity"):
        series = _short_gaps_closed(frame[name]) if name in frame else pd.Series(np.nan, index=frame.index)
        given[name] = np.asarray(series, dtype=np.float64)

    def settle(name: str, other: Array, how: str, replaces: bool) -> Filled:
        values = given[name]
        known = np.isfinite(values)
        holes = int(hours - known.sum())
        if holes:
            extent = "" if holes == hours else f" in {holes} of {hours} hours"
            (estimated if replaces else missing).append(f"{name}{extent}: {how}")
        ahead = known[first:]
        until = ahead.size if replaces or ahead.all() else int(np.argmin(ahead))
        return Filled(np.where(known, values, other), int(known.sum()), until)

    air = given["air_temp_c"]
    done: dict[str, Filled] = {"air_temp_c": Filled(air, hours, hours - first)}
    humid = given["relative_humidity"]
    from_humidity = np.where(np.isfinite(humid), dew_point_from_humidity_c(air, np.clip(humid, 1, 100)), np.nan)
    days = pd.Series(air).groupby(times.astype("datetime64[D]")).transform("min").to_numpy(np.float64)
    how = "from relative humidity" if np.isfinite(humid).any() else "as the day's minimum (FAO-56 eq. 48)"
    dew = settle("dew_point_c", np.where(np.isfinite(from_humidity), from_humidity, days), how, True)
    done["dew_point_c"] = Filled(np.minimum(dew.values, air), dew.given, dew.known_until)
    done["wind_10m_ms"] = settle("wind_10m_ms", np.full(hours, UNKNOWN_WIND_MS), "nearly calm air is assumed", False)
    wind = done["wind_10m_ms"]
    if wind.given:
        done["gust_10m_ms"] = settle("gust_10m_ms", GUST_FACTOR * wind.values, "1.6 times the mean wind", True)
    else:
        done["gust_10m_ms"] = settle("gust_10m_ms", GUST_FACTOR * wind.values, "unknown", False)
    done["cloud"] = settle("cloud", np.zeros(hours), "a clear sky is assumed", False)
    sun = sun_of_hours(times, latitude, longitude, elevation_m)
    cloud_before = np.concatenate([done["cloud"].values[:1], done["cloud"].values[:-1]])
    mean_cloud = 0.5 * (cloud_before + done["cloud"].values)
    light = complete_sunlight(given["global_wm2"], given["direct_normal_wm2"], given["diffuse_wm2"], mean_cloud, sun)
    for name, values in (
        ("global_wm2", light.global_wm2),
        ("direct_normal_wm2", light.direct_normal_wm2),
        ("diffuse_wm2", light.diffuse_wm2),
    ):
        done[name] = replace(settle(name, values, light.how[name], True), values=values)
    for name in ("rain_mm", "snowfall_cm"):
        done[name] = settle(name, np.zeros(hours), "none is assumed", False)
    done["snow_depth_m"] = settle("snow_depth_m", np.zeros(hours), "bare ground is assumed", False)
    pressure = np.full(hours, float(pressure_at_kpa(np.float64(elevation_m))))
    done["pressure_kpa"] = settle("pressure_kpa", pressure, "from elevation (FAO-56 eq. 7)", True)
    done["soil_temp_c"] = settle("soil_temp_c", np.full(hours, np.nan), "the ground's own balance is used", True)
    return done, missing, estimated


def _site_notes(raw: RawForecast, latitude: float, longitude: float, elevation_m: float) -> list[str]:
    """Sentences about a grid cell that is far from the garden in distance or height."""
    notes = []
    away_km = 111.0 * np.hypot(raw.latitude - latitude, (raw.longitude - longitude) * np.cos(np.radians(latitude)))
    if np.isfinite(away_km) and away_km > 30.0:
        notes.append(f"The forecast is for a point {away_km:.0f} km from the site.")
    if raw.elevation_m is not None and abs(raw.elevation_m - elevation_m) > 50.0:
        notes.append(
            f"The forecast is for {raw.elevation_m:.0f} m above the sea, the site lies at {elevation_m:.0f} m."
        )
    return notes


def _cut_notes(single: pd.DataFrame, window: pd.DataFrame) -> list[str]:
    """A sentence about hours that the source has and that are not judged, because air temperature is unknown before."""
    last, air = window.index[-1], single["air_temp_c"].dropna()
    if air.empty or air.index[-1] <= last:
        return []
    known = air.index[-1]
    begins = f"Air temperature is unknown for more than {LONGEST_GAP_H} hours after {last:%Y-%m-%d %H:%M} UTC"
    return [f"{begins}; what comes after that, until {known:%Y-%m-%d %H:%M} UTC, is not judged."]


def _members_air(raw: RawForecast, index: pd.Index) -> Array:
    """Air temperature per member on the hours of the run, (hour, member), NaN where unknown; no columns without any."""
    if "air_temp_c" not in raw.members:
        return np.empty((len(index), 0))
    return np.asarray(raw.members["air_temp_c"].reindex(index), dtype=np.float64)


def _paths(times: Times, members: int, errors: ForecastErrors) -> tuple[Array, ...]:
    """The deviates of these hours. times: UTC stamps of consecutive hours."""
    start_h = int(times[0].astype("datetime64[h]").astype(np.int64)) if times.size else 0
    return ranked_paths(times.size, members, errors.memory_h, start_h=start_h)


def _of_ensemble(
    times: Times,
    members: dict[str, Array],
    single: dict[str, Array],
    leads_h: Array,
    errors: ForecastErrors,
    sun: SunHours,
) -> tuple[dict[str, Array], list[str]]:
    """The hours ahead from the members, and what a reader should know of it. members: (hour, member) with NaN."""
    hours, count = members["air_temp_c"].shape
    ahead = join_members(single, members, leads_h, errors, _paths(times, count, errors))
    divided = {"direct_normal_wm2", "diffuse_wm2"} if "global_wm2" in members else set()
    lacking = sorted(set(VARIABLES) - set(members) - divided)
    notes = ["Not given per member and taken from the single run: " + ", ".join(lacking) + "."] if lacking else []
    until = last_own_hour(members["air_temp_c"]) + 1
    if until < hours:
        notes.append(
            f"Members end after {until} hours; from there on the single run is dressed around their last course."
        )
    light = divided_members(ahead, members, single, sun) if divided else widen_radiation(ahead, single, sun, edge=0.0)
    return light, notes
