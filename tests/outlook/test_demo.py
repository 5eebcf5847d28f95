"""The demo is the program at work: who is called, who is mentioned, who is left in peace, and what is said."""

import json
import math
import shutil
from datetime import UTC, datetime, timedelta
from importlib.resources import files
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from carewatch.cli.demo_command import message_of
from carewatch.cli.reports import judged, prepared
from tests.outlook.gardens import Document, Garden, Ran, ran, schema

FOLDER = Path(str(files("carewatch") / "demo"))
EPISODES = {
    "autumn": ("cold-night.json", datetime(2026, 11, 5, 11, tzinfo=UTC)),
    "summer": ("dry-week.json", datetime(2027, 6, 7, 5, tzinfo=UTC)),
}
LAYERS = ["maple-layer-1", "maple-layer-2"]
# What is never said to a grower, and words that only forecasters use.
NEVER_SAID = ("will die", "safe", "guaranteed", "protect your plants", "percentile", "ensemble", "member")
NUMBERED = (
    *("frost", "chill", "root-freeze", "root-heat", "soak", "heave"),
    *("heat", "drying", "sun", "bark-scald", "wind"),
)


@pytest.fixture(scope="module")
def told() -> Ran:
    """`carewatch demo`, as a person sees it."""
    return ran("demo")


@pytest.fixture(scope="module")
def document() -> Document:
    """`carewatch demo --json`."""
    return ran("demo", "--json").document()


def episode(document: Document, name: str) -> Document:
    """One episode of the demo's document."""
    found: Document = document["episodes"][list(EPISODES).index(name)]
    return found


def trees(document: Document, name: str) -> dict[str, Document]:
    """The trees of one episode, by id."""
    return {tree["tree"]: tree for tree in episode(document, name)["outlook"]["trees"]}


def messages(document: Document) -> dict[str, str]:
    """The message of each episode."""
    return {name: episode(document, name)["message"] for name in EPISODES}


def as_installed(name: str) -> Garden:
    """The garden of an episode, through its own configuration."""
    return Garden(FOLDER / f"{name}.toml", EPISODES[name][1])


@pytest.mark.parametrize("name", EPISODES)
def test_an_episode_keeps_the_schema_of_an_outlook(document: Document, name: str) -> None:
    assert list(Draft202012Validator(schema("outlook")).iter_errors(episode(document, name)["outlook"])) == []


def test_an_episode_is_what_its_own_configuration_gives(document: Document) -> None:
    """The demo has no numbers of its own: `explain` on the same garden at the same moment says the same of a tree."""
    assert as_installed("autumn").outlook("maple-layer-1") == trees(document, "autumn")["maple-layer-1"]
    assert (
        as_installed("autumn").explain("maple-layer-1")["forecast"]
        == episode(document, "autumn")["outlook"]["forecast"]
    )
    assert (
        list(Draft202012Validator(schema("explain")).iter_errors(as_installed("autumn").explain("maple-layer-1"))) == []
    )


def test_the_cold_night_calls_for_the_layers_and_leaves_the_old_trees_in_peace(document: Document) -> None:
    """A colouring maple sheds those leaves anyway, and a pine bears far more (common practice)."""
    found = trees(document, "autumn")
    called = [name for name, tree in found.items() if tree["call"]["measure"]]

    assert called == LAYERS
    assert {spell["hazard"] for name in LAYERS for spell in found[name]["spells"]} == {"frost"}
    for name in ("old-maple", "red-maple", "pine", "juniper", "trident", "elm", "larch"):
        assert found[name]["spells"] == []
        assert found[name]["call"]["expected_loss"] < 0.02


def test_a_layer_in_its_first_months_is_protected_where_it_stands(document: Document) -> None:
    """A new layer stands absolutely still (common practice): no carrying for one night of frost."""
    for name in LAYERS:
        assert not trees(document, "autumn")[name]["call"]["measure"].startswith("move:")


def test_what_is_done_really_helps(document: Document) -> None:
    """Whoever is called for loses less than half of what would be lost otherwise."""
    calls = [tree["call"] for name in EPISODES for tree in trees(document, name).values() if tree["call"]["measure"]]

    assert len(calls) >= 4
    assert all(call["expected_loss_with"] < 0.5 * call["expected_loss"] for call in calls)


@pytest.mark.parametrize("name", EPISODES)
def test_every_tree_is_called_mentioned_or_in_peace(document: Document, told: Ran, name: str) -> None:
    """Nobody is forgotten: in the message, among those in danger, or in the list of those left in peace."""
    index = list(EPISODES).index(name)
    screen = told.out.split("====")[1:]
    shown = "".join(screen) if index else told.out.split("A dry, hot, windy week")[0]
    message = messages(document)[name]
    for tree in trees(document, name).values():
        if tree["call"]["measure"]:
            assert tree["tree"] in message
        elif tree["spells"]:
            assert f"{tree['tree']}  {tree['species']}" in shown
            assert tree["call"]["why"]
        else:
            assert f"  {tree['tree']}: {tree['species']}, {tree['place']}, {tree['stage']}" in shown


@pytest.mark.parametrize("name", EPISODES)
def test_a_message_fits_says_when_and_says_nothing_that_is_never_said(document: Document, name: str) -> None:
    """At most 1,000 characters, what and by when in the first line, no promise, no word of a forecaster's trade."""
    message = messages(document)[name]
    first = message.split("\n")[0]

    assert len(message) <= 1000
    assert " before " in first
    assert any(layer in first for layer in LAYERS)
    assert [words for words in NEVER_SAID if words in message.lower()] == []
    assert "nan" not in message.lower().split()


def test_the_covers_go_on_before_the_sun_is_down(document: Document) -> None:
    """
    In an unlit garden the work is done by daylight.

    Sunset by the almanac's formula for the middle of the sun with refraction, 0.833° below the horizon; declination
    and equation of time of 5 November from the Astronomical Almanac (-15.8°, +16.4 minutes; from memory).
    """
    latitude, declination = math.radians(50.3), math.radians(-15.8)
    noon = datetime(2026, 11, 5, 12, tzinfo=UTC) - timedelta(minutes=4 * 9.1 + 16.4)
    cosine = (math.sin(math.radians(-0.833)) - math.sin(latitude) * math.sin(declination)) / (
        math.cos(latitude) * math.cos(declination)
    )
    sunset = noon + timedelta(hours=math.degrees(math.acos(cosine)) / 15)
    for name in LAYERS:
        call = trees(document, "autumn")[name]["call"]
        act_by, undo_at = datetime.fromisoformat(call["act_by"]), datetime.fromisoformat(call["undo_at"])

        assert EPISODES["autumn"][1] < act_by < sunset
        # Cloth is off again before the sun is strong, at half past nine (common practice).
        assert (undo_at.date() - act_by.date()).days == 1
        assert 8 <= undo_at.hour < 10


def test_shade_is_there_before_ten_of_the_first_hot_day(document: Document) -> None:
    """Shade goes up before ten on the first hot day (common practice)."""
    for name in LAYERS:
        act_by = datetime.fromisoformat(trees(document, "summer")[name]["call"]["act_by"])

        assert act_by.date() == EPISODES["summer"][1].date()
        assert act_by.hour <= 10


def warmed_by(folder: Path, kelvins: float) -> Garden:
    """The autumn episode in a folder of its own, the first night warmer: air and dew point from 18:00 to 9:00 UTC."""
    shutil.copy(FOLDER / "autumn.toml", folder)
    weather = json.loads((FOLDER / "cold-night.json").read_text(encoding="utf-8"))
    start, end = (datetime(2026, 11, day, hour, tzinfo=UTC).timestamp() for day, hour in ((5, 18), (6, 9)))
    hourly = weather["hourly"]
    for name in ("temperature_2m", "dew_point_2m"):
        hourly[name] = [
            value + kelvins if start <= time <= end else value
            for time, value in zip(hourly["time"], hourly[name], strict=True)
        ]
    (folder / "cold-night.json").write_text(json.dumps(weather), encoding="utf-8")
    return Garden(folder / "autumn.toml", EPISODES["autumn"][1])


def message(garden: Garden) -> str | None:
    """The message that would go out for a garden, or None."""
    loaded, tables, moment = prepared(str(garden.config), garden.at.isoformat(), {}, garden.at)
    found = message_of(judged(loaded, tables, moment, {}))
    return found.body if found else None


def test_a_night_that_is_six_degrees_warmer_needs_no_message(document: Document, tmp_path: Path) -> None:
    """Nothing is staged: with another forecast the same garden is left in peace."""
    unchanged = message(warmed_by(tmp_path, 0.0))
    warmer = message(warmed_by(tmp_path, 6.0))

    assert unchanged == messages(document)["autumn"]
    assert warmer is None


def test_the_explanation_of_the_layer_leads_from_the_forecast_to_the_loss_without_a_gap() -> None:
    """Every number has a source, and they stand in the order of the reasoning."""
    steps = as_installed("autumn").explain("maple-layer-1")["steps"]
    groups = list(dict.fromkeys(step["step"] for step in steps))

    assert groups[:4] == ["weather", "place", "plant", "condition"]
    assert groups[4:-1] == [name for name in NUMBERED if name in groups]
    assert {"frost", "root-freeze", "heat", "drying", "sun", "wind", "soak"} <= set(groups)
    assert groups[-1] == "all"
    assert steps[0]["quantity"] == "air temperature at 2 m"
    assert steps[-1]["quantity"].startswith("expected loss")
    assert [step["quantity"] for step in steps if not step["source"].strip()] == []
    assert [step["quantity"] for step in steps if step["value"] is None] == []
    said = " ".join(step["quantity"] for step in steps)
    for link in ("longwave", "floor", "mid-crown", "organ that faces the sky", "root ball", "roots can bring"):
        assert link in said


def test_the_steps_of_the_layer_follow_from_each_other() -> None:
    """On a clear calm night floor < leaf < air at the crown < air at 2 m; and loss is worth times damage."""
    garden = as_installed("autumn")
    floor, leaf, crown, screen = (
        garden.step("maple-layer-1", group, quantity)
        for group, quantity in (
            ("place", "temperature of the floor"),
            ("plant", "temperature of the organ"),
            ("place", "air at mid-crown"),
            ("weather", "air temperature at 2 m"),
        )
    )
    worth, damage, loss = (
        garden.step("maple-layer-1", "frost", quantity) for quantity in ("worth", "expected damage", "expected loss")
    )

    assert floor < leaf < crown < screen
    assert loss == pytest.approx(worth * damage, abs=2e-6)
    assert garden.outlook("maple-layer-1")["call"]["expected_loss"] >= loss
