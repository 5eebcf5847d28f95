"""What is remembered of the plans for a season between cycles: who winters where, and which plans were told."""

import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from carewatch.alerts.away import absence_of
from carewatch.alerts.budget import may_say, said_today
from carewatch.alerts.danger import Notice
from carewatch.alerts.moment import is_taken
from carewatch.alerts.plan import Plan
from carewatch.alerts.seasons import SPRING, WINTER, presses, quarters_of, season_notice
from carewatch.care.garden import Garden, NoticeRules
from carewatch.sqlite.facts import Fact
from carewatch.tasks.task import Task

TOLD = "season.told"
QUARTERS = "season.quarters"
# A severed layer stands still for so long (common practice).
FIRST_YEAR = timedelta(days=365)


@dataclass(frozen=True)
class SeasonKnown:
    """told: keys of the plans that were told. quarters: as by `seasons.quarters_of`."""

    told: tuple[str, ...]
    quarters: Mapping[str, str]


def season_known(facts: Mapping[str, str], tasks: Sequence[Task]) -> SeasonKnown:
    """What is known, brought up to date where there are tasks: they come with the hours of the rounds only."""
    told, quarters = _read(facts, TOLD), _read(facts, QUARTERS)
    keys = tuple(str(key) for key in told) if isinstance(told, list) else ()
    before = {str(tree): str(place) for tree, place in quarters.items()} if isinstance(quarters, dict) else {}
    return SeasonKnown(keys, quarters_of(tasks, before) if tasks else before)


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
    plan included. endangered: trees in danger: the plan for spring waits while it would send one of them out. now: in
    the site's zone. Who is away is told of it on coming back.
    """
    facts: dict[str, Fact] = {QUARTERS: json.dumps(dict(known.quarters), sort_keys=True)} if tasks else {}
    away = absence_of(now, rules)
    if away is not None and away.covers(now):
        return planned, facts
    if any(task.kind == SPRING and task.tree in endangered for task in tasks):
        tasks = [task for task in tasks if task.kind != SPRING]
    found = season_notice(tasks, known.told, latitude, rules, now)
    if found is None or not may_say("season", "Minor", said_today(said, now)):
        return planned, facts
    notice, key = found
    if is_taken(said, rules, now) and not presses(tasks, now):
        return planned, facts
    facts[TOLD] = json.dumps(sorted({*known.told, key}))
    return replace(planned, notices=(*planned.notices, notice)), facts


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
