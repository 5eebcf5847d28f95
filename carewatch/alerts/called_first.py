"""Trees in the hands of a call for cold: what it asks of them goes before what the season's plan has for them."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from carewatch.alerts.call import TreeCall
from carewatch.alerts.danger import Danger
from carewatch.alerts.farewell import FOR_GOOD
from carewatch.alerts.messages import OF_WINTER
from carewatch.alerts.seasons import OPEN, WINTER, place_of
from carewatch.alerts.timing import LIKELY_ENOUGH, ROUNDS_ONLY, between
from carewatch.care.whole_log import MOVE
from carewatch.measures.catalogue import parts_of
from carewatch.tasks.task import Task

# A first-year layer is carried once: its plan waits for a likely call to another place that is so far ahead. Judged.
CARRIED_ONCE_AHEAD = timedelta(days=4)


def called_first(
    calls: Sequence[TreeCall], standing: Sequence[Danger], now: datetime, tasks: Sequence[Task] = ()
) -> frozenset[str]:
    """
    Trees for which something is to be done against cold within a day and a half, or is done and needed for some days.

    calls: of one assessment. standing: dangers with the grower's answers: who said "not this time" is not asked again.
    now: in the site's zone. tasks: of the long clock. A plan for the winter that names another place on the same day
    would contradict the call, and nobody moves a wrapped pot in the middle of a frost. A carry is waited for whatever
    it is against; that of a layer to another place than its plan has for it for longer, if it comes before the date.
    """
    return frozenset(
        call.tree
        for call in calls
        if call.measure
        and (_ends_soon(call, now) if call.in_force else between(now, call.act_by) <= _ahead(call, tasks))
        and _of_winter(call)
        and not _is_refused(call, standing)
    )


def _ahead(call: TreeCall, tasks: Sequence[Task]) -> timedelta:
    """How far ahead a call is waited for."""
    parts = parts_of(call.left)
    elsewhere = any(
        task.tree == call.tree
        and task.kind == WINTER
        and task.state in OPEN
        and f"{MOVE}{place_of(task)}" not in parts
        and call.act_by.date() <= task.last
        for task in tasks
    )
    carried = call.layer and any(part.startswith(MOVE) for part in parts)
    likely = call.worst.probability >= LIKELY_ENOUGH
    return CARRIED_ONCE_AHEAD if carried and elsewhere and likely else ROUNDS_ONLY


def _ends_soon(call: TreeCall, now: datetime) -> bool:
    """Whether what is in force is still needed, but not for long: cold without an end in sight is the winter itself."""
    return call.holds and call.undo_at is not None and between(now, call.undo_at) <= FOR_GOOD


def _of_winter(call: TreeCall) -> bool:
    carried = any(part.startswith(MOVE) for part in parts_of(call.left))
    return carried or any(spell.hazard in OF_WINTER for spell in call.met)


def _is_refused(call: TreeCall, standing: Sequence[Danger]) -> bool:
    hazards = {spell.hazard for spell in call.met}
    return any(
        danger.tree == call.tree and danger.hazard in hazards and danger.answer == "skip" and danger.state != "over"
        for danger in standing
    )
