"""Thermometer readings by the grower, place by place."""

from dataclasses import dataclass
from datetime import datetime

from carewatch.sqlite.database import Snapshot, Transaction
from carewatch.sqlite.refused import StoreRefused
from carewatch.sqlite.text_time import time_of, time_text, whole_second


@dataclass(frozen=True)
class Reading:
    """Air temperature that a thermometer showed. place: id; at: aware, whole seconds; value_c: [°C]"""

    place: str
    at: datetime
    value_c: float


def add_reading(transaction: Transaction, reading: Reading) -> bool:
    """
    True when the reading was stored, False when the very same one stands already.

    Raises StoreRefused for a time in the future, a second value at the same time, and values that air cannot have.
    """
    if whole_second(reading.at) > transaction.now:
        raise StoreRefused(f"a reading at {time_text(reading.at)} lies in the future")
    return insert_reading(transaction, reading, transaction.now)


def insert_reading(transaction: Transaction, reading: Reading, recorded_at: datetime) -> bool:
    """As `add_reading`, with the time at which it was first recorded, for what is read back."""
    at = time_text(reading.at)
    known = transaction.execute(
        "SELECT value_c FROM reading WHERE place = ? AND at = ?", (reading.place, at)
    ).fetchone()
    if known is not None:
        if known["value_c"] == reading.value_c:
            return False
        raise StoreRefused(f"{reading.place} has a reading of {known['value_c']:g} °C at {at} already")
    transaction.execute(
        "INSERT INTO reading (place, at, value_c, recorded_at) VALUES (?, ?, ?, ?)",
        (reading.place, at, float(reading.value_c), time_text(recorded_at)),
    )
    return True


def readings(
    snapshot: Snapshot, since: datetime | None = None, place: str | None = None, as_of: datetime | None = None
) -> tuple[Reading, ...]:
    """
    Readings, oldest first.

    since: only those at this time or later. place: only those of this place. as_of: only those recorded by then. Aware.
    """
    rows = snapshot.execute(
        "SELECT place, at, value_c FROM reading WHERE at >= :since AND (:place IS NULL OR place = :place) "
        "AND (:as_of IS NULL OR recorded_at <= :as_of) ORDER BY at, place",
        {
            "since": "" if since is None else time_text(since),
            "place": place,
            "as_of": None if as_of is None else time_text(as_of),
        },
    )
    return tuple(Reading(row["place"], time_of(row["at"]), row["value_c"]) for row in rows)
