"""
The care log and the readings as plain files, to be read by people, kept under version control, and read back.

One JSON document per line (RFC 8259), UTF-8, in the order in which things were recorded; the first line says what the
file is. What is absent is left out. The same content gives the same bytes.
"""

import json
import sqlite3
from collections.abc import Iterable, Mapping
from contextlib import ExitStack
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta, tzinfo
from pathlib import Path

from carewatch.care.log import NOTES, OBSERVATIONS, WORKS, Entry
from carewatch.sqlite.care_log import StoredEntry, day_identity, entry_identity, history, insert, is_storable
from carewatch.sqlite.database import Database, Snapshot, Transaction
from carewatch.sqlite.files import PRIVATE_FOLDER, draft_beside
from carewatch.sqlite.readings import Reading, insert_reading
from carewatch.sqlite.refused import StoreRefused
from carewatch.sqlite.text_time import time_of, time_text

CARE_LOG_FILE = "care-log.jsonl"
READINGS_FILE = "readings.jsonl"
_VERSION = 1
_PROBLEMS_SHOWN = 20
# Fields of a line of the care log: what JSON holds there, whether it must be there, and the words it may be.
_ENTRY_FIELDS: dict[str, tuple[tuple[type, ...], bool, tuple[str, ...]]] = {
    "number": ((int,), True, ()),
    "tree": ((str,), True, ()),
    "work": ((str,), True, (*WORKS, *NOTES)),
    "at": ((str,), True, ()),
    "day": ((str,), True, ()),
    "roots": ((str,), False, ("sparse", "fair", "dense")),
    "roots_worked": ((bool,), False, ()),
    "removed": ((int, float), False, ()),
    "tied": ((bool,), False, ()),
    "paste": ((bool,), False, ()),
    "to": ((str,), False, ()),
    "seen": ((str,), False, OBSERVATIONS),
    "measure": ((str,), False, ()),
    "note": ((str,), False, ()),
    "recorded_at": ((str,), True, ()),
    "struck_at": ((str,), False, ()),
    "superseded_by": ((int,), False, ()),
}
_READING_FIELDS: dict[str, tuple[tuple[type, ...], bool, tuple[str, ...]]] = {
    "place": ((str,), True, ()),
    "at": ((str,), True, ()),
    "value_c": ((int, float), True, ()),
    "recorded_at": ((str,), True, ()),
}
_TIMES = ("at", "recorded_at", "struck_at")
_NAMES = {str: "a text", bool: "true or false", int: "a whole number", float: "a number"}
_Line = tuple[int, dict[str, object]]


@dataclass(frozen=True)
class Imported:
    """How many entries and readings were new, and how many stood in the database already, the very same."""

    entries_new: int
    entries_known: int
    readings_new: int
    readings_known: int


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
    line: int
    reading: Reading
    recorded_at: datetime


def export_directory(database: Database, directory: Path, now: datetime) -> tuple[Path, Path]:
    """
    The files of the care log and of the readings, written into `directory` in place of older ones.

    directory: made, private, if it is missing. now: aware.

    Raises StoreRefused when they cannot be written.
    """
    directory = directory.expanduser().resolve()
    try:
        directory.mkdir(mode=PRIVATE_FOLDER, parents=True, exist_ok=True)
    except OSError as error:
        raise StoreRefused(f"the folder {directory} cannot be made: {(error.strerror or str(error)).lower()}") from None
    with database.snapshot(now) as snapshot:
        contents = {CARE_LOG_FILE: care_log_lines(snapshot), READINGS_FILE: reading_lines(snapshot)}
    with ExitStack() as drafts:
        for name, content in contents.items():
            drafts.enter_context(draft_beside(directory / name)).write_bytes(content)
    return directory / CARE_LOG_FILE, directory / READINGS_FILE


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
    log = _lines(directory / CARE_LOG_FILE, "care-log", _ENTRY_FIELDS, problems)
    taken = _lines(directory / READINGS_FILE, "readings", _READING_FIELDS, problems)
    entries = [entry for line in log if (entry := _entry(line, now, problems)) is not None]
    thermometer = [reading for line in taken if (reading := _reading(line, now, problems)) is not None]
    _refuse(problems)
    with database.transaction(now) as transaction:
        elsewhere_by = {entry_identity(entry, zone): entry.origin for entry in elsewhere}
        entries_new = _import_entries(transaction, entries, elsewhere_by, problems)
        readings_new = _import_readings(transaction, thermometer, problems)
        _refuse(problems)
    return Imported(entries_new, len(entries) - entries_new, readings_new, len(thermometer) - readings_new)


def care_log_lines(snapshot: Snapshot) -> bytes:
    """The content of the file of the care log, struck entries too."""
    return _document("care-log", (_entry_fields(found) for found in history(snapshot)))


def reading_lines(snapshot: Snapshot) -> bytes:
    """The content of the file of the readings."""
    rows = snapshot.execute("SELECT at, place, value_c, recorded_at FROM reading ORDER BY at, place")
    return _document("readings", ({name: row[name] for name in _READING_FIELDS} for row in rows))


def _document(kind: str, lines: Iterable[Mapping[str, object]]) -> bytes:
    head: dict[str, object] = {"carewatch": kind, "version": _VERSION}
    return "".join(json.dumps(line, ensure_ascii=False) + "\n" for line in (head, *lines)).encode()


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
        "to": entry.to,
        "seen": entry.seen,
        "measure": entry.measure,
        "note": entry.note,
        "recorded_at": time_text(found.recorded_at),
        "struck_at": None if found.struck_at is None else time_text(found.struck_at),
        "superseded_by": found.superseded_by,
    }
    return {name: value for name, value in fields.items() if value is not None}


def _lines(
    path: Path, kind: str, known: Mapping[str, tuple[tuple[type, ...], bool, tuple[str, ...]]], problems: list[str]
) -> list[_Line]:
    """The lines of a file with their numbers; those that cannot be used are added to the problems instead."""
    try:
        text = path.read_bytes().decode("utf-8")
    except UnicodeDecodeError as error:
        problems.append(f"{path} is no UTF-8 text (byte {error.start})")
        return []
    except OSError as error:
        problems.append(f"{path} cannot be read: {(error.strerror or str(error)).lower()}")
        return []
    found: list[_Line] = []
    # Only at line feeds: a note may hold other signs at which Python would split.
    for number, line in enumerate(text.removesuffix("\n").split("\n"), start=1):
        where = f"{path} line {number}"
        try:
            content = json.loads(line, parse_constant=_no_number)
        except ValueError:
            content = None
        if number == 1:
            if content != {"carewatch": kind, "version": _VERSION}:
                problems.append(
                    f'{where} must be {{"carewatch": "{kind}", "version": {_VERSION}}}: the file is another'
                )
                return []
        elif not isinstance(content, dict):
            problems.append(f"{where} is no JSON object")
        else:
            faults = [*_faults(content, known)]
            problems.extend(f"{where}: {fault}" for fault in faults)
            if not faults:
                found.append((number, content))
    return found


def _no_number(name: str) -> object:
    raise ValueError(f"{name} is not JSON")


def _faults(
    content: Mapping[str, object], known: Mapping[str, tuple[tuple[type, ...], bool, tuple[str, ...]]]
) -> Iterable[str]:
    for name in sorted(content.keys() - known.keys()):
        yield f"{name!r} is not a known key; accepted: {', '.join(known)}"
    for name, (kinds, needed, words) in known.items():
        value = content.get(name)
        if name not in content:
            if needed:
                yield f"{name} is missing"
        elif type(value) not in kinds:
            yield f"{name} is {_shown(value)}; accepted: {_NAMES[kinds[-1]]}"
        elif isinstance(value, str) and not is_storable(value):
            yield f"{name} holds signs that are no text"
        elif words and value not in words:
            yield f"{name} is {_shown(value)}; accepted: {', '.join(words)}"
        elif name in _TIMES and not _is_time(str(value)):
            yield f"{name} is {_shown(value)}; accepted: a UTC time such as 2026-11-05T11:00:00Z"
        elif name == "day" and not _is_day(str(value)):
            yield f"{name} is {_shown(value)}; accepted: a date such as 2026-11-05"


def _shown(value: object) -> str:
    return json.dumps(value, ensure_ascii=False)[:60]


def _is_time(text: str) -> bool:
    try:
        time_of(text)
    except ValueError:
        return False
    return True


def _is_day(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def _entry(line: _Line, now: datetime, problems: list[str]) -> _Read | None:
    number, content = line
    where = f"{CARE_LOG_FILE} line {number}"
    own = ("number", "at", "day", "recorded_at", "struck_at", "superseded_by")
    options = {name: value for name, value in content.items() if name not in own}
    at, day = time_of(str(content["at"])), date.fromisoformat(str(content["day"]))
    struck = content.get("struck_at")
    superseded = content.get("superseded_by")
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
        struck_at=None if struck is None else time_of(str(struck)),
        superseded_by=None if superseded is None else int(str(superseded)),
    )


def _reading(line: _Line, now: datetime, problems: list[str]) -> _ReadReading | None:
    number, content = line
    at = time_of(str(content["at"]))
    if at > now:
        problems.append(f"{READINGS_FILE} line {number}: {content['at']} lies in the future")
        return None
    reading = Reading(str(content["place"]), at, float(str(content["value_c"])))
    return _ReadReading(number, reading, time_of(str(content["recorded_at"])))


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
    _link(transaction, new, numbers, problems)
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


def _link(transaction: Transaction, new: list[_Read], numbers: Mapping[int, int], problems: list[str]) -> None:
    """Let struck entries point to those that supersede them, under the numbers that they have here."""
    for read in new:
        if read.superseded_by is None:
            continue
        where = f"{CARE_LOG_FILE} line {read.line}"
        if read.superseded_by not in numbers:
            problems.append(f"{where}: superseded_by is {read.superseded_by}, and no line has this number")
        elif read.struck_at is None:
            problems.append(f"{where}: superseded_by needs struck_at")
        else:
            transaction.execute(
                "UPDATE entry SET superseded_by = ? WHERE number = ?",
                (numbers[read.superseded_by], numbers[read.number]),
            )


def _import_readings(transaction: Transaction, reads: list[_ReadReading], problems: list[str]) -> int:
    """How many readings were new."""
    new = 0
    for read in reads:
        try:
            new += insert_reading(transaction, read.reading, read.recorded_at)
        except StoreRefused as refused:
            problems.append(f"{READINGS_FILE} line {read.line}: {refused.reason}")
        except sqlite3.IntegrityError as error:
            problems.append(f"{READINGS_FILE} line {read.line}: not accepted ({error})")
    return new


def _refuse(problems: list[str]) -> None:
    if problems:
        shown = problems[:_PROBLEMS_SHOWN]
        more = [f"and {len(problems) - len(shown)} more"] if len(problems) > len(shown) else []
        raise StoreRefused("\n".join([*shown, *more]))
