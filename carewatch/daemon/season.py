"""What is remembered of the plans for a season between cycles: who winters where, and which plans were told."""

import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta

from carewatch.alerts.away import absence_of
from carewatch.alerts.budget import may_say, said_today
from carewatch.alerts.danger import Notice
from carewatch.alerts.moment import is_taken
from carewatch.alerts.plan import Plan
from carewatch.alerts.seasons import SHADE, SPRING, WINTER, presses, quarters_of, season_notice
from carewatch.care.garden import Garden, NoticeRules
from carewatch.sqlite.facts import Fact
from carewatch.tasks.task import Task

TOLD = "season.told"
QUARTERS = "season.quarters"
SHADED = "season.shaded"
END_SHADE = "end-shade"
# A severed layer stands still for so long (common practice).
FIRST_YEAR = timedelta(days=365)


@dataclass(frozen=True)
class SeasonKnown:
    """
    What was told and what the long clock wants.

    told: keys of the plans that were told. quarters: as by `seasons.quarters_of`. shaded: per tree that is to stand in
    shade now, the last day of that, as ISO text.
    """

    told: tuple[str, ...]
    quarters: Mapping[str, str]
    shaded: Mapping[str, str] = field(default_factory=dict)

    def in_shade(self, today: date) -> frozenset[str]:
        """Trees that the long clock wants in shade today."""
        return frozenset(tree for tree, last in self.shaded.items() if last >= today.isoformat())


def season_known(facts: Mapping[str, str], tasks: Sequence[Task]) -> SeasonKnown:
    """What is known, brought up to date where there are tasks: they come with the hours of the rounds only."""
    told, quarters = _read(facts, TOLD), _read(facts, QUARTERS)
    keys = tuple(str(key) for key in told) if isinstance(told, list) else ()
    before = {str(tree): str(place) for tree, place in quarters.items()} if isinstance(quarters, dict) else {}
    shades = _read(facts, SHADED)
    shaded = {str(tree): str(last) for tree, last in shades.items()} if isinstance(shades, dict) else {}
    if not tasks:
        return SeasonKnown(keys, before, shaded)
    return SeasonKnown(keys, quarters_of(tasks, before), _shaded(tasks))


def _shaded(tasks: Sequence[Task]) -> dict[str, str]:
    """Per tree whose shade is to be up, the last day of it: until the long clock ends it, where it knows when."""
    found = {task.tree: task.last for task in tasks if task.kind == SHADE and task.state in ("due", "overdue", "done")}
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
) -> tuple[Plan, dict[str, Fact]]:
    """
    The plan with the season's plan where one is to be told, and what is to be remembered.

    One that has days left waits for a morning on which nothing else is said. said: notices of the day, those of this
    plan included. endangered: trees in danger: the plan for spring waits while it would send one of them out, or one
    into a night of frost. now: in the site's zone. Who is away is told of it on coming back.
    """
    facts: dict[str, Fact] = {}
    if tasks:
        facts[QUARTERS] = json.dumps(dict(known.quarters), sort_keys=True)
        facts[SHADED] = json.dumps(dict(known.shaded), sort_keys=True)
    away = absence_of(now, rules)
    if away is not None and away.covers(now):
        return planned, facts
    if any(_not_yet_out(task, endangered, now.date()) for task in tasks):
        tasks = [task for task in tasks if task.kind != SPRING]
    found = season_notice(tasks, known.told, latitude, rules, now)
    if found is None or not may_say("season", "Minor", said_today(said, now)):
        return planned, facts
    notice, key = found
    if is_taken(said, rules, now) and not presses(tasks, now):
        return planned, facts
    facts[TOLD] = json.dumps(sorted({*known.told, key}))
    return replace(planned, notices=(*planned.notices, notice)), facts


def _not_yet_out(task: Task, endangered: Collection[str], today: date) -> bool:
    """Whether a tree that spring's plan would send out now is in danger, or has no kind day for it until tomorrow."""
    if task.kind != SPRING or task.state not in ("due", "overdue"):
        return task.kind == SPRING and task.tree in endangered
    kind_soon = any(day.on <= today + timedelta(days=1) for day in task.kindest)
    return task.tree in endangered or (not kind_soon and today <= task.last)


def without_told(tasks: Sequence[Task], notices: Sequence[Notice]) -> tuple[Task, ...]:
    """The tasks for the rounds: in the hour in which a season's plan is told they need not tell of it too."""
    told = any(notice.kind == "season" for notice in notices)
    return tuple(task for task in tasks if not told or task.kind not in (WINTER, SPRING))


def layers_of(garden: Garden, now: datetime) -> frozenset[str]:
    """Trees that are severed layers in their first year. garden: with the whole log."""
    ids = {tree.id for tree in garden.trees}
    return frozenset(
        entry.tree
        for entry in garden.log
        if entry.work == "sever-layer" and entry.tree in ids and timedelta(0) <= now - entry.at < FIRST_YEAR
    )
