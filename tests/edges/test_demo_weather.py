"""The demo's invented weather has the form of an Open-Meteo answer and hangs together as weather does."""

import json
import math
import tomllib
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import psychrolib
import pvlib
import pytest
from numpy.typing import NDArray

from carewatch.config.load import load
from carewatch.config.tables import load_tables
from carewatch.demo import invent

FOLDER = Path(invent.__file__).parent
BOTH = pytest.mark.parametrize("episode", invent.EPISODES, ids=[episode.file for episode in invent.EPISODES])


def answer(episode: invent.Episode) -> dict[str, Any]:
    """The shipped file, parsed."""
    parsed: dict[str, Any] = json.loads((FOLDER / episode.file).read_text(encoding="utf-8"))
    return parsed


def series(episode: invent.Episode, name: str) -> NDArray[np.float64]:
    """One hourly variable of the shipped file."""
    return np.array(answer(episode)["hourly"][name], dtype=np.float64)


def hours_between(episode: invent.Episode, first: datetime, last: datetime) -> NDArray[np.bool_]:
    """True at the hours from first to last, both included."""
    times = series(episode, "time")
    return np.asarray((times >= first.timestamp()) & (times <= last.timestamp()))


def config(name: str) -> dict[str, Any]:
    """One of the demo's configuration files, parsed."""
    return tomllib.loads((FOLDER / name).read_text(encoding="utf-8"))


@BOTH
def test_the_generator_reproduces_the_shipped_file_byte_for_byte(episode: invent.Episode) -> None:
    """Whoever changes the table of days must write the files anew."""
    assert invent.file_text(episode).encode("utf-8") == (FOLDER / episode.file).read_bytes()


@BOTH
def test_every_series_has_one_value_and_one_unit_for_every_hour_of_38_days(episode: invent.Episode) -> None:
    """30 past days and 8 from the day of issue on, hourly without a gap, in universal time."""
    parsed = answer(episode)
    hourly = parsed["hourly"]
    assert parsed["utc_offset_seconds"] == 0
    assert set(hourly) == set(parsed["hourly_units"])
    assert {len(values) for values in hourly.values()} == {38 * 24}
    assert set(np.diff(hourly["time"])) == {3600}
    assert hourly["time"][30 * 24] == episode.issued_at.replace(hour=0).timestamp()


@BOTH
def test_the_answer_says_when_it_was_issued(episode: invent.Episode) -> None:
    """The current block carries the moment of issue and the air temperature of that hour."""
    parsed = answer(episode)
    hour = parsed["hourly"]["time"].index(parsed["current"]["time"])
    assert datetime.fromtimestamp(parsed["current"]["time"], UTC) == episode.issued_at
    assert parsed["current"]["temperature_2m"] == parsed["hourly"]["temperature_2m"][hour]


@BOTH
def test_air_is_never_beyond_saturation(episode: invent.Episode) -> None:
    """The dew point stays at or below the air temperature, and the humidity agrees with both (psychrolib, ASHRAE)."""
    air, dew, humidity = (series(episode, name) for name in ("temperature_2m", "dew_point_2m", "relative_humidity_2m"))
    psychrolib.SetUnitSystem(psychrolib.SI)
    assert (dew <= air).all()
    expected = np.array(
        [100.0 * psychrolib.GetRelHumFromTDewPoint(float(a), float(d)) for a, d in zip(air, dew, strict=True)]
    )
    thaw = dew > 0.0
    assert humidity[thaw] == pytest.approx(expected[thaw], abs=1.0)
    # Below zero psychrolib takes the vapour pressure over ice, at -4 °C by 4 % the lower one; weather services do not.
    assert (humidity[~thaw] > expected[~thaw] - 1.0).all()
    assert (humidity[~thaw] < 1.04 * expected[~thaw] + 1.0).all()


@BOTH
def test_the_sun_shines_by_day_only(episode: invent.Episode) -> None:
    """All radiation is zero in hours without sun and none is zero in hours with it (pvlib, NREL SPA)."""
    parsed = answer(episode)
    stamps = pd.to_datetime(parsed["hourly"]["time"], unit="s", utc=True)
    elevations = np.stack(
        [
            pvlib.solarposition.get_solarposition(
                stamps - pd.Timedelta(minutes=back), parsed["latitude"], parsed["longitude"], parsed["elevation"]
            )["elevation"].to_numpy()
            for back in (0, 30, 60)
        ]
    )
    night = (elevations < -1.0).all(axis=0)
    day = (elevations > 5.0).all(axis=0)
    for name in ("shortwave_radiation", "direct_normal_irradiance", "diffuse_radiation"):
        assert (series(episode, name)[night] == 0.0).all()
    assert (series(episode, "shortwave_radiation")[day] > 10.0).all()
    # Global is diffuse plus beam on the level, within what the sun's path through an hour allows.
    sine = np.sin(np.deg2rad(elevations[1]))
    closed = series(episode, "diffuse_radiation") + series(episode, "direct_normal_irradiance") * sine
    assert series(episode, "shortwave_radiation")[day] == pytest.approx(closed[day], abs=12.0)
    # And within what passes a clear atmosphere: at most about 0.82 of the sun outside it (solar constant 1361 W/m²,
    # Kopp & Lean 2011; hourly clearness index of clear hours from memory).
    assert (series(episode, "shortwave_radiation")[day] <= 0.82 * 1361.0 * sine[day]).all()


@BOTH
def test_gusts_are_stronger_than_the_wind(episode: invent.Episode) -> None:
    """The gust of the past hour is above the wind at both ends of that hour."""
    wind, gust = series(episode, "wind_speed_10m"), series(episode, "wind_gusts_10m")
    assert (gust > wind).all()
    assert (gust[1:] > wind[:-1]).all()


@BOTH
def test_rain_falls_from_clouds(episode: invent.Episode) -> None:
    """Wet hours are overcast and all their precipitation is rain, for neither episode has frost with clouds."""
    rain = series(episode, "rain")
    assert rain.sum() > 20.0
    assert (series(episode, "cloud_cover")[rain > 0.0] >= 90.0).all()
    assert (rain == series(episode, "precipitation")).all()
    assert (series(episode, "snowfall") == 0.0).all()


def test_the_cold_night_is_clear_calm_and_the_only_frost() -> None:
    """A touch of frost at the screen before sunrise on 6 November, after a month without any."""
    night = hours_between(
        invent.COLD_NIGHT, datetime(2026, 11, 5, 18, tzinfo=UTC), datetime(2026, 11, 6, 7, tzinfo=UTC)
    )
    air = series(invent.COLD_NIGHT, "temperature_2m")
    assert air[night].min() == air.min() == -1.6
    assert datetime.fromtimestamp(series(invent.COLD_NIGHT, "time")[air.argmin()], UTC).hour in (5, 6)
    assert series(invent.COLD_NIGHT, "wind_speed_10m")[night].max() < 1.2
    assert series(invent.COLD_NIGHT, "cloud_cover")[night].max() <= 5.0
    afterwards = hours_between(
        invent.COLD_NIGHT, datetime(2026, 11, 6, 12, tzinfo=UTC), datetime(2026, 11, 12, 23, tzinfo=UTC)
    )
    assert air[~night & ~afterwards].min() > -2.0
    assert air[afterwards].min() > 1.0


def test_the_dry_week_peaks_on_thursday_with_gusts_and_without_a_drop() -> None:
    """Up to 34 °C and a vapour pressure deficit of 3.5 to 4 kPa, gusts of 12 to 15 m/s from Wednesday to Friday."""
    week = hours_between(invent.DRY_WEEK, invent.DRY_WEEK.issued_at, datetime(2027, 6, 13, 23, tzinfo=UTC))
    air, dew = (series(invent.DRY_WEEK, name) for name in ("temperature_2m", "dew_point_2m"))
    hottest = int(np.where(week, air, -math.inf).argmax())
    assert datetime.fromtimestamp(series(invent.DRY_WEEK, "time")[hottest], UTC).date() == date(2027, 6, 10)
    psychrolib.SetUnitSystem(psychrolib.SI)
    saturated = [psychrolib.GetSatVapPres(float(value)) / 1000.0 for value in (air[hottest], dew[hottest])]
    assert 33.0 < air[hottest] < 35.0
    assert 3.5 < saturated[0] - saturated[1] < 4.05
    assert series(invent.DRY_WEEK, "precipitation")[week].sum() == 0.0
    gust = series(invent.DRY_WEEK, "wind_gusts_10m")
    for day in (9, 10, 11):
        afternoon = hours_between(
            invent.DRY_WEEK, datetime(2027, 6, day, 12, tzinfo=UTC), datetime(2027, 6, day, 16, tzinfo=UTC)
        )
        assert gust[afternoon].min() >= 12.0
        assert gust[afternoon].max() <= 15.0


@pytest.mark.parametrize(
    ("name", "episode"),
    [("autumn.toml", invent.COLD_NIGHT), ("summer.toml", invent.DRY_WEEK)],
    ids=["autumn", "summer"],
)
def test_each_configuration_loads_at_the_moment_of_its_weather(name: str, episode: invent.Episode) -> None:
    """Six places, eleven trees, room for three of them in the shed; the one warning: a demo has nobody to send to."""
    loaded = load(FOLDER / name, {}, episode.issued_at, load_tables())
    assert ["notices.channel" in warning for warning in loaded.warnings] == [True]
    assert loaded.weather_file == FOLDER / episode.file
    assert len(loaded.garden.places) == 6
    assert len(loaded.garden.trees) == 11
    assert loaded.garden.places["shed"].room == 3
    # No name fell back on a class of plants: every number of the demo is that of the species or the genus.
    assert {tree.species.found_by for tree in loaded.garden.trees} <= {"species", "genus"}


def test_both_configurations_describe_the_same_garden() -> None:
    """Site, places and trees are the same; summer only adds entries to what autumn's care log holds."""
    autumn, summer = config("autumn.toml"), config("summer.toml")
    assert autumn["site"] == summer["site"]
    assert autumn["place"] == summer["place"]
    assert [tree["id"] for tree in autumn["tree"]] == [tree["id"] for tree in summer["tree"]]
    for before, after in zip(autumn["tree"], summer["tree"], strict=True):
        done_before, done_after = before.pop("work", []), after.pop("work", [])
        assert before == after
        assert done_after[: len(done_before)] == done_before


@pytest.mark.parametrize(
    ("name", "episode"),
    [("autumn.toml", invent.COLD_NIGHT), ("summer.toml", invent.DRY_WEEK)],
    ids=["autumn", "summer"],
)
def test_the_care_log_ends_before_the_weather_is_issued(name: str, episode: invent.Episode) -> None:
    """A configuration with a work in the future would be refused; each names its own episode and stands on its cell."""
    parsed = config(name)
    assert parsed["weather"]["file"] == episode.file
    assert parsed["site"]["latitude"] == pytest.approx(answer(episode)["latitude"], abs=0.1)
    assert parsed["site"]["longitude"] == pytest.approx(answer(episode)["longitude"], abs=0.1)
    days = [work["on"] for tree in parsed["tree"] for work in tree.get("work", [])]
    assert days
    assert max(days) < episode.issued_at.date()
