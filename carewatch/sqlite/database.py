"""The door of this edge: one file that is opened with care, and transactions on it."""

import sqlite3
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self, TypeVar

from carewatch.sqlite.files import (
    check_content,
    check_header,
    copy_database,
    is_ours,
    prepare_file,
    refuse_orphaned_log,
)
from carewatch.sqlite.instance import InstanceClaim, claim
from carewatch.sqlite.refused import StoreRefused, refusal_of
from carewatch.sqlite.schema import Migration, bring_up_to_date, shipped_migrations, version_of
from carewatch.sqlite.text_time import whole_second

# Longer than any transaction of the service: its own are milliseconds, those of an import a second or two.
BUSY_WAIT_S = 10.0

Value = str | int | float | bytes | None
Values = Sequence[Value] | Mapping[str, Value]


def no_fault(name: str) -> None:
    """The fault of ordinary life: nothing happens at the point `name`."""


class Snapshot:
    """
    A view of the database that does not change while it is open, for the functions that read.

    now: the time for which it was asked, UTC, whole seconds.
    """

    def __init__(self, connection: sqlite3.Connection, now: datetime) -> None:
        self.now = whole_second(now)
        self._connection: sqlite3.Connection | None = connection

    def execute(self, sql: str, values: Values = ()) -> sqlite3.Cursor:
        """
        The answer to one statement.

        Raises RuntimeError after the end, when nothing would hold statements together any more.
        """
        if self._connection is None:
            raise RuntimeError("the transaction has ended")
        return self._connection.execute(sql, values)

    def number(self, sql: str, values: Values = ()) -> int:
        """The single whole number that a statement answers with."""
        (answer,) = self.execute(sql, values).fetchone()
        return int(answer)

    def end(self) -> None:
        """Let no further statement through."""
        self._connection = None


class Transaction(Snapshot):
    """A snapshot in which changes can be made; they are stored together at its end, or not at all."""


Kind = TypeVar("Kind", bound=Snapshot)


class Database:
    """
    One connection to the database, for one thread. Close it, or use it in a `with` statement.

    path: absolute path of the file, or None for a database in memory.
    """

    def __init__(self, connection: sqlite3.Connection, path: Path | None, fault: Callable[[str], None]) -> None:
        self.path = path
        self._connection = connection
        self._fault = fault

    @classmethod
    def open(
        cls,
        path: Path,
        now: datetime,
        *,
        fault: Callable[[str], None] = no_fault,
        busy_wait_s: float = BUSY_WAIT_S,
        migrations: Sequence[Migration] | None = None,
    ) -> Self:
        """
        The database at `path`, made if it is missing, checked, and brought up to the newest shape.

        now: aware; stands in the records of migrations.
        fault: called at "inside-transaction" (before each commit) and "after-commit": to test what a crash there does.
        busy_wait_s: how long a transaction waits for another process to finish its own. [s]
        migrations: instead of the shipped ones.

        Raises StoreRefused when the file is no database, another program's, damaged, of a newer carewatch, in a place
        that cannot hold one, or of an older shape while a service that knows only that shape is running.
        """
        path = path.expanduser().resolve()
        steps = shipped_migrations() if migrations is None else migrations
        prepare_file(path)
        with _refusals(path):
            connection = _connect(path, busy_wait_s)
            try:
                ours = is_ours(connection, path)
                _refuse_newer(connection, path, steps)
                _log_ahead(connection, busy_wait_s)
                if ours:
                    check_content(connection, path)
                _upgrade(connection, path, now, steps)
                _settle(connection)
            except BaseException:
                connection.close()
                raise
        return cls(connection, path, fault)

    @classmethod
    def open_for_reading(cls, path: Path, now: datetime) -> Self:
        """
        The database at `path` for a command that must not change it; an empty one in memory when there is no file yet.

        A database of an older shape is read through a copy in memory that is brought up to date.

        now: aware.

        Raises StoreRefused as `open` does.
        """
        path = path.expanduser().resolve()
        with _refusals(path):
            refuse_orphaned_log(path)
            if not path.exists():
                return cls.in_memory(now)
            check_header(path)
            connection = _connect(path, BUSY_WAIT_S)
            try:
                connection.execute("PRAGMA query_only = ON")
                ours = is_ours(connection, path)
                _refuse_newer(connection, path, shipped_migrations())
                if ours:
                    check_content(connection, path)
                if version_of(connection) < len(shipped_migrations()):
                    with closing(connection):
                        return cls._copy_in_memory(connection, now)
                _settle(connection)
            except BaseException:
                connection.close()
                raise
        return cls(connection, path, no_fault)

    @classmethod
    def in_memory(cls, now: datetime) -> Self:
        """An empty database that is forgotten when it is closed. now: aware."""
        with closing(sqlite3.connect(":memory:")) as nothing:
            return cls._copy_in_memory(nothing, now)

    @classmethod
    def _copy_in_memory(cls, source: sqlite3.Connection, now: datetime) -> Self:
        connection = _connect(":memory:", BUSY_WAIT_S)
        try:
            source.backup(connection)
            bring_up_to_date(connection, now, shipped_migrations())
            _settle(connection)
        except BaseException:
            connection.close()
            raise
        return cls(connection, None, no_fault)

    def another(self) -> Self:
        """
        One more connection to the same file, for another thread.

        Raises StoreRefused when the file cannot be opened; RuntimeError for a database in memory.
        """
        if self.path is None:
            raise RuntimeError("a database in memory has one connection")
        with _refusals(self.path):
            connection = _connect(self.path, BUSY_WAIT_S)
            _settle(connection)
        return type(self)(connection, self.path, self._fault)

    def claim_instance(self) -> InstanceClaim:
        """
        The right to be the only service on this database, until it is released.

        Raises StoreRefused when another process holds it; RuntimeError for a database in memory.
        """
        if self.path is None:
            raise RuntimeError("a database in memory needs no claim")
        return claim(self.path)

    @contextmanager
    def transaction(self, now: datetime) -> Iterator[Transaction]:
        """
        A transaction that writes: begun at once, committed when the block ends well, undone when it raises.

        now: aware; the time of everything that happens in it.

        Raises StoreRefused when the database is busy, full or refuses a value.
        """
        with self._block("BEGIN IMMEDIATE", Transaction(self._connection, now)) as transaction:
            yield transaction
            self._fault("inside-transaction")
            self._connection.execute("COMMIT")
        self._fault("after-commit")

    @contextmanager
    def snapshot(self, now: datetime) -> Iterator[Snapshot]:
        """
        A view that does not change while others write. Nothing done in it is stored.

        now: aware.
        """
        with self._block("BEGIN", Snapshot(self._connection, now)) as snapshot:
            yield snapshot

    @contextmanager
    def _block(self, begin: str, kind: Kind) -> Iterator[Kind]:
        with _refusals(self.path or "in memory"):
            self._connection.execute(begin)
            try:
                yield kind
            finally:
                kind.end()
                # SQLite undoes some failed transactions by itself; a second attempt would hide the first error.
                if self._connection.in_transaction:
                    with suppress(sqlite3.Error):
                        self._connection.execute("ROLLBACK")

    def copy_to(self, target: Path) -> None:
        """
        A whole copy of the database as one private file, in place of what was at `target`; others may go on writing.

        Raises StoreRefused when it cannot be written or does not hold together.
        """
        copy_database(self._connection, target)

    def close(self) -> None:
        """Close the connection; a second time does nothing."""
        self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _connect(path: Path | str, busy_wait_s: float) -> sqlite3.Connection:
    # No isolation level: transactions begin and end where the code says so, on every version of Python.
    connection = sqlite3.connect(path, timeout=busy_wait_s, isolation_level=None)
    connection.row_factory = sqlite3.Row
    # A file from elsewhere runs no code of its own through its schema: sqlite.org/security.html.
    connection.execute("PRAGMA trusted_schema = OFF")
    return connection


def _settle(connection: sqlite3.Connection) -> None:
    """What holds per connection and is not kept in the file."""
    # A sent mark or a queued warning must outlive a pulled plug.
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA foreign_keys = ON")


def _refuse_newer(connection: sqlite3.Connection, path: Path, steps: Sequence[Migration]) -> None:
    version, newest = version_of(connection), len(steps)
    if version > newest:
        raise StoreRefused(
            f"the database {path} was written by a newer carewatch (shape {version}; this one knows {newest}). "
            f"Install that version again, or restore a backup from before it"
        )


def _log_ahead(connection: sqlite3.Connection, busy_wait_s: float) -> None:
    """Switch to write-ahead logging; SQLite does not wait by itself when two processes begin at the same time."""
    until = time.monotonic() + busy_wait_s
    while True:
        try:
            (mode,) = connection.execute("PRAGMA journal_mode = WAL").fetchone()
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode != sqlite3.SQLITE_BUSY or time.monotonic() > until:
                raise
            time.sleep(0.02)
        else:
            break
    if mode != "wal":
        raise StoreRefused(f"the file system does not allow a write-ahead log (SQLite stays with {mode!r})")


def _upgrade(connection: sqlite3.Connection, path: Path, now: datetime, steps: Sequence[Migration]) -> None:
    version = version_of(connection)
    if version == 0:
        bring_up_to_date(connection, now, steps)
    elif version < len(steps):
        # A service that was started before the upgrade would go on with the shape that it knows.
        with claim(path):
            copy_database(connection, path.with_name(f"{path.name}.before-upgrade-from-{version}"))
            bring_up_to_date(connection, now, steps)


@contextmanager
def _refusals(path: Path | str) -> Iterator[None]:
    try:
        yield
    except sqlite3.Error as error:
        raise refusal_of(error, path) from error
