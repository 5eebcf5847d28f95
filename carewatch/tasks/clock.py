"""The long clock of a garden: every task of every tree, how it stands, and its kindest days."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.care.whole_log import seen_dead
from carewatch.condition.numbers import ConditionNumbers
from carewatch.forecast.history import DailyHistory
from carewatch.forecast.weather import Array, DayMeans, Weather
from carewatch.measures.timing import local_times
from carewatch.tasks.ahead import before_this_half, continued, hot_spell_k, usual_mean_c
from carewatch.tasks.kindest import DayAhead, days_ahead, foreseen_means, kindest
from carewatch.tasks.layers import first_root_work, sleeves
from carewatch.tasks.numbers import TaskNumbers
from carewatch.tasks.outside import outside_of
from carewatch.tasks.prospect import AHEAD_DAYS, Prospect, prospects, stands_at
from carewatch.tasks.quarters import winter_plan
from carewatch.tasks.season import feeding, pastes, sacrifices, shades, turning, wires
from carewatch.tasks.spring import moved_in, spring_out
from carewatch.tasks.summer import summer_plan
from carewatch.tasks.task import BANK, ONLY_IN_TIME, Draft, KindDay, Task, by_urgency
from carewatch.tasks.ties import tie_check, untie
from carewatch.tasks.uncover import uncovering

PUT_OFF = "put-off"


@dataclass(frozen=True)
class Ahead:
    """
    What the long clock looks at.

    whole: the daily past with the days ahead. days: of the forecast, none without one. found: the trees.
    """

    whole: DailyHistory
    days: tuple[DayAhead, ...]
    found: tuple[Prospect, ...]


def looked_ahead(
    garden: Garden,
    numbers: ConditionNumbers,
    history: DailyHistory,
    now: datetime,
    weather: Weather | None = None,
    trees: Iterable[str] | None = None,
) -> Ahead:
    """
    The garden's trees, or those that are named, carried some eighteen months ahead.

    history: up to today; now: aware.
    weather: a forecast, or None: then the days ahead are those of the season alone, and none is known to be kind.
    """
    site = garden.site
    zone = ZoneInfo(site.time_zone)
    days: tuple[DayAhead, ...] = ()
    foreseen: DayMeans | None = None
    if weather is not None:
        local = local_times(weather.ahead.times, zone)
        days, foreseen = days_ahead(weather, local), foreseen_means(weather, local)
    whole = continued(history, AHEAD_DAYS, site, foreseen)
    here = now.astimezone(zone)
    return Ahead(whole, days, prospects(garden, numbers, whole, here, trees))


def tasks_of(
    ahead: Ahead, garden: Garden, numbers: TaskNumbers, history: DailyHistory, now: datetime
) -> tuple[Task, ...]:
    """
    Every task of these trees, the most urgent first.

    ahead: of the whole garden, since room in winter quarters is shared; history: up to today; now: aware.
    """
    site = garden.site
    today = now.astimezone(ZoneInfo(site.time_zone)).date()
    alive = [prospect for prospect in ahead.found if seen_dead(prospect.log) is None]
    known = [entry for entry in garden.log if entry.at <= now]
    days = ahead.whole.days
    # The winter or summer that is under way does not move the date by which it had to be prepared for.
    autumn = before_this_half(history, site.latitude, dark=True)
    spring = before_this_half(history, site.latitude, dark=False)
    outside = outside_of(autumn, days, _foreseen_c(ahead), site, numbers)
    drafts: list[tuple[Prospect, Draft]] = [
        (prospect, draft) for prospect in alive for draft in _own(prospect, garden, known, numbers)
    ]
    winter = list(winter_plan(alive, garden, outside, numbers))
    planned = {prospect.tree.id for prospect, draft in winter if draft.about in garden.places}
    banked = {prospect.tree.id for prospect, draft in winter if draft.about == BANK}
    drafts += winter
    hot_k = hot_spell_k(spring, site, numbers.summer_spell_k)
    usual_c = usual_mean_c(spring, days, site)
    drafts += summer_plan(alive, garden, usual_c, hot_k, numbers)
    for prospect in alive:
        moved = moved_in(prospect, garden.places, numbers)
        out = spring_out(prospect, garden, ahead.whole.mean_c, numbers, prospect.tree.id in planned)
        drafts += [(prospect, draft) for draft in (moved, out) if draft is not None]
        uncovered = uncovering(prospect, ahead.whole.mean_c, numbers, prospect.tree.id in banked)
        drafts += [(prospect, draft) for draft in uncovered]
    tasks = [_standing(prospect, draft, ahead.days, numbers, today) for prospect, draft in drafts]
    return tuple(sorted((task for task in tasks if task is not None), key=by_urgency))


def _foreseen_c(ahead: Ahead) -> Array:
    """Daily means of the days that the forecast knows, NaN on all others. [°C]"""
    on = np.array([day.on for day in ahead.days], dtype="datetime64[D]")
    found: Array = np.where(np.isin(ahead.whole.days, on), ahead.whole.mean_c, np.nan)
    return found


def _own(prospect: Prospect, garden: Garden, log: Sequence[Entry], numbers: TaskNumbers) -> Iterable[Draft]:
    """Tasks that a tree has by itself."""
    yield from tie_check(prospect, numbers)
    yield from untie(prospect, numbers)
    yield from first_root_work(prospect, numbers)
    yield from sleeves(prospect, log, numbers)
    yield from wires(prospect, numbers)
    yield from sacrifices(prospect, garden.site.latitude, numbers)
    yield from shades(prospect, garden.places, numbers)
    yield from feeding(prospect, numbers)
    yield from pastes(prospect, numbers)
    yield from turning(prospect, garden.places, numbers)


def _standing(
    prospect: Prospect, draft: Draft, days: Sequence[DayAhead], numbers: TaskNumbers, today: date
) -> Task | None:
    """A draft as it stands today, or None when it is no more to be told of."""
    put_off_to = _put_off_to(prospect.log, draft, numbers)
    state = _state(draft, put_off_to, numbers, today)
    if state is None:
        return None
    rule = numbers.kindest.get(draft.kind)
    kind: tuple[KindDay, ...] = ()
    unkind = ""
    if rule is not None and state in ("overdue", "due", "soon", "put-off"):
        begin = max(draft.first, today, put_off_to if state == "put-off" and put_off_to else today)
        end = draft.last if state in ("due", "soon") else max(draft.last, begin + timedelta(days=numbers.soon_days))
        kind, unkind = kindest(days, rule, begin, end, state == "overdue")
    return Task(
        tree=prospect.tree.id,
        place=stands_at(prospect.tree, prospect.log),
        kind=draft.kind,
        about=draft.about,
        first=draft.first,
        best=draft.best,
        last=draft.last,
        reason=draft.reason,
        moves=draft.moves,
        state=state,
        done_on=draft.done_on if state == "done" else None,
        put_off_to=put_off_to if state == "put-off" else None,
        source=draft.source,
        kindest=kind,
        unkind=unkind,
        stays=draft.stays,
    )


def _state(draft: Draft, put_off_to: date | None, numbers: TaskNumbers, today: date) -> str | None:
    kept = timedelta(days=numbers.kept_days)
    if draft.done_on is not None:
        return "done" if draft.done_on + kept >= today else None
    if put_off_to is not None and put_off_to > today:
        return PUT_OFF
    if today > draft.last:
        gone = draft.kind in ONLY_IN_TIME and today > draft.last + kept
        return None if gone else "overdue"
    if today >= draft.first:
        return "due"
    return "soon" if draft.first <= today + timedelta(days=numbers.soon_days) else "later"


def _put_off_to(log: Iterable[Entry], draft: Draft, numbers: TaskNumbers) -> date | None:
    """Until when the log puts a task off, by its newest word on it."""
    found = None
    for entry in log:
        if entry.work == PUT_OFF and entry.measure == draft.kind and entry.branch in (None, draft.about or None):
            found = entry.due or entry.at.date() + timedelta(days=numbers.put_off_days)
    return found
