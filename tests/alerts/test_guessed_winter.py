"""A winter plan that rests on no record: it says so, and waits one day for the archive."""

from dataclasses import replace
from datetime import date

from carewatch.alerts.plan import Plan
from carewatch.daemon.season import GUESSED_SINCE, season_known, with_season
from carewatch.tasks.task import BY_REGION, GUESSED, Task
from tests.alerts.made import RULES, at
from tests.alerts.test_seasons import task


def resting_on(words: str) -> Task:
    """A move that is for now."""
    found = task(last=date(2026, 11, 1))
    return replace(found, reason=f"{found.reason} {words}")


def morning(facts: dict[str, str], move: Task, day: int) -> list[str]:
    """What is told of the season in the morning of a day, in an hour of the rounds; `facts` is brought up to date."""
    known = season_known(facts, [move])
    planned, changed = with_season(Plan((), ()), [move], known, 50.0, RULES, at(8, day=day), ())
    for name, value in changed.items():
        facts.pop(name, None)
        if value is not None:
            facts[name] = str(value)
    return [notice.body for notice in planned.notices]


def test_a_guess_waits_one_day_for_the_record_and_is_then_told_as_one() -> None:
    """Not longer: its own date may be past."""
    facts: dict[str, str] = {}
    assert morning(facts, resting_on(GUESSED), 5) == []
    assert morning(facts, resting_on(GUESSED), 5) == []
    (body,) = morning(facts, resting_on(GUESSED), 6)
    assert GUESSED in body
    assert morning(facts, resting_on(GUESSED), 7) == []


def test_once_the_record_is_there_the_plan_is_told_by_it() -> None:
    facts: dict[str, str] = {}
    morning(facts, resting_on(GUESSED), 5)
    (body,) = morning(facts, resting_on(""), 5)
    assert "on record" not in body
    assert GUESSED_SINCE not in facts


def test_what_the_latitude_tells_is_told_at_once_and_as_that() -> None:
    (body,) = morning({}, resting_on(BY_REGION), 5)
    assert BY_REGION in body
    assert GUESSED not in body
