"""Whole messages: a first line that suffices, one reason, the chance, the undoing, at most 1,000 characters."""

import re
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime, timedelta
from types import MappingProxyType

from carewatch.alerts.call import SpellFacts, TreeCall
from carewatch.alerts.danger import OF_ITS_PLACE, Danger
from carewatch.alerts.reasons import reason
from carewatch.alerts.wording import (
    ENDLESS,
    LONGEST,
    Message,
    action,
    chance,
    clock_time,
    day_word,
    ended,
    hazard_name,
    lifts,
    listed,
    measure_name,
    task_of,
    undo,
)
from carewatch.measures.catalogue import parts_of

# From this much work on it is said how long the whole round takes: somebody must find the time. Judged. [min]
LONG_ROUND = 30.0
# Trees whose reason is another than the first one's get a line of their own, so many at the most. Judged.
MOST_REASONS = 3
NOTHING_STAYS: Mapping[str, str] = MappingProxyType({})
# With so much between the beginning and the worst of a danger both are said. Judged.
LONG_BEFORE_ITS_WORST = timedelta(hours=18)
COMES_AND_GOES = ("frost", "root-freeze", "wind", "heat", "root-heat")
# Dangers after which a winter place is a matter.
OF_WINTER = ("frost", "chill", "root-freeze", "heave", "load")
# What may still be lost with the measure is said from here on (class "Moderate"). [0-1]
STILL_LOST = 0.10
CLOTH_STAYS = "The long clock says when it comes off."
LATE = "This was not in sight before; what is easy and near is worth doing even now."


_BETWEEN_SENTENCES = r"(?<=[.!]) "


def call_message(
    calls: Sequence[TreeCall],
    now: datetime,
    changed: Collection[str] = (),
    begins: Mapping[str, datetime] | None = None,
    late: bool = False,
    left_out: Sequence[TreeCall] = (),
    remarks: Sequence[str] = (),
    opening: str = "",
    stays: Mapping[str, str] = NOTHING_STAYS,
) -> Message:
    """
    One message for all trees that need a hand, grouped by measure and place, the most pressing first.

    calls: at least one, each with a measure; now: in the site's zone.
    changed: trees of which the grower was told otherwise. begins: per tree, the latest moment to begin its round; its
    own act-by where nothing is given. late: the danger came up after the hour at which it should have been told.
    left_out: endangered trees for which nothing was left. remarks: sentences for the end, such as on an absence.
    opening: words before the first line. stays: per tree, the part of its measure that the winter plan wants anyway.
    """
    when = begins or {}
    acts = {call.tree: when.get(call.tree, call.act_by) for call in calls}
    groups: dict[tuple[str, str, bool, bool], list[TreeCall]] = {}
    for call in sorted(calls, key=lambda item: (acts[item.tree], -item.standing_loss)):
        groups.setdefault((call.left, call.place, call.layer, call.tree in changed), []).append(call)
    paragraphs = [
        f"{'Changed: ' if anew else ''}{_paragraph(members, min(acts[call.tree] for call in members), now, stays)}"
        for (_, _, _, anew), members in groups.items()
    ]
    paragraphs[0] = f"{opening}{paragraphs[0]}"
    last = [LATE] if late else []
    minutes = sum(call.minutes for call in calls)
    if minutes >= LONG_ROUND and len(calls) > 1:
        last.append(f"The whole round takes about {_duration(minutes)}.")
    instead: dict[str, list[str]] = {}
    for call in calls:
        if call.displaced_by:
            instead.setdefault(_given_away(call), []).append(call.tree)
    last += [f"This instead for {listed(trees)}: {why}." for why, trees in instead.items()]
    last += [f"{call.tree} goes without: {_given_away(call)}." for call in left_out]
    cautions = " ".join(
        dict.fromkeys(said for call in calls for said in re.split(_BETWEEN_SENTENCES, call.caution) if said)
    )
    return message_of(paragraphs, [*last, *remarks, *([cautions] if cautions else [])], shrink=True)


def for_place(calls: Sequence[TreeCall]) -> list[str]:
    """What to do, without the time, for all trees of one place that want the same; the first letter is small."""
    groups: dict[tuple[str, str, bool], list[str]] = {}
    for call in calls:
        groups.setdefault((call.place, call.left, call.layer), []).append(call.tree)
    deeds = [action(measure, trees, place, layer) for (place, measure, layer), trees in groups.items()]
    return [f"{deed[0].lower()}{deed[1:]}" for deed in deeds]


def _duration(minutes: float) -> str:
    if minutes < 90:
        return f"{round(minutes / 5) * 5} minutes"
    return f"{round(minutes / 30) / 2:g} hours".replace(".5", "½")


def _given_away(call: TreeCall) -> str:
    """Who has what a tree would have got, or why it does not get it."""
    if call.displaced_why:
        return call.displaced_why
    names = listed(call.displaced_by)
    have = "has" if len(call.displaced_by) == 1 else "have"
    said = [
        f"{names} {have} the place in {part.partition(':')[2]}"
        if part.startswith("move:")
        else f"{names} {have} the {measure_name(part)}"
        for part in parts_of(call.displaced_measure)
    ]
    return " and ".join(said)


def _paragraph(calls: Sequence[TreeCall], act_by: datetime, now: datetime, stays: Mapping[str, str]) -> str:
    """First line with what and by when, then the reason, the chance, when to undo it, and what was not taken."""
    lead = max(calls, key=lambda call: call.standing_loss)
    first = task_of(lead.left, [call.tree for call in calls], lead.place, lead.layer, act_by, now)
    lines = [first, *_reasons(lead, calls, now)]
    ends = [call.undo_at for call in calls]
    # What is its winter place is not undone.
    left = [part for part in parts_of(lead.left) if any(stays.get(call.tree, "") != part for call in calls)]
    end = None if None in ends else max(end for end in ends if end is not None)
    until = undo("+".join(left), end, now) if left else ""
    carried = any(part.startswith("move:") for part in parts_of(lead.measure))
    for_good = carried and all(spell.hazard in OF_ITS_PLACE for spell in lead.met)
    if for_good:
        until = f"Leave {'it' if len(calls) == 1 else 'them'} there."
    pots = "pot where it stands" if len(calls) == 1 else "pots where they stand"
    still = f"Leave the {pots}." if lead.layer and not lifts(lead.measure) else ""
    comes_back = carried and until and not for_good
    shade = f"Then {lead.shade_days} days in shade before the sun." if comes_back and lead.shade_days else ""
    tail = " ".join(part for part in (still, until, shade, _still_lost(calls)) if part)
    if tail:
        lines.append(tail)
    if lead.rejected and not lead.displaced_by:
        lines.append(f"Not {measure_name(lead.rejected)}: {lead.rejected_why}.")
    return "\n".join(lines)


def _still_lost(calls: Sequence[TreeCall]) -> str:
    """What may be lost with what is asked for, where that is much; it stands with the end."""
    left = {call.tree: f"{round(call.loss_with * 100)} %" for call in calls if call.loss_with >= STILL_LOST}
    if not left:
        return ""
    if len(calls) == 1:
        return f"With it about {next(iter(left.values()))} may still be lost; nothing at hand does better."
    shares = listed([f"{share} of {tree}" for tree, share in left.items()])
    return f"With it about {shares} may still be lost; nothing at hand does better."


def _reasons(lead: TreeCall, calls: Sequence[TreeCall], now: datetime) -> list[str]:
    """The reason of the tree with most to lose, and those of trees that fear something else."""
    told: dict[str, TreeCall] = {hazard_name(lead.worst): lead}
    for call in sorted(calls, key=lambda item: -item.standing_loss):
        told.setdefault(hazard_name(call.worst), call)
    lines = []
    for call in list(told.values())[:MOST_REASONS]:
        said = _beside(call) if call.stands_under else reason(call.worst, now, call.layer, call.measure)
        if len(calls) > 1:
            said = f"{call.tree}: {said[0].lower()}{said[1:]}"
        lines.append(f"{said}{_beginning(call.worst, now)} {chance(call.worst.probability).capitalize()}.")
    return lines


def _beside(call: TreeCall) -> str:
    """The reason for more than what is in place: what that leaves, for the numbers of the bare tree are not felt."""
    left = max(1, round(100 * call.worst.loss))
    return (
        f"With {measure_name(call.stands_under)} alone {hazard_name(call.worst)} may still cost about {left} % of it."
    )


def _beginning(spell: SpellFacts, now: datetime) -> str:
    """From when on, where its worst comes a night or more later: nobody should wait for that."""
    if spell.hazard not in COMES_AND_GOES or spell.starts <= now:
        return ""
    if spell.peak_at - spell.starts < LONG_BEFORE_ITS_WORST:
        return ""
    return f" From {day_word(spell.starts, now)} {spell.starts.hour}:00 on."


def repeat_message(
    calls: Sequence[TreeCall],
    now: datetime,
    begins: Mapping[str, datetime] | None = None,
    remarks: Sequence[str] = (),
    asked: bool = False,
    unheard: bool = False,
) -> Message:
    """
    The same call once more, because nobody answered it or the answer was "later".

    Its first words suit a channel that did not hear the call, too. asked: the answer was "later". unheard: no message
    on any of it arrived, so that this is the call.
    """
    opening = "Still open: " if asked else "" if unheard else "Reminder: "
    return call_message(calls, now, begins=begins, remarks=remarks, opening=opening)


def stand_down_message(dangers: Sequence[Danger]) -> Message:
    """A danger that was told of has faded before anything was done."""
    trees = listed(sorted({danger.tree for danger in dangers}))
    hazards = listed(sorted({hazard_name(danger) for danger in dangers}))
    return message_of(
        [f"No need any more: {hazards} for {trees}.\nThe forecast has eased; leave them as they are."], []
    )


def bring_back_message(
    dangers: Sequence[Danger],
    layers: Collection[str] = (),
    long_inside: Collection[str] = (),
    stays: Mapping[str, str] = NOTHING_STAYS,
    quarters: Mapping[str, str] = NOTHING_STAYS,
) -> Message:
    """
    A danger is over and what was done for it can be undone, or is to stay.

    layers: trees that are severed layers in their first year. long_inside: trees that stood in shelter for days.
    stays: per tree, the part of what was done that the winter plan wants anyway. quarters: per tree, its winter place,
    or "plunge" where its pot is to be banked: named for those that stand elsewhere.
    """
    groups: dict[tuple[str, bool, bool, bool], list[str]] = {}
    for danger in sorted(dangers, key=lambda item: item.tree):
        for part in parts_of(danger.spoken_measure or danger.measure):
            if part in ENDLESS:
                continue
            carried, kept = part.startswith("move:"), stays.get(danger.tree, "") == part
            out = carried and not kept
            key = (part, out and danger.tree in layers, out and danger.tree in long_inside, kept)
            names = groups.setdefault(key, [])
            if danger.tree not in names:
                names.append(danger.tree)
    # What is to be done comes first, what is to be left alone after it.
    order = sorted(groups.items(), key=lambda item: item[0][3])
    if not order:
        return message_of([f"Over for {listed(sorted({danger.tree for danger in dangers}))}."], [])
    winter = _winter_places(dangers, stays, quarters)
    lines = [
        _kept(part, trees) if kept else _ended(part, trees, layer, long, bool(winter))
        for (part, layer, long, kept), trees in order
    ]
    return message_of(
        [
            "\n".join(
                [
                    f"Over: {lines[0]}",
                    *(_sentence(line, dangers) for line in lines[1:]),
                    *winter,
                ]
            )
        ],
        [],
    )


def _winter_places(dangers: Sequence[Danger], stays: Mapping[str, str], quarters: Mapping[str, str]) -> list[str]:
    """Where trees that come out of what protected them are to winter: on the way back is the time for it."""
    places: dict[str, list[str]] = {}
    out = [danger for danger in dangers if "move:" in (danger.spoken_measure or danger.measure)]
    for tree in sorted({danger.tree for danger in out if danger.hazard in OF_WINTER}):
        if quarters.get(tree) and not stays.get(tree):
            places.setdefault(quarters[tree], []).append(tree)
    deeds = [
        f"bank {listed(trees)} to the rim" if place == "plunge" else f"carry {listed(trees)} to {place}"
        for place, trees in places.items()
    ]
    whose = "Its" if sum(map(len, places.values())) == 1 else "Their"
    return [f"{whose} winter plan: {'; '.join(deeds)}."] if deeds else []


def _sentence(line: str, dangers: Sequence[Danger]) -> str:
    """The line with a capital letter; the name of a tree stays as it is."""
    named = any(line.startswith(danger.tree) for danger in dangers)
    return line if named else f"{line[0].upper()}{line[1:]}"


def _kept(part: str, trees: Sequence[str]) -> str:
    """That a winter place stays: a word for whoever was told that it may come back. A cloth stays by the long clock."""
    it = "it" if len(trees) == 1 else "them"
    names = listed(trees)
    if part == "shade-cloth":
        return f"leave the shade cloth over {names}. {CLOTH_STAYS}"
    later = f"You will hear when spring brings {it} out."
    how = f"in {part.partition(':')[2]}" if part.startswith("move:") else "banked to the rim"
    return f"let {names} stay {how} for the winter. {later}"


def _ended(part: str, trees: Sequence[str], layer: bool, long: bool, winter: bool) -> str:
    """How one measure is ended. long: by stages. winter: a winter place is named after it, which is not the old one."""
    names = listed(trees)
    if part.startswith("move:"):
        careful = ", once, level and tied" if layer else ""
        back = f"{names} may come back from {part.partition(':')[2]}{careful}, after 16:00 or under cloud."
        stages = f"Three days in shade, four in half sun{'' if winter else ', then the old place'}."
        return f"{back}\n{stages}" if long else back
    return f"{ended(part, trees)}."


def blind_message(since: datetime, now: datetime, why: str) -> Message:
    """
    The watch has had no forecast that it could use for long.

    since: of the last one; both in the site's zone. why: a sentence without its full stop, or "".
    """
    first = f"Your trees are not watched: no usable forecast since {day_word(since, now)} {clock_time(since)}."
    lines = [
        first,
        "What you were told before still holds. Look at another forecast; you will hear when it works again.",
    ]
    if why:
        lines.append(f"The reason: {why}.")
    return message_of(["\n".join(lines)], [])


def sees_again_message(since: datetime, now: datetime) -> Message:
    """The watch has a forecast again; since: from when on it had none. Both in the site's zone."""
    gap = f"From {day_word(since, now)} {clock_time(since)} until now nobody watched your trees."
    return message_of([f"The watch sees again: a forecast has come.\n{gap}"], [])


def message_of(paragraphs: Sequence[str], ending: Sequence[str], shrink: bool = False) -> Message:
    """
    A message of as many whole paragraphs as fit, the first one first, and a last paragraph that always stands.

    ending: lines of the last paragraph, such as cautions. shrink: the first line of a paragraph says what to do and the
    others why; these give way first, those of the last paragraph before the others.
    """
    first = paragraphs[0].partition("\n")[0]
    return Message(first, _fitted(_shrunk(paragraphs, ending) if shrink else paragraphs, ending))


def _shrunk(paragraphs: Sequence[str], ending: Sequence[str]) -> list[str]:
    """The paragraphs with so much less of why that what is to be done fits, if it can."""
    lines = [paragraph.split("\n") for paragraph in paragraphs]

    def length() -> int:
        blocks = ["\n".join(block) for block in lines]
        return len("\n\n".join([*blocks, *(["\n".join(ending)] if ending else [])]))

    while length() > LONGEST and any(len(block) > 1 for block in lines):
        most = max(len(block) for block in lines)
        last = max(at for at, block in enumerate(lines) if len(block) == most)
        lines[last].pop()
    return ["\n".join(block) for block in lines]


def _fitted(paragraphs: Sequence[str], ending: Sequence[str]) -> str:
    """As many whole paragraphs as fit, with the ending; what is left out is counted."""
    tail = "\n".join(ending)
    for kept in range(len(paragraphs), 0, -1):
        left = len(paragraphs) - kept
        more = [f"And {left} more: see the rounds."] if left else []
        text = "\n\n".join([*paragraphs[:kept], *more, *([tail] if tail else [])])
        if len(text) <= LONGEST:
            return text
    # One paragraph alone is too long: its first lines are what matters, and the ending is kept.
    room = LONGEST - len(tail) - 2 if tail else LONGEST
    lines = paragraphs[0].split("\n")
    while len(lines) > 1 and len("\n".join(lines)) > room:
        lines.pop()
    text = "\n".join(lines)
    return f"{text}\n\n{tail}" if tail and len(text) <= room else text[:LONGEST]


def held_back_line(trees: Sequence[str]) -> str:
    """What is not said today, because enough was."""
    return f"Held back today: {listed(trees)}; see the rounds."
