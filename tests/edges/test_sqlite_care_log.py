"""The care log and the readings: doubles are refused, corrections keep what they correct, nothing is erased."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from carewatch.care.log import Entry
from carewatch.sqlite.care_log import add, amend, entries, entry_identity, history, log_version, strike
from carewatch.sqlite.database import Database
from carewatch.sqlite.readings import (
    Reading,
    add_reading,
    amend_reading,
    reading_history,
    readings,
    strike_reading,
)
from carewatch.sqlite.refused import StoreRefused

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 11, 5, 11, tzinfo=UTC)
NOON = datetime(2026, 11, 4, 12, tzinfo=BERLIN)
SEVERED = Entry(
    "oak-3", "sever-layer", NOON, roots="sparse", roots_worked=True, tied=True, note="gale “Anna”\n2nd line"
)


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    with Database.open(tmp_path / "a.sqlite", NOW) as opened:
        yield opened


def stored(database: Database, *added: Entry) -> tuple[Entry, ...]:
    """The entries that hold once these were added, without where they stand."""
    with database.transaction(NOW) as transaction:
        for entry in added:
            add(transaction, entry, BERLIN)
        return tuple(replace(entry, origin="") for entry in entries(transaction))


def refused(database: Database, entry: Entry, *elsewhere: Entry) -> str:
    with pytest.raises(StoreRefused) as refusal, database.transaction(NOW) as transaction:
        add(transaction, entry, BERLIN, elsewhere)
    return refusal.value.reason


def test_entries_come_back_as_they_went_in_oldest_first(database: Database) -> None:
    moved = Entry("oak-3", "move", NOON - timedelta(days=1), to="shed")
    pruned = Entry("elm", "root-prune", NOON - timedelta(days=30), removed=0.3, paste=True)
    wilting = Entry("elm", "observe", NOON, seen="wilting")
    fleeced = Entry("elm", "begin", NOON + timedelta(hours=6), measure="move:cold-frame")

    assert stored(database, SEVERED, moved, pruned, wilting, fleeced) == (pruned, moved, SEVERED, wilting, fleeced)


def test_an_entry_says_where_it_stands(database: Database) -> None:
    with database.transaction(NOW) as transaction:
        number = add(transaction, SEVERED, BERLIN).number
        assert [entry.origin for entry in entries(transaction)] == [f"entry {number} of the database"]


def test_a_work_is_done_once_a_day_at_the_site(database: Database) -> None:
    """20:00 in New York on the 3rd is the 4th in UTC: what counts is the day of the garden."""
    new_york = ZoneInfo("America/New_York")
    evening = Entry("elm", "wire", datetime(2026, 11, 3, 20, tzinfo=new_york))
    next_noon = replace(evening, at=datetime(2026, 11, 4, 12, tzinfo=new_york))

    assert entry_identity(evening, new_york) != entry_identity(next_noon, new_york)
    assert entry_identity(evening, UTC) == entry_identity(next_noon, UTC)
    stored(database, SEVERED)
    again = replace(SEVERED, at=NOON + timedelta(hours=3), roots="fair")
    assert refused(database, again) == (
        "sever-layer of oak-3 on 2026-11-04 is in the care log already (entry 1 of the database). "
        "To correct it: `carewatch log oak-3 amend 1`."
    )


def test_what_recurs_in_a_day_is_double_only_at_the_same_moment(database: Database) -> None:
    out = Entry("elm", "move", NOON, to="bench")
    watered = Entry("elm", "water", NOON)

    assert len(stored(database, out, replace(out, at=NOON + timedelta(hours=5)), replace(out, to="shed"), watered)) == 4
    assert "Give the time of day if it was done twice." in refused(database, watered)


def test_what_stands_in_a_file_is_not_doubled_in_the_database(database: Database) -> None:
    in_file = replace(SEVERED, origin="config.toml line 41", at=NOON + timedelta(hours=1))

    assert "(config.toml line 41)" in refused(database, SEVERED, in_file)


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        (replace(SEVERED, at=NOON + timedelta(days=2)), "lies in the future (today is 2026-11-05)"),
        (replace(SEVERED, at=NOON.replace(year=1949)), "lies before 1950"),
        (replace(SEVERED, work="sever"), "'sever' is no work of the care log; it knows set-layer, sever-layer"),
        (Entry("elm", "observe", NOON, seen="sad"), "'sad' is no observation"),
        (replace(SEVERED, tree="Oak 3"), "tree_is_an_id"),
        (replace(SEVERED, removed=1.5), "removed_is_a_share"),
        (replace(SEVERED, note="x" * 2001), "note_is_short"),
        (replace(SEVERED, note="\udcff"), "no text"),
        (Entry("elm", "move", NOON), "move_names_its_place"),
        (replace(SEVERED, measure="fleece"), "begin_and_end_name_their_measure"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_stored(database: Database, entry: Entry, said: str) -> None:
    assert said in refused(database, entry)
    assert stored(database) == ()


def test_the_work_of_today_may_be_written_down_before_noon(database: Database) -> None:
    """A bare date means noon; at 9 in the morning this is not the future."""
    today = replace(SEVERED, at=datetime(2026, 11, 5, 12, tzinfo=BERLIN))
    with database.transaction(datetime(2026, 11, 5, 9, tzinfo=BERLIN)) as transaction:
        assert add(transaction, today, BERLIN).entry.at == today.at


def test_a_struck_entry_holds_no_more_and_stays_to_be_seen(database: Database) -> None:
    stored(database, SEVERED)
    with database.transaction(NOW + timedelta(hours=1)) as transaction:
        strike(transaction, 1)
        assert entries(transaction) == ()
        assert [(found.number, found.struck_at) for found in history(transaction)] == [(1, NOW + timedelta(hours=1))]
        with pytest.raises(StoreRefused, match="entry 1 was struck on 2026-11-05"):
            strike(transaction, 1)
        with pytest.raises(StoreRefused, match="has no entry 7"):
            strike(transaction, 7)
    assert stored(database, SEVERED) == (SEVERED,)


def test_a_correction_keeps_what_it_corrects_and_what_was_known_before(database: Database) -> None:
    stored(database, SEVERED)
    later = NOW + timedelta(hours=1)
    with database.transaction(later) as transaction:
        after = amend(transaction, 1, replace(SEVERED, roots="dense"), BERLIN)
        assert after.number == 2
        assert [entry.roots for entry in entries(transaction)] == ["dense"]
        assert [(found.entry.roots, found.superseded_by) for found in history(transaction)] == [
            ("sparse", 2),
            ("dense", None),
        ]
        assert [entry.roots for entry in entries(transaction, as_of=later - timedelta(seconds=1))] == ["sparse"]
        assert [entry.roots for entry in entries(transaction, as_of=later)] == ["dense"]
        assert entries(transaction, as_of=NOW - timedelta(days=1)) == ()


def test_a_correction_that_is_refused_leaves_the_old_entry_standing(database: Database) -> None:
    wired = Entry("oak-3", "wire", NOON)
    stored(database, SEVERED, wired)
    with database.transaction(NOW) as transaction:
        with pytest.raises(StoreRefused, match="in the care log already"):
            amend(transaction, 2, SEVERED, BERLIN)
        assert amend(transaction, 2, wired, BERLIN).number == 2
        assert len(entries(transaction)) == len(history(transaction)) == 2


@pytest.mark.parametrize(
    ("sql", "said"),
    [
        ("DELETE FROM entry", "struck, never erased"),
        ("UPDATE entry SET roots = 'dense'", "superseded, never changed"),
        ("UPDATE entry SET branch = 'top'", "superseded, never changed"),
        ("DELETE FROM reading", "struck, never erased"),
        ("UPDATE reading SET value_c = 3", "superseded, never changed"),
    ],
)
def test_the_file_itself_keeps_the_log_whole(database: Database, sql: str, said: str) -> None:
    stored(database, SEVERED)
    with database.transaction(NOW) as transaction:
        add_reading(transaction, Reading("bench", NOW, 1))

    with pytest.raises(StoreRefused, match=said), database.transaction(NOW) as transaction:
        transaction.execute(sql)


def test_several_branches_are_wired_in_a_day_and_each_only_once(database: Database) -> None:
    top = Entry("elm", "wire", NOON, branch="top", gauge_mm=2.5)

    assert len(stored(database, top, replace(top, branch="low left"))) == 2
    assert "Name the branch of each" in refused(database, replace(top, gauge_mm=3.0))


def test_every_option_of_an_entry_comes_back(database: Database) -> None:
    for entry in (
        Entry("elm", "sacrifice", NOON, branch="leader", due=date(2027, 8, 20)),
        Entry("elm", "cut-off", NOON, branch="leader", removed=0.4, paste=True, other_tree="elm-2"),
        Entry("elm", "wire", NOON, branch="top", gauge_mm=2.5, tied=True),
        Entry("elm", "feed", NOON, note="solid, organic"),
    ):
        assert entry in stored(database, entry)


def test_a_reading_is_struck_or_corrected_and_counts_no_more(database: Database) -> None:
    """As known before the correction it still counts: an earlier moment is judged by what was known then."""
    reading = Reading("bench", NOW - timedelta(hours=1), -35)
    later = NOW + timedelta(minutes=5)
    with database.transaction(NOW) as transaction:
        add_reading(transaction, reading)
        add_reading(transaction, replace(reading, place="wall"))
    with database.transaction(later) as transaction:
        after = amend_reading(transaction, 1, replace(reading, value_c=-3.5))
        strike_reading(transaction, 2)

        assert (after.number, after.reading.value_c) == (3, -3.5)
        assert readings(transaction) == (replace(reading, value_c=-3.5),)
        assert len(readings(transaction, as_of=NOW)) == 2
        assert [(found.number, found.struck_at, found.superseded_by) for found in reading_history(transaction)] == [
            (1, later, 3),
            (2, later, None),
            (3, None, None),
        ]
        with pytest.raises(StoreRefused, match="reading 1 was struck on 2026-11-05 and superseded by reading 3"):
            strike_reading(transaction, 1)
        with pytest.raises(StoreRefused, match="there is no reading 9"):
            amend_reading(transaction, 9, reading)
        assert amend_reading(transaction, 3, replace(reading, value_c=-3.5)).number == 3


def test_a_correction_of_a_reading_that_is_refused_leaves_the_old_one_standing(database: Database) -> None:
    first = Reading("bench", NOW - timedelta(hours=2), 1)
    second = Reading("bench", NOW - timedelta(hours=1), 2)
    with database.transaction(NOW) as transaction:
        add_reading(transaction, first)
        add_reading(transaction, second)
        with pytest.raises(StoreRefused, match=r"has a reading of 1 °C at 2026-11-05T09:00:00Z already \(reading 1\)"):
            amend_reading(transaction, 2, replace(second, at=first.at))
        with pytest.raises(StoreRefused, match="stands already; strike this one instead"):
            amend_reading(transaction, 2, first)
        with pytest.raises(StoreRefused, match="future"):
            amend_reading(transaction, 2, replace(second, at=NOW + timedelta(hours=1)))
        assert readings(transaction) == (first, second)


def test_a_reading_is_stored_once_and_has_one_value(database: Database) -> None:
    reading = Reading("bench", NOW - timedelta(hours=1), -3.5)
    with database.transaction(NOW) as transaction:
        assert add_reading(transaction, reading)
        assert not add_reading(transaction, reading)
        with pytest.raises(StoreRefused, match=r"bench has a reading of -3\.5 °C at 2026-11-05T10:00:00Z already"):
            add_reading(transaction, replace(reading, value_c=4))
        with pytest.raises(StoreRefused, match="future"):
            add_reading(transaction, replace(reading, at=NOW + timedelta(seconds=1)))
    with pytest.raises(StoreRefused, match="temperature_of_air"), database.transaction(NOW) as transaction:
        add_reading(transaction, replace(reading, place="wall", value_c=250))
    with database.snapshot(NOW) as snapshot:
        assert readings(snapshot) == (reading,)


def test_readings_are_found_by_time_place_and_what_was_known(database: Database) -> None:
    first = Reading("bench", NOW - timedelta(hours=2), 1)
    second = Reading("wall", NOW - timedelta(hours=1), 2)
    with database.transaction(NOW - timedelta(hours=1)) as transaction:
        add_reading(transaction, second)
    with database.transaction(NOW) as transaction:
        add_reading(transaction, first)

        assert readings(transaction) == (first, second)
        assert readings(transaction, since=second.at) == (second,)
        assert readings(transaction, place="bench") == (first,)
        assert readings(transaction, as_of=NOW - timedelta(hours=1)) == (second,)


def test_the_version_of_the_log_moves_with_all_that_an_assessment_stands_on(database: Database) -> None:
    seen = []
    with database.transaction(NOW) as transaction:
        seen.append(log_version(transaction))
        add(transaction, SEVERED, BERLIN)
        seen.append(log_version(transaction))
        amend(transaction, 1, replace(SEVERED, roots="dense"), BERLIN)
        seen.append(log_version(transaction))
        strike(transaction, 2)
        seen.append(log_version(transaction))
        add_reading(transaction, Reading("bench", NOW, 1))
        seen.append(log_version(transaction))
        strike_reading(transaction, 1)
        seen.append(log_version(transaction))
        entries(transaction)
        assert log_version(transaction) == seen[-1]
    assert seen == sorted(set(seen))
