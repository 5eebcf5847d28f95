"""Entries of the care log out of a file of their own: [[tree]] with its id, and [[tree.work]] as in the garden file."""

from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from pydantic import Field, ValidationError

from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.config.document import Document, doubles, read_source
from carewatch.config.entry_check import out_of_season_problem
from carewatch.config.garden_settings import Known, WorkSettings, local_moment
from carewatch.config.problems import ConfigErrors, ConfigProblem, nearest_names, one_of
from carewatch.config.refusals import problems_from
from carewatch.config.tables import Tables
from carewatch.config.values import Identifier, Section

WHAT_IT_HOLDS = "[[tree]] with the id of a tree of the garden, and a [[tree.work]] below it for each entry"


class _Worked(Section):
    id: Identifier = Field(description="the id of a tree of the garden")
    work: tuple[WorkSettings, ...] = Field(description="tables headed [[tree.work]]")


class _EntryFile(Section):
    tree: tuple[_Worked, ...] = Field(description=WHAT_IT_HOLDS)


def read_entries(path: Path, garden: Garden, tables: Tables, now: datetime) -> tuple[Entry, ...]:
    """
    The entries of a file in its order, each with its origin in the file.

    path: TOML. now: aware; no entry may lie after it.

    Raises ConfigErrors with everything that is wrong: line, key, what was found and what is accepted.
    """
    source = read_source(path)
    document = Document(source.content, source, None, {}, {})
    if "config_version" in source.content:
        what = "is a key of a configuration, which is used where it is and never imported"
        raise ConfigErrors([document.problem(("config_version",), what, f"a file with {WHAT_IT_HOLDS}")])
    zone = ZoneInfo(garden.site.time_zone)
    known = Known(tables=tables, now=now, zone=zone, places=tuple(garden.places))
    errors: list[Any] = []
    content: _EntryFile | None = None
    try:
        content = _EntryFile.model_validate(source.content, context=known)
    except ValidationError as refusal:
        errors += refusal.errors(include_url=False)
    problems = [*problems_from(errors, document, _EntryFile), *doubles(document)]
    if content is None or problems:
        raise ConfigErrors(problems)
    found: list[Entry] = []
    names = [tree.id for tree in garden.trees]
    for number, tree in enumerate(content.tree):
        if tree.id not in names:
            near = nearest_names(tree.id, names)
            where = ("tree", number, "id")
            problems.append(document.problem(where, "is no tree of the garden", one_of(names), f'"{tree.id}"', near))
        for index, work in enumerate(tree.work):
            place = ("tree", number, "work", index)
            entry = Entry(
                tree=tree.id,
                at=min(local_moment(work.on, zone), now.astimezone(zone)),
                origin=document.origin(place),
                **work.model_dump(exclude={"on"}),
            )
            odd: ConfigProblem | None = out_of_season_problem(entry, garden, now)
            if odd is not None:
                problems.append(document.problem((*place, "seen"), odd.what, odd.accepted, odd.found))
            found.append(entry)
    if problems:
        raise ConfigErrors(problems)
    return tuple(found)
