"""Whatever a person gets wrong, the command says what and where in plain words, and does nothing else."""

import json
import subprocess
import sysconfig
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.outlook.gardens import LAWN, SHADE, SITE, Ran, planted, ran, seen, tree
from tests.outlook.invented_weather import Answer, Day, answer

NOON = datetime(2026, 10, 5, 11, tzinfo=UTC)
MILD = Day(low_c=8, high_c=14, dew_c=7, cloud=60, wind_ms=2.5)
WEATHER = answer(NOON, MILD, [MILD, MILD])
TREE = tree("maple", "lawn", seen("mature", "2026-10-01"))
GOOD = SITE + LAWN + SHADE + TREE


def written(folder: Path) -> Mapping[str, bytes]:
    """Every file below a folder, with what it holds."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def tried(folder: Path, text: str, *arguments: str, at: str = "2026-10-05T11:00Z") -> Ran:
    """A command on a configuration of this text beside good weather; nothing may be written by it."""
    planted(folder, WEATHER, NOON, "", "")
    (folder / "config.toml").write_text(text, encoding="utf-8")
    before = written(folder)
    command = arguments or ("outlook",)
    done = ran(*command, "--config", str(folder / "config.toml"), "--at", at)
    assert written(folder) == before
    return done


def refused(done: Ran, code: int) -> str:
    """What a refusal says: on standard error alone, without a traceback."""
    assert (done.code, done.out) == (code, ""), done.err
    assert done.err.strip()
    assert "Traceback" not in done.err
    assert "Error:" not in done.err
    # Long lines may be broken by a narrow terminal.
    return " ".join(done.err.split())


def changed(old: str, new: str) -> str:
    """The good configuration with one thing in it replaced."""
    assert GOOD.count(old) == 1
    return GOOD.replace(old, new)


# What is wrong, and what must be said: the key, what is accepted or meant.
MISTAKES = {
    "an unknown key": (changed("elevation_m = 200", "elevation = 200"), ("site.elevation", "elevation_m")),
    "a misspelt species": (changed("Acer palmatum", "Acer palmatom"), ("tree[maple].species", "Acer palmatum")),
    "a misspelt place": (changed('place = "lawn"', 'place = "lawm"'), ("tree[maple].place", "lawn")),
    "a misspelt work": (changed('work = "observe"', 'work = "obsrve"'), ("tree[maple].work", "observe")),
    "a latitude of 900": (changed("latitude = 50.0", "latitude = 900"), ("site.latitude", "-90 to 90", "900")),
    "a pot of no litres": (changed("volume_l = 5", "volume_l = 0"), ("tree[maple].pot.volume_l", "over 0")),
    "a time zone that is nowhere": (changed("Europe/Berlin", "Europe/Berln"), ("site.time_zone", "Europe/Berlin")),
    "a work in the future": (changed("2026-10-01", "2999-10-01"), ("tree[maple].work", "future", "2999")),
    "no TOML at all": ("this is no configuration", ("config.toml",)),
    "a recording that is not there": (changed("answer.json", "anser.json"), ("weather.file", "does not exist")),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_in_the_configuration_is_named_with_its_line_and_what_is_meant(tmp_path: Path, mistake: str) -> None:
    """`outlook` and `config check` refuse it alike: exit code 2, the file, the line, the key, the nearest name."""
    text, words = MISTAKES[mistake]
    said = refused(tried(tmp_path, text), 2)
    checked = ran("config", "check", "--config", str(tmp_path / "config.toml"))

    assert [word for word in words if word not in said] == []
    assert "config.toml" in said
    assert ", line " in said
    assert "nothing was written" in said
    assert " ".join(checked.err.split()) == said


def test_every_mistake_is_told_at_once(tmp_path: Path) -> None:
    """Nobody mends a file one complaint at a time."""
    text = (
        changed("latitude = 50.0", "latitude = 900")
        .replace("volume_l = 5", "volume_l = 0")
        .replace("palmatum", "palmatom")
    )
    said = refused(tried(tmp_path, text), 2)

    assert all(word in said for word in ("site.latitude", "pot.volume_l", "species", "3 problems"))


def test_a_configuration_that_is_not_there_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Named by the person, or looked for where it usually is; either way what to do is said."""
    named = refused(ran("outlook", "--config", str(tmp_path / "no.toml")), 2)
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("CAREWATCH_CONFIG", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.setenv("HOME", str(tmp_path))
    looked_for = refused(ran("outlook"), 2)

    assert "no.toml" in named
    assert "config.toml was not found" in looked_for
    assert "config new" in looked_for
    assert written(tmp_path) == {}


def test_a_garden_without_trees_has_no_outlook(tmp_path: Path) -> None:
    assert "[[tree]]" in refused(tried(tmp_path, SITE + LAWN), 2)


# --- the moment and the tree --------------------------------------------------------------------------------------


@pytest.mark.parametrize("at", ["yesterday", "2026-13-40", "", "2026-10-05T25:00", "1e9"])
def test_a_moment_that_is_none_is_refused_with_an_example(tmp_path: Path, at: str) -> None:
    said = refused(tried(tmp_path, GOOD, at=at), 2)

    assert "--at" in said
    assert "2026-11-05T16:00" in said


@pytest.mark.parametrize(
    ("at", "said"),
    [
        ("2026-10-09T12:00", "ends at 2026-10-07 01:00, before"),
        ("2026-10-01T12:00", "begins at 2026-10-03 02:00, after"),
    ],
)
def test_a_moment_outside_the_forecast_is_refused_with_its_bounds(tmp_path: Path, at: str, said: str) -> None:
    """That is no fault of the command line: exit code 1, with what can be done."""
    told = refused(tried(tmp_path, GOOD, at=at), 1)

    assert said in told
    assert "--at" in told


@pytest.mark.parametrize("command", ["outlook", "explain"])
def test_an_unknown_tree_is_refused_with_the_nearest_name(tmp_path: Path, command: str) -> None:
    near = refused(tried(tmp_path, GOOD, command, "mapel"), 2)
    far = refused(tried(tmp_path, GOOD, command, "zzz"), 2)

    assert "'mapel'" in near
    assert "Did you mean maple?" in near
    assert "Known: maple." in far


@pytest.mark.parametrize(
    "arguments",
    [(), ("explain",), ("reading", "--at"), ("outlook", "--jsn"), ("config",), ("demo", "tree")],
)
def test_wrong_usage_is_told_with_the_usage(arguments: tuple[str, ...]) -> None:
    said = refused(ran(*arguments), 2)

    assert said.startswith("usage: carewatch")


# --- the forecast -------------------------------------------------------------------------------------------------


def with_weather(folder: Path, content: bytes) -> Ran:
    """`outlook --json` of the good garden on a forecast file of these bytes."""
    folder.mkdir(exist_ok=True)
    (folder / "config.toml").write_text(GOOD, encoding="utf-8")
    (folder / "answer.json").write_bytes(content)
    before = written(folder)
    done = ran("outlook", "--json", "--config", str(folder / "config.toml"), "--at", "2026-10-05T11:00Z")
    assert written(folder) == before
    return done


WHOLE = json.dumps(WEATHER).encode()
USELESS = {
    "cut off": (WHOLE[: len(WHOLE) // 2], "cut off"),
    "a web page": (b"<html><body>502 Bad Gateway</body></html>", "web page"),
    "a bare nan": (WHOLE.replace(b'"temperature_2m": [', b'"temperature_2m": [nan, ', 1), "bare nan"),
    "empty": (b"", "empty"),
    "an error of the service": (b'{"error": true, "reason": "Daily limit exceeded"}', "Daily limit exceeded"),
    "without air temperature": (WHOLE.replace(b"temperature_2m", b"warmth_2m"), "no air temperature"),
    "bytes of something else": (bytes(range(256)), "not valid JSON"),
}


@pytest.mark.parametrize("kind", USELESS)
def test_a_forecast_of_no_use_is_refused_with_its_reason(tmp_path: Path, kind: str) -> None:
    """Exit code 1: nothing is wrong with the command. The file is named."""
    content, reason = USELESS[kind]
    said = refused(with_weather(tmp_path, content), 1)

    assert reason in said
    assert "answer.json" in said


def test_a_forecast_that_is_a_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "config.toml").write_text(GOOD.replace("answer.json", "weather"), encoding="utf-8")
    (tmp_path / "weather").mkdir()
    done = ran("outlook", "--config", str(tmp_path / "config.toml"), "--at", "2026-10-05T11:00Z")

    assert "weather" in refused(done, 2)


def nulled(name: str, first: int = 0, last: int | None = None) -> Answer:
    """The good weather with one variable unknown in some of its hours, or in all of them."""
    values = list(WEATHER["hourly"][name])
    stop = len(values) if last is None else last
    gaps = [None if first <= hour < stop else value for hour, value in enumerate(values)]
    return {**WEATHER, "hourly": {**WEATHER["hourly"], name: gaps}}


def test_a_variable_that_is_all_null_is_a_gap_with_a_name_and_no_failure(tmp_path: Path) -> None:
    """The rest of the forecast serves; what was assumed instead is said, and what cannot be judged is not."""
    cloudless = with_weather(tmp_path / "cloud", json.dumps(nulled("cloud_cover")).encode()).document()["forecast"]
    rainless = with_weather(tmp_path / "rain", json.dumps(nulled("rain")).encode()).document()["forecast"]

    assert any(line.startswith("cloud: ") and "clear sky" in line for line in cloudless["missing"])
    assert any(line.startswith("rain_mm: ") for line in rainless["missing"])
    assert rainless["hours_judged"]["soak"] == 0
    assert rainless["hours_judged"]["frost"] == rainless["hours"]


def test_an_hour_without_air_temperature_ends_what_can_be_said(tmp_path: Path) -> None:
    """Six unknown hours are not invented: the outlook goes as far as it is known."""
    hours = len(WEATHER["hourly"]["time"])
    document = with_weather(tmp_path, json.dumps(nulled("temperature_2m", hours - 12, hours - 6)).encode()).document()

    assert document["forecast"]["hours"] == 36 - 12
    assert with_weather(tmp_path, json.dumps(nulled("temperature_2m", 56, 70)).encode()).code == 1


# --- new files ----------------------------------------------------------------------------------------------------


def test_a_new_configuration_never_overwrites_one(tmp_path: Path) -> None:
    file = tmp_path / "config.toml"
    file.write_text("mine", encoding="utf-8")
    said = refused(ran("config", "new", str(file)), 2)

    assert "exists already" in said
    assert written(tmp_path) == {"config.toml": b"mine"}


def test_a_new_configuration_in_a_folder_that_is_not_there_is_refused(tmp_path: Path) -> None:
    said = refused(ran("config", "new", str(tmp_path / "no" / "config.toml")), 1)

    assert "cannot be written" in said
    assert written(tmp_path) == {}


def test_a_whole_process_ends_with_the_same_code_and_words(tmp_path: Path) -> None:
    """Seen from the shell: nothing on standard output, no traceback, exit code 2."""
    file = tmp_path / "config.toml"
    file.write_text(changed("latitude = 50.0", "latitude = 900"), encoding="utf-8")
    command = str(Path(sysconfig.get_path("scripts"), "carewatch"))
    done = subprocess.run(
        [command, "outlook", "--json", "--config", str(file)], capture_output=True, text=True, check=False, cwd="/"
    )

    assert "site.latitude" in refused(Ran(done.returncode, done.stdout, done.stderr), 2)
