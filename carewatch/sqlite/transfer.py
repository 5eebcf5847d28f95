"""
The care log, the readings and the past weather as plain files, to be kept, compared, and read back.

Lines stand in the order in which things were recorded, what was struck or corrected too: what comes back into an empty
database is exported again byte for byte, under the same numbers.
"""

import sqlite3
from collections.abc import Iterable, Mapping
from contextlib import ExitStack
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta, tzinfo
from pathlib import Path

from carewatch.care.log import Entry
from carewatch.sqlite.care_log import StoredEntry, day_identity, entry_identity, history, insert
from carewatch.sqlite.database import Database, Snapshot, Transaction
from carewatch.sqlite.files import PRIVATE_FOLDER, draft_beside
from carewatch.sqlite.readings import Reading, StoredReading, insert_reading, reading_history
from carewatch.sqlite.refused import StoreRefused
from carewatch.sqlite.text_time import optional_text, time_of, time_text
from carewatch.sqlite.transfer_lines import ENTRY_FIELDS, READING_FIELDS, Line, document, lines_of
from carewatch.sqlite.transfer_weather import WEATHER_FILE, import_weather, read_weather, weather_lines

CARE_LOG_FILE = "care-log.jsonl"
READINGS_FILE = "readings.jsonl"
_PROBLEMS_SHOWN = 20


@dataclass(frozen=True)
class Imported:
    """
    How many entries and readings were new, and how many stood in the database already, the very same.

    weather_days_new: days of past weather from one origin that were not known, or with fewer hours.
    """

    entries_new: int
    entries_known: int
    readings_new: int
    readings_known: int
    weather_days_new: int = 0


@dataclass(frozen=True)
class _Read:
    """A line of the care log. line: for messages; number, superseded_by: of the file."""

    line: int
    number: int
    entry: Entry
    day: date
    recorded_at: datetime
    struck_at: datetime | None
    superseded_by: int | None


@dataclass(frozen=True)
class _ReadReading:
    """A line of the readings, likewise; lines without a number have one below zero."""

    line: int
    number: int
    reading: Reading
    recorded_at: datetime
    struck_at: datetime | None
    superseded_by: int | None


def export_directory(database: Database, directory: Path, now: datetime) -> tuple[Path, ...]:
    """
    The files of the care log, the readings and the past weather, written into `directory` in place of older ones.

    directory: made, private, if it is missing. now: aware.

    Raises StoreRefused when they cannot be written.
    """
    directory = directory.expanduser().resolve()
    try:
        directory.mkdir(mode=PRIVATE_FOLDER, parents=True, exist_ok=True)
    except OSError as error:
        raise StoreRefused(f"the folder {directory} cannot be made: {(error.strerror or str(error)).lower()}") from None
    with database.snapshot(now) as snapshot:
        contents = {
            CARE_LOG_FILE: care_log_lines(snapshot),
            READINGS_FILE: reading_lines(snapshot),
            WEATHER_FILE: weather_lines(snapshot),
        }
    with ExitStack() as drafts:
        for name, content in contents.items():
            drafts.enter_context(draft_beside(directory / name)).write_bytes(content)
    return tuple(directory / name for name in contents)


def import_directory(
    database: Database, directory: Path, now: datetime, zone: tzinfo, elsewhere: Iterable[Entry] = ()
) -> Imported:
    """
    What was read back from the files of `export_directory`: all of it, or nothing when anything is refused.

    now: aware. zone: of the site. elsewhere: entries of configuration files, which may not be doubled.

    Raises StoreRefused with every problem: file, line, what was found and what is accepted.
    """
    directory = directory.expanduser().resolve()
    problems: list[str] = []
    log = lines_of(directory / CARE_LOG_FILE, "care-log", ENTRY_FIELDS, problems)
    taken = lines_of(directory / READINGS_FILE, "readings", READING_FIELDS, problems)
    weather = read_weather(directory, problems)
    entries = [entry for line in log if (entry := _entry(line, now, problems)) is not None]
    thermometer = [reading for line in taken if (reading := _reading(line, now, problems)) is not None]
    _refuse(problems)
    with database.transaction(now) as transaction:
        elsewhere_by = {entry_identity(entry, zone): entry.origin for entry in elsewhere}
        entries_new = _import_entries(transaction, entries, elsewhere_by, problems)
        readings_new = _import_readings(transaction, thermometer, problems)
        days_new = import_weather(transaction, weather, problems)
        _refuse(problems)
    return Imported(entries_new, len(entries) - entries_new, readings_new, len(thermometer) - readings_new, days_new)


def care_log_lines(snapshot: Snapshot) -> bytes:
    """The content of the file of the care log, struck entries too."""
    return document("care-log", (_entry_fields(found) for found in history(snapshot)))


def reading_lines(snapshot: Snapshot) -> bytes:
    """The content of the file of the readings, struck ones too."""
    return document("readings", (_reading_fields(found) for found in reading_history(snapshot)))


def _entry_fields(found: StoredEntry) -> dict[str, object]:
    entry = found.entry
    fields: dict[str, object] = {
        "number": found.number,
        "tree": entry.tree,
        "work": entry.work,
        "at": time_text(entry.at),
        "day": found.day.isoformat(),
        "roots": entry.roots,
        "roots_worked": entry.roots_worked or None,
        "removed": entry.removed,
        "tied": entry.tied or None,
        "paste": entry.paste or None,
        "branch": entry.branch,
        "gauge_mm": entry.gauge_mm,
        "due": None if entry.due is None else entry.due.isoformat(),
        "other_tree": entry.other_tree,
        "to": entry.to,
        "seen": entry.seen,
        "measure": entry.measure,
        "note": entry.note,
        "recorded_at": time_text(found.recorded_at),
        "struck_at": optional_text(found.struck_at),
        "superseded_by": found.superseded_by,
    }
    return {name: value for name, value in fields.items() if value is not None}


def _reading_fields(found: StoredReading) -> dict[str, object]:
    fields: dict[str, object] = {
        "number": found.number,
        "place": found.reading.place,
        "at": time_text(found.reading.at),
        "value_c": found.reading.value_c,
        "recorded_at": time_text(found.recorded_at),
        "struck_at": optional_text(found.struck_at),
        "superseded_by": found.superseded_by,
    }
    return {name: value for name, value in fields.items() if value is not None}


def _entry(line: Line, now: datetime, problems: list[str]) -> _Read | None:
    number, content = line
    where = f"{CARE_LOG_FILE} line {number}"
    own = ("number", "at", "day", "recorded_at", "struck_at", "superseded_by")
    options = {name: value for name, value in content.items() if name not in own}
    # By way of text: a whole number beyond all bounds becomes one that the database refuses.
    options |= {name: float(str(options[name])) for name in ("removed", "gauge_mm") if name in options}
    if "due" in options:
        options["due"] = date.fromisoformat(str(options["due"]))
    at, day = time_of(str(content["at"])), date.fromisoformat(str(content["day"]))
    # Zones lie between 14 hours before and 12 hours after UTC.
    since_midnight = at.replace(tzinfo=None) - datetime.combine(day, time())
    if not timedelta(hours=-14) <= since_midnight < timedelta(hours=36):
        problems.append(f"{where}: day {day} is not the day of {content['at']} in any time zone")
        return None
    if at > now + timedelta(days=1):
        problems.append(f"{where}: {content['at']} lies in the future")
        return None
    return _Read(
        line=number,
        number=int(str(content["number"])),
        entry=Entry(at=at, **options),  # type: ignore[arg-type]  # the table of fields holds their types
        day=day,
        recorded_at=time_of(str(content["recorded_at"])),
        struck_at=_struck(content),
        superseded_by=_superseded(content),
    )


def _struck(content: Mapping[str, object]) -> datetime | None:
    return time_of(str(content["struck_at"])) if "struck_at" in content else None


def _superseded(content: Mapping[str, object]) -> int | None:
    return int(str(content["superseded_by"])) if "superseded_by" in content else None


def _reading(line: Line, now: datetime, problems: list[str]) -> _ReadReading | None:
    number, content = line
    at = time_of(str(content["at"]))
    if at > now:
        problems.append(f"{READINGS_FILE} line {number}: {content['at']} lies in the future")
        return None
    return _ReadReading(
        line=number,
        number=int(str(content.get("number", -number))),
        reading=Reading(str(content["place"]), at, float(str(content["value_c"]))),
        recorded_at=time_of(str(content["recorded_at"])),
        struck_at=_struck(content),
        superseded_by=_superseded(content),
    )


def _import_entries(
    transaction: Transaction, reads: list[_Read], elsewhere: Mapping[str, str], problems: list[str]
) -> int:
    """How many entries were new."""
    standing: dict[object, list[StoredEntry]] = {}
    holding: dict[str, int] = {}
    for found in history(transaction):
        standing.setdefault(_content_of(found.entry, found.day, found.recorded_at), []).append(found)
        if found.struck_at is None:
            holding[found.identity] = found.number
    numbers: dict[int, int] = {}
    new: list[_Read] = []
    for read in reads:
        where = f"{CARE_LOG_FILE} line {read.line}"
        if read.number in numbers:
            problems.append(f"{where}: number {read.number} stands there twice")
            continue
        same = standing.get(_content_of(read.entry, read.day, read.recorded_at), [])
        known = next((found for found in same if found.struck_at == read.struck_at), None)
        if known is not None:
            same.remove(known)
            numbers[read.number] = known.number
            continue
        fault = _conflict(read, same, holding, elsewhere)
        if fault:
            problems.append(f"{where}: {fault}")
            continue
        try:
            numbers[read.number] = insert(transaction, read.entry, read.day, read.recorded_at, read.struck_at)
        except sqlite3.IntegrityError as error:
            problems.append(f"{where}: not accepted ({error})")
            continue
        new.append(read)
        if read.struck_at is None:
            holding[day_identity(read.entry, read.day)] = numbers[read.number]
    _link(transaction, "entry", CARE_LOG_FILE, new, numbers, problems)
    return len(new)


def _content_of(entry: Entry, day: date, recorded_at: datetime) -> object:
    return replace(entry, origin=""), day, recorded_at


def _conflict(read: _Read, same: list[StoredEntry], holding: Mapping[str, int], elsewhere: Mapping[str, str]) -> str:
    """Why an entry cannot be added to what stands, or ""."""
    if same:
        return f"the same as entry {same[0].number} of the database, but struck in only one of them, or at another time"
    identity = day_identity(read.entry, read.day)
    if read.struck_at is None and identity in holding:
        return (
            f"{read.entry.work} of {read.entry.tree} on {read.day} is entry {holding[identity]} of the database already"
        )
    if read.struck_at is None and identity in elsewhere:
        return f"{read.entry.work} of {read.entry.tree} on {read.day} stands in {elsewhere[identity]} already"
    return ""


def _link(
    transaction: Transaction,
    table: str,
    file: str,
    new: Iterable[_Read | _ReadReading],
    numbers: Mapping[int, int],
    problems: list[str],
) -> None:
    """Let struck lines point to those that supersede them, under the numbers that they have here."""
    for read in new:
        if read.superseded_by is None:
            continue
        where = f"{file} line {read.line}"
        if read.superseded_by not in numbers:
            problems.append(f"{where}: superseded_by is {read.superseded_by}, and no line has this number")
        elif read.struck_at is None:
            problems.append(f"{where}: superseded_by needs struck_at")
        elif numbers[read.superseded_by] == numbers[read.number]:
            problems.append(f"{where}: superseded_by is its own number")
        else:
            transaction.execute(
                f"UPDATE {table} SET superseded_by = ? WHERE number = ?",  # noqa: S608  one of two names, both ours
                (numbers[read.superseded_by], numbers[read.number]),
            )


def _import_readings(transaction: Transaction, reads: list[_ReadReading], problems: list[str]) -> int:
    """How many readings were new."""
    holding: dict[tuple[str, datetime], StoredReading] = {}
    past: dict[object, int] = {}
    for found in reading_history(transaction):
        if found.struck_at is None:
            holding[found.reading.place, found.reading.at] = found
        else:
            past[found.reading, found.recorded_at, found.struck_at] = found.number
    numbers: dict[int, int] = {}
    new: list[_ReadReading] = []
    for read in reads:
        where = f"{READINGS_FILE} line {read.line}"
        if read.number in numbers:
            problems.append(f"{where}: number {read.number} stands there twice")
            continue
        held = holding.get((read.reading.place, read.reading.at))
        if read.struck_at is not None:
            known = past.get((read.reading, read.recorded_at, read.struck_at))
        else:
            known = held.number if held is not None and held.reading.value_c == read.reading.value_c else None
        if known is not None:
            numbers[read.number] = known
            continue
        fault = _reading_conflict(read, held, past)
        if fault:
            problems.append(f"{where}: {fault}")
            continue
        try:
            number = insert_reading(transaction, read.reading, read.recorded_at, read.struck_at)
        except sqlite3.IntegrityError as error:
            problems.append(f"{where}: not accepted ({error})")
            continue
        numbers[read.number] = number
        new.append(read)
        if read.struck_at is None:
            key = read.reading.place, read.reading.at
            holding[key] = StoredReading(number, read.reading, read.recorded_at, None, None)
    _link(transaction, "reading", READINGS_FILE, new, numbers, problems)
    return len(new)


def _reading_conflict(read: _ReadReading, held: StoredReading | None, past: Mapping[object, int]) -> str:
    """Why a reading cannot be added to what stands, or ""."""
    place, at = read.reading.place, time_text(read.reading.at)
    if read.struck_at is None and held is not None:
        return f"{place} has a reading of {held.reading.value_c:g} °C at {at} already (reading {held.number})"
    same_held = held is not None and (held.reading, held.recorded_at) == (read.reading, read.recorded_at)
    if same_held or any(key[:2] == (read.reading, read.recorded_at) for key in past if isinstance(key, tuple)):
        return f"the reading of {place} at {at} was struck in only one of them, or at another time"
    return ""


def _refuse(problems: list[str]) -> None:
    if problems:
        shown = problems[:_PROBLEMS_SHOWN]
        more = [f"and {len(problems) - len(shown)} more"] if len(problems) > len(shown) else []
        raise StoreRefused("\n".join([*shown, *more]))
