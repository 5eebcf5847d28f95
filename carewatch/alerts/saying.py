"""The notices of a plan: calls, repeats and farewells with what has to be said besides."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from carewatch.alerts.asking import Moment, met_of, severity_of
from carewatch.alerts.away import remark
from carewatch.alerts.budget import may_say
from carewatch.alerts.call import TreeCall
from carewatch.alerts.danger import Danger, Notice, NoticeLine
from carewatch.alerts.farewell import farewells
from carewatch.alerts.identity import hardly_worth_it
from carewatch.alerts.messages import CLOTH_STAYS, call_message, repeat_message
from carewatch.alerts.notices import made_notice
from carewatch.alerts.timing import NOTICE_AHEAD, between
from carewatch.alerts.told import CLOTH_STAYS_OVER, winter_places
from carewatch.alerts.wording import LONGEST, listed

# Told for the first time with less than this left, a danger came up after the hour at which it should have been told.
LATE = timedelta(minutes=20)
UNANSWERED = "The last call is still open: if this is done already, answer done."
LAST_TODAY = "The third message today: what else comes up waits in `carewatch rounds`, unless it is severe."


def call_notice(
    kind: str,
    calls: Sequence[TreeCall],
    matched: Mapping[str, tuple[Danger, ...]],
    moment: Moment,
    worse: Collection[str],
    unanswered: Collection[str],
    left_out: Sequence[TreeCall],
    last: bool,
) -> Notice:
    """
    The message that asks for work.

    worse: trees of which the grower was told otherwise. unanswered: those whose last call was not answered. left_out:
    endangered trees for which nothing is left. last: it is the last ordinary message of the day.
    """
    new = [call for call in calls if call.tree not in worse]
    late = bool(new) and all(_is_late(call, matched[call.tree], moment) for call in new)
    stays = {call.tree: part for call in calls if (part := moment.known.stays(call.tree, call.left))}
    hung = {call.tree: part for call in calls if (part := moment.known.hangs(call.tree, call.left))}
    remarks = [
        *([f"{CLOTH_STAYS_OVER} {listed(list(hung))}. {CLOTH_STAYS}"] if hung else []),
        *([winter_places(list(stays))] if stays else []),
        *([UNANSWERED] if unanswered else []),
        *remark(moment.away, calls, moment.now),
        *([LAST_TODAY] if last else []),
    ]
    message = call_message(calls, moment.now, worse, moment.begins, late, left_out, remarks, stays={**hung, **stays})
    dangers = [danger for call in calls for danger in met_of(matched[call.tree])]
    key = ",".join(sorted(f"{danger.id}:{danger.revision}" for danger in dangers))
    useless = max(danger.ends for danger in dangers)
    lines = tuple(NoticeLine(danger.id, danger.tree, danger.measure) for danger in dangers)
    return made_notice(kind, severity_of(calls), message, moment.now, useless, f"{kind}:{key}", lines)


def _is_late(call: TreeCall, dangers: Sequence[Danger], moment: Moment) -> bool:
    """Whether a danger came up so late that it could not be told in time."""
    seen = min(danger.first_seen_at for danger in dangers)
    return between(moment.now, moment.begins[call.tree]) < LATE and between(seen, moment.now) < NOTICE_AHEAD


def repeat_notice(calls: Sequence[TreeCall], matched: Mapping[str, tuple[Danger, ...]], moment: Moment) -> Notice:
    """What was told, once more; where no message on it arrived, it is the call."""
    dangers = [danger for call in calls for danger in met_of(matched[call.tree])]
    asked = any(danger.answer == "later" for danger in dangers)
    unheard = all(danger.id in moment.known.reached.unheard for danger in dangers)
    remarks = remark(moment.away, calls, moment.now)
    message = repeat_message(calls, moment.now, moment.begins, remarks, asked, unheard)
    key = ",".join(sorted(f"{danger.id}:{danger.revision}" for danger in dangers))
    if asked:
        # Whoever says later twice is asked twice.
        key = f"{key}:{moment.now.astimezone(UTC).isoformat(timespec='minutes')}"
    useless = max(danger.ends for danger in dangers)
    lines = tuple(NoticeLine(danger.id, danger.tree, danger.measure) for danger in dangers)
    return made_notice("repeat", severity_of(calls), message, moment.now, useless, f"repeat:{key}", lines)


@dataclass(frozen=True)
class Ended:
    """
    Dangers that ended or faded, and what is said of them.

    already: ordinary messages of the day by then. stays: what is over and asks for nothing, as sentences.
    """

    dangers: Sequence[Danger]
    already: int
    notices: Sequence[Notice]
    stays: tuple[str, ...]


def farewells_said(
    calls: Sequence[TreeCall],
    matched: dict[str, tuple[Danger, ...]],
    standing: Sequence[Danger],
    moment: Moment,
    new_run: bool,
    already: int,
    held: list[str],
) -> Ended:
    """Dangers that ended or faded, and the farewells that may be said; `held` is brought up to date."""
    seen = [danger for dangers in matched.values() for danger in dangers]
    current = {danger.id for danger in seen}
    gone = [danger for danger in standing if danger.id not in current]
    eased = [danger for call in calls for danger in matched[call.tree] if _has_eased(danger, call, moment.now)]
    made = farewells(gone, eased, calls, moment.now, moment.rules, new_run, moment.known, moment.settled, seen)
    said: list[Notice] = []
    as_before: dict[str, Danger] = {}
    for notice, dangers in made.notices:
        if may_say(notice.kind, notice.severity, already):
            said.append(notice)
            already += 1
        else:
            as_before |= {danger.id: danger for danger in dangers}
            held += [danger.tree for danger in dangers]
    return Ended([as_before.get(danger.id, danger) for danger in made.dangers], already, said, made.stays)


def with_absence(notice: Notice, moment: Moment) -> Notice:
    """The farewell, in days on which nobody is there with whom to ask."""
    said = remark(moment.away, (), moment.now)
    return replace(notice, body="\n\n".join([notice.body, *said])[:LONGEST]) if said else notice


def _has_eased(danger: Danger, call: TreeCall, now: datetime) -> bool:
    """
    Whether by this run the work that was asked for is not worth it any more, while it could still be left undone.

    After its act-by a measure may be missing because it is too late for it, which is no relief.
    """
    if not hardly_worth_it(danger, call) or danger.answer in ("done", "skip"):
        return False
    act_by = danger.spoken_act_by or danger.starts
    return between(now, act_by) > timedelta(0) and between(now, danger.starts) > timedelta(0)
