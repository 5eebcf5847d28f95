"""
Who may import whom: one table, in reading order, held equal to every module and to the two maps that people read.

The walker looks at source text and imports nothing. It is given planted violations below, so that it is known to be
able to refuse.
"""

import ast
import graphlib
import re
import subprocess
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

import carewatch

PACKAGE = Path(carewatch.__file__).parent
ROOT = PACKAGE.parent

# The order is the flow of data: a pure part may import the parts before it, and nothing else of carewatch.
PURE = (
    "physics",
    "forecast",
    "place",
    "care",
    "condition",
    "exposure",
    "limits",
    "hazard",
    "measures",
    "tasks",
    "alerts",
    "delivery",
    "verify",
    "assess",
    "outcome",
    "whatif",
)
# Edges know the pure parts and never each other.
EDGES = ("config", "weather_api", "sqlite", "notify", "charts", "worker", "web")

MAY_IMPORT: dict[str, frozenset[str]] = {
    **{part: frozenset(PURE[:position]) for position, part in enumerate(PURE)},
    **dict.fromkeys(EDGES, frozenset(PURE)),
    # The program is put together here.
    "daemon": frozenset({*PURE, *EDGES}),
    "cli": frozenset({*PURE, *EDGES, "daemon", "demo"}),
    "demo": frozenset(),
}

# Libraries that touch the world or are slow to load, each kept to where it is wanted: a part, or "part/module".
ANYWHERE = frozenset(MAY_IMPORT)
KEPT_TO: dict[str, frozenset[str]] = {
    "apprise": frozenset({"notify"}),
    "apscheduler": frozenset({"daemon"}),
    "PIL": frozenset({"charts"}),
    "matplotlib": frozenset({"charts"}),
    "numpy": ANYWHERE,
    # The process of the daemon stays small: it schedules, delivers and serves the page without pandas.
    "pandas": ANYWHERE - {"physics", "config", "notify", "web", "daemon", "demo"},
    "pvlib": frozenset({"physics/spa"}),
    "pydantic": frozenset({"config"}),
    "pydantic_core": frozenset({"config"}),
    "pydantic_settings": frozenset({"config"}),
    "requests": frozenset({"weather_api"}),
    "rich": frozenset({"cli"}),
    "scipy": frozenset({"physics", "forecast", "condition", "exposure", "limits", "hazard", "measures", "verify"}),
    "tomlkit": frozenset({"config"}),
    "urllib3": frozenset({"weather_api"}),
    # Of the standard library: what would be a second way to do the same.
    "ftplib": frozenset(),
    "http": frozenset({"weather_api", "web"}),
    "multiprocessing": frozenset({"worker", "daemon"}),
    "smtplib": frozenset(),
    "sqlite3": frozenset({"sqlite"}),
    "urllib.request": frozenset(),
}
NOT_IN_PURE = frozenset(
    "asyncio builtins concurrent ctypes getpass http importlib io locale logging multiprocessing os pathlib platform "
    "random secrets select selectors shutil signal socket sqlite3 ssl subprocess sys tempfile threading time urllib "
    "uuid".split()
)
NOT_CALLED_IN_PURE = frozenset(
    "open print input breakpoint exec eval compile __import__ now utcnow today getenv localtime rvs".split()
)
# The one pure module that asks the import system for a file: it loads one module of pvlib without the package.
LOADERS = frozenset({"physics/spa"})
CLOCKS = frozenset({"now", "utcnow", "today"})
CLOCK_OWNERS = frozenset({"date", "datetime", "Timestamp"})
MAY_IMPORT_LATE = frozenset({"cli", "daemon", "worker"})


def part_of(module: str) -> str:
    """The part that a module belongs to, given as its path below carewatch/ without ".py"."""
    return module.split("/", maxsplit=1)[0]


def complaints(module: str, source: str) -> list[str]:
    """Everything in the source of one module, named as by `part_of`, that the rules refuse, as sentences."""
    tree = ast.parse(source)
    part = part_of(module)
    if module == "__init__":
        return [f"line {line}: the map imports nothing" for line, _, _ in _imports(tree)]
    if part not in MAY_IMPORT:
        return [f"{part} is not in the table"]
    if module.endswith("/__init__"):
        return ["__init__.py is not empty"] if source.strip() else []
    found = [*_import_complaints(module, part, tree)]
    if part not in MAY_IMPORT_LATE:
        found += _late_import_complaints(tree)
    if part in PURE and module not in LOADERS:
        found += _purity_complaints(tree)
    return found


def _imports(tree: ast.AST) -> Iterator[tuple[int, str, str]]:
    """Line, module and imported name ("" for a plain import) of every import; a relative one keeps its dots."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name, ""
        elif isinstance(node, ast.ImportFrom):
            for alias in node.names:
                yield node.lineno, "." * node.level + (node.module or ""), alias.name


def _import_complaints(module: str, part: str, tree: ast.AST) -> Iterator[str]:
    for line, origin, name in _imports(tree):
        top = origin.split(".", maxsplit=1)[0]
        full = f"{origin}.{name}".rstrip(".")
        if origin.startswith("."):
            yield f"line {line}: relative import of {full}"
        elif name == "*":
            yield f"line {line}: star import from {origin}"
        elif top == "carewatch":
            yield from _own_import_complaints(line, part, full)
        elif top not in KEPT_TO and top not in sys.stdlib_module_names:
            yield f"line {line}: {top} is not a known dependency"
        else:
            keys = {key for key in KEPT_TO if full == key or full.startswith(f"{key}.")}
            if any(not KEPT_TO[key] & {part, module} for key in keys):
                yield f"line {line}: {full} does not belong in {module}"


def _own_import_complaints(line: int, part: str, full: str) -> Iterator[str]:
    names = full.split(".")
    target = names[1] if len(names) > 1 else ""
    if target == "__version__" and part not in PURE:
        return
    if target not in MAY_IMPORT:
        yield f"line {line}: {full} names no part"
    elif target not in MAY_IMPORT[part] | {part}:
        yield f"line {line}: {part} may not import {target}"


def _late_import_complaints(tree: ast.AST) -> Iterator[str]:
    for function in ast.walk(tree):
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            for line, origin, _ in _imports(function):
                yield f"line {line}: {origin} is imported inside a function"


def _purity_complaints(tree: ast.Module) -> Iterator[str]:
    typing_only = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and _last_name(node.test) == "TYPE_CHECKING"
        for statement in node.body
        for inner in ast.walk(statement)
    }
    literals = {
        target.id
        for node in tree.body
        if isinstance(node, ast.Assign) and _is_literal_seed(node.value, frozenset())
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Import | ast.ImportFrom) and id(node) not in typing_only:
            yield from _impure_import_complaints(node)
        elif isinstance(node, ast.Attribute):
            if node.attr in CLOCKS and _last_name(node.value) in CLOCK_OWNERS:
                yield f"line {node.lineno}: {node.attr} reads the clock"
            if _last_name(node.value) == "random" and node.attr not in {"default_rng", "Generator"}:
                yield f"line {node.lineno}: random.{node.attr} draws from a generator that nobody seeded"
        elif isinstance(node, ast.Call):
            name = _last_name(node.func)
            if name in NOT_CALLED_IN_PURE or name.startswith("read_"):
                yield f"line {node.lineno}: {name}() is called in a pure part"
            if name == "default_rng":
                seeds = [*node.args, *(keyword.value for keyword in node.keywords)]
                if not seeds or not all(_is_literal_seed(seed, literals) for seed in seeds):
                    yield f"line {node.lineno}: default_rng without a literal seed"


def _impure_import_complaints(node: ast.Import | ast.ImportFrom) -> Iterator[str]:
    for line, origin, name in _imports(node):
        if origin.split(".", maxsplit=1)[0] in NOT_IN_PURE:
            yield f"line {line}: {origin} is imported in a pure part"
        if origin == "numpy.random" and name not in {"default_rng", "Generator"}:
            yield f"line {line}: {origin} is imported for more than default_rng"


def _last_name(node: ast.expr) -> str:
    """The name by which an expression is finally called: "now" of `pd.Timestamp.now`; "" where there is none."""
    if isinstance(node, ast.Attribute):
        return node.attr
    return node.id if isinstance(node, ast.Name) else ""


def _is_literal_seed(node: ast.expr, literals: frozenset[str] | set[str]) -> bool:
    """True for a whole number, a list or tuple of them, or the name of a constant of the module that is one."""
    if isinstance(node, ast.Tuple | ast.List):
        return bool(node.elts) and all(_is_literal_seed(element, literals) for element in node.elts)
    if isinstance(node, ast.Name):
        return node.id in literals
    return isinstance(node, ast.Constant) and type(node.value) is int


def listed_parts(text: str) -> list[str]:
    """The parts that a map lists, in its order: indented lines of a name, two spaces or more, and what it is."""
    return re.findall(r"^ {4}([a-z_]+)(?:/|\.py)? {2,}\S", text, flags=re.MULTILINE)


def map_of_developers_page(text: str) -> str:
    """The block of DEVELOPERS.md that follows the marker `<!-- map -->`, up to the next heading or closing fence."""
    _, marker, rest = text.partition("<!-- map -->\n")
    assert marker, "DEVELOPERS.md holds no <!-- map -->"
    return re.split(r"^(?:#|```\s*$)", rest.removeprefix("\n").removeprefix("```text\n"), flags=re.MULTILINE)[0]


def modules() -> list[Path]:
    """Every module of the package, in reading order of the file system."""
    return sorted(PACKAGE.rglob("*.py"))


@pytest.mark.parametrize("path", modules(), ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_every_module_keeps_the_rules(path: Path) -> None:
    """Imports follow the table, libraries stay in their part, pure parts touch nothing outside their arguments."""
    module = path.relative_to(PACKAGE).with_suffix("").as_posix()

    assert complaints(module, path.read_text(encoding="utf-8")) == []


def test_folders_of_tests_have_empty_init_files() -> None:
    """An __init__.py that does something is a place where nobody looks."""
    assert [path for path in (ROOT / "tests").rglob("__init__.py") if path.read_text(encoding="utf-8").strip()] == []


def cycle_in(table: Mapping[str, frozenset[str]]) -> list[str]:
    """The parts that import each other in a ring, or none."""
    try:
        graphlib.TopologicalSorter(table).prepare()
    except graphlib.CycleError as error:
        return list(error.args[1])
    return []


def test_the_table_has_no_cycle() -> None:
    """What is read first depends on nothing that is read later."""
    assert cycle_in(MAY_IMPORT) == []
    assert cycle_in(MAY_IMPORT | {"physics": frozenset({"assess"})}) != []


def test_the_table_says_only_what_was_decided() -> None:
    """Edges never import each other; only daemon and cli see them, and only cli sees daemon and demo."""
    seen_by = {
        part: {other for other, allowed in MAY_IMPORT.items() if part in allowed} for part in MAY_IMPORT.keys() - PURE
    }

    assert seen_by == {part: {"daemon", "cli"} for part in EDGES} | {"daemon": {"cli"}, "demo": {"cli"}, "cli": set()}


def test_the_package_docstring_is_the_table() -> None:
    """The map that `help(carewatch)` shows lists the parts of the table in its order."""
    assert listed_parts(carewatch.__doc__ or "") == list(MAY_IMPORT)


def test_the_page_for_developers_is_the_table() -> None:
    """The map in DEVELOPERS.md, after its marker, lists the parts of the table in its order."""
    page = ROOT / "DEVELOPERS.md"

    assert listed_parts(map_of_developers_page(page.read_text(encoding="utf-8"))) == list(MAY_IMPORT)


def test_a_map_that_differs_is_noticed() -> None:
    """A part left out, added or moved changes the list; prose around it does not."""
    before, after = "# Map\n    not_this  one\n<!-- map -->\n", "    too_late  another\n"
    page = f"{before}\n```text\n    physics   kernels\n    assess.py  chain\n```\n{after}"

    assert listed_parts(map_of_developers_page(page)) == ["physics", "assess"]
    assert listed_parts("prose\n    care/    the log\n    place   corner\n  no  entry\n") == ["care", "place"]
    with pytest.raises(AssertionError, match="holds no"):
        map_of_developers_page("# Map\n    physics  kernels\n")


@pytest.mark.parametrize(
    ("module", "source", "reason"),
    [
        ("physics/leaf", "from carewatch.care.log import Entry", "physics may not import care"),
        ("physics/leaf", "from carewatch import assess", "physics may not import assess"),
        ("physics/leaf", "from carewatch import __version__", "names no part"),
        ("hazard/spells", "import carewatch.measures.choice", "hazard may not import measures"),
        ("hazard/spells", "import carewatch", "names no part"),
        ("alerts/plan", "from carewatch.sqlite.store import Store", "alerts may not import sqlite"),
        ("notify/send", "from carewatch.sqlite.store import Store", "notify may not import sqlite"),
        ("worker/child", "from carewatch.daemon.wiring import build", "worker may not import daemon"),
        ("daemon/wiring", "from carewatch.cli.main import main", "daemon may not import cli"),
        ("daemon/wiring", "import carewatch.demo.garden", "daemon may not import demo"),
        ("demo/weather", "from carewatch.forecast.raw import RawForecast", "demo may not import forecast"),
        ("helpers/text", "", "helpers is not in the table"),
        ("assess", "from carewatch.config.load import load", "assess may not import config"),
        ("care/log", "from .tree import Tree", "relative import of .tree"),
        ("care/log", "from carewatch.care.tree import *", "star import"),
        ("care/__init__", "from carewatch.care.log import Entry", "__init__.py is not empty"),
        ("__init__", "import json", "the map imports nothing"),
        ("sqlite/store", "import requests", "requests does not belong"),
        ("notify/send", "from sqlite3 import connect", "sqlite3.connect does not belong"),
        ("daemon/wiring", "from apprise import Apprise", "apprise.Apprise does not belong"),
        ("worker/child", "import apscheduler.schedulers.background", "does not belong"),
        ("cli/main", "import pydantic", "pydantic does not belong"),
        ("web/page", "from rich.table import Table", "does not belong"),
        ("sqlite/store", "import tomlkit", "tomlkit does not belong"),
        ("web/page", "import matplotlib.pyplot as plt", "does not belong"),
        ("physics/wind", "import pandas as pd", "pandas does not belong"),
        ("web/page", "import pandas as pd", "pandas does not belong"),
        ("physics/wind", "from pvlib import solarposition", "pvlib.solarposition does not belong"),
        ("alerts/plan", "from scipy.stats import norm", "does not belong"),
        ("weather_api/session", "import urllib.request", "does not belong"),
        ("weather_api/session", "from urllib import request", "does not belong"),
        ("weather_api/session", "import httpx", "httpx is not a known dependency"),
        ("care/log", "import logging", "logging is imported in a pure part"),
        ("care/log", "import os.path", "os.path is imported in a pure part"),
        ("care/log", "from pathlib import Path", "pathlib is imported in a pure part"),
        ("care/log", "from time import monotonic", "time is imported in a pure part"),
        ("care/log", "if CHECKED:\n    import os", "os is imported in a pure part"),
        ("care/log", "def f():\n    import json", "json is imported inside a function"),
        ("sqlite/store", "def f():\n    import json", "json is imported inside a function"),
        ("care/log", "text = open('x').read()", "open() is called"),
        ("care/log", "print(1)", "print() is called"),
        ("care/log", "x = input()", "input() is called"),
        ("care/log", "x = datetime.now(UTC)", "now() is called"),
        ("care/log", "x = pd.Timestamp.utcnow()", "utcnow() is called"),
        ("care/log", "x = field(default_factory=date.today)", "today reads the clock"),
        ("care/log", "x = path.read_text()", "read_text() is called"),
        ("care/log", "x = pd.read_csv(y)", "read_csv() is called"),
        ("forecast/ensemble", "x = np.random.normal()", "random.normal draws"),
        ("forecast/ensemble", "np.random.seed(3)", "random.seed draws"),
        ("forecast/ensemble", "from numpy import random\nx = random.normal()", "random.normal draws"),
        ("forecast/ensemble", "from numpy.random import normal", "more than default_rng"),
        ("forecast/ensemble", "x = np.random.default_rng()", "without a literal seed"),
        ("forecast/ensemble", "x = np.random.default_rng(None)", "without a literal seed"),
        ("forecast/ensemble", "x = np.random.default_rng(seed=given)", "without a literal seed"),
        ("forecast/ensemble", "x = scipy.stats.norm.rvs()", "rvs() is called"),
    ],
)
def test_a_planted_violation_is_refused(module: str, source: str, reason: str) -> None:
    """One line that breaks one rule is found, and the complaint says which."""
    assert [said for said in complaints(module, source) if reason in said] != []


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("physics/sun", "import numpy as np\nfrom scipy.special import lambertw"),
        ("assess", "from carewatch.verify.scores import crps\nfrom carewatch.physics import leaf"),
        ("care/log", "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    import os"),
        ("care/log", "from datetime import datetime, time\ndef f(now: datetime) -> time:\n    return now.time()"),
        ("care/log", "def f(snapshot):\n    return snapshot.now"),
        ("forecast/ensemble", "SEED = 20\nx = np.random.default_rng(SEED)\ny = np.random.default_rng((1, 2))"),
        ("forecast/ensemble", "def f(generator: np.random.Generator): ..."),
        (
            "weather_api/session",
            "import requests\nfrom urllib.parse import urlencode\nfrom carewatch import __version__",
        ),
        (
            "config/load",
            "import os\nfrom pathlib import Path\nx = open('x')\nfrom pydantic_settings import BaseSettings",
        ),
        ("cli/main", "def f():\n    from carewatch.daemon.wiring import build\n    from rich.table import Table"),
        ("daemon/wiring", "from carewatch.sqlite.store import Store\nfrom apscheduler.triggers import cron"),
        ("demo/weather", "import json\nfrom importlib.resources import files\nfrom carewatch.demo import garden"),
        ("care/__init__", "\n"),
        ("__init__", '"""The map."""\n__version__ = "1"'),
    ],
)
def test_what_the_rules_allow_is_let_pass(module: str, source: str) -> None:
    """The checker does not refuse the ways in which the work is meant to be done."""
    assert complaints(module, source) == []


def test_the_command_line_loads_no_heavy_library_before_it_is_needed() -> None:
    """Help answers within its budget because numpy and all that stands on it wait for a command."""
    heavy = "apprise apscheduler matplotlib numpy pandas pvlib pydantic requests rich scipy".split()
    program = f"import sys, carewatch.cli.main; print(*[name for name in {heavy} if name in sys.modules])"

    answer = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True)

    assert answer.stdout.split() == []
