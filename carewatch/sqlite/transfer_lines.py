"""
Plain files of the log, line by line: how one is written, and what a line that is read back must hold.

One JSON document per line (RFC 8259), UTF-8; the first line says what the file is. What is absent is left out. The same
content gives the same bytes.
"""

import json
from collections.abc import Iterable, Mapping
from datetime import date
from pathlib import Path

from carewatch.care.log import NOTES, OBSERVATIONS, WORKS
from carewatch.sqlite.care_log import is_storable
from carewatch.sqlite.text_time import time_of

VERSION = 1
# What JSON holds in a field, whether it must be there, and the words it may be.
Fields = Mapping[str, tuple[tuple[type, ...], bool, tuple[str, ...]]]
# A line's number in its file, and its fields.
Line = tuple[int, dict[str, object]]
# Fields of a line of the care log.
ENTRY_FIELDS: Fields = {
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
    "branch": ((str,), False, ()),
    "gauge_mm": ((int, float), False, ()),
    "due": ((str,), False, ()),
    "other_tree": ((str,), False, ()),
    "to": ((str,), False, ()),
    "seen": ((str,), False, OBSERVATIONS),
    "measure": ((str,), False, ()),
    "note": ((str,), False, ()),
    "recorded_at": ((str,), True, ()),
    "struck_at": ((str,), False, ()),
    "superseded_by": ((int,), False, ()),
}
# Files of earlier versions have no numbers.
READING_FIELDS: Fields = {
    "number": ((int,), False, ()),
    "place": ((str,), True, ()),
    "at": ((str,), True, ()),
    "value_c": ((int, float), True, ()),
    "recorded_at": ((str,), True, ()),
    "struck_at": ((str,), False, ()),
    "superseded_by": ((int,), False, ()),
}
_TIMES = ("at", "recorded_at", "struck_at", "stored_at")
_DAYS = ("day", "due")
_NAMES = {str: "a text", bool: "true or false", int: "a whole number", float: "a number"}


def document(kind: str, lines: Iterable[Mapping[str, object]]) -> bytes:
    """The content of a file: its head, and one line for each."""
    head: dict[str, object] = {"carewatch": kind, "version": VERSION}
    return "".join(json.dumps(line, ensure_ascii=False) + "\n" for line in (head, *lines)).encode()


def lines_of(path: Path, kind: str, known: Fields, problems: list[str]) -> list[Line]:
    """The lines of a file with their numbers; those that cannot be used are added to the problems instead."""
    try:
        text = path.read_bytes().decode("utf-8")
    except UnicodeDecodeError as error:
        problems.append(f"{path} is no UTF-8 text (byte {error.start})")
        return []
    except OSError as error:
        problems.append(f"{path} cannot be read: {(error.strerror or str(error)).lower()}")
        return []
    found: list[Line] = []
    # Only at line feeds: a note may hold other signs at which Python would split.
    for number, line in enumerate(text.removesuffix("\n").split("\n"), start=1):
        where = f"{path} line {number}"
        try:
            content = json.loads(line, parse_constant=_no_number)
        except ValueError:
            content = None
        if number == 1:
            if content != {"carewatch": kind, "version": VERSION}:
                problems.append(f'{where} must be {{"carewatch": "{kind}", "version": {VERSION}}}: the file is another')
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


def _faults(content: Mapping[str, object], known: Fields) -> Iterable[str]:
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
        elif name in _DAYS and not _is_day(str(value)):
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
