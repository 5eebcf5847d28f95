"""A real ensemble: members taken at their word, what they lack from the run, and no jump where they end."""

import os
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray
from scipy.stats import norm

from carewatch.config.tables import load_tables
from carewatch.forecast.ensemble import quantile_levels, ranked_paths
from carewatch.forecast.members import join_members, last_own_hour
from carewatch.forecast.raw import VARIABLES
from carewatch.forecast.weather import Weather
from tests.forecast.answers import HOURS, NOW, completed, first_ahead, frame, raw

Array = NDArray[np.float64]

SHARED = Path(os.environ.get("CAREWATCH_SHARED", Path(__file__).parents[3] / "shared"))
ERRORS = load_tables().forecast_errors
NEAR_K = ERRORS.air_sd_k[0]
FIRST = first_ahead()
COUNT = 51
# Leads of the hours in the tests of one function. [h]
LONG = 240
# Leads for which temperatures were measured. [h]
LEADS_H = (24.0, 48.0, 72.0, 96.0, 120.0)


def run(hours: int = LONG) -> dict[str, Array]:
    """A single run of ordinary days, light and water left out."""
    hour = np.arange(hours)
    single = {name: np.zeros(hours) for name in VARIABLES}
    single["air_temp_c"] = 5.0 + 4.0 * np.cos(2.0 * np.pi * hour / 24.0)
    single["dew_point_c"] = single["air_temp_c"] - 3.0
    single["wind_10m_ms"] = np.full(hours, 3.0)
    single["gust_10m_ms"] = np.full(hours, 7.0)
    single["cloud"] = np.full(hours, 0.4)
    return single


def joined(given: dict[str, Array], single: dict[str, Array], age_h: float = 0.0) -> dict[str, Array]:
    hours, count = given["air_temp_c"].shape
    leads_h = age_h + np.arange(hours, dtype=np.float64)
    return join_members(single, given, leads_h, ERRORS, ranked_paths(hours, count, ERRORS.memory_h))


def spread_out(single: dict[str, Array], until: int, count: int = COUNT) -> dict[str, Array]:
    """Members 0.02 K further apart with every hour, until they end."""
    hours = single["air_temp_c"].size
    apart = 0.02 * np.arange(hours)[:, None] * np.linspace(-1.0, 1.0, count)[None, :]
    air = single["air_temp_c"][:, None] + apart
    air[until:] = np.nan
    return {"air_temp_c": air}


def test_members_are_taken_at_their_word_but_for_what_none_of_them_can_know() -> None:
    """At every hour what is added is exactly the quantiles of N(0, the error at lead zero), computed by scipy."""
    single = run()
    given = spread_out(single, LONG)
    added = np.sort(joined(given, single)["air_temp_c"] - given["air_temp_c"], axis=1)
    levels = (np.arange(COUNT) + 0.5) / COUNT
    assert added == pytest.approx(np.tile(norm.ppf(levels, scale=NEAR_K), (LONG, 1)), abs=1e-9)


def test_where_members_end_nothing_jumps() -> None:
    """The step from the last own hour to the first hour beyond is as small as any step of the dressed run."""
    single = run()
    ahead = joined(spread_out(single, 48), single)["air_temp_c"] - single["air_temp_c"][:, None]
    steps = np.sqrt(np.mean(np.diff(ahead, axis=0) ** 2, axis=1))
    assert steps[47] < 1.2 * np.median(steps[48:72])
    # The members' distances still tell which is which; a day and a half later hardly.
    kept = [np.corrcoef(ahead[47], ahead[47 + hours])[0, 1] for hours in (1, 12, 96)]
    assert kept[0] > 0.8
    assert kept[0] > kept[1] > abs(kept[2])


def test_days_after_the_members_end_their_values_are_those_of_the_dressed_run() -> None:
    """Exactly the quantiles of N(run + bias, spread at the lead), once what was known of the members is forgotten."""
    single = run()
    ahead = np.sort(joined(spread_out(single, 24), single)["air_temp_c"], axis=1)
    spread = np.asarray(np.interp(np.arange(LONG) / 24.0, ERRORS.lead_days, ERRORS.air_sd_k))
    levels = (np.arange(COUNT) + 0.5) / COUNT
    expected = np.asarray(norm.ppf(levels[None, :], loc=single["air_temp_c"][:, None], scale=spread[:, None]))
    assert np.max(np.abs(ahead[-24:] - expected[-24:])) < 0.02


def test_the_spread_beyond_the_end_fades_and_grows_as_its_parts_do() -> None:
    """Variance h hours on: that of the end times e^(−2h/memory), and of the run's error what was forgotten."""
    single = run(120)
    count = 600
    given = {"air_temp_c": np.full((120, count), np.nan)}
    given["air_temp_c"][:24] = single["air_temp_c"][:24, None] + np.linspace(-4.0, 4.0, count)
    apart = joined(given, single)["air_temp_c"] - single["air_temp_c"][:, None]
    for on in (6, 12, 24, 48):
        keep = np.exp(-on / ERRORS.memory_h)
        lead = np.interp((23 + on) / 24.0, ERRORS.lead_days, ERRORS.air_sd_k)
        expected = keep**2 * apart[23].var() + (1.0 - keep**2) * lead**2
        assert apart[23 + on].var() == pytest.approx(expected, rel=0.12)


def test_beyond_its_members_an_older_forecast_is_less_sure() -> None:
    """Its lead is its age and the hours ahead together."""
    single = run()
    given = spread_out(single, 24)
    spread = [joined(given, single, age_h)["air_temp_c"][48:120].std(axis=1).mean() for age_h in (0.0, 24.0, 72.0)]
    assert spread[0] < spread[1] < spread[2]


def test_a_hole_is_drawn_by_the_distance_of_its_ends_from_the_run() -> None:
    """The run's own course shows in it: a straight line of temperatures would cut off a night."""
    single = run()
    given = spread_out(single, LONG)
    whole = joined(given, single)["air_temp_c"]
    given["air_temp_c"][60:66, 7] = np.nan
    holed = joined(given, single)["air_temp_c"]
    distance = whole[:, 7] - single["air_temp_c"]
    share = (np.arange(60, 66) - 59.0) / 7.0
    drawn = single["air_temp_c"][60:66] + distance[59] + share * (distance[66] - distance[59])
    assert holed[60:66, 7] == pytest.approx(drawn)
    others = np.delete(np.arange(COUNT), 7)
    assert np.array_equal(holed[:, others], whole[:, others])


def test_members_that_begin_later_or_end_at_different_hours_are_complete() -> None:
    single = run()
    given = spread_out(single, 120)
    given["air_temp_c"][:6] = np.nan
    given["air_temp_c"][80:, :10] = np.nan
    ahead = joined(given, single)
    assert last_own_hour(given["air_temp_c"]) == 119
    assert all(np.isfinite(ahead[name]).all() for name in VARIABLES)
    backward = np.abs(np.diff(ahead["air_temp_c"] - single["air_temp_c"][:, None], axis=0))
    assert np.sqrt(np.mean(backward[5] ** 2)) < 0.6


def test_dew_point_keeps_the_run_s_distance_where_members_lack_it_and_is_never_above_air() -> None:
    single = run()
    given = spread_out(single, 48)
    ahead = joined(given, single)
    assert ahead["air_temp_c"] - ahead["dew_point_c"] == pytest.approx(np.full((LONG, COUNT), 3.0))
    given["dew_point_c"] = given["air_temp_c"] + 0.4
    ahead = joined(given, single)
    assert np.all(ahead["dew_point_c"] <= ahead["air_temp_c"])


def test_wind_and_cloud_stay_what_they_are_and_go_on_as_their_errors_do() -> None:
    """Given gusts are kept; beyond, wind is log-normal and cloud logit-normal around the run, as dressing has them."""
    single = run()
    given = spread_out(single, 48)
    rising = np.linspace(4.0, 14.0, COUNT)
    given["gust_10m_ms"] = np.where(np.isnan(given["air_temp_c"]), np.nan, rising[None, :])
    ahead = joined(given, single)
    assert ahead["gust_10m_ms"][:48] == pytest.approx(np.tile(rising, (48, 1)))
    # Not given per member: the run's own, as long as there are members.
    assert ahead["wind_10m_ms"][:48] == pytest.approx(np.full((48, COUNT), 3.0))
    assert ahead["cloud"][:48] == pytest.approx(np.full((48, COUNT), 0.4))
    days = np.arange(LONG) / 24.0
    levels = norm.ppf(quantile_levels(COUNT))
    wind = np.interp(days, ERRORS.lead_days, ERRORS.wind_log_sd)[-1] * levels
    assert np.sort(ahead["wind_10m_ms"][-1]) == pytest.approx(3.0 * np.exp(wind), rel=0.01)
    cloud = np.interp(days, ERRORS.lead_days, ERRORS.cloud_logit_sd)[-1] * levels
    assert np.sort(ahead["cloud"][-1]) == pytest.approx(1.0 / (1.0 + np.exp(-np.log(0.4 / 0.6) - cloud)), abs=0.01)
    assert np.all(ahead["gust_10m_ms"] >= ahead["wind_10m_ms"])
    assert np.all((ahead["cloud"] > 0.0) & (ahead["cloud"] < 1.0))


def _answer(until: int, hours: int, issued_at_h: float = 0.0) -> Weather:
    """The weather of an answer whose members end so many hours after now."""
    single = frame(FIRST + hours)
    air = np.add.outer(single["air_temp_c"].to_numpy(), np.linspace(-2.0, 2.0, 11))
    air[FIRST + until :] = np.nan
    members = {"air_temp_c": pd.DataFrame(air, single.index)}
    return completed(raw(single, members, issued_at=NOW - timedelta(hours=issued_at_h)))


@pytest.mark.parametrize(
    ("until", "hours", "judged", "says"),
    [
        (48, 192, 168, "Members end after 48 hours"),
        (180, 192, 180, "later hours are not judged"),
        (192, 192, 192, ""),
        (48, 100, 100, "Members end after 48 hours"),
    ],
)
def test_how_far_is_judged_where_members_end_before_the_run(until: int, hours: int, judged: int, says: str) -> None:
    """As far as the members go, and at least as far as a single run is."""
    weather = _answer(until, hours)
    assert len(weather.ahead) == judged
    assert weather.ahead.members == 11
    assert any(says in note for note in weather.notes)
    assert any("Members end" in note for note in weather.notes) == (until < judged)


def test_members_that_are_past_are_no_ensemble() -> None:
    """A forecast that has served for longer than its members reach is dressed as the single run that is left."""
    weather = _answer(0, 100)
    assert weather.members_from == "dressed"
    assert weather.ahead.members == ERRORS.members


def test_an_hour_has_the_same_members_whenever_it_is_looked_at() -> None:
    """A night that comes nearer is thrown once, not anew with every look at the same forecast."""
    air = pd.DataFrame(np.add.outer(frame()["air_temp_c"].to_numpy(), np.linspace(-2.0, 2.0, 11)), frame().index)
    for members in (None, {"air_temp_c": air}):
        now, later = (completed(raw(frame(), members), NOW + timedelta(hours=hours)) for hours in (0, 5))
        for name in ("air_temp_c", "dew_point_c", "wind_10m_ms", "cloud"):
            assert later.ahead.values[name] == pytest.approx(now.ahead.values[name][5:]), name
        assert now.ahead.times[5] == later.ahead.times[0]


def test_too_few_members_are_named() -> None:
    air = pd.DataFrame(np.add.outer(frame()["air_temp_c"].to_numpy(), np.linspace(-2.0, 2.0, 4)), frame().index)
    weather = completed(raw(frame(), {"air_temp_c": air}))
    assert any(note.startswith("4 members are too few") for note in weather.notes)


def test_light_of_a_clear_hour_stays_the_source_s_own_beside_members_without_cloud() -> None:
    """Members that have the run's cloud have its light, also where that cloud is none or all."""
    single = frame()
    single["cloud"] = np.where(np.arange(HOURS) % 2, 0.0, 1.0)
    air = pd.DataFrame(np.add.outer(single["air_temp_c"].to_numpy(), np.linspace(-2.0, 2.0, 11)), single.index)
    ahead = completed(raw(single, {"air_temp_c": air})).ahead.values
    for name in ("global_wm2", "direct_normal_wm2", "diffuse_wm2"):
        assert ahead[name] == pytest.approx(np.tile(single[name].to_numpy()[FIRST:, None], (1, 11))), name


def _hannover() -> pd.DataFrame:
    file = SHARED / "data" / "forecast-observation" / "hannover-2015-2020.csv.gz"
    if not file.exists():
        pytest.skip("no forecasts with observations are at hand (CAREWATCH_SHARED names the folder)")
    return pd.read_csv(file).dropna(subset=["obs", "t2m_mean", "t2m_sd"])


def _crps(members: Array, observed: Array) -> float:
    """Mean score of equally likely members: Gneiting & Raftery 2007, J. Am. Stat. Assoc. 102:359-378, eq. 21."""
    count = members.shape[1]
    ordered = np.sort(members, axis=1)
    weights = 2.0 * np.arange(1, count + 1) - count - 1.0
    between = (ordered * weights).sum(axis=1) / count**2
    return float((np.abs(members - observed[:, None]).mean(axis=1) - between).mean())


def test_measured_temperatures_fall_among_the_members_as_often_as_they_should() -> None:
    """
    Hannover, 24 to 120 h ahead, none of it used to choose a number: nine of ten inside the middle 90 %.

    Of members taken at their bare word it is six to eight of ten, and their score is worse at every lead.
    """
    found = _hannover()
    levels = norm.ppf(quantile_levels(COUNT))
    for lead_h in LEADS_H:
        cases = found[found["lt"] == lead_h]
        bare = cases["t2m_mean"].to_numpy()[:, None] + cases["t2m_sd"].to_numpy()[:, None] * levels
        single = run(len(cases)) | {"air_temp_c": cases["t2m_mean"].to_numpy()}
        paths = ranked_paths(len(cases), COUNT, ERRORS.memory_h)
        leads_h = np.full(len(cases), lead_h)
        ours = join_members(single, {"air_temp_c": bare}, leads_h, ERRORS, paths)["air_temp_c"]
        observed = cases["obs"].to_numpy()

        def inside(members: Array, truth: Array) -> float:
            low, high = np.quantile(members, [0.05, 0.95], axis=1)
            return float(((truth >= low) & (truth <= high)).mean())

        assert inside(bare, observed) < 0.84
        assert inside(ours, observed) == pytest.approx(0.90, abs=0.03)
        assert _crps(ours, observed) < _crps(bare, observed)


def test_the_spread_of_a_dressed_run_is_that_of_measured_errors_or_a_little_wider() -> None:
    """
    A single run misses by the error of the mean and by its own place in the ensemble.

    Table against Hannover (easy, flat land): no lead may be narrower than measured there, none more than a third wider.
    """
    found = _hannover()
    for lead_h in LEADS_H:
        cases = found[found["lt"] == lead_h]
        error = cases["obs"] - cases["t2m_mean"]
        measured = float(np.sqrt(error.var() + (cases["t2m_sd"] ** 2).mean()))
        table = float(np.interp(lead_h / 24.0, ERRORS.lead_days, ERRORS.air_sd_k))
        assert 1.0 <= table / measured <= 1.33


def test_the_error_at_lead_zero_comes_from_the_table() -> None:
    single = run()
    given = spread_out(single, LONG)
    wider = replace(ERRORS, air_sd_k=(2.0, *ERRORS.air_sd_k[1:]))
    paths = ranked_paths(LONG, COUNT, ERRORS.memory_h)
    leads_h = np.arange(LONG, dtype=np.float64)
    added = join_members(single, given, leads_h, wider, paths)["air_temp_c"] - given["air_temp_c"]
    assert added == pytest.approx(2.0 * paths[0])
