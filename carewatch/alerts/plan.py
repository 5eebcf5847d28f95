"""
What to say now: desired calls against what stands, as a pure function.

Run twice on the same input it says nothing the second time: whatever it decides is in the dangers that it returns.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from carewatch.alerts.asking import (
    ASKS,
    Moment,
    is_open,
    kind_of,
    look_again,
    met_of,
    severity_of,
    with_company,
    worst_rank,
)
from carewatch.alerts.away import absence_of, before_leaving
from carewatch.alerts.budget import is_last, may_say, said_today
from carewatch.alerts.call import LEAST_LOSS, TreeCall
from carewatch.alerts.danger import Danger, Notice
from carewatch.alerts.farewell import Known
from carewatch.alerts.helpless import helpless_told
from carewatch.alerts.identity import anew, dangers_of, end_was_told
from carewatch.alerts.logged import as_logged
from carewatch.alerts.notices import SEVERE, rank
from carewatch.alerts.saying import call_notice, farewells_said, repeat_notice, with_absence
from carewatch.alerts.timing import NOTICE_AHEAD, begins_of, between
from carewatch.alerts.told import is_on, with_held
from carewatch.alerts.told import settled as was_settled
from carewatch.alerts.weaning import by_stages, softened, without_sun
from carewatch.care.garden import NoticeRules


@dataclass(frozen=True)
class Plan:
    """
    Outcome of planning.

    dangers: all that are new or changed, to be stored; notices: new ones, to be sent from their due_at on.
    held: trees of which something was to be said that waits, because enough was said today.
    look_again: the next moment, in the site's zone, at which something of this would be said; None: nothing is known.
    stays: what is over and asks for nothing, as sentences for the day's rounds.
    """

    dangers: tuple[Danger, ...]
    notices: tuple[Notice, ...]
    held: tuple[str, ...] = ()
    look_again: datetime | None = None
    stays: tuple[str, ...] = ()


def plan(
    calls: Sequence[TreeCall],
    standing: Sequence[Danger],
    spoken: Sequence[Notice],
    rules: NoticeRules,
    now: datetime,
    new_run: bool = True,
    known: Known = Known(),  # noqa: B008 - frozen and empty
) -> Plan:
    """
    Dangers as they are now, and the notices that they call for.

    calls: of one assessment, with or without a measure. standing: dangers that are not over.
    spoken: notices of at least the last two days. now: in the site's zone, as are the calls' times.
    new_run: the calls rest on a newer forecast than the plan before: only then does a danger that is not seen any more
    come nearer to being stood down. known: what the season, the log and the channels add.
    """
    standing = [as_logged(danger, known.logged) for danger in standing]
    unused = softened(calls, standing, now, known.shaded)
    known = replace(known, softened=unused)
    calls = without_sun(calls, unused | by_stages(spoken, now))
    matched = {call.tree: _seen(call, standing, now, known) for call in calls}
    away = absence_of(now, rules)
    asked = [before_leaving(call, away, now) for call in calls if is_open(call, matched[call.tree])]
    moment = Moment(now, rules, begins_of(asked, rules), away, known)
    already = said_today(spoken, now)
    kinds = {call.tree: kind_of(call, matched[call.tree], moment, now) for call in asked}
    kinds = with_company(asked, kinds, matched, moment, already)
    told = _calls_told(calls, asked, kinds, matched, moment, already, spoken)
    left = [danger for danger in _ended_anew(standing, calls, now) if danger.id not in told.passed]
    moment = replace(moment, settled={danger.id for danger in left if was_settled(danger, spoken)})
    held = list(told.held)
    ended = farewells_said(calls, matched, left, moment, new_run, told.already, held)
    notices = [*told.notices, *(with_absence(notice, moment) for notice in ended.notices)]
    notices += helpless_told(calls, matched, rules, now)
    repeated = [call for call in asked if kinds[call.tree] == "repeat"]
    notices += _repeats(repeated, matched, moment, ended.already)
    changed = {danger.id: danger for call in calls for danger in (_aged(d, now) for d in matched[call.tree])}
    changed |= {danger.id: danger for danger in ended.dangers} | told.passed
    next_look = look_again(asked, matched, tuple(changed.values()), moment)
    return Plan(tuple(changed.values()), with_held(notices, held), tuple(held), next_look, ended.stays)


def _seen(call: TreeCall, standing: Sequence[Danger], now: datetime, known: Known) -> tuple[Danger, ...]:
    """The dangers of a call. What would not have called for a measure is no reason to leave it on."""
    if call.in_force and not call.holds:
        return ()
    found = tuple(as_logged(danger, known.logged) for danger in dangers_of(call, standing, now))
    return found if call.measure else tuple(d for d in found if not is_on(d) or d.loss >= LEAST_LOSS)


@dataclass(frozen=True)
class _Told:
    """The call of a plan, if there is one, dangers that are over by it, and how many messages there are by then."""

    notices: tuple[Notice, ...]
    held: tuple[str, ...]
    passed: dict[str, Danger]
    already: int


def _calls_told(
    calls: Sequence[TreeCall],
    asked: Sequence[TreeCall],
    kinds: Mapping[str, str],
    matched: dict[str, tuple[Danger, ...]],
    moment: Moment,
    already: int,
    spoken: Sequence[Notice],
) -> _Told:
    """What asks for work, in one message, or what is held back of it; `matched` is brought up to date."""
    told = [call for call in asked if kinds[call.tree] in ASKS]
    if not told:
        return _Told((), (), {}, already)
    unheard = moment.known.reached.unheard
    heard = {call.tree for call in told if not all(danger.id in unheard for danger in met_of(matched[call.tree]))}
    # Nothing is changed or asked again for whom no word of it reached.
    worse = frozenset(call.tree for call in told if kinds[call.tree] == "worse" and call.tree in heard)
    kind = "call" if len(worse) < len(told) else "worse"
    if not may_say(kind, severity_of(told), already):
        return _Told((), tuple(call.tree for call in told), {}, already)
    again = frozenset(call.tree for call in told if kinds[call.tree] == "again")
    # What was done and undone by hand since was answered.
    answered = {call.tree for call in told if any(map(_was_answered, met_of(matched[call.tree])))}
    unanswered = (again & heard) - answered
    known = {call.tree for call in told if call.tree in unanswered and _is_known(call, matched[call.tree])}
    before = _last_on({danger.id for tree in known for danger in met_of(matched[tree])}, spoken)
    passed: dict[str, Danger] = {}
    for call in told:
        # Whoever did not answer the first time is asked once a day, not twice, if there is nothing new to say.
        once = call.tree in again and (worst_rank(call) < SEVERE or call.tree in known)
        old, matched[call.tree] = _as_told(call, matched[call.tree], call.tree in again, once, moment.now)
        passed |= {danger.id: danger for danger in old}
    left_out = [call for call in calls if call.displaced_by and not call.measure and not call.in_force]
    last = is_last(severity_of(told), already)
    notice = call_notice(kind, told, matched, moment, worse, unanswered, left_out, last)
    notice = replace(notice, repeats=before)
    return _Told((notice,), (), passed, already + (rank(severity_of(told)) < SEVERE))


def _was_answered(danger: Danger) -> bool:
    return is_on(danger) or danger.state == "answered"


def _is_known(call: TreeCall, dangers: Sequence[Danger]) -> bool:
    """Whether a call that is told anew asks for what was asked, against nothing worse."""
    told = [danger for danger in met_of(dangers) if danger.spoken_at is not None]
    same = all(danger.spoken_measure == call.measure for danger in told)
    return same and worst_rank(call) <= max(rank(danger.spoken_severity) for danger in told)


def _last_on(dangers: Collection[str], spoken: Sequence[Notice]) -> str:
    """The id of the last message on one of these dangers, or ""."""
    found = [notice for notice in spoken if any(line.danger in dangers for line in notice.lines)]
    return max(found, key=lambda notice: notice.created_at.astimezone(UTC)).id if found else ""


def _ended_anew(standing: Sequence[Danger], calls: Sequence[TreeCall], now: datetime) -> list[Danger]:
    """Standing dangers, where an end that was told and is past gives way to the one that is in sight by now."""
    ends = {call.tree: call.undo_at for call in calls if call.in_force and not call.holds}
    return [
        replace(danger, undo_at=ends[danger.tree])
        if danger.tree in ends and is_on(danger) and not end_was_told(danger, now)
        else danger
        for danger in standing
    ]


def _repeats(
    repeated: Sequence[TreeCall], matched: dict[str, tuple[Danger, ...]], moment: Moment, already: int
) -> list[Notice]:
    """What was told, once more, unless enough was said today; `matched` is brought up to date."""
    # Who answered "later" wanted to hear again.
    wanted = any(danger.answer == "later" for call in repeated for danger in met_of(matched[call.tree]))
    if not repeated or not may_say("call" if wanted else "repeat", severity_of(repeated), already):
        return []
    for call in repeated:
        meant = {danger.id for danger in met_of(matched[call.tree])}
        matched[call.tree] = tuple(
            _repeated(danger, moment.now) if danger.id in meant else danger for danger in matched[call.tree]
        )
    return [repeat_notice(repeated, matched, moment)]


def _as_told(
    call: TreeCall, dangers: tuple[Danger, ...], again: bool, once: bool, now: datetime
) -> tuple[tuple[Danger, ...], tuple[Danger, ...]]:
    """
    Those of a tree's dangers that are over by it, and all as they are after it was told.

    again: as new dangers. once: it is not repeated.
    """
    meant = {danger.id for danger in met_of(dangers)}
    old = tuple(replace(danger, state="over") for danger in dangers if again and danger.id in meant)
    after = tuple(
        _told(anew(danger, now) if again else danger, call, now, once) if danger.id in meant else danger
        for danger in dangers
    )
    return old, after


def _told(danger: Danger, call: TreeCall, now: datetime, once: bool) -> Danger:
    """The danger after the grower was told of it; told anew it is another revision. once: it is not repeated."""
    return replace(
        danger,
        state="lapsed" if once else "raised",
        raised_at=danger.raised_at or now,
        revision=danger.revision + (danger.spoken_at is not None),
        answer="",
        spoken_severity=danger.severity,
        spoken_measure=call.measure,
        undo_at=call.undo_at,
        spoken_act_by=call.act_by,
        spoken_at=now,
    )


def _repeated(danger: Danger, now: datetime) -> Danger:
    """The danger after it was said once more: it is not said again of itself."""
    return replace(danger, state="lapsed", spoken_at=now) if danger.spoken_at is not None else danger


def _aged(danger: Danger, now: datetime) -> Danger:
    """The danger with its state by the clock: answered when its measure is in force, lapsed after its act-by."""
    if danger.spoken_at is None:
        return danger
    if danger.in_force or danger.answer in ("done", "skip"):
        return replace(danger, state="answered")
    late = danger.spoken_act_by is not None and between(danger.spoken_act_by, now) > NOTICE_AHEAD
    return replace(danger, state="lapsed") if danger.state == "raised" and late else danger
