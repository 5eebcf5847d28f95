"""An entry of the care log that is given in a command, held to the same rules as a [[tree.work]] of the file."""

from collections.abc import Iterable, Mapping
from dataclasses import fields, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from pydantic import ValidationError

from carewatch.care.garden import Garden
from carewatch.care.log import OBSERVATIONS, Entry
from carewatch.condition.season import out_of_season
from carewatch.config.document import Document, Source
from carewatch.config.garden_settings import Known, WorkSettings, local_moment
from carewatch.config.positions import Location
from carewatch.config.problems import ConfigErrors, ConfigProblem, one_of
from carewatch.config.refusals import problems_from
from carewatch.config.tables import Tables

# How the keys of a [[tree.work]] are written in a command.
TYPED = {
    "work": "WORK",
    "on": "--on",
    "roots": "--roots",
    "roots_worked": "--roots-worked",
    "removed": "--removed",
    "tied": "--tied",
    "paste": "--paste",
    "branch": "--branch",
    "gauge_mm": "--gauge",
    "due": "--due",
    "other_tree": "--other-tree",
    "to": "--to",
    "seen": "SEEN",
    "measure": "MEASURE",
    "note": "--note",
}


def checked_entry(tree: str, given: Mapping[str, object], garden: Garden, tables: Tables, now: datetime) -> Entry:
    """
    The entry that the words of a command describe.

    tree: a tree of the garden. given: keys of a [[tree.work]]; without "on" it is done now. now: aware.

    Raises ConfigErrors with everything that is wrong; each problem is named as it is typed.
    """
    zone = ZoneInfo(garden.site.time_zone)
    known = Known(tables=tables, now=now, zone=zone, places=tuple(garden.places))
    values = {"on": now, **given}
    errors: list[Any] = []
    try:
        settings = WorkSettings.model_validate(values, context=known)
    except ValidationError as refusal:
        errors += refusal.errors(include_url=False)
    if errors:
        raise ConfigErrors(typed_problems(("tree", 0, "work", 0), values, errors, TYPED))
    entry = Entry(tree=tree, at=_moment(settings.on, zone, now), **settings.model_dump(exclude={"on"}))
    odd = out_of_season_problem(entry, garden, now)
    if odd is not None:
        raise ConfigErrors([odd])
    return entry


def out_of_season_problem(entry: Entry, garden: Garden, now: datetime) -> ConfigProblem | None:
    """What is wrong with a phase that cannot be seen at that time of year; None where it can, or after heating."""
    owner = next((tree for tree in garden.trees if tree.id == entry.tree), None)
    if entry.seen is None or owner is None:
        return None
    stood = {owner.place, *(str(other.to) for other in garden.log if other.tree == owner.id and other.to)}
    if any(garden.places[place].heated_to_c is not None for place in stood if place in garden.places):
        return None
    day = np.datetime64(entry.at.date())
    remedy = out_of_season(entry.seen, day, garden.site.latitude, owner.species)
    if not remedy:
        return None
    fitting = [seen for seen in OBSERVATIONS if not out_of_season(seen, day, garden.site.latitude, owner.species)]
    today = now.astimezone(ZoneInfo(garden.site.time_zone)).date()
    hint = "" if entry.at.date() == today else "; or another date, if it was not then"
    return ConfigProblem(
        file=TYPED["seen"],
        line=None,
        key="",
        found=f'"{entry.seen}" on {entry.at.date()}',
        accepted=f"{one_of(fitting)}: {remedy}{hint}",
        what=f"does not fit the season of {owner.species.asked_for}",
    )


def _moment(on: datetime | date, zone: ZoneInfo, now: datetime) -> datetime:
    """As in the file; but today's date means now while its noon is ahead: what is to come is not reckoned with."""
    at = local_moment(on, zone)
    return min(at, now.astimezone(zone)) if not isinstance(on, datetime) else at.astimezone(zone)


def given_by(entry: Entry) -> dict[str, object]:
    """The keys of a [[tree.work]] that say what an entry says; what is absent is left out."""
    options = {
        field.name: getattr(entry, field.name) for field in fields(entry) if field.name not in ("tree", "at", "origin")
    }
    return {"on": entry.at} | {name: value for name, value in options.items() if value not in (None, False)}


def typed_problems(
    location: Location, values: Mapping[str, object], errors: Iterable[Mapping[str, Any]], typed: Mapping[str, str]
) -> list[ConfigProblem]:
    """
    What is wrong with keys that were given as options of a command, each called as it is typed.

    location: of the table that they make up, in a document with one tree. typed: the option of each key.
    """
    tree: dict[str, object] = {"id": "tree", "work": [dict(values)]} if "work" in location else dict(values)
    document = Document(
        content={"tree": [tree]},
        config=Source(Path(), {}, {}),
        garden=None,
        own={},
        overrides={},
    )
    placed = [{**error, "loc": (*location, *error["loc"])} for error in errors]
    return [
        replace(problem, file=typed.get(problem.key.rpartition(".")[2], "the entry"), key="", line=None)
        for problem in problems_from(placed, document)
    ]
