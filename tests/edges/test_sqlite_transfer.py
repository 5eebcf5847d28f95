"""Care log and readings as plain files: out and in again, byte for byte, or refused with file and line."""

import json
import stat
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from carewatch.care.log import OBSERVATIONS, WORKS, Entry
from carewatch.forecast.packing import columns, days_asked_for
from carewatch.sqlite.care_log import add, amend, entries, strike
from carewatch.sqlite.database import Database
from carewatch.sqlite.past_days import day_states, save_past_days
from carewatch.sqlite.readings import Reading, add_reading, amend_reading, strike_reading
from carewatch.sqlite.refused import StoreRefused
from carewatch.sqlite.transfer import Imported, care_log_lines, export_directory, import_directory, reading_lines
from carewatch.sqlite.transfer_weather import weather_lines

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 11, 5, 11, tzinfo=UTC)
NOON = datetime(2026, 11, 4, 12, tzinfo=BERLIN)
SEVERED = Entry(
    "oak-3", "sever-layer", NOON, roots="sparse", roots_worked=True, tied=True, note="gale “Anna”\n\u2028 end"
)
LOG, READINGS, WEATHER = "care-log.jsonl", "readings.jsonl", "past-weather.jsonl"


def filled(database: Database) -> None:
    """An entry that was corrected, one that was struck, one of each kind; readings, one of them corrected."""
    with database.transaction(NOW) as transaction:
        add(transaction, SEVERED, BERLIN)
        add(transaction, Entry("elm", "root-prune", NOON, removed=0.1 + 0.2), BERLIN)
        add(transaction, Entry("elm", "move", NOON, to="shed"), BERLIN)
        add(transaction, Entry("elm", "observe", NOON, seen="wilting"), BERLIN)
        add(transaction, Entry("elm", "begin", NOON, measure="move:shed"), BERLIN)
        add(transaction, Entry("elm", "sacrifice", NOON, branch="leader", due=date(2027, 8, 20)), BERLIN)
        add(transaction, Entry("elm", "wire", NOON, branch="low left", gauge_mm=2.5), BERLIN)
        add(transaction, Entry("elm", "cut-off", NOON, branch="top", removed=0.2, other_tree="elm-2"), BERLIN)
        for hours, place, value in ((1, "wall", -3.7), (2, "bench", 4), (2, "wall", 1e-7)):
            add_reading(transaction, Reading(place, NOW - timedelta(hours=hours), value))
    with database.transaction(NOW + timedelta(hours=1)) as transaction:
        amend(transaction, 1, replace(SEVERED, roots="dense"), BERLIN)
        strike(transaction, 3)
        amend_reading(transaction, 2, Reading("bench", NOW - timedelta(hours=2), 4.5))


def bytes_in(folder: Path) -> dict[str, bytes]:
    return {each.name: each.read_bytes() for each in folder.iterdir()}


@pytest.fixture
def exported(tmp_path: Path) -> Path:
    folder = tmp_path / "plain"
    with Database.open(tmp_path / "a.sqlite", NOW) as database:
        filled(database)
        export_directory(database, folder, NOW)
    return folder


def imported(tmp_path: Path, folder: Path, *elsewhere: Entry) -> Imported:
    with Database.open(tmp_path / "b.sqlite", NOW) as database:
        return import_directory(database, folder, NOW + timedelta(hours=2), BERLIN, elsewhere)


def refusal(act: Callable[[], object]) -> str:
    with pytest.raises(StoreRefused) as refused:
        act()
    return refused.value.reason


def edited(folder: Path, name: str, line: int, **changes: object) -> None:
    """Line `line` (from 1) of a file with these keys changed; None takes a key away."""
    lines = (folder / name).read_text(encoding="utf-8").split("\n")
    content = json.loads(lines[line - 1]) | changes
    lines[line - 1] = json.dumps({key: value for key, value in content.items() if value is not None})
    (folder / name).write_text("\n".join(lines), encoding="utf-8")


def test_the_files_are_private_plain_and_always_the_same(exported: Path, tmp_path: Path) -> None:
    with Database.open(tmp_path / "a.sqlite", NOW) as database:
        before = bytes_in(exported)
        export_directory(database, exported, NOW + timedelta(days=1))

    assert bytes_in(exported) == before
    assert {stat.S_IMODE(each.stat().st_mode) for each in exported.iterdir()} == {0o600}
    assert stat.S_IMODE(exported.stat().st_mode) == 0o700
    lines = [json.loads(line) for line in before[READINGS].decode().splitlines()]
    assert lines[0] == {"carewatch": "readings", "version": 1}
    assert [(line["number"], line["place"], line["value_c"], line.get("superseded_by")) for line in lines[1:]] == [
        (1, "wall", -3.7, None),
        (2, "bench", 4.0, 4),
        (3, "wall", 1e-7, None),
        (4, "bench", 4.5, None),
    ]
    assert before[WEATHER] == b'{"carewatch": "past-weather", "version": 1}\n'


def test_what_was_read_back_is_exported_byte_for_byte(exported: Path, tmp_path: Path) -> None:
    assert imported(tmp_path, exported) == Imported(entries_new=9, entries_known=0, readings_new=4, readings_known=0)

    with Database.open(tmp_path / "b.sqlite", NOW) as database, database.snapshot(NOW) as snapshot:
        again = {LOG: care_log_lines(snapshot), READINGS: reading_lines(snapshot), WEATHER: weather_lines(snapshot)}
        assert again == bytes_in(exported)
        assert [(entry.tree, entry.work, entry.roots) for entry in entries(snapshot)] == [
            ("elm", "root-prune", None),
            ("elm", "observe", None),
            ("elm", "begin", None),
            ("elm", "sacrifice", None),
            ("elm", "wire", None),
            ("elm", "cut-off", None),
            ("oak-3", "sever-layer", "dense"),
        ]


def test_what_stands_already_is_not_added_twice(exported: Path, tmp_path: Path) -> None:
    imported(tmp_path, exported)

    assert imported(tmp_path, exported) == Imported(entries_new=0, entries_known=9, readings_new=0, readings_known=4)
    with Database.open(tmp_path / "b.sqlite", NOW) as database, database.snapshot(NOW) as snapshot:
        assert care_log_lines(snapshot) == (exported / LOG).read_bytes()


def test_entries_join_those_that_are_there_under_new_numbers(exported: Path, tmp_path: Path) -> None:
    with Database.open(tmp_path / "b.sqlite", NOW) as database, database.transaction(NOW) as transaction:
        add(transaction, Entry("ash", "wire", NOON), BERLIN)

    imported(tmp_path, exported)

    with Database.open(tmp_path / "b.sqlite", NOW) as database, database.snapshot(NOW) as snapshot:
        rows = snapshot.execute("SELECT number, superseded_by FROM entry WHERE superseded_by IS NOT NULL").fetchall()
    assert [tuple(row) for row in rows] == [(2, 10)]


@pytest.mark.parametrize(
    ("name", "line", "changes", "said"),
    [
        (LOG, 1, {"version": 2}, f'{LOG} line 1 must be {{"carewatch": "care-log", "version": 1}}'),
        (LOG, 2, {"tree": None}, f"{LOG} line 2: tree is missing"),
        (LOG, 2, {"tree": "Oak 3"}, f"{LOG} line 2: not accepted (CHECK constraint failed: tree_is_an_id)"),
        (LOG, 2, {"rots": "fair"}, f"{LOG} line 2: 'rots' is not a known key; accepted: number, tree"),
        (LOG, 2, {"roots": "few"}, f'{LOG} line 2: roots is "few"; accepted: sparse, fair, dense'),
        (LOG, 2, {"tied": 1}, f"{LOG} line 2: tied is 1; accepted: true or false"),
        (LOG, 3, {"removed": True}, f"{LOG} line 3: removed is true; accepted: a number"),
        (LOG, 3, {"removed": float("nan")}, f"{LOG} line 3 is no JSON object"),
        (LOG, 2, {"note": "\ud800"}, f"{LOG} line 2: note holds signs that are no text"),
        (LOG, 2, {"at": "2026-02-30T12:00:00Z"}, f'{LOG} line 2: at is "2026-02-30T12:00:00Z"; accepted: a UTC time'),
        (LOG, 2, {"day": "2026-11-06"}, f"{LOG} line 2: day 2026-11-06 is not the day of 2026-11-04T11:00:00Z"),
        (LOG, 2, {"at": "2026-12-04T11:00:00Z", "day": "2026-12-04"}, f"{LOG} line 2: 2026-12-04T11:00:00Z lies in"),
        (LOG, 2, {"superseded_by": 77}, f"{LOG} line 2: superseded_by is 77, and no line has this number"),
        (LOG, 3, {"number": 1}, f"{LOG} line 3: number 1 stands there twice"),
        (LOG, 2, {"struck_at": None}, f"{LOG} line 10: sever-layer of oak-3 on 2026-11-04 is entry 1 of the database"),
        (READINGS, 2, {"value_c": 400}, f"{READINGS} line 2: not accepted"),
        (READINGS, 2, {"at": "2026-11-06T09:00:00Z"}, f"{READINGS} line 2: 2026-11-06T09:00:00Z lies in the future"),
        (LOG, 7, {"due": "2027-13-01"}, f'{LOG} line 7: due is "2027-13-01"; accepted: a date such as 2026-11-05'),
        (LOG, 7, {"due": "2027-8-1"}, f'{LOG} line 7: due is "2027-8-1"; accepted: a date'),
        (LOG, 8, {"gauge_mm": 10**400}, f"{LOG} line 8: not accepted (CHECK constraint failed: gauge_is_of_wire)"),
        (LOG, 9, {"other_tree": "Elm 2"}, f"{LOG} line 9: not accepted (CHECK constraint failed: other_tree_is_an_id)"),
        (
            READINGS,
            2,
            {"at": "2026-11-05T09:00:00Z"},
            f"{READINGS} line 4: wall has a reading of -3.7 °C at 2026-11-05",
        ),
        (READINGS, 3, {"superseded_by": 9}, f"{READINGS} line 3: superseded_by is 9, and no line has this number"),
        (READINGS, 3, {"superseded_by": 2}, f"{READINGS} line 3: superseded_by is its own number"),
        (READINGS, 4, {"number": 1}, f"{READINGS} line 4: number 1 stands there twice"),
    ],
)
def test_one_line_that_is_wrong_is_named_and_nothing_is_stored(
    exported: Path, tmp_path: Path, name: str, line: int, changes: dict[str, object], said: str
) -> None:
    edited(exported, name, line, **changes)

    assert said in refusal(lambda: imported(tmp_path, exported))
    with Database.open(tmp_path / "b.sqlite", NOW) as database, database.snapshot(NOW) as snapshot:
        assert care_log_lines(snapshot).count(b"\n") == 1
        assert reading_lines(snapshot).count(b"\n") == 1


def test_all_that_is_wrong_is_told_at_once(exported: Path, tmp_path: Path) -> None:
    edited(exported, LOG, 2, roots="few")
    edited(exported, LOG, 3, removed="a third")
    (exported / READINGS).unlink()

    said = refusal(lambda: imported(tmp_path, exported)).split("\n")

    assert [text.split(f"{exported}/")[1][:21] for text in said] == [
        "care-log.jsonl line 2",
        "care-log.jsonl line 3",
        "readings.jsonl cannot",
    ]


def test_an_entry_that_differs_from_the_one_that_stands_is_refused(exported: Path, tmp_path: Path) -> None:
    imported(tmp_path, exported)
    edited(exported, LOG, 3, removed=0.5)

    assert "line 3: root-prune of elm on 2026-11-04 is entry 2" in refusal(lambda: imported(tmp_path, exported))


def test_an_entry_that_was_struck_on_one_side_only_is_not_decided_by_the_program(
    exported: Path, tmp_path: Path
) -> None:
    imported(tmp_path, exported)
    with Database.open(tmp_path / "b.sqlite", NOW) as database, database.transaction(NOW) as transaction:
        strike(transaction, 2)

    assert "line 3: the same as entry 2 of the database, but struck" in refusal(lambda: imported(tmp_path, exported))


def test_a_reading_that_was_struck_on_one_side_only_is_not_decided_by_the_program(
    exported: Path, tmp_path: Path
) -> None:
    imported(tmp_path, exported)
    with Database.open(tmp_path / "b.sqlite", NOW) as database, database.transaction(NOW) as transaction:
        strike_reading(transaction, 1)

    assert "reading of wall at 2026-11-05T10:00:00Z was struck in only one" in refusal(
        lambda: imported(tmp_path, exported)
    )


def test_readings_that_were_exported_without_numbers_are_read_back(exported: Path, tmp_path: Path) -> None:
    """Earlier versions wrote none, and no file of weather."""
    for line in (2, 4):
        edited(exported, READINGS, line, number=None)
    lines = (exported / READINGS).read_text(encoding="utf-8").splitlines()
    (exported / READINGS).write_text("\n".join([lines[0], lines[1], lines[3], ""]), encoding="utf-8")
    (exported / WEATHER).unlink()

    assert imported(tmp_path, exported).readings_new == 2


def test_the_record_of_the_weather_goes_with_it(exported: Path, tmp_path: Path) -> None:
    """Seasons and recovery rest on a year of it: without it the same log would give another outlook."""
    day = date(2026, 3, 14)
    index = pd.date_range(day.isoformat(), periods=24, freq="h", tz="UTC")
    hours = pd.DataFrame({name: np.linspace(1.0, 9.0, 24) for name in columns()}, index=index)
    packed = days_asked_for(hours, "archive", day, day + timedelta(days=1))
    with Database.open(tmp_path / "a.sqlite", NOW) as database:
        with database.transaction(NOW) as transaction:
            save_past_days(transaction, "50.3000 9.1000 250", packed)
        export_directory(database, exported, NOW)

    assert imported(tmp_path, exported).weather_days_new == 2
    assert imported(tmp_path, exported).weather_days_new == 0

    with (
        Database.open(tmp_path / "a.sqlite", NOW) as before,
        Database.open(tmp_path / "b.sqlite", NOW) as after,
        before.snapshot(NOW) as first,
        after.snapshot(NOW) as second,
    ):
        assert day_states(second, "50.3000 9.1000 250") == day_states(first, "50.3000 9.1000 250")
        assert weather_lines(second) == weather_lines(first) == (exported / WEATHER).read_bytes()
    edited(exported, WEATHER, 2, packed="no weather")
    assert "past-weather.jsonl line 2: packed is no packed day" in refusal(lambda: imported(tmp_path, exported))


def test_the_day_that_a_forecast_foresaw_is_read_back_and_no_later_one(exported: Path, tmp_path: Path) -> None:
    """The record keeps a day of every answer's future: what a running service exports was refused as lying ahead."""
    tomorrow = (NOW + timedelta(hours=26)).date()
    index = pd.date_range(tomorrow.isoformat(), periods=12, freq="h", tz="UTC")
    hours = pd.DataFrame({name: np.linspace(1.0, 9.0, 12) for name in columns()}, index=index)
    with Database.open(tmp_path / "a.sqlite", NOW) as database:
        with database.transaction(NOW) as transaction:
            save_past_days(transaction, "50.3000 9.1000 250", days_asked_for(hours, "open-meteo", tomorrow, tomorrow))
        export_directory(database, exported, NOW)

    assert imported(tmp_path, exported).weather_days_new == 1
    edited(exported, WEATHER, 2, day=(tomorrow + timedelta(days=1)).isoformat())
    assert "lies in the future" in refusal(lambda: imported(tmp_path, exported))


def test_an_entry_that_stands_in_a_file_is_not_doubled(exported: Path, tmp_path: Path) -> None:
    in_file = replace(SEVERED, origin="garden.toml line 9")

    assert "stands in garden.toml line 9 already" in refusal(lambda: imported(tmp_path, exported, in_file))


WORK_ENTRIES = st.builds(
    Entry,
    tree=st.sampled_from(["oak-3", "elm", "a" * 40]),
    work=st.sampled_from(WORKS),
    at=st.datetimes(datetime(1950, 1, 2), datetime(2026, 11, 4), timezones=st.just(BERLIN)),  # noqa: DTZ001
    roots=st.sampled_from([None, "sparse", "fair", "dense"]),
    roots_worked=st.booleans(),
    removed=st.none() | st.floats(min_value=0, max_value=1, exclude_min=True),
    tied=st.booleans(),
    paste=st.booleans(),
    branch=st.sampled_from([None, "low left", "trunk", "“Ast”"]),
    gauge_mm=st.none() | st.floats(min_value=0.3, max_value=12),
    other_tree=st.sampled_from([None, "elm-2"]),
    note=st.none() | st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=40),
)
SEEN_ENTRIES = st.builds(
    Entry,
    tree=st.just("elm"),
    work=st.just("observe"),
    at=st.datetimes(datetime(1950, 1, 2), datetime(2026, 11, 4), timezones=st.just(BERLIN)),  # noqa: DTZ001
    seen=st.sampled_from(OBSERVATIONS),
)


@settings(max_examples=40, deadline=None)
@given(st.lists(WORK_ENTRIES | SEEN_ENTRIES, max_size=5), st.sets(st.integers(1, 5)))
def test_any_log_survives_the_round_trip(
    tmp_path_factory: pytest.TempPathFactory, log: list[Entry], struck: set[int]
) -> None:
    folder = tmp_path_factory.mktemp("round")
    with Database.in_memory(NOW) as first, Database.in_memory(NOW) as second:
        with first.transaction(NOW) as transaction:
            stored = 0
            for entry in log:
                try:
                    stored = add(transaction, entry, BERLIN).number
                except StoreRefused:
                    continue
            for number in struck & set(range(1, stored + 1)):
                strike(transaction, number)
        export_directory(first, folder, NOW)
        import_directory(second, folder, NOW, BERLIN)
        with first.snapshot(NOW) as before, second.snapshot(NOW) as after:
            assert care_log_lines(after) == care_log_lines(before) == (folder / LOG).read_bytes()
            assert entries(after) == entries(before)
