"""
The work that needs heavy libraries, as one function from plain data to plain data: forecast and garden in, calls out.

It runs in the worker's process; `once` runs it in its own. Only its functions import what is heavy.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, is_dataclass, replace
from datetime import UTC, date, datetime, timedelta
from operator import is_
from pathlib import Path
from traceback import format_exception
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from carewatch.alerts.call import TreeCall
from carewatch.alerts.picture import Course
from carewatch.alerts.rounds import in_rounds_hours
from carewatch.care.garden import Garden
from carewatch.condition.numbers import ConditionNumbers
from carewatch.exposure.kept import Checkpoint
from carewatch.forecast.errors import ForecastErrors
from carewatch.forecast.record import ARCHIVE, PastDay, Record
from carewatch.limits.doses import HazardNumbers
from carewatch.measures.catalogue import Measure
from carewatch.tasks.leaf_question import LeafQuestion
from carewatch.tasks.numbers import TaskNumbers
from carewatch.tasks.task import Task as DueTask
from carewatch.weather_api.open_meteo import ForecastDocuments, SourceOptions

if TYPE_CHECKING:
    from carewatch.assess import Assessment, Numbers
    from carewatch.forecast.raw import RawForecast
    from carewatch.forecast.weather import Weather

# How the worker is told to call `judge_garden` and `read_past`.
JUDGE = "carewatch.daemon.job.judge_garden"
READ_PAST = "carewatch.daemon.job.read_past"
# What was foreseen for a day ahead is kept as what is known of it until a newer answer does better: hours between the
# last answer of one source and the first of another are in neither.
FORESEEN_KEPT = timedelta(hours=24)
LONGEST_REASON = 200


@dataclass(frozen=True)
class Numbered:
    """The tables that a judgement needs. tasks: of the long clock, None where nothing asks for it."""

    condition: ConditionNumbers
    measures: Mapping[str, Measure]
    hazards: HazardNumbers
    forecast_errors: ForecastErrors
    tasks: TaskNumbers | None = None


@dataclass(frozen=True)
class Candidate:
    """
    A forecast that may serve: what was fetched, and when (aware), or the path of a recorded one.

    key: the same for the same content.
    """

    key: str
    documents: ForecastDocuments | None = None
    fetched_at: datetime | None = None
    recorded: str = ""


@dataclass(frozen=True)
class Task:
    """
    One judgement that is wanted.

    garden: with the whole log. options: of the source, without its key. now: aware.
    told: per tree, the measure that the grower was asked for.
    record: of past weather. keep_past: whether the answer's own past is wanted for it.
    kept: what an earlier judgement kept; it saves time and changes nothing.
    """

    garden: Garden
    candidate: Candidate
    options: SourceOptions
    tables: Numbered
    now: datetime
    told: Mapping[str, str] = field(default_factory=dict)
    record: Record = field(default_factory=Record)
    keep_past: bool = False
    kept: Checkpoint | None = None


@dataclass(frozen=True)
class PastTask:
    """An answer of the archive to be read. first, last: days that were asked for. now: aware, when it was fetched."""

    document: object
    options: SourceOptions
    first: date
    last: date
    now: datetime


@dataclass(frozen=True)
class PastRead:
    """The days of an answer of the archive, or why it cannot be used."""

    days: tuple[PastDay, ...] = ()
    refused: str = ""


@dataclass(frozen=True)
class Summary:
    """
    What a judgement rests on.

    issued_at: aware. age_hours, hours (ahead), hours_judged (per hazard): [h]
    missing, estimated, notes, assumed: names and sentences.
    """

    source: str
    issued_at: datetime
    age_hours: float
    members: int
    members_from: str
    hours: int
    missing: tuple[str, ...]
    estimated: tuple[str, ...]
    notes: tuple[str, ...]
    assumed: tuple[str, ...]
    hours_judged: Mapping[str, int]


@dataclass(frozen=True)
class Judged:
    """
    What came of a task.

    calls: of every tree in danger. refused: why the forecast cannot be used, "" when it served.
    unjudged: by tree, why there is no judgement of it. summary: None when the forecast was refused.
    trace: where the first failure that was not foreseen happened, for the log.
    past: days of the answer that the record does not have so.
    tasks: of the long clock, the most urgent first; questions: trees whose leaves could tell what their roots bring,
    the weakest first; shelters: per first-year layer that rests soon, the places in which it stays if it is brought
    there; all three only in the hours in which the daily rounds are said.
    courses: what trees will feel for which a call may soon be made, for its picture.
    checkpoint: to be kept for the next judgement; None where not all trees were judged together.
    dry_from: when a day will have passed without rain, aware; None where it is dry. dark_from: sunset of the day of
    asking, aware; None when the forecast was refused.
    """

    calls: tuple[TreeCall, ...] = ()
    refused: str = ""
    unjudged: Mapping[str, str] = field(default_factory=dict)
    summary: Summary | None = None
    trace: str = ""
    past: tuple[PastDay, ...] = ()
    tasks: tuple[DueTask, ...] = ()
    questions: tuple[LeafQuestion, ...] = ()
    shelters: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    courses: tuple[Course, ...] = ()
    checkpoint: Checkpoint | None = None
    dry_from: datetime | None = None
    dark_from: datetime | None = None


def judge_garden(task: Task) -> Judged:
    """
    The calls for a garden on a forecast.

    A forecast that cannot be read is refused with its reason. A tree on which the engine fails is left out with its
    reason, and the others are judged.
    """
    from carewatch.forecast.weather import ForecastUnusable
    from carewatch.weather_api.refused import SourceRefused

    try:
        return _plain(_judged(task))  # type: ignore[no-any-return]  # what goes in comes out
    except (SourceRefused, ForecastUnusable) as refused:
        return Judged(refused=_line(str(refused)))
    except Exception as error:  # noqa: BLE001 - whatever a malformed forecast breaks, an earlier one may serve
        return Judged(refused=_reason(error), trace=_trace(error))


def _judged(task: Task) -> Judged:
    from carewatch.assess import Numbers
    from carewatch.forecast.joining import joined

    site, tables = task.garden.site, task.tables
    from carewatch.outcome import dark_from, dry_from

    raw = _read(task.candidate, task.options)
    weather = joined(raw, task.record, *site.position, task.now, tables.forecast_errors)
    past = _past(raw, task)
    if not task.garden.trees:
        return Judged(summary=_summary(weather, None), past=past)
    numbers = Numbers(tables.condition, tables.measures, tables.hazards)
    parts, failed = _in_parts(task.garden, weather, numbers, task)
    if failed and parts:
        # Together again without those that fail: what there is to protect with is shared by all.
        whole, still = _in_parts(_only(task.garden, set(failed), without=True), weather, numbers, task)
        parts, failed = whole, failed | still
    if not parts:
        raise next(iter(failed.values()))
    first = next(iter(failed.values()), None)
    tasks: tuple[DueTask, ...] = ()
    shelters: Mapping[str, tuple[str, ...]] = {}
    questions: tuple[LeafQuestion, ...] = ()
    try:
        questions = _questions(task, weather, parts)
        tasks, shelters = _tasks(task, weather)
    except Exception as error:  # noqa: BLE001 - tasks have weeks, dangers have hours: they must not fail with them
        first = first or error
    return Judged(
        calls=tuple(call for _, calls in parts for call in calls),
        unjudged={tree: _reason(error) for tree, error in failed.items()},
        summary=_summary(weather, parts[0][0]),
        trace="" if first is None else _trace(first),
        past=past,
        tasks=tasks,
        questions=questions,
        shelters=shelters,
        courses=_courses(parts),
        checkpoint=parts[0][0].checkpoint if len(parts) == 1 else None,
        dry_from=dry_from(parts[0][0]),
        dark_from=dark_from(parts[0][0]),
    )


def _courses(parts: "list[Part]") -> tuple[Course, ...]:
    """For pictures; none where they fail: a message says everything without one."""
    from carewatch.outcome import courses

    try:
        return tuple(course for assessment, told in parts for course in courses(assessment, told))
    except Exception:  # noqa: BLE001 - a picture must not silence the message
        return ()


def _questions(task: Task, weather: "Weather", parts: "list[Part]") -> tuple[LeafQuestion, ...]:
    """The trees to ask about, none outside of the hours of the daily rounds."""
    from carewatch.measures.timing import local_times
    from carewatch.tasks.asking import leaf_questions

    zone = ZoneInfo(task.garden.site.time_zone)
    here = task.now.astimezone(zone)
    if not in_rounds_hours(here, task.garden.notices):
        return ()
    highest: dict[date, float] = {}
    days = local_times(weather.past.times, zone).astype("datetime64[D]").tolist()
    for day, air_c in zip(days, weather.past.values["air_temp_c"][:, 0].tolist(), strict=True):
        highest[day] = max(air_c, highest.get(day, air_c))
    conditions = [tree.condition for assessment, _ in parts for tree in assessment.trees]
    return leaf_questions(conditions, task.garden.log, highest, here.date(), task.tables.condition.leaves)


def _tasks(task: Task, weather: "Weather") -> tuple[tuple[DueTask, ...], dict[str, tuple[str, ...]]]:
    """What the long clock has for the daily rounds, and where layers stay; nothing outside of their hours."""
    from carewatch.condition.now import oldest_work
    from carewatch.forecast.history import daily_history
    from carewatch.tasks.clock import looked_ahead, tasks_of
    from carewatch.tasks.spring import shelters_by_layer

    garden, tables, site = task.garden, task.tables, task.garden.site
    here = task.now.astimezone(ZoneInfo(site.time_zone))
    if tables.tasks is None or not in_rounds_hours(here, garden.notices):
        return (), {}
    since = oldest_work(garden.log, here.date())
    history = daily_history(weather.past, since, here.date(), *site.position, weather.days)
    ahead = looked_ahead(garden, tables.condition, history, here, weather)
    stay = shelters_by_layer(ahead.found, garden.places, tables.tasks)
    return tasks_of(ahead, garden, tables.tasks, history, here), stay


def _past(raw: "RawForecast", task: Task) -> tuple[PastDay, ...]:
    """The days of the answer for the record: its past, and a day of what it foresees."""
    from carewatch.forecast.joining import REACH_BACK_DAYS
    from carewatch.forecast.packing import past_days

    fetched_at = task.candidate.fetched_at
    if not task.keep_past or fetched_at is None:
        return ()
    first = fetched_at.astimezone(UTC).date() - timedelta(days=REACH_BACK_DAYS)
    return past_days(raw.single, raw.source, first, fetched_at + FORESEEN_KEPT, task.record.recent)


def read_past(task: PastTask) -> PastRead:
    """The days of an answer of the archive, those included of which it knows nothing yet; or why it is refused."""
    from carewatch.forecast.packing import days_asked_for
    from carewatch.weather_api.refused import SourceRefused
    from carewatch.weather_api.sources import read_archive

    try:
        raw = read_archive(task.options, task.document, task.now)
    except SourceRefused as refused:
        return PastRead(refused=_line(str(refused)))
    except Exception as error:  # noqa: BLE001 - whatever a malformed answer breaks, the record can wait
        return PastRead(refused=_reason(error))
    return PastRead(days_asked_for(raw.single, ARCHIVE, task.first, task.last))


def _read(candidate: Candidate, options: SourceOptions) -> "RawForecast":
    from carewatch.weather_api.sources import read_documents, read_recorded

    if candidate.documents is None or candidate.fetched_at is None:
        return read_recorded(Path(candidate.recorded))
    return read_documents(options, candidate.documents, candidate.fetched_at)


Part = tuple["Assessment", tuple[TreeCall, ...]]


def _in_parts(
    garden: Garden, weather: "Weather", numbers: "Numbers", task: Task
) -> tuple[list[Part], dict[str, Exception]]:
    """The garden judged whole, or where that fails by halves until only the trees are left out that fail alone."""
    from carewatch.assess import assess
    from carewatch.outcome import calls

    try:
        assessment = assess(garden, weather, numbers, task.now, told=task.told, kept=task.kept)
        return [(assessment, calls(assessment))], {}
    except Exception as error:  # noqa: BLE001 - one failing tree must not silence the others
        if len(garden.trees) == 1:
            return [], {garden.trees[0].id: error}
    ids = [tree.id for tree in garden.trees]
    middle = len(ids) // 2
    parts: list[Part] = []
    failed: dict[str, Exception] = {}
    for half in (ids[:middle], ids[middle:]):
        found, failing = _in_parts(_only(garden, set(half)), weather, numbers, task)
        parts += found
        failed |= failing
    return parts, failed


def _only(garden: Garden, ids: set[str], without: bool = False) -> Garden:
    """The garden with these trees alone, or without them."""
    return replace(garden, trees=tuple(tree for tree in garden.trees if (tree.id in ids) is not without))


def _summary(weather: "Weather", assessment: "Assessment | None") -> Summary:
    return Summary(
        source=weather.source,
        issued_at=weather.issued_at,
        age_hours=weather.age_hours,
        members=weather.ahead.members,
        members_from=weather.members_from,
        hours=len(weather.ahead),
        missing=weather.missing,
        estimated=weather.estimated,
        notes=weather.notes,
        assumed=assessment.assumed if assessment else (),
        hours_judged=dict(assessment.horizon) if assessment else {},
    )


def _reason(error: Exception) -> str:
    return _line(f"the program fails on it ({type(error).__name__}: {error})")


def _line(text: str) -> str:
    return " ".join(text.split())[:LONGEST_REASON]


def _trace(error: Exception) -> str:
    return "".join(format_exception(error))


# A number of an array library may be a kind of float, but its type is another.
_PLAIN = frozenset({str, int, float, bool, bytes, type(None), date, datetime})


def _plain(value: Any) -> Any:
    """The value with the numbers of array libraries as Python's own: the process that gets it knows no arrays."""
    if type(value) in _PLAIN:
        return value
    if is_dataclass(value) and not isinstance(value, type):
        whole = {entry.name: getattr(value, entry.name) for entry in fields(value)}
        plain = {name: _plain(item) for name, item in whole.items()}
        changed = {name: item for name, item in plain.items() if item is not whole[name]}
        return replace(value, **changed) if changed else value
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, tuple):
        plain_items = tuple(_plain(item) for item in value)
        return value if all(map(is_, plain_items, value)) else plain_items
    return value.item() if type(value).__module__ == "numpy" else value
