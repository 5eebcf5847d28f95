"""The days to come: the forecast where it reaches, then what the site's own record says of that time of year."""

from datetime import date

import numpy as np
import pytest

from carewatch.forecast.history import DailyHistory, seasonal_mean_c
from carewatch.forecast.weather import DayMeans
from carewatch.tasks.ahead import cold_spell_k, continued, usual_mean_c
from tests.condition.grown import until
from tests.tasks.clocks import SITE, YEARS, warmer

TODAY = date.fromisoformat("2026-02-10")
KNOWN = until(YEARS, TODAY)


def test_what_is_usual_follows_the_record_day_by_day_of_the_year() -> None:
    """Two invented years whose season is known: the usual day is that season, not its weather."""
    ahead = np.arange(np.datetime64("2026-03-01"), np.datetime64("2027-03-01"))
    year_day = (ahead - ahead.astype("datetime64[Y]")).astype(float)
    season = 9.9 + 9.4 * np.cos(2.0 * np.pi * (year_day - 205.0) / 365.25)

    usual = usual_mean_c(KNOWN, ahead, SITE)

    assert np.abs(usual - season).max() < 1.5
    assert np.abs(usual - season).mean() < 0.5


def test_a_warmer_record_makes_a_warmer_year_to_come() -> None:
    ahead = np.arange(np.datetime64("2026-03-01"), np.datetime64("2027-03-01"))

    gained = usual_mean_c(warmer(KNOWN, 3.0), ahead, SITE) - usual_mean_c(KNOWN, ahead, SITE)

    assert gained == pytest.approx(3.0, abs=0.2)


def test_without_any_record_the_season_of_the_latitude_stands_in() -> None:
    days = np.arange(np.datetime64("2025-02-10"), np.datetime64("2026-02-11"))
    unknown = DailyHistory(days, seasonal_mean_c(days, *SITE.position), TODAY)
    ahead = np.arange(np.datetime64("2026-03-01"), np.datetime64("2026-06-01"))

    assert usual_mean_c(unknown, ahead, SITE) == pytest.approx(seasonal_mean_c(ahead, *SITE.position), abs=0.05)


def test_the_past_stays_and_the_forecast_comes_before_the_season() -> None:
    foreseen = DayMeans(np.array(["2026-02-11", "2026-02-12"], dtype="datetime64[D]"), np.array([-9.0, 14.0]))
    whole = continued(KNOWN, 30, SITE, foreseen)

    assert whole.days.size == KNOWN.days.size + 30
    assert np.array_equal(whole.mean_c[: KNOWN.mean_c.size], KNOWN.mean_c)
    assert whole.mean_c[KNOWN.mean_c.size : KNOWN.mean_c.size + 2].tolist() == [-9.0, 14.0]
    assert np.array_equal(whole.mean_c, continued(KNOWN, 30, SITE, foreseen).mean_c)


def test_a_leap_day_is_an_ordinary_day_ahead() -> None:
    """29 February of 2028, seen from the autumn before."""
    whole = continued(until(YEARS, date(2027, 10, 1)), 400, SITE)

    assert np.isfinite(whole.mean_c).all()
    assert whole.days[-1] == np.datetime64("2028-11-04")


def test_the_coldest_days_of_a_winter_come_from_the_record_or_from_the_table() -> None:
    """A week of -12 °C makes its winter's spell; mild winters and summers alone are no proof of mild ones."""
    mean_c = KNOWN.mean_c.copy()
    week = (KNOWN.days >= np.datetime64("2025-01-12")) & (KNOWN.days <= np.datetime64("2025-01-18"))
    mean_c[week] = -12.0
    summer = DailyHistory(KNOWN.days, KNOWN.mean_c, date(2026, 2, 1))

    spell_k = cold_spell_k(DailyHistory(KNOWN.days, mean_c, None), SITE, 8.0)

    assert 8.0 < spell_k < 14.0
    assert cold_spell_k(until(YEARS, date(2025, 6, 1)), SITE, 8.0) == 8.0
    assert 2.0 <= cold_spell_k(until(YEARS, date(2028, 6, 1)), SITE, 8.0) < 8.0
    assert cold_spell_k(summer, SITE, 8.0) == 8.0
