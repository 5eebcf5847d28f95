"""Every key of a TOML file is found on the line on which a reader finds it."""

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import carewatch
from carewatch.config.positions import Location, line_of, lines_of

FILES = [
    Path(carewatch.__file__).parents[1] / "config.example.toml",
    *sorted((Path(carewatch.__file__).parent / "tables").glob("*.toml")),
]


def paths(value: Any, location: Location = ()) -> Iterator[Location]:
    """The path of everything in a parsed document."""
    if location:
        yield location
    steps: list[tuple[str | int, Any]] = []
    if isinstance(value, dict):
        steps = list(value.items())
    elif isinstance(value, list):
        steps = list(enumerate(value))
    for step, below in steps:
        yield from paths(below, (*location, step))


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_everything_that_tomllib_finds_has_a_line_and_every_key_stands_on_its_line(file: Path) -> None:
    """The parser of the standard library and the text itself are the judges."""
    text = file.read_text(encoding="utf-8")
    found = lines_of(text)
    rows = text.splitlines()

    for location in paths(tomllib.loads(text)):
        assert location in found
        key = next(step for step in reversed(location) if isinstance(step, str))
        if isinstance(location[-1], str):
            assert key in rows[found[location] - 1]


def test_keys_are_found_however_toml_lets_them_be_written() -> None:
    rows = [
        "# [[tree]] in a comment",
        'top = """',
        "[not.a.table]",
        'key = \\"""quoted""""',
        "other = '''",
        "[[nor]] 'this' '''",
        "site.name = 1",
        '"quoted.key" . "\\u0061" = 2',
        "list = [ # comment ]",
        "  1, [2,",
        "  3], { x = 4, y.z = 'a]b}' },",
        "]",
        "[[ tree ]]",
        'id = "a#b"',
        "  [tree.pot] # pot",
        "  depth = 2",
        "  [[tree.work]]",
        "  on = 2026-03-01 10:00:00",
        "  [[tree.work]]",
        "  on = 2026-03-02",
        "[[tree]]",
        "pot = { depth = 3 }",
        "  [[tree.'work']]",
        "  on = 1",
    ]
    text = "\n".join(rows)
    lines = lines_of(text)

    assert set(lines) >= set(paths(tomllib.loads(text)))
    expected: dict[Location, int] = {
        ("top",): 2,
        ("other",): 5,
        ("site", "name"): 7,
        ("quoted.key", "a"): 8,
        ("list", 0): 10,
        ("list", 1, 0): 10,
        ("list", 1, 1): 11,
        ("list", 2, "x"): 11,
        ("list", 2, "y", "z"): 11,
        ("tree", 0): 13,
        ("tree", 0, "id"): 14,
        ("tree", 0, "pot"): 15,
        ("tree", 0, "pot", "depth"): 16,
        ("tree", 0, "work", 0, "on"): 18,
        ("tree", 0, "work", 1): 19,
        ("tree", 0, "work", 1, "on"): 20,
        ("tree", 1): 21,
        ("tree", 1, "pot", "depth"): 22,
        ("tree", 1, "work", 0, "on"): 24,
    }
    assert {location: lines.get(location) for location in expected} == expected


def test_what_is_missing_is_told_on_the_line_of_the_table_around_it() -> None:
    lines = lines_of("[a]\nb = 1\n[[c]]\nd = 2\n")

    assert line_of(lines, ("a", "gone")) == 1
    assert line_of(lines, ("c", 0, "gone", "deeper")) == 3
    assert line_of(lines, ("nowhere",)) is None
