"""The weather of a moment: a source's answer, joined with the record where the answer does not reach back."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from carewatch.forecast.complete import complete
from carewatch.forecast.errors import ForecastErrors
from carewatch.forecast.packing import columns, unpacked
from carewatch.forecast.raw import AUXILIARY, VARIABLES, RawForecast
from carewatch.forecast.record import ORIGINS, WHOLE_DAY, PastDay, Record
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
    recorded = _recorded(recent, stamp)
    own = raw.single
    if recorded is None or own.empty:
        return raw
    first = recorded.first
    before = pd.date_range(first, own.index[0], freq="h", inclusive="left") if first < own.index[0] else own.index[:0]
    index = before.append(own.index) if len(before) else own.index
    names = [*VARIABLES, *AUXILIARY]
    values = own.reindex(index=index, columns=names).to_numpy(np.float64)
    rows, known = recorded.rows_of(index)
    there = recorded.values[rows][:, [columns().index(name) for name in names]]
    unknown = np.isnan(values) & (known & np.asarray(index <= stamp))[:, None]
    single = pd.DataFrame(np.where(unknown, there, values), index=index, columns=names)
    notes = raw.notes
    if len(before):
        told = recorded.told_by(before)
        said = ", ".join(f"{_WORDS[origin]} ({count} h)" for origin, count in told.most_common())
        notes = (*notes, f"Hours before {own.index[0]:%Y-%m-%d %H:%M} UTC come from {said}.")
    members = {name: table.reindex(index) for name, table in raw.members.items()}
    return replace(raw, single=single, members=members, notes=notes)


@dataclass(frozen=True)
class _Recorded:
    """
    Recorded hours, every hour from the first that is known.

    values: (hour, column), NaN where unknown; origins: of each hour's air temperature, as position in ORIGINS, -1 for
    none.
    """

    first: pd.Timestamp
    values: NDArray[np.float64]
    origins: NDArray[np.int64]

    def rows_of(self, index: "pd.Index[pd.Timestamp]") -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
        """The row of each stamp, and whether there is one; the row of one without is no matter."""
        seconds = (pd.DatetimeIndex(index) - self.first).total_seconds().to_numpy(np.float64)
        rows = seconds // 3600.0
        known = (seconds % 3600.0 == 0.0) & (rows >= 0.0) & (rows < len(self.values))
        return np.where(known, rows, 0.0).astype(np.int64), known

    def told_by(self, index: "pd.Index[pd.Timestamp]") -> Counter[str]:
        """How many of these hours' air temperatures come from each origin."""
        rows, known = self.rows_of(index)
        told = self.origins[rows[known]]
        return Counter(ORIGINS[number] for number in told if number >= 0)


def _recorded(recent: Iterable[PastDay], now: pd.Timestamp) -> _Recorded | None:
    """Recorded hours up to now, of each hour and variable from the origin trusted most; None where there are none."""
    begins = (now - timedelta(days=REACH_BACK_DAYS)).ceil("h")
    days = sorted((day for day in recent if day.day >= begins.date()), key=_trust)
    if not days:
        return None
    first = min(day.day for day in days)
    count = WHOLE_DAY * ((max(day.day for day in days) - first).days + 1)
    values = np.full((count, len(columns())), np.nan)
    origins = np.full(count, -1)
    air = columns().index("air_temp_c")
    for day in days:
        hours = unpacked(day.content)
        begin = WHOLE_DAY * (day.day - first).days
        rows = slice(begin, begin + WHOLE_DAY)
        values[rows] = np.where(np.isnan(hours), values[rows], hours)
        origins[rows] = np.where(np.isnan(hours[:, air]), origins[rows], _trust(day))
    stamps = pd.date_range(pd.Timestamp(first, tz="UTC"), periods=count, freq="h")
    kept = np.flatnonzero((stamps >= begins) & (stamps <= now) & ~np.isnan(values).all(axis=1))
    if not kept.size:
        return None
    rows = slice(kept[0], kept[-1] + 1)
    return _Recorded(stamps[kept[0]], values[rows], origins[rows])


def _trust(day: PastDay) -> int:
    """Origins that are trusted more come later and win."""
    return ORIGINS.index(day.origin)
