"""A day of hours as bytes: small, exact enough, and an hour that a newer answer does not know stays as it was."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from carewatch.forecast.packing import columns, days_asked_for, past_days, unpacked
from carewatch.forecast.raw import AUXILIARY, VARIABLES
from carewatch.forecast.record import ARCHIVE, OPEN_METEO
from tests.forecast.answers import BEGINS, frame

FIRST = BEGINS.date()
WHOLE = datetime(2026, 6, 14, 23, tzinfo=UTC)


def test_every_variable_of_an_answer_has_a_place() -> None:
    """One that is added needs a new form; the old one stays readable."""
    assert set(columns()) == {*VARIABLES, *AUXILIARY}


def test_what_is_packed_comes_back_to_a_hundredth_of_a_degree_and_half_a_watt() -> None:
    single = frame()

    days = past_days(single, OPEN_METEO, FIRST, WHOLE)

    assert [day.day for day in days] == [FIRST + timedelta(days=number) for number in range(7)]
    for number, day in enumerate(days):
        hours = unpacked(day.content)
        given = single.iloc[24 * number : 24 * number + 24]
        assert (day.hours, day.origin) == (24, OPEN_METEO)
        assert day.mean_c == pytest.approx(given["air_temp_c"].mean(), abs=0.01)
        assert hours[:, columns().index("air_temp_c")] == pytest.approx(given["air_temp_c"].to_numpy(), abs=0.01)
        assert hours[:, columns().index("global_wm2")] == pytest.approx(given["global_wm2"].to_numpy(), abs=0.5)
        assert hours[:, columns().index("pressure_kpa")] == pytest.approx(given["pressure_kpa"].to_numpy(), abs=0.05)
        assert np.isnan(hours[:, columns().index("relative_humidity")]).all()
        assert len(day.content) < 1000


def test_hours_after_the_last_that_is_taken_are_left_unknown() -> None:
    days = past_days(frame(), OPEN_METEO, FIRST, datetime(2026, 6, 9, 10, tzinfo=UTC))

    assert [(day.day, day.hours) for day in days] == [(FIRST, 24), (FIRST + timedelta(days=1), 11)]
    assert past_days(frame(), OPEN_METEO, date(2026, 7, 1), WHOLE) == ()


def test_a_newer_answer_wins_hour_by_hour_and_what_it_does_not_know_stays() -> None:
    single = frame()
    stored = past_days(single, OPEN_METEO, FIRST, WHOLE)
    newer = single.iloc[10:20].copy()
    newer["air_temp_c"] += 5.0
    newer["rain_mm"] = np.nan

    (changed,) = past_days(newer, OPEN_METEO, FIRST, WHOLE, stored)

    hours = unpacked(changed.content)
    air, before = hours[:, 0], single["air_temp_c"].to_numpy()[:24]
    assert air[10:20] == pytest.approx(before[10:20] + 5.0, abs=0.02)
    assert np.delete(air, np.s_[10:20]) == pytest.approx(np.delete(before, np.s_[10:20]), abs=0.02)
    assert np.isfinite(hours[:, columns().index("rain_mm")]).all()
    assert past_days(single, OPEN_METEO, FIRST, WHOLE, stored) == ()


def test_a_day_that_was_asked_for_and_not_answered_is_there_without_hours() -> None:
    """So it is known that it was asked for."""
    days = days_asked_for(frame(), ARCHIVE, FIRST - timedelta(days=2), FIRST)

    assert [(day.hours, day.mean_c is None) for day in days] == [(0, True), (0, True), (24, False)]
    assert np.isnan(unpacked(days[0].content)).all()


@pytest.mark.parametrize("content", [b"", b"\x09abc", b"\x01abc"])
def test_bytes_that_are_no_packed_day_are_refused(content: bytes) -> None:
    with pytest.raises(ValueError, match="packed day"):
        unpacked(content)
