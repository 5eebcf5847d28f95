"""Migrations: numbered, whole or not at all, and never below a service that knows only the older shape."""

import sqlite3
from datetime import UTC, datetime
from pathlib import Path

import pytest

from carewatch.alerts.danger import ANSWERS, NOTICE_KINDS, SEVERITIES, STATES
from carewatch.care.log import NOTES, OBSERVATIONS, WORKS
from carewatch.forecast.record import ORIGINS
from carewatch.limits.judge import HAZARDS
from carewatch.sqlite.care_log import history, strike
from carewatch.sqlite.database import Database
from carewatch.sqlite.forecasts import KINDS, SOURCES
from carewatch.sqlite.readings import reading_history
from carewatch.sqlite.refused import StoreRefused
from carewatch.sqlite.schema import Migration, shipped_migrations, statements
from carewatch.sqlite.standing import standing

NOW = datetime(2026, 11, 5, 11, tzinfo=UTC)
SHIPPED = len(shipped_migrations())
NEXT = Migration(
    SHIPPED + 1, "pests", "CREATE TABLE pest (name TEXT NOT NULL) STRICT;\nINSERT INTO pest VALUES ('vine weevil');\n"
)


def tables(path: Path) -> set[str]:
    connection = sqlite3.connect(path)
    try:
        return {row[0] for row in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")}
    finally:
        connection.close()


def test_the_files_are_numbered_from_one_without_gaps() -> None:
    shipped = shipped_migrations()

    assert shipped
    assert [migration.number for migration in shipped] == list(range(1, len(shipped) + 1))


def test_every_table_is_strict() -> None:
    """A table that is not would take a text for a number without a word."""
    with Database.in_memory(NOW) as database, database.snapshot(NOW) as snapshot:
        rows = snapshot.execute("SELECT name, strict FROM pragma_table_list WHERE schema = 'main' AND type = 'table'")
        loose = {row["name"] for row in rows if not row["strict"]}

    assert loose == {"sqlite_schema"}


def test_every_word_of_the_domain_is_known_to_the_schema() -> None:
    """Lists in CHECKs are written by hand; a word that is missing would be refused when it is first used."""
    sql = "".join(migration.sql for migration in shipped_migrations())

    words = {
        *WORKS,
        *NOTES,
        *OBSERVATIONS,
        *HAZARDS,
        *SEVERITIES,
        *STATES,
        *NOTICE_KINDS,
        *ANSWERS,
        *SOURCES,
        *KINDS,
        *ORIGINS,
    }
    assert [word for word in sorted(words) if f"'{word}'" not in sql] == []


def test_a_file_is_split_at_the_ends_of_its_statements_only() -> None:
    sql = (
        "-- one; two\nCREATE TABLE a (b TEXT DEFAULT ';\n');\n"
        "CREATE TRIGGER c AFTER INSERT ON a\nBEGIN\n    DELETE FROM a;\n    DELETE FROM a;\nEND;\n"
    )

    assert [statement.split("\n")[-1] for statement in statements(sql)] == ["');", "END;"]
    with pytest.raises(ValueError, match="no end of a statement after: SELECT 1"):
        list(statements("SELECT 1"))


def test_an_older_database_is_brought_up_to_date_once_and_copied_before(tmp_path: Path) -> None:
    path = tmp_path / "a.sqlite"
    Database.open(path, NOW).close()
    steps = (*shipped_migrations(), NEXT)

    for _ in range(2):
        with Database.open(path, NOW, migrations=steps) as database, database.snapshot(NOW) as snapshot:
            records = [tuple(row) for row in snapshot.execute("SELECT * FROM migration ORDER BY number")]
            assert snapshot.number("SELECT count(*) FROM pest") == 1

    assert records[SHIPPED] == (SHIPPED + 1, "pests", "2026-11-05T11:00:00Z")
    assert "pest" not in tables(tmp_path / f"a.sqlite.before-upgrade-from-{SHIPPED}")


@pytest.mark.parametrize(
    ("second", "said"),
    [
        ("INSERT INTO pest VALUES (NULL);\n", "NOT NULL constraint failed"),
        ("CREATE TABLE pest (name TEXT) STRICT;\n", "already exists"),
        (
            "INSERT INTO answer_token VALUES (hex(zeroblob(32)), '00000000000000ff', 'phone', '2026-11-05T11:00:00Z');",
            "leaves a row of answer_token without what it refers to",
        ),
        ("SELECT 1", "no end of a statement"),
    ],
    ids=["a value refused", "a table twice", "a reference to nothing", "no end"],
)
def test_a_migration_that_fails_leaves_no_trace(tmp_path: Path, second: str, said: str) -> None:
    path = tmp_path / "a.sqlite"
    Database.open(path, NOW).close()
    before = tables(path)
    broken = Migration(SHIPPED + 1, "broken", f"CREATE TABLE pest (name TEXT NOT NULL) STRICT;\n{second}")

    with pytest.raises((StoreRefused, ValueError), match=said):
        Database.open(path, NOW, migrations=(*shipped_migrations(), broken))

    assert tables(path) == before
    with Database.open(path, NOW) as database, database.snapshot(NOW) as snapshot:
        assert snapshot.number("SELECT max(number) FROM migration") == SHIPPED


def test_a_new_database_is_made_whole_or_not_at_all(tmp_path: Path) -> None:
    """Otherwise whoever opens it meanwhile takes it for an older one and wants the service's claim to upgrade it."""
    path = tmp_path / "a.sqlite"
    broken = Migration(SHIPPED + 1, "broken", "INSERT INTO pest VALUES (NULL);\n")

    with pytest.raises(StoreRefused, match="no such table: pest"):
        Database.open(path, NOW, migrations=(*shipped_migrations(), broken))

    assert tables(path) == set()


def test_a_running_service_is_not_given_another_shape(tmp_path: Path) -> None:
    path = tmp_path / "a.sqlite"
    with Database.open(path, NOW) as service, service.claim_instance():
        with pytest.raises(StoreRefused, match="in use by another carewatch"):
            Database.open(path, NOW, migrations=(*shipped_migrations(), NEXT))
        assert "pest" not in tables(path)


def test_a_database_of_the_first_shape_gets_a_record_of_the_weather_and_keeps_what_it_has(tmp_path: Path) -> None:
    path = tmp_path / "a.sqlite"
    with (
        Database.open(path, NOW, migrations=shipped_migrations()[:1]) as database,
        database.transaction(NOW) as transaction,
    ):
        transaction.execute(
            "INSERT INTO reading (place, at, value_c, recorded_at) "
            "VALUES ('lawn', '2026-11-05T11:00:00Z', 3.5, '2026-11-05T11:00:00Z')"
        )

    with Database.open(path, NOW) as database, database.snapshot(NOW) as snapshot:
        assert snapshot.number("SELECT count(*) FROM reading") == 1
        assert snapshot.number("SELECT count(*) FROM past_day") == 0


def test_entries_and_readings_of_an_older_shape_keep_their_numbers_and_their_history(tmp_path: Path) -> None:
    """Their tables are built anew: what was struck, and what supersedes it, must come through, and the guards too."""
    path = tmp_path / "a.sqlite"
    noon = "2026-11-05T11:00:00Z"
    with (
        Database.open(path, NOW, migrations=shipped_migrations()[:2]) as database,
        database.transaction(NOW) as transaction,
    ):
        for number, struck, by in ((1, None, None), (2, noon, None), (3, None, None)):
            transaction.execute(
                "INSERT INTO entry (number, identity, tree, work, at, day, roots_worked, tied, paste, recorded_at, "
                "struck_at, superseded_by) VALUES (?, ?, 'elm', 'wire', ?, '2026-11-05', 0, 1, 0, ?, ?, ?)",
                (number, f"{number:064x}", noon, noon, struck, by),
            )
        transaction.execute("UPDATE entry SET superseded_by = 3 WHERE number = 2")
        for hour in ("10", "09"):
            transaction.execute(
                "INSERT INTO reading (place, at, value_c, recorded_at) VALUES ('lawn', ?, 3.5, ?)",
                (f"2026-11-05T{hour}:00:00Z", noon),
            )
        before = transaction.number("SELECT version FROM log_version")

    with Database.open(path, NOW) as database, database.transaction(NOW) as transaction:
        assert [
            (found.number, found.entry.tied, found.struck_at, found.superseded_by) for found in history(transaction)
        ] == [(1, True, None, None), (2, True, NOW, 3), (3, True, None, None)]
        assert [(found.number, found.reading.at.hour) for found in reading_history(transaction)] == [(1, 9), (2, 10)]
        assert transaction.number("SELECT version FROM log_version") == before
        strike(transaction, 1)
        assert transaction.number("SELECT version FROM log_version") == before + 1
        with pytest.raises(sqlite3.IntegrityError, match="never erased"):
            transaction.execute("DELETE FROM entry")


def test_a_danger_of_an_older_shape_is_known_to_need_no_shade(tmp_path: Path) -> None:
    """Nothing was kept of it: its bring-back goes by how long it stood there."""
    path = tmp_path / "a.sqlite"
    noon = "2026-11-05T11:00:00Z"
    with (
        Database.open(path, NOW, migrations=shipped_migrations()[:5]) as database,
        database.transaction(NOW) as transaction,
    ):
        transaction.execute(
            "INSERT INTO danger (id, tree, hazard, starts, ends, severity, probability, loss, unit, measure, revision, "
            "state, first_seen_at, spoken_severity, spoken_measure, answer, below_runs, in_force) VALUES "
            "('00000000000000a1', 'elm', 'frost', ?, ?, 'Severe', 0.7, 0.3, '°C', 'move:shed', 1, 'answered', ?, "
            "'Severe', 'move:shed', 'done', 0, 1)",
            (noon, noon, noon),
        )

    with Database.open(path, NOW) as database, database.transaction(NOW) as transaction:
        (found,) = standing(transaction, NOW).dangers
        assert (found.tree, found.answer, found.shade_days) == ("elm", "done", 0)
        with pytest.raises(sqlite3.IntegrityError, match="days_in_shade"):
            transaction.execute("UPDATE danger SET shade_days = -1")
