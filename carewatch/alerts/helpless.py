"""A grave danger for which nothing at hand helps: said once, in time for somebody to think of something."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from carewatch.alerts.asking import severity_of, worst_rank
from carewatch.alerts.call import LEAST_LOSS, TreeCall
from carewatch.alerts.danger import Danger, Notice, NoticeLine
from carewatch.alerts.farewell import kinds_like
from carewatch.alerts.messages import helpless_message
from carewatch.alerts.notices import SEVERE, made_notice
from carewatch.alerts.rounds import GRAVE
from carewatch.alerts.timing import between, is_quiet
from carewatch.care.garden import NoticeRules

# It is said so long before the danger begins: by daylight for a night that is dangerous from its first hours or its
# last. Judged.
AHEAD = timedelta(hours=15)


def is_helpless(call: TreeCall, dangers: Sequence[Danger], rules: NoticeRules, now: datetime) -> bool:
    """
    Whether a tree is in severe danger, nothing at hand eases it, and nobody was told yet. now: in the site's zone.

    Who was told of a gale knows nothing of the frost; who was told of the frost knows what the roots fear of it.
    What somebody else gets instead is told with that call; what is merely not worth its work stands in the rounds.
    """
    if call.measure or call.in_force or call.displaced_by or call.gain >= LEAST_LOSS or is_quiet(now, rules):
        return False
    near = timedelta(0) < between(now, call.worst.starts) <= AHEAD
    told = any(danger.spoken_at is not None for danger in _meant(call, dangers))
    return near and not told and worst_rank(call) >= SEVERE and call.standing_loss >= GRAVE


def _meant(call: TreeCall, dangers: Sequence[Danger]) -> tuple[Danger, ...]:
    """The dangers of the kind of the worst one; what is told of the others stands."""
    return tuple(danger for danger in dangers if danger.hazard in kinds_like(call.worst.hazard))


def helpless_told(
    calls: Sequence[TreeCall], matched: dict[str, tuple[Danger, ...]], rules: NoticeRules, now: datetime
) -> tuple[Notice, ...]:
    """The notice for all trees that nothing protects, or none; `matched` is brought up to date."""
    found = [call for call in calls if is_helpless(call, matched[call.tree], rules, now)]
    if not found:
        return ()
    meant = {danger.id for call in found for danger in _meant(call, matched[call.tree])}
    for call in found:
        matched[call.tree] = tuple(_told(each, now) if each.id in meant else each for each in matched[call.tree])
    return (_notice(found, [each for call in found for each in matched[call.tree] if each.id in meant], now),)


def _told(danger: Danger, now: datetime) -> Danger:
    return replace(
        danger,
        state="lapsed",
        raised_at=danger.raised_at or now,
        spoken_severity=danger.severity,
        spoken_measure="",
        spoken_act_by=danger.starts,
        spoken_at=now,
    )


def _notice(calls: Sequence[TreeCall], dangers: Sequence[Danger], now: datetime) -> Notice:
    key = ",".join(sorted(danger.id for danger in dangers))
    useless = max(danger.ends for danger in dangers)
    lines = tuple(NoticeLine(danger.id, danger.tree, "") for danger in dangers)
    return made_notice("call", severity_of(calls), helpless_message(calls, now), now, useless, f"helpless:{key}", lines)
