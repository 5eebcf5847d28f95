"""What is to be said of a tree, and when: a call, more, once more, or nothing."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from carewatch.alerts.away import Absence
from carewatch.alerts.budget import is_last
from carewatch.alerts.call import TreeCall
from carewatch.alerts.danger import Danger
from carewatch.alerts.farewell import UNDO_NOTICE, Known, off_from
from carewatch.alerts.notices import SEVERE, rank
from carewatch.alerts.timing import ask_again_from, between, is_quiet, quiet_begins, shifted, speak_from, too_far
from carewatch.alerts.told import has_next_hour, is_on, is_past
from carewatch.care.garden import NoticeRules

# Kinds of what is said of a tree that ask for work and are no mere repeat.
ASKS = ("call", "worse", "again")
# A change of act-by by more than this is material; judged.
MATERIAL_EARLIER = timedelta(hours=1)
# What would have to be told within this of a message is told with it: one buzz for a round. Judged.
SOON = timedelta(hours=2)


@dataclass(frozen=True)
class Moment:
    """
    What is the same for all calls of one plan.

    begins: per tree, when its round has to begin. now: site's zone.

    settled: dangers for which it was said, when they were told, that what was asked for stays.
    """

    now: datetime
    rules: NoticeRules
    begins: Mapping[str, datetime]
    away: Absence | None
    known: Known
    settled: Collection[str] = ()


def is_open(call: TreeCall, dangers: Sequence[Danger]) -> bool:
    """Whether a call asks for work that is not done and was not refused; what is worse by a class is asked again."""
    if not call.measure or call.in_force:
        return False
    told = [danger for danger in met_of(dangers) if danger.spoken_at is not None]
    refused = any(danger.answer == "skip" for danger in told)
    return not refused or worst_rank(call) > max(rank(danger.spoken_severity) for danger in told)


def worst_rank(call: TreeCall) -> int:
    """Rank of the worst severity among the spells that the call is for."""
    return max(rank(spell.severity) for spell in call.met)


def met_of(dangers: Sequence[Danger]) -> Sequence[Danger]:
    """The dangers that their call's measure is for; all of them where it is for none in particular."""
    return [danger for danger in dangers if danger.measure] or dangers


def severity_of(calls: Sequence[TreeCall]) -> str:
    """The worst severity of what these calls are for."""
    return max((spell.severity for call in calls for spell in call.met), key=rank)


def kind_of(call: TreeCall, dangers: Sequence[Danger], moment: Moment, at: datetime) -> str:
    """
    What is to be said of a tree: "call", "worse", "again", "repeat", or nothing.

    "again": a call whose hour passed without an answer, and there is another one to act.
    at: what has to be said until then is said now.
    """
    now, begins = moment.now, moment.begins[call.tree]
    severity = worst_rank(call)
    early = moment.away is not None and moment.away.speaks_early(call, now)
    if not early and (at < speak_from(begins, moment.rules) or too_far(call, begins, now)):
        return ""
    if is_quiet(now, moment.rules) and severity < SEVERE:
        return ""
    told = [danger for danger in met_of(dangers) if danger.spoken_at is not None]
    if not told:
        return "call"
    before = max(rank(danger.spoken_severity) for danger in told)
    if any(danger.answer == "skip" for danger in told):
        # "Not this time" holds until it is worse by a class.
        return "worse" if severity > before else ""
    if has_next_hour(told, call, now):
        return "again"
    last = max((danger for danger in told if danger.spoken_at), key=lambda danger: danger.spoken_at or now)
    earlier = last.spoken_act_by is not None and between(call.act_by, last.spoken_act_by) > MATERIAL_EARLIER
    in_time = between(now, call.act_by) > timedelta(0)
    if in_time and (severity > before or earlier or call.measure != last.spoken_measure):
        return "worse"
    if severity > before and severity >= SEVERE:
        # Past its act-by what was told is told anew only if it has become a matter of waking somebody.
        return "worse"
    if (
        in_time
        and all(danger.state == "raised" for danger in told)
        and is_past(_asked_again_at(told, begins, moment), now)
    ):
        return "repeat"
    return ""


def with_company(
    asked: Sequence[TreeCall],
    kinds: Mapping[str, str],
    matched: Mapping[str, tuple[Danger, ...]],
    moment: Moment,
    already: int,
) -> dict[str, str]:
    """
    The kinds, and with a message that goes out all that would be told first within two hours of it.

    With the last ordinary message of a day goes all that would be told until night.
    """
    found = dict(kinds)
    told = [call for call in asked if kinds[call.tree] in ASKS]
    if not told:
        return found
    until = shifted(moment.now, SOON)
    if is_last(severity_of(told), already) and not is_quiet(moment.now, moment.rules):
        until = max(until, quiet_begins(moment.now, moment.rules))
    for call in asked:
        kind = "" if kinds[call.tree] else kind_of(call, matched[call.tree], moment, until)
        if kind in ("call", "again"):
            found[call.tree] = kind
    return found


def look_again(
    asked: Sequence[TreeCall],
    matched: Mapping[str, tuple[Danger, ...]],
    dangers: Sequence[Danger],
    moment: Moment,
) -> datetime | None:
    """When the first thing that is known by now will have to be said: a call, a repeat, or an undoing."""
    found: list[datetime | None] = []
    for call in asked:
        told = [danger for danger in met_of(matched[call.tree]) if danger.spoken_at is not None]
        begins = moment.begins[call.tree]
        if not told or has_next_hour(told, call, moment.now):
            found.append(speak_from(begins, moment.rules))
        elif all(danger.state == "raised" for danger in told):
            found.append(_asked_again_at(told, begins, moment))
    found += [
        shifted(danger.undo_at, -UNDO_NOTICE)
        for danger in dangers
        if danger.state != "over" and danger.answer == "done" and danger.undo_at is not None
    ]
    found += [
        off_from(danger.ends.astimezone(moment.now.tzinfo))
        for danger in dangers
        if danger.state != "over" and is_on(danger) and danger.spoken_at is not None
    ]
    ahead = [at for at in found if at is not None and not is_past(at, moment.now)]
    return min(ahead, key=lambda at: at.astimezone(UTC), default=None)


def _asked_again_at(told: Sequence[Danger], begins: datetime, moment: Moment) -> datetime | None:
    """
    When what was told is to be said once more: nobody answered, or the answer was "later"; None: never.

    It counts from when the message arrived. While it is still on its way nothing is repeated: it is itself the news.
    """
    answers = {danger.answer for danger in told}
    reached = moment.known.reached
    if not answers <= {"", "later"} or any(danger.id in reached.waiting for danger in told):
        return None
    said_at = max(at for danger in told if (at := reached.said_at(danger)) is not None)
    if "later" in answers:
        return ask_again_from(said_at.astimezone(moment.now.tzinfo), begins, moment.rules)
    return shifted(said_at, timedelta(minutes=moment.rules.repeat_after_minutes))
