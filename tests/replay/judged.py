"""A replay held against the rules, and against the weather that really came."""

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from carewatch.alerts.call import SpellFacts
from carewatch.alerts.danger import Danger
from carewatch.care.garden import Garden
from carewatch.hazard.spells import LEAST_LOSS
from tests.replay.garden import HARDY
from tests.replay.watch import AHEAD_DAYS, HOUR, PAST_DAYS, Replay, Seen, Sent
from tests.stories.cost import foreseen
from tests.stories.quiet import is_quiet
from tests.stories.rules import ASKING, LONGEST, MOST_A_DAY, NEVER_SAID, PUSHES, ROOM, SAME_START, severe

DAY = timedelta(days=1)
# Whoever knows the weather is asked so long before a spell begins: at the last chance to act.
ASKED_BEFORE = timedelta(hours=20)
# Spells of one tree and hazard less than this apart are one danger (design).
ONE_DANGER = timedelta(hours=36)


@dataclass(frozen=True)
class Real:
    """
    A danger that really came.

    spell: as one sees it who knows the weather. measure, act_by: what such a one would have done, "" where nothing is
    worth its work. how: "called", "in force", "borne", "unforeseen", "late" or "missed".
    """

    tree: str
    spell: SpellFacts
    measure: str
    act_by: datetime
    how: str = ""


@dataclass(frozen=True)
class Verdict:
    """Counts and broken rules of a replay. real: what came; false: dangers that were called for and did not come."""

    real: tuple[Real, ...]
    counts: Counter[str]
    dangers: int
    false: tuple[str, ...]
    broken: tuple[str, ...]


def verdict(replay: Replay, answering: bool) -> Verdict:
    """What is to be said of a replay."""
    assert replay.garden is not None
    told = [sent for sent in replay.sent if sent.kind in ASKING]
    real = tuple(_fated(replay, found) for found in _really(replay, replay.garden))
    counts = Counter(sent.kind for sent in replay.sent)
    dangers = {line[0] for sent in told for line in sent.lines}
    false = tuple(sorted(set(_false(replay, told, real))))
    lost = [one for one in real if one.how in ("missed", "late")]
    broken = [
        *_said_rightly(replay, replay.garden),
        *_once_each(replay),
        *_late(replay, replay.garden),
        *_called_off(replay, real),
        *(f"{one.tree}: {one.spell.hazard} of {one.spell.starts:%d %b %H:%M} was {one.how}" for one in lost),
        *(f"asks for a hardy tree: {what}" for what in false if what.partition(":")[0] in HARDY),
    ]
    most = counts["call"] + counts["bring-back"]
    if answering and most > 2 * len(dangers):
        broken.append(f"{most} calls and bring-backs for {len(dangers)} dangers")
    return Verdict(real, counts, len(dangers), false, tuple(broken))


def _really(replay: Replay, garden: Garden) -> list[Real]:
    """Every danger that came, one after the other, as one sees it who knows the weather the day before."""
    zone = ZoneInfo(replay.station.zone)
    truth = replay.forecaster.truth
    found: list[Real] = []
    at = replay.begins
    while at < replay.ends:
        document = truth.document(at, PAST_DAYS, AHEAD_DAYS)
        # A day's worth of starts at a time: later ones are looked at from nearer.
        for tree, call in foreseen(garden, document, at).items():
            for spell in call.spells:
                begins = at <= spell.starts < at + DAY
                known = any(
                    one.tree == tree and one.spell.hazard == spell.hazard and spell.starts - one.spell.ends < ONE_DANGER
                    for one in found
                )
                if begins and not known and spell.loss >= LEAST_LOSS and spell.starts < replay.ends:
                    found.append(_asked(garden, replay, tree, spell, zone))
        at += DAY
    return found


def _asked(garden: Garden, replay: Replay, tree: str, spell: SpellFacts, zone: ZoneInfo) -> Real:
    """The danger with what is worth doing about it."""
    at = max(replay.begins, (spell.starts - ASKED_BEFORE).astimezone(replay.begins.tzinfo))
    at = at.replace(minute=0, second=0, microsecond=0)
    call = foreseen(garden, replay.forecaster.truth.document(at, PAST_DAYS, AHEAD_DAYS), at).get(tree)
    if call is None:
        return Real(tree, spell, "", spell.starts.astimezone(zone))
    return Real(tree, spell, call.measure, call.act_by.astimezone(zone))


def _fated(replay: Replay, real: Real) -> Real:
    """What became of a danger that came."""
    for_it = [sent for sent in replay.sent if sent.kind in ASKING and real.tree in {tree for _, tree, _ in sent.lines}]
    before = [sent for sent in for_it if real.spell.starts - 8 * DAY <= sent.at <= real.spell.starts]
    if _in_force(replay, real):
        how = "in force"
    elif any(sent.at >= real.spell.starts - 3 * DAY for sent in before):
        how = "called"
    elif not real.measure:
        how = "borne"
    elif not _knowable(replay, real):
        how = "unforeseen"
    elif any(real.spell.starts < sent.at <= real.spell.ends for sent in for_it):
        how = "late"
    else:
        how = "missed"
    return Real(real.tree, real.spell, real.measure, real.act_by, how)


def _in_force(replay: Replay, real: Real) -> bool:
    """Whether something was in place when it began."""
    assert replay.log_garden is not None
    standing: set[str] = set()
    for entry in sorted(replay.log_garden.log, key=lambda entry: entry.at):
        if entry.tree == real.tree and entry.at <= real.spell.starts and entry.measure:
            if entry.work == "begin":
                standing.add(entry.measure)
            elif entry.work == "end":
                standing.discard(entry.measure)
    return bool(standing)


def _knowable(replay: Replay, real: Real) -> bool:
    """Whether a forecast said so in time, to one who takes it at its word, and a measure was worth it then."""
    assert replay.garden is not None
    for seen in reversed(replay.seen):
        if not real.spell.starts - 2 * DAY <= seen.at <= real.act_by - ROOM:
            continue
        document = replay.forecaster.document(seen.at, PAST_DAYS, AHEAD_DAYS)
        call = foreseen(replay.garden, document, seen.at).get(real.tree)
        if call is not None and call.measure and any(_same(spell, real.spell) for spell in call.spells):
            return True
    return False


def _same(spell: SpellFacts, real: SpellFacts) -> bool:
    near = abs(spell.starts - real.starts) <= SAME_START
    return spell.hazard == real.hazard and near and spell.loss >= LEAST_LOSS


def _false(replay: Replay, told: list[Sent], real: tuple[Real, ...]) -> Iterator[str]:
    """Dangers that were called for where nothing came to that tree."""
    by_id = _dangers(replay)
    for sent in told:
        for danger_id, tree, _ in sent.lines:
            danger = by_id.get(danger_id)
            if danger is None or danger.starts > replay.ends - DAY:
                continue
            came = any(
                one.tree == tree
                and one.spell.starts - ONE_DANGER <= danger.ends
                and danger.starts - ONE_DANGER <= one.spell.ends
                for one in real
            )
            if not came:
                yield f"{tree}: {danger.hazard} of {danger.starts:%d %b}"


def _dangers(replay: Replay) -> dict[str, Danger]:
    return {danger.id: danger for seen in replay.seen for danger in seen.dangers}


def _said_rightly(replay: Replay, garden: Garden) -> Iterator[str]:
    pushes: dict[object, int] = defaultdict(int)
    for sent in replay.sent:
        when = f"{sent.at:%d %b %H:%M}, {sent.kind}"
        if is_quiet(sent.at, garden.notices) and not severe(sent.severity):
            yield f"{when}: {sent.severity} in the quiet hours"
        if len(sent.text) > LONGEST:
            yield f"{when}: {len(sent.text)} characters"
        for pattern, what in NEVER_SAID:
            if pattern.search(sent.text):
                yield f"{when}: {what}"
        if sent.kind in PUSHES and not severe(sent.severity):
            pushes[sent.at.date()] += 1
    yield from (f"{day}: {count} messages that are not severe" for day, count in pushes.items() if count > MOST_A_DAY)


def _once_each(replay: Replay) -> Iterator[str]:
    by_id = _dangers(replay)
    counts: Counter[tuple[str, str]] = Counter()
    calls: dict[tuple[str, str], list[tuple[datetime, Danger]]] = defaultdict(list)
    for sent in replay.sent:
        after = next((seen for seen in replay.seen if seen.at >= sent.at), None)
        stood = {danger.id: danger for danger in after.dangers} if after else {}
        for danger_id in {line[0] for line in sent.lines}:
            counts[danger_id, sent.kind] += 1
            danger = stood.get(danger_id)
            if sent.kind == "call" and danger is not None:
                calls[danger.tree, danger.hazard].append((sent.at, danger))
    for (danger_id, kind), count in counts.items():
        known = by_id.get(danger_id)
        if kind in ("call", "bring-back", "repeat", "stand-down") and count > 1 and known:
            yield f"{known.tree}: {known.hazard} of {known.starts:%d %b}: {count} messages of kind {kind}"
    for (tree, hazard), told in calls.items():
        for (first_at, first), (then_at, then) in pairwise(told):
            # Two spells that one message tells of are no second message.
            near = then.starts - first.ends < ONE_DANGER and first.starts - then.ends < ONE_DANGER
            # Whose hour passed without an answer is asked for anew where there is an hour left to act (alerts.plan).
            unheard = not first.answer and first.spoken_act_by is not None and first.spoken_act_by <= then_at
            if first_at != then_at and first.id != then.id and near and not unheard:
                yield (
                    f"{tree}: {hazard} was called for as two dangers, {first_at:%d %b %H:%M} "
                    f"({first.starts:%d %b %H}h-{first.ends:%d %b %H}h) and {then_at:%d %b %H:%M} "
                    f"({then.starts:%d %b %H}h-{then.ends:%d %b %H}h)"
                )


def _called_off(replay: Replay, real: tuple[Real, ...]) -> Iterator[str]:
    """A danger that was called off and came, or a tree stood down that is still in a danger that was told."""
    for sent in replay.sent:
        if sent.kind != "stand-down":
            continue
        after = next((seen for seen in replay.seen if seen.at >= sent.at), None)
        for tree in {tree for _, tree, _ in sent.lines}:
            told = after and [
                one for one in after.dangers if one.tree == tree and one.spoken_at and one.state != "over"
            ]
            came = [one for one in real if one.tree == tree and sent.at <= one.spell.starts <= sent.at + DAY]
            if told or came:
                yield f"{sent.at:%d %b %H:%M}: {tree} is stood down and still in danger"


def _late(replay: Replay, garden: Garden) -> Iterator[str]:
    """Calls after their act-by that could have been made before: the danger stood, with a measure and just the time."""
    zone = ZoneInfo(replay.station.zone)
    for sent in replay.sent:
        if sent.kind != "call":
            continue
        after = next((seen for seen in replay.seen if seen.at >= sent.at), None)
        for danger_id, tree, _ in sent.lines:
            danger = next((known for known in after.dangers if known.id == danger_id), None) if after else None
            act_by = danger.spoken_act_by if danger else None
            if act_by is None or sent.at <= act_by:
                continue
            before = next(
                (seen for seen in replay.seen if seen.at < sent.at and _due(seen, danger_id, garden, zone)), None
            )
            if before is not None:
                clock, first = f"{act_by.astimezone(zone):%H:%M}", f"{before.at.astimezone(zone):%d %b %H:%M}"
                yield f"{sent.at:%d %b %H:%M}: {tree} is called for after {clock}, seen {first}"


def _due(seen: Seen, danger_id: str, garden: Garden, zone: ZoneInfo) -> bool:
    """Whether a danger was seen and not told, with a measure, just the time for it, and somebody awake."""
    danger = next((known for known in seen.dangers if known.id == danger_id), None)
    if danger is None or danger.act_by is None or not danger.measure or danger.spoken_at is not None:
        return False
    loud = severe(danger.severity) or not is_quiet(seen.at.astimezone(zone), garden.notices)
    return HOUR / 2 < danger.act_by - seen.at <= ROOM and loud


def lines_of(name: str, found: Verdict) -> list[str]:
    """The verdict as text."""
    fates = ", ".join(f"{count} {how}" for how, count in sorted(Counter(one.how for one in found.real).items()))
    kinds = ", ".join(f"{kind} {count}" for kind, count in sorted(found.counts.items()))
    row = [
        f"{name}:",
        f"  real dangers {len(found.real)}: {fates or 'none'}",
        f"  dangers told {found.dangers}; messages: {kinds or 'none'}",
        f"  false: {'; '.join(found.false) or 'none'}",
    ]
    row += [
        f"    {one.tree}: {one.spell.hazard} {one.spell.starts:%d %b %H}h-{one.spell.ends:%d %b %H}h, "
        f"loss {one.spell.loss:.0%}, {one.measure or 'nothing is worth its work'}: {one.how}"
        for one in found.real
    ]
    return [*row, *(f"  BROKEN {problem}" for problem in found.broken)]


def difference(first: Replay, second: Replay, whole: bool) -> list[str]:
    """
    Messages that one replay has and the other has not.

    whole: time and text must agree, not only kind, trees with measures, and day.
    """

    def keys(replay: Replay) -> list[tuple[object, ...]]:
        kept = [sent for sent in replay.sent if whole or sent.kind in PUSHES]
        return [(sent.at, sent.kind, sent.text) if whole else sent.says for sent in kept]

    mine, other = Counter(keys(first)), Counter(keys(second))
    only_mine = [f"only in the first: {key}" for key in mine - other]
    return [*only_mine, *(f"only in the second: {key}" for key in other - mine)]
