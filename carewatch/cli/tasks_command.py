"""`tasks`: the long clock, what is due when, why, what moves it, and which coming days are kindest for it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from zoneinfo import ZoneInfo

from rich.console import Console
from rich.text import Text

from carewatch.cli.acting import finished, tell
from carewatch.cli.documents import SiteDocument, stamp
from carewatch.cli.long_clock import as_sent, garden_ahead
from carewatch.cli.paragraphs import wrapped
from carewatch.cli.recovery_documents import MonthDocument, course_document, month_lines
from carewatch.cli.reports import FAILED, FINE, MISUSED, Refusal, at_the_sites_clock, prepared, refuse_unknown, sentence
from carewatch.cli.screen import console, day_text
from carewatch.cli.weather import known_weather
from carewatch.config.load import Loaded
from carewatch.config.tables import Tables
from carewatch.daemon.cycle import RECENT_DAYS
from carewatch.forecast.joining import day_means, joined
from carewatch.forecast.weather import DayMeans, ForecastUnusable, Weather
from carewatch.sqlite.database import Database
from carewatch.sqlite.past_days import past_record, site_key
from carewatch.sqlite.refused import StoreRefused
from carewatch.tasks.fragility import USUAL_MONTHS
from carewatch.tasks.task import Task
from carewatch.tasks.wording import MONTHS
from carewatch.weather_api.refused import SourceRefused

GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Now", ("overdue", "due")),
    ("Next weeks", ("soon",)),
    ("Put off", ("put-off",)),
    ("Later", ("later",)),
    ("Done lately", ("done",)),
)
NOTHING = "No task is in sight."
LONGEST_MONTHS = 18


@dataclass(frozen=True)
class KindDayDocument:
    """A day of the forecast that suits a task."""

    on: str
    why: str


@dataclass(frozen=True)
class TaskDocument:
    """One task of one tree."""

    tree: str
    place: str
    kind: str
    about: str
    title: str
    state: str
    first: str
    best: str
    last: str
    reason: str
    moves: str
    done_on: str | None
    put_off_to: str | None
    kindest: tuple[KindDayDocument, ...]
    unkind: str
    source: str


@dataclass(frozen=True)
class TasksDocument:
    """`tasks --json`."""

    version: int
    site: SiteDocument
    at: str
    forecast_until: str | None
    no_forecast: str
    tasks: tuple[TaskDocument, ...]
    course: tuple[MonthDocument, ...]


@dataclass(frozen=True)
class TasksOptions:
    """What stood after `tasks`. tree: only this one, with its course; months: of the course."""

    tree: str | None
    months: int = USUAL_MONTHS
    at: str | None = None
    as_json: bool = False


def tasks(explicit: str | None, options: TasksOptions, environ: Mapping[str, str], now: datetime) -> int:
    """Print the tasks of all trees, or of one with its fragility month by month."""

    def action() -> int:
        if not 1 <= options.months <= LONGEST_MONTHS:
            raise Refusal(f"--months {options.months} is not between 1 and {LONGEST_MONTHS}.", MISUSED)
        loaded, tables, moment = prepared(explicit, options.at, environ, now)
        garden, site = loaded.garden, loaded.garden.site
        if options.tree is not None:
            refuse_unknown("tree", options.tree, (known.id for known in garden.trees))
        weather, record, why = _weather(loaded, tables, moment, environ, now)
        ahead, found = garden_ahead(garden, tables, moment, weather, record)
        found = as_sent(found, loaded, moment, now)
        shown = [task for task in found if options.tree in (None, task.tree)]
        course: tuple[MonthDocument, ...] = ()
        if options.tree is not None:
            prospect = next(prospect for prospect in ahead.found if prospect.tree.id == options.tree)
            course = course_document(prospect, options.months)
        here = moment.astimezone(ZoneInfo(site.time_zone))
        document = TasksDocument(
            version=1,
            site=SiteDocument(site.name, site.latitude, site.longitude, site.elevation_m, site.time_zone),
            at=stamp(here),
            forecast_until=ahead.days[-1].on.isoformat() if ahead.days else None,
            no_forecast=why,
            tasks=tuple(task_document(task) for task in shown),
            course=course,
        )
        if options.as_json:
            return tell(document, (), as_json=True)
        _show(document, here, options.tree is not None)
        return FINE

    return finished(action)


def _weather(
    loaded: Loaded, tables: Tables, moment: datetime, environ: Mapping[str, str], now: datetime
) -> tuple[Weather | None, DayMeans | None, str]:
    """The forecast and nothing, or nothing with the record of past days and a sentence on why there is no forecast."""
    site = loaded.garden.site
    try:
        known = known_weather(loaded, moment, environ, now)
        weather = joined(
            known.raw, known.record, site.latitude, site.longitude, site.elevation_m, moment, tables.forecast_errors
        )
    except (SourceRefused, ForecastUnusable) as refused:
        why = sentence(at_the_sites_clock(str(refused), site.time_zone))
    except StoreRefused as refused:
        raise Refusal(sentence(refused.reason), FAILED) from None
    else:
        return weather, None, ""
    with Database.open_for_reading(loaded.database_file, now) as database, database.snapshot(moment) as snapshot:
        record = past_record(snapshot, site_key(site.latitude, site.longitude, site.elevation_m), RECENT_DAYS)
    return None, day_means(record, moment), why


def task_document(task: Task) -> TaskDocument:
    """A task as the document has it."""
    return TaskDocument(
        tree=task.tree,
        place=task.place,
        kind=task.kind,
        about=task.about,
        title=task.title,
        state=task.state,
        first=task.first.isoformat(),
        best=task.best.isoformat(),
        last=task.last.isoformat(),
        reason=task.reason,
        moves=task.moves,
        done_on=_iso(task.done_on),
        put_off_to=_iso(task.put_off_to),
        kindest=tuple(KindDayDocument(day.on.isoformat(), day.why) for day in task.kindest),
        unkind=task.unkind,
        source=task.source,
    )


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def _show(document: TasksDocument, now: datetime, whole: bool) -> None:
    screen = console()
    screen.print(Text(f"{document.site.name}, {day_text(now)}", style="bold"))
    if not document.tasks:
        screen.print(NOTHING)
    for title, states in GROUPS:
        inside = [task for task in document.tasks if task.state in states]
        if inside:
            screen.print()
            screen.print(Text(title, style="bold"))
        for members in _alike(inside):
            _show_task(screen, members, now.date(), whole or title in ("Now", "Next weeks"))
    if document.no_forecast:
        screen.print()
        _print(screen, f"No kindest days: {document.no_forecast}", 0)
    if document.course:
        screen.print()
        screen.print(Text("Fragility month by month", style="bold"))
        for line in month_lines(document.course):
            screen.print(Text(f"  {line}"))


def _alike(found: Sequence[TaskDocument]) -> Iterable[list[TaskDocument]]:
    """Tasks that ask for the same in the same window, together; in the order of the first of each."""

    def key(task: TaskDocument) -> tuple[object, ...]:
        window = (task.first, task.last, task.best)
        return (task.state, task.title, *window, task.put_off_to, task.done_on)

    order: dict[tuple[object, ...], int] = {}
    for position, task in enumerate(found):
        order.setdefault(key(task), position)
    together = sorted(found, key=lambda task: order[key(task)])
    return (list(members) for _, members in groupby(together, key=key))


def _show_task(screen: Console, members: Sequence[TaskDocument], today: date, whole: bool) -> None:
    lead = members[0]
    names = ", ".join(dict.fromkeys(f"{task.tree} ({task.place})" for task in members))
    _print(screen, f"{names}: {lead.title}", 2)
    _print(screen, _when(lead, today), 4)
    if not whole:
        return
    for task in members if len({task.reason for task in members}) > 1 else [lead]:
        said = f"{task.tree}: {task.reason}" if len(members) > 1 and task is not lead else task.reason
        _print(screen, said, 4)
    _print(screen, lead.moves, 4)
    if lead.kindest:
        days = "; ".join(f"{_weekday(day.on)} ({day.why})" for day in lead.kindest)
        _print(screen, f"Kindest: {days}.", 4)
    elif lead.unkind:
        _print(screen, f"{lead.unkind[0].upper()}{lead.unkind[1:]}.", 4)


def _when(task: TaskDocument, today: date) -> str:
    first, last = (date.fromisoformat(day) for day in (task.first, task.last))
    window = f"{_day(first, last.year != first.year)} to {_day(last, True)}" if first != last else _day(last, True)
    if task.state == "done":
        return f"done on {_day(date.fromisoformat(str(task.done_on)), True)}"
    if task.state == "put-off":
        return f"put off until {_day(date.fromisoformat(str(task.put_off_to)), True)}; its window: {window}"
    if task.state == "overdue":
        late = (today - last).days
        return f"{window}: overdue by {late} day{'' if late == 1 else 's'}"
    best = date.fromisoformat(task.best)
    return window if best in (first, last) or best < today else f"{window}, best about {_day(best, False)}"


def _day(day: date, year: bool) -> str:
    return f"{day.day} {MONTHS[day.month - 1]}{f' {day.year}' if year else ''}"


def _weekday(text: str) -> str:
    day = date.fromisoformat(text)
    return f"{day:%a} {_day(day, False)}"


def _print(screen: Console, text: str, indent: int) -> None:
    """A text, indented; what is too long for a line goes on below."""
    for line in wrapped(text, screen.width - indent - 2, "  " if indent == 2 else ""):
        screen.print(Text(f"{' ' * indent}{line}"))
