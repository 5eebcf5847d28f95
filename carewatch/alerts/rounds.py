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

NOTHING = "Nothing to carry today."
# Rounds that could not be said by then are left to the next day. Judged.
LATEST = timedelta(hours=6)


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
    """The rounds of one moment. undelivered: notices that reached nobody."""

    now: datetime
    errands: tuple[Errand, ...]
    heads_up: tuple[HeadsUp, ...]
    in_force: tuple[Standing, ...]
    undelivered: int


def rounds_of(
    calls: Sequence[TreeCall],
    begun: Sequence[Begun],
    standing: Sequence[Danger],
    rules: NoticeRules,
    now: datetime,
    undelivered: int = 0,
) -> Rounds:
    """
    The rounds.

    calls: of one assessment. begun: what the log says is in force. standing: dangers with the grower's answers.
    now: in the site's zone, as are the calls' times.
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


def rounds_message(rounds: Rounds) -> Message:
    """The rounds as one short message: each errand in a line, then how much lies ahead and is in force."""
    now = rounds.now
    errands = [
        f"{action(item.measure, item.trees, item.place, False)} {by_when(item.act_by, now)}." for item in rounds.errands
    ] or [NOTHING]
    ahead = "\n".join(heads_up_line(item, now) for item in rounds.heads_up)
    on = "\n".join(in_force_line(item, now) for item in rounds.in_force)
    lost = undelivered_line(rounds.undelivered)
    body = "\n\n".join(filter(None, ("\n".join(errands), ahead, on, lost)))
    if len(body) > LONGEST:
        ahead = f"Ahead: {listed([item.tree for item in rounds.heads_up])}." if rounds.heads_up else ""
        on = f"In force: {listed([item.begun.tree for item in rounds.in_force])}." if rounds.in_force else ""
        rest = "\n\n".join(filter(None, (ahead, on, lost)))
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


def rounds_notice(rounds: Rounds, rules: NoticeRules) -> Notice | None:
    """
    The day's rounds as a notice, once a day from `rounds_at` on for half a day, or None.

    Only what no call says is worth a message: a danger that may call for a hand on another day, and messages that were
    lost. A day without either is silent.
    """
    now = rounds.now
    since = datetime.combine(now.date(), rules.rounds_at, tzinfo=now.tzinfo)
    ahead = [item for item in rounds.heads_up if item.measure and not item.skipped]
    if not since <= now < since + LATEST or is_quiet(now, rules) or not (ahead or rounds.undelivered):
        return None
    message = rounds_message(replace(rounds, heads_up=tuple(ahead)))
    return made_notice("rounds", "Minor", message, now, since + LATEST, f"rounds:{now.date().isoformat()}")
