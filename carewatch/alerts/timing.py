"""When to speak and by when to begin: waking hours, the work of the whole round, the last moment that leaves room."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from carewatch.alerts.call import TreeCall
from carewatch.care.garden import NoticeRules

# A person needs this much time between the buzz and the work: to notice, to get home, to fetch things. Judged.
NOTICE_AHEAD = timedelta(hours=3)
# With less than this between waking up and the work the call is made on the evening before. Judged.
LEAST_AHEAD = timedelta(hours=1)
# Whoever answered "later" is asked again this long before the work must begin. Judged.
ASK_AGAIN = timedelta(hours=1)
# Further ahead a danger is for the rounds alone, unless the work takes a day and the danger is this likely (design;
# judged).
ROUNDS_ONLY = timedelta(hours=36)
LIKELY_ENOUGH = 0.6
# A round is split over so many days at the most. Judged.
_MOST_DAYS = 7


@dataclass(frozen=True)
class Round:
    """
    Work that is done in one go.

    trees: ids, the most urgent first. begins: latest moment to begin it, in the site's zone. minutes: of work in all.
    """

    trees: tuple[str, ...]
    begins: datetime
    minutes: float


def shifted(moment: datetime, by: timedelta) -> datetime:
    """
    The moment so much real time later, in its own zone.

    Adding to a local time moves the hands of the clock: in a night that changes it, an hour too many or too few.
    """
    return (moment.astimezone(UTC) + by).astimezone(moment.tzinfo)


def between(first: datetime, last: datetime) -> timedelta:
    """Real time from one moment to another, also over a change of the clock; negative when the last comes first."""
    return last.astimezone(UTC) - first.astimezone(UTC)


def is_quiet(moment: datetime, rules: NoticeRules) -> bool:
    """
    True within the quiet hours of the site.

    moment: in the site's zone. Wall-clock times decide, so a night in which clocks change is quiet from the same hour
    to the same hour as any other.
    """
    wall = moment.timetz().replace(tzinfo=None)
    if rules.quiet_from == rules.quiet_to:
        return False
    if rules.quiet_from < rules.quiet_to:
        return rules.quiet_from <= wall < rules.quiet_to
    return wall >= rules.quiet_from or wall < rules.quiet_to


def quiet_ends(moment: datetime, rules: NoticeRules) -> datetime:
    """The next end of quiet hours after a moment, in the site's zone."""
    day = moment.date()
    if moment.timetz().replace(tzinfo=None) >= rules.quiet_to:
        day += timedelta(days=1)
    return datetime.combine(day, rules.quiet_to, tzinfo=moment.tzinfo)


def quiet_begins(moment: datetime, rules: NoticeRules) -> datetime:
    """The next beginning of quiet hours at or after a moment, in the site's zone."""
    day = moment.date()
    if moment.timetz().replace(tzinfo=None) > rules.quiet_from:
        day += timedelta(days=1)
    return datetime.combine(day, rules.quiet_from, tzinfo=moment.tzinfo)


def _quiet_began(moment: datetime, rules: NoticeRules) -> datetime:
    day = moment.date()
    if moment.timetz().replace(tzinfo=None) < rules.quiet_from:
        day -= timedelta(days=1)
    return datetime.combine(day, rules.quiet_from, tzinfo=moment.tzinfo)


def rounds_of_work(calls: Sequence[TreeCall], rules: NoticeRules) -> tuple[Round, ...]:
    """
    The work of these calls one after the other, each as late as it may be, in the order in which it must be done.

    A call's act-by leaves room for its own work alone. Two trees that both must be done by dusk cannot both be begun
    at the last minute: the work of all that hang together has to begin earlier by all of it (scheduling backwards from
    due times, earliest due first, which is feasible whenever any order is: Jackson 1955, from memory). Work that would
    reach into the night before is begun on the day before.
    """
    order = sorted(calls, key=lambda call: (_must_end(call), call.tree))
    found: list[Round] = []
    for call in reversed(order):
        end = _must_end(call)
        following = found[-1] if found else None
        if following is not None and following.begins.astimezone(UTC) < end:
            begins = _worked_back(following.begins, call, rules)
            found[-1] = Round((call.tree, *following.trees), begins, following.minutes + call.minutes)
        else:
            found.append(Round((call.tree,), call.act_by, call.minutes))
    return tuple(reversed(found))


def _must_end(call: TreeCall) -> datetime:
    return call.act_by.astimezone(UTC) + timedelta(minutes=call.minutes)


def _worked_back(end: datetime, call: TreeCall, rules: NoticeRules) -> datetime:
    """
    When the work of a call must begin to be done by `end`, nights left out.

    On each earlier day it ends at the hour by which the call must be done: dusk is then at about the same time.
    """
    left = timedelta(minutes=call.minutes)
    evening = _must_end(call).astimezone(end.tzinfo).timetz().replace(tzinfo=None)
    begins = shifted(end, -left)
    for _ in range(_MOST_DAYS):
        if is_quiet(end, rules) or not is_quiet(begins, rules):
            return begins
        morning = quiet_ends(_quiet_began(end, rules), rules)
        left -= max(timedelta(0), between(morning, end))
        end = datetime.combine(end.date() - timedelta(days=1), evening, tzinfo=end.tzinfo)
        begins = shifted(end, -left)
    return begins


def begins_of(calls: Sequence[TreeCall], rules: NoticeRules) -> dict[str, datetime]:
    """Per tree, the latest moment to begin the round that it belongs to; never later than its own act-by."""
    acts = {call.tree: call.act_by for call in calls}
    return {
        tree: min(found.begins, acts[tree], key=lambda moment: moment.astimezone(UTC))
        for found in rounds_of_work(calls, rules)
        for tree in found.trees
    }


def speak_from(begins: datetime, rules: NoticeRules) -> datetime:
    """
    From when on a call may be made: the last waking moment that leaves room to act.

    begins: latest moment to begin the work, in the site's zone. Three hours before it; where that falls into quiet
    hours, at their end if an hour is left then, else an hour before the quiet hours begin.
    """
    wanted = shifted(begins, -NOTICE_AHEAD)
    if not is_quiet(wanted, rules):
        return wanted
    morning = quiet_ends(wanted, rules)
    if between(morning, begins) >= LEAST_AHEAD:
        return morning
    return shifted(_quiet_began(wanted, rules), -LEAST_AHEAD)


def ask_again_from(said_at: datetime, begins: datetime, rules: NoticeRules) -> datetime:
    """
    When to ask again whoever answered "later": an hour before the work must begin, in waking hours.

    said_at: when it was told. Where that hour is past by then, half of what was left.
    """
    wanted = shifted(begins, -ASK_AGAIN)
    if is_quiet(wanted, rules):
        wanted = shifted(_quiet_began(wanted, rules), -ASK_AGAIN)
    if between(said_at, wanted) > timedelta(0):
        return wanted
    return shifted(said_at, between(said_at, begins) / 2)


def too_far(call: TreeCall, begins: datetime, now: datetime) -> bool:
    """Whether a danger is so far ahead that only the rounds tell of it."""
    if between(now, begins) > ROUNDS_ONLY:
        return True
    return between(now, call.act_by) > ROUNDS_ONLY and call.worst.probability < LIKELY_ENOUGH
