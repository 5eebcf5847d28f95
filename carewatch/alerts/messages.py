"""Whole messages: a first line that suffices, one reason, the chance, the undoing, at most 1,000 characters."""

import re
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from types import MappingProxyType

from carewatch.alerts.call import TreeCall
from carewatch.alerts.danger import Danger
from carewatch.alerts.fitting import Line, Rank, Said, fitted_message, message_of
from carewatch.alerts.paragraph import paragraph_of, still_lost
from carewatch.alerts.reasons import reason
from carewatch.alerts.wording import (
    BACK_OUT,
    ENDLESS,
    MOST_NAMES,
    STAGES,
    Message,
    action,
    cause,
    chance,
    clock_time,
    day_word,
    deed_for,
    ended,
    hazard_name,
    listed,
    measure_name,
)
from carewatch.measures.catalogue import parts_of

# From this much work on it is said how long the whole round takes: somebody must find the time. Judged. [min]
LONG_ROUND = 30.0
NOTHING_STAYS: Mapping[str, str] = MappingProxyType({})
# Dangers after which a winter place is a matter.
OF_WINTER = ("frost", "chill", "root-freeze", "heave", "load")
# So many things that are over are named in a first line. Judged.
MOST_CAUSES = 2
CLOTH_STAYS = "`carewatch tasks` says when it comes off."
LATE = "This was not in sight before; done late it still helps."
# So many trees are named where it counts which they are. Judged.
MOST_LISTED = 8
# Words of a caution that are of one season only.
OF_ICE, OF_SUN = "it freezes", "in the sun"


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
        groups.setdefault((call.left, call.place, is_carried_layer(call), call.tree in changed), []).append(call)
    alone = len(groups) == 1
    paragraphs = []
    for at, ((_, _, _, anew), members) in enumerate(groups.items()):
        before = f"{opening if at == 0 else ''}{'Changed: ' if anew else ''}"
        act_by = min(acts[call.tree] for call in members)
        paragraphs.append(paragraph_of(members, act_by, now, stays, before, at == 0, alone))
    return fitted_message(paragraphs, _ending(calls, late, left_out, remarks, alone))


def is_carried_layer(call: TreeCall) -> bool:
    """Whether a layer in its first year is to be carried: that is asked for in words of its own."""
    return call.layer and any(part.startswith("move:") for part in parts_of(call.left))


def _ending(
    calls: Sequence[TreeCall], late: bool, left_out: Sequence[TreeCall], remarks: Sequence[str], alone: bool
) -> list[Line]:
    """What is said of all together: what was short, what may be lost all the same, how long it takes, cautions."""
    lines = [[Said(LATE, Rank.NOTE)]] if late else []
    lines += [[Said(text)] for text in _short(calls, left_out)]
    if not alone and (still := still_lost(calls)):
        lines.append([Said(still)])
    minutes = sum(call.minutes for call in calls)
    if minutes >= LONG_ROUND and len(calls) > 1:
        lines.append([Said(f"The whole round takes about {_duration(minutes)}.", Rank.ROUND)])
    lines += [[Said(text, Rank.REMARK)] for text in remarks]
    cautions = dict.fromkeys(
        said
        for call in calls
        for said in re.split(_BETWEEN_SENTENCES, call.caution)
        if said and not _is_of_the_other_season(said, calls)
    )
    return [*lines, [Said(" ".join(cautions))]] if cautions else lines


def _short(calls: Sequence[TreeCall], left_out: Sequence[TreeCall]) -> list[str]:
    """Who does not get what others need more, and what they get instead, in sentences."""
    instead: dict[str, list[str]] = {}
    for call in calls:
        if call.displaced_by:
            instead.setdefault(_given_away(call), []).append(call.tree)
    favoured = {tree for call in calls for tree in call.displaced_by}
    others = [call.tree for call in calls if call.tree not in favoured]
    said = [
        f"{'The others make do with that' if len(trees) > MOST_NAMES and trees == others else _instead(trees)}: {why}."
        for why, trees in instead.items()
    ]
    return [*said, *(f"{call.tree} goes without: {_given_away(call)}." for call in left_out)]


def _instead(trees: Sequence[str]) -> str:
    return f"This instead for {listed(trees, MOST_LISTED)}"


def _is_of_the_other_season(caution: str, calls: Sequence[TreeCall]) -> bool:
    """Whether a caution is about ice where all is heat, or about sun where all is frost."""
    of_frost = {spell.hazard in OF_WINTER for call in calls for spell in call.met}
    return (OF_ICE in caution and of_frost == {False}) or (OF_SUN in caution and of_frost == {True})


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
        else f"{names} {have} the {measure_name(part).removeprefix('a ')}"
        for part in parts_of(call.displaced_measure)
    ]
    return " and ".join(said)


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


def helpless_message(calls: Sequence[TreeCall], now: datetime) -> Message:
    """That nothing which is listed for this garden protects these trees. now: in the site's zone."""
    order = sorted(calls, key=lambda call: -call.standing_loss)
    lines = [f"Nothing at hand protects {listed([call.tree for call in order], MOST_LISTED)}."]
    for call in order:
        spell = call.worst
        why = reason(spell, now, call.layer)
        lines.append(f"{call.tree} ({call.place}): {why[0].lower()}{why[1:]} {chance(spell.probability).capitalize()}.")
    ending = "Whatever else you find to shelter it, do it by daylight. This is said once."
    return message_of(["\n".join(lines)], [ending if len(order) == 1 else ending.replace("shelter it", "shelter them")])


def stand_down_message(dangers: Sequence[Danger]) -> Message:
    """A danger that was told of has faded before anything was done."""
    asked: dict[str, list[str]] = {}
    for danger in sorted(dangers, key=lambda item: item.tree):
        names = asked.setdefault(danger.spoken_measure or danger.measure, [])
        if danger.tree not in names:
            names.append(danger.tree)
    every = sorted({danger.tree for danger in dangers})
    it, stands = ("it", "it stands") if len(every) == 1 else ("them", "they stand")
    if "" in asked:
        hazards = listed(sorted({hazard_name(danger) for danger in dangers}))
        first = f"No need any more: {hazards} for {listed(every)}."
    else:
        deeds = [f"to {deed_for(measure, trees)}" for measure, trees in asked.items()]
        first = f"No need any more {' or '.join(deeds)}."
    return message_of([f"{first}\nThe forecast has eased; leave {it} as {stands}."], [])


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
    or the measure for its pot where it stays out: named for those that stand elsewhere.
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
    over = _over(dangers)
    if not order:
        return message_of([f"{over} for {listed(sorted({danger.tree for danger in dangers}))}."], [])
    winter = _winter_places(dangers, stays, quarters)
    only_kept = all(kept for _, _, _, kept in groups)
    lines = [
        _kept(part, trees, only_kept) if kept else _ended(part, trees, layer, long, bool(winter))
        for (part, layer, long, kept), trees in order
    ]
    return message_of(
        [
            "\n".join(
                [
                    f"{over}: {lines[0]}",
                    *(_sentence(line, dangers) for line in lines[1:]),
                    *winter,
                ]
            )
        ],
        [],
    )


def _over(dangers: Sequence[Danger]) -> str:
    """What is over, such as "The frost is over"; of many things that they are."""
    causes = list(dict.fromkeys(cause(danger) for danger in sorted(dangers, key=lambda item: -item.loss)))
    if len(causes) > MOST_CAUSES:
        return "Over"
    said = listed(causes)
    return f"{said[0].upper()}{said[1:]} {'is' if len(causes) == 1 else 'are'} over"


def _winter_places(dangers: Sequence[Danger], stays: Mapping[str, str], quarters: Mapping[str, str]) -> list[str]:
    """Where trees that come out of what protected them are to winter: on the way back is the time for it."""
    places: dict[str, list[str]] = {}
    out = [danger for danger in dangers if "move:" in (danger.spoken_measure or danger.measure)]
    for tree in sorted({danger.tree for danger in out if danger.hazard in OF_WINTER}):
        if quarters.get(tree) and not stays.get(tree):
            places.setdefault(quarters[tree], []).append(tree)
    deeds = [
        in_place(place, trees) or f"carry {listed(trees, MOST_LISTED)} to {place}" for place, trees in places.items()
    ]
    where = "that is its winter place" if sum(map(len, places.values())) == 1 else "those are their winter places"
    return [f"Then {', and '.join(deeds)}: {where}."] if deeds else []


def in_place(measure: str, trees: Sequence[str]) -> str:
    """What is done for the winter to pots that stay where they are, by its measure; "" for a place."""
    names, pots = listed(trees, MOST_LISTED), "pot" if len(trees) == 1 else "pots"
    deeds = {"plunge": f"bank {names} to the rim with bark or soil", "insulate-pot": f"wrap the {pots} of {names}"}
    return deeds.get(measure, "")


def _sentence(line: str, dangers: Sequence[Danger]) -> str:
    """The line with a capital letter; the name of a tree stays as it is."""
    named = any(line.startswith(danger.tree) for danger in dangers)
    return line if named else f"{line[0].upper()}{line[1:]}"


def _kept(part: str, trees: Sequence[str], only: bool) -> str:
    """
    That a winter place stays: a word for whoever was told that it may come back. A cloth stays by the long clock.

    only: the message asks for nothing else.
    """
    it = "it" if len(trees) == 1 else "them"
    names = listed(trees, MOST_LISTED)
    if part == "shade-cloth":
        return f"leave the shade cloth over {names}. {CLOTH_STAYS}"
    later = f"You will hear when spring brings {it} out."
    pots = {"insulate-pot": "in the jacket of its pot" if len(trees) == 1 else "in the jackets of their pots"}
    how = f"in {part.partition(':')[2]}" if part.startswith("move:") else pots.get(part, "banked to the rim")
    return f"{'nothing to do, ' if only else ''}let {names} stay {how} for the winter. {later}"


def _ended(part: str, trees: Sequence[str], layer: bool, long: bool, winter: bool) -> str:
    """How one measure is ended. long: by stages. winter: a winter place is named after it, which is not the old one."""
    names = listed(trees, MOST_LISTED)
    if part.startswith("move:"):
        careful = ", once, level and tied" if layer else ""
        back = f"{names} may come back from {part.partition(':')[2]}{careful}, {BACK_OUT}."
        stages = f"{STAGES}{'' if winter else ', then the old place'}."
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
    gap = f"From {day_word(since, now)} {clock_time(since)} until now nobody watched them."
    return message_of([f"Your trees are watched again: a forecast has come.\n{gap}"], [])


def unkept_message(since: datetime, now: datetime, why: str) -> Message:
    """
    Nothing can be stored, so nothing new is planned or queued.

    since: from when on; both in the site's zone. why: a sentence without its full stop.
    """
    first = f"Your trees are not watched: nothing could be stored since {day_word(since, now)} {clock_time(since)}."
    lines = [
        first,
        "What you were told before still holds. Look at another forecast; you will hear when it works again.",
        f"The reason: {why}.",
    ]
    return message_of(["\n".join(lines)], [])


def kept_again_message(since: datetime, now: datetime) -> Message:
    """The database takes things again; since: from when on it did not. Both in the site's zone."""
    gap = f"From {day_word(since, now)} {clock_time(since)} until now nobody watched them."
    return message_of([f"Your trees are watched again: the database can be written.\n{gap}"], [])


def held_back_line(trees: Sequence[str]) -> str:
    """What is not said today, because enough was."""
    return f"There is more on {listed(trees)} today: see `carewatch rounds`."
