"""
What to say now: desired calls against what stands, as a pure function.

Run twice on the same input it says nothing the second time: whatever it decides is in the dangers that it returns.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta

from carewatch.alerts.call import SpellFacts, TreeCall
from carewatch.alerts.danger import SEVERITIES, Danger, Notice, NoticeLine
from carewatch.alerts.wording import Message, bring_back_message, call_message, repeat_message, stand_down_message
from carewatch.care.garden import NoticeRules

# Spells of one tree and hazard whose credible intervals, each widened by this, overlap are one danger (design).
WIDENED = timedelta(hours=12)
# A person needs this much time between the buzz and the work: to notice, to get home, to fetch things. Judged.
NOTICE_AHEAD = timedelta(hours=3)
# A change of act-by by more than this is material; judged.
MATERIAL_EARLIER = timedelta(hours=1)
# A danger must be gone in so many model runs before it is stood down; judged.
GONE_RUNS = 2
# A bring-back is said this long before the hour at which it may be done. Judged.
UNDO_NOTICE = timedelta(minutes=30)
TOGETHER = timedelta(hours=2)
# Non-severe messages a day; judged.
MOST_A_DAY = 3
SEVERE = SEVERITIES.index("Severe")


@dataclass(frozen=True)
class Plan:
    """
    Outcome of planning.

    dangers: all that are new or changed, to be stored; notices: new ones, to be sent from their due_at on.
    """

    dangers: tuple[Danger, ...]
    notices: tuple[Notice, ...]


def rank(severity: str) -> int:
    """Place of a CAP severity in rising order; an empty one counts as unknown."""
    return SEVERITIES.index(severity) if severity in SEVERITIES else 0


def identity(*parts: str) -> str:
    """16 hex digits that stand for these words: the same words, the same id."""
    return hashlib.sha256("\x1f".join(parts).encode()).hexdigest()[:16]


def is_quiet(moment: datetime, rules: NoticeRules) -> bool:
    """
    True within the quiet hours of the site.

    moment: in the site's zone. Wall-clock times decide, so a night in which clocks change is quiet from the same hour
    to the same hour as any other.
    """
    wall = moment.timetz().replace(tzinfo=None)
    if rules.quiet_from == rules.quiet_to:
        return False
    if rules.quiet_from < rules.quiet_to:
        return rules.quiet_from <= wall < rules.quiet_to
    return wall >= rules.quiet_from or wall < rules.quiet_to


def quiet_ends(moment: datetime, rules: NoticeRules) -> datetime:
    """The next end of quiet hours after a moment, in the site's zone."""
    day = moment.date()
    if moment.timetz().replace(tzinfo=None) >= rules.quiet_to:
        day += timedelta(days=1)
    return datetime.combine(day, rules.quiet_to, tzinfo=moment.tzinfo)


def speak_from(call: TreeCall, rules: NoticeRules) -> datetime:
    """
    From when on a call may be made: the last waking moment that leaves room to act.

    Three hours and the work before its act-by; where that falls into quiet hours, at their end if an hour and the work
    are left then, else an hour before the quiet hours begin.
    """
    work = timedelta(minutes=call.minutes)
    wanted = call.act_by - NOTICE_AHEAD - work
    if not is_quiet(wanted, rules):
        return wanted
    morning = quiet_ends(wanted, rules)
    if call.act_by - morning >= timedelta(hours=1) + work:
        return morning
    return _quiet_began(wanted, rules) - timedelta(hours=1)


def _quiet_began(moment: datetime, rules: NoticeRules) -> datetime:
    start: time = rules.quiet_from
    day = moment.date()
    if moment.timetz().replace(tzinfo=None) < start:
        day -= timedelta(days=1)
    return datetime.combine(day, start, tzinfo=moment.tzinfo)


def plan(
    calls: Sequence[TreeCall],
    standing: Sequence[Danger],
    spoken: Sequence[Notice],
    rules: NoticeRules,
    now: datetime,
    new_run: bool = True,
) -> Plan:
    """
    Dangers as they are now, and the notices that they call for.

    calls: of one assessment, with or without a measure. standing: dangers that are not over.
    spoken: notices of at least the last two days. now: in the site's zone, as are the calls' times.
    new_run: the calls rest on a newer forecast than the plan before: only then does a danger that is not seen any more
    come nearer to being stood down.
    """
    matched = {call.tree: _dangers_of(call, standing, now) for call in calls}
    current = {danger.id for dangers in matched.values() for danger in dangers}
    gone = [danger for danger in standing if danger.id not in current]
    notices: list[Notice] = []
    changed: list[Danger] = []

    kinds: dict[str, list[TreeCall]] = {"call": [], "worse": [], "repeat": []}
    for call in calls:
        kind = _kind(call, matched[call.tree], rules, now)
        if kind:
            kinds[kind].append(call)
    kinds = _within_the_day(kinds, spoken, now)
    for kind, told in kinds.items():
        for call in told:
            matched[call.tree] = tuple(_told(danger, call, kind, now) for danger in matched[call.tree])
    # One message for a moment: what is new and what has changed go together.
    if kinds["call"] or kinds["worse"]:
        kind = "call" if kinds["call"] else "worse"
        changed_trees = frozenset(call.tree for call in kinds["worse"])
        notices.append(_notice(kind, [*kinds["call"], *kinds["worse"]], matched, now, changed_trees))
    if kinds["repeat"]:
        notices.append(_notice("repeat", kinds["repeat"], matched, now))
    for call in calls:
        changed += [_aged(danger, call, now) for danger in matched[call.tree]]

    over, farewell = _gone(gone, calls, now, rules, new_run)
    return Plan((*changed, *over), (*notices, *farewell))


def _dangers_of(call: TreeCall, standing: Sequence[Danger], now: datetime) -> tuple[Danger, ...]:
    """One danger per spell: the standing one it belongs to, brought up to date, or a new one."""
    found = []
    taken: set[str] = set()
    for spell in call.spells:
        known = next(
            (
                danger
                for danger in standing
                if danger.tree == call.tree
                and danger.hazard == spell.hazard
                and danger.id not in taken
                and danger.starts - WIDENED <= spell.ends + WIDENED
                and spell.starts - WIDENED <= danger.ends + WIDENED
            ),
            None,
        )
        danger = _updated(known, call, spell) if known else _new(call, spell, now)
        taken.add(danger.id)
        found.append(danger)
    return tuple(found)


def _new(call: TreeCall, spell: SpellFacts, now: datetime) -> Danger:
    return Danger(
        id=identity("danger", call.tree, spell.hazard, now.isoformat()),
        tree=call.tree,
        hazard=spell.hazard,
        starts=spell.starts,
        ends=spell.ends,
        severity=spell.severity,
        probability=spell.probability,
        loss=spell.loss,
        peak=spell.peak,
        limit=spell.limit,
        unit=spell.unit,
        measure=call.measure,
        act_by=call.act_by,
        undo_at=call.undo_at,
        revision=1,
        state="foreseen",
        first_seen_at=now,
        in_force=call.in_force,
    )


def _updated(known: Danger, call: TreeCall, spell: SpellFacts) -> Danger:
    """The standing danger with the new numbers; a spell that is under way keeps the start it was seen with."""
    return replace(
        known,
        starts=min(known.starts, spell.starts),
        ends=spell.ends,
        severity=spell.severity,
        probability=spell.probability,
        loss=spell.loss,
        peak=spell.peak,
        limit=spell.limit,
        unit=spell.unit,
        measure=call.measure,
        act_by=call.act_by,
        undo_at=call.undo_at,
        below_runs=0,
        in_force=call.in_force,
    )


def _kind(call: TreeCall, dangers: Sequence[Danger], rules: NoticeRules, now: datetime) -> str:
    """What is to be said of a tree now: "call", "worse", "repeat", or nothing."""
    severity = max(rank(spell.severity) for spell in call.spells)
    if not call.measure or call.in_force or now < speak_from(call, rules):
        return ""
    if is_quiet(now, rules) and severity < SEVERE:
        return ""
    told = [danger for danger in dangers if danger.spoken_at is not None]
    if not told:
        return "call"
    before = max(rank(danger.spoken_severity) for danger in told)
    if any(danger.answer == "skip" for danger in told):
        # "Not this time" holds until it is worse by a class.
        return "worse" if severity > before else ""
    last = max((danger for danger in told if danger.spoken_at), key=lambda danger: danger.spoken_at or now)
    earlier = last.spoken_act_by is not None and call.act_by < last.spoken_act_by - MATERIAL_EARLIER
    if now < call.act_by and (severity > before or earlier or call.measure != last.spoken_measure):
        return "worse"
    if now >= call.act_by and severity > before:
        return "worse"
    silent = all(not danger.answer for danger in told)
    due = last.spoken_at is not None and now - last.spoken_at >= timedelta(minutes=rules.repeat_after_minutes)
    if silent and due and all(danger.state == "raised" for danger in told) and now < call.act_by:
        return "repeat"
    return ""


def _within_the_day(
    kinds: dict[str, list[TreeCall]], spoken: Sequence[Notice], now: datetime
) -> dict[str, list[TreeCall]]:
    """The kinds without what would be the fourth ordinary message of the day: it waits for the rounds."""
    today = [
        notice
        for notice in spoken
        if notice.kind in ("call", "worse", "repeat")
        and rank(notice.severity) < SEVERE
        and notice.created_at.astimezone(now.tzinfo).date() == now.date()
    ]
    left = MOST_A_DAY - len(today)
    kept: dict[str, list[TreeCall]] = {}
    for kind, calls in kinds.items():
        severe = any(rank(spell.severity) >= SEVERE for call in calls for spell in call.spells)
        if calls and not severe:
            if left <= 0:
                kept[kind] = []
                continue
            left -= 1
        kept[kind] = calls
    return kept


def _told(danger: Danger, call: TreeCall, kind: str, now: datetime) -> Danger:
    """The danger after the grower was told of it; a repeat changes only that it has been repeated."""
    if kind == "repeat":
        # "lapsed" is what an unanswered danger becomes once it was repeated: it is not repeated again.
        return replace(danger, state="lapsed")
    return replace(
        danger,
        state="raised",
        raised_at=danger.raised_at or now,
        revision=danger.revision + (kind == "worse"),
        answer="",
        spoken_severity=danger.severity,
        spoken_measure=call.measure,
        spoken_act_by=call.act_by,
        spoken_at=now,
    )


def _aged(danger: Danger, call: TreeCall, now: datetime) -> Danger:
    """The danger with its state by the clock: answered when its measure is in force, lapsed after its act-by."""
    if danger.spoken_at is None:
        return danger
    if call.in_force or danger.answer in ("done", "skip"):
        return replace(danger, state="answered")
    if danger.state == "raised" and danger.spoken_act_by is not None and now > danger.spoken_act_by + NOTICE_AHEAD:
        return replace(danger, state="lapsed")
    return danger


def _notice(
    kind: str,
    calls: Sequence[TreeCall],
    matched: dict[str, tuple[Danger, ...]],
    now: datetime,
    changed: frozenset[str] = frozenset(),
) -> Notice:
    message = repeat_message(calls, now) if kind == "repeat" else call_message(calls, now, changed)
    dangers = [danger for call in calls for danger in matched[call.tree]]
    key = ",".join(sorted(f"{danger.id}:{danger.revision}" for danger in dangers))
    return made_notice(
        kind,
        max((danger.severity for danger in dangers), key=rank),
        message,
        now,
        max(danger.ends for danger in dangers),
        f"{kind}:{key}",
        tuple(NoticeLine(danger.id, danger.tree, danger.measure) for danger in dangers),
    )


def made_notice(
    kind: str,
    severity: str,
    message: Message,
    now: datetime,
    useless_after: datetime,
    key: str,
    lines: tuple[NoticeLine, ...] = (),
) -> Notice:
    """A notice to be sent at once; key: what it says, in words that are the same whenever it says the same."""
    return Notice(
        id=identity("notice", key),
        kind=kind,
        severity=severity,
        title=message.title,
        body=message.body,
        created_at=now,
        due_at=now,
        useless_after=max(useless_after, now + timedelta(minutes=30)),
        dedup=identity("key", key),
        lines=lines,
    )


def _gone(
    gone: Sequence[Danger], calls: Sequence[TreeCall], now: datetime, rules: NoticeRules, new_run: bool
) -> tuple[list[Danger], list[Notice]]:
    """Dangers that this run no longer sees, and the farewells: stand down what was told, bring back what was done."""
    kept: list[Danger] = []
    down: list[Danger] = []
    back: list[Danger] = []
    needed = {call.tree for call in calls if call.in_force}
    missed = [replace(danger, below_runs=danger.below_runs + new_run) for danger in gone]
    waiting = {danger.tree for danger in missed if _is_done(danger) and not _may_come_off(danger, now)}
    # What may come off within two hours of each other is said once.
    soon = any(_is_done(d) and not _may_come_off(d, now) and _may_come_off(d, now + TOGETHER) for d in missed)
    for danger in missed:
        past = now >= danger.ends
        if not past and danger.below_runs < GONE_RUNS:
            kept.append(danger)
        elif danger.spoken_at is None:
            kept.append(replace(danger, state="over"))
        elif is_quiet(now, rules):
            # Farewells wait for the morning.
            kept.append(danger)
        elif _is_done(danger):
            # A tree comes out once, when the last danger that it was put away for is over.
            if soon or danger.tree in needed or danger.tree in waiting:
                kept.append(danger)
            else:
                back.append(replace(danger, state="over"))
        elif now >= danger.starts:
            # It has come, for better or worse: there is nothing left to call off.
            kept.append(replace(danger, state="over"))
        else:
            down.append(replace(danger, state="over"))
    notices = []
    if down:
        notices.append(_farewell("stand-down", stand_down_message(down), down, now))
    if back:
        notices.append(_farewell("bring-back", bring_back_message(back), back, now))
    return [*kept, *down, *back], notices


def _is_done(danger: Danger) -> bool:
    """What was asked for this danger is in place."""
    return danger.in_force or danger.answer == "done"


def _may_come_off(danger: Danger, now: datetime) -> bool:
    """The danger has been gone long enough, and the hour at which its measure may be undone has come."""
    if now < danger.ends and danger.below_runs < GONE_RUNS:
        return False
    return danger.undo_at is None or now >= danger.undo_at - UNDO_NOTICE


def _farewell(kind: str, message: Message, dangers: Sequence[Danger], now: datetime) -> Notice:
    key = f"{kind}:" + ",".join(sorted(danger.id for danger in dangers))
    lines = tuple(NoticeLine(danger.id, danger.tree, danger.spoken_measure) for danger in dangers)
    return made_notice(kind, "Minor", message, now, now + timedelta(hours=24), key, lines)
