"""The day's rounds: what to do place by place, what is foreseen, what is in force and when it comes off."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from carewatch.alerts.away import FOR_HELPER, PAGE, absence_of, eve_lines
from carewatch.alerts.call import CLOTH, SpellFacts, TreeCall
from carewatch.alerts.called_first import called_first
from carewatch.alerts.danger import Danger, Notice
from carewatch.alerts.fitting import fitted_lines
from carewatch.alerts.listing import dated, day_said, task_lines, undelivered_line
from carewatch.alerts.messages import call_message, held_back_line, is_carried_layer
from carewatch.alerts.notices import made_notice, rank
from carewatch.alerts.reasons import danger_name
from carewatch.alerts.seasons import SHADE
from carewatch.alerts.timing import begins_of, between, is_quiet, speak_from
from carewatch.alerts.told import is_on
from carewatch.alerts.wording import (
    LONGEST,
    NIGHT_COVERS,
    Message,
    asked_of,
    cause,
    chances,
    clock_time,
    day_word,
    lifts,
    listed,
    measure_name,
    standing_name,
    task_of,
    undo,
)
from carewatch.care.garden import NoticeRules
from carewatch.measures.catalogue import parts_of
from carewatch.measures.chances import EARLIER_FACTOR
from carewatch.tasks.task import SHADE_CROWN, Task

NOTHING = "Nothing to carry today."
# So many dangers ahead are named in the first line. Judged.
MOST_AHEAD = 2
# Rounds that could not be said by then are left to the next day. Judged.
LATEST = timedelta(hours=6)
# Tasks of the long clock have weeks: they ride along, and without anything else they are told once a week (Monday), so
# that none is overlooked and no day is noisy. Judged.
TASKS_TOLD_ON = 0
# A danger against which nothing is worth its work is told from this loss on (class "Moderate"), and so near. Judged.
GRAVE = 0.10
NEAR = timedelta(hours=36)
FEED = "resume-feeding"
# Kinds of tasks that say where a tree is to stand.
SEASONAL = ("winter-place", "spring-out")


@dataclass(frozen=True)
class Begun:
    """A measure that the log says is in force. since: with the site's time zone."""

    tree: str
    place: str
    measure: str
    since: datetime


@dataclass(frozen=True)
class Errand:
    """
    What is to be done today at one place for trees that want the same.

    act_by: latest moment to begin the round that it is part of. text: as in a message. layer: of severed layers in
    their first year.
    """

    place: str
    measure: str
    trees: tuple[str, ...]
    act_by: datetime
    undo_at: datetime | None
    minutes: float
    text: str
    layer: bool = False


@dataclass(frozen=True)
class HeadsUp:
    """
    A danger that asks for nothing today.

    measure: thought of so far, "" when nothing is worth its work. decide_at: when the call would be made, None without
    a measure. skipped: the grower said "not this time". may_pay: nothing is chosen yet, but might be at the last hour.
    passed: something would have been worth its work by day, and is not in the dark. layer: in its first year.
    under: what was asked for is done.
    """

    tree: str
    place: str
    spell: SpellFacts
    measure: str
    decide_at: datetime | None
    skipped: bool
    may_pay: bool = False
    passed: bool = False
    layer: bool = False
    under: bool = False


@dataclass(frozen=True)
class Standing:
    """
    What is in force.

    undo_at: when it may be undone, None while no end is in sight or where nothing threatens any more.
    threatened: a danger is the reason to leave it on.
    """

    begun: Begun
    undo_at: datetime | None
    threatened: bool


@dataclass(frozen=True)
class Rounds:
    """
    The rounds of one moment.

    undelivered: notices that reached nobody. tasks: of the long clock that are due or overdue, the most urgent first.
    away: what is to be said of an absence that begins tomorrow, as sentences. held: trees of which something waits
    because enough was said today. stays: what is in force and goes on after the end that was told, and covers of the
    night that come off today and on again, as sentences.
    """

    now: datetime
    errands: tuple[Errand, ...]
    heads_up: tuple[HeadsUp, ...]
    in_force: tuple[Standing, ...]
    undelivered: int
    tasks: tuple[Task, ...] = ()
    away: tuple[str, ...] = ()
    held: tuple[str, ...] = ()
    stays: tuple[str, ...] = ()


def rounds_of(
    calls: Sequence[TreeCall],
    begun: Sequence[Begun],
    standing: Sequence[Danger],
    rules: NoticeRules,
    now: datetime,
    undelivered: int = 0,
    tasks: Sequence[Task] = (),
    held: Sequence[str] = (),
    stays: Sequence[str] = (),
) -> Rounds:
    """
    The rounds.

    calls: of one assessment. begun: what the log says is in force. standing: dangers with the grower's answers.
    now: in the site's zone, as are the calls' times. tasks: of the long clock, the most urgent first.
    stays: what is over and is left as it is, as sentences.
    """
    begins = begins_of([call for call in calls if _is_open(call, standing)], rules)
    due = [
        call
        for call in calls
        if call.tree in begins and _is_due(begins[call.tree], rules, now) and not _adds_too_late(call, now)
    ]
    groups: dict[tuple[str, str, bool], list[TreeCall]] = {}
    for call in sorted(due, key=lambda item: (item.place, item.act_by, -item.standing_loss)):
        groups.setdefault((call.place, call.left, is_carried_layer(call)), []).append(call)
    by_tree = {call.tree: call for call in calls}
    # What is asked for now is not asked for by the long clock as well.
    hung = {call.tree for call in due if CLOTH in parts_of(call.measure)}
    first = called_first(calls, standing, now, tasks)
    heads_up = [
        HeadsUp(
            call.tree,
            call.place,
            call.worst,
            call.left,
            speak_from(begins.get(call.tree, call.act_by), rules) if call.measure else None,
            _is_skipped(call, standing),
            _pays_once(call) and call.factor >= EARLIER_FACTOR and call.worst.starts.date() > now.date(),
            _pays_once(call) and call.factor < EARLIER_FACTOR,
            call.layer,
            not call.measure and _is_met(call, standing),
        )
        for call in calls
        if call not in due and not call.in_force and not _adds_too_late(call, now) and not _task_asks(call, tasks)
    ]
    return Rounds(
        now=now,
        errands=tuple(_errand(members, begins, now) for members in groups.values()),
        heads_up=tuple(sorted(heads_up, key=lambda item: (item.spell.starts, item.tree))),
        in_force=tuple(_standing(item, by_tree) for item in sorted(begun, key=lambda item: (item.place, item.tree))),
        undelivered=undelivered,
        tasks=tuple(
            task
            for task in tasks
            if task.state in ("overdue", "due")
            and not (_hangs_cloth(task) and task.tree in hung)
            and not (task.kind in SEASONAL and task.tree in first)
            # Nobody feeds a tree on the eve of a heatwave or a frost (common practice).
            and not (task.kind == FEED and task.tree in by_tree)
        ),
        away=tuple(eve_lines(calls, absence_of(now, rules), now)),
        held=tuple(held),
        stays=(*_stays(calls, standing, now), *stays),
    )


def _is_met(call: TreeCall, standing: Sequence[Danger]) -> bool:
    """Whether what was asked for the tree is done."""
    mine = [danger for danger in standing if danger.tree == call.tree and (danger.spoken_measure or danger.measure)]
    return any(map(is_on, mine))


def _pays_once(call: TreeCall) -> bool:
    """Whether nothing is chosen although the best there is saves more than its work: not now, then."""
    return not call.measure and call.gain > call.cost


def _stays(calls: Sequence[TreeCall], standing: Sequence[Danger], now: datetime) -> list[str]:
    """What is in force and has to stay: night covers day by day, others where the end that was told would be today."""
    lines = []
    for call in calls:
        later = call.undo_at is None or call.undo_at.date() > now.date()
        if not call.holds or not later:
            continue
        told = [
            danger.undo_at.astimezone(now.tzinfo)
            for danger in standing
            if danger.tree == call.tree and danger.in_force and danger.spoken_at and danger.undo_at
        ]
        covers = [part for part in parts_of(call.measure) if part in NIGHT_COVERS]
        if covers:
            end = undo("+".join(covers), call.undo_at, now, now - timedelta(days=1))
            name = measure_name("+".join(covers))
            lines.append(f"{call.tree} ({call.place}): {name} {end[0].lower()}{end[1:]}")
        elif any(end.date() == now.date() for end in told):
            rest = undo(call.measure, call.undo_at, now, shut_at=call.shut_at)
            name = measure_name(call.measure).removeprefix("a ")
            kept = "it stays where it is" if lifts(call.measure) else f"{name} stays"
            lines.append(f"{call.tree} ({call.place}): {kept}, {cause(call.worst)} goes on. {rest}")
    return lines


def _is_open(call: TreeCall, standing: Sequence[Danger]) -> bool:
    """Whether a call asks for work that is not done and was not refused."""
    return bool(call.measure) and not call.in_force and not _is_skipped(call, standing)


def _is_due(begins: datetime, rules: NoticeRules, now: datetime) -> bool:
    """Whether work is for today: to be begun by tonight, or to be spoken of before tomorrow."""
    return min(begins, speak_from(begins, rules)).date() <= now.date()


def _adds_too_late(call: TreeCall, now: datetime) -> bool:
    """Whether a call only adds to what is in force, and its hour has passed: no message asks for that any more."""
    return bool(call.begun) and between(now, call.act_by) <= timedelta(0)


def _task_asks(call: TreeCall, tasks: Sequence[Task]) -> bool:
    """Whether the long clock asks already for what a danger of another day would: then only the task speaks."""
    asked = {task.tree for task in tasks if task.state in ("overdue", "due") and _hangs_cloth(task)}
    return call.tree in asked and CLOTH in parts_of(call.measure)


def _hangs_cloth(task: Task) -> bool:
    return task.kind == SHADE or (task.kind == "summer-place" and task.about == SHADE_CROWN)


def _is_skipped(call: TreeCall, standing: Sequence[Danger]) -> bool:
    """Whether "not this time" was said of it, and it has not become worse by a class since."""
    hazards = {spell.hazard for spell in call.met}
    told = [danger for danger in standing if danger.tree == call.tree and danger.hazard in hazards and danger.spoken_at]
    if not any(danger.answer == "skip" for danger in told):
        return False
    return max(rank(spell.severity) for spell in call.met) <= max(rank(danger.spoken_severity) for danger in told)


def _errand(calls: Sequence[TreeCall], begins: Mapping[str, datetime], now: datetime) -> Errand:
    lead = calls[0]
    ends = [call.undo_at for call in calls]
    return Errand(
        place=lead.place,
        measure=lead.left,
        trees=tuple(call.tree for call in calls),
        act_by=min(begins[call.tree] for call in calls),
        undo_at=None if None in ends else max(end for end in ends if end is not None),
        minutes=sum(call.minutes for call in calls),
        text=call_message(calls, now, begins=begins).body,
        layer=lead.layer,
    )


def _standing(begun: Begun, calls: Mapping[str, TreeCall]) -> Standing:
    call = calls.get(begun.tree)
    return Standing(begun, call.undo_at if call else None, call is not None)


def heads_up_lines(items: Sequence[HeadsUp], now: datetime) -> list[str]:
    """A line for each danger that asks for nothing today; trees of which the same is to be said share one."""
    alike: dict[str, list[HeadsUp]] = {}
    for item in items:
        same = replace(item, tree="", spell=replace(item.spell, probability=1.0))
        alike.setdefault(heads_up_line(same, now), []).append(item)
    return [heads_up_line(found[0], now, found) for found in alike.values()]


def heads_up_line(item: HeadsUp, now: datetime, company: Sequence[HeadsUp] = ()) -> str:
    """
    One danger that asks for nothing today: what, when, how likely, and when the grower would be asked to do something.

    company: all of which this is to be said, the item itself where nothing is given.
    """
    spell, of = item.spell, company or (item,)
    named = [each.tree for each in of]
    head = f"{listed(named)} ({item.place}): {danger_name(spell)} {day_word(spell.starts, now)}"
    head = f"{head}, {chances([each.spell.probability for each in of])}"
    if item.skipped:
        return f"{head}. You said not this time; you will hear if it gets worse."
    if item.under:
        left = "it as it stands" if len(named) == 1 else "them as they stand"
        return f"{head}. Leave {left}; nothing more is worth its work so far."
    if item.may_pay:
        return f"{head}. It is too early to say whether anything is worth its work."
    if item.passed:
        return f"{head}. Nothing that could be done in the dark is worth its work."
    if item.decide_at is None:
        return f"{head}. Nothing at hand helps enough to be worth its work so far."
    # A call whose time to speak has come is due; what is left lies ahead.
    when = f"{day_word(item.decide_at, now)} about {clock_time(item.decide_at)}"
    return f"{head}. If it stays so, you will be asked {when} to {asked_of(item.measure, item.layer, len(named))}."


def in_force_line(item: Standing, now: datetime) -> str:
    """One measure in force and when it comes off."""
    begun = item.begun
    head = f"{begun.tree} ({begun.place}): {standing_name(begun.measure)} since {day_said(begun.since, now)}"
    if not item.threatened:
        return f"{head}. Nothing threatens it any more in this forecast; it may come off."
    return f"{head}. {undo(begun.measure, item.undo_at, now)}".rstrip()


def rounds_message(rounds: Rounds) -> Message:
    """The rounds as one short message: errands in a line each, what lies ahead, is in force, and is due of tasks."""
    now = rounds.now
    errands = [task_of(item.measure, item.trees, item.place, item.layer, item.act_by, now) for item in rounds.errands]
    # Who leaves tomorrow reads of that first, unless there is something to do today.
    away = list(rounds.away)
    near, others = dated(_besides_errands(rounds), now.date())
    dates, due = task_lines(near, now.date()), "\n".join(task_lines(others, now.date()))
    first = errands or list(rounds.away) or list(rounds.stays) or dates or [_nothing_but(rounds.heads_up, now)]
    leaving = "" if first == away else "\n".join(away)
    by = "" if first == dates else "\n".join(dates)
    ahead = "\n".join(heads_up_lines(rounds.heads_up, now))
    on = "\n".join(in_force_line(item, now) for item in rounds.in_force)
    last = "\n".join(
        filter(None, (held_back_line(rounds.held) if rounds.held else "", undelivered_line(rounds.undelivered)))
    )
    stays = "" if first == list(rounds.stays) else "\n".join(rounds.stays)
    body = "\n\n".join(filter(None, ("\n".join(first), leaving, stays, by, ahead, on, due, last)))
    if len(body) > LONGEST:
        ahead = f"Ahead: {listed([item.tree for item in rounds.heads_up])}." if rounds.heads_up else ""
        on = f"In force: {listed([item.begun.tree for item in rounds.in_force])}." if rounds.in_force else ""
        due = f"{len(others)} tasks are due: see `carewatch tasks`." if others else ""
        leaving = f"{away[0]} {PAGE}" if leaving else PAGE if away else ""
        first = away[:-1] if first == away and away else first
        rest = "\n\n".join(filter(None, (leaving, stays, by, ahead, on, due, last)))
        body = "\n\n".join(filter(None, (fitted_lines(first, LONGEST - len(rest) - 2), rest)))
    return Message(first[0], body)


def _besides_errands(rounds: Rounds) -> list[Task]:
    """Tasks without the places of trees that are to be carried or banked today anyway."""
    asked = {tree for item in rounds.errands for tree in item.trees if lifts(item.measure)}
    return [task for task in rounds.tasks if task.tree not in asked or task.kind not in SEASONAL]


def _nothing_but(items: Sequence[HeadsUp], now: datetime) -> str:
    """That today asks for nothing, and what lies ahead: enough on a lock screen."""
    ahead = list(dict.fromkeys(f"{danger_name(item.spell)} {day_word(item.spell.starts, now)}" for item in items))
    return f"{NOTHING} Ahead: {', '.join(ahead[:MOST_AHEAD])}." if ahead else NOTHING


def _is_told(item: HeadsUp) -> bool:
    """Whether the day's message tells of a danger: it may ask for a hand, or is grave and nothing saves from it."""
    return not item.skipped and (bool(item.measure) or item.spell.loss >= GRAVE)


def besides(rounds: Rounds, told: Collection[str]) -> list[str]:
    """
    What the rounds say besides a message of the same moment, as paragraphs.

    told: trees that the message names.
    """
    now = rounds.now
    # A message that asks for something names an absence itself.
    away = [line for line in rounds.away if not told or line == PAGE or line.startswith(FOR_HELPER)]
    errands = [
        task_of(item.measure, item.trees, item.place, item.layer, item.act_by, now)
        for item in rounds.errands
        if not set(item.trees) <= set(told)
    ]
    ahead = heads_up_lines([item for item in rounds.heads_up if _is_told(item) and item.tree not in told], now)
    # Where a message carries a tree now, its place of the winter is another day's matter.
    near, others = dated(
        [task for task in rounds.tasks if task.tree not in told or task.kind not in SEASONAL], now.date()
    )
    paragraphs = (
        errands,
        away,
        rounds.stays,
        task_lines(near, now.date()),
        ahead,
        task_lines(others, now.date()),
        [undelivered_line(rounds.undelivered)],
    )
    return [text for lines in paragraphs if (text := "\n".join(lines))]


def in_rounds_hours(now: datetime, rules: NoticeRules) -> bool:
    """Whether the day's rounds may be said now. now: in the site's zone."""
    since = datetime.combine(now.date(), rules.rounds_at, tzinfo=now.tzinfo)
    return since <= now < since + LATEST


def rounds_notice(rounds: Rounds, rules: NoticeRules) -> Notice | None:
    """
    The day's rounds as a notice, once a day from `rounds_at` on for half a day, or None.

    Only what no call says is worth a message: a danger that may call for a hand on another day, messages that were
    lost, a date of the winter plan on the day before it and on its day, and once a week what else the long clock has
    due. A day without any is silent.
    """
    now = rounds.now
    since = datetime.combine(now.date(), rules.rounds_at, tzinfo=now.tzinfo)
    ahead = [item for item in rounds.heads_up if _is_told(item)]
    by_date, _ = dated(_besides_errands(rounds), now.date())
    weekly = rounds.tasks and now.weekday() == TASKS_TOLD_ON
    # A danger that nothing saves from is told when it is near.
    near = [item for item in ahead if item.measure or item.spell.starts - now < NEAR]
    news = near or rounds.stays or rounds.undelivered or by_date or weekly or rounds.away
    if not in_rounds_hours(now, rules) or is_quiet(now, rules) or not news:
        return None
    message = rounds_message(replace(rounds, heads_up=tuple(ahead)))
    return made_notice("rounds", "Minor", message, now, since + LATEST, f"rounds:{now.date().isoformat()}")
