"""Backups are whole and private; what they replace is kept."""

import sqlite3
import stat
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

import pytest

from carewatch.sqlite.backup import backup, restore
from carewatch.sqlite.database import Database
from carewatch.sqlite.facts import fact, put_facts
from carewatch.sqlite.refused import StoreRefused

NOW = datetime(2026, 11, 5, 11, tzinfo=UTC)


def refusal(act: Callable[[], object]) -> str:
    with pytest.raises(StoreRefused) as refused:
        act()
    return refused.value.reason


def put(database: Database, value: str) -> None:
    with database.transaction(NOW) as transaction:
        put_facts(transaction, {"a": value})


def value_in(path: Path) -> str | None:
    with Database.open_for_reading(path, NOW) as database, database.snapshot(NOW) as snapshot:
        return fact(snapshot, "a")


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A database that holds "old", with a backup beside it, and that then came to hold "new"."""
    path = tmp_path / "live" / "a.sqlite"
    with Database.open(path, NOW) as database:
        put(database, "old")
        backup(database, tmp_path / "backup.sqlite")
        put(database, "new")
    return path


def test_a_backup_is_one_private_file_taken_while_others_write(tmp_path: Path) -> None:
    target = tmp_path / "backups" / "b.sqlite"
    target.parent.mkdir()
    with Database.open(tmp_path / "a.sqlite", NOW) as database, database.another() as writer:
        put(writer, "kept")
        with writer.transaction(NOW) as transaction:
            put_facts(transaction, {"a": "not committed"})
            assert backup(database, target) == target
        assert [each.name for each in target.parent.iterdir()] == ["b.sqlite"]
        assert stat.S_IMODE(target.stat().st_mode) == 0o600
    assert value_in(target) == "kept"


def test_an_older_backup_is_replaced_and_nothing_else_is(path: Path, tmp_path: Path) -> None:
    config = tmp_path / "config.toml"
    config.write_text("config_version = 1\n")
    foreign = tmp_path / "photos.sqlite"
    with sqlite3.connect(foreign) as connection:
        connection.execute("CREATE TABLE photo (name TEXT)")
    connection.close()
    with Database.open(path, NOW) as database:
        backup(database, tmp_path / "backup.sqlite")

        assert "is not a database" in refusal(lambda: backup(database, config))
        assert "another program" in refusal(lambda: backup(database, foreign))
        assert "belongs to the database itself" in refusal(lambda: backup(database, path))
        assert "belongs to the database itself" in refusal(lambda: backup(database, path.with_name("a.sqlite-wal")))
        assert "no folder" in refusal(lambda: backup(database, tmp_path / "nowhere" / "b.sqlite"))
    assert value_in(tmp_path / "backup.sqlite") == "new"
    assert config.read_text() == "config_version = 1\n"
    assert sorted(each.name for each in tmp_path.iterdir()) == ["backup.sqlite", "config.toml", "live", "photos.sqlite"]


def test_a_backup_comes_back_and_what_it_replaces_is_kept(path: Path, tmp_path: Path) -> None:
    first = restore(path, tmp_path / "backup.sqlite", NOW)
    with Database.open(path, NOW) as database:
        put(database, "newer")
    second = restore(path, tmp_path / "backup.sqlite", NOW)

    assert first == path.with_name("a.sqlite.replaced-20261105T110000Z")
    assert second == path.with_name("a.sqlite.replaced-20261105T110000Z-2")
    assert (value_in(path), value_in(first), value_in(second)) == ("old", "new", "newer")
    assert {stat.S_IMODE(each.stat().st_mode) for each in path.parent.iterdir()} == {0o600}
    assert value_in(tmp_path / "backup.sqlite") == "old"


def test_a_damaged_database_is_replaced_and_kept_to_the_byte(path: Path, tmp_path: Path) -> None:
    damaged = path.read_bytes()[:8192] + b"\xa5" * 50_000
    path.write_bytes(damaged)
    with pytest.raises(StoreRefused, match="is damaged"):
        Database.open(path, NOW)

    kept = restore(path, tmp_path / "backup.sqlite", NOW)

    assert kept is not None
    assert kept.read_bytes() == damaged
    assert value_in(path) == "old"


def test_the_log_of_the_older_database_is_kept_with_it_and_not_played_into_the_new_one(
    path: Path, tmp_path: Path
) -> None:
    """A process that was killed leaves a log beside its database: here a copy of both is taken while one is open."""
    with Database.open(path, NOW) as database:
        put(database, "only in the log")
        content = [(name, path.with_name(name).read_bytes()) for name in ("a.sqlite", "a.sqlite-wal")]
    for name, its_bytes in content:
        path.with_name(name).write_bytes(its_bytes)

    kept = restore(path, tmp_path / "backup.sqlite", NOW)

    assert kept is not None
    assert value_in(path) == "old"
    assert value_in(kept) == "only in the log"


def test_a_backup_comes_back_where_there_is_nothing(tmp_path: Path, path: Path) -> None:
    empty = tmp_path / "other" / "a.sqlite"
    empty.parent.mkdir()

    assert restore(empty, tmp_path / "backup.sqlite", NOW) is None
    assert value_in(empty) == "old"
    assert path.exists()


def test_nothing_is_restored_below_a_running_service(path: Path, tmp_path: Path) -> None:
    with Database.open(path, NOW) as service, service.claim_instance():
        assert "is in use by another carewatch" in refusal(lambda: restore(path, tmp_path / "backup.sqlite", NOW))
    assert value_in(path) == "new"


def test_what_is_no_good_backup_changes_nothing(path: Path, tmp_path: Path) -> None:
    good = (tmp_path / "backup.sqlite").read_bytes()
    cases = {
        "text": (b"Water the maples.\n" * 100, "is not a database"),
        "empty": (b"", "there is nothing in it"),
        "cut": (good[: len(good) // 2], "is damaged"),
    }
    for name, (content, said) in cases.items():
        (tmp_path / name).write_bytes(content)
        assert said in refusal(partial(restore, path, tmp_path / name, NOW))
    assert "there is no file" in refusal(lambda: restore(path, tmp_path / "none", NOW))
    assert "is the database itself" in refusal(lambda: restore(path, path, NOW))
    newer = tmp_path / "backup.sqlite"
    with sqlite3.connect(newer) as connection:
        connection.execute("INSERT INTO migration VALUES (999, 'later', '2027-01-01T00:00:00Z')")
    connection.close()
    assert "newer carewatch" in refusal(lambda: restore(path, newer, NOW + timedelta(days=1)))

    assert value_in(path) == "new"
    assert sorted(each.name for each in path.parent.iterdir()) == ["a.sqlite"]
