"""Small gardens for the real command: a configuration and an answer on disk, and the document that comes back."""

import contextlib
import io
import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from carewatch.cli.main import main
from tests.outlook.invented_weather import Answer, save

Document = dict[str, Any]

SITE = """config_version = 1
[site]
name = "Nowhere"
latitude = 50.0
longitude = 9.0
elevation_m = 200
time_zone = "Europe/Berlin"
surroundings = "suburban"
[weather]
source = "recorded"
file = "answer.json"
[stock]
fleece_m2 = 20
net_m2 = 20
tents = 2
mulch = true
"""
PLACES = """[[place]]
id = "lawn"
kind = "ground"
[[place]]
id = "bench"
kind = "bench"
[[place]]
id = "shade"
kind = "shade"
[[place]]
id = "shed"
kind = "shed"
"""


@dataclass(frozen=True)
class Ran:
    """What one run of the command left: its exit code and everything that it wrote."""

    code: int
    out: str
    err: str

    def document(self) -> Document:
        """The JSON document on standard output, which holds nothing else."""
        assert self.code == 0, self.err
        found: Document = json.loads(self.out)
        return found


def ran(*arguments: str) -> Ran:
    """The command, run in this process."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(arguments)
    return Ran(code, out.getvalue(), err.getvalue())


@dataclass(frozen=True)
class Garden:
    """A configuration and its weather in a folder, looked at as of one moment."""

    config: Path
    at: datetime

    def outlook(self) -> dict[str, Document]:
        """`outlook --json`: each tree's part of the document, by id."""
        document = ran("outlook", "--config", str(self.config), "--at", self.at.isoformat(), "--json").document()
        return {tree["tree"]: tree for tree in document["trees"]}

    def explain(self, tree: str) -> Document:
        """`explain TREE --json`."""
        return ran("explain", tree, "--config", str(self.config), "--at", self.at.isoformat(), "--json").document()


def planted(folder: Path, trees: str, weather: Answer, at: datetime, places: str = PLACES) -> Garden:
    """
    A garden with these trees, written to a folder.

    trees, places: TOML; weather: the answer that is known at `at`.
    """
    save(folder / "answer.json", weather)
    config = folder / "config.toml"
    config.write_text(SITE + places + trees, encoding="utf-8")
    return Garden(config, at)


def spell(tree: Document, hazard: str) -> Document | None:
    """The first spell of a hazard in a tree's part of an outlook."""
    return next((found for found in tree["spells"] if found["hazard"] == hazard), None)


def step(document: Document, group: str, quantity: str) -> float:
    """The value of one step of an explanation; quantity: how its name begins."""
    found = [
        item["value"]
        for item in document["steps"]
        if item["step"] == group and item["quantity"].startswith(quantity)
    ]
    assert len(found) == 1, f"{group}: {quantity} was found {len(found)} times"
    value: float = found[0]
    return value
