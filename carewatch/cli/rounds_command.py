"""`rounds`: what to do today, place by place, as of now or another moment."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby
from zoneinfo import ZoneInfo

from rich.console import Console
from rich.text import Text

from carewatch.alerts.helper import HelperPage, helper_page, page_lines
from carewatch.alerts.listing import task_lines, undelivered_line
from carewatch.alerts.rounds import NOTHING, Begun, Rounds, heads_up_line, in_force_line, rounds_of
from carewatch.alerts.wording import clock_time
from carewatch.assess import Assessment
from carewatch.care.whole_log import in_force
from carewatch.cli.acting import finished, tell
from carewatch.cli.documents import (
    ForecastDocument,
    SiteDocument,
    forecast_document,
    site_document,
    stamp,
)
from carewatch.cli.long_clock import as_sent, garden_ahead
from carewatch.cli.paragraphs import wrapped
from carewatch.cli.reports import FINE, judged, prepared
from carewatch.cli.screen import console, day_text
from carewatch.cli.tasks_command import TaskDocument, task_document
from carewatch.config.load import Loaded
from carewatch.daemon.left_over import sentences
from carewatch.outcome import calls
from carewatch.sqlite.database import Database
from carewatch.sqlite.outbox import undelivered
from carewatch.sqlite.standing import standing
from carewatch.tasks.task import Task

# Notices that reached nobody are told for so long.
RECENT = timedelta(days=1)


@dataclass(frozen=True)
class ErrandDocument:
    """What to do at one place today."""

    place: str
    measure: str
    trees: tuple[str, ...]
    act_by: str
    undo_at: str | None
    minutes: float
    text: str


@dataclass(frozen=True)
class HeadsUpDocument:
    """A danger that asks for nothing today."""

    tree: str
    place: str
    hazard: str
    starts: str
    probability: float
    severity: str
    measure: str | None
    decide_at: str | None
    skipped: bool
    text: str


@dataclass(frozen=True)
class InForceDocument:
    """A measure in force."""

    tree: str
    place: str
    measure: str
    since: str
    undo_at: str | None
    threatened: bool
    text: str


@dataclass(frozen=True)
class RoundsDocument:
    """`rounds --json`."""

    version: int
    site: SiteDocument
    at: str
    forecast: ForecastDocument
    today: tuple[ErrandDocument, ...]
    heads_up: tuple[HeadsUpDocument, ...]
    in_force: tuple[InForceDocument, ...]
    stays: tuple[str, ...]
    undelivered: int
    tasks: tuple[TaskDocument, ...]


@dataclass(frozen=True)
class HelperPlaceDocument:
    """One place of the helper's page."""

    place: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class HelperDocument:
    """`rounds --for-helper --json`."""

    version: int
    site: SiteDocument
    at: str
    first: str
    last: str
    title: str
    places: tuple[HelperPlaceDocument, ...]
    ends: tuple[str, ...]


def rounds(
    explicit: str | None,
    at: str | None,
    environ: Mapping[str, str],
    now: datetime,
    as_json: bool,
    for_helper: bool = False,
) -> int:
    """Judge the garden and print the day's rounds, or the page for whoever looks after it while nobody is there."""

    def action() -> int:
        loaded, tables, moment = prepared(explicit, at, environ, now)
        assessment = judged(loaded, tables, moment, environ, now=now)
        _, found_tasks = garden_ahead(assessment.garden, tables, moment, assessment.weather)
        tasks = as_sent(found_tasks, loaded, moment, now)
        if for_helper:
            return _for_helper(assessment, tasks, as_json)
        found = _rounds(loaded, assessment, now, tasks)
        if as_json:
            return tell(_document(found, assessment), (), as_json)
        _show(found, assessment)
        return FINE

    return finished(action)


def _rounds(loaded: Loaded, assessment: Assessment, now: datetime, tasks: tuple[Task, ...]) -> Rounds:
    zone = ZoneInfo(assessment.garden.site.time_zone)
    moment = assessment.now.astimezone(zone)
    with Database.open_for_reading(loaded.database_file, now) as database, database.snapshot(now) as snapshot:
        stands = standing(snapshot, now)
        lost = undelivered(snapshot, now - RECENT)
    known = [danger for danger in stands.dangers if danger.first_seen_at <= moment]
    unread = [one.text for one in sentences(stands.facts) if one.since <= moment.date()]
    begun, rules = _begun(assessment, zone), assessment.garden.notices
    return rounds_of(calls(assessment), begun, known, rules, moment, lost, tasks, stays=unread)


def _for_helper(assessment: Assessment, tasks: tuple[Task, ...], as_json: bool) -> int:
    zone = ZoneInfo(assessment.garden.site.time_zone)
    here = assessment.now.astimezone(zone)
    page = helper_page(calls(assessment), _begun(assessment, zone), tasks, assessment.garden.notices, here)
    return tell(_helper_document(page, assessment, here), _wrapped(page, assessment.garden.site.name), as_json)


def _wrapped(page: HelperPage, site: str) -> list[str]:
    """The page in lines that fit the screen or the sheet; what goes on is further in."""
    width = console().width
    lines: list[str] = []
    for line in page_lines(page, site):
        depth = len(line) - len(line.lstrip()) + 2 if line.startswith(" ") else 0
        lines += wrapped(line, width, " " * depth) or [""]
    return lines


def _helper_document(page: HelperPage, assessment: Assessment, here: datetime) -> HelperDocument:
    return HelperDocument(
        version=1,
        site=site_document(assessment),
        at=stamp(here),
        first=page.first.isoformat(),
        last=page.last.isoformat(),
        title=page.title,
        places=tuple(HelperPlaceDocument(place.place, place.lines) for place in page.places),
        ends=page.ends,
    )


def _begun(assessment: Assessment, zone: ZoneInfo) -> tuple[Begun, ...]:
    log = [entry for entry in assessment.garden.log if entry.at <= assessment.now]
    return tuple(
        Begun(tree.condition.tree.id, tree.condition.place, measure, entry.at.astimezone(zone))
        for tree in assessment.trees
        for measure, entry in in_force(log, tree.condition.tree.id).items()
    )


def _document(found: Rounds, assessment: Assessment) -> RoundsDocument:
    now = found.now
    return RoundsDocument(
        version=1,
        site=site_document(assessment),
        at=stamp(now),
        forecast=forecast_document(assessment),
        today=tuple(
            ErrandDocument(
                item.place,
                item.measure,
                item.trees,
                stamp(item.act_by),
                _stamp(item.undo_at),
                item.minutes,
                item.text,
            )
            for item in found.errands
        ),
        heads_up=tuple(
            HeadsUpDocument(
                item.tree,
                item.place,
                item.spell.hazard,
                stamp(item.spell.starts),
                item.spell.probability,
                item.spell.severity,
                item.measure or None,
                _stamp(item.decide_at),
                item.skipped,
                heads_up_line(item, now),
            )
            for item in found.heads_up
        ),
        in_force=tuple(
            InForceDocument(
                item.begun.tree,
                item.begun.place,
                item.begun.measure,
                stamp(item.begun.since),
                _stamp(item.undo_at),
                item.threatened,
                in_force_line(item, now),
            )
            for item in found.in_force
        ),
        stays=found.stays,
        undelivered=found.undelivered,
        tasks=tuple(task_document(task) for task in found.tasks),
    )


def _stamp(moment: datetime | None) -> str | None:
    return None if moment is None else stamp(moment)


def _show(found: Rounds, assessment: Assessment) -> None:
    screen = console()
    now = found.now
    screen.print(Text(f"{assessment.garden.site.name}, {day_text(now)} {clock_time(now)}", style="bold"))
    if not found.errands:
        screen.print(NOTHING)
    for place, errands in groupby(found.errands, key=lambda item: item.place):
        screen.print()
        screen.print(Text(place, style="bold"))
        for item in errands:
            _print(screen, item.text)
    for title, lines in (
        ("Ahead", [heads_up_line(item, now) for item in found.heads_up]),
        ("In force", [in_force_line(item, now) for item in found.in_force]),
        ("Stays", found.stays),
        ("Long clock", task_lines(found.tasks)),
    ):
        if lines:
            screen.print()
            screen.print(Text(title, style="bold"))
        for line in lines:
            _print(screen, line)
    lost = undelivered_line(found.undelivered)
    if lost:
        screen.print()
        screen.print(Text(lost))


def _print(screen: Console, text: str) -> None:
    """A text, indented; what is too long for a line goes on below, further in."""
    for line in filter(None, text.split("\n")):
        for part in wrapped(line, screen.width - 2, "  "):
            screen.print(Text(f"  {part}"))
