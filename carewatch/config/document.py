"""config.toml and garden.toml as one document that still knows where each of its keys stands."""

import hashlib
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from carewatch.care.log import WORKS
from carewatch.config.positions import Location, line_of, lines_of
from carewatch.config.problems import ConfigErrors, ConfigProblem
from carewatch.config.toml_hints import hint
from carewatch.config.values import ID_PATTERN

# The tables that programs may add to, and the only ones of garden.toml.
GROWING = ("place", "tree")
NAME_KEYS = {"place": "id", "tree": "id", "channel": "name"}
BYTE_ORDER_MARK = b"\xef\xbb\xbf"
# Signs of a date as ISO 8601 writes it.
DAY_SIGNS = 10
_ORDINARY_KEY = re.compile(r"[A-Za-z0-9_-]{1,40}")
HOW_TO_START = "a TOML file; `carewatch config new` writes one to begin with"


@dataclass(frozen=True)
class Source:
    """One TOML file: its content, the line of every key in it, and the hash of its bytes ("" for none)."""

    path: Path
    content: dict[str, Any]
    lines: Mapping[Location, int]
    digest: str = ""


@dataclass(frozen=True)
class Document:
    """
    What all sources say together.

    content: the merged tables, environment included.
    garden: None when there is no garden file.
    own: how many items of the growing lists stand in the configuration file; the garden file's follow them.
    overrides: paths that an environment variable sets, with its name.
    """

    content: Mapping[str, Any]
    config: Source
    garden: Source | None
    own: Mapping[str, int]
    overrides: Mapping[Location, str]

    def problem(
        self, location: Location, what: str, accepted: str, found: str | None = None, nearest: tuple[str, ...] = ()
    ) -> ConfigProblem:
        """A problem with what stands at `location` of the merged document."""
        key = self.key(location)
        variable = self.overrides.get(location[:2])
        if variable is not None:
            return ConfigProblem(f"environment variable {variable}", None, key, found, accepted, nearest, what)
        source, local = self._source(location)
        return ConfigProblem(str(source.path), line_of(source.lines, local), key, found, accepted, nearest, what)

    def origin(self, location: Location) -> str:
        """Where `location` stands, in words: "config.toml line 41"."""
        source, local = self._source(location)
        line = line_of(source.lines, local)
        return source.path.name if line is None else f"{source.path.name} line {line}"

    def key(self, location: Location) -> str:
        """The dotted key of `location`; items are called by their id, or counted from 1 within their file."""
        _, local = self._source(location)
        words = ""
        here: Any = self.content
        for step, local_step in zip(location, local, strict=True):
            parent, here = here, _inside(here, step)
            if isinstance(step, str):
                # A key that no table of ours could have may be a secret in the wrong place.
                name = step if _ORDINARY_KEY.fullmatch(step) else "(a key that is not shown)"
                words = f"{words}.{name}" if words else name
            else:
                words += f"[{_item_name(words.rsplit('.', 1)[-1], parent, step, local_step)}]"
        return words

    def _source(self, location: Location) -> tuple[Source, Location]:
        """The file in which `location` stands, and the path within that file."""
        if len(location) > 1 and isinstance(location[1], int) and self.garden is not None:
            own = self.own.get(str(location[0]))
            if own is not None and location[1] >= own:
                return self.garden, (location[0], location[1] - own, *location[2:])
        return self.config, location


def _inside(value: Any, step: str | int) -> Any:
    if isinstance(value, Mapping):
        return value.get(str(step))
    if isinstance(value, list | tuple) and isinstance(step, int) and step < len(value):
        return value[step]
    return None


def _item_name(table: str, items: Any, step: int, local_step: str | int) -> str:
    item = _inside(items, step)
    name = item.get(NAME_KEYS.get(table, "")) if isinstance(item, Mapping) else None
    if isinstance(name, str) and ID_PATTERN.fullmatch(name):
        return name
    return str(int(local_step) + 1)


def read_source(path: Path) -> Source:
    """
    One TOML file, parsed.

    Raises ConfigErrors with one problem when it is missing, cannot be read, or is no TOML.
    """
    found = _bytes_of(path)
    data = found.removeprefix(BYTE_ORDER_MARK)
    reason: str = ""
    line: int | None = None
    text = ""
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        reason = "holds signs that are not UTF-8"
    if reason:
        raise ConfigErrors([_unread(path, reason, "text saved as UTF-8", line)])
    content: dict[str, Any] = {}
    accepted = ""
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        reason, line, accepted = _syntax_error(str(error), text)
    if reason:
        raise ConfigErrors([_unread(path, reason, accepted, line)])
    return Source(path, content, lines_of(text), digest_of(found))


def digest_of(content: bytes) -> str:
    """What tells one content of a file from another: 32 hex digits."""
    return hashlib.sha256(content).hexdigest()[:32]


def _bytes_of(path: Path) -> bytes:
    reason = ""
    try:
        return path.read_bytes()
    except FileNotFoundError:
        reason = "does not exist"
    except IsADirectoryError:
        reason = "is a folder, not a file"
    except OSError as error:
        reason = f"cannot be read: {error.strerror}"
    raise ConfigErrors([_unread(path, reason, HOW_TO_START, None)])


def _unread(path: Path, reason: str, accepted: str, line: int | None) -> ConfigProblem:
    return ConfigProblem(str(path), line, "the file" if line is None else "", None, accepted, (), reason)


def _syntax_error(message: str, text: str) -> tuple[str, int, str]:
    """
    What tomllib complains about, the line, and what is accepted there.

    The position stands only in its text before Python 3.14.
    """
    complaint, _, position = message.rpartition(" (at ")
    lines = text.split("\n")
    if position.startswith("line "):
        line, column = (int("".join(filter(str.isdigit, part))) for part in position.split(",", 1))
        return f"is no TOML at column {column}: {complaint}", line, hint(complaint, lines[line - 1])
    return f"is no TOML at its end: {complaint or message}", len(lines), hint(complaint or message, lines[-1])


def merge(
    config: Source, garden: Source | None, overridden: Mapping[str, Any], overrides: Mapping[Location, str]
) -> tuple[Document, list[ConfigProblem]]:
    """
    The two files as one document, and what does not belong into the second.

    overridden: the content of `config` with the environment's values in it; overrides: paths of those values.
    """
    content = dict(overridden)
    own: dict[str, int] = {}
    problems: list[ConfigProblem] = []
    if garden is None:
        return Document(content, config, garden, own, overrides), problems
    for name, value in garden.content.items():
        first = content.get(name, [])
        if name not in GROWING:
            accepted = "only [[place]] and [[tree]] here; everything else belongs into the configuration file"
            file, line = str(garden.path), line_of(garden.lines, (name,))
            problems.append(ConfigProblem(file, line, name, None, accepted, (), "does not belong here"))
        elif isinstance(first, list) and isinstance(value, list):
            own[name] = len(first)
            content[name] = [*first, *value]
        else:
            # One of the two is no list of tables: let the checks complain about that one alone.
            own[name] = 0 if isinstance(first, list) else 1
            content[name] = value if isinstance(first, list) else first
    return Document(content, config, garden, own, overrides), problems


def doubles(document: Document) -> list[ConfigProblem]:
    """Ids, names of channels and entries of the log that stand there twice; each names the place of the first."""
    problems = [
        *_double_names(document, ("place",), "place"),
        *_double_names(document, ("tree",), "tree"),
        *_double_names(document, ("notices", "channel"), "channel"),
    ]
    trees = document.content.get("tree")
    for index, tree in enumerate(trees if isinstance(trees, list) else []):
        problems += _double_entries(document, ("tree", index, "work"), _inside(tree, "work"))
    return problems


def _double_names(document: Document, location: Location, kind: str) -> list[ConfigProblem]:
    items: Any = document.content
    for step in location:
        items = _inside(items, step)
    first: dict[str, Location] = {}
    problems = []
    for index, item in enumerate(items if isinstance(items, list) else []):
        name = _inside(item, NAME_KEYS[kind])
        here = (*location, index, NAME_KEYS[kind])
        if not isinstance(name, str):
            continue
        if name in first:
            other = document.problem(first[name], "", "")
            where = other.file if other.line is None else f"{other.file}, line {other.line}"
            found = f'"{name}"' if ID_PATTERN.fullmatch(name) else None
            accepted = f"a name that no other {kind} has; this one stands in {where} already"
            problems.append(document.problem(here, "is there twice", accepted, found))
        first.setdefault(name, here)
    return problems


def _double_entries(document: Document, location: Location, entries: Any) -> list[ConfigProblem]:
    first: dict[tuple[str, ...], Location] = {}
    problems = []
    for index, entry in enumerate(entries if isinstance(entries, list) else []):
        identity = (_time_of(entry), *(str(_inside(entry, key)) for key in ("work", "branch", "to", "seen", "measure")))
        here = (*location, index)
        if identity in first:
            accepted = f"each entry once; this one stands in {document.origin(first[identity])} already"
            problems.append(document.problem(here, "is there twice", accepted))
        first.setdefault(identity, here)
    return problems


def _time_of(entry: Any) -> str:
    """A work is done once a day, whatever the hour; what recurs within a day is the same only at the same time."""
    on = _inside(entry, "on")
    return str(on)[:DAY_SIGNS] if _inside(entry, "work") in WORKS else str(on)
