"""Small gardens for the real command: a configuration and an answer on disk, and the document that comes back."""

import contextlib
import functools
import io
import json
from dataclasses import dataclass
from datetime import datetime
from importlib.resources import files
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
"""
NO_STOCK, STOCK = (
    f"[stock]\nfleece_m2 = {cloth}\nnet_m2 = {cloth}\ntents = {tents}\nmulch = {mulch}\n"
    for cloth, tents, mulch in ((0, 0, "false"), (20, 2, "true"))
)
PLACE = '[[place]]\nid = "{0}"\nkind = "{1}"\n'
LAWN, BENCH, SHADE, SHED = (
    PLACE.format(name, kind)
    for name, kind in (("lawn", "ground"), ("bench", "bench"), ("shade", "shade"), ("shed", "shed"))
)


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


@functools.cache
def document(*arguments: str) -> Document:
    """The document of a command that is asked for more than once; its files must not change in between."""
    return ran(*arguments, "--json").document()


@dataclass(frozen=True)
class Garden:
    """A configuration and its weather in a folder, looked at as of one moment."""

    config: Path
    at: datetime

    def asked(self, *arguments: str) -> Document:
        """The document of `outlook`, `explain TREE` and the like."""
        return document(*arguments, "--config", str(self.config), "--at", self.at.isoformat())

    def explain(self, tree: str) -> Document:
        """`explain TREE --json`."""
        return self.asked("explain", tree)

    def outlook(self, tree: str) -> Document:
        """A tree's part of `outlook --json`, as its explanation repeats it (held equal in test_documents.py)."""
        found: Document = self.explain(tree)["tree"]
        return found

    def step(self, tree: str, group: str, quantity: str) -> float:
        """The value of one step of an explanation; quantity: how its name begins."""
        steps = self.explain(tree)["steps"]
        found = [item["value"] for item in steps if item["step"] == group and item["quantity"].startswith(quantity)]
        assert len(found) == 1, f"{group}: {quantity} was found {len(found)} times"
        value: float = found[0]
        return value

    def series(self, tree: str, name: str) -> list[float]:
        """The median of an hourly series of an explanation."""
        values: list[float] = self.explain(tree)["series"][name]["median"]
        return values

    def hazards(self, tree: str) -> set[str]:
        """What was found to be dangerous to a tree."""
        return {spell["hazard"] for spell in self.outlook(tree)["spells"]}

    def damage(self, tree: str, hazard: str) -> float:
        """Expected damage by a hazard, as the outlook tells it; 0 where it finds no danger. [0-1]"""
        found: list[float] = [spell["damage"] for spell in self.outlook(tree)["spells"] if spell["hazard"] == hazard]
        return sum(found)


def planted(folder: Path, weather: Answer, at: datetime, places: str, *trees: str, stock: str = NO_STOCK) -> Garden:
    """
    A garden with these trees, written to a folder.

    weather: the answer that is known at `at`; places, trees, stock: TOML. Without stock little needs to be tried.
    """
    folder.mkdir(parents=True, exist_ok=True)
    save(folder / "answer.json", weather)
    config = folder / "config.toml"
    config.write_text(SITE + stock + places + "".join(trees), encoding="utf-8")
    return Garden(config, at)


def tree(
    name: str, place: str, *works: str, species: str = "Acer palmatum", pot: str = "volume_l = 5", **keys: str
) -> str:
    """
    A tree in TOML: 45 cm high, 35 cm across, in a black plastic pot unless said otherwise.

    works: from `work`; keys: further keys of its table with their values as TOML.
    """
    own = {"height_cm": "45", "crown_cm": "35"} | keys
    lines = "".join(f"{key} = {value}\n" for key, value in own.items())
    head = f'[[tree]]\nid = "{name}"\nspecies = "{species}"\nplace = "{place}"\n'
    return head + lines + f"pot = {{ {pot} }}\n" + "".join(works)


def work(name: str, on: str, **keys: str) -> str:
    """An entry of a tree's care log in TOML; keys: its further keys with their values as TOML."""
    lines = "".join(f"{key} = {value}\n" for key, value in keys.items())
    return f'[[tree.work]]\nwork = "{name}"\non = {on}\n{lines}'


def seen(what: str, on: str) -> str:
    """An observation of the season in TOML."""
    return work("observe", on, seen=f'"{what}"')


def severed(roots: str, on: str, tied: bool = True, worked: bool = False) -> str:
    """A severed layer in TOML."""
    return work("sever-layer", on, roots=f'"{roots}"', tied=str(tied).lower(), roots_worked=str(worked).lower())


def standing(measure: str) -> dict[str, str]:
    """The key that keeps a measure in force all the time."""
    return {"measures": f'["{measure}"]'}


def schema(name: str) -> Document:
    """The shipped JSON Schema of a document."""
    file = files("carewatch") / "cli" / "schemas" / f"{name}.schema.json"
    found: Document = json.loads(file.read_text(encoding="utf-8"))
    return found
