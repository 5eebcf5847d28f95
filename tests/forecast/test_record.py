"""The record of past weather: which days are wanted, which are known, and which are asked for when."""

from datetime import UTC, date, datetime, timedelta

import pytest

from carewatch.forecast.record import (
    ARCHIVE,
    ARCHIVE_LAG_DAYS,
    CHUNK_DAYS,
    MET_NORWAY,
    OPEN_METEO,
    DayState,
    Span,
    all_chunks,
    archive_offset_k,
    best_means,
    next_chunk,
    record_begins,
    wanted_record,
)

NOW = datetime(2026, 11, 5, 12, tzinfo=UTC)
TODAY = NOW.date()
BEGINS = TODAY - timedelta(days=366)
LAST = TODAY - timedelta(days=ARCHIVE_LAG_DAYS + 1)


def state(day: date, origin: str = ARCHIVE, hours: int = 24, mean_c: float = 8.0, tries: int = 1) -> DayState:
    return DayState(day, origin, hours, mean_c if hours else None, tries, NOW)


def days(first: date, last: date, origin: str = ARCHIVE, hours: int = 24) -> list[DayState]:
    return [state(first + timedelta(days=number), origin, hours) for number in range((last - first).days + 1)]


def test_the_record_begins_a_year_ago_or_with_the_oldest_work_that_can_be_unfinished() -> None:
    """Works of more than three seasons ago have closed by the thermal times of the table of works."""
    assert record_begins([], TODAY) == BEGINS
    assert record_begins([date(2026, 5, 1)], TODAY) == BEGINS
    assert record_begins([date(2024, 9, 1), date(2026, 5, 1)], TODAY) == date(2024, 9, 1)
    assert record_begins([date(2019, 3, 1), date(2025, 3, 1)], TODAY) == date(2025, 3, 1)


def test_an_empty_record_is_asked_for_in_chunks_from_the_newest_day_that_the_archive_has() -> None:
    """The reanalysis is five days behind (documentation of the archive); no day is asked for twice or left out."""
    chunks = all_chunks([], BEGINS, NOW, TODAY)

    assert chunks[0].last == LAST
    assert chunks[-1].first == BEGINS
    assert all(chunk.days <= CHUNK_DAYS for chunk in chunks)
    asked = [chunk.first + timedelta(days=number) for chunk in chunks for number in range(chunk.days)]
    assert sorted(asked) == [BEGINS + timedelta(days=number) for number in range((LAST - BEGINS).days + 1)]


def test_what_is_stored_is_not_asked_for_again_and_the_rest_goes_on_where_it_was() -> None:
    first = next_chunk([], BEGINS, NOW, TODAY)
    assert first is not None

    second = next_chunk(days(first.first, first.last), BEGINS, NOW, TODAY)

    assert second is not None
    assert second.last == first.first - timedelta(days=1)
    assert next_chunk(days(BEGINS, LAST), BEGINS, NOW, TODAY) is None


def test_the_forecast_source_s_own_whole_days_are_asked_for_only_beside_others() -> None:
    """Some days that both know show how they differ; a record that is whole stays unasked."""
    own = days(TODAY - timedelta(days=14), TODAY - timedelta(days=1), OPEN_METEO)
    first = next_chunk(own, BEGINS, NOW, TODAY)
    assert first is not None
    assert first.last == LAST

    archived = days(BEGINS, TODAY - timedelta(days=15))
    assert next_chunk([*own, *archived], BEGINS, NOW, TODAY) is None


def test_a_gap_alone_is_asked_for_alone() -> None:
    """Two days in spring do not cost the summer between them and today."""
    gap = Span(date(2026, 3, 12), date(2026, 3, 14))
    held = [known for known in days(BEGINS, LAST) if not gap.first <= known.day <= gap.last]

    assert all_chunks(held, BEGINS, NOW, TODAY) == (gap,)
    assert wanted_record(held, BEGINS, TODAY).gaps == (gap, Span(LAST + timedelta(days=1), TODAY - timedelta(days=1)))


@pytest.mark.parametrize(("tries", "waits_days"), [(1, 1), (2, 2), (3, 4), (9, 32)])
def test_days_that_the_archive_did_not_know_are_asked_for_again_later_and_later(tries: int, waits_days: int) -> None:
    day = date(2026, 3, 12)
    held = [known for known in days(BEGINS, LAST) if known.day != day] + [state(day, hours=7, tries=tries)]
    due = NOW + timedelta(days=waits_days)

    assert next_chunk(held, BEGINS, due - timedelta(minutes=1), TODAY) is None
    assert next_chunk(held, BEGINS, due, TODAY) == Span(day, day)


def test_a_try_that_was_noted_by_a_clock_that_was_wrong_does_not_stop_the_next() -> None:
    day = date(2026, 3, 12)
    held = [known for known in days(BEGINS, LAST) if known.day != day] + [state(day, hours=0)]

    assert next_chunk(held, BEGINS, NOW - timedelta(days=100), TODAY) == Span(day, day)


def test_the_most_trusted_origin_with_enough_of_a_day_gives_its_mean() -> None:
    """Eighteen hours are enough, as everywhere; today is not over."""
    day = date(2026, 10, 1)
    both = [state(day, ARCHIVE, mean_c=7.0), state(day, MET_NORWAY, mean_c=8.0), state(day, OPEN_METEO, mean_c=9.0)]

    assert best_means(both, TODAY) == ((day, OPEN_METEO, 9.0),)
    assert best_means(both[:2], TODAY) == ((day, MET_NORWAY, 8.0),)
    assert best_means([both[0], state(day, OPEN_METEO, 17, 9.0)], TODAY) == ((day, ARCHIVE, 7.0),)
    assert best_means([state(TODAY, OPEN_METEO)], TODAY) == ()


def test_how_the_archive_differs_is_read_from_whole_days_that_both_know() -> None:
    held = [
        state(date(2026, 10, 1), ARCHIVE, mean_c=7.0),
        state(date(2026, 10, 1), OPEN_METEO, mean_c=8.0),
        state(date(2026, 10, 2), ARCHIVE, mean_c=7.0),
        state(date(2026, 10, 2), OPEN_METEO, mean_c=7.5),
        state(date(2026, 10, 3), ARCHIVE, mean_c=20.0),
        state(date(2026, 10, 3), OPEN_METEO, 20, 1.0),
    ]

    offset = archive_offset_k(held, TODAY)
    assert offset is not None
    assert offset[0] == pytest.approx(-0.75)
    assert offset[1] == 2
    assert archive_offset_k(held[:1], TODAY) is None
