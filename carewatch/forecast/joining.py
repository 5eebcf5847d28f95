"""The weather of a moment: a source's answer, joined with the record where the answer does not reach back."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pandas as pd

from carewatch.forecast.complete import complete
from carewatch.forecast.errors import ForecastErrors
from carewatch.forecast.packing import columns, unpacked
from carewatch.forecast.raw import AUXILIARY, VARIABLES, RawForecast
from carewatch.forecast.record import ORIGINS, PastDay, Record
from carewatch.forecast.spinup import SPIN_UP_DAYS
from carewatch.forecast.weather import DayMeans, Weather

# Fast state settles on SPIN_UP_DAYS; one day more makes them whole at any hour. [d]
REACH_BACK_DAYS = SPIN_UP_DAYS + 1
_WORDS = {
    "archive": "the archive (reanalysis)",
    "met-norway": "earlier forecasts of MET Norway",
    "open-meteo": "earlier answers of Open-Meteo",
}


def joined(
    raw: RawForecast,
    record: Record,
    latitude: float,
    longitude: float,
    elevation_m: float,
    now: datetime,
    errors: ForecastErrors,
) -> Weather:
    """
    Weather as known at `now`, from one answer and what is recorded of the days before it.

    raw: as the source gave it; latitude, longitude [°] and elevation_m [m] of the site; now: with a time zone.
    Raises ForecastUnusable when there is no air temperature around `now`.
    """
    weather = complete(with_record(raw, record.recent, now), latitude, longitude, elevation_m, now, errors)
    return replace(weather, days=day_means(record, now))


def day_means(record: Record, now: datetime) -> DayMeans | None:
    """The record's daily means up to `now`, or None where there are none."""
    known = [(day, mean) for day, _, mean in record.means if day <= now.date()]
    if not known:
        return None
    days = np.array([day for day, _ in known], dtype="datetime64[D]")
    return DayMeans(days, np.array([mean for _, mean in known]))


def with_record(raw: RawForecast, recent: Iterable[PastDay], now: datetime) -> RawForecast:
    """
    The answer with recorded hours before it, and in its own past where it knows nothing; the answer's values win.

    now: aware. Hours after it stay as the answer has them: what was foreseen earlier is no forecast.
    """
    stamp = pd.Timestamp(now).tz_convert("UTC")
    recorded, origins = _hours(recent, stamp)
    own = raw.single
    if recorded.empty or own.empty:
        return raw
    first = recorded.index[0]
    before = pd.date_range(first, own.index[0], freq="h", inclusive="left") if first < own.index[0] else own.index[:0]
    index = before.append(own.index) if len(before) else own.index
    names = [name for name in (*VARIABLES, *AUXILIARY) if name in own or name in recorded]
    single = own.reindex(index=index, columns=names)
    past = index[index <= stamp]
    single.loc[past] = single.loc[past].fillna(recorded.reindex(index=past, columns=names))
    notes = raw.notes
    if len(before):
        told = origins.reindex(before).dropna().value_counts()
        said = ", ".join(f"{_WORDS[str(origin)]} ({count} h)" for origin, count in told.items())
        notes = (*notes, f"Hours before {own.index[0]:%Y-%m-%d %H:%M} UTC come from {said}.")
    members = {name: table.reindex(index) for name, table in raw.members.items()}
    return replace(raw, single=single, members=members, notes=notes)


def _hours(recent: Iterable[PastDay], now: pd.Timestamp) -> tuple[pd.DataFrame, pd.Series]:
    """Recorded hours up to now, best origin first per hour and variable, and the origin of each hour's temperature."""
    begins = (now - timedelta(days=REACH_BACK_DAYS)).ceil("h")
    days = sorted((day for day in recent if day.day >= begins.date()), key=_trust)
    tables: list[pd.DataFrame] = []
    for day in days:
        index = pd.date_range(pd.Timestamp(day.day, tz="UTC"), periods=24, freq="h")
        tables.append(pd.DataFrame(unpacked(day.content), index=index, columns=columns()))
    if not tables:
        return pd.DataFrame(columns=columns(), dtype="float64"), pd.Series(dtype="object")
    index = pd.DatetimeIndex(sorted(set().union(*(table.index for table in tables))))
    index = index[(index >= begins) & (index <= now)]
    found = pd.DataFrame(np.nan, index=index, columns=columns())
    origins = pd.Series(None, index=index, dtype="object")
    for day, table in zip(days, tables, strict=True):
        hours = table.reindex(index)
        origins[hours["air_temp_c"].notna()] = day.origin
        found = hours.combine_first(found)
    found = found.dropna(how="all")
    return found, origins.reindex(found.index)


def _trust(day: PastDay) -> int:
    """Origins that are trusted more come later and win."""
    return ORIGINS.index(day.origin)
