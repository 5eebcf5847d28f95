"""Where the values of an answer lie in time: its stamps as UTC, and their places on a gapless hourly index."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from carewatch.weather_api.refused import SourceRefused

_HOUR_S = 3600
# Twenty years of hours; a longer span comes from a broken stamp and would only cost memory.
_LONGEST_HOURS = 20 * 366 * 24
_EARLIEST, _LATEST = datetime(1900, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Timeline:
    """
    The hours of one answer.

    index: hourly UTC, unique, rising, no gaps.
    rows: which values of the answer are used, by position, in rising order of time.
    places: where on the index each of them goes.
    hourly: for each of them, whether a neighbour is exactly one hour away: only then is a sum or mean one of an hour.
    count: how many values each array of the answer must have.
    """

    index: pd.DatetimeIndex
    rows: NDArray[np.intp]
    places: NDArray[np.intp]
    hourly: NDArray[np.bool_]
    count: int

    def lay_out(self, values: NDArray[np.float64], of_the_hour: bool) -> NDArray[np.float64]:
        """The values on the index, NaN where the answer has none. of_the_hour: keep only those that span one hour."""
        laid = np.full(len(self.index), np.nan)
        chosen = values[self.rows]
        laid[self.places] = np.where(self.hourly, chosen, np.nan) if of_the_hour else chosen
        return laid


def utc_offset_s(document: Mapping[str, object]) -> int | None:
    """The answer's offset from UTC, or None when it gives none. [s]"""
    offset = document.get("utc_offset_seconds")
    return offset if isinstance(offset, int) and not isinstance(offset, bool) and abs(offset) <= 18 * _HOUR_S else None


def instant(stamp: object, offset_s: int) -> datetime | None:
    """
    The UTC time of a stamp, or None when it is none.

    stamp: epoch seconds, always UTC; or ISO 8601, local by the answer's offset unless it carries its own.
    offset_s: the answer's offset from UTC. [s]
    """
    try:
        if isinstance(stamp, str):
            at = datetime.fromisoformat(stamp)
            at = at.astimezone(UTC) if at.tzinfo else at.replace(tzinfo=UTC) - timedelta(seconds=offset_s)
        elif isinstance(stamp, (int, float)) and not isinstance(stamp, bool):
            at = datetime.fromtimestamp(stamp, UTC)
        else:
            return None
    except (ValueError, OverflowError, OSError):
        return None
    return at if _EARLIEST <= at <= _LATEST else None


def read_timeline(document: Mapping[str, object], times: object, origin: str, notes: list[str]) -> Timeline:
    """
    The answer's hours.

    times: the `time` array of `hourly`.
    origin: what it is, as the subject of a sentence.
    notes: gets a sentence for each thing that was not as expected.

    The offset of an answer is one number for all of it, that of the day of the request, so subtracting it is exact on
    both sides of a change to or from summer time. In zones with a part of an hour the server labels with the whole
    offset but reads its data with the offset cut to full hours: the values belong to the full UTC hour.
    Source: Open-Meteo server, ApiQueryParameter (hourlyDisplay, hourlyRead).

    Raises SourceRefused when there is no usable time.
    """
    if not isinstance(times, list) or not times:
        raise SourceRefused(f"{origin} has no times", transient=False)
    offset_s = utc_offset_s(document)
    if offset_s is None:
        offset_s = 0
        if any(isinstance(stamp, str) for stamp in times):
            notes.append("The answer does not say its offset from UTC: its times were taken as UTC.")
    part_s = offset_s - int(offset_s / _HOUR_S) * _HOUR_S
    instants = [instant(stamp, offset_s) for stamp in times]
    seconds = np.array([np.nan if at is None else at.timestamp() for at in instants])
    if part_s:
        # Only labels that the part of an hour has moved off the full hour; others are true already.
        seconds = np.where(seconds % _HOUR_S == 0, seconds, seconds + part_s)
        notes.append(f"Times were shifted by {part_s // 60} min to the UTC hours that the values belong to.")
    unreadable = int(np.isnan(seconds).sum())
    if unreadable:
        notes.append(f"{unreadable} of {len(times)} times cannot be read; their values were left out.")
    return _timeline(seconds, origin, notes)


def _timeline(seconds: NDArray[np.float64], origin: str, notes: list[str]) -> Timeline:
    order = np.argsort(seconds, kind="stable")[: int((~np.isnan(seconds)).sum())]
    ordered = seconds[order]
    first_of_equals = np.ones(len(ordered), dtype=bool)
    first_of_equals[1:] = np.diff(ordered) > 0
    if not first_of_equals.all():
        notes.append(f"{int((~first_of_equals).sum())} times occur twice; the first value of each was kept.")
    rows, ordered = order[first_of_equals], ordered[first_of_equals]

    gaps = np.diff(ordered)
    hourly = np.zeros(len(ordered), dtype=bool)
    hourly[1:] |= gaps == _HOUR_S
    hourly[:-1] |= gaps == _HOUR_S
    full = ordered % _HOUR_S == 0
    if not full.any():
        raise SourceRefused(f"{origin} has no value at a full hour UTC", transient=False)
    if not full.all():
        notes.append(f"{int((~full).sum())} values lie between full hours and were left out.")
    rows, ordered, hourly = rows[full], ordered[full], hourly[full]
    if not hourly.all() and len(ordered) > 1:
        notes.append(
            f"{int((~hourly).sum())} of {len(ordered)} steps are not one hour long: their sums and means "
            "(radiation, rain, snowfall, gust) were left out."
        )
    places = ((ordered - ordered[0]) / _HOUR_S).astype(np.intp)
    hours = int(places[-1]) + 1
    if hours > _LONGEST_HOURS:
        raise SourceRefused(f"{origin} spans {hours / 8766:.0f} years, so its times are broken", transient=False)
    if hours > len(ordered):
        notes.append(f"{hours - len(ordered)} hours between the first and the last are missing.")
    start = pd.Timestamp(int(ordered[0]), unit="s", tz="UTC").as_unit("us")
    index = pd.date_range(start, periods=hours, freq="h", unit="us")
    # A lone hour has no neighbour to judge by; hourly is what the interface documents.
    return Timeline(index, rows, places, hourly | (len(ordered) == 1), len(seconds))
