"""Why the database could not be used or a change not be stored: words for the person, and a flag for the program."""

import sqlite3
from pathlib import Path

# Result codes of SQLite, by primary code (the lowest eight bits of an extended one): sqlite.org/rescode.html.
_PRIMARY = 0xFF
_SAID = {
    sqlite3.SQLITE_BUSY: ("is busy: another process has been writing to it for too long", True),
    sqlite3.SQLITE_LOCKED: ("is busy: another process has been writing to it for too long", True),
    sqlite3.SQLITE_FULL: ("cannot grow: the disk is full", True),
    sqlite3.SQLITE_IOERR: ("cannot be read or written: the disk or its file system reports an error", True),
    sqlite3.SQLITE_READONLY: ("cannot be written: the file or its folder is read-only", False),
    sqlite3.SQLITE_PERM: ("cannot be opened: this user may not", False),
    sqlite3.SQLITE_AUTH: ("cannot be opened: this user may not", False),
    sqlite3.SQLITE_CANTOPEN: ("cannot be opened: its folder must be there and writable for this user", False),
    sqlite3.SQLITE_NOTADB: ("is not a database", False),
}
RESTORE_HINT = (
    "Nothing was changed. Bring back the newest backup with `carewatch restore FILE`; the damaged file is then kept "
    "beside it under another name"
)


class StoreRefused(Exception):
    """
    A database that cannot be used, or a change that it does not take. Nothing of the change was stored.

    reason: plain sentences, free of keys and passwords.
    transient: True when the same may work later (another process is writing, the disk is full); False when the request,
    the file or its folder must change first.
    """

    def __init__(self, reason: str, transient: bool = False) -> None:
        super().__init__(reason)
        self.reason = reason
        self.transient = transient


class LogMoved(Exception):
    """The care log changed after the assessment was begun: nothing was saved, and the assessment must be made again."""


def refusal_of(error: sqlite3.Error, path: Path | str) -> StoreRefused:
    """What SQLite reports about the database at `path`, in plain words."""
    code = getattr(error, "sqlite_errorcode", None)
    primary = code & _PRIMARY if isinstance(code, int) else None
    if primary == sqlite3.SQLITE_CORRUPT:
        return damaged(path, str(error))
    if primary == sqlite3.SQLITE_CONSTRAINT:
        return StoreRefused(f"the database {path} does not take this: {error}")
    if primary in _SAID:
        words, transient = _SAID[primary]
        return StoreRefused(f"the database {path} {words} ({error})", transient)
    return StoreRefused(f"the database {path} cannot do this: {error}")


def damaged(path: Path | str, detail: str) -> StoreRefused:
    """The refusal of a database whose content does not hold together. detail: what the check says."""
    return StoreRefused(f"the database {path} is damaged ({detail}). {RESTORE_HINT}")
