"""A tree that a command adds to the garden: its options held to the rules of a [[tree]], and its table in TOML."""

import re
from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import tomlkit
from pydantic import ValidationError

from carewatch.care.garden import Garden
from carewatch.config.entry_check import typed_problems
from carewatch.config.garden_settings import Known, TreeSettings
from carewatch.config.problems import ConfigErrors, ConfigProblem, nearest_names
from carewatch.config.tables import Tables

# How the keys of a [[tree]] are written in a command; those of its pot are all in one.
TYPED = {
    "id": "--new",
    "species": "the species",
    "place": "--place",
    "height_cm": "--height",
    "crown_cm": "--crown",
    "pot": "--pot",
    **dict.fromkeys(("volume_l", "length_cm", "width_cm", "depth_cm", "material", "colour"), "--pot"),
}
POT_ACCEPTED = (
    "its size in litres, or length x width x depth in centimetres, then material and colour if they are not plastic "
    'and black: "3", "22x18x12 terracotta", "5 l plastic white"'
)
_NUMBER = r"(\d+(?:[.,]\d+)?)"
_LITRES = re.compile(rf"{_NUMBER} ?(?:l|litres?|liters?)?(?= |$)", re.IGNORECASE)
_SIDES = re.compile(rf"{_NUMBER} ?[x×] ?{_NUMBER} ?[x×] ?{_NUMBER} ?(?:cm)?(?= |$)", re.IGNORECASE)


def checked_tree(given: Mapping[str, object], garden: Garden, tables: Tables, now: datetime) -> dict[str, object]:
    """
    The keys of a [[tree]] as they are to be written, checked.

    given: keys of a [[tree]], the pot as a text as `POT_ACCEPTED` says.

    Raises ConfigErrors with everything that is wrong; each problem is named as it is typed.
    """
    problems: list[ConfigProblem] = []
    values = dict(given)
    pot = _pot(given.get("pot"), tables, problems)
    values.pop("pot", None)
    if pot is not None:
        values["pot"] = pot
    known = Known(tables=tables, now=now, zone=ZoneInfo(garden.site.time_zone), places=tuple(garden.places))
    errors: list[Any] = []
    try:
        settings = TreeSettings.model_validate(values, context=known)
        values |= {name: _plain(getattr(settings, name)) for name in ("height_cm", "crown_cm") if name in values}
    except ValidationError as refusal:
        errors += refusal.errors(include_url=False)
    problems += typed_problems(("tree", 0), values, errors, TYPED)
    if any(tree.id == given.get("id") for tree in garden.trees):
        accepted = f"an id that no tree has; of a tree that is listed say `carewatch log {given['id']} sever-layer`"
        problems.append(ConfigProblem(TYPED["id"], None, "", f'"{given["id"]}"', accepted, (), "is taken already"))
    if problems:
        raise ConfigErrors(problems)
    return values


def tree_table(values: Mapping[str, object], comment: str) -> str:
    """The text of a [[tree]] with these keys, under a comment."""
    table = tomlkit.document()
    trees = tomlkit.aot()
    tree = tomlkit.table()
    for name, value in values.items():
        if isinstance(value, Mapping):
            inline = tomlkit.inline_table()
            inline.update(value)
            tree.add(name, inline)
        else:
            tree.add(name, value)
    trees.append(tree)
    table.add("tree", trees)
    return f"# {comment}\n{tomlkit.dumps(table)}"


def _pot(given: object, tables: Tables, problems: list[ConfigProblem]) -> dict[str, object] | None:
    """The keys of a pot out of its words, or None with the reason added to `problems`."""

    def wrong(what: str, found: str | None, nearest: tuple[str, ...] = ()) -> None:
        problems.append(ConfigProblem(TYPED["pot"], None, "", found, POT_ACCEPTED, nearest, what))

    text = " ".join(given.split()) if isinstance(given, str) else ""
    if not text:
        wrong("is missing", None)
        return None
    found = _SIDES.match(text) or _LITRES.match(text)
    if found is None:
        wrong("has no size", f'"{text[:60]}"')
        return None
    sizes = [float(number.replace(",", ".")) for number in found.groups()]
    names = ("volume_l",) if len(sizes) == 1 else ("length_cm", "width_cm", "depth_cm")
    pot: dict[str, object] = {name: _plain(size) for name, size in zip(names, sizes, strict=True)}
    for word in text[found.end() :].split():
        if word in tables.pot_materials and "material" not in pot:
            pot["material"] = word
        elif word in tables.pot_colours and "colour" not in pot:
            pot["colour"] = word
        else:
            names_known = (*tables.pot_materials, *tables.pot_colours)
            wrong(
                "has a word that is neither a material nor a colour", f'"{word[:60]}"', nearest_names(word, names_known)
            )
    return pot


def _plain(size: float) -> int | float:
    """As a person writes it: 3, not 3.0."""
    return int(size) if size == int(size) else size
