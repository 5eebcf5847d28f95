"""The command as it is installed: what it offers, what it prints, and what it loads before it must."""

import argparse
import json
import re
import subprocess
import sys
import sysconfig
from datetime import UTC, datetime
from pathlib import Path

import pytest

import carewatch
from carewatch.cli.main import parser
from tests.outlook.gardens import LAWN, Garden, planted, ran, tree
from tests.outlook.invented_weather import Day, answer

NOON = datetime(2026, 10, 5, 11, tzinfo=UTC)
MILD = Day(low_c=8, high_c=14, dew_c=7, cloud=60, wind_ms=2.5)
# The commands that answer from the weather, and ask for no more than a look.
ANSWERING = (("outlook",), ("explain", "maple"), ("tasks",), ("rounds",))
COMMAND = str(Path(sysconfig.get_path("scripts"), "carewatch"))


@pytest.fixture(scope="module")
def garden(tmp_path_factory: pytest.TempPathFactory) -> Garden:
    """One tree in mild weather."""
    folder = tmp_path_factory.mktemp("garden")
    return planted(folder, answer(NOON, MILD, [MILD, MILD]), NOON, LAWN, tree("maple", "lawn"))


def asked(garden: Garden, *arguments: str) -> tuple[str, ...]:
    """Arguments with the garden and its moment behind them."""
    return (*arguments, "--config", str(garden.config), "--at", garden.at.isoformat())


def commands() -> list[str]:
    """Every command that the parser knows."""
    groups = [action for action in parser()._actions if isinstance(action, argparse._SubParsersAction)]
    return [name for group in groups for name in group.choices]


def test_help_lists_every_command_with_what_it_is_for() -> None:
    """The installed program, from a cold start."""
    answered = subprocess.run([COMMAND, "--help"], capture_output=True, text=True, check=True, cwd="/")
    listed = dict(re.findall(r"^ {4}(\w[\w-]*) +(\S.*)$", answered.stdout, flags=re.MULTILINE))

    assert answered.stderr == ""
    assert set(commands()) >= {"outlook", "explain", "demo", "config"}
    assert sorted(listed) == sorted(commands())


def test_every_command_has_a_page_of_help() -> None:
    for name in commands():
        shown = ran(name, "--help")
        assert (shown.code, shown.err) == (0, "")
        assert shown.out.startswith(f"usage: carewatch {name}")


def test_help_and_version_load_no_heavy_library() -> None:
    """Numpy and all that stands on it wait until a command needs them."""
    heavy = "numpy pandas pvlib pydantic requests rich scipy apprise apscheduler".split()
    program = (
        "import sys\nfrom carewatch.cli.main import main\n"
        "codes = [main(['--help']), main(['outlook', '--help']), main(['--version'])]\n"
        f"print(codes, [name for name in {heavy} if name in sys.modules], file=sys.stderr)"
    )
    answered = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)

    assert answered.stderr.strip() == "[0, 0, 0] []"


def test_the_version_is_that_of_the_package() -> None:
    assert ran("--version").out == f"carewatch {carewatch.__version__}\n"


@pytest.mark.parametrize("arguments", [("outlook",), ("outlook", "maple"), ("explain", "maple")])
def test_json_is_one_document_on_standard_output_and_nothing_else(garden: Garden, arguments: tuple[str, ...]) -> None:
    """What a program reads is not disturbed: no colour, no progress, no warning, no second document, no bare NaN."""
    answered = ran(*asked(garden, *arguments), "--json")

    assert (answered.code, answered.err) == (0, "")
    assert answered.out.startswith("{\n")
    assert answered.out.endswith("}\n")
    assert json.loads(answered.out, parse_constant=pytest.fail)["version"] == 1
    assert "\x1b" not in answered.out


def test_a_whole_process_prints_the_same_document(garden: Garden) -> None:
    """From the shell, in a folder where it finds nothing, into a pipe."""
    arguments = (*asked(garden, "outlook"), "--json")
    answered = subprocess.run([COMMAND, *arguments], capture_output=True, text=True, check=True, cwd="/")

    assert answered.stderr == ""
    assert json.loads(answered.stdout) == ran(*arguments).document()


def test_for_a_person_the_same_is_told_in_words(garden: Garden) -> None:
    """No JSON, no colour in a pipe, and every tree by its name."""
    outlook, explain = ran(*asked(garden, "outlook")), ran(*asked(garden, "explain", "maple"))

    assert (outlook.code, outlook.err, explain.code, explain.err) == (0, "", 0, "")
    assert "maple: Acer palmatum, lawn" in outlook.out
    assert "air temperature at 2 m" in explain.out
    assert "expected loss" in explain.out
    for told in (outlook.out, explain.out):
        assert "{" not in told
        assert "\x1b" not in told
        assert max(map(len, told.splitlines())) <= 100


def test_site_time_is_meant_where_a_time_has_no_offset(garden: Garden) -> None:
    """13:00 in Berlin on 5 October is 11:00 UTC."""
    outlook = ("outlook", "--config", str(garden.config), "--json", "--at")

    local = ran(*outlook, "2026-10-05T13:00").document()
    assert local == ran(*outlook, "2026-10-05T11:00Z").document()
    assert local["at"] == "2026-10-05T13:00+02:00"


def test_the_configuration_can_be_named_by_the_environment(
    garden: Garden, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """$CAREWATCH_CONFIG, or config.toml in the working folder."""
    monkeypatch.setenv("CAREWATCH_CONFIG", str(garden.config))
    monkeypatch.chdir(tmp_path)
    named = ran("config", "check")
    monkeypatch.delenv("CAREWATCH_CONFIG")
    monkeypatch.chdir(garden.config.parent)
    found = ran("config", "check")

    assert (named.code, found.code) == (0, 0)
    assert "1 tree in 1 place," in " ".join(found.out.split())


def test_config_check_answers_in_json_whether_it_is_fine_or_not(garden: Garden, tmp_path: Path) -> None:
    """One document either way; the exit code says which."""
    bad = tmp_path / "config.toml"
    bad.write_text(garden.config.read_text(encoding="utf-8") + "[notice]\n", encoding="utf-8")
    fine, refused = (ran("config", "check", "--json", "--config", str(file)) for file in (garden.config, bad))
    good, wrong = json.loads(fine.out), json.loads(refused.out)

    assert (fine.code, fine.err, refused.code, refused.err) == (0, "", 2, "")
    assert (good["fine"], good["problems"]) == (True, [])
    assert any("nobody will be told" in warning for warning in good["warnings"])
    assert wrong["fine"] is False
    assert "notice" in {problem["key"] for problem in wrong["problems"]}
    assert {problem["nearest"][0] for problem in wrong["problems"] if problem["key"] == "notice"} == {"notices"}
    assert set(wrong["problems"][0]) == {"file", "line", "key", "found", "accepted", "nearest", "what"}


def test_a_new_configuration_goes_to_a_file_or_to_standard_output_and_is_fine(tmp_path: Path) -> None:
    """What `config new` writes `config check` accepts once it is filled in; its text says what to fill in."""
    file = tmp_path / "config.toml"
    written, printed = ran("config", "new", str(file)), ran("config", "new")

    assert (written.code, written.err, printed.code, printed.err) == (0, "", 0, "")
    assert file.read_text(encoding="utf-8") == printed.out
    assert "latitude" in printed.out
    assert "config check" in written.out


def test_a_reader_that_goes_away_is_no_error() -> None:
    """`carewatch demo | head -1` ends quietly."""
    piped = f"'{COMMAND}' config new | head -1"
    answered = subprocess.run(["/bin/sh", "-c", piped], capture_output=True, text=True, check=True)

    assert answered.stderr == ""
    assert len(answered.stdout.splitlines()) == 1


def test_what_makes_every_answer_wrong_is_said_before_it_and_what_is_worth_a_thought_is_not(
    garden: Garden, tmp_path: Path
) -> None:
    """A latitude of the wrong sign: before each answer. No channel, no elevation: when the files are checked."""
    text = garden.config.read_text(encoding="utf-8").replace("answer.json", str(garden.config.parent / "answer.json"))
    south = tmp_path / "config.toml"
    south.write_text(re.sub(r"elevation_m = .*\n", "", text).replace("latitude = 50.0", "latitude = -50.0"), "utf-8")

    said = [ran(*command, "--config", str(south), "--at", garden.at.isoformat()) for command in ANSWERING]
    checked = ran("config", "check", "--config", str(south)).err

    assert [one.code for one in said] == [0] * len(ANSWERING)
    for one in said:
        assert one.err.startswith("warning: site.latitude looks as if its sign were wrong")
        assert one.err.count("\n") == 1
    assert checked.count("warning: ") >= 3
    for part in ("sign were wrong", "site.elevation_m is not given", "nobody will be told"):
        assert part in checked


def test_once_says_at_first_what_is_worth_a_thought_and_then_no_more(garden: Garden, tmp_path: Path) -> None:
    text = garden.config.read_text(encoding="utf-8").replace("answer.json", str(garden.config.parent / "answer.json"))
    own = tmp_path / "config.toml"
    own.write_text(text, encoding="utf-8")
    once = ("once", "--config", str(own), "--at", garden.at.isoformat())

    first, second = ran(*once), ran(*once)

    assert (first.code, second.code) == (0, 0)
    assert "warning: there is no [[notices.channel]]: nobody will be told of a danger" in first.err
    assert "warning:" not in second.err


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (("outlok",), "There is no command 'outlok'. Did you mean outlook?\n"),
        (("task",), "There is no command 'task'. Did you mean tasks?\n"),
        (("frobnicate",), "There is no command 'frobnicate'. `carewatch --help` lists them all.\n"),
        (("config", "chek"), "There is no command 'chek'. Did you mean check?\n"),
    ],
)
def test_a_mistyped_command_is_answered_with_the_near_ones(typed: tuple[str, ...], said: str) -> None:
    done = ran(*typed)

    assert (done.code, done.out, done.err) == (2, "", said)
