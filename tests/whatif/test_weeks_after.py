"""After the forecast: the weather that the same weeks had here before, or what is usual, and what it is is said."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pandas as pd
import pytest

from carewatch.forecast.complete import complete
from carewatch.forecast.history import DailyHistory, daily_history, seasonal_mean_c
from carewatch.forecast.packing import past_days
from carewatch.forecast.raw import RawForecast
from carewatch.forecast.record import ARCHIVE, PastDay
from carewatch.forecast.weather import Array, Hours, Times, Weather
from carewatch.place.spot import Site
from carewatch.whatif.almanac import history_ahead
from carewatch.whatif.climate import Weeks, carried_on
from tests.condition.grown import TABLES

SITE = Site("a garden", 50.0, 9.0, 200.0, "Europe/Berlin", "suburban")
NOW = datetime(2026, 9, 5, 7, tzinfo=UTC)
UNTIL = np.datetime64("2026-10-08T10:00:00", "s")


def hourly(first: str, last: str, mean_c: float) -> pd.DataFrame:
    """Hours of a steady climate: half a day's range of 4 K around a mean. [°C]"""
    index = pd.date_range(first, f"{last} 23:00", freq="h", tz="UTC")
    air = mean_c + 4.0 * np.cos(2.0 * np.pi * (index.hour.to_numpy() - 15.0) / 24.0)
    calm = {"wind_10m_ms": 3.0, "cloud": 0.5, "rain_mm": 0.1}
    return pd.DataFrame({"air_temp_c": air, "dew_point_c": air - 2.0, **calm}, index=index)


def foreseen(days: int = 5, mean_c: float = 14.0) -> Weather:
    """A forecast of some days, dressed into members, with two days before it."""
    last = (NOW + timedelta(days=days)).date().isoformat()
    raw = RawForecast("recorded", NOW, 50.0, 9.0, 200.0, hourly("2026-09-03", last, mean_c), {})
    return complete(raw, 50.0, 9.0, 200.0, NOW, TABLES.forecast_errors)


def recorded(mean_c: float, first: str = "2025-08-01") -> tuple[PastDay, ...]:
    """A record up to yesterday."""
    table = hourly(first, "2026-09-04", mean_c)
    return past_days(table, ARCHIVE, date.fromisoformat(first), datetime(2026, 9, 4, 23, tzinfo=UTC))


def history() -> DailyHistory:
    weather = foreseen()
    return daily_history(weather.past, date(2025, 9, 1), date(2026, 9, 5), 50.0, 9.0, 200.0)


def weeks(record: tuple[PastDay, ...], days: int = 5) -> Weeks:
    return carried_on(foreseen(days), UNTIL, record, history(), SITE, NOW)


def after(found: Weeks, name: str) -> Array:
    """A variable of the weeks after the forecast, (hour, member)."""
    return found.hours.values[name][found.forecast :]


def test_the_forecast_itself_is_left_as_it_is() -> None:
    weather = foreseen()
    found = weeks(recorded(12.0))

    assert found.forecast == len(weather.ahead)
    for name, values in weather.ahead.values.items():
        np.testing.assert_array_equal(found.hours.values[name][: found.forecast], values)


@pytest.mark.parametrize("record", [(), recorded(12.0)], ids=["usual", "record"])
def test_the_weeks_follow_on_hour_by_hour_for_every_member(record: tuple[PastDay, ...]) -> None:
    """Nothing is unknown in them, and no dew point lies above the air."""
    found = weeks(record)

    assert (np.diff(found.hours.times) == np.timedelta64(3600, "s")).all()
    assert found.hours.times[-1] == UNTIL
    for name, values in found.hours.values.items():
        assert values.shape == (len(found.hours), foreseen().ahead.members)
        if name != "soil_temp_c":
            assert np.isfinite(values).all(), name
    assert (after(found, "dew_point_c") <= after(found, "air_temp_c") + 1e-9).all()
    night = found.hours.times[found.forecast :].astype("datetime64[h]").astype(int) % 24 == 0
    assert after(found, "global_wm2")[night].max() < 1.0


def test_past_years_of_the_site_stand_in_where_they_are_recorded() -> None:
    """A site as cold as 4 °C in these weeks of last year is cold in the weeks to come, and the year is named."""
    cold, warm = weeks(recorded(4.0)), weeks(recorded(16.0))

    assert (cold.kind, warm.kind) == ("record", "record")
    assert "2025" in cold.told
    assert after(cold, "air_temp_c").mean() == pytest.approx(4.0, abs=1.0)
    assert after(warm, "air_temp_c").mean() == pytest.approx(16.0, abs=1.0)
    assert after(cold, "rain_mm").mean() == pytest.approx(0.1, abs=0.01)


def test_a_course_that_is_moved_by_two_weeks_follows_the_season() -> None:
    """The same air of another date is warmer or colder by what the season does in between."""
    course = after(weeks(recorded(10.0)), "air_temp_c")
    first = course[:24].mean(axis=0)
    days = np.array(["2026-09-11", "2026-08-28"], dtype="datetime64[D]")
    cools = float(np.diff(seasonal_mean_c(days, 50.0, 9.0, 200.0))[0])

    assert cools > 1.0
    assert first.max() - first.min() == pytest.approx(2.0 * cools, rel=0.2)


def test_a_record_with_a_gap_is_not_used_across_it() -> None:
    """Without last year's October nothing of that year can stand for this one's."""
    whole = recorded(4.0)
    gap = tuple(day for day in whole if not date(2025, 9, 20) <= day.day <= date(2025, 10, 20))

    assert weeks(gap).kind == "usual"


def test_without_a_record_what_is_usual_stands_in_and_is_said_to() -> None:
    """Around the season's mean, spread as daily means of temperate lowlands are: 3.3 K."""
    found = weeks(())
    air = after(found, "air_temp_c")
    usual = seasonal_mean_c(found.hours.times[found.forecast :].astype("datetime64[D]"), 50.0, 9.0, 200.0)

    assert found.kind == "usual"
    assert "no hourly record" in found.told
    assert abs(air.mean() - usual.mean()) < 3.0
    assert air.std(axis=1).mean() == pytest.approx(3.3, rel=0.05)


def test_a_forecast_that_reaches_far_enough_needs_nothing_after_it() -> None:
    weather = foreseen()
    found = carried_on(weather, weather.ahead.times[-1], (), history(), SITE, NOW)

    assert (found.kind, found.forecast) == ("forecast", len(found.hours))


def test_the_same_members_come_out_twice() -> None:
    first, second = weeks(()), weeks(())

    np.testing.assert_array_equal(first.hours.values["air_temp_c"], second.hours.values["air_temp_c"])


def test_the_tree_lives_on_what_is_foreseen_and_then_on_what_was_usual() -> None:
    """Days of the forecast count with their own warmth; later ones with that of the same weeks a year before."""
    days: Times = np.arange("2025-08-01", "2026-09-06", dtype="datetime64[D]")
    past = DailyHistory(days, np.where(days < np.datetime64("2025-12-01"), 9.0, 15.0), None)
    weather = foreseen(mean_c=20.0)
    hours = Hours(weather.ahead.times, {"air_temp_c": weather.ahead.values["air_temp_c"]})
    ahead = history_ahead(past, hours, np.datetime64("2026-09-05T07:00:00", "s"))

    def mean(day: str) -> float:
        return float(ahead.mean_c[ahead.days == np.datetime64(day)][0])

    assert mean("2026-09-08") == pytest.approx(20.0, abs=0.5)
    assert mean("2026-10-15") == pytest.approx(9.0)
    assert mean("2026-06-01") == pytest.approx(15.0)
    assert mean("2027-06-01") == pytest.approx(15.0)
