"""What is remembered of the plans for a season between cycles: who winters where, and which plans were told."""

import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from types import MappingProxyType

from carewatch.alerts.away import absence_of
from carewatch.alerts.budget import may_say, said_today
from carewatch.alerts.call import TreeCall
from carewatch.alerts.danger import Notice
from carewatch.alerts.listing import dated
from carewatch.alerts.messages import OF_WINTER
from carewatch.alerts.moment import is_taken
from carewatch.alerts.plan import Plan
from carewatch.alerts.rounds import TASKS_TOLD_ON
from carewatch.alerts.seasons import (
    COVERED,
    OPEN,
    SHADE,
    SPRING,
    WINTER,
    place_of,
    placed,
    presses,
    quarters_of,
    season_key,
    season_notice,
    to_tell,
    winter_key,
)
from carewatch.care.garden import Garden, NoticeRules
from carewatch.care.whole_log import MOVE
from carewatch.measures.catalogue import parts_of
from carewatch.sqlite.facts import Fact
from carewatch.tasks.task import GUESSED, LOOKS, Task, by_urgency

TOLD = "season.told"
QUARTERS = "season.quarters"
SHADED = "season.shaded"
NAMED = "season.named"
PROMISED = "season.promised"
GUESSED_SINCE = "season.guessed"
SHELTERS = "season.shelters"
DATES = "season.dates"
END_SHADE = "end-shade"
NO_SHELTERS: Mapping[str, tuple[str, ...]] = MappingProxyType({})
# Dates within this of each other are of one winter: half a year.
ONE_WINTER = timedelta(days=183)
# A severed layer stands still for so long (common practice).
FIRST_YEAR = timedelta(days=365)


@dataclass(frozen=True)
class SeasonKnown:
    """
    What was told and what the long clock wants.

    told: keys of the plans that were told. quarters: as by `seasons.quarters_of`. shaded: per tree that is to stand in
    shade now, the last day of that, as ISO text. named: per tree whose winter place was named when it was brought back,
    the key of that winter's plan. promised: the same of trees that a plan left for later. guessed: first day, ISO text,
    on which the winter plan was a guess for want of a record, "" where it was none the last time. shelters: per
    first-year layer that rests soon, the places in which it stays if it is brought there. dates: per tree, by when the
    winter plan that was told, or the rounds of the day before, want it in its place, as ISO text.
    """

    told: tuple[str, ...]
    quarters: Mapping[str, str]
    shaded: Mapping[str, str] = field(default_factory=dict)
    named: Mapping[str, str] = field(default_factory=dict)
    promised: Mapping[str, str] = field(default_factory=dict)
    guessed: str = ""
    shelters: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    dates: Mapping[str, str] = field(default_factory=dict)

    def quarters_by(self, calls: Sequence[TreeCall]) -> dict[str, str]:
        """The winter places, with those to which these calls carry layers: a layer is carried once."""
        carried = {
            call.tree: place
            for call in calls
            for place in self.shelters.get(call.tree, ())
            if f"{MOVE}{place}" in parts_of(call.measure)
        }
        return {**self.quarters, **carried}

    def date_of(self, task: Task) -> date | None:
        """By when the plan of this winter that was told wants a move made; None where it named none, or is no plan."""
        try:
            last = date.fromisoformat(self.dates.get(task.tree, "")) if task.kind == WINTER else None
        except ValueError:
            return None
        # That of another winter lies a year away, give or take weeks.
        return last if last is not None and abs(task.last - last) < ONE_WINTER else None

    def in_shade(self, today: date) -> frozenset[str]:
        """Trees that the long clock wants in shade today."""
        return frozenset(tree for tree, last in self.shaded.items() if last >= today.isoformat())


def season_known(
    facts: Mapping[str, str],
    tasks: Sequence[Task],
    shelters_now: Mapping[str, tuple[str, ...]] = NO_SHELTERS,
    places: Collection[str] | None = None,
) -> SeasonKnown:
    """
    What is known, brought up to date where there are tasks: they come with the hours of the rounds only.

    shelters_now: per first-year layer, as by `spring.shelters_by_layer`; they come with the tasks.
    places: of the garden: what was told of one that is gone does not stand. None: they all exist.
    """
    told = _read(facts, TOLD)
    keys = tuple(str(key) for key in told) if isinstance(told, list) else ()
    before, shaded, named, promised = (_texts(facts, name) for name in (QUARTERS, SHADED, NAMED, PROMISED))
    shelters = {tree: tuple(found.split(" ")) for tree, found in _texts(facts, SHELTERS).items()}
    if places is not None:
        before = {tree: place for tree, place in before.items() if place in (*COVERED, *places)}
    if tasks:
        before, shaded, shelters = quarters_of(tasks, before), _shaded(tasks), dict(shelters_now)
    dates = _texts(facts, DATES)
    return SeasonKnown(keys, before, shaded, named, promised, facts.get(GUESSED_SINCE, ""), shelters, dates)


def _texts(facts: Mapping[str, str], name: str) -> dict[str, str]:
    """What is kept per tree; nothing where it is none or broken."""
    found = _read(facts, name)
    return {str(tree): str(value) for tree, value in found.items()} if isinstance(found, dict) else {}


def _shaded(tasks: Sequence[Task]) -> dict[str, str]:
    """
    Per tree whose shade is to be up, the last day of it: until the long clock ends it, where it knows when.

    A task that is due or overdue says by when it should hang, and not until when: its end is not known yet.
    """
    found = {task.tree: task.last for task in tasks if task.kind == SHADE and task.state == "done"}
    found |= {task.tree: date.max for task in tasks if task.kind == SHADE and task.state in ("due", "overdue")}
    for task in tasks:
        if task.kind == END_SHADE and task.state in ("soon", "later") and task.tree in found:
            found[task.tree] = max(found[task.tree], task.first)
    ended = {task.tree for task in tasks if task.kind == END_SHADE and task.state in ("due", "overdue")}
    return {tree: last.isoformat() for tree, last in found.items() if tree not in ended}


def _read(facts: Mapping[str, str], name: str) -> object:
    try:
        found: object = json.loads(facts.get(name, "null"))
    except ValueError:
        return None
    return found


def with_season(
    planned: Plan,
    tasks: Sequence[Task],
    known: SeasonKnown,
    latitude: float,
    rules: NoticeRules,
    now: datetime,
    said: Sequence[Notice],
    endangered: Collection[str] = (),
    called: Collection[str] = (),
) -> tuple[Plan, dict[str, Fact]]:
    """
    The plan with the season's plan where one is to be told, and what is to be remembered.

    One that has days left waits for a morning on which nothing else is said. said: notices of the day, those of this
    plan included. endangered: trees in danger: the plan for spring waits while it would send one of them out, or one
    into a night of frost. called: trees of which a call for cold is due: the plan for the winter waits with them, and
    one day where it is a guess for want of a record.
    now: in the site's zone. Who is away is told of it on coming back.
    """
    named = {**known.named, **_named(planned, known, latitude, now.date())}
    facts: dict[str, Fact] = {} if named == known.named else {NAMED: json.dumps(named, sort_keys=True)}
    if tasks:
        facts[QUARTERS] = json.dumps(dict(known.quarters), sort_keys=True)
        facts[SHADED] = json.dumps(dict(known.shaded), sort_keys=True)
        shelters = {tree: " ".join(places) for tree, places in known.shelters.items()}
        facts[SHELTERS] = json.dumps(shelters, sort_keys=True)
    away = absence_of(now, rules)
    if away is not None and away.covers(now):
        return planned, facts
    if any(_not_yet_out(task, endangered, now.date()) for task in tasks):
        tasks = [task for task in tasks if task.kind != SPRING]
    if tasks:
        since = (known.guessed or now.date().isoformat()) if _is_guess(tasks) else ""
        facts[GUESSED_SINCE] = since or None
        if since == now.date().isoformat():
            # The archive gives a year of weather within hours: on the next day the plan may rest on it.
            tasks = [task for task in tasks if task.kind != WINTER]
    told = _Winter.of(tasks, known, named, called, latitude, now.date())
    plans = {*known.told, *([told.key] if told.settled else [])}
    # What is reminded of by its date is held to it from then on.
    near, _ = dated([task for task in tasks if task.state in ("due", "overdue")], now.date())
    facts |= _held_to([task for task in near if task.tree not in called], known)
    keys = [key for key in known.told if not (told.rest and key == told.key)]
    found = season_notice(told.tasks, keys, latitude, rules, now, told.later, told.rest)
    waits = found is None or not may_say("season", "Minor", said_today(said, now))
    if found is None or waits or (is_taken(said, rules, now) and not presses(told.tasks, now)):
        return planned, facts | _told(plans, known)
    notice, key = found
    if key == told.key:
        kept = {tree: winter for tree, winter in known.promised.items() if tree not in told.moves and winter == key}
        facts[PROMISED] = json.dumps({**kept, **dict.fromkeys(told.later, key)}, sort_keys=True)
        moves = [task for task in told.tasks if task.kind == WINTER and task.state in OPEN]
        facts |= _held_to([*near, *moves], known)
    return replace(planned, notices=(*planned.notices, notice)), facts | _told({*plans, key}, known)


def _told(plans: Collection[str], known: SeasonKnown) -> dict[str, Fact]:
    """The keys of the plans that were told, where they are more than before."""
    return {} if set(plans) == set(known.told) else {TOLD: json.dumps(sorted(plans))}


def _held_to(tasks: Sequence[Task], known: SeasonKnown) -> dict[str, Fact]:
    """What is remembered of moves that are told: by when and where to; it stands until another one is made."""
    if not tasks:
        return {}
    dates = {task.tree: task.last.isoformat() for task in tasks}
    places = {task.tree: place_of(task) for task in tasks}
    return {
        DATES: json.dumps({**known.dates, **dates}, sort_keys=True),
        QUARTERS: json.dumps({**known.quarters, **places}, sort_keys=True),
    }


@dataclass(frozen=True)
class _Winter:
    """
    The winter plan as it may be told today.

    tasks: of the long clock, with those moves into winter quarters that may be told. key: of the plan, "" where there
    is none. moves: trees that it names. later: trees that it leaves for later. rest: it is what a plan left for later.
    settled: nothing of it is left to tell, all its places were named when trees were brought back.
    """

    tasks: Sequence[Task]
    key: str = ""
    moves: frozenset[str] = frozenset()
    later: tuple[str, ...] = ()
    rest: bool = False
    settled: bool = False

    @classmethod
    def of(
        cls,
        tasks: Sequence[Task],
        known: SeasonKnown,
        named: Mapping[str, str],
        called: Collection[str],
        latitude: float,
        today: date,
    ) -> "_Winter":
        """The part that may be told. called: trees of which a call for cold is due."""
        meant = [task for task in tasks if task.kind == WINTER and task.state in OPEN]
        if not meant:
            return cls(tasks)
        key = season_key(WINTER, meant, latitude)
        others = [task for task in tasks if task.kind != WINTER]
        done = {tree for tree, winter in named.items() if winter == key}
        promised = {tree for tree, winter in known.promised.items() if winter == key}
        rest = key in known.told
        free, later = to_tell(meant, rest, promised, done, called, today)
        settled = not rest and {task.tree for task in meant} <= done
        return cls([*others, *free], key, frozenset(task.tree for task in free), later, rest, settled)


def _named(planned: Plan, known: SeasonKnown, latitude: float, today: date) -> dict[str, str]:
    """Trees whose winter place is named with this plan, since they are brought back, with the key of the winter."""
    back = {line.danger for notice in planned.notices if notice.kind == "bring-back" for line in notice.lines}
    return {
        danger.tree: winter_key(WINTER, today, latitude)
        for danger in planned.dangers
        if danger.id in back
        and danger.hazard in OF_WINTER
        and MOVE in (danger.spoken_measure or danger.measure)
        and known.quarters.get(danger.tree)
    }


def _not_yet_out(task: Task, endangered: Collection[str], today: date) -> bool:
    """Whether a tree that spring's plan would send out now is in danger, or has no kind day for it until tomorrow."""
    if task.kind != SPRING or task.state not in ("due", "overdue"):
        return task.kind == SPRING and task.tree in endangered
    kind_soon = any(day.on <= today + timedelta(days=1) for day in task.kindest)
    return task.tree in endangered or (not kind_soon and today <= task.last)


def as_told(tasks: Sequence[Task], known: SeasonKnown, latitude: float, today: date) -> tuple[Task, ...]:
    """
    The tasks with the dates and the places of the winter plan that was told, the most urgent first.

    Dates may come nearer, and never move away: the limit of roots is reckoned anew each day, and what is overdue stays
    so from the day that was named.
    """
    return tuple(sorted((_as_told(task, known, latitude, today) for task in tasks), key=by_urgency))


def _as_told(task: Task, known: SeasonKnown, latitude: float, today: date) -> Task:
    last = known.date_of(task)
    if last is None or task.state not in OPEN:
        return task
    if winter_key(WINTER, last, latitude) != winter_key(WINTER, task.last, latitude):
        return task
    task = placed(task, known.quarters.get(task.tree, ""))
    if task.last <= last:
        return task
    state = "overdue" if today > last else task.state
    return replace(task, first=min(task.first, last), best=min(task.best, last), last=last, state=state)


def without_told(tasks: Sequence[Task], notices: Sequence[Notice], known: SeasonKnown, today: date) -> tuple[Task, ...]:
    """
    The tasks for the rounds.

    In the hour in which a season's plan is told they need not tell of it too, and of a winter plan that was told they
    tell on the day before its date, on that day, and once a week. What the plan itself holds back for a day, as it is a
    guess, they do not tell either. A look can wait: it is told when it comes due, when it is overdue, and once a week.
    """
    told = any(notice.kind == "season" for notice in notices)
    weekly = today.weekday() == TASKS_TOLD_ON
    waits = known.guessed in ("", today.isoformat()) and _is_guess(tasks)
    return tuple(
        task
        for task in tasks
        if not (told and task.kind in (WINTER, SPRING))
        and not (waits and task.kind == WINTER)
        and (weekly or known.date_of(task) is None or today <= task.last <= today + timedelta(days=1))
        and (weekly or task.kind not in LOOKS or today in (task.first, task.last + timedelta(days=1)))
    )


def _is_guess(tasks: Sequence[Task]) -> bool:
    """Whether the winter plan rests on no record at all."""
    return any(task.kind == WINTER and GUESSED in task.reason for task in tasks)


def layers_of(garden: Garden, now: datetime) -> frozenset[str]:
    """Trees that are severed layers in their first year. garden: with the whole log."""
    ids = {tree.id for tree in garden.trees}
    return frozenset(
        entry.tree
        for entry in garden.log
        if entry.work == "sever-layer" and entry.tree in ids and timedelta(0) <= now - entry.at < FIRST_YEAR
    )
