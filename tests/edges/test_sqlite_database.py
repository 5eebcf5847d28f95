"""The file of the database: where it may lie, who may read it, what is refused, and what transactions hold."""

import os
import sqlite3
import stat
import threading
from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import pytest

from carewatch.sqlite.database import Database
from carewatch.sqlite.facts import fact, fact_time, put_facts
from carewatch.sqlite.files import refuse_mount
from carewatch.sqlite.refused import StoreRefused
from carewatch.sqlite.schema import shipped_migrations

NOW = datetime(2026, 11, 5, 11, tzinfo=UTC)


def refusal(act: Callable[[], object]) -> str:
    with pytest.raises(StoreRefused) as refused:
        act()
    return refused.value.reason


def opened(path: Path) -> Database:
    return Database.open(path, NOW)


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_the_file_its_log_and_its_folder_are_private(tmp_path: Path) -> None:
    path = tmp_path / "new" / "folder" / "carewatch.sqlite"
    before = os.umask(0)
    try:
        with opened(path) as database:
            with database.transaction(NOW) as transaction:
                put_facts(transaction, {"a": "1"})
            with database.claim_instance():
                names = {each.name: mode(each) for each in path.parent.iterdir()}
    finally:
        os.umask(before)

    beside = ["carewatch.sqlite", "carewatch.sqlite-shm", "carewatch.sqlite-wal", "carewatch.sqlite.lock"]
    assert names == dict.fromkeys(beside, 0o600)
    assert mode(path.parent) == 0o700


def test_a_file_that_others_may_read_is_made_private(tmp_path: Path) -> None:
    path = tmp_path / "a.sqlite"
    opened(path).close()
    path.chmod(0o644)

    with opened(path):
        assert mode(path) == 0o600


def test_each_connection_is_set_up_to_lose_nothing(tmp_path: Path) -> None:
    """Values of sqlite.org/pragma.html: synchronous 2 is FULL."""
    with opened(tmp_path / "a.sqlite") as first, first.another() as second:
        for database in (first, second):
            with database.snapshot(NOW) as snapshot:
                said = {
                    name: snapshot.execute(f"PRAGMA {name}").fetchone()[0]
                    for name in "journal_mode synchronous foreign_keys trusted_schema busy_timeout".split()
                }
            assert said == {
                "journal_mode": "wal",
                "synchronous": 2,
                "foreign_keys": 1,
                "trusted_schema": 0,
                "busy_timeout": 10_000,
            }


def test_the_file_says_whose_it_is(tmp_path: Path) -> None:
    """The application id stands in bytes 68 to 71 of the header: sqlite.org/fileformat.html, section 1.3."""
    opened(tmp_path / "a.sqlite").close()

    assert (tmp_path / "a.sqlite").read_bytes()[68:72] == b"care"


def test_what_is_no_database_is_left_as_it_is(tmp_path: Path) -> None:
    text = tmp_path / "notes.txt"
    text.write_text("Water the maples.\n" * 100)
    foreign = tmp_path / "photos.sqlite"
    with sqlite3.connect(foreign) as connection:
        connection.execute("CREATE TABLE photo (name TEXT)")
    connection.close()
    before = foreign.read_bytes()

    assert "is not a database" in refusal(lambda: opened(text))
    assert "another program" in refusal(lambda: opened(foreign))
    assert "another program" in refusal(lambda: Database.open_for_reading(foreign, NOW))
    assert "is no file" in refusal(lambda: opened(tmp_path))
    assert text.read_text() == "Water the maples.\n" * 100
    assert foreign.read_bytes() == before


def test_a_folder_that_cannot_hold_it_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")

    assert "is a file; the database needs a folder" in refusal(lambda: opened(tmp_path / "file" / "a.sqlite"))
    assert "/proc/nowhere cannot be made" in refusal(lambda: opened(Path("/proc/nowhere/a.sqlite")))


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_file_or_folder_without_the_right_to_write_is_refused(tmp_path: Path) -> None:
    folder = tmp_path / "closed"
    folder.mkdir(mode=0o500)
    opened(tmp_path / "a.sqlite").close()
    (tmp_path / "a.sqlite").chmod(0o400)

    assert "a.sqlite cannot be written: permission denied" in refusal(lambda: opened(tmp_path / "a.sqlite"))

    assert "cannot be written by this user" in refusal(lambda: opened(folder / "a.sqlite"))


@pytest.mark.parametrize("part", ["middle", "second half"])
def test_a_damaged_file_is_refused_with_the_way_back_and_nothing_is_changed(tmp_path: Path, part: str) -> None:
    path = tmp_path / "a.sqlite"
    with opened(path) as database, database.transaction(NOW) as transaction:
        put_facts(transaction, {f"fact-{number}": "x" * 500 for number in range(200)})
    content = bytearray(path.read_bytes())
    half = len(content) // 2
    if part == "middle":
        content[half : half + 8192] = b"\xa5" * 8192
    else:
        del content[half:]
    path.write_bytes(content)

    for open_it in (Database.open, Database.open_for_reading):
        said = refusal(partial(open_it, path, NOW))
        assert "is damaged" in said
        assert "carewatch restore FILE" in said
    assert path.read_bytes() == content


def test_a_log_without_its_database_is_not_thrown_away(tmp_path: Path) -> None:
    """SQLite deletes a log that it finds beside a missing or empty database, and with it the last entries."""
    path = tmp_path / "a.sqlite"
    log = tmp_path / "a.sqlite-wal"
    log.write_bytes(b"what happened last")

    assert "missing, but a.sqlite-wal beside it" in refusal(lambda: opened(path))
    assert "missing, but a.sqlite-wal beside it" in refusal(lambda: Database.open_for_reading(path, NOW))
    path.touch()
    assert "empty, but a.sqlite-wal beside it" in refusal(lambda: opened(path))
    assert log.read_bytes() == b"what happened last"


def test_a_database_of_a_newer_carewatch_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.sqlite"
    opened(path).close()
    newer = len(shipped_migrations()) + 1
    with sqlite3.connect(path) as connection:
        connection.execute("INSERT INTO migration VALUES (?, 'later', '2027-01-01T00:00:00Z')", (newer,))
    connection.close()

    for open_it in (Database.open, Database.open_for_reading):
        assert f"newer carewatch (shape {newer};" in refusal(partial(open_it, path, NOW))


@pytest.mark.parametrize(
    ("mounts", "said"),
    [
        ("40 29 0:50 / /srv rw shared:1 - nfs4 nas:/garden rw", "(nfs4, mounted at /srv)"),
        ("40 29 8:1 /x /srv/a.sqlite rw - ext4 /dev/sda1 rw", "as a single file"),
    ],
)
def test_a_mount_that_would_lose_the_log_is_refused(mounts: str, said: str) -> None:
    """Lines as proc(5) describes them, "mountinfo"."""
    root = "29 1 8:1 / / rw - ext4 /dev/sda1 rw"

    assert said in refusal(lambda: refuse_mount(Path("/srv/a.sqlite"), f"{root}\n{mounts}"))


def test_a_local_disk_within_a_network_file_system_is_fine() -> None:
    mounts = "29 1 0:50 / / rw - nfs4 nas:/root rw\n40 29 8:1 / /srv\\040here rw - ext4 /dev/sda1 rw"

    refuse_mount(Path("/srv here/a.sqlite"), mounts)


def test_a_transaction_is_stored_whole_or_not_at_all(tmp_path: Path) -> None:
    with opened(tmp_path / "a.sqlite") as database:
        with pytest.raises(ValueError, match="no time zone"), database.transaction(NOW) as transaction:
            put_facts(transaction, {"a": "1", "when": NOW.replace(tzinfo=None)})
        with database.snapshot(NOW) as snapshot:
            assert fact(snapshot, "a") is None
        with database.transaction(NOW) as transaction:
            put_facts(transaction, {"a": "1", "when": NOW})
        with database.snapshot(NOW) as snapshot:
            assert fact(snapshot, "a") == "1"
            assert fact_time(snapshot, "when") == NOW
        with database.transaction(NOW) as transaction:
            put_facts(transaction, {"a": None})
        with database.snapshot(NOW) as snapshot:
            assert fact(snapshot, "a") is None


def test_nothing_is_stored_through_a_transaction_that_has_ended(tmp_path: Path) -> None:
    with opened(tmp_path / "a.sqlite") as database:
        with database.transaction(NOW) as transaction:
            pass
        with pytest.raises(RuntimeError, match="has ended"):
            put_facts(transaction, {"a": "1"})


def test_a_snapshot_stores_nothing_and_does_not_see_what_others_store_meanwhile(tmp_path: Path) -> None:
    with opened(tmp_path / "a.sqlite") as reader, reader.another() as writer:
        with reader.snapshot(NOW) as snapshot:
            assert fact(snapshot, "a") is None
            with writer.transaction(NOW) as transaction:
                put_facts(transaction, {"a": "1"})
            assert fact(snapshot, "a") is None
        with reader.snapshot(NOW) as snapshot:
            assert fact(snapshot, "a") == "1"


def test_two_writers_wait_for_each_other_and_lose_nothing(tmp_path: Path) -> None:
    """Each reads, adds one and writes, a hundred times: only transactions that begin by locking come to 200."""
    path = tmp_path / "a.sqlite"
    with opened(path) as database, database.transaction(NOW) as transaction:
        put_facts(transaction, {"count": "0"})

    def count() -> None:
        with opened(path) as own:
            for _ in range(100):
                with own.transaction(NOW) as transaction:
                    put_facts(transaction, {"count": str(int(fact(transaction, "count") or "") + 1)})

    threads = [threading.Thread(target=count) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    with opened(path) as database, database.snapshot(NOW) as snapshot:
        assert fact(snapshot, "count") == "200"


def test_many_that_begin_at_once_make_one_database(tmp_path: Path) -> None:
    path = tmp_path / "a.sqlite"
    ready = threading.Barrier(6)
    failures: list[BaseException] = []

    def begin() -> None:
        ready.wait()
        try:
            opened(path).close()
        except BaseException as error:  # noqa: BLE001 - a thread's failure is shown below
            failures.append(error)

    threads = [threading.Thread(target=begin) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert failures == []
    with opened(path) as database, database.snapshot(NOW) as snapshot:
        assert snapshot.number("SELECT count(*) FROM migration") == len(shipped_migrations())


def test_a_writer_that_waits_too_long_is_told_that_it_may_try_again(tmp_path: Path) -> None:
    path = tmp_path / "a.sqlite"
    with opened(path) as first, Database.open(path, NOW, busy_wait_s=0.05) as second:
        with first.transaction(NOW), pytest.raises(StoreRefused, match="is busy") as refused, second.transaction(NOW):
            pass
        assert refused.value.transient


def test_a_full_disk_is_told_and_what_was_stored_stays(tmp_path: Path) -> None:
    """A limit on the size of the file fails as a full disk does: sqlite.org/pragma.html#pragma_max_page_count."""
    with opened(tmp_path / "a.sqlite") as database:
        with database.transaction(NOW) as transaction:
            put_facts(transaction, {"a": "1"})
            transaction.execute("PRAGMA max_page_count = 1")
        with pytest.raises(StoreRefused, match="the disk is full") as refused, database.transaction(NOW) as transaction:
            put_facts(transaction, {"a": "2", "b": "x" * 1_000_000})
        assert refused.value.transient
        with database.snapshot(NOW) as snapshot:
            assert (fact(snapshot, "a"), fact(snapshot, "b")) == ("1", None)


def test_a_value_that_is_not_accepted_is_refused_in_words(tmp_path: Path) -> None:
    with (
        opened(tmp_path / "a.sqlite") as database,
        pytest.raises(StoreRefused, match="fact_has_a_key"),
        database.transaction(NOW) as transaction,
    ):
        put_facts(transaction, {"No such Key": "1"})


@pytest.mark.parametrize(
    "text", ["2026-02-30T11:00:00Z", "2026-11-05T24:00:00Z", "2026-11-05 11:00:00", "2026-11-05T11:00:00.5Z", "1", ""]
)
def test_the_file_itself_refuses_a_time_that_is_none(tmp_path: Path, text: str) -> None:
    """Another program, or a later mistake, cannot put in what sorts wrongly."""
    with (
        opened(tmp_path / "a.sqlite") as database,
        pytest.raises(StoreRefused, match="CHECK constraint failed"),
        database.transaction(NOW) as transaction,
    ):
        transaction.execute("INSERT INTO fact VALUES ('a', 'b', ?)", (text,))


def test_a_time_without_a_zone_is_a_mistake_of_the_caller(tmp_path: Path) -> None:
    naive = datetime(2026, 11, 5, 11)  # noqa: DTZ001 - the mistake that is looked at

    with (
        opened(tmp_path / "a.sqlite") as database,
        pytest.raises(ValueError, match="no time zone"),
        database.transaction(naive),
    ):
        pass


def test_reading_makes_no_file_and_changes_none(tmp_path: Path) -> None:
    path = tmp_path / "a.sqlite"
    with Database.open_for_reading(path, NOW) as database, database.snapshot(NOW) as snapshot:
        assert fact(snapshot, "a") is None
    assert list(tmp_path.iterdir()) == []

    with opened(path) as database, database.transaction(NOW) as transaction:
        put_facts(transaction, {"a": "1"})
    with Database.open_for_reading(path, NOW) as database:
        with database.snapshot(NOW) as snapshot:
            assert fact(snapshot, "a") == "1"
        with pytest.raises(StoreRefused, match="read-only"), database.transaction(NOW) as transaction:
            put_facts(transaction, {"a": "2"})


def test_the_points_at_which_a_crash_is_tried_lie_around_the_commit(tmp_path: Path) -> None:
    seen: list[tuple[str, str | None]] = []
    path = tmp_path / "a.sqlite"

    def look(point: str) -> None:
        with Database.open_for_reading(path, NOW) as other, other.snapshot(NOW) as snapshot:
            seen.append((point, fact(snapshot, "a")))

    with Database.open(path, NOW, fault=look) as database, database.transaction(NOW) as transaction:
        put_facts(transaction, {"a": "1"})

    assert seen == [("inside-transaction", None), ("after-commit", "1")]
