"""`once`: one whole cycle in this process, and what came of it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from carewatch.alerts.danger import Notice
from carewatch.alerts.wording import clock_time, day_word
from carewatch.cli.acting import finished, tell
from carewatch.cli.documents import stamp
from carewatch.cli.reports import FAILED, FINE, MISUSED, Refusal, at_site, parsed_time
from carewatch.cli.screen import error
from carewatch.config.load import Loaded, find_config, load
from carewatch.config.tables import load_tables
from carewatch.daemon.clock import Clock, ClockUnusable, clock_of
from carewatch.daemon.cycle import Cycle, run_cycle
from carewatch.daemon.fault import FaultUnknown, fault_of
from carewatch.daemon.wiring import Asked, ServiceRefused, built
from carewatch.sqlite.database import Database
from carewatch.sqlite.newest import newest_row


@dataclass(frozen=True)
class JudgedOn:
    """What the judgement rests on."""

    source: str
    issued_at: str
    age_hours: float
    members: int
    members_from: str
    missing: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class NoticeMade:
    """A new notice. channels: that get it, or would get it."""

    id: str
    kind: str
    severity: str
    title: str
    body: str
    trees: tuple[str, ...]
    channels: tuple[str, ...]


@dataclass(frozen=True)
class Attempt:
    """One attempt to send. ending: "sent", "transient" or "permanent"; reason: "" when sent."""

    notice: str
    channel: str
    ending: str
    reason: str


@dataclass(frozen=True)
class OnceDocument:
    """
    `once --json`.

    judged_on: null when no forecast could be used. in_danger: trees with a danger ahead, spoken of or not.
    problems: what kept the cycle from being complete; notes: why there is no new forecast, or it was passed over.
    blind: there has been no usable forecast for long.
    """

    version: int
    at: str
    dry_run: bool
    complete: bool
    judged_on: JudgedOn | None
    in_danger: tuple[str, ...]
    unjudged: Mapping[str, str]
    problems: tuple[str, ...]
    notes: tuple[str, ...]
    blind: bool
    notices: tuple[NoticeMade, ...]
    attempts: tuple[Attempt, ...]


def once(explicit: str | None, at: str | None, environ: Mapping[str, str], dry_run: bool, as_json: bool) -> int:
    """Run one cycle; the exit code says whether it was complete and everything due was taken."""

    def action() -> int:
        try:
            clock, fault = clock_of(environ), fault_of(environ)
        except (ClockUnusable, FaultUnknown) as refused:
            raise Refusal(str(refused), MISUSED) from None
        tables = load_tables()
        wanted = None if at is None else parsed_time(at)
        now = clock.now()
        latest = max(now, wanted) if wanted is not None and wanted.tzinfo else now
        loaded = load(find_config(explicit, environ), environ, latest, tables)
        if wanted is not None:
            clock = Clock(at_site(wanted, loaded))
        # The first time everything is said that `config check` says, later only what makes the answer wrong.
        for warning in loaded.misleading if loaded.database_file.exists() else loaded.warnings:
            error(f"warning: {warning}")
        asked = Asked(own_process=False, dry_run=dry_run, fault=fault, stopping=lambda: False)
        try:
            with built(loaded, tables, environ, clock, asked) as program:
                if wanted is not None:
                    _refuse_past(program.database, clock.now(), loaded)
                cycle = run_cycle(program.parts, program.database, clock.now(), poll=True, dry_run=dry_run)
                if cycle.complete and not dry_run and wanted is None:
                    program.heartbeat.beat()
                if not dry_run and not program.parts.forecasts.recorded:
                    program.parts.history.fill_after_a_cycle(program.database, clock.now())
        except ServiceRefused as refused:
            raise Refusal(str(refused), MISUSED) from None
        document = _document(cycle, loaded, dry_run)
        tell(document, _lines(cycle, document, loaded), as_json, dry_run)
        lost = cycle.delivered is not None and cycle.delivered.failed
        return FAILED if not cycle.complete or lost else FINE

    return finished(action)


def _refuse_past(database: Database, moment: datetime, loaded: Loaded) -> None:
    """What was known and said later must not be known and said earlier."""
    with database.snapshot(moment) as snapshot:
        newest = newest_row(snapshot)
    if newest is not None and moment < newest:
        there = newest.astimezone(ZoneInfo(loaded.garden.site.time_zone))
        raise Refusal(
            f"--at lies before what the database knows already ({stamp(there)}); nothing was done. "
            f"Use another database to rehearse the past, or `outlook --at` to look at it.",
            MISUSED,
        )


def _document(cycle: Cycle, loaded: Loaded, dry_run: bool) -> OnceDocument:
    zone = ZoneInfo(loaded.garden.site.time_zone)
    judged = cycle.judged
    summary = judged.summary if judged else None
    return OnceDocument(
        version=1,
        at=stamp(cycle.at.astimezone(zone)),
        dry_run=dry_run,
        complete=cycle.complete,
        judged_on=None
        if summary is None
        else JudgedOn(
            summary.source,
            stamp(summary.issued_at.astimezone(zone)),
            summary.age_hours,
            summary.members,
            summary.members_from,
            summary.missing,
            summary.notes,
        ),
        in_danger=tuple(call.tree for call in judged.calls) if judged else (),
        unjudged=dict(judged.unjudged) if judged else {},
        problems=cycle.problems,
        notes=cycle.notes,
        blind=cycle.blind,
        notices=tuple(_made(notice, channels) for notice, channels in cycle.notices),
        attempts=tuple(
            Attempt(sent.notice.id, sent.channel, sent.outcome.ending, sent.outcome.reason)
            for sent in (cycle.delivered.attempts if cycle.delivered else ())
        ),
    )


def _made(notice: Notice, channels: tuple[str, ...]) -> NoticeMade:
    trees = tuple(dict.fromkeys(line.tree for line in notice.lines))
    return NoticeMade(notice.id, notice.kind, notice.severity, notice.title, notice.body, trees, channels)


def _lines(cycle: Cycle, document: OnceDocument, loaded: Loaded) -> list[str]:
    """What came of it, for a person."""
    zone = ZoneInfo(loaded.garden.site.time_zone)
    now = cycle.at.astimezone(zone)
    lines = []
    if cycle.judged is not None and cycle.judged.summary is not None:
        issued = cycle.judged.summary.issued_at.astimezone(zone)
        trees = len(loaded.garden.trees)
        lines.append(
            f"Judged {trees} tree{'' if trees == 1 else 's'} on the forecast of {day_word(issued, now)} "
            f"{clock_time(issued)}: {len(document.in_danger)} in danger."
        )
    lines += [f"No new forecast: {note}." for note in cycle.notes]
    lines += [f"Problem: {problem}." for problem in cycle.problems]
    if cycle.blind:
        lines.append("The watch is blind: there has been no usable forecast for long.")
    for made in document.notices:
        lines += ["", f"{made.kind} ({made.severity}), for {', '.join(made.channels) or 'no channel'}:"]
        lines += [f"  {line}" for line in made.body.split("\n")]
    if not document.notices:
        lines.append("Nothing new to say.")
    for attempt in document.attempts:
        failed = "" if attempt.ending == "sent" else f" ({attempt.ending}): {attempt.reason}"
        lines.append(f"{'Sent to' if not failed else 'Not taken by'} {attempt.channel}{failed}")
    return lines
