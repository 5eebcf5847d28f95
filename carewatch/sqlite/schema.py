"""The shape of the database: numbered files of SQL, each applied once, whole or not at all."""

import re
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from importlib.resources import files

from carewatch.sqlite.text_time import time_text

_NAME = re.compile(r"(\d{4})_([a-z0-9_]+)\.sql")


@dataclass(frozen=True)
class Migration:
    """
    One step from an older shape to a newer one. A file that was released is never edited; the next one corrects it.

    number: from 1 without gaps. name: what it is for. sql: its statements.
    """

    number: int
    name: str
    sql: str


@cache
def shipped_migrations() -> tuple[Migration, ...]:
    """Every file of migrations/, in the order of their numbers."""
    found = []
    for entry in files("carewatch.sqlite").joinpath("migrations").iterdir():
        matched = _NAME.fullmatch(entry.name)
        if matched:
            found.append(Migration(int(matched[1]), matched[2], entry.read_text(encoding="utf-8")))
    return tuple(sorted(found, key=lambda migration: migration.number))


def statements(sql: str) -> Iterator[str]:
    """
    The statements of a file, one by one, so that each can run inside an open transaction.

    Every statement ends at the end of a line. Comments stand before or within statements, not after the last one.

    Raises ValueError when the last statement is not ended.
    """
    statement = ""
    for line in sql.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            yield statement.strip()
            statement = ""
    if statement.strip():
        raise ValueError(f"no end of a statement after: {statement.strip()[:60]}")


def version_of(connection: sqlite3.Connection) -> int:
    """The number of the newest migration that was applied; 0 for a database with nothing in it."""
    known = connection.execute("SELECT 1 FROM sqlite_schema WHERE type = 'table' AND name = 'migration'").fetchone()
    if known is None:
        return 0
    (number,) = connection.execute("SELECT coalesce(max(number), 0) FROM migration").fetchone()
    return int(number)


def bring_up_to_date(connection: sqlite3.Connection, now: datetime, migrations: Sequence[Migration]) -> None:
    """
    Apply every migration that the database does not have, each in one transaction with its record.

    A database with nothing in it gets all of them in one: whoever opens it meanwhile finds it empty or whole, never in
    an older shape that would look like one to be upgraded.

    connection: with foreign keys off, since a table that is rebuilt is for a moment not there; they are checked before
    each commit instead. now: aware; stands in the records.

    Raises sqlite3.Error, or ValueError for a file that cannot be split; the migration concerned left no trace, those
    of earlier transactions stay.
    """
    while version_of(connection) < len(migrations):
        connection.execute("BEGIN IMMEDIATE")
        try:
            # Another process may have been faster between the look and the lock.
            version = version_of(connection)
            due = [migration for migration in migrations if migration.number > version]
            for migration in due if version == 0 else due[:1]:
                _apply(connection, migration, now)
            connection.execute("COMMIT")
        except BaseException:
            with suppress(sqlite3.Error):
                connection.execute("ROLLBACK")
            raise


def _apply(connection: sqlite3.Connection, migration: Migration, now: datetime) -> None:
    for statement in statements(migration.sql):
        connection.execute(statement)
    broken = connection.execute("PRAGMA foreign_key_check").fetchone()
    if broken is not None:
        raise sqlite3.IntegrityError(
            f"migration {migration.number} leaves a row of {broken[0]} without what it refers to"
        )
    connection.execute(
        "INSERT INTO migration (number, name, applied_at) VALUES (?, ?, ?)",
        (migration.number, migration.name, time_text(now)),
    )
