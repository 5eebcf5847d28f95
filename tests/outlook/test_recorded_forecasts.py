"""Forecasts that a weather service really sent, as far as they are at hand: the command says what they lack."""

import json
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from tests.outlook.gardens import Ran, ran, schema

SHARED = Path(os.environ.get("CAREWATCH_SHARED", Path(__file__).parents[3] / "shared"))
GARDEN = """config_version = 1
[site]
latitude = {latitude}
longitude = {longitude}
elevation_m = {elevation}
time_zone = "{zone}"
[weather]
source = "recorded"
file = '{file}'
[[place]]
id = "bench"
kind = "bench"
[[tree]]
id = "maple"
species = "Acer palmatum"
place = "bench"
[[tree]]
id = "pine"
species = "Pinus"
place = "bench"
"""


def sample(name: str) -> Path:
    """A recorded real answer, or a skipped test: such files are third-party data and not part of the project."""
    path = SHARED / "data" / name
    if not path.exists():
        pytest.skip(f"the recorded answer {name} is not at hand (CAREWATCH_SHARED names its folder)")
    return path


def looked_at(folder: Path, name: str, at: datetime, *arguments: str) -> Ran:
    """`outlook` on a recorded answer, for a garden where the answer is for."""
    path = sample(name)
    try:
        answer = json.loads(path.read_text(encoding="utf-8"))
    except ValueError:
        answer = {}
    config = folder / "config.toml"
    config.write_text(
        GARDEN.format(
            latitude=answer.get("latitude", 50),
            longitude=answer.get("longitude", 9),
            elevation=answer.get("elevation", 0),
            zone=answer.get("timezone", "UTC").replace("GMT", "UTC")
            if "Etc" not in answer.get("timezone", "")
            else "UTC",
            file=path,
        ),
        encoding="utf-8",
    )
    return ran("outlook", "--config", str(config), "--at", at.isoformat(), *arguments)


def named(lines: list[str]) -> set[str]:
    """The variables that the lines of a forecast's gaps are about."""
    return {line.partition(":")[0].split(" ")[0] for line in lines}


# The file, a moment in it, and what it must say that it lacks; the files are described beside their parser's tests.
RECORDED = {
    "new-jersey-2025-12-28.json": ("2025-12-29T00:30", {"snow_depth_m"}, {"dew_point_c", "global_wm2"}),
    "new-jersey-2025-12-28-hourly.json": ("2025-12-29T00:30", {"snow_depth_m"}, {"dew_point_c", "global_wm2"}),
    "melbourne.json": ("2025-10-25T11:30", {"snow_depth_m"}, {"dew_point_c", "global_wm2"}),
    "brasilia.json": ("2023-10-25T12:00", {"wind_10m_ms", "gust_10m_ms", "cloud", "rain_mm"}, {"dew_point_c"}),
    "archive-sample.json": ("2022-12-29T12:00", {"wind_10m_ms", "gust_10m_ms", "cloud", "rain_mm"}, {"dew_point_c"}),
    "ensemble-excerpt.json": ("2026-10-02T23:30", {"wind_10m_ms", "gust_10m_ms", "cloud", "rain_mm"}, {"dew_point_c"}),
    "pyrenees-1500m-multi-model.json": ("2026-07-17T03:00", {"cloud"}, {"dew_point_c", "global_wm2"}),
}


@pytest.mark.parametrize("name", RECORDED)
def test_a_real_forecast_is_judged_and_what_it_lacks_is_named(tmp_path: Path, name: str) -> None:
    """Whatever is not in the file is missing or estimated by name, and the document keeps its schema."""
    at, missing, estimated = RECORDED[name]
    document = looked_at(
        tmp_path, f"forecasts/{name}", datetime.fromisoformat(at).replace(tzinfo=UTC), "--json"
    ).document()
    forecast = document["forecast"]

    assert list(Draft202012Validator(schema("outlook")).iter_errors(document)) == []
    assert forecast["source"] == "recorded"
    assert missing <= named(forecast["missing"])
    assert estimated <= named(forecast["estimated"])
    assert [tree["tree"] for tree in document["trees"]] == ["maple", "pine"]
    unjudged = {hazard for hazard, hours in forecast["hours_judged"].items() if hours == 0}
    assert unjudged == ({"wind", "soak", "load"} if {"gust_10m_ms", "rain_mm"} <= missing else set())


def test_hazards_whose_weather_is_unknown_are_not_judged(tmp_path: Path) -> None:
    """A file of temperatures alone says nothing of wind and rain: unknown is not harmless, and is told as unknown."""
    said = looked_at(tmp_path, "forecasts/brasilia.json", datetime(2023, 10, 25, 12, tzinfo=UTC)).out

    told = " ".join(said.split())
    assert "Not judged, as the forecast does not tell what it takes: wet roots, wind and snow and ice. They may" in told
    assert "What the forecast does not tell" in told
    assert "frost" not in told.partition("Not judged")[2].partition("They may come")[0]


def test_the_members_of_an_ensemble_are_used_as_they_are(tmp_path: Path) -> None:
    """Twenty-one members in the file are twenty-one courses, not a spread of our own."""
    at = datetime(2026, 10, 2, 23, 30, tzinfo=UTC)
    forecast = looked_at(tmp_path, "forecasts/ensemble-excerpt.json", at, "--json").document()["forecast"]

    assert (forecast["members"], forecast["members_from"], forecast["hours"]) == (21, "ensemble", 2)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("forecasts/berlin-2026-07-18.json", "no air temperature"),
        ("errors/error-400-body.json", "lksdfj"),
        ("errors/not-covered-bare-nan.txt", "bare nan"),
    ],
)
def test_a_real_answer_that_is_of_no_use_is_refused_with_its_reason(tmp_path: Path, name: str, said: str) -> None:
    answer = looked_at(tmp_path, name, datetime(2026, 7, 18, 12, tzinfo=UTC), "--json")

    assert (answer.code, answer.out) == (1, "")
    assert said in answer.err
    assert Path(name).name in answer.err
    assert "Traceback" not in answer.err


def test_a_moment_after_the_recording_is_refused_and_one_before_it_too(tmp_path: Path) -> None:
    """The reason names the end, or the beginning, of what is known."""
    name = "forecasts/melbourne.json"
    after = looked_at(tmp_path, name, datetime(2025, 11, 1, 12, tzinfo=UTC))
    before = looked_at(tmp_path, name, datetime(2025, 10, 25, tzinfo=UTC) - timedelta(days=2))

    assert (after.code, before.code) == (1, 1)
    assert "ends at 2025-10-31 23:00, before" in after.err
    assert "begins at 2025-10-25 00:00, after" in before.err
