"""Sun that a tree has grown unused to while it stood elsewhere: it comes back by stages, not later."""

import re
from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise

from carewatch.alerts.call import TreeCall
from carewatch.alerts.danger import Danger, Notice
from carewatch.alerts.timing import between
from carewatch.alerts.told import is_on
from carewatch.alerts.wording import STAGES
from carewatch.measures.catalogue import parts_of

SUN = "sun"
# After so long in shade nothing is left of what leaves were used to (the days that count for the habit of sun,
# measures.in_force): who waits longer waits for nothing. Judged.
NOTHING_LEFT = timedelta(days=14)
# Three days in shade and four in half sun (common practice): in them the old place's sun is none of the tree's.
BY_STAGES = timedelta(days=7)


def softened(
    calls: Sequence[TreeCall], standing: Sequence[Danger], now: datetime, shaded: Collection[str] = ()
) -> frozenset[str]:
    """
    Trees that were carried away for something else, and by now would suffer from the sun of their place as well.

    shaded: those that the long clock wants in shade: theirs is a danger like any other. Each day away makes it worse,
    so that it would never end; what was told of the sun itself counts as long as anything is left of the old habit.
    """
    found = set()
    for call in calls:
        told = [each for each in standing if each.tree == call.tree and each.hazard == SUN and each.spoken_at]
        asked = any(is_on(each) and between(each.spoken_at, now) < NOTHING_LEFT for each in told if each.spoken_at)
        away = call.in_force and any(part.startswith("move:") for part in parts_of(call.measure))
        if away and not asked and call.tree not in shaded and any(spell.unused for spell in call.spells):
            found.add(call.tree)
    return frozenset(found)


def by_stages(spoken: Sequence[Notice], now: datetime) -> frozenset[str]:
    """Trees of which it was said within the last week that they come back by stages."""
    found = set()
    for notice in spoken:
        if notice.kind == "bring-back" and between(notice.created_at, now) < BY_STAGES:
            lines = notice.body.split("\n")
            # The stages stand in the line behind that which names the trees.
            named = [before for before, line in pairwise(lines) if line.startswith(STAGES)]
            words = {word for line in named for word in re.split(r"[ ,:]+", line)}
            found |= {line.tree for line in notice.lines if line.tree in words}
    return frozenset(found)


def without_sun(calls: Sequence[TreeCall], trees: Collection[str]) -> tuple[TreeCall, ...]:
    """The calls, those of these trees without sun to which they are not used; one that is of nothing else is none."""
    found = []
    for call in calls:
        left = tuple(spell for spell in call.spells if not spell.unused)
        if call.tree not in trees or len(left) == len(call.spells):
            found.append(call)
        elif any(call.meets(spell) for spell in left):
            found.append(replace(call, spells=left))
        elif left:
            found.append(replace(call, spells=left, measure="", in_force=False, begun=(), undo_at=None))
    return tuple(found)
