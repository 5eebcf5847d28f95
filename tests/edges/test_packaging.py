"""What ships with the code is found from the code, and what is said twice is said once."""

import json
import re
import tomllib
from argparse import _SubParsersAction
from collections.abc import Callable
from importlib import import_module
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

import pytest
from jsonschema.validators import validator_for

import carewatch
from carewatch.cli.main import parser

ROOT = Path(carewatch.__file__).parents[1]


def shipped(folder: str, suffix: str) -> dict[str, Traversable]:
    """The data files of one kind in a folder of the package, by name, as an installed program finds them."""
    return {entry.name: entry for entry in files("carewatch").joinpath(folder).iterdir() if entry.name.endswith(suffix)}


def project() -> dict[str, Any]:
    """pyproject.toml as a mapping."""
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def test_the_tables_of_numbers_are_found_and_can_be_read() -> None:
    """Species, works, measures, substrates and hazards are there, and every table is TOML with something in it."""
    tables = shipped("tables", ".toml")

    assert tables.keys() >= {"hazards.toml", "measures.toml", "species.toml", "substrates.toml", "works.toml"}
    assert [name for name, entry in tables.items() if not tomllib.loads(entry.read_text(encoding="utf-8"))] == []


def test_the_invented_garden_and_its_weather_are_found_and_can_be_read() -> None:
    """The demo needs no file but what is installed: a configuration and a recorded answer of a weather service."""
    gardens = shipped("demo", ".toml")
    weather = shipped("demo", ".json")

    assert gardens
    assert weather
    assert [name for name, entry in gardens.items() if not tomllib.loads(entry.read_text(encoding="utf-8"))] == []
    assert [name for name, entry in weather.items() if not json.loads(entry.read_text(encoding="utf-8"))] == []


@pytest.mark.parametrize("document", ["outlook", "explain"])
def test_the_shape_of_a_document_is_found_and_is_a_schema(document: str) -> None:
    """A schema that says which JSON Schema it is written in, and that is valid in it, ships for the document."""
    found = [entry for name, entry in shipped("cli/schemas", ".json").items() if name.startswith(document)]

    assert len(found) == 1
    schema = json.loads(found[0].read_text(encoding="utf-8"))
    assert schema["$schema"].startswith("https://json-schema.org/")
    validator_for(schema).check_schema(schema)


def test_type_checkers_are_told_that_the_package_is_typed() -> None:
    """PEP 561: a file py.typed stands at the top of the package."""
    assert files("carewatch").joinpath("py.typed").is_file()


def test_the_version_is_written_in_one_place() -> None:
    """The build reads it from the package; no other file of the project repeats it."""
    assert re.fullmatch(r"\d+\.\d+\.\d+", carewatch.__version__)
    assert "version" not in project()["project"]
    assert project()["project"]["dynamic"] == ["version"]
    assert ROOT / project()["tool"]["hatch"]["version"]["path"] == Path(carewatch.__file__)
    said = [path for path in Path(carewatch.__file__).parent.rglob("*.py") if carewatch.__version__ in path.read_text()]
    assert said == [Path(carewatch.__file__)]


def test_the_installed_command_is_a_function_of_the_package() -> None:
    """`carewatch` on the shell calls something that exists."""
    module, _, name = project()["project"]["scripts"]["carewatch"].partition(":")
    command: Callable[..., object] = getattr(import_module(module), name)

    assert callable(command)


def test_git_and_the_build_leave_no_data_out() -> None:
    """The wheel leaves out what .gitignore names, so none of its patterns may match a file below carewatch/."""
    patterns = [
        line
        for line in (ROOT / ".gitignore").read_text(encoding="utf-8").splitlines()
        if line and not line.startswith("#")
    ]
    anywhere = [pattern for pattern in patterns if not pattern.startswith("/")]

    assert anywhere == ["*.egg-info/", "__pycache__/"]


@pytest.mark.parametrize("marker", ["demo", "test"])
def test_the_readme_shows_one_line_to_paste(marker: str) -> None:
    """Right after its marker stands a fence with a single shell line: .ci/run runs that very line."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")

    shown = re.findall(rf"^<!-- {marker} -->\n```sh\n([^\n]+)\n```$", readme, flags=re.MULTILINE)

    assert len(shown) == 1
    assert shown[0].startswith("python3 -m venv ")


@pytest.mark.parametrize("page", ["README.md", "deploy/README.md"])
def test_the_commands_that_are_to_be_copied_exist(page: str) -> None:
    """One that a reader copies and that nobody knows any more makes the rest of the page doubtful."""
    blocks = re.findall(r"^```sh$(.*?)^```$", (ROOT / page).read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)
    named = re.findall(r"(?:^|/|carewatch )carewatch ([a-z]+)\b", "\n".join(blocks), re.MULTILINE)
    (commands,) = (action.choices for action in parser()._actions if isinstance(action, _SubParsersAction))

    assert named
    assert set(named) - set(commands) == set()
