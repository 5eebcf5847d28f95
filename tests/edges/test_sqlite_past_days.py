"""The stored record: one row per day, origin and place, replaced by what knows more, and read back as it was."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from carewatch.forecast.record import ARCHIVE, MET_NORWAY, OPEN_METEO, PastDay
from carewatch.sqlite.database import Database
from carewatch.sqlite.past_days import day_states, past_record, save_past_days, site_key
from carewatch.sqlite.refused import StoreRefused

NOW = datetime(2026, 11, 5, 12, tzinfo=UTC)
HERE, THERE = site_key(50.3, 9.1, 250.0), site_key(50.3, 9.1, 260.0)
DAY = PastDay(date(2026, 11, 1), ARCHIVE, 24, 7.5, b"whole")


@pytest.fixture
def database() -> Iterator[Database]:
    with Database.in_memory(NOW) as opened:
        yield opened


def save(database: Database, *days: PastDay, site: str = HERE, at: datetime = NOW) -> None:
    with database.transaction(at) as transaction:
        save_past_days(transaction, site, days)


def test_a_day_is_read_back_with_the_time_at_which_it_was_stored(database: Database) -> None:
    save(database, DAY, replace(DAY, origin=OPEN_METEO, mean_c=8.0))

    with database.snapshot(NOW) as snapshot:
        states = day_states(snapshot, HERE)
        record = past_record(snapshot, HERE, 5)

    assert [(state.origin, state.hours, state.mean_c, state.tries, state.at) for state in states] == [
        (ARCHIVE, 24, 7.5, 1, NOW),
        (OPEN_METEO, 24, 8.0, 0, NOW),
    ]
    assert record.means == ((DAY.day, OPEN_METEO, 8.0),)
    assert record.recent == (DAY, replace(DAY, origin=OPEN_METEO, mean_c=8.0))


def test_an_answer_that_knows_less_than_an_earlier_one_only_counts_as_a_try(database: Database) -> None:
    unknown = replace(DAY, hours=0, mean_c=None, content=b"nothing")
    save(database, unknown)
    save(database, DAY, at=NOW + timedelta(days=1))
    save(database, unknown, at=NOW + timedelta(days=2))

    with database.snapshot(NOW) as snapshot:
        (state,) = day_states(snapshot, HERE)
        (day,) = past_record(snapshot, HERE, 5).recent

    assert (state.hours, state.mean_c, state.tries, state.at) == (24, 7.5, 3, NOW + timedelta(days=2))
    assert day == DAY


def test_another_place_or_height_has_another_past(database: Database) -> None:
    save(database, DAY, site=THERE)

    with database.snapshot(NOW) as snapshot:
        assert day_states(snapshot, HERE) == ()
        assert len(day_states(snapshot, THERE)) == 1
    assert site_key(50.30001, 9.1, 250.0) == HERE
    assert site_key(50.3, 9.1, None) not in (HERE, THERE)


def test_only_recent_days_come_with_their_hours_and_all_with_their_means(database: Database) -> None:
    old = replace(DAY, day=date(2025, 11, 1))
    save(database, old, DAY)

    with database.snapshot(NOW) as snapshot:
        record = past_record(snapshot, HERE, 4)

    assert [day.day for day in record.recent] == [DAY.day]
    assert [day for day, _, _ in record.means] == [old.day, DAY.day]


@pytest.mark.parametrize(
    "wrong",
    [
        {"hours": 25},
        {"hours": 0},
        {"mean_c": None},
        {"mean_c": 300.0},
        {"origin": "hearsay"},
    ],
    ids=str,
)
def test_a_day_that_cannot_be_is_refused_whole(database: Database, wrong: dict[str, object]) -> None:
    with pytest.raises(StoreRefused):
        save(database, replace(DAY, origin=MET_NORWAY), replace(DAY, **wrong))  # type: ignore[arg-type]  # on purpose

    with database.snapshot(NOW) as snapshot:
        assert day_states(snapshot, HERE) == ()
