"""From what a source gave to hours without holes: closed, estimated, named, and never invented beyond a horizon."""

from datetime import timedelta

import numpy as np
import pandas as pd
import pvlib
import pytest

from carewatch.forecast.raw import VARIABLES
from carewatch.forecast.weather import ForecastUnusable, Weather
from carewatch.physics.sun import SunHours, sun_of_hours
from tests.forecast.answers import (
    BEGINS,
    ELEVATION_M,
    HOURS,
    LATITUDE,
    LONGITUDE,
    NOW,
    completed,
    first_ahead,
    frame,
    raw,
)

FIRST = first_ahead()


def _known_values(weather: Weather) -> None:
    for hours in (weather.past, weather.ahead):
        for name in VARIABLES:
            if name != "soil_temp_c":
                assert np.isfinite(hours.values[name]).all(), name


def test_a_whole_answer_is_taken_as_it_is() -> None:
    """Nothing is missing, nothing estimated, and every hour ahead is known."""
    weather = completed(raw(frame()))
    assert weather.missing == ()
    assert weather.estimated == ()
    assert len(weather.past) == FIRST
    assert len(weather.ahead) == HOURS - FIRST
    assert weather.ahead.times[0] == np.datetime64("2026-06-10T13:00:00")
    assert set(weather.known_until.values()) == {HOURS - FIRST}
    assert weather.members_from == "dressed"
    assert weather.past.members == 1
    assert weather.ahead.members == 21
    assert weather.past.values["air_temp_c"][:, 0] == pytest.approx(frame()["air_temp_c"].to_numpy()[:FIRST])


def test_the_middle_member_of_a_dressed_run_is_the_run() -> None:
    """Without bias the median of the members is the forecast itself."""
    weather = completed(raw(frame()))
    middle = np.median(weather.ahead.values["air_temp_c"], axis=1)
    assert middle == pytest.approx(frame()["air_temp_c"].to_numpy()[FIRST:])


@pytest.mark.parametrize("length", [1, 2, 3])
def test_a_gap_of_up_to_three_hours_is_a_straight_line(length: int) -> None:
    """Between its ends; the horizon goes on behind it."""
    single = frame()
    at = FIRST + 20
    single.loc[single.index[at : at + length], "wind_10m_ms"] = np.nan
    single.loc[single.index[at + length :], "wind_10m_ms"] = 7.0
    weather = completed(raw(single))
    drawn = np.median(weather.ahead.values["wind_10m_ms"], axis=1)[20 : 20 + length]
    assert drawn == pytest.approx(3.0 + 4.0 * np.arange(1, length + 1) / (length + 1))
    assert weather.known_until["wind_10m_ms"] == HOURS - FIRST
    assert weather.missing == ()


def test_a_longer_gap_ends_the_horizon_of_its_variable_and_of_no_other() -> None:
    """What lies behind it is not judged; the gap is named."""
    single = frame()
    single.loc[single.index[FIRST + 20 : FIRST + 24], "rain_mm"] = np.nan
    weather = completed(raw(single))
    assert weather.known_until["rain_mm"] == 20
    assert weather.known_until["gust_10m_ms"] == HOURS - FIRST
    assert any(note.startswith("rain_mm in 4 of 168 hours") for note in weather.missing)
    _known_values(weather)


def test_a_long_gap_in_air_temperature_ends_everything() -> None:
    """Every judgement needs it; carried state is never fed an unknown hour."""
    single = frame()
    single.loc[single.index[FIRST + 30 : FIRST + 36], "air_temp_c"] = np.nan
    weather = completed(raw(single))
    assert len(weather.ahead) == 30
    _known_values(weather)
    # What lies behind it is known and not judged: that must not pass in silence.
    assert sum("is not judged" in note and f"{single.index[-1]:%Y-%m-%d %H:%M}" in note for note in weather.notes) == 1


def test_what_is_null_at_the_end_is_not_drawn_on() -> None:
    """A line is drawn between known hours only, never past the last one."""
    single = frame()
    single.loc[single.index[-2:], "air_temp_c"] = np.nan
    weather = completed(raw(single))
    assert len(weather.ahead) == HOURS - FIRST - 2
    assert not any("is unknown for more than" in note for note in weather.notes)


def test_past_before_a_long_gap_is_left_out() -> None:
    """The record is one piece."""
    single = frame()
    single.loc[single.index[10:20], "air_temp_c"] = np.nan
    weather = completed(raw(single))
    assert len(weather.past) == FIRST - 20


def test_missing_variables_are_named_with_what_is_assumed() -> None:
    """One sentence each."""
    lacking = ["wind_10m_ms", "gust_10m_ms", "cloud", "rain_mm", "snowfall_cm", "snow_depth_m"]
    weather = completed(raw(frame().drop(columns=lacking)))
    told = {note.partition(":")[0] for note in weather.missing}
    assert told == set(lacking)
    assert any("nearly calm" in note for note in weather.missing)
    assert any("clear sky" in note for note in weather.missing)
    assert weather.known_until["gust_10m_ms"] == 0
    assert weather.known_until["rain_mm"] == 0
    _known_values(weather)


def test_unknown_cloud_is_taken_as_a_clear_sky() -> None:
    """It makes a night colder and a day hotter: an unknown hour silences nothing."""
    single = frame()
    single["cloud"] = np.nan
    weather = completed(raw(single.drop(columns=["global_wm2", "direct_normal_wm2", "diffuse_wm2"])))
    assert np.all(weather.past.values["cloud"] == 0.0)
    assert weather.past.values["global_wm2"].max() > 800.0


def test_dew_point_comes_from_relative_humidity() -> None:
    """25 °C and 54 % give 15.0 °C (Magnus, inverse)."""
    single = frame().drop(columns=["dew_point_c"])
    single["air_temp_c"] = 25.0
    single["relative_humidity"] = 54.0
    weather = completed(raw(single))
    assert weather.past.values["dew_point_c"] == pytest.approx(15.0, abs=0.1)
    assert [note for note in weather.estimated if note.startswith("dew_point_c: from relative humidity")]
    assert weather.missing == ()


def test_without_any_humidity_the_day_s_minimum_serves_as_dew_point() -> None:
    """FAO-56 eq. 48."""
    weather = completed(raw(frame().drop(columns=["dew_point_c"])))
    first_day = weather.past.values["dew_point_c"][:24, 0]
    assert first_day == pytest.approx(np.full(24, frame()["air_temp_c"].iloc[:24].min()))


def test_radiation_is_estimated_from_a_clear_sky_and_cloud() -> None:
    """More cloud, less light; nothing at night; beam and diffuse make up the whole; it is said to be an estimate."""
    plain = frame().drop(columns=["global_wm2", "direct_normal_wm2", "diffuse_wm2"])
    weathers = [completed(raw(plain.assign(cloud=cloud))) for cloud in (0.0, 0.5, 1.0)]
    noon = [weather.past.values["global_wm2"].max() for weather in weathers]
    assert noon[0] > noon[1] > noon[2]
    # Kasten & Czeplak 1980: an overcast sky lets a quarter through.
    assert noon[2] == pytest.approx(0.25 * noon[0], rel=0.01)
    # Haurwitz 1945 for the sun at 50.3° N on 9 June at its highest, 62.6°.
    assert noon[0] == pytest.approx(1098.0 * 0.888 * np.exp(-0.059 / 0.888), rel=0.05)
    clear = weathers[0].past
    hour = (clear.times - clear.times.astype("datetime64[D]")) / np.timedelta64(1, "h")
    assert np.all(clear.values["global_wm2"][(hour < 2) | (hour > 22)] == 0.0)
    assert [note for note in weathers[0].estimated if note.startswith("global_wm2: from clear sky")]


def test_direct_and_diffuse_make_the_global_radiation_that_a_source_leaves_out() -> None:
    """Global is direct times the sine of the sun's elevation plus diffuse; the two are kept as given."""
    weather = completed(raw(frame().drop(columns=["global_wm2"])))
    past, sun = weather.past.values, _sun(weather)
    high = sun.elevation_deg > 12.0
    whole = past["direct_normal_wm2"][:, 0] * np.sin(np.radians(sun.elevation_deg)) + past["diffuse_wm2"][:, 0]
    assert past["global_wm2"][high, 0] == pytest.approx(whole[high])
    assert past["direct_normal_wm2"][high, 0] == pytest.approx(frame()["direct_normal_wm2"].to_numpy()[:FIRST][high])
    assert past["diffuse_wm2"][:, 0] == pytest.approx(frame()["diffuse_wm2"].to_numpy()[:FIRST])
    assert weather.estimated == ("global_wm2: from direct and diffuse radiation",)


def test_a_source_that_gives_one_part_is_believed_and_the_other_is_the_rest() -> None:
    """Not divided by a formula where a remainder says it."""
    for given, other in (("diffuse_wm2", "direct_normal_wm2"), ("direct_normal_wm2", "diffuse_wm2")):
        weather = completed(raw(frame().drop(columns=[other])))
        past, sun = weather.past.values, _sun(weather)
        noon = np.abs(sun.azimuth_deg - 180.0) < 30.0
        sine = np.sin(np.radians(sun.elevation_deg[noon]))
        assert past[given][noon, 0] == pytest.approx(frame()[given].to_numpy()[:FIRST][noon])
        assert past["direct_normal_wm2"][noon, 0] * sine + past["diffuse_wm2"][noon, 0] == pytest.approx(
            past["global_wm2"][noon, 0]
        )
        assert weather.estimated == (f"{other}: from global radiation and the other part",)


def test_global_radiation_alone_is_divided_as_pvlib_does() -> None:
    """Erbs et al. 1982 in pvlib 0.16, which knows nothing of this code; its solar constant is 0.4 % larger."""
    plain = frame().drop(columns=["direct_normal_wm2", "diffuse_wm2"])
    weather = completed(raw(plain.assign(global_wm2=0.8 * plain["global_wm2"])))
    sun, past = _sun(weather), weather.past
    day = sun.elevation_deg > 8.0
    day_of_year = pd.DatetimeIndex(past.times[day], tz="UTC").day_of_year.to_numpy()
    theirs = pvlib.irradiance.erbs(past.values["global_wm2"][day, 0], 90.0 - sun.elevation_deg[day], day_of_year)
    assert past.values["diffuse_wm2"][day, 0] == pytest.approx(np.asarray(theirs["dhi"]), abs=4.0)
    assert past.values["direct_normal_wm2"][day, 0] == pytest.approx(np.asarray(theirs["dni"]), abs=8.0)


def test_every_hour_s_estimated_parts_close_to_the_whole_even_at_sunrise() -> None:
    """Direct times sine plus diffuse is the global radiation that was given, in the hour of sunrise too."""
    weather = completed(raw(frame().drop(columns=["direct_normal_wm2", "diffuse_wm2"])))
    past, sun = weather.past.values, _sun(weather)
    sine = np.sin(np.radians(np.maximum(sun.elevation_deg, 0.0)))
    whole = past["direct_normal_wm2"][:, 0] * sine + past["diffuse_wm2"][:, 0]
    assert whole == pytest.approx(past["global_wm2"][:, 0], abs=1e-6)
    assert past["direct_normal_wm2"].min() >= 0.0


def test_a_beam_that_no_air_lets_through_is_not_believed_at_low_sun() -> None:
    """A remainder over a small sine: 900 W m⁻² direct with the sun below 10° (through clean air some 300 to 600)."""
    single = frame().assign(direct_normal_wm2=900.0)
    weather = completed(raw(single))
    sun, direct = _sun(weather), weather.past.values["direct_normal_wm2"][:, 0]
    low = (sun.elevation_deg > 0.0) & (sun.elevation_deg < 10.0)
    assert low.sum() >= 4
    assert direct[low].max() < 700.0
    assert direct[sun.elevation_deg < 0.0].max() == 0.0
    assert direct[sun.elevation_deg > 10.0] == pytest.approx(900.0)


def test_members_with_a_radiation_of_their_own_keep_it() -> None:
    """An ensemble that forecasts sunlight is not overruled by its cloud; its parts are divided from its own whole."""
    members = _members(5)
    index = members["air_temp_c"].index
    members["global_wm2"] = pd.DataFrame(
        {member: (0.5 + 0.1 * member) * frame()["global_wm2"].to_numpy() for member in range(5)}, index=index
    )
    members["cloud"] = pd.DataFrame({member: np.full(HOURS, 0.1 + 0.2 * member) for member in range(5)}, index=index)
    weather = completed(raw(frame(), members))
    ahead = weather.ahead.values
    assert weather.members_from == "ensemble"
    assert ahead["global_wm2"] == pytest.approx(members["global_wm2"].to_numpy()[FIRST:])
    sun = sun_of_hours(weather.ahead.times, LATITUDE, LONGITUDE, ELEVATION_M)
    sine = np.sin(np.radians(np.maximum(sun.elevation_deg, 0.0)))[:, None]
    assert ahead["direct_normal_wm2"] * sine + ahead["diffuse_wm2"] == pytest.approx(ahead["global_wm2"], abs=1e-6)


def _sun(weather: Weather) -> SunHours:
    return sun_of_hours(weather.past.times, LATITUDE, LONGITUDE, ELEVATION_M)


def test_gusts_are_estimated_from_wind() -> None:
    """1.5 to 1.8 times the mean in the open (from memory)."""
    weather = completed(raw(frame().drop(columns=["gust_10m_ms"])))
    ratio = weather.past.values["gust_10m_ms"] / weather.past.values["wind_10m_ms"]
    assert np.all((ratio >= 1.5) & (ratio <= 1.8))
    assert weather.known_until["gust_10m_ms"] == HOURS - FIRST


def test_a_source_that_says_the_dew_point_is_above_the_air_is_not_believed() -> None:
    """Rounding, or fog."""
    single = frame()
    single["dew_point_c"] = single["air_temp_c"] + 0.3
    weather = completed(raw(single))
    for hours in (weather.past, weather.ahead):
        assert np.all(hours.values["dew_point_c"] <= hours.values["air_temp_c"])


def _members(count: int) -> dict[str, pd.DataFrame]:
    single = frame()
    air = np.add.outer(single["air_temp_c"].to_numpy(), np.linspace(-2.0, 2.0, count))
    gust = np.tile(np.linspace(5.0, 9.0, count), (HOURS, 1))
    return {"air_temp_c": pd.DataFrame(air, single.index), "wind_10m_ms": pd.DataFrame(gust, single.index)}


def test_members_of_an_ensemble_are_joined_with_the_run_for_what_they_lack() -> None:
    """Which variables come from the single run is said; gusts are never below the mean wind."""
    weather = completed(raw(frame(), _members(11)))
    assert weather.members_from == "ensemble"
    assert weather.ahead.members == 11
    shown = weather.ahead.values["air_temp_c"] - frame()["air_temp_c"].to_numpy()[FIRST:, None]
    # Besides what no member can know, which over the days is nothing on average (test_members).
    assert shown.mean(axis=0) == pytest.approx(np.linspace(-2.0, 2.0, 11), abs=0.8)
    assert shown.mean() == pytest.approx(0.0, abs=1e-9)
    assert np.all(weather.ahead.values["gust_10m_ms"] >= weather.ahead.values["wind_10m_ms"])
    assert np.all(weather.ahead.values["dew_point_c"] <= weather.ahead.values["air_temp_c"])
    note = next(note for note in weather.notes if note.startswith("Not given per member"))
    assert "cloud" in note
    assert "air_temp_c" not in note


def test_a_member_s_hole_is_filled_beside_the_run() -> None:
    """Half an ensemble is better than none: its distance from the run is the mean of that before and after."""
    members = _members(11)
    members["air_temp_c"].iloc[FIRST + 5, 3] = np.nan
    weather = completed(raw(frame(), members))
    apart = weather.ahead.values["air_temp_c"][:, 3] - frame()["air_temp_c"].to_numpy()[FIRST:]
    assert apart[5] == pytest.approx(0.5 * (apart[4] + apart[6]))


def test_a_handful_of_members_is_no_ensemble() -> None:
    """Four say too little about a night: the run is dressed instead."""
    assert completed(raw(frame(), _members(4))).members_from == "dressed"


def test_spread_grows_with_the_age_of_a_forecast() -> None:
    """The same hours, from a run that is three days old."""
    fresh = completed(raw(frame()))
    stale = completed(raw(frame(), issued_at=NOW - timedelta(days=3)))
    spread = [weather.ahead.values["air_temp_c"].std(axis=1)[:24].mean() for weather in (fresh, stale)]
    assert spread[1] > 1.5 * spread[0]
    assert stale.age_hours == pytest.approx(72.0)


def test_a_file_without_a_date_says_so() -> None:
    """It is taken as issued now."""
    weather = completed(raw(frame(), issued_at=None))
    assert weather.issued_at == NOW
    assert any("when it was issued" in note for note in weather.notes)


def test_a_forecast_for_elsewhere_says_so() -> None:
    """Thirty kilometres away, or fifty metres higher."""
    far = completed(raw(frame(), latitude=51.0))
    high = completed(raw(frame(), elevation_m=ELEVATION_M + 300.0))
    assert any("km from the site" in note for note in far.notes)
    assert any("550 m above the sea" in note for note in high.notes)
    assert completed(raw(frame())).notes == ()


@pytest.mark.parametrize(
    ("answer", "moment", "says"),
    [
        (frame().drop(columns=["air_temp_c"]), NOW, "no air temperature"),
        (frame(), BEGINS + timedelta(days=8), "ends at"),
        (frame(), BEGINS - timedelta(days=1), "begins at"),
        (frame().assign(air_temp_c=np.nan), NOW, "missing for the hours after"),
    ],
)
def test_an_answer_that_cannot_serve_is_refused_with_a_reason(answer: pd.DataFrame, moment: object, says: str) -> None:
    """And with what to do about it where something can be done."""
    assert isinstance(moment, type(NOW))
    with pytest.raises(ForecastUnusable, match=says):
        completed(raw(answer), moment)
