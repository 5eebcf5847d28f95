"""The question about leaves from its first asking to what the answer changes, through the commands."""

import json
import math
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.edges.watched import Answer, Watched, cold_night, web_service

# Seven in the morning in the garden, three days after the layer was cut from its mother.
SEVERED = "2026-06-08"
THIRD_DAY = datetime(2026, 6, 11, 5, tzinfo=UTC)
EVENING = THIRD_DAY + timedelta(hours=14)
DAY = timedelta(days=1)
FROM = datetime(2026, 6, 7, tzinfo=UTC)


def summer(highest_c: float, days: int = 6) -> Answer:
    """An answer of the weather service: calm bright days of one temperature, warmest at three in the afternoon."""
    found = cold_night()
    hours = days * 24
    local = [(hour + 2) % 24 for hour in range(hours)]
    light = [max(0.0, math.sin(math.pi * (hour - 5) / 16)) if 5 < hour < 21 else 0.0 for hour in local]
    course = {
        "temperature_2m": [highest_c - 5 + 5 * math.cos(2 * math.pi * (hour - 15) / 24) for hour in local],
        "dew_point_2m": [10.0] * hours,
        "relative_humidity_2m": [60] * hours,
        "wind_speed_10m": [1.5] * hours,
        "wind_gusts_10m": [3.0] * hours,
        "shortwave_radiation": [650 * share for share in light],
        "direct_normal_irradiance": [300 * share for share in light],
        "diffuse_radiation": [350 * share for share in light],
        "cloud_cover": [50] * hours,
        "surface_pressure": [985.0] * hours,
        "soil_temperature_6cm": [16.0] * hours,
    }
    hourly = {name: course.get(name, [0.0] * hours) for name in found["hourly"]}
    hourly["time"] = [int((FROM + timedelta(hours=hour)).timestamp()) for hour in range(hours)]
    return {**found, "hourly": hourly}


@pytest.fixture
def garden(tmp_path: Path) -> Iterator[Watched]:
    with web_service() as web:
        web.weather = summer(23.0)
        watched = Watched(tmp_path, web)
        watched.plant(trees=("maple-layer-1",))
        text = watched.config.read_text(encoding="utf-8")
        text = text.replace("2026-10-12", SEVERED).replace("2026-11-02", "2026-06-09")
        watched.config.write_text(text, encoding="utf-8")
        yield watched


def questions(said: Answer) -> list[Answer]:
    return [notice for notice in said["notices"] if notice["kind"] == "question"]


def document(garden: Watched, at: datetime, *arguments: str) -> Answer:
    garden.set_clock(at)
    code, out, logged = garden.ran(*arguments, "--json")
    assert code == 0, logged
    found: Answer = json.loads(out)
    return found


def supply(garden: Watched, at: datetime) -> float:
    explained = document(garden, at, "explain", "maple-layer-1")
    return float(explained["works"][0]["root_supply"])


def test_it_is_asked_once_on_the_third_day_in_waking_hours(garden: Watched) -> None:
    before = garden.once(THIRD_DAY - DAY)
    night = garden.once(THIRD_DAY - timedelta(hours=4))
    asked = garden.once(THIRD_DAY)
    again = garden.once(THIRD_DAY + timedelta(hours=1))
    next_day = garden.once(THIRD_DAY + DAY)

    assert [questions(said) for said in (before, night, again, next_day)] == [[], [], [], []]
    (question,) = questions(asked)
    assert question["trees"] == ["maple-layer-1"]
    assert "Today at 14:00: do the leaves of maple-layer-1 hang?" in garden.web.titles()
    (posted,) = [post["message"] for post in garden.web.posts if question["id"][:6] in post["message"]]
    assert "maple-layer-1 (lawn): cut from its mother 3\u00a0days ago." in posted
    assert "Look again at 21:00" in posted


def test_hang_lowers_what_the_roots_are_taken_to_bring_and_firm_raises_it(garden: Watched) -> None:
    (question,) = questions(garden.once(THIRD_DAY))
    plain = supply(garden, EVENING)

    garden.set_clock(EVENING)
    code, said, _ = garden.ran("answer", question["id"][:6], "hang")
    assert code == 0
    assert "From now on they count for 80 % of that." in said
    hung = supply(garden, EVENING + timedelta(minutes=1))
    assert hung == pytest.approx(0.8 * plain, abs=2e-6)

    code, said, _ = garden.ran("answer", question["id"][:6], "firm")
    assert code == 0
    assert "Before, you said hang." in said
    firm = supply(garden, EVENING + timedelta(minutes=1))
    assert firm == pytest.approx(1.25 * plain, abs=2e-6)
    log = document(garden, EVENING + timedelta(minutes=1), "log", "maple-layer-1", "show", "--all")
    stored = [(entry["seen"], entry["struck_at"] is None) for entry in log["entries"] if entry["number"]]
    assert stored == [("hanging", False), ("firm", True)]


def test_explain_says_where_the_corrected_number_comes_from(garden: Watched) -> None:
    (question,) = questions(garden.once(THIRD_DAY))
    garden.set_clock(EVENING)
    assert garden.ran("answer", question["id"][:6], "hang")[0] == 0

    explained = document(garden, EVENING + timedelta(minutes=1), "explain", "maple-layer-1")

    (step,) = [step for step in explained["steps"] if step["quantity"] == "root supply"]
    assert "leaves seen hanging by day on 2026-06-11 (× 0.8): the grower's answer" in step["source"]
    (deficit,) = [deficit for deficit in explained["recovery"]["deficits"] if deficit["deficit"] == "root supply"]
    assert "corrected by leaves seen hanging by day on 2026-06-11 (× 0.8)" in deficit["closes_by"]


def test_leaves_that_hang_at_dawn_halve_it(garden: Watched) -> None:
    garden.once(THIRD_DAY)
    plain = supply(garden, THIRD_DAY)
    garden.set_clock(THIRD_DAY + timedelta(minutes=30))

    code, said, _ = garden.ran("log", "maple-layer-1", "observe", "wilting")

    assert code == 0
    assert "Act now" in said
    assert supply(garden, THIRD_DAY + timedelta(hours=1)) == pytest.approx(0.5 * plain, rel=1e-3)


def test_after_the_first_hot_day_it_is_asked_once_more(garden: Watched) -> None:
    """Asked on the third day; the fourth is hot; the fifth brings the question again, later hot days do not."""
    assert questions(garden.once(THIRD_DAY))
    garden.web.weather = summer(29.0, days=9)
    said = [questions(garden.once(THIRD_DAY + days * DAY)) for days in (1, 2, 3)]

    assert sum(len(found) for found in said) == 1
    titles = [title for title in garden.web.titles() if "do the leaves" in title]
    assert len(titles) == 2


def test_who_saw_the_leaves_already_is_not_asked(garden: Watched) -> None:
    garden.set_clock(THIRD_DAY - timedelta(hours=12))
    assert garden.ran("log", "maple-layer-1", "observe", "firm")[0] == 0

    assert questions(garden.once(THIRD_DAY)) == []


def test_an_answer_that_says_nothing_of_leaves_changes_no_number(garden: Watched) -> None:
    (question,) = questions(garden.once(THIRD_DAY))
    plain = supply(garden, EVENING)
    garden.set_clock(EVENING)

    code, said, _ = garden.ran("answer", question["id"][:6], "later")

    assert code == 0
    assert "once you have looked, answer hang or firm" in said
    assert supply(garden, EVENING) == plain
