"""The care log in the database: entries are added, struck and superseded, never erased."""

import json
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, tzinfo
from hashlib import sha256
from sqlite3 import Row

from carewatch.care.log import NOTES, OBSERVATIONS, WORKS, Entry
from carewatch.sqlite.database import Snapshot, Transaction
from carewatch.sqlite.refused import StoreRefused
from carewatch.sqlite.text_time import optional_time, time_of, time_text, whole_second

EARLIEST_YEAR = 1950


@dataclass(frozen=True)
class StoredEntry:
    """
    One entry with its history.

    number: by which it is named, given once. identity: as by `entry_identity`. day: at the site.
    entry: its origin says "entry 12 of the database".
    recorded_at, struck_at: UTC; struck_at None while it holds. superseded_by: number of the entry that corrects it.
    """

    number: int
    identity: str
    day: date
    entry: Entry
    recorded_at: datetime
    struck_at: datetime | None
    superseded_by: int | None


def entry_identity(entry: Entry, zone: tzinfo) -> str:
    """
    What makes an entry the same as another: 64 hex digits over tree, work, day at the site and branch.

    A work is done to a tree, or to one branch of it, once a day. What recurs within a day (moves, waterings, what is
    seen, measures that begin and end) is the same only at the same second, with the same place, observation or measure.

    zone: of the site.
    """
    return day_identity(entry, entry.at.astimezone(zone).date())


def day_identity(entry: Entry, day: date) -> str:
    """The identity as by `entry_identity`, where the day at the site is known already."""
    parts: list[str | None] = [entry.tree, entry.work, day.isoformat()]
    if entry.work in NOTES:
        parts += [time_text(entry.at), entry.to, entry.seen, entry.measure]
    elif entry.branch is not None:
        parts.append(entry.branch)
    return sha256(json.dumps(parts).encode()).hexdigest()


def add(transaction: Transaction, entry: Entry, zone: tzinfo, elsewhere: Iterable[Entry] = ()) -> StoredEntry:
    """
    The entry as it was stored.

    zone: of the site. elsewhere: entries that stand in files, which may not be doubled either.

    Raises StoreRefused for a double, a day in the future, and values that an entry cannot have.
    """
    tidy = replace(entry, at=whole_second(entry.at), note=entry.note or None)
    day = tidy.at.astimezone(zone).date()
    _refuse_impossible(tidy, day, transaction.now.astimezone(zone).date())
    identity = day_identity(tidy, day)
    for other in elsewhere:
        if entry_identity(other, zone) == identity:
            raise _double(tidy, day, other.origin)
    holder = transaction.execute(
        "SELECT number FROM entry WHERE identity = ? AND struck_at IS NULL", (identity,)
    ).fetchone()
    if holder is not None:
        raise _double(tidy, day, _origin(holder["number"]))
    number = insert(transaction, tidy, day, transaction.now, None)
    return stored(transaction, number)


def strike(transaction: Transaction, number: int) -> StoredEntry:
    """
    The entry after it was struck: it no longer holds, and stays to be seen.

    Raises StoreRefused when there is no such entry or it was struck before.
    """
    before = stored(transaction, number)
    _refuse_struck(before)
    transaction.execute("UPDATE entry SET struck_at = ? WHERE number = ?", (time_text(transaction.now), number))
    return stored(transaction, number)


def amend(
    transaction: Transaction, number: int, entry: Entry, zone: tzinfo, elsewhere: Iterable[Entry] = ()
) -> StoredEntry:
    """
    The entry that takes the place of entry `number`, which is struck and points to it; the old one if nothing differs.

    zone, elsewhere: as for `add`.

    Raises StoreRefused as `add` and `strike` do; the old entry then holds on.
    """
    before = stored(transaction, number)
    _refuse_struck(before)
    if replace(entry, at=whole_second(entry.at), note=entry.note or None, origin=before.entry.origin) == before.entry:
        return before
    # Struck first: the new one may well have the same identity. The transaction undoes it if the new one is refused.
    transaction.execute("SAVEPOINT amend")
    try:
        strike(transaction, number)
        after = add(transaction, entry, zone, elsewhere)
        transaction.execute("UPDATE entry SET superseded_by = ? WHERE number = ?", (after.number, number))
    except BaseException:
        transaction.execute("ROLLBACK TO amend")
        raise
    finally:
        transaction.execute("RELEASE amend")
    return after


def entries(snapshot: Snapshot, as_of: datetime | None = None) -> tuple[Entry, ...]:
    """
    The entries that hold, oldest first.

    as_of: aware; those that held then, as they were known then. None: those that hold in the database, whatever the
    clock says, since it may have been wrong when they were written.
    """
    if as_of is None:
        rows = snapshot.execute("SELECT * FROM entry WHERE struck_at IS NULL ORDER BY at, number")
    else:
        rows = snapshot.execute(
            "SELECT * FROM entry WHERE recorded_at <= :then AND (struck_at IS NULL OR struck_at > :then) "
            "ORDER BY at, number",
            {"then": time_text(as_of)},
        )
    return tuple(_from_row(row).entry for row in rows)


def history(snapshot: Snapshot) -> tuple[StoredEntry, ...]:
    """Every entry that was ever stored, struck ones too, in the order of their numbers."""
    return tuple(_from_row(row) for row in snapshot.execute("SELECT * FROM entry ORDER BY number"))


def stored(snapshot: Snapshot, number: int) -> StoredEntry:
    """
    The entry with this number, struck or not.

    Raises StoreRefused when there is none.
    """
    row = snapshot.execute("SELECT * FROM entry WHERE number = ?", (number,)).fetchone()
    if row is None:
        raise StoreRefused(f"the care log has no entry {number}")
    return _from_row(row)


def log_version(snapshot: Snapshot) -> int:
    """A count that grows with every entry, struck entry, reading and answer: what an assessment stood on."""
    return snapshot.number("SELECT version FROM log_version")


def insert(transaction: Transaction, entry: Entry, day: date, recorded_at: datetime, struck_at: datetime | None) -> int:
    """The number of an entry that is stored as it is, with its history: for `add`, and for what is read back."""
    row = transaction.execute(
        "INSERT INTO entry (identity, tree, work, at, day, roots, roots_worked, removed, tied, paste, branch, "
        "gauge_mm, due, other_tree, to_place, seen, measure, note, recorded_at, struck_at) VALUES (:identity, :tree, "
        ":work, :at, :day, :roots, :roots_worked, :removed, :tied, :paste, :branch, :gauge_mm, :due, :other_tree, "
        ":to_place, :seen, :measure, :note, :recorded_at, :struck_at) RETURNING number",
        {
            "identity": day_identity(entry, day),
            "tree": entry.tree,
            "work": entry.work,
            "at": time_text(entry.at),
            "day": day.isoformat(),
            "roots": entry.roots,
            "roots_worked": int(entry.roots_worked),
            "removed": None if entry.removed is None else float(entry.removed),
            "tied": int(entry.tied),
            "paste": int(entry.paste),
            "branch": entry.branch,
            "gauge_mm": None if entry.gauge_mm is None else float(entry.gauge_mm),
            "due": None if entry.due is None else entry.due.isoformat(),
            "other_tree": entry.other_tree,
            "to_place": entry.to,
            "seen": entry.seen,
            "measure": entry.measure,
            "note": entry.note,
            "recorded_at": time_text(recorded_at),
            "struck_at": None if struck_at is None else time_text(struck_at),
        },
    ).fetchall()[0]
    return int(row["number"])


def is_storable(text: str) -> bool:
    """False for text with halves of signs, as a shell hands over what is not UTF-8."""
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return True


def _refuse_impossible(entry: Entry, day: date, today: date) -> None:
    if entry.work not in (*WORKS, *NOTES):
        raise StoreRefused(f"{entry.work!r} is no work of the care log; it knows {', '.join((*WORKS, *NOTES))}")
    if entry.seen is not None and entry.seen not in OBSERVATIONS:
        raise StoreRefused(f"{entry.seen!r} is no observation; the care log knows {', '.join(OBSERVATIONS)}")
    for name, text in (("note", entry.note), ("branch", entry.branch)):
        if not is_storable(text or ""):
            raise StoreRefused(f"the {name} holds signs that are no text")
    # The day, not the hour: today's work may be written down before the noon that a bare date means.
    if day > today:
        raise StoreRefused(f"{entry.work} of {entry.tree} on {day} lies in the future (today is {today})")
    if day.year < EARLIEST_YEAR:
        raise StoreRefused(f"{entry.work} of {entry.tree} on {day} lies before {EARLIEST_YEAR}")


def _refuse_struck(found: StoredEntry) -> None:
    if found.struck_at is not None:
        further = f" and superseded by entry {found.superseded_by}" if found.superseded_by is not None else ""
        raise StoreRefused(f"entry {found.number} was struck on {found.struck_at:%Y-%m-%d}{further}")


def _double(entry: Entry, day: date, origin: str) -> StoreRefused:
    hint = " Give the time of day if it was done twice." if entry.work in NOTES else ""
    if entry.work in ("wire", "bend", "set-layer"):
        hint = " Name the branch of each if it was done to several (--branch)."
    number = re.fullmatch(r"entry (\d+) of the database", origin)
    remedy = f" To correct it: `carewatch log {entry.tree} amend {number[1]}`." if number else " Correct it there."
    return StoreRefused(f"{entry.work} of {entry.tree} on {day} is in the care log already ({origin}).{hint}{remedy}")


def _origin(number: int) -> str:
    return f"entry {number} of the database"


def _from_row(row: Row) -> StoredEntry:
    entry = Entry(
        tree=row["tree"],
        work=row["work"],
        at=time_of(row["at"]),
        roots=row["roots"],
        roots_worked=bool(row["roots_worked"]),
        removed=row["removed"],
        tied=bool(row["tied"]),
        paste=bool(row["paste"]),
        branch=row["branch"],
        gauge_mm=row["gauge_mm"],
        due=None if row["due"] is None else date.fromisoformat(row["due"]),
        other_tree=row["other_tree"],
        to=row["to_place"],
        seen=row["seen"],
        measure=row["measure"],
        note=row["note"],
        origin=_origin(row["number"]),
    )
    return StoredEntry(
        number=row["number"],
        identity=row["identity"],
        day=date.fromisoformat(row["day"]),
        entry=entry,
        recorded_at=time_of(row["recorded_at"]),
        struck_at=optional_time(row["struck_at"]),
        superseded_by=row["superseded_by"],
    )
