"""One paragraph of a message: what to do and by when, why, how likely, and what comes of it."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from carewatch.alerts.call import SpellFacts, TreeCall
from carewatch.alerts.danger import OF_ITS_PLACE
from carewatch.alerts.fitting import Line, Rank, Said
from carewatch.alerts.reasons import bare, danger_name, reason
from carewatch.alerts.wording import (
    MOST_NAMES,
    asked_of,
    chance,
    day_word,
    lifts,
    listed,
    measure_name,
    protects_less,
    task_of,
    undo,
)
from carewatch.measures.catalogue import parts_of

# Trees whose reason is another than the first one's get a line of their own, so many at the most. Judged.
MOST_REASONS = 3
# With so much between the beginning and the worst of a danger both are said. Judged.
LONG_BEFORE_ITS_WORST = timedelta(hours=18)
COMES_AND_GOES = ("frost", "root-freeze", "wind", "heat", "root-heat")
# What may still be lost with the measure is said from here on (class "Moderate"). [0-1]
STILL_LOST = 0.10
# How the rule begins its reason against a measure that leaves more to be lost.
PROTECTS_LESS = "protects less: "


def paragraph_of(
    calls: Sequence[TreeCall],
    act_by: datetime,
    now: datetime,
    stays: Mapping[str, str],
    before: str,
    is_first: bool,
    alone: bool,
) -> list[Line]:
    """
    First line with what and by when, then the reason, the chance, when to undo it, and what was not taken.

    before: words in front of the first line. alone: there is no other paragraph, and what may be lost stands here.
    """
    lead = max(calls, key=lambda call: call.standing_loss)
    trees = [call.tree for call in calls]
    lines = [[Said(f"{before}{task_of(lead.left, trees, lead.place, lead.layer, act_by, now)}")]]
    if len(trees) > MOST_NAMES:
        rest = trees[MOST_NAMES - 1 :]
        lines.append([Said(f"The {len(rest)} more: {listed(rest, len(rest))}.", Rank.NAMES)])
    reasons = _reasons(lead, calls, now)
    lines.append([Said(reasons[0], Rank.FIRST_REASON if is_first else Rank.REASON)])
    lines += [[Said(text, Rank.OTHER_REASON)] for text in reasons[1:]]
    tail = [Said(text, Rank.STILL) for text in _stands_still(calls)]
    tail += [Said(text, Rank.END) for text in _end(lead, calls, now, stays)]
    if alone and (still := still_lost(calls)):
        tail.append(Said(still))
    lines.append(tail)
    if lead.rejected and not lead.displaced_by:
        lines.append([Said(_rejected(lead, len(trees)), Rank.REJECTED)])
    return lines


def _stands_still(calls: Sequence[TreeCall]) -> list[str]:
    """That layers in their first year are not shifted, where what is asked for leaves them in place."""
    still = [call.tree for call in calls if call.layer and not lifts(call.measure)]
    if not still:
        return []
    if len(still) == len(calls):
        return ["Leave the pot where it stands." if len(calls) == 1 else "Leave the pots where they stand."]
    one = len(still) == 1
    return [f"Leave {listed(still)} where {'it stands' if one else 'they stand'}."]


def _end(lead: TreeCall, calls: Sequence[TreeCall], now: datetime, stays: Mapping[str, str]) -> list[str]:
    """When it is undone, and how what was carried comes back; what is its winter place is not undone."""
    carried = any(part.startswith("move:") for part in parts_of(lead.measure))
    if carried and all(spell.hazard in OF_ITS_PLACE for spell in lead.met):
        return [f"Leave {'it' if len(calls) == 1 else 'them'} there."]
    ends = [call.undo_at for call in calls]
    left = [part for part in parts_of(lead.left) if any(stays.get(call.tree, "") != part for call in calls)]
    end = None if None in ends else max(end for end in ends if end is not None)
    until = undo("+".join(left), end, now, shut_at=lead.shut_at, count=len(calls)) if left else ""
    shade = f"Then {lead.shade_days} days in shade before the sun." if carried and until and lead.shade_days else ""
    return [text for text in (until, shade) if text]


def _rejected(call: TreeCall, count: int) -> str:
    """The strongest measure that was not taken, with what speaks against it. count: of trees."""
    if call.rejected_why.startswith(PROTECTS_LESS):
        return protects_less(call.rejected, call.rejected_why, count)
    deed = asked_of(call.rejected, False, count).partition(", ")[0]
    return f"Do not {deed}: {call.rejected_why}."


def still_lost(calls: Sequence[TreeCall]) -> str:
    """What may be lost with what is asked for, where that is much, the worst first."""
    worst = sorted((call for call in calls if call.loss_with >= STILL_LOST), key=lambda call: -call.loss_with)
    if not worst:
        return ""
    shares = [f"{round(call.loss_with * 100)} %" for call in worst]
    of = [f"{share} of {call.tree}" for share, call in zip(shares, worst, strict=True)]
    # Where room or cloth is short something at hand would do better.
    better = "." if any(call.displaced_by for call in worst) else "; nothing worth its work does better."
    return f"Even so about {f'{shares[0]} of it' if len(calls) == 1 else listed(of)} may still be lost{better}"


def _reasons(lead: TreeCall, calls: Sequence[TreeCall], now: datetime) -> list[str]:
    """The reason of the tree with most to lose, and those of trees that fear something else."""
    told: dict[str, TreeCall] = {danger_name(lead.worst): lead}
    for call in sorted(calls, key=lambda item: -item.standing_loss):
        told.setdefault(danger_name(call.worst), call)
    lines = []
    for call in list(told.values())[:MOST_REASONS]:
        said = _beside(call, now) if call.stands_under else reason(call.worst, now, call.layer, call.measure)
        if len(calls) > 1:
            said = f"{call.tree}: {said[0].lower()}{said[1:]}"
        lines.append(f"{said}{_beginning(call.worst, now)} {chance(call.worst.probability).capitalize()}.")
    return lines


def _beside(call: TreeCall, now: datetime) -> str:
    """The reason for more than what is in place: what that leaves; the numbers are those of the tree without it."""
    left = max(1, round(100 * call.worst.loss))
    felt = bare(call.worst, now)
    return (
        f"With {measure_name(call.stands_under)} alone {danger_name(call.worst)} may still cost about {left} % of the "
        f"tree{f'; {felt}' if felt else ''}."
    )


def _beginning(spell: SpellFacts, now: datetime) -> str:
    """From when on, where its worst comes a night or more later: nobody should wait for that."""
    if spell.hazard not in COMES_AND_GOES or spell.starts <= now:
        return ""
    if spell.peak_at - spell.starts < LONG_BEFORE_ITS_WORST:
        return ""
    if spell.starts.hour == 0:
        # Midnight belongs to the evening before it.
        evening = day_word(spell.starts - timedelta(hours=1), now)
        return f" From midnight {'tonight' if evening == 'today' else evening} on."
    return f" From {day_word(spell.starts, now)} {spell.starts.hour}:00 on."
