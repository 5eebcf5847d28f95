"""Backups: taken while the service runs, brought back while it does not."""

import os
import shutil
import sqlite3
from contextlib import closing, suppress
from datetime import datetime
from pathlib import Path

from carewatch.sqlite.database import Database
from carewatch.sqlite.files import (
    PRIVATE_FILE,
    check_content,
    check_header,
    copy_database,
    is_ours,
    shm_of,
    to_disk,
    wal_of,
)
from carewatch.sqlite.instance import claim
from carewatch.sqlite.refused import StoreRefused, refusal_of
from carewatch.sqlite.schema import shipped_migrations, version_of
from carewatch.sqlite.text_time import whole_second


def backup(database: Database, target: Path) -> Path:
    """
    The path of a whole, checked, private copy of the database. Others may go on writing meanwhile.

    target: a file in a folder that exists. An older backup there is replaced once the new one is whole.

    Raises StoreRefused when something else lies at `target`, or it is the database itself, or cannot be written.
    """
    target = target.expanduser().resolve()
    if not target.parent.is_dir():
        raise StoreRefused(f"there is no folder {target.parent} for the backup")
    if database.path is not None and target in _belongs_to(database.path):
        raise StoreRefused(f"{target} belongs to the database itself; a backup needs a file of its own")
    if target.exists():
        _version_within(target)
    database.copy_to(target)
    return target


def restore(path: Path, source: Path, now: datetime) -> Path | None:
    """
    Where the database that was at `path` is kept now, or None when there was none. `source` has taken its place.

    The older one keeps its name with ".replaced-" and the time added, damaged or not.

    path: of the database; now: aware.

    Raises StoreRefused when a service is running on it, when `source` is no backup, damaged or of a newer carewatch,
    and when something cannot be written; the database then is what it was.
    """
    path, source = path.expanduser().resolve(), source.expanduser().resolve()
    if not path.parent.is_dir():
        raise StoreRefused(f"there is no folder {path.parent} for the database")
    if source in _belongs_to(path):
        raise StoreRefused(f"{source} is the database itself; a backup is wanted")
    version = _version_within(source, thorough=True)
    if version > len(shipped_migrations()):
        raise StoreRefused(f"{source} was written by a newer carewatch: install that version first")
    with claim(path):
        fresh = path.with_name(f"{path.name}.restoring")
        try:
            with closing(_opened(source)) as connection:
                copy_database(connection, fresh)
        except sqlite3.Error as error:
            raise refusal_of(error, source) from None
        try:
            kept = _set_aside(path, now)
            fresh.replace(path)
            to_disk(path.parent)
        except OSError as error:
            raise StoreRefused(f"{path} cannot be replaced: {(error.strerror or str(error)).lower()}") from None
        finally:
            fresh.unlink(missing_ok=True)
    return kept


def _belongs_to(path: Path) -> tuple[Path, ...]:
    return path, wal_of(path), shm_of(path), path.with_name(f"{path.name}.lock")


def _opened(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA trusted_schema = OFF")
    return connection


def _version_within(path: Path, thorough: bool = False) -> int:
    """
    The number of the newest migration in a backup.

    thorough: check its content as well.

    Raises StoreRefused when the file is no backup.
    """
    if not path.exists():
        raise StoreRefused(f"there is no file {path}")
    check_header(path)
    try:
        with closing(_opened(path)) as connection:
            version = version_of(connection) if is_ours(connection, path) else 0
            if version == 0:
                raise StoreRefused(f"{path} is no backup of carewatch: there is nothing in it")
            if thorough:
                check_content(connection, path, thorough=True)
    except sqlite3.Error as error:
        raise refusal_of(error, path) from None
    return version


def _set_aside(path: Path, now: datetime) -> Path | None:
    """
    A second name for the database, its log moved along; at `path` it stays until the new one replaces it in one step.

    It is not opened: SQLite would play a log into a damaged file, or throw the log away. A crash in between leaves a
    database at `path`, so that the service never begins anew by mistake.
    """
    kept = _free_name(path, now)
    found = path.exists()
    if found:
        try:
            os.link(path, kept)
        except OSError:
            # File systems of memory cards know no second names.
            shutil.copyfile(path, kept)
            kept.chmod(PRIVATE_FILE)
    # A log left beside the new database could be taken for its own.
    for beside, kept_beside in ((wal_of(path), wal_of(kept)), (shm_of(path), shm_of(kept))):
        with suppress(FileNotFoundError):
            beside.rename(kept_beside)
    return kept if found else None


def _free_name(path: Path, now: datetime) -> Path:
    stem = f"{path.name}.replaced-{whole_second(now):%Y%m%dT%H%M%SZ}"
    number, kept = 1, path.with_name(stem)
    while kept.exists():
        number += 1
        kept = path.with_name(f"{stem}-{number}")
    return kept
