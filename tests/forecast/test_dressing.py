"""A single run dressed into members: how far it may miss is written in them, no more and no less."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import norm

from carewatch.config.tables import load_tables
from carewatch.forecast.ensemble import PERIOD_H, dress, quantile_levels, ranked_paths, widen_radiation
from carewatch.forecast.errors import ForecastErrors
from carewatch.forecast.raw import VARIABLES
from carewatch.physics.sun import SunPosition

Array = NDArray[np.float64]

HOURS = 200
MEMBERS = 21


def _errors() -> ForecastErrors:
    return replace(load_tables().forecast_errors, air_bias_k=(0.0, 0.3, 0.5, 0.5, -0.2, 0.0, 0.0))


def _single() -> dict[str, Array]:
    hour = np.arange(HOURS)
    single = {name: np.zeros(HOURS) for name in VARIABLES}
    single["air_temp_c"] = 5.0 + 4.0 * np.cos(2.0 * np.pi * hour / 24.0)
    single["dew_point_c"] = single["air_temp_c"] - np.where(hour % 2 == 0, 0.2, 4.0)
    single["wind_10m_ms"] = np.full(HOURS, 3.0)
    single["gust_10m_ms"] = np.full(HOURS, 7.0)
    single["cloud"] = np.linspace(0.0, 1.0, HOURS)
    single["global_wm2"] = np.maximum(500.0 * np.sin(2.0 * np.pi * (hour - 6) / 24.0), 0.0)
    return single


def _dressed(errors: ForecastErrors) -> dict[str, Array]:
    return dress(_single(), np.arange(HOURS, dtype=np.float64), errors, ranked_paths(HOURS, MEMBERS, errors.memory_h))


def test_members_are_exactly_the_quantiles_of_the_error_distribution_at_every_hour() -> None:
    """Sorted at every lead they are those of N(single + bias, sd), computed by scipy."""
    errors = _errors()
    members = np.sort(_dressed(errors)["air_temp_c"], axis=1)
    days = np.arange(HOURS) / 24.0
    middle = _single()["air_temp_c"] + np.interp(days, errors.lead_days, errors.air_bias_k)
    spread = np.interp(days, errors.lead_days, errors.air_sd_k)
    levels = (np.arange(MEMBERS) + 0.5) / MEMBERS
    expected = norm.ppf(levels[None, :], loc=middle[:, None], scale=spread[:, None])
    assert np.max(np.abs(members - expected)) < 1e-9


def test_wind_is_log_normal_and_cloud_logit_normal() -> None:
    """Their medians are the single run's; wind and gust of a member are off by one factor."""
    errors = _errors()
    members = _dressed(errors)
    days = np.arange(HOURS) / 24.0
    levels = norm.ppf(quantile_levels(MEMBERS))
    wind_spread = np.interp(days, errors.lead_days, errors.wind_log_sd)[:, None]
    assert np.sort(members["wind_10m_ms"], axis=1) == pytest.approx(3.0 * np.exp(wind_spread * levels))
    assert members["gust_10m_ms"] / members["wind_10m_ms"] == pytest.approx(np.full((HOURS, MEMBERS), 7.0 / 3.0))
    cloud = np.clip(_single()["cloud"], 0.02, 0.98)
    logit = np.log(cloud / (1.0 - cloud))[:, None]
    cloud_spread = np.interp(days, errors.lead_days, errors.cloud_logit_sd)[:, None]
    assert np.sort(members["cloud"], axis=1) == pytest.approx(1.0 / (1.0 + np.exp(-logit - cloud_spread * levels)))


def test_no_member_has_a_dew_point_above_its_air() -> None:
    """Both share their error, so the humidity of a member is that of the run."""
    members = _dressed(_errors())
    assert np.all(members["dew_point_c"] <= members["air_temp_c"])
    depression = members["air_temp_c"] - members["dew_point_c"]
    own = _single()["air_temp_c"] - _single()["dew_point_c"]
    assert np.max(np.abs(depression - own[:, None])) < 1e-9


def test_the_same_forecast_gives_the_same_members_at_every_run() -> None:
    """And a longer one begins like the shorter: a horizon that grows moves no member."""
    first = ranked_paths(HOURS, MEMBERS, 24.0)
    again = ranked_paths(HOURS, MEMBERS, 24.0)
    for one, other in zip(first, again, strict=True):
        assert np.array_equal(one, other)
    assert np.array_equal(ranked_paths(50, MEMBERS, 24.0)[0], first[0][:50])
    # Nor does a later look at the same hours.
    assert np.array_equal(ranked_paths(50, MEMBERS, 24.0, start_h=30)[0], first[0][30:80])


def test_the_paths_repeat_after_half_a_year_without_a_seam() -> None:
    """Where their end meets their beginning the step is an ordinary one."""
    air = ranked_paths(PERIOD_H + 48, MEMBERS, 24.0)[0]
    assert np.array_equal(air[:48], air[PERIOD_H:])
    steps = np.sqrt(np.mean(np.diff(air, axis=0) ** 2, axis=1))
    assert steps[PERIOD_H - 1] < 1.5 * np.median(steps)


def test_errors_are_forgotten_within_a_day_or_so() -> None:
    """Correlation falls to about 1/e in 24 hours: five risky nights are five throws, not one."""
    air, wind, cloud = ranked_paths(4000, MEMBERS, 24.0)

    def correlation(path: Array, lag: int) -> float:
        return float(np.corrcoef(path[:-lag].ravel(), path[lag:].ravel())[0, 1])

    for path in (air, wind, cloud):
        assert correlation(path, 1) > 0.9
        assert correlation(path, 24) == pytest.approx(np.exp(-1.0), abs=0.08)
        assert abs(correlation(path, 96)) < 0.12


def test_air_wind_and_cloud_miss_independently() -> None:
    """Paths of different variables have nothing to do with each other."""
    air, wind, cloud = ranked_paths(4000, MEMBERS, 24.0)
    for one, other in ((air, wind), (air, cloud), (wind, cloud)):
        assert abs(float(np.corrcoef(one.ravel(), other.ravel())[0, 1])) < 0.12


def test_every_member_is_as_likely_to_be_the_cold_one() -> None:
    """Over a long time no member is the coldest more than three times as often as its share."""
    air = ranked_paths(6000, MEMBERS, 24.0)[0]
    coldest = np.bincount(air.argmin(axis=1), minlength=MEMBERS) / 6000
    assert coldest.max() < 3.0 / MEMBERS


def test_a_clearer_member_gets_more_sun_and_none_gets_more_than_a_clear_sky() -> None:
    """Light follows each member's own cloud; where cloud is that of the run, the run's light stays."""
    sun = SunPosition(np.full(3, 50.0), np.full(3, 180.0), np.full(3, 1360.8))
    single = {"cloud": np.full(3, 0.5), "global_wm2": np.array([300.0, 500.0, 800.0])}
    members = {
        "cloud": np.tile([0.1, 0.5, 0.95], (3, 1)),
        "global_wm2": np.tile(single["global_wm2"][:, None], 3),
        "direct_normal_wm2": np.full((3, 3), 321.0),
        "diffuse_wm2": np.full((3, 3), 123.0),
    }
    widened = widen_radiation(members, single, sun)
    assert np.all(np.diff(widened["global_wm2"], axis=1) <= 1e-9)
    assert np.all(widened["global_wm2"][:, 0] > widened["global_wm2"][:, 2] + 50.0)
    # Haurwitz 1945 at 50° elevation, the sun at its mean distance.
    sine = np.sin(np.radians(50.0))
    assert np.all(widened["global_wm2"] <= np.maximum(1098.0 * sine * np.exp(-0.059 / sine), 800.0) + 1e-6)
    assert widened["direct_normal_wm2"][:, 1] == pytest.approx(321.0)
    assert widened["diffuse_wm2"][:, 1] == pytest.approx(123.0)
    split = widened["direct_normal_wm2"] * sine + widened["diffuse_wm2"]
    assert split[:, [0, 2]] == pytest.approx(widened["global_wm2"][:, [0, 2]])
