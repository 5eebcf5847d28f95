"""One whole cycle: look at the weather, judge the garden, plan against what stands, save it all at once, deliver."""

import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from carewatch.alerts.call import TreeCall
from carewatch.alerts.danger import Danger, Notice
from carewatch.alerts.plan import Plan, plan
from carewatch.alerts.rounds import rounds_notice, rounds_of
from carewatch.care.garden import Garden, NoticeRules
from carewatch.care.whole_log import misfits, with_log
from carewatch.daemon.basis import summary_text, with_source
from carewatch.daemon.blind import Looked, looked
from carewatch.daemon.deliver import Delivered, Delivery
from carewatch.daemon.forecasts import ARCHIVED, Fetched, Forecasts
from carewatch.daemon.history import History
from carewatch.daemon.job import Candidate, Judged, Numbered, Summary, Task
from carewatch.daemon.state import (
    COMPLETED_AT,
    CYCLE_FAILED,
    EVALUATE_NEXT_AT,
    EVALUATED_AT,
    EVALUATED_FORECAST,
    EVALUATED_ON,
    POLL_FAILED,
    POLL_NEXT_AT,
    POLLED_AT,
    SUMMARY,
)
from carewatch.delivery.channels import Channel, channels_for
from carewatch.sqlite.care_log import entries, log_version
from carewatch.sqlite.database import Database
from carewatch.sqlite.facts import Fact, put_facts
from carewatch.sqlite.outbox import withdraw
from carewatch.sqlite.past_days import past_record, save_past_days
from carewatch.sqlite.refused import LogMoved, StoreRefused
from carewatch.sqlite.standing import Change, Queued, Standing, save, standing
from carewatch.worker.host import TaskFailed

LOG = logging.getLogger(__name__)

# How often the garden is judged again because the log changed meanwhile; a person does not write faster than that.
MOST_TRIES = 3
# Days whose hours are read: those on which fast state settles, and some to spare for what an answer adds to them.
RECENT_DAYS = 17
# Notices and answers of this long are looked at: longer than any spell lasts. Judged.
LOOK_BACK = timedelta(days=14)
# Without a new forecast the garden is judged again every hour: what is to be said depends on the time of day.
EVALUATE_EVERY = timedelta(hours=1)
# After a failure, sooner. Estimate: short enough for an evening, long enough for a free service.
AGAIN_AFTER = timedelta(minutes=15)


@dataclass(frozen=True)
class Rhythm:
    """How often the weather is asked for, and after how long without it the watch is blind."""

    refresh: timedelta
    blind_after: timedelta


@dataclass(frozen=True)
class Cycle:
    """
    What one cycle did.

    problems: what kept it from being complete, in words; empty for a complete one. blind: as by `blind.looked`.
    notes: why there is no new forecast, or it was passed over.
    polled: the weather service was asked. judged: None when no forecast could be used.
    notices: new ones, with the channels that get them. delivered: None when nothing was to be sent (a dry run).
    """

    at: datetime
    polled: bool
    problems: tuple[str, ...]
    notes: tuple[str, ...]
    blind: bool
    judged: Judged | None
    notices: tuple[tuple[Notice, tuple[str, ...]], ...]
    delivered: Delivered | None

    @property
    def complete(self) -> bool:
        """Whether the garden was judged, all of it, and the watch is not blind."""
        return not self.problems and not self.blind


@dataclass(frozen=True)
class Parts:
    """
    What a cycle is made of.

    garden: of the files alone. assessor: judges in the worker's process or in this one; raises TaskFailed.
    delivery: None for a dry run. fault: called at the seams of fault.SEAMS. jitter: a new number each time. [0-1]
    redact: a text without secrets; what services answered is stored and told only through it.
    history: the record of past weather, which is filled between cycles.
    """

    garden: Garden
    tables: Numbered
    forecasts: Forecasts
    assessor: Callable[[Task], Judged]
    channels: tuple[Channel, ...]
    rhythm: Rhythm
    delivery: Delivery | None
    fault: Callable[[str], None]
    jitter: Callable[[], float]
    redact: Callable[[str], str]
    history: History


@dataclass(frozen=True)
class _Sighted:
    """What was seen: the judgement with the log version it stands on, the candidate that served, and problems."""

    judged: Judged | None
    served: Candidate | None
    assessed_on: int
    problems: tuple[str, ...]
    # Whether the forecast that was fetched now is the one that served, and why others were passed over.
    fresh: bool = False
    passed_over: tuple[str, ...] = ()


def run_cycle(parts: Parts, database: Database, now: datetime, poll: bool, dry_run: bool = False) -> Cycle:
    """
    What came of one whole cycle.

    poll: ask the weather service; otherwise the newest good forecast is judged on again. now: aware.
    dry_run: nothing is written and nothing is sent; `database` may be open for reading only.

    Raises StoreRefused when the database cannot be used: nothing then goes out that was not stored; TaskFailed of kind
    "stopped" when the worker was closed.
    """
    fetched = _told_of(parts, parts.forecasts.fetch(database, now, dry_run)) if poll else None
    parts.fault("after-fetch")
    fresh = fetched.candidate if fetched else None
    for _ in range(MOST_TRIES):
        sighted = _sighted(parts, database, now, fresh)
        if fetched is not None and fresh is not None and not (sighted.fresh or fetched.second):
            # What the first source answered cannot be used, which is as good as no answer.
            failed = replace(fetched, reason="; ".join(sighted.passed_over or sighted.problems))
            other = parts.forecasts.instead(database, now, failed, dry_run)
            if other.candidate is not None:
                fetched = _told_of(parts, other)
                fresh = other.candidate
                sighted = _sighted(parts, database, now, fresh)
        parts.fault("after-assess")
        key = sighted.served.key if sighted.served else ""
        if sighted.fresh and fresh is not None and not dry_run and not key.startswith(ARCHIVED):
            key = _archived(parts, database, now, fresh, sighted)
            fresh = replace(fresh, key=key)
        try:
            decided = _decided(parts, database, now, sighted, key, fetched, dry_run)
        except LogMoved:
            LOG.info("The care log changed while the garden was judged; it is judged again.")
            continue
        delivered = None if parts.delivery is None or dry_run else parts.delivery.deliver_due(database)
        return _cycle(now, fetched, sighted, decided, delivered)
    raise StoreRefused(f"the care log changed {MOST_TRIES} times while the garden was judged", transient=True)


def _told_of(parts: Parts, fetched: Fetched) -> Fetched:
    """What a poll gave, its reason without secrets and in the log."""
    fetched = replace(fetched, reason=parts.redact(fetched.reason))
    if fetched.reason:
        LOG.warning("No new forecast: %s", fetched.reason)
    return fetched


def give_up(parts: Parts, database: Database, now: datetime, why: str) -> Cycle:
    """
    The cycle that could not be run: nothing is judged, but a watch that sees nothing for long still says so.

    why: what broke, a sentence without its full stop. Raises StoreRefused.
    """
    sighted = _Sighted(None, None, 0, (why,))
    decided = _decided(parts, database, now, sighted, "", Fetched(None, why), False)
    return _cycle(now, None, sighted, decided, parts.delivery.deliver_due(database) if parts.delivery else None)


def _cycle(
    now: datetime,
    fetched: Fetched | None,
    sighted: _Sighted,
    decided: "_Decided",
    delivered: Delivered | None,
) -> Cycle:
    channels = {
        notice.id: tuple(row.channel for row in decided.change.queued if row.notice == notice.id)
        for notice in decided.new
    }
    return Cycle(
        at=now,
        polled=fetched is not None,
        problems=(*sighted.problems, *decided.problems),
        notes=tuple(filter(None, (fetched.reason if fetched else "", *sighted.passed_over))),
        blind=decided.saw.blind,
        judged=sighted.judged,
        notices=tuple((notice, channels[notice.id]) for notice in decided.new),
        delivered=delivered,
    )


def _sighted(parts: Parts, database: Database, now: datetime, fresh: Candidate | None) -> _Sighted:
    """The garden judged on the fresh forecast, or on the newest good one."""
    with database.snapshot(now) as snapshot:
        found = entries(snapshot)
        version = log_version(snapshot)
        last_good = parts.forecasts.last_good(snapshot)
        told = _told(standing(snapshot, now).dangers)
        record = past_record(snapshot, parts.history.site, RECENT_DAYS)
    for misfit in misfits(parts.garden, found):
        LOG.warning("%s", misfit)
    garden = with_log(parts.garden, found)
    problems: list[str] = []
    for candidate in (fresh, last_good):
        if candidate is None:
            continue
        new = candidate is fresh and not candidate.key.startswith(ARCHIVED)
        task = Task(garden, candidate, parts.forecasts.options, parts.tables, now, told, record, new)
        try:
            judged = parts.assessor(task)
        except TaskFailed as failed:
            if failed.kind == "stopped":
                raise
            said = "\n".join(filter(None, (failed.reason, failed.trace)))
            LOG.error("The garden could not be judged: %s", said)  # noqa: TRY400 - the worker's trace is the one to see
            problems.append(parts.redact(f"the garden could not be judged: {failed.reason}"))
            continue
        if judged.trace:
            LOG.error("Where it failed:\n%s", judged.trace)
        if judged.refused:
            LOG.warning("A forecast was refused: %s", judged.refused)
            problems.append(parts.redact(f"a forecast was refused: {judged.refused}"))
            continue
        for tree, why in judged.unjudged.items():
            LOG.error("%s could not be judged: %s", tree, why)
        failing = tuple(parts.redact(f"{tree} could not be judged: {why}") for tree, why in judged.unjudged.items())
        return _Sighted(judged, candidate, version, failing, candidate is fresh, tuple(problems))
    if not problems:
        problems.append("there is no forecast yet")
    return _Sighted(None, None, version, tuple(problems))


def _told(dangers: Sequence[Danger]) -> dict[str, str]:
    """Per tree, the measure that the grower was last asked for and did not refuse."""
    spoken = [danger for danger in dangers if danger.spoken_at is not None and danger.answer != "skip"]
    spoken.sort(key=lambda danger: danger.spoken_at or danger.first_seen_at)
    return {danger.tree: danger.spoken_measure for danger in spoken if danger.spoken_measure}


def _archived(parts: Parts, database: Database, now: datetime, fresh: Candidate, sighted: _Sighted) -> str:
    """The key of the content, after it was stored: only a forecast that could be used may serve again."""
    try:
        with database.transaction(now) as transaction:
            save_past_days(transaction, parts.history.site, sighted.judged.past if sighted.judged else ())
            return parts.forecasts.archive(transaction, fresh)
    except StoreRefused as refused:
        # What is to be said matters more than what is to be kept.
        LOG.error("The forecast could not be archived: %s", refused.reason)  # noqa: TRY400 - the reason says it all
        return fresh.key


@dataclass(frozen=True)
class _Decided:
    """What changes, whether the watch is blind, the notices that are new, and what could not be planned."""

    change: Change
    saw: Looked
    new: tuple[Notice, ...]
    problems: tuple[str, ...]


def _decided(
    parts: Parts, database: Database, now: datetime, sighted: _Sighted, key: str, fetched: Fetched | None, dry_run: bool
) -> _Decided:
    """The plan against what stands; saved, unless it is a dry run. Raises LogMoved."""
    reasons = sighted.passed_over if sighted.judged else sighted.problems
    why = fetched.reason if fetched and fetched.reason else "; ".join(reasons)
    if dry_run:
        with database.snapshot(now) as snapshot:
            before = standing(snapshot, now - LOOK_BACK)
        change, saw, problems = _change(parts, before, now, sighted, key, why)
        known = {notice.dedup for notice in before.notices}
        new = tuple(notice for notice in change.notices if notice.dedup not in known)
        return _Decided(change, saw, new, problems)
    with database.transaction(now) as transaction:
        before = standing(transaction, now - LOOK_BACK)
        change, saw, problems = _change(parts, before, now, sighted, key, why)
        # A judgement that did not come about stands on no log.
        saved = save(transaction, change, sighted.assessed_on if sighted.judged else None)
        if saw.withdrawn:
            withdraw(transaction, saw.withdrawn)
        put_facts(transaction, _rhythm_facts(parts, now, sighted, fetched))
    return _Decided(change, saw, tuple(notice for notice in change.notices if notice.id in saved), problems)


def _change(
    parts: Parts, before: Standing, now: datetime, sighted: _Sighted, key: str, why: str
) -> tuple[Change, Looked, tuple[str, ...]]:
    zone = ZoneInfo(parts.garden.site.time_zone)
    judged, summary = sighted.judged, sighted.judged.summary if sighted.judged else None
    planned = Plan((), ())
    problems: tuple[str, ...] = ()
    facts: dict[str, Fact] = {}
    if judged is not None and summary is not None:
        dangers = tuple(danger for danger in before.dangers if _was_looked_at(danger, judged, summary, now))
        # The same forecast judged again is no second opinion.
        new_run = key != before.facts.get(EVALUATED_FORECAST)
        asked = _Asked(dangers, before.notices, parts.garden.notices, now.astimezone(zone), new_run)
        planned, problems = _planned(judged.calls, asked)
        facts = {EVALUATED_FORECAST: key, SUMMARY: summary_text(judged, summary)}
        by_id = {danger.id: danger for danger in (*before.dangers, *planned.dangers)}
        rules, here = parts.garden.notices, now.astimezone(zone)
        rounds = rounds_of(judged.calls, (), list(by_id.values()), rules, here, tasks=judged.tasks)
        daily = rounds_notice(rounds, rules)
        if daily is not None:
            planned = Plan(planned.dangers, (*planned.notices, daily))
        planned = with_source(planned, parts.forecasts.standing_in(summary.source, summary.estimated))
    issued_at = summary.issued_at if summary else None
    saw = looked(before.facts, issued_at, now, parts.rhythm.blind_after, why, zone)
    notices = (*planned.notices, *saw.notices)
    queued = tuple(
        Queued(notice.id, channel.name, channel.order)
        for notice in notices
        for channel in channels_for(notice, parts.channels)
    )
    return Change(planned.dangers, notices, queued, {**facts, **saw.facts}), saw, problems


@dataclass(frozen=True)
class _Asked:
    """What the planner is asked about besides the calls."""

    dangers: tuple[Danger, ...]
    spoken: tuple[Notice, ...]
    rules: NoticeRules
    now: datetime
    new_run: bool

    def plan(self, calls: Sequence[TreeCall], trees: Callable[[str], bool]) -> Plan:
        """The plan for these calls and the dangers of the trees that are meant."""
        dangers = [danger for danger in self.dangers if trees(danger.tree)]
        return plan(calls, dangers, self.spoken, self.rules, self.now, self.new_run)


def _planned(calls: Sequence[TreeCall], asked: _Asked) -> tuple[Plan, tuple[str, ...]]:
    """The plan; without the trees for which it fails, which are named: they must not silence the others."""
    try:
        return asked.plan(calls, lambda _: True), ()
    except Exception:
        LOG.exception("The plan failed; it is made again without the trees at fault.")
    failing: dict[str, str] = {}
    for call in calls:
        try:
            asked.plan([call], call.tree.__eq__)
        except Exception as error:  # noqa: BLE001 - the question is which trees fail, and not how
            failing[call.tree] = f"nothing could be planned for {call.tree} ({type(error).__name__})"
    left = [call for call in calls if call.tree not in failing]
    return asked.plan(left, lambda tree: tree not in failing), tuple(failing.values())


def _was_looked_at(danger: Danger, judged: Judged, summary: Summary, now: datetime) -> bool:
    """
    False for a danger of which this judgement knows nothing: its tree was not judged, or the hours known end before it.

    What is not known silences nothing. One that is past needs no judgement.
    """
    if now >= danger.ends:
        return True
    hours = summary.hours_judged.get(danger.hazard, summary.hours)
    return danger.tree not in judged.unjudged and danger.starts < now + timedelta(hours=hours)


def _rhythm_facts(parts: Parts, now: datetime, sighted: _Sighted, fetched: Fetched | None) -> dict[str, Fact]:
    """When to poll and to judge again, and what there is to know about this cycle."""
    judged = sighted.judged is not None
    facts: dict[str, Fact] = {
        EVALUATE_NEXT_AT: now + (EVALUATE_EVERY if judged else AGAIN_AFTER),
        CYCLE_FAILED: "; ".join(sighted.problems) or None,
        COMPLETED_AT: now,
    }
    if judged:
        facts |= {EVALUATED_AT: now, EVALUATED_ON: str(sighted.assessed_on)}
    if fetched is None:
        return facts
    refresh = parts.rhythm.refresh
    # Spread by up to a tenth, so that not all gardens ask at the full hour.
    spread = 1 + 0.1 * parts.jitter()
    good = sighted.fresh and not fetched.second
    wait = refresh * spread if good else min(refresh, AGAIN_AFTER)
    if fetched.wait_s is not None:
        wait = max(wait, timedelta(seconds=fetched.wait_s) * spread)
    failed = None if good else "; ".join(filter(None, (fetched.reason, *sighted.passed_over))) or None
    return facts | {POLLED_AT: now, POLL_NEXT_AT: now + wait, POLL_FAILED: failed}
