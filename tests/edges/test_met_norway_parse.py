"""Locationforecast 2.0 as documented: what falls after a stamp, long steps, units, what is left out with its name."""

import json
import os
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from carewatch.config.tables import load_tables
from carewatch.forecast.complete import complete
from carewatch.forecast.raw import RawForecast
from carewatch.weather_api.met_norway_parse import OWN_AGE, parse_met_norway
from carewatch.weather_api.recorded import read_recorded
from carewatch.weather_api.refused import SourceRefused
from tests.edges.invented_norway import Answer, daily_course_c, norway

SHARED = Path(os.environ.get("CAREWATCH_SHARED", Path(__file__).parents[3] / "shared"))
BEGINS = datetime(2026, 11, 5, 12, tzinfo=UTC)
UPDATED = BEGINS - timedelta(hours=3)
FETCHED = BEGINS + timedelta(minutes=20)


def parsed(answer: object) -> RawForecast:
    return parse_met_norway(answer, fetched_at=FETCHED)


def test_instants_stay_on_their_stamps_in_canonical_units() -> None:
    raw = parsed(norway(BEGINS, UPDATED))

    first = raw.single.iloc[0]
    assert raw.single.index[0] == pd.Timestamp(BEGINS)
    assert first["air_temp_c"] == pytest.approx(daily_course_c(BEGINS), abs=0.06)
    assert (first["cloud"], first["wind_10m_ms"], first["relative_humidity"]) == (0.25, 2.0, 80.0)
    assert (raw.source, raw.latitude, raw.longitude, raw.elevation_m) == ("met-norway", 50.3, 9.1, 250.0)
    assert dict(raw.members) == {}


def test_precipitation_of_the_hours_after_a_stamp_goes_to_the_stamps_at_which_they_end() -> None:
    """The opposite of the first source (Locationforecast data model): the first stamp knows no rain, the last does."""
    answer = norway(BEGINS, UPDATED, rain_mm=0.3)
    series = answer["properties"]["timeseries"]
    series[0]["data"]["next_1_hours"]["details"]["precipitation_amount"] = 2.0

    rain = parsed(answer).single["rain_mm"]

    assert np.isnan(rain.iloc[0])
    assert rain.iloc[1] == 2.0
    assert rain.iloc[2:].to_numpy() == pytest.approx(0.3)
    assert rain.notna().sum() == len(rain) - 1


def test_six_hourly_steps_are_drawn_through_their_lows_and_highs_and_said_to_be_estimated() -> None:
    """A night's minimum between two instants is kept, and the horizon does not end after two and a half days."""

    def with_a_dip(at: datetime) -> float:
        return daily_course_c(at) - (6.0 if at.hour == 4 and at > BEGINS + timedelta(days=4) else 0.0)

    raw = parsed(norway(BEGINS, UPDATED, with_a_dip))

    air = raw.single["air_temp_c"]
    assert air.notna().all()
    assert len(air) > 190
    night = air.loc["2026-11-10 00:00":"2026-11-10 06:00"]
    assert night.min() == pytest.approx(with_a_dip(datetime(2026, 11, 10, 4, tzinfo=UTC)), abs=0.06)
    assert any("every few hours" in note and "estimated" in note for note in raw.notes)


def test_a_gap_longer_than_a_step_stays_a_gap() -> None:
    answer = norway(BEGINS, UPDATED)
    series = answer["properties"]["timeseries"]
    del series[-4]

    single = parsed(answer).single

    assert single["air_temp_c"].isna().sum() == 11
    assert single["cloud"].isna().sum() == 11
    # What is said of the six hours after the entry before the gap still holds for them.
    assert single["rain_mm"].isna().sum() == 1 + 6


@pytest.mark.parametrize(
    ("symbol", "rain", "snow"),
    [
        ("heavyrainshowers_night", 1.0, 0.0),
        ("lightsnowshowers_day", 0.0, 0.7),
        ("sleet", 0.5, 0.35),
        (None, 1.0, 0.0),
    ],
)
def test_snow_is_told_from_rain_by_the_symbol_of_the_period(symbol: str | None, rain: float, snow: float) -> None:
    """In mild air, in which the air's temperature would say rain; a millimetre of water is 0.7 cm of snow."""
    answer = norway(BEGINS, UPDATED, lambda _: 6.0, rain_mm=1.0, symbol=symbol)

    hour = parsed(answer).single.iloc[10]

    assert (hour["rain_mm"], hour["snowfall_cm"]) == (pytest.approx(rain), pytest.approx(snow))


def test_without_a_symbol_frosty_air_brings_snow() -> None:
    answer = norway(BEGINS, UPDATED, lambda _: -4.0, rain_mm=1.0, symbol=None)

    hour = parsed(answer).single.iloc[10]

    assert (hour["rain_mm"], hour["snowfall_cm"]) == (0.0, pytest.approx(0.7))


def test_gusts_are_taken_where_there_are_any_and_named_as_missing_elsewhere() -> None:
    """Outside of the Nordic countries there are none; a maximum says nothing about the hours between long steps."""
    with_gusts, without = (parsed(norway(BEGINS, UPDATED, gusts=gusts)) for gusts in (True, False))

    assert with_gusts.single["gust_10m_ms"].iloc[:56].to_numpy() == pytest.approx(5.0)
    assert with_gusts.single["gust_10m_ms"].iloc[-2:].isna().sum() == 1
    assert "gust_10m_ms" not in without.single
    assert any(note.startswith("Not in this answer: gust, global radiation") for note in without.notes)


def test_what_it_lacks_is_estimated_and_marked_as_such() -> None:
    """Radiation from clear sky and cloud, gusts from mean wind, pressure from height."""
    raw = parsed(norway(BEGINS, UPDATED))

    weather = complete(raw, 50.3, 9.1, 250.0, FETCHED, load_tables().forecast_errors)

    estimated = {line.split(":")[0].split(" ")[0] for line in weather.estimated}
    assert {"global_wm2", "direct_normal_wm2", "diffuse_wm2", "gust_10m_ms", "pressure_kpa"} <= estimated
    assert weather.ahead.values["global_wm2"].max() > 100.0
    assert len(weather.ahead) == 168


def test_an_answer_counts_as_issued_when_it_was_fetched_but_not_long_after_its_own_update() -> None:
    """One that is confirmed again and again though nobody updates it grows old, and the watch goes blind in time."""
    fresh, stale = (parsed(norway(BEGINS, FETCHED - age)) for age in (timedelta(hours=6), timedelta(hours=30)))

    assert fresh.issued_at == FETCHED
    assert stale.issued_at == FETCHED - timedelta(hours=30) + OWN_AGE
    assert any("last updated" in note for note in stale.notes)


def with_units(answer: Answer, name: str, unit: str) -> Answer:
    properties = answer["properties"]
    meta = {**properties["meta"], "units": {**properties["meta"]["units"], name: unit}}
    return {**answer, "properties": {**properties, "meta": meta}}


def test_a_unit_that_is_not_documented_is_left_out_with_its_name() -> None:
    raw = parsed(with_units(norway(BEGINS, UPDATED), "wind_speed", "furlongs"))

    assert "wind_10m_ms" not in raw.single
    assert any("wind_speed" in note and "unknown unit" in note for note in raw.notes)


def series_of(change: Callable[[list[Answer]], object]) -> Answer:
    answer = norway(BEGINS, UPDATED)
    change(answer["properties"]["timeseries"])
    return answer


BROKEN: dict[str, tuple[object, str]] = {
    "a list": ([], "no properties"),
    "a number": (7, "no properties"),
    "no time series": ({"properties": {}}, "no times"),
    "an empty time series": (series_of(list.clear), "no times"),
    "no time that can be read": (series_of(lambda s: [entry.update(time="noon") for entry in s]), "full hour"),
    "no air temperature": (
        series_of(lambda s: [entry["data"]["instant"]["details"].pop("air_temperature") for entry in s]),
        "no air temperature",
    ),
    "air temperature in no unit": (with_units(norway(BEGINS, UPDATED), "air_temperature", "K"), "no air temperature"),
    "words for numbers": (
        series_of(lambda s: [entry["data"]["instant"].update(details={"air_temperature": "warm"}) for entry in s]),
        "no air temperature",
    ),
    "a year of hours": (series_of(lambda s: s[-1].update(time="2027-11-05T12:00:00Z")), "its times are broken"),
}


@pytest.mark.parametrize("what", BROKEN)
def test_an_answer_that_cannot_be_used_is_refused_with_its_reason(what: str) -> None:
    document, reason = BROKEN[what]

    with pytest.raises(SourceRefused, match=reason):
        parsed(document)


def test_entries_that_are_broken_are_left_out_and_counted() -> None:
    def breaks(series: list[Answer]) -> None:
        series[3]["time"] = None
        series[4] = "not an entry"  # type: ignore[call-overload]  # what a broken answer may hold
        series[5]["data"] = None
        series[6]["data"]["instant"]["details"]["air_temperature"] = 300.0

    raw = parsed(series_of(breaks))

    assert any("2 of" in note and "cannot be read" in note for note in raw.notes)
    assert any("impossible" in note for note in raw.notes)
    assert raw.single["air_temp_c"].notna().all()


def test_a_saved_answer_is_known_by_its_form(tmp_path: Path) -> None:
    file = tmp_path / "norway.json"
    file.write_text(json.dumps(norway(BEGINS, UPDATED)), encoding="utf-8")

    raw = read_recorded(file)

    assert (raw.source, raw.issued_at) == ("recorded", UPDATED)


def test_the_recorded_answer_for_london_is_read_whole() -> None:
    """Of 20 July 2020: 54 hours, then six-hourly to the 29th, with 2.5 mm in all its periods (added up by hand)."""
    path = SHARED / "data" / "met_norway" / "london-complete-2020-07-20.json"
    if not path.exists():
        pytest.skip("the recorded answer for London is not at hand (CAREWATCH_SHARED names its folder)")
    document = json.loads(path.read_text(encoding="utf-8"))["data"]

    raw = parse_met_norway(document, fetched_at=datetime(2020, 7, 20, 11, 44, tzinfo=UTC))

    assert len(raw.single) == 212
    assert raw.single["air_temp_c"].notna().all()
    assert raw.single["rain_mm"].sum() == pytest.approx(2.5)
    # The step from midnight to six of the 24th has a low of 11.2 °C between 14.4 and 13.5 °C.
    night = raw.single["air_temp_c"].loc["2020-07-24 00:00":"2020-07-24 06:00"]
    assert night.min() == pytest.approx(11.2)
    assert (night.iloc[0], night.iloc[-1]) == (14.4, 13.5)
    weather = complete(raw, 51.5, -0.1, 25.0, datetime(2020, 7, 20, 12, tzinfo=UTC), load_tables().forecast_errors)
    noon = weather.ahead.times == np.datetime64("2020-07-21T12:00")
    assert 300.0 < float(np.median(weather.ahead.values["global_wm2"][noon])) < 1000.0
