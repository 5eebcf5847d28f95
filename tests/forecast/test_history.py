"""The past: daily means where they are known, the season's where not, and hours on which floors and pots settle."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from carewatch.forecast.history import daily_history, seasonal_mean_c
from carewatch.forecast.normals import normals_c
from carewatch.forecast.raw import VARIABLES
from carewatch.forecast.spinup import spin_up
from carewatch.forecast.weather import DayMeans, Hours, Weather
from tests.forecast.answers import completed, frame, raw

LATITUDE, LONGITUDE = 52.4, 13.1
TODAY = date(2026, 4, 10)


def _hours(begins: str, count: int, air_c: float = 9.0) -> Hours:
    times = np.datetime64(begins, "s") + np.arange(count) * np.timedelta64(3600, "s")
    values = {name: np.zeros((count, 1)) for name in VARIABLES}
    values["air_temp_c"] = np.full((count, 1), air_c)
    return Hours(times, values)


def test_the_season_s_mean_swings_between_the_normals_of_january_and_july() -> None:
    """Coldest and warmest three weeks after the solstices, half a year apart."""
    days = np.arange("2026-01-01", "2027-01-01", dtype="datetime64[D]")
    mean_c = seasonal_mean_c(days, LATITUDE, LONGITUDE, 40.0)
    january_c, july_c = normals_c(LATITUDE, LONGITUDE, 40.0)
    assert (mean_c.min(), mean_c.max()) == pytest.approx((january_c, july_c), abs=0.01)
    assert days[np.argmax(mean_c)] == np.datetime64("2026-07-25")
    south_c = seasonal_mean_c(days, -37.8, 145.0, 30.0)
    assert days[np.argmax(south_c)] == np.datetime64("2026-01-23")


def test_what_is_known_of_a_winter_shifts_no_summer() -> None:
    """A cold fortnight in January: half of it counts in the weeks before, nothing in July."""
    record = DayMeans(np.arange("2026-01-05", "2026-01-19", dtype="datetime64[D]"), np.full(14, -15.0))
    history = daily_history(
        _hours("2026-01-18T00:00", 0), date(2025, 7, 1), date(2026, 1, 18), 50.0, 10.0, 100.0, record
    )
    shift = history.mean_c - seasonal_mean_c(history.days, 50.0, 10.0, 100.0)
    known = float(shift[-14:].mean())
    assert shift[-15] == pytest.approx(0.5 * known, abs=0.05)
    assert shift[5] == pytest.approx(0.0, abs=0.02)
    assert np.all(np.diff(shift[:-14]) < 0.02)


def test_known_days_are_their_own_mean_and_days_before_follow_the_season() -> None:
    """Shifted by half of what the known days differ from it, a little less a month before."""
    past = _hours("2026-04-01T00:00", 9 * 24, 14.0)
    history = daily_history(past, date(2026, 3, 1), TODAY, LATITUDE, LONGITUDE, 40.0)
    assert history.days[0] == np.datetime64("2026-03-01")
    assert history.days[-1] == np.datetime64(TODAY)
    assert history.mean_c[31:40] == pytest.approx(14.0)
    assert history.assumed_before == date(2026, 4, 1)
    season = seasonal_mean_c(history.days, LATITUDE, LONGITUDE, 40.0)
    shift = 0.5 * (14.0 - season[31:40]).mean()
    assert history.mean_c[30] == pytest.approx(season[30] + shift, abs=0.01)
    assert history.mean_c[:31] == pytest.approx(season[:31] + shift, abs=0.5)


def test_a_day_needs_eighteen_hours_to_count_and_today_six() -> None:
    """A few hours of night are not a day's mean."""
    short = daily_history(_hours("2026-04-09T08:00", 16, 25.0), date(2026, 4, 8), TODAY, LATITUDE, LONGITUDE, 40.0)
    assert short.mean_c[1] < 20.0
    enough = daily_history(_hours("2026-04-09T06:00", 18, 25.0), date(2026, 4, 8), TODAY, LATITUDE, LONGITUDE, 40.0)
    assert enough.mean_c[1] == pytest.approx(25.0)
    today = daily_history(_hours("2026-04-10T00:00", 6, 25.0), date(2026, 4, 8), TODAY, LATITUDE, LONGITUDE, 40.0)
    assert today.mean_c[2] == pytest.approx(25.0)


def test_what_is_assumed_of_months_ago_is_the_same_at_every_hour_of_a_day() -> None:
    """A night of 2 °C before a day of 20 °C: today counts as its last 24 hours, and only whole days shift the past."""
    whole = _hours("2026-04-06T00:00", 5 * 24)
    clock = (whole.times - whole.times.astype("datetime64[D]")) / np.timedelta64(1, "h")
    whole.values["air_temp_c"][:, 0] = 11.0 - 9.0 * np.cos(2.0 * np.pi * (clock - 3.0) / 24.0)
    found = [
        daily_history(
            Hours(whole.times[:end], {name: values[:end] for name, values in whole.values.items()}),
            date(2025, 10, 1),
            TODAY,
            LATITUDE,
            LONGITUDE,
            40.0,
        ).mean_c
        for end in range(4 * 24 + 1, 5 * 24)
    ]
    for mean_c in found:
        assert mean_c[:-1] == pytest.approx(found[0][:-1])
        assert mean_c[-1] == pytest.approx(11.0)


def test_east_of_greenwich_the_day_that_is_not_over_is_yesterday_and_no_gap() -> None:
    """In Sydney the 10th begins at 14:00 UTC of the 9th, when 15 of its hours are known."""
    history = daily_history(
        _hours("2026-04-01T00:00", 8 * 24 + 15, 14.0), date(2026, 4, 1), TODAY, LATITUDE, LONGITUDE, 40.0
    )
    assert history.gaps == ()
    assert history.mean_c[-2] == pytest.approx(14.0)
    assert history.mean_c[-1] == pytest.approx(14.0, abs=0.5)


def test_without_any_past_the_season_stands_in_and_it_is_said() -> None:
    """Until today."""
    history = daily_history(_hours("2026-04-10T00:00", 0), date(2026, 1, 1), TODAY, LATITUDE, LONGITUDE, 40.0)
    assert history.assumed_before == TODAY
    assert history.mean_c == pytest.approx(seasonal_mean_c(history.days, LATITUDE, LONGITUDE, 40.0))


def test_a_whole_record_assumes_nothing() -> None:
    """From its first day on."""
    history = daily_history(_hours("2026-04-01T00:00", 10 * 24), date(2026, 4, 1), TODAY, LATITUDE, LONGITUDE, 40.0)
    assert history.assumed_before is None


def _weather(past: Hours) -> Weather:
    return replace(completed(raw(frame())), past=past)


def test_a_long_record_settles_on_its_last_fourteen_days() -> None:
    """Nothing is assumed."""
    past = _hours("2026-05-20T01:00", 21 * 24)
    lead = spin_up(_weather(past))
    assert not lead.assumed
    assert len(lead.hours) == 14 * 24
    assert lead.hours.times[-1] == past.times[-1]


def test_settling_begins_at_the_same_hour_all_day_long() -> None:
    """What the night before last has made of a pot is the same at breakfast and at supper."""
    starts = {
        spin_up(_weather(_hours("2026-05-20T01:00", 20 * 24 + hour))).hours.times[0] for hour in (0, 1, 7, 22, 23)
    }
    assert starts == {np.datetime64("2026-05-26T01:00")}


@pytest.mark.parametrize("known_hours", [30, 61, 200])
def test_a_short_record_is_preceded_by_three_days_of_its_first(known_hours: int) -> None:
    """Hours go on without a break, and an assumed hour has the weather of the same hour of the clock."""
    weather = completed(raw(frame()))
    past = Hours(weather.past.times[:known_hours], {n: v[:known_hours] for n, v in weather.past.values.items()})
    lead = spin_up(_weather(past))
    assert lead.assumed
    assert len(lead.hours) == 72 + len(past)
    assert np.all(np.diff(lead.hours.times) == np.timedelta64(3600, "s"))
    assert lead.hours.times[-1] == past.times[-1]
    for hour in range(72):
        same = lead.hours.values["air_temp_c"][72 + hour % 24]
        assert lead.hours.values["air_temp_c"][hour] == pytest.approx(same)


@pytest.mark.parametrize("known_hours", [0, 5])
def test_without_a_day_of_record_the_first_day_ahead_stands_in(known_hours: int) -> None:
    """In its middle member, at its own hours of the clock, right up to now."""
    weather = completed(raw(frame()))
    count = len(weather.past)
    past = Hours(
        weather.past.times[count - known_hours :], {n: v[count - known_hours :] for n, v in weather.past.values.items()}
    )
    lead = spin_up(_weather(past))
    assert lead.assumed
    assert lead.hours.members == 1
    assert len(lead.hours) == 72 + known_hours
    assert np.all(np.diff(lead.hours.times) == np.timedelta64(3600, "s"))
    assert lead.hours.times[-1] + np.timedelta64(3600, "s") == weather.ahead.times[0]
    clock = lead.hours.times - lead.hours.times.astype("datetime64[D]")
    expected = 16.0 + 6.0 * np.cos(2.0 * np.pi * (clock / np.timedelta64(1, "h") - 14.0) / 24.0)
    assert lead.hours.values["air_temp_c"][:, 0] == pytest.approx(expected, abs=0.01)


def test_a_recorded_year_assumes_nothing_and_hours_do_better_than_the_record() -> None:
    """Days that `past` does not reach are those of the record."""
    days = np.arange(np.datetime64("2025-04-01"), np.datetime64("2026-04-10"), dtype="datetime64[D]")
    record = DayMeans(days, np.full(days.size, 6.0))

    history = daily_history(
        _hours("2026-04-01T00:00", 9 * 24 + 8, 14.0), date(2025, 4, 1), TODAY, LATITUDE, LONGITUDE, 40.0, record
    )

    assert (history.assumed_before, history.gaps) == (None, ())
    assert history.mean_c[:-10] == pytest.approx(6.0)
    assert history.mean_c[-10:] == pytest.approx(14.0)


def test_a_gap_is_named_and_drawn_from_the_days_around_it() -> None:
    """It keeps the season's course, with a difference that goes over from the one side to the other."""
    days = np.arange(np.datetime64("2026-01-01"), np.datetime64("2026-04-10"), dtype="datetime64[D]")
    season = seasonal_mean_c(days, LATITUDE, LONGITUDE, 40.0)
    kept = (days < np.datetime64("2026-02-10")) | (days > np.datetime64("2026-02-20"))
    away = np.where(days < np.datetime64("2026-02-10"), 2.0, -2.0)

    history = daily_history(
        _hours("2026-04-10T00:00", 0),
        date(2026, 1, 1),
        TODAY,
        LATITUDE,
        LONGITUDE,
        40.0,
        DayMeans(days[kept], (season + away)[kept]),
    )

    assert history.gaps == ((date(2026, 2, 10), date(2026, 2, 20)),)
    drawn = (history.mean_c[: days.size] - season)[~kept]
    assert np.all(np.diff(drawn) < 0.0)
    assert np.all(np.abs(drawn) < 2.0)
    assert history.assumed_before is None
