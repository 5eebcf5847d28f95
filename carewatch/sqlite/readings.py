"""Thermometer readings by the grower, place by place: added, struck and superseded, never erased."""

from dataclasses import dataclass
from datetime import datetime
from sqlite3 import Row

from carewatch.sqlite.database import Snapshot, Transaction
from carewatch.sqlite.refused import StoreRefused
from carewatch.sqlite.text_time import optional_text, optional_time, time_of, time_text, whole_second


@dataclass(frozen=True)
class Reading:
    """Air temperature that a thermometer showed. place: id; at: aware, whole seconds; value_c: [°C]"""

    place: str
    at: datetime
    value_c: float


@dataclass(frozen=True)
class StoredReading:
    """
    One reading with its history.

    number: by which it is named, given once. recorded_at, struck_at: UTC; struck_at None while it holds.
    superseded_by: number of the reading that corrects it.
    """

    number: int
    reading: Reading
    recorded_at: datetime
    struck_at: datetime | None
    superseded_by: int | None


def add_reading(transaction: Transaction, reading: Reading) -> bool:
    """
    True when the reading was stored, False when the very same one stands already.

    Raises StoreRefused for a time in the future, a second value at the same time, and values that air cannot have.
    """
    _refuse_future(transaction, reading)
    standing = _standing(transaction, reading)
    if standing is None:
        insert_reading(transaction, reading, transaction.now, None)
    return standing is None


def strike_reading(transaction: Transaction, number: int) -> StoredReading:
    """
    The reading after it was struck: it no longer holds, and stays to be seen.

    Raises StoreRefused when there is no such reading or it was struck before.
    """
    found = stored_reading(transaction, number)
    _refuse_struck(found)
    transaction.execute("UPDATE reading SET struck_at = ? WHERE number = ?", (time_text(transaction.now), number))
    return stored_reading(transaction, number)


def amend_reading(transaction: Transaction, number: int, reading: Reading) -> StoredReading:
    """
    The reading that takes the place of reading `number`, which is struck and points to it; the old one if none differs.

    Raises StoreRefused as `add_reading` and `strike_reading` do; the old reading then holds on.
    """
    before = stored_reading(transaction, number)
    _refuse_struck(before)
    _refuse_future(transaction, reading)
    if (reading.place, whole_second(reading.at), reading.value_c) == (
        before.reading.place,
        before.reading.at,
        before.reading.value_c,
    ):
        return before
    # Struck first: the new one may well have the same time. The transaction undoes it if the new one is refused.
    transaction.execute("SAVEPOINT amend_reading")
    try:
        strike_reading(transaction, number)
        _refuse_double(transaction, reading)
        after = insert_reading(transaction, reading, transaction.now, None)
        transaction.execute("UPDATE reading SET superseded_by = ? WHERE number = ?", (after, number))
    except BaseException:
        transaction.execute("ROLLBACK TO amend_reading")
        raise
    finally:
        transaction.execute("RELEASE amend_reading")
    return stored_reading(transaction, after)


def insert_reading(
    transaction: Transaction, reading: Reading, recorded_at: datetime, struck_at: datetime | None
) -> int:
    """The number of a reading that is stored as it is, with its history: for `add_reading`, and what is read back."""
    row = transaction.execute(
        "INSERT INTO reading (place, at, value_c, recorded_at, struck_at) VALUES (?, ?, ?, ?, ?) RETURNING number",
        (
            reading.place,
            time_text(reading.at),
            float(reading.value_c),
            time_text(recorded_at),
            optional_text(struck_at),
        ),
    ).fetchall()[0]
    return int(row["number"])


def readings(
    snapshot: Snapshot, since: datetime | None = None, place: str | None = None, as_of: datetime | None = None
) -> tuple[Reading, ...]:
    """
    Readings that hold, oldest first.

    since: only those at this time or later. place: only those of this place. as_of: those that held then, as they were
    known then. Aware.
    """
    rows = snapshot.execute(
        "SELECT * FROM reading WHERE at >= :since AND (:place IS NULL OR place = :place) "
        "AND (CASE WHEN :as_of IS NULL THEN struck_at IS NULL "
        "ELSE recorded_at <= :as_of AND (struck_at IS NULL OR struck_at > :as_of) END) ORDER BY at, place",
        {
            "since": "" if since is None else time_text(since),
            "place": place,
            "as_of": optional_text(as_of),
        },
    )
    return tuple(_from_row(row).reading for row in rows)


def reading_history(snapshot: Snapshot) -> tuple[StoredReading, ...]:
    """Every reading that was ever stored, struck ones too, in the order of their numbers."""
    return tuple(_from_row(row) for row in snapshot.execute("SELECT * FROM reading ORDER BY number"))


def stored_reading(snapshot: Snapshot, number: int) -> StoredReading:
    """
    The reading with this number, struck or not.

    Raises StoreRefused when there is none.
    """
    row = snapshot.execute("SELECT * FROM reading WHERE number = ?", (number,)).fetchone()
    if row is None:
        raise StoreRefused(f"there is no reading {number}")
    return _from_row(row)


def _standing(snapshot: Snapshot, reading: Reading) -> StoredReading | None:
    """The same reading where it stands already. Raises StoreRefused for another value at that time."""
    at = time_text(reading.at)
    row = snapshot.execute(
        "SELECT * FROM reading WHERE place = ? AND at = ? AND struck_at IS NULL", (reading.place, at)
    ).fetchone()
    if row is None:
        return None
    if row["value_c"] != reading.value_c:
        raise StoreRefused(
            f"{reading.place} has a reading of {row['value_c']:g} °C at {at} already (reading {row['number']}). Amend "
            "or strike that one if it is wrong"
        )
    return _from_row(row)


def _refuse_double(snapshot: Snapshot, reading: Reading) -> None:
    if _standing(snapshot, reading) is not None:
        raise StoreRefused(f"the same reading at {time_text(reading.at)} stands already; strike this one instead")


def _refuse_future(transaction: Transaction, reading: Reading) -> None:
    if whole_second(reading.at) > transaction.now:
        raise StoreRefused(f"a reading at {time_text(reading.at)} lies in the future")


def _refuse_struck(found: StoredReading) -> None:
    if found.struck_at is not None:
        further = f" and superseded by reading {found.superseded_by}" if found.superseded_by is not None else ""
        raise StoreRefused(f"reading {found.number} was struck on {found.struck_at:%Y-%m-%d}{further}")


def _from_row(row: Row) -> StoredReading:
    return StoredReading(
        number=row["number"],
        reading=Reading(row["place"], time_of(row["at"]), row["value_c"]),
        recorded_at=time_of(row["recorded_at"]),
        struck_at=optional_time(row["struck_at"]),
        superseded_by=row["superseded_by"],
    )
