"""What a judgement changes: the plan against what stands, and what is saved with it."""

import logging
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from types import MappingProxyType
from zoneinfo import ZoneInfo

from carewatch.alerts.budget import may_say, said_today
from carewatch.alerts.call import TreeCall
from carewatch.alerts.called_first import called_first
from carewatch.alerts.danger import Danger, Notice
from carewatch.alerts.farewell import Known
from carewatch.alerts.moment import are_due, with_rounds
from carewatch.alerts.plan import Plan, plan
from carewatch.alerts.question import AskedBefore, question_notice
from carewatch.alerts.reached import Reached
from carewatch.alerts.rounds import rounds_of
from carewatch.alerts.weaning import by_stages, softened, without_sun
from carewatch.care.garden import NoticeRules
from carewatch.daemon.basis import summary_text, with_age, with_source
from carewatch.daemon.blind import Looked, looked
from carewatch.daemon.forecasts import Fetched
from carewatch.daemon.job import Judged, Summary
from carewatch.daemon.left_over import LeftOver, left_over, sentences
from carewatch.daemon.parts import Parts, Sighted
from carewatch.daemon.reached import arrivals_of, reached_by
from carewatch.daemon.season import as_told, season_known, with_season, without_told
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
from carewatch.daemon.unended import ends_told, remembered, unconfirmed
from carewatch.delivery.channels import channels_for
from carewatch.delivery.superseded import superseded
from carewatch.sqlite.checkpoints import keep_checkpoint
from carewatch.sqlite.database import Database, Snapshot
from carewatch.sqlite.facts import Fact, put_facts
from carewatch.sqlite.outbox import withdraw
from carewatch.sqlite.pictures import KeptPicture, keep_picture
from carewatch.sqlite.standing import Change, Queued, Standing, save, standing

LOG = logging.getLogger(__name__)

# Notices and answers of this long are looked at: longer than any spell lasts. Judged.
LOOK_BACK = timedelta(days=14)
# Without a new forecast the garden is judged again every hour: what is to be said depends on the time of day.
EVALUATE_EVERY = timedelta(hours=1)
# After a failure, sooner. Estimate: short enough for an evening, long enough for a free service.
AGAIN_AFTER = timedelta(minutes=15)
# A moment at which something is to be said is not hit twice.
SOONEST = timedelta(minutes=1)
NO_PICTURES: Mapping[str, KeptPicture] = MappingProxyType({})


@dataclass(frozen=True)
class Decided:
    """What changes, whether the watch is blind, the notices that are new, and what could not be planned."""

    change: Change
    saw: Looked
    new: tuple[Notice, ...]
    problems: tuple[str, ...]


def decided(
    parts: Parts,
    database: Database,
    now: datetime,
    sighted: Sighted,
    key: str,
    fetched: Fetched | None,
    dry_run: bool,
    pictures: Mapping[str, KeptPicture] = NO_PICTURES,
) -> Decided:
    """
    The plan against what stands; saved, unless it is a dry run. Raises LogMoved.

    pictures: by notice; those of notices that are not new are not kept.
    """
    reasons = sighted.passed_over if sighted.judged else sighted.problems
    why = fetched.reason if fetched and fetched.reason else "; ".join(reasons)
    if dry_run:
        with database.snapshot(now) as snapshot:
            before = standing(snapshot, now - LOOK_BACK)
            heard, left = reached_by(snapshot, before.notices), _left(snapshot, before)
        change, saw, problems, _ = _change(parts, before, heard, left, now, sighted, key, why)
        known = {notice.dedup for notice in before.notices}
        new = tuple(notice for notice in change.notices if notice.dedup not in known)
        return Decided(change, saw, new, problems)
    with database.transaction(now) as transaction:
        before = standing(transaction, now - LOOK_BACK)
        heard, left = reached_by(transaction, before.notices), _left(transaction, before)
        change, saw, problems, look_again = _change(parts, before, heard, left, now, sighted, key, why)
        # A judgement that did not come about stands on no log.
        saved = save(transaction, change, sighted.assessed_on if sighted.judged else None)
        for notice in saved:
            if notice in pictures:
                keep_picture(transaction, notice, pictures[notice])
        if saw.withdrawn:
            withdraw(transaction, saw.withdrawn)
        spoken = [notice for notice in change.notices if notice.id in saved]
        by_id = {danger.id: danger for danger in (*before.dangers, *change.dangers)}
        for old in superseded(before.notices, spoken, by_id, now):
            withdraw(transaction, old)
        if sighted.judged is not None and sighted.judged.checkpoint is not None:
            keep_checkpoint(transaction, sighted.judged.checkpoint)
        put_facts(transaction, _rhythm_facts(parts, now, sighted, fetched, look_again))
    return Decided(change, saw, tuple(notice for notice in change.notices if notice.id in saved), problems)


def _left(snapshot: Snapshot, before: Standing) -> LeftOver:
    """Sentences of earlier days that nobody has read yet."""
    named = {one.notice for one in sentences(before.facts)} - {""}
    return left_over(before.facts, arrivals_of(snapshot, sorted(named)))


def _change(
    parts: Parts,
    before: Standing,
    heard: Reached,
    left: LeftOver,
    now: datetime,
    sighted: Sighted,
    key: str,
    why: str,
) -> tuple[Change, Looked, tuple[str, ...], datetime | None]:
    """What changes, what is to be said of the watch, what could not be planned, and when something must be said."""
    zone = ZoneInfo(parts.garden.site.time_zone)
    judged, summary = sighted.judged, sighted.judged.summary if sighted.judged else None
    planned = Plan((), ())
    problems: tuple[str, ...] = ()
    facts: dict[str, Fact] = {}
    if judged is not None and summary is not None:
        dangers = tuple(danger for danger in before.dangers if _was_looked_at(danger, judged, summary, now))
        # The same forecast judged again is no second opinion.
        new_run = key != before.facts.get(EVALUATED_FORECAST)
        rules, here = parts.garden.notices, now.astimezone(zone)
        season = season_known(before.facts, judged.tasks, judged.shelters, parts.garden.places)
        known = Known(
            sighted.layers,
            season.quarters_by(judged.calls),
            season.in_shade(here.date()),
            heard,
            judged.dry_from,
            are_due(before.notices, rules, here),
            judged.dark_from,
            sighted.logged,
        )
        asked = _Asked(dangers, before.notices, rules, here, new_run, known)
        planned, problems = _planned(judged.calls, asked)
        # What may be undone is said again with the rounds, should this message reach nobody.
        ends = [notice.body for notice in planned.notices if notice.kind == "bring-back"]
        ended = tuple(line for body in ends for line in body.split("\n") if line)
        facts = {EVALUATED_FORECAST: key, SUMMARY: summary_text(judged, summary)}
        by_id = {danger.id: danger for danger in (*before.dangers, *planned.dangers)}
        held, said = planned.held, [*before.notices, *planned.notices]
        endangered = {call.tree for call in judged.calls}
        again = left.texts({call.tree for call in judged.calls if call.measure and not call.in_force})
        stays = tuple(dict.fromkeys((*again, *planned.stays)))
        latitude = parts.garden.site.latitude
        due = as_told(judged.tasks, season, latitude, here.date())
        called = called_first(judged.calls, list(by_id.values()), here, due)
        planned, told = with_season(planned, due, season, latitude, rules, here, said, endangered, called)
        facts |= told
        tasks = without_told(due, planned.notices, season, here.date())
        unused = softened(judged.calls, dangers, here, known.shaded) | by_stages(before.notices, here)
        calls = without_sun(judged.calls, unused)
        open_ends = ends_told(before.facts, planned.notices, sighted.logged)
        facts |= remembered(open_ends)
        shown = (*stays, *unconfirmed(calls, open_ends, here))
        rounds = rounds_of(calls, (), list(by_id.values()), rules, here, tasks=tasks, held=held, stays=shown)
        planned = replace(planned, notices=with_rounds(planned.notices, before.notices, rounds, rules))
        said = [*before.notices, *planned.notices]
        asked_before = [AskedBefore(tree, at.astimezone(zone).date()) for tree, at in before.questions]
        question = question_notice(judged.questions, asked_before, rules, here)
        if question is not None and not may_say("question", question.severity, said_today(said, here)):
            question = None
        planned = replace(planned, notices=(*planned.notices, *filter(None, (question,))))
        planned = with_source(planned, parts.forecasts.standing_in(summary.source, summary.estimated))
        failing = parts.forecasts.first_name if _fails(before.facts, sighted) else ""
        planned = with_age(planned, summary.issued_at.astimezone(zone), here, failing)
        facts |= left.after((*stays, *ended), planned.notices, here.date())
    issued_at = summary.issued_at if summary else None
    saw = looked(before.facts, issued_at, now, parts.rhythm.blind_after, why, zone)
    notices = (*planned.notices, *saw.notices)
    queued = tuple(
        Queued(notice.id, channel.name, channel.order)
        for notice in notices
        for channel in channels_for(notice, parts.channels)
    )
    return Change(planned.dangers, notices, queued, {**facts, **saw.facts}), saw, problems, planned.look_again


def _fails(facts: Mapping[str, str], sighted: Sighted) -> bool:
    """Whether the weather service gave nothing of use the last time that it was asked."""
    return not sighted.fresh and POLL_FAILED in facts


@dataclass(frozen=True)
class _Asked:
    """What the planner is asked about besides the calls."""

    dangers: tuple[Danger, ...]
    spoken: tuple[Notice, ...]
    rules: NoticeRules
    now: datetime
    new_run: bool
    known: Known

    def plan(self, calls: Sequence[TreeCall], trees: Callable[[str], bool]) -> Plan:
        """The plan for these calls and the dangers of the trees that are meant."""
        dangers = [danger for danger in self.dangers if trees(danger.tree)]
        return plan(calls, dangers, self.spoken, self.rules, self.now, self.new_run, self.known)


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


def _rhythm_facts(
    parts: Parts, now: datetime, sighted: Sighted, fetched: Fetched | None, look_again: datetime | None
) -> dict[str, Fact]:
    """When to poll and to judge again, and what there is to know about this cycle."""
    judged = sighted.judged is not None
    facts: dict[str, Fact] = {
        EVALUATE_NEXT_AT: _next_look(now, look_again) if judged else now + AGAIN_AFTER,
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


def _next_look(now: datetime, look_again: datetime | None) -> datetime:
    """When to judge again: every hour, and at the moment at which something will have to be said."""
    usual = now + EVALUATE_EVERY
    return usual if look_again is None else min(usual, max(look_again, now + SOONEST))
