"""Recorded answers on disk: real ones where they are at hand, and every way in which a file can be of no use."""

import gzip
import json
import os
from datetime import UTC, datetime
from pathlib import Path

import pandas as pd
import pytest

from carewatch.weather_api.recorded import read_recorded
from carewatch.weather_api.refused import SourceRefused

SHARED = Path(os.environ.get("CAREWATCH_SHARED", Path(__file__).parents[3] / "shared"))

GOOD = {
    "latitude": 52.5,
    "longitude": 13.4,
    "utc_offset_seconds": 0,
    "hourly_units": {"time": "unixtime", "temperature_2m": "°C"},
    "hourly": {"time": [1_768_435_200, 1_768_438_800], "temperature_2m": [-3.5, -4.0]},
}


def sample(name: str) -> Path:
    """A recorded real answer, or a skipped test: such files are third-party data and not part of the project."""
    path = SHARED / "data" / name
    if not path.exists():
        pytest.skip(f"the recorded answer {name} is not at hand (CAREWATCH_SHARED names its folder)")
    return path


def refusal(path: Path) -> str:
    with pytest.raises(SourceRefused) as refused:
        read_recorded(path)
    assert not refused.value.transient
    return refused.value.reason


@pytest.mark.parametrize("name", ["answer.json", "answer.json.gz"])
def test_a_recorded_answer_is_read_plain_or_compressed(tmp_path: Path, name: str) -> None:
    content = json.dumps(GOOD).encode()
    (tmp_path / name).write_bytes(gzip.compress(content) if name.endswith(".gz") else content)
    forecast = read_recorded(tmp_path / name)
    assert forecast.source == "recorded"
    assert forecast.issued_at is None
    assert forecast.single["air_temp_c"].tolist() == [-3.5, -4.0]


def test_each_way_in_which_a_file_is_of_no_use_has_its_own_reason(tmp_path: Path) -> None:
    content = json.dumps(GOOD).encode()
    cases: dict[str, tuple[bytes, str]] = {
        "cut.json": (content[:60], "cut off after 60 bytes"),
        "cut.json.gz": (gzip.compress(content)[:-20], "compressed data ends too early"),
        "damaged.json.gz": (b"\x1f\x8b" + b"\x00" * 40, "damaged"),
        "page.json": (b"\n<html>moved</html>", "web page"),
        "nan.json": (content.replace(b"-3.5", b"NaN"), "bare nan"),
        "empty.json": (b"", "empty"),
        "binary.json": (b"\xff\xfe\xfd\x00\x01", "not valid JSON"),
        "bomb.json.gz": (gzip.compress(b" " * 9 * 1024 * 1024), "larger than 8 MB"),
        "other.json": (b'{"type": "Feature"}', "no hourly values"),
    }
    for name, (body, said) in cases.items():
        (tmp_path / name).write_bytes(body)
        reason = refusal(tmp_path / name)
        assert said in reason
        assert name in reason


def test_a_missing_file_and_a_folder_are_named(tmp_path: Path) -> None:
    assert "does not exist" in refusal(tmp_path / "no.json")
    assert "is a folder" in refusal(tmp_path)
    assert "cannot be read" in refusal(tmp_path / "nul\0.json")


def test_the_new_jersey_winter_arrives_in_canonical_units() -> None:
    """336 hours from −10.4 to 7.9 °C; its file says km/h and per cent, and has neither dew point nor radiation."""
    path = sample("forecasts/new-jersey-2025-12-28.json")
    hourly = json.loads(path.read_text("utf-8"))["hourly"]
    forecast = read_recorded(path)
    assert forecast.issued_at == datetime(2025, 12, 28, 23, tzinfo=UTC)
    assert forecast.single.index[0] == pd.Timestamp("2025-12-28T00:00Z")
    assert len(forecast.single) == 336
    assert forecast.single["air_temp_c"].min() == -10.4
    assert forecast.single["wind_10m_ms"].tolist() == pytest.approx([speed / 3.6 for speed in hourly["wind_speed_10m"]])
    assert forecast.single["cloud"].isna().sum() == hourly["cloud_cover"].count(None) == 24
    assert not {"dew_point_c", "global_wm2"} & set(forecast.single.columns)
    assert any(note.startswith("Not in this answer: dew point, global radiation") for note in forecast.notes)


def test_the_other_new_jersey_recording_is_read_whole() -> None:
    forecast = read_recorded(sample("forecasts/new-jersey-2025-12-28-hourly.json"))
    assert len(forecast.single) == 336
    assert forecast.single["air_temp_c"].agg(["min", "max"]).tolist() == [-7.9, 7.9]


def test_snow_that_a_recording_gives_without_precipitation_makes_no_negative_rain() -> None:
    forecast = read_recorded(sample("forecasts/melbourne.json"))
    assert forecast.latitude == -37.75
    assert forecast.single["snowfall_cm"].max() == 2.5
    assert forecast.single["rain_mm"].min() == 0.0
    assert forecast.single["rain_mm"].max() == 3.5


def test_berlin_is_refused_for_its_lack_of_air_temperature() -> None:
    reason = refusal(sample("forecasts/berlin-2026-07-18.json"))
    assert reason.endswith("has no air temperature (temperature_2m), which every judgement needs")


def test_the_pyrenees_are_read_from_the_first_model_and_their_null_tail_stays_unknown() -> None:
    path = sample("forecasts/pyrenees-1500m-multi-model.json")
    hourly = json.loads(path.read_text("utf-8"))["hourly"]
    forecast = read_recorded(path)
    assert forecast.single.index[0] == pd.Timestamp("2026-07-16T22:00Z")
    given = hourly["temperature_2m_meteofrance_arome_france_hd"]
    assert forecast.single["air_temp_c"].tolist() == pytest.approx(
        [float("nan") if value is None else value for value in given], nan_ok=True
    )
    assert forecast.single["air_temp_c"].isna().tolist() == [False] * 60 + [True] * 12
    assert any("model meteofrance_arome_france_hd" in note for note in forecast.notes)
    assert "Snowfall is that of meteofrance_arome_france." in forecast.notes
    assert forecast.elevation_m == 1500.0


@pytest.mark.parametrize(
    ("name", "first", "hours"),
    [
        ("forecasts/brasilia.json", "2023-10-25T03:00Z", 168),
        ("forecasts/archive-sample.json", "2022-12-29T09:00Z", 24),
    ],
)
def test_recordings_of_temperature_alone_start_at_their_utc_hour_and_name_what_is_missing(
    name: str, first: str, hours: int
) -> None:
    """Their local times start at midnight, three and nine hours west of Greenwich."""
    forecast = read_recorded(sample(name))
    assert forecast.single.index[0] == pd.Timestamp(first)
    assert forecast.single.shape == (hours, 1)
    missing = next(note for note in forecast.notes if note.startswith("Not in this answer"))
    assert all(word in missing for word in ("dew point", "wind", "gust", "cloud cover", "rain", "snow depth"))


def test_the_ensemble_excerpt_has_twenty_one_members_with_its_control_first() -> None:
    forecast = read_recorded(sample("forecasts/ensemble-excerpt.json"))
    members = forecast.members["air_temp_c"]
    assert members.shape == (2, 21)
    assert members[0].tolist() == forecast.single["air_temp_c"].tolist() == [10.5, 10.1]
    assert members[20].tolist() == [11.1, 10.8]


def test_recorded_error_answers_are_refused_with_what_they_say() -> None:
    assert "lksdfj" in refusal(sample("errors/error-400-body.json"))
    assert "bare nan" in refusal(sample("errors/not-covered-bare-nan.txt"))
