"""Hours of the past as bytes and back: one UTC day of every variable, in few hundred bytes."""

import zlib
from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from carewatch.forecast.record import WHOLE_DAY, PastDay

# The first byte says in which order the columns stand: a column that is added makes form 2, and form 1 stays readable.
_COLUMNS: Mapping[int, tuple[str, ...]] = {
    1: (
        "air_temp_c",
        "dew_point_c",
        "wind_10m_ms",
        "gust_10m_ms",
        "global_wm2",
        "direct_normal_wm2",
        "diffuse_wm2",
        "cloud",
        "rain_mm",
        "snowfall_cm",
        "snow_depth_m",
        "pressure_kpa",
        "soil_temp_c",
        "relative_humidity",
    )
}
_FORM = 1
# A half float is exact to a thousandth of what it holds: 0.01 K at 20 °C, 0.5 W m⁻² at 1000: finer than any source.
# Pressure and humidity, near 100 in size, keep 0.06.
_KEPT_AS = np.dtype("<f2")
_HOUR = pd.Timedelta(hours=1)


def past_days(
    single: pd.DataFrame, origin: str, first: date, until: datetime, stored: Iterable[PastDay] = ()
) -> tuple[PastDay, ...]:
    """
    The days of an answer that differ from what is stored of this origin, oldest first.

    single: hours of an answer, as RawForecast has them. first: first UTC day wanted. until: last stamp taken, aware.
    stored: what is there; an hour that the answer does not know keeps its stored value.
    """
    if single.empty:
        return ()
    known = {day.day: day for day in stored if day.origin == origin}
    last = min(pd.Timestamp(until).tz_convert("UTC"), single.index[-1])
    begins = max(pd.Timestamp(first, tz="UTC"), single.index[0].floor("D"))
    if begins > last:
        return ()
    index = pd.date_range(begins, last.floor("D") + 23 * _HOUR, freq="h")
    table = single.loc[:last].reindex(index=index, columns=list(_COLUMNS[_FORM])).to_numpy(np.float64)
    changed = []
    for number, hours in enumerate(table.reshape(-1, WHOLE_DAY, len(_COLUMNS[_FORM]))):
        day = begins.date() + timedelta(days=number)
        before = known.get(day)
        merged = hours if before is None else np.where(np.isfinite(hours), hours, unpacked(before.content))
        packed = _packed(day, origin, merged)
        if before is None or packed.content != before.content:
            changed.append(packed)
    return tuple(changed)


def days_asked_for(single: pd.DataFrame, origin: str, first: date, last: date) -> tuple[PastDay, ...]:
    """One day for each that was asked for, those that the answer does not hold without any hour."""
    until = datetime.combine(last, datetime.min.time()) + timedelta(hours=23)
    found = {day.day: day for day in past_days(single, origin, first, pd.Timestamp(until, tz="UTC").to_pydatetime())}
    unknown = np.full((WHOLE_DAY, len(_COLUMNS[_FORM])), np.nan)
    days = (first + timedelta(days=number) for number in range((last - first).days + 1))
    return tuple(found.get(day) or _packed(day, origin, unknown) for day in days)


def unpacked(content: bytes) -> NDArray[np.float64]:
    """
    The hours of a packed day, shape (24, column), NaN where unknown; columns in the order of `columns()`.

    Raises ValueError when the bytes are no packed day of a known form.
    """
    names = _COLUMNS.get(content[0] if content else 0)
    if names is None:
        raise ValueError(f"a packed day of an unknown form ({content[:1]!r})")
    try:
        values = np.frombuffer(zlib.decompress(content[1:]), dtype=_KEPT_AS)
    except zlib.error as error:
        raise ValueError(f"a packed day cannot be unpacked: {error}") from None
    return values.reshape(WHOLE_DAY, len(names)).astype(np.float64)


def columns() -> tuple[str, ...]:
    """Names of the columns of an unpacked day: every variable of forecast.raw."""
    return _COLUMNS[_FORM]


def _packed(day: date, origin: str, hours: NDArray[np.float64]) -> PastDay:
    air = hours[:, 0][np.isfinite(hours[:, 0])]
    content = bytes([_FORM]) + zlib.compress(hours.astype(_KEPT_AS).tobytes(), level=9)
    return PastDay(day, origin, air.size, round(float(air.mean()), 3) if air.size else None, content)
