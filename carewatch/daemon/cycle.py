"""One whole cycle: look at the weather, judge the garden, plan against what stands, save it all at once, deliver."""

import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from carewatch.alerts.danger import Danger, Notice
from carewatch.alerts.logged import Logged
from carewatch.alerts.timing import between
from carewatch.care.garden import Garden
from carewatch.care.whole_log import in_force, misfits, with_log
from carewatch.daemon.decide import NO_PICTURES, Decided, decided
from carewatch.daemon.deliver import Delivered
from carewatch.daemon.forecasts import ARCHIVED, Fetched
from carewatch.daemon.job import Candidate, Judged, Task
from carewatch.daemon.parts import Parts, Sighted
from carewatch.daemon.pictures import drawn
from carewatch.daemon.season import layers_of
from carewatch.measures.catalogue import parts_of
from carewatch.sqlite.care_log import entries, log_version
from carewatch.sqlite.checkpoints import kept_checkpoint
from carewatch.sqlite.database import Database
from carewatch.sqlite.past_days import past_record, save_past_days
from carewatch.sqlite.pictures import KeptPicture
from carewatch.sqlite.refused import LogMoved, StoreRefused
from carewatch.sqlite.standing import standing
from carewatch.worker.host import TaskFailed

LOG = logging.getLogger(__name__)

# How often the garden is judged again because the log changed meanwhile; a person does not write faster than that.
MOST_TRIES = 3
# A forecast that breaks off before this hour of tomorrow serves only where no earlier one reaches so far: by then the
# last covers of a frost night come off (common practice: 8:00 to 9:30).
NIGHT_OVER = time(9)
# Days whose hours are read: those on which fast state settles, and some to spare for what an answer adds to them.
RECENT_DAYS = 17


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
            pictures = NO_PICTURES if dry_run else _pictures(parts, database, now, sighted, key, fetched)
            outcome = decided(parts, database, now, sighted, key, fetched, dry_run, pictures)
        except LogMoved:
            LOG.info("The care log changed while the garden was judged; it is judged again.")
            continue
        delivered = None if parts.delivery is None or dry_run else parts.delivery.deliver_due(database)
        return _cycle(now, fetched, sighted, outcome, delivered)
    raise StoreRefused(f"the care log changed {MOST_TRIES} times while the garden was judged", transient=True)


def _pictures(
    parts: Parts, database: Database, now: datetime, sighted: Sighted, key: str, fetched: Fetched | None
) -> Mapping[str, KeptPicture]:
    """Pictures of what is about to be said, drawn before the transaction in which it is stored: together, or not."""
    if sighted.judged is None or not sighted.judged.courses or not parts.channels:
        return NO_PICTURES
    foreseen = decided(parts, database, now, sighted, key, fetched, True)
    return drawn(foreseen, sighted.judged, now, parts.garden.site.time_zone, parts.draw)


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
    sighted = Sighted(None, None, 0, (why,))
    outcome = decided(parts, database, now, sighted, "", Fetched(None, why), False)
    return _cycle(now, None, sighted, outcome, parts.delivery.deliver_due(database) if parts.delivery else None)


def _cycle(
    now: datetime,
    fetched: Fetched | None,
    sighted: Sighted,
    outcome: Decided,
    delivered: Delivered | None,
) -> Cycle:
    channels = {
        notice.id: tuple(row.channel for row in outcome.change.queued if row.notice == notice.id)
        for notice in outcome.new
    }
    return Cycle(
        at=now,
        polled=fetched is not None,
        problems=(*sighted.problems, *outcome.problems),
        notes=tuple(filter(None, (fetched.reason if fetched else "", *sighted.passed_over))),
        blind=outcome.saw.blind,
        judged=sighted.judged,
        notices=tuple((notice, channels[notice.id]) for notice in outcome.new),
        delivered=delivered,
    )


def _sighted(parts: Parts, database: Database, now: datetime, fresh: Candidate | None) -> Sighted:
    """The garden judged on the fresh forecast, or on the newest good one."""
    with database.snapshot(now) as snapshot:
        found = entries(snapshot)
        version = log_version(snapshot)
        last_good = parts.forecasts.last_good(snapshot)
        told = _told(standing(snapshot, now).dangers)
        record = past_record(snapshot, parts.history.site, RECENT_DAYS)
        kept = kept_checkpoint(snapshot)
    for misfit in misfits(parts.garden, found):
        LOG.warning("%s", misfit)
    garden = with_log(parts.garden, found)
    layers, logged = layers_of(garden, now), _logged(garden)
    problems: list[str] = []
    short: Sighted | None = None
    needed_h = _until_morning_h(now.astimezone(ZoneInfo(garden.site.time_zone)))
    for candidate in (fresh, last_good):
        if candidate is None:
            continue
        new = candidate is fresh and not candidate.key.startswith(ARCHIVED)
        task = Task(garden, candidate, parts.forecasts.options, parts.tables, now, told, record, new, kept)
        judged = _judged(parts, task, problems)
        if judged is None:
            continue
        failing = tuple(parts.redact(f"{tree} could not be judged: {why}") for tree, why in judged.unjudged.items())
        seen = Sighted(judged, candidate, version, failing, candidate is fresh, tuple(problems), layers, logged)
        enough = _known_hours(judged) >= needed_h
        if candidate is fresh and last_good is not None and not enough:
            # What breaks off before the next night is over must not take the place of what reaches further.
            short = seen
            problems.append(f"the new forecast can be judged for {_known_hours(judged)} hours only")
        elif short is None or enough:
            return seen
    if short is not None:
        return short
    return Sighted(None, None, version, tuple(problems) or ("there is no forecast yet",))


def _logged(garden: Garden) -> Logged:
    """What the log says is in place, with what was answered since this cycle began. garden: with the whole log."""
    return {
        tree.id: {part: entry.at for name, entry in in_force(garden.log, tree.id).items() for part in parts_of(name)}
        for tree in garden.trees
    }


def _judged(parts: Parts, task: Task, problems: list[str]) -> Judged | None:
    """
    The garden judged on one forecast; None where that could not be, with the reason added to the problems.

    Raises TaskFailed when the service is stopping.
    """
    try:
        judged = parts.assessor(task)
    except TaskFailed as failed:
        if failed.kind == "stopped":
            raise
        said = "\n".join(filter(None, (failed.reason, failed.trace)))
        LOG.error("The garden could not be judged: %s", said)  # noqa: TRY400 - the worker's trace is the one to see
        problems.append(parts.redact(f"the garden could not be judged: {failed.reason}"))
        return None
    if judged.trace:
        LOG.error("Where it failed:\n%s", judged.trace)
    if judged.refused:
        LOG.warning("A forecast was refused: %s", judged.refused)
        problems.append(parts.redact(f"a forecast was refused: {judged.refused}"))
        return None
    for tree, why in judged.unjudged.items():
        LOG.error("%s could not be judged: %s", tree, why)
    return judged


def _until_morning_h(now: datetime) -> float:
    """Hours until the coming night is over. now: in the site's zone. [h]"""
    morning = datetime.combine(now.date() + timedelta(days=1), NIGHT_OVER, tzinfo=now.tzinfo)
    return between(now, morning) / timedelta(hours=1)


def _known_hours(judged: Judged | None) -> int:
    """Hours ahead for which the temperature of the air is known: of anything else something can be assumed."""
    if judged is None or judged.summary is None:
        return 0
    return judged.summary.hours_judged.get("frost", judged.summary.hours)


def _told(dangers: Sequence[Danger]) -> dict[str, str]:
    """Per tree, the measure that the grower was last asked for and did not refuse."""
    spoken = [danger for danger in dangers if danger.spoken_at is not None and danger.answer != "skip"]
    spoken.sort(key=lambda danger: danger.spoken_at or danger.first_seen_at)
    return {danger.tree: danger.spoken_measure for danger in spoken if danger.spoken_measure}


def _archived(parts: Parts, database: Database, now: datetime, fresh: Candidate, sighted: Sighted) -> str:
    """The key of the content, after it was stored: only a forecast that could be used may serve again."""
    try:
        with database.transaction(now) as transaction:
            save_past_days(transaction, parts.history.site, sighted.judged.past if sighted.judged else ())
            return parts.forecasts.archive(transaction, fresh)
    except StoreRefused as refused:
        # What is to be said matters more than what is to be kept.
        LOG.error("The forecast could not be archived: %s", refused.reason)  # noqa: TRY400 - the reason says it all
        return fresh.key
