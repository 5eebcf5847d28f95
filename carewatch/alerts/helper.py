"""A page for whoever looks after the trees while the grower is away: plain, complete, readable without a phone."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from carewatch.alerts.away import Absence, absence_of
from carewatch.alerts.call import TreeCall
from carewatch.alerts.measure_words import STATES
from carewatch.alerts.messages import for_place
from carewatch.alerts.reasons import danger_name, reason
from carewatch.alerts.rounds import Begun
from carewatch.alerts.seasons import WINTER
from carewatch.alerts.wording import DAYS, MONTHS, chance, clock_time, lifts, listed, measure_name, undo
from carewatch.care.garden import NoticeRules
from carewatch.measures.catalogue import parts_of
from carewatch.tasks.task import Task
from carewatch.tasks.wording import short_day

# Without an absence the page is for the days from now on. Judged.
USUAL_DAYS = 7
IF_A_MESSAGE_COMES = (
    "If a message from carewatch is passed on to you, do what its first line says, by the time it says; it is newer "
    "than this page."
)
NOTHING = "As far as the forecast reaches, nothing has to be done for the trees in these days. Water as you were told."
CAREFUL = "Nobody has to be hurt for a tree: no ladder, no ice, no covers held in a gale, heavy pots in twos."


@dataclass(frozen=True)
class HelperPlace:
    """One place of the garden with its instructions, in the order in which they fall due."""

    place: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class HelperPage:
    """
    The page.

    first, last: days that it is for, both included. ends: sentences that stand at the end.
    """

    first: date
    last: date
    places: tuple[HelperPlace, ...]
    ends: tuple[str, ...]

    @property
    def title(self) -> str:
        """For whom and for which days."""
        return f"For whoever looks after the trees, {_day(self.first)} to {_day(self.last)}"


def helper_page(
    calls: Sequence[TreeCall], in_place: Sequence[Begun], tasks: Sequence[Task], rules: NoticeRules, now: datetime
) -> HelperPage:
    """
    The page for the absence that lasts or comes next, else for the next days.

    calls: of one assessment. in_place: what is in force by the log. tasks: of the long clock. now: in the site's zone.
    """
    away = absence_of(now, rules) or _next_days(now)
    first = max(away.first, now.date())
    places: dict[str, list[str]] = {}
    for item in sorted(in_place, key=lambda item: (item.place, item.tree)):
        place, said = _in_place(item)
        places.setdefault(place, []).append(said)
    asked = [
        call
        for call in calls
        if not call.in_force and first <= max(call.act_by, now).date() <= away.last and call.measure
    ]
    for members in _alike(asked):
        places.setdefault(members[0].place, []).extend(_instruction(members, now))
    for call in calls:
        begun = call.in_force or call.act_by.date() < first
        if call.measure and begun and call.undo_at is not None and first <= call.undo_at.date() <= away.last:
            what = f"{call.tree} ({measure_name(call.measure)}): {_with_day(call, call.undo_at, now)}"
            places.setdefault(call.place, []).append(what)
    for task in tasks:
        # Winter places wait for the grower.
        if task.kind != WINTER and task.state in ("due", "overdue", "soon") and first <= task.last <= away.last:
            places.setdefault(task.place, []).append(f"{task.tree}: {task.title}, until {short_day(task.last)}.")
    cautions = tuple(dict.fromkeys(call.caution for call in asked if call.caution))
    nothing = () if places else (NOTHING,)
    found = tuple(HelperPlace(place, tuple(lines)) for place, lines in sorted(places.items()))
    return HelperPage(first, away.last, found, (*nothing, *cautions, CAREFUL, IF_A_MESSAGE_COMES))


def _in_place(item: Begun) -> tuple[str, str]:
    """Where a tree stands, and what was done for it, to be left as it is."""
    kind, _, place = item.measure.partition(":")
    if kind == "move":
        return place, f"{item.tree} stands in {place} on purpose: leave it there."
    state = listed([STATES[part] for part in parts_of(item.measure)])
    return item.place, f"{item.tree} {state}, on purpose: leave it so."


def page_lines(page: HelperPage, site: str) -> list[str]:
    """The page as lines of text, an empty one between its parts."""
    lines = [page.title, site]
    for place in page.places:
        lines += ["", place.place, *(f"  {line}" for line in place.lines)]
    return [*lines, "", *page.ends]


def _next_days(now: datetime) -> Absence:
    return Absence(now.date(), now.date() + timedelta(days=USUAL_DAYS), now)


def _alike(calls: Sequence[TreeCall]) -> list[list[TreeCall]]:
    found: dict[tuple[str, str, bool, date], list[TreeCall]] = {}
    for call in sorted(calls, key=lambda call: (call.act_by, call.place, call.tree)):
        found.setdefault((call.place, call.measure, call.layer, call.act_by.date()), []).append(call)
    return list(found.values())


def _instruction(calls: Sequence[TreeCall], now: datetime) -> list[str]:
    """What to do by when, why, and when to undo it: days by name, because the page is read on another day."""
    lead = max(calls, key=lambda call: call.standing_loss)
    act_by = min(call.act_by for call in calls)
    (deed,) = for_place(calls)
    spell = lead.worst
    far = _named_days(now)
    why = reason(spell, far, lead.layer, lead.measure)
    who = f"{lead.tree}: {why[0].lower()}{why[1:]}" if len(calls) > 1 else why
    lines = [
        f"{_day(act_by.date())}, before {clock_time(act_by)}: {deed}.",
        f"  {danger_name(spell).capitalize()}, {chance(spell.probability)}. {who}",
    ]
    if lead.layer and not lifts(lead.measure):
        lines.append("  Do not lift or shift these pots.")
    end = undo(lead.measure, lead.undo_at, far, act_by, lead.shut_at, len(calls))
    if lead.undo_at is not None and end:
        lines.append(f"  {end}")
    return lines


def _with_day(call: TreeCall, moment: datetime, now: datetime) -> str:
    end = undo(call.measure, moment, _named_days(now), now, call.shut_at)
    return end or f"{measure_name(call.measure)} ends {_day(moment.date())}."


def _named_days(now: datetime) -> datetime:
    """A moment from which every day is called by its name: read days later, "tomorrow" would be another day."""
    return datetime.combine(date(1970, 1, 1), time(0), tzinfo=now.tzinfo)


def _day(day: date) -> str:
    return f"{DAYS[day.weekday()]} {day.day} {MONTHS[day.month - 1]}"
