"""An entry of the care log that is given in a command, held to the same rules as a [[tree.work]] of the file."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from pydantic import ValidationError

from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.config.document import Document, Source
from carewatch.config.garden_settings import Known, WorkSettings, local_moment
from carewatch.config.problems import ConfigErrors, ConfigProblem
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
        raise ConfigErrors(_problems(tree, values, errors))
    return Entry(tree=tree, at=_moment(settings.on, zone, now), **settings.model_dump(exclude={"on"}))


def _moment(on: datetime | date, zone: ZoneInfo, now: datetime) -> datetime:
    """As in the file; but today's date means now while its noon is ahead: what is to come is not reckoned with."""
    at = local_moment(on, zone)
    return min(at, now.astimezone(zone)) if not isinstance(on, datetime) else at.astimezone(zone)


def _problems(tree: str, values: Mapping[str, object], errors: Iterable[Mapping[str, Any]]) -> list[ConfigProblem]:
    document = Document(
        content={"tree": [{"id": tree, "work": [dict(values)]}]},
        config=Source(Path(), {}, {}),
        garden=None,
        own={},
        overrides={},
    )
    placed = [{**error, "loc": ("tree", 0, "work", 0, *error["loc"])} for error in errors]
    return [
        replace(problem, file=TYPED.get(problem.key.rpartition(".")[2], "the entry"), key="", line=None)
        for problem in problems_from(placed, document)
    ]
