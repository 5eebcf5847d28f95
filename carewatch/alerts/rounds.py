"""The day's rounds: what to do place by place, what is foreseen, what is in force and when it comes off."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from carewatch.alerts.call import SpellFacts, TreeCall
from carewatch.alerts.danger import Danger, Notice
from carewatch.alerts.plan import is_quiet, made_notice, rank, speak_from
from carewatch.alerts.wording import (
    LONGEST,
    Message,
    action,
    by_when,
    call_message,
    chance,
    clock_time,
    day_word,
    hazard_name,
    listed,
    measure_name,
    undo,
)
from carewatch.care.garden import NoticeRules
from carewatch.tasks.task import Task
from carewatch.tasks.wording import short_day

NOTHING = "Nothing to carry today."
# Rounds that could not be said by then are left to the next day. Judged.
LATEST = timedelta(hours=6)
# Tasks of the long clock have weeks: they ride along, and without anything else they are told once a week (Monday), so
# that none is overlooked and no day is noisy. Judged.
TASKS_TOLD_ON = 0
MOST_TASKS = 3


@dataclass(frozen=True)
class Begun:
    """A measure that the log says is in force. since: with the site's time zone."""

    tree: str
    place: str
    measure: str
    since: datetime


@dataclass(frozen=True)
class Errand:
    """What is to be done today at one place for trees that want the same; text: as in a message."""

    place: str
    measure: str
    trees: tuple[str, ...]
    act_by: datetime
    undo_at: datetime | None
    minutes: float
    text: str


@dataclass(frozen=True)
class HeadsUp:
    """
    A danger that asks for nothing today.

    measure: thought of so far, "" when nothing is worth its work. decide_at: when the call would be made, None without
    a measure. skipped: the grower said "not this time".
    """

    tree: str
    place: str
    spell: SpellFacts
    measure: str
    decide_at: datetime | None
    skipped: bool


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
    """

    now: datetime
    errands: tuple[Errand, ...]
    heads_up: tuple[HeadsUp, ...]
    in_force: tuple[Standing, ...]
    undelivered: int
    tasks: tuple[Task, ...] = ()


def rounds_of(
    calls: Sequence[TreeCall],
    begun: Sequence[Begun],
    standing: Sequence[Danger],
    rules: NoticeRules,
    now: datetime,
    undelivered: int = 0,
    tasks: Sequence[Task] = (),
) -> Rounds:
    """
    The rounds.

    calls: of one assessment. begun: what the log says is in force. standing: dangers with the grower's answers.
    now: in the site's zone, as are the calls' times. tasks: of the long clock, the most urgent first.
    """
    due = [call for call in calls if _is_due(call, standing, rules, now)]
    groups: dict[tuple[str, str], list[TreeCall]] = {}
    for call in sorted(due, key=lambda item: (item.place, item.act_by, -item.standing_loss)):
        groups.setdefault((call.place, call.measure), []).append(call)
    by_tree = {call.tree: call for call in calls}
    heads_up = [
        HeadsUp(
            call.tree,
            call.place,
            call.worst,
            call.measure,
            speak_from(call, rules) if call.measure else None,
            _is_skipped(call, standing),
        )
        for call in calls
        if call not in due and not call.in_force
    ]
    return Rounds(
        now=now,
        errands=tuple(_errand(members, now) for members in groups.values()),
        heads_up=tuple(sorted(heads_up, key=lambda item: (item.spell.starts, item.tree))),
        in_force=tuple(_standing(item, by_tree) for item in sorted(begun, key=lambda item: (item.place, item.tree))),
        undelivered=undelivered,
        tasks=tuple(task for task in tasks if task.state in ("overdue", "due")),
    )


def _is_due(call: TreeCall, standing: Sequence[Danger], rules: NoticeRules, now: datetime) -> bool:
    """Whether a call is for today: to be done by tonight, or to be spoken of before tomorrow."""
    if not call.measure or call.in_force or _is_skipped(call, standing):
        return False
    return min(call.act_by, speak_from(call, rules)).date() <= now.date()


def _is_skipped(call: TreeCall, standing: Sequence[Danger]) -> bool:
    """Whether "not this time" was said of it, and it has not become worse by a class since."""
    hazards = {spell.hazard for spell in call.spells}
    told = [danger for danger in standing if danger.tree == call.tree and danger.hazard in hazards and danger.spoken_at]
    if not any(danger.answer == "skip" for danger in told):
        return False
    return max(rank(spell.severity) for spell in call.spells) <= max(rank(danger.spoken_severity) for danger in told)


def _errand(calls: Sequence[TreeCall], now: datetime) -> Errand:
    lead = calls[0]
    ends = [call.undo_at for call in calls]
    return Errand(
        place=lead.place,
        measure=lead.measure,
        trees=tuple(call.tree for call in calls),
        act_by=min(call.act_by for call in calls),
        undo_at=None if None in ends else max(end for end in ends if end is not None),
        minutes=sum(call.minutes for call in calls),
        text=call_message(calls, now).body,
    )


def _standing(begun: Begun, calls: Mapping[str, TreeCall]) -> Standing:
    call = calls.get(begun.tree)
    return Standing(begun, call.undo_at if call else None, call is not None)


def heads_up_line(item: HeadsUp, now: datetime) -> str:
    """One danger that asks for nothing today: what, when, how likely, and when it will be decided."""
    spell = item.spell
    head = (
        f"{item.tree} ({item.place}): {hazard_name(spell)} {day_word(spell.starts, now)}, {chance(spell.probability)}"
    )
    if item.skipped:
        return f"{head}. You said not this time; you will hear if it gets worse."
    if item.decide_at is None:
        return f"{head}. Nothing is worth its work so far."
    # A call whose time to speak has come is due; what is left lies ahead.
    when = f"{day_word(item.decide_at, now)} about {clock_time(item.decide_at)}"
    return f"{head}. {measure_name(item.measure).capitalize()} will be decided {when}."


def in_force_line(item: Standing, now: datetime) -> str:
    """One measure in force and when it comes off."""
    begun = item.begun
    head = f"{begun.tree} ({begun.place}): {measure_name(begun.measure)} since {day_said(begun.since, now)}"
    if not item.threatened:
        return f"{head}. Nothing threatens it any more in this forecast; it may come off."
    return f"{head}. {undo(begun.measure, item.undo_at, now)}".rstrip()


def day_said(moment: datetime, now: datetime) -> str:
    """A time that is past: today's by the clock, others by the day."""
    if moment.date() == now.date():
        return clock_time(moment)
    if moment.date() == now.date() - timedelta(days=1):
        return f"yesterday {clock_time(moment)}"
    return day_word(moment, now)


def undelivered_line(count: int) -> str:
    """How many notices reached nobody, or ""."""
    if count <= 0:
        return ""
    messages = "1 message" if count == 1 else f"{count} messages"
    return f"{messages} of the last day reached nobody: see `carewatch notify test`."


def task_lines(tasks: Sequence[Task]) -> list[str]:
    """
    What the long clock has due, a line for each, at most MOST_TASKS; what is left out is counted.

    tasks: the most urgent first; what several trees at one place want alike is one line.
    """
    alike: dict[tuple[object, ...], list[Task]] = {}
    for task in tasks:
        alike.setdefault((task.place, task.title, task.state, task.last, task.kindest[:1]), []).append(task)
    lines = []
    for members in alike.values():
        lead, trees = members[0], listed([task.tree for task in members])
        until = "overdue since" if lead.state == "overdue" else "until"
        kind = f", kindest on {short_day(lead.kindest[0].on)}" if lead.kindest else ""
        lines.append(f"{trees} ({lead.place}): {lead.title}, {until} {short_day(lead.last)}{kind}.")
    left = len(lines) - MOST_TASKS
    return [*lines[:MOST_TASKS], *([f"And {left} more: see `carewatch tasks`."] if left > 0 else [])]


def rounds_message(rounds: Rounds) -> Message:
    """The rounds as one short message: errands in a line each, what lies ahead, is in force, and is due of tasks."""
    now = rounds.now
    errands = [
        f"{action(item.measure, item.trees, item.place, False)} {by_when(item.act_by, now)}." for item in rounds.errands
    ] or [NOTHING]
    due = "\n".join(task_lines(rounds.tasks))
    ahead = "\n".join(heads_up_line(item, now) for item in rounds.heads_up)
    on = "\n".join(in_force_line(item, now) for item in rounds.in_force)
    lost = undelivered_line(rounds.undelivered)
    body = "\n\n".join(filter(None, ("\n".join(errands), ahead, on, due, lost)))
    if len(body) > LONGEST:
        ahead = f"Ahead: {listed([item.tree for item in rounds.heads_up])}." if rounds.heads_up else ""
        on = f"In force: {listed([item.begun.tree for item in rounds.in_force])}." if rounds.in_force else ""
        due = f"{len(rounds.tasks)} tasks are due: see `carewatch tasks`." if rounds.tasks else ""
        rest = "\n\n".join(filter(None, (ahead, on, due, lost)))
        body = "\n\n".join(filter(None, (_fitted(errands, LONGEST - len(rest) - 2), rest)))
    return Message(errands[0], body)


def _fitted(lines: Sequence[str], length: int) -> str:
    """As many whole lines as fit into a length [characters]; what is left out is counted."""
    for kept in range(len(lines), 0, -1):
        left = len(lines) - kept
        text = "\n".join([*lines[:kept], *([f"And {left} more: see `carewatch rounds`."] if left else [])])
        if len(text) <= length:
            return text
    return lines[0][:length]


def in_rounds_hours(now: datetime, rules: NoticeRules) -> bool:
    """Whether the day's rounds may be said now. now: in the site's zone."""
    since = datetime.combine(now.date(), rules.rounds_at, tzinfo=now.tzinfo)
    return since <= now < since + LATEST


def rounds_notice(rounds: Rounds, rules: NoticeRules) -> Notice | None:
    """
    The day's rounds as a notice, once a day from `rounds_at` on for half a day, or None.

    Only what no call says is worth a message: a danger that may call for a hand on another day, messages that were
    lost, and once a week what the long clock has due. A day without any is silent.
    """
    now = rounds.now
    since = datetime.combine(now.date(), rules.rounds_at, tzinfo=now.tzinfo)
    ahead = [item for item in rounds.heads_up if item.measure and not item.skipped]
    weekly = rounds.tasks and now.weekday() == TASKS_TOLD_ON
    if not in_rounds_hours(now, rules) or is_quiet(now, rules) or not (ahead or rounds.undelivered or weekly):
        return None
    message = rounds_message(replace(rounds, heads_up=tuple(ahead)))
    return made_notice("rounds", "Minor", message, now, since + LATEST, f"rounds:{now.date().isoformat()}")
