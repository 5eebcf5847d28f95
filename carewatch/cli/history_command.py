"""`history`: what is known of the site's past weather, from where, what is missing; --fetch asks for that."""

import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

from carewatch.cli.acting import finished, tell
from carewatch.cli.documents import stamp
from carewatch.cli.reports import FAILED, FINE, MISUSED, Refusal, sentence
from carewatch.cli.weather import source_options
from carewatch.config.load import Loaded, find_config, load
from carewatch.config.tables import load_tables
from carewatch.daemon.clock import ClockUnusable, clock_of
from carewatch.daemon.history import Filled, History
from carewatch.daemon.job import read_past
from carewatch.forecast.credits import ARCHIVE_CREDIT
from carewatch.forecast.record import (
    ARCHIVE,
    ENOUGH_HOURS,
    ORIGINS,
    DayState,
    Span,
    all_chunks,
    archive_offset_k,
    best_means,
    wanted_record,
)
from carewatch.sqlite.database import Database
from carewatch.weather_api.http import HttpClient

WORDS = {"archive": "the archive", "met-norway": "MET Norway's forecasts", "open-meteo": "Open-Meteo's own past hours"}


@dataclass(frozen=True)
class SpanDocument:
    """First and last day, both included."""

    first: str
    last: str
    days: int


@dataclass(frozen=True)
class OriginDocument:
    """Days of which one origin knows enough, and on how many of them it is the best."""

    origin: str
    first: str
    last: str
    days: int
    best_on: int


@dataclass(frozen=True)
class GapDocument:
    """Days of which too little is known. asked: how often the archive was asked for them already, at most."""

    first: str
    last: str
    days: int
    asked: int


@dataclass(frozen=True)
class OffsetDocument:
    """By how much the archive is warmer than the forecast source's own past hours, on how many days."""

    kelvin: float
    days: int


@dataclass(frozen=True)
class ChunkDocument:
    """Days that were asked for. known: of them, those that the archive knows whole; refused: "" when it answered."""

    first: str
    last: str
    days: int
    known: int
    refused: str


@dataclass(frozen=True)
class HistoryDocument:
    """`history --json`. asked: what --fetch asked for, or with --dry-run would ask for; calls: as which that counts."""

    version: int
    at: str
    dry_run: bool
    wanted: SpanDocument
    known_days: int
    origins: tuple[OriginDocument, ...]
    gaps: tuple[GapDocument, ...]
    archive_offset: OffsetDocument | None
    asked: tuple[ChunkDocument, ...]
    calls: float


def history(
    explicit: str | None,
    fetch: bool,
    dry_run: bool,
    environ: Mapping[str, str],
    as_json: bool,
    sleep: Callable[[float], None] = time.sleep,
) -> int:
    """Tell what is on record, after having asked for what is missing where that is wanted."""

    def action() -> int:
        try:
            now = clock_of(environ).now()
        except ClockUnusable as refused:
            raise Refusal(str(refused), MISUSED) from None
        loaded = load(find_config(explicit, environ), environ, now, load_tables())
        options = source_options(loaded, environ)
        secrets = [options.api_key]
        with closing(HttpClient(options.contact)) as client, _database(loaded, now, fetch and not dry_run) as database:
            filler = History(loaded.garden, options, client, read_past, lambda text: _redacted(text, secrets))
            asked: list[Filled] = []
            chunks = _chunks(filler, database, now) if fetch else ()
            if dry_run:
                asked = [Filled(span, 0) for span in chunks]
            elif chunks:
                asked = _filled(filler, database, now, chunks, as_json, sleep)
            with database.snapshot(now) as snapshot:
                states, begins = filler.states(snapshot), filler.begins(snapshot)
            calls = filler.weight(each.span for each in asked)
        document = _document(states, begins, now, asked, calls, dry_run)
        tell(document, _lines(document), as_json, dry_run and fetch)
        return FAILED if any(each.refused for each in asked) else FINE

    return finished(action)


def _redacted(text: str, secrets: Sequence[str]) -> str:
    for secret in filter(None, secrets):
        text = text.replace(secret, "***")
    return text


def _database(loaded: Loaded, now: datetime, writes: bool) -> Database:
    opened = Database.open if writes else Database.open_for_reading
    return opened(loaded.database_file, now)


def _chunks(filler: History, database: Database, now: datetime) -> tuple[Span, ...]:
    with database.snapshot(now) as snapshot:
        return all_chunks(filler.states(snapshot), filler.begins(snapshot), now, now.astimezone(UTC).date())


def _filled(
    filler: History,
    database: Database,
    now: datetime,
    chunks: Sequence[Span],
    quiet: bool,
    sleep: Callable[[float], None],
) -> list[Filled]:
    """Chunk after chunk until nothing is missing or one is refused; each is stored before the next is asked for."""
    asked: list[Filled] = []
    with _progress(sum(span.days for span in chunks), quiet) as advance:
        span = filler.next_chunk(database, now)
        while span is not None:
            filled = filler.fill(database, span, now)
            asked.append(filled)
            advance(filled)
            if filled.refused:
                break
            pause_s, span = filler.pause_s(span), filler.next_chunk(database, now)
            if span is not None:
                sleep(pause_s)
    return asked


@contextmanager
def _progress(days: int, quiet: bool) -> Iterator[Callable[[Filled], None]]:
    """What to call after each chunk: a bar on a terminal, a line each elsewhere; on standard error in any case."""
    screen = Console(file=sys.stderr, highlight=False)
    if quiet or not screen.is_terminal:

        def line(filled: Filled) -> None:
            said = filled.refused or f"{filled.known} of {filled.span.days} days"
            if not quiet:
                screen.print(f"{filled.span.first} to {filled.span.last}: {said}", markup=False, soft_wrap=True)

        yield line
        return
    columns = (
        TextColumn("Past weather"),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("days"),
        TimeRemainingColumn(compact=True),
    )
    with Progress(*columns, console=screen) as bar:
        task = bar.add_task("days", total=days)
        yield lambda filled: bar.advance(task, 0 if filled.refused else filled.span.days)


def _document(
    states: Sequence[DayState], begins: date, now: datetime, asked: Sequence[Filled], calls: float, dry_run: bool
) -> HistoryDocument:
    today = now.astimezone(UTC).date()
    wanted, means = wanted_record(states, begins, today), best_means(states, today)
    offset = archive_offset_k(states, today)
    tries = {state.day: state.tries for state in states if state.origin == ARCHIVE}
    return HistoryDocument(
        version=1,
        at=stamp(now),
        dry_run=dry_run,
        wanted=_span(wanted.span),
        known_days=wanted.known,
        origins=tuple(_origins(states, means, today)),
        gaps=tuple(
            GapDocument(
                str(gap.first),
                str(gap.last),
                gap.days,
                max((count for day, count in tries.items() if gap.first <= day <= gap.last), default=0),
            )
            for gap in wanted.gaps
        ),
        archive_offset=None if offset is None else OffsetDocument(*offset),
        asked=tuple(
            ChunkDocument(str(each.span.first), str(each.span.last), each.span.days, each.known, each.refused)
            for each in asked
        ),
        calls=calls,
    )


def _span(span: Span) -> SpanDocument:
    return SpanDocument(str(span.first), str(span.last), span.days)


def _origins(
    states: Sequence[DayState], means: Sequence[tuple[date, str, float]], today: date
) -> Iterator[OriginDocument]:
    for origin in ORIGINS:
        days = [s.day for s in states if s.origin == origin and s.hours >= ENOUGH_HOURS and s.day < today]
        if days:
            best = sum(known == origin for _, known, _ in means)
            yield OriginDocument(origin, str(days[0]), str(days[-1]), len(days), best)


def _lines(document: HistoryDocument) -> list[str]:
    """What is on record, for a person."""
    wanted = document.wanted
    lines = [f"Past weather of {wanted.first} to {wanted.last}: {document.known_days} of {wanted.days} days are known."]
    lines += [
        f"  {WORDS[origin.origin]}: {origin.days} days, {origin.first} to {origin.last}; best on {origin.best_on}"
        for origin in document.origins
    ]
    for gap in document.gaps:
        days = f"{gap.first}" if gap.days == 1 else f"{gap.first} to {gap.last} ({gap.days} days)"
        times = "once" if gap.asked == 1 else f"{gap.asked} times"
        asked = f"asked for {times}, and again later" if gap.asked else "not asked for yet"
        lines.append(f"  missing: {days}, {asked}")
    if document.archive_offset is not None:
        offset = document.archive_offset
        warmer = "warmer" if offset.kelvin >= 0 else "colder"
        lines.append(
            f"On {offset.days} days that both know the archive is {abs(offset.kelvin):.1f} K {warmer} than the "
            "forecast source's own past hours."
        )
    if document.dry_run:
        lines += [f"Would be asked for: {each.first} to {each.last} ({each.days} days)." for each in document.asked]
        if document.asked:
            lines.append(f"That counts as {document.calls:.0f} calls.")
    lines += [
        f"No answer for {each.first} to {each.last}: {sentence(each.refused)}"
        for each in document.asked
        if each.refused
    ]
    if not document.asked and document.gaps:
        lines.append("carewatch history --fetch asks for what is missing; the service does so by itself, hour by hour.")
    if document.known_days:
        lines += ["", ARCHIVE_CREDIT]
    return lines
