"""What holds in every story, whatever it tells."""

import re
from collections import defaultdict
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta

from carewatch.alerts.call import SpellFacts
from carewatch.alerts.danger import SEVERITIES
from carewatch.care.garden import Garden
from carewatch.hazard.spells import LEAST_LOSS
from tests.stories.cost import Fate, foreseen
from tests.stories.quiet import is_quiet
from tests.stories.story import Message
from tests.stories.watch import Look, Watch

# The rules stand here in their own words: a number that is changed in the program by mistake is seen.
SEVERE = SEVERITIES.index("Severe")
# [characters]; messages that are not severe, a day
LONGEST, MOST_A_DAY = 1000, 3
# Kinds that ask for something to be done, and all that count as pushes; the daily rounds and the watch's own do not.
ASKING = ("call", "repeat", "worse")
PUSHES = (*ASKING, "stand-down", "bring-back")
# What a grower must never read (design, section 9).
NEVER_SAID = (
    (re.compile(r"\bwill die\b|\bdies\b", re.IGNORECASE), "foretells a death"),
    (re.compile(r"\bsafe\b|\bsafely\b", re.IGNORECASE), "says safe"),
    (re.compile(r"\bguarantee", re.IGNORECASE), "guarantees"),
    (re.compile(r"\d[.,]\d+ ?%"), "gives decimals of a probability"),
    (re.compile(r"\b(?:clear|brush|shovel)\b[^.]*\bsnow\b", re.IGNORECASE), "clears snow"),
    (re.compile(r"\bladder\b(?! *(?:is|are|in wind))", re.IGNORECASE), "sends up a ladder"),
    (re.compile(r"\b(?:nan|None|inf)\b"), "shows a value that is none"),
)
# Spells of one tree and hazard less than this apart are one danger (design).
ONE_DANGER = timedelta(hours=36)
# Time in which a person can still be told before the work must begin: that of the plan (three hours).
ROOM = timedelta(hours=3)
# What was undone and is asked for again so soon after should have stayed, unless the forecast has changed meanwhile.
TO_AND_FRO = timedelta(hours=24)
# A call so long before a spell was for another one.
LONGEST_LEAD = timedelta(days=4)
# A spell that begins so much earlier or later than foreseen is another night's.
SAME_START = timedelta(hours=12)


def broken(watch: Watch, fates: tuple[Fate, ...]) -> list[str]:
    """Every rule that a story breaks, in words."""
    assert watch.garden is not None
    garden = watch.garden
    rules: tuple[Callable[[], Iterator[str]], ...] = (
        lambda: _quiet(watch, garden),
        lambda: _lengths_and_words(watch),
        lambda: _pushes_a_day(watch),
        lambda: _once_each(watch),
        lambda: _late(watch, garden),
        lambda: _in_peace(watch),
        lambda: _called_off(watch),
        lambda: _to_and_fro(watch),
        lambda: missed(watch, fates),
        lambda: iter(watch.story.also(watch, fates)),
        lambda: (f"said when run a second time: {said}" for said in watch.said_twice),
    )
    return [found for rule in rules for found in rule()]


def severe(severity: str) -> bool:
    """Whether a CAP severity may break the night rest."""
    return severity in SEVERITIES and SEVERITIES.index(severity) >= SEVERE


def _when(message: Message) -> str:
    return f"{message.at:%a %d %b %H:%M}, {message.kind}"


def _quiet(watch: Watch, garden: Garden) -> Iterator[str]:
    for message in watch.messages:
        if is_quiet(message.at, garden.notices) and not severe(message.severity):
            yield f"{_when(message)}: {message.severity} in the quiet hours"


def _lengths_and_words(watch: Watch) -> Iterator[str]:
    for message in watch.messages:
        if message.whole > LONGEST:
            yield f"{_when(message)}: {message.whole} characters"
        for pattern, what in NEVER_SAID:
            found = pattern.search(message.text)
            if found:
                yield f"{_when(message)}: {what} ({found.group(0)!r})"


def _pushes_a_day(watch: Watch) -> Iterator[str]:
    pushes: dict[object, set[str]] = defaultdict(set)
    for message in watch.messages:
        if message.kind in PUSHES and not severe(message.severity):
            pushes[message.at.date()].add(message.notice)
    for day, notices in pushes.items():
        if len(notices) > MOST_A_DAY:
            yield f"{day}: {len(notices)} messages that are not severe"


def _once_each(watch: Watch) -> Iterator[str]:
    """One call and one bring-back per danger; a repeat once; worse only when something material changed."""
    kinds: dict[tuple[str, str], int] = defaultdict(int)
    for look in watch.looks:
        for notice in look.made:
            for line in notice.lines:
                if line.danger:
                    kinds[line.danger, notice.kind] += 1
            if notice.kind == "worse":
                yield from _not_worse(look, notice.title, {line.danger for line in notice.lines})
    for (danger, kind), count in kinds.items():
        if kind in ("call", "repeat", "bring-back", "stand-down") and count > 1:
            yield f"danger {_named(watch, danger)}: {count} messages of kind {kind}"


def _not_worse(look: Look, title: str, meant: set[str]) -> Iterator[str]:
    """A message that says worse, where nothing is: severity, act-by or measure must differ from what was said."""
    calls = {call.tree: call for call in look.calls}
    told = [danger for danger in look.dangers if danger.id in meant and danger.spoken_at and danger.tree in calls]

    def changed(tree: str) -> bool:
        call, known = calls[tree], [danger for danger in told if danger.tree == tree]
        worst = max(SEVERITIES.index(spell.severity) for spell in call.spells)
        spoken = [danger.spoken_act_by for danger in known if danger.spoken_act_by]
        return (
            worst > max(SEVERITIES.index(danger.spoken_severity or "Unknown") for danger in known)
            or call.measure not in {danger.spoken_measure for danger in known}
            or any(call.act_by < at - timedelta(hours=1) for at in spoken)
        )

    trees = {danger.tree for danger in told}
    if trees and not any(changed(tree) for tree in trees):
        yield f"{look.at:%a %d %b %H:%M}: {title!r} is called worse, and nothing is"


def _late(watch: Watch, garden: Garden) -> Iterator[str]:
    """After its act-by only what could not be said before: the looks before it must not have called for it in time."""
    told: dict[str, datetime] = {}
    for number, look in enumerate(watch.looks):
        calls = {call.tree: call for call in look.calls}
        for notice in look.made:
            for line in notice.lines if notice.kind in ASKING else ():
                call = calls.get(line.tree)
                if call and look.at > call.act_by and line.tree not in told:
                    earlier = [before for before in watch.looks[:number] if _could_say(before, line.tree, garden)]
                    if earlier:
                        yield (
                            f"{look.at:%a %d %b %H:%M}: {line.tree} is called for after {call.act_by:%H:%M}, "
                            f"and was seen {earlier[0].at:%a %d %b %H:%M}"
                        )
                told[line.tree] = look.at
        # A danger that is over leaves the tree as if never told.
        told = {tree: at for tree, at in told.items() if tree in calls or look.at - at < ONE_DANGER}


def _could_say(look: Look, tree: str, garden: Garden) -> bool:
    """Whether a look saw that something is to be done for a tree, with just the time to say it."""
    for call in look.calls:
        if call.tree == tree and call.measure and not call.in_force:
            left = call.act_by - look.at
            loud = any(severe(spell.severity) for spell in call.spells)
            return timedelta() < left <= ROOM and (loud or not is_quiet(look.at, garden.notices))
    return False


def _in_peace(watch: Watch) -> Iterator[str]:
    for message in watch.messages:
        for _, tree, _ in message.lines:
            if tree in watch.story.in_peace and message.kind in ASKING:
                yield f"{_when(message)}: asks for {tree}, which is to be left in peace"


def _called_off(watch: Watch) -> Iterator[str]:
    """Nothing is called off for a tree for which something is still to be done."""
    for look in watch.looks:
        wanted = {call.tree for call in look.calls if call.measure and not call.in_force}
        for notice in look.made:
            for tree in {line.tree for line in notice.lines} & wanted if notice.kind == "stand-down" else ():
                yield f"{look.at:%a %d %b %H:%M}: {notice.title!r}, and {tree} is still in danger"


def _to_and_fro(watch: Watch) -> Iterator[str]:
    """Nothing is undone to be done again: a tree that is brought back stays out, a cover that comes off stays off."""
    changes = [watch.moment(said.at) for said in watch.story.foreseen]
    for back in (message for message in watch.messages if message.kind == "bring-back"):
        undone = {(tree, part) for _, tree, measure in back.lines for part in measure.split("+")}
        for message in watch.messages:
            soon = back.at < message.at <= back.at + TO_AND_FRO
            if message.kind not in ASKING or not soon or any(back.at < at <= message.at for at in changes):
                continue
            asked = {(tree, part) for _, tree, measure in message.lines for part in measure.split("+")}
            yield from (
                f"{_when(message)}: {part} for {tree} again, undone {back.at:%a %H:%M}" for tree, part in undone & asked
            )


def missed(watch: Watch, fates: tuple[Fate, ...]) -> Iterator[str]:
    """Trees that lose something by the weather that came, unless it was said in time, or nobody could know."""
    for fate in fates:
        if fate.alone < LEAST_LOSS or fate.done < LEAST_LOSS or fate.tree in watch.story.borne:
            continue
        ended: dict[str, datetime] = {}
        for spell in fate.call.spells if fate.call else ():
            if spell.loss < LEAST_LOSS:
                continue
            earliest = spell.starts - LONGEST_LEAD
            since = max(ended.get(spell.hazard, earliest), earliest)
            ended[spell.hazard] = spell.ends
            asked = [message for message in watch.messages if _asks_for(message, fate.tree)]
            said = [message for message in asked if since <= message.at <= spell.ends]
            if any(message.at <= min(_act_by(watch, message, fate.tree), spell.starts) for message in said):
                continue
            known = _knowable(watch, fate, spell)
            if known is not None:
                how = "was called too late" if said else "was not called"
                yield (
                    f"{fate.tree} loses {fate.alone:.0%}, {spell.hazard} from {spell.starts:%a %d %b %H:%M} on, "
                    f"which was foreseen on {known:%a %d %b %H:%M} and {how}"
                )


def _asks_for(message: Message, tree: str) -> bool:
    return message.arrived and message.kind in ASKING and any(line[1] == tree for line in message.lines)


def _act_by(watch: Watch, message: Message, tree: str) -> datetime:
    """By when the work had to begin, as it was judged when the message was made."""
    for look in watch.looks:
        if any(notice.id == message.notice for notice in look.made):
            return next((call.act_by for call in look.calls if call.tree == tree), message.at)
    return message.at


def _knowable(watch: Watch, fate: Fate, real: SpellFacts) -> datetime | None:
    """When a forecast first said what was to come, to one who takes it at its word, with time to act; or None."""
    assert fate.call is not None
    latest = min(fate.call.act_by, real.starts) if real == fate.call.spells[0] else real.starts
    for served, document in watch.served:
        # Of a tree that came on the way nothing was to be foreseen before.
        at = max(served, watch.came.get(fate.tree, served).astimezone(served.tzinfo))
        if at + ROOM > latest:
            return None
        call = foreseen(watch.unaided(at), document, at).get(fate.tree)
        if call is not None and any(_same(spell, real) for spell in call.spells):
            return at.astimezone(watch.zone)
    return None


def _same(spell: SpellFacts, real: SpellFacts) -> bool:
    """Whether a spell that was foreseen is the one that came: it costs something, and begins about then."""
    near = abs(spell.starts - real.starts) <= SAME_START or real.starts <= spell.starts <= real.ends
    return spell.hazard == real.hazard and near and min(spell.loss, real.loss) >= LEAST_LOSS


def _named(watch: Watch, danger: str) -> str:
    for look in watch.looks:
        for known in look.dangers:
            if known.id == danger:
                return f"{known.hazard} of {known.tree} ({known.starts:%a %d %b})"
    return danger
