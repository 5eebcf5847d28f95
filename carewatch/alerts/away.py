"""Days on which nobody is there: what is done before, what is left to a helper, and how it is said."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from carewatch.alerts.call import TreeCall
from carewatch.alerts.messages import for_place
from carewatch.alerts.timing import NOTICE_AHEAD
from carewatch.alerts.wording import by_when, day_word, listed, undo
from carewatch.care.garden import NoticeRules
from carewatch.measures.catalogue import parts_of, row_name

# Measures that need hands again and again while they last: on and off with the night, aired, opened, poured (the hours
# in which they act, table of measures). They are for whoever comes; all others are done before leaving and stay.
NEEDS_HANDS = frozenset({"fleece", "fleece-heavy", "fleece-double", "humid-tent", "ventilate", "water", "shake-off"})
FOR_HELPER = "For your helper:"
PAGE = "`carewatch rounds --for-helper` prints a page for your helper."


@dataclass(frozen=True)
class Absence:
    """
    Days on which nobody is there.

    first, last: both included. told_from: when it is said what is to be done before, the day before the first.
    """

    first: date
    last: date
    told_from: datetime

    @property
    def eve(self) -> date:
        """The last day on which there are hands."""
        return self.first - timedelta(days=1)

    def covers(self, moment: datetime) -> bool:
        """Whether nobody is there at a moment, in the site's zone."""
        return self.first <= moment.date() <= self.last

    def speaks_early(self, call: TreeCall, now: datetime) -> bool:
        """Whether a call is made at the rounds of the last day before the absence, with all that is for that day."""
        return now.date() == self.eve and now >= self.told_from and call.act_by.date() == self.eve

    def words(self, now: datetime) -> str:
        """Such as "Fri 6 Nov to Sun 8 Nov"."""
        first, last = (
            day_word(datetime.combine(day, time(12), tzinfo=now.tzinfo), now) for day in (self.first, self.last)
        )
        return f"{first} to {last}" if self.first != self.last else first


def absence_of(now: datetime, rules: NoticeRules) -> Absence | None:
    """The absence that lasts or comes next, or None. Dates that touch are one. now: in the site's zone."""
    spans = sorted((first, last) for first, last in rules.away if first <= last and last >= now.date())
    if not spans:
        return None
    first, last = spans[0]
    for begins, ends in spans[1:]:
        if begins <= last + timedelta(days=1):
            last = max(last, ends)
    told_from = datetime.combine(first - timedelta(days=1), rules.rounds_at, tzinfo=now.tzinfo)
    return Absence(first, last, told_from)


def needs_hands(measure: str) -> bool:
    """Whether a measure wants somebody there while it lasts."""
    return any(row_name(part) in NEEDS_HANDS for part in parts_of(measure))


def before_leaving(call: TreeCall, away: Absence | None, now: datetime) -> TreeCall:
    """
    The call, to be acted on while somebody is still there.

    What needs no hands in between and would be due during an absence that has not begun is due on the day before it, at
    the same hour, so by daylight where that counts, and not before there was time for it.
    """
    if away is None or now.date() >= away.first or not away.covers(call.act_by) or needs_hands(call.measure):
        return call
    hour = call.act_by.timetz().replace(tzinfo=None)
    usual = datetime.combine(away.eve, hour, tzinfo=now.tzinfo)
    return replace(call, act_by=max(usual, away.told_from + NOTICE_AHEAD, now))


def remark(away: Absence | None, calls: Sequence[TreeCall], now: datetime) -> list[str]:
    """What an absence adds to a message: whom to ask, or that it is for before leaving; nothing otherwise."""
    if away is None:
        return []
    if away.covers(now):
        return [f"You are away ({away.words(now)}): ask your helper."]
    if any(away.speaks_early(call, now) for call in calls):
        ending = [call.tree for call in calls if _ends_without_hands(call, away)]
        asks = f" Taking it off {listed(ending)} falls into those days: ask your helper." if ending else ""
        return [f"You are away {away.words(now)}: this is for before you leave.{asks}"]
    return []


def _ends_without_hands(call: TreeCall, away: Absence) -> bool:
    """Whether what is done, or to be done, before an absence has to be undone in it."""
    undoes = bool(undo(call.measure, call.undo_at, call.act_by))
    return undoes and call.undo_at is not None and away.covers(call.undo_at) and not away.covers(call.act_by)


def eve_lines(calls: Sequence[TreeCall], away: Absence | None, now: datetime) -> list[str]:
    """
    What the rounds of the last day before an absence say of it: what to do before, what is for the helper.

    calls: of one assessment, as they are; empty on other days.
    """
    if away is None or now.date() != away.eve:
        return []
    lines = [f"You are away {away.words(now)}."]
    ahead = [
        call
        for call in calls
        if call.measure and not call.in_force and (away.covers(call.act_by) or call.act_by.date() == away.eve)
    ]
    before = [call for call in ahead if not needs_hands(call.measure)]
    lines += [f"Before you leave: {text}." for text in for_place(before)]
    for call in sorted((call for call in ahead if needs_hands(call.measure)), key=lambda call: call.act_by):
        (text,) = for_place([call])
        lines.append(f"{FOR_HELPER} {text} {by_when(call.act_by, now)}.")
    ending = [call for call in calls if call.measure and _ends_without_hands(call, away)]
    ends = [(call.tree, undo(call.measure, call.undo_at, now, shut_at=call.shut_at)) for call in ending]
    lines += [f"{FOR_HELPER} {tree}, {end[0].lower()}{end[1:]}" for tree, end in ends]
    if not ahead and not ending:
        lines.append("As far as the forecast reaches, nothing has to be done before or in those days.")
    return [*lines, PAGE]
