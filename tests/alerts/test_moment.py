"""One message per moment: rounds, the season's plan and what is asked for do not come side by side."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest

from carewatch.alerts.call import TreeCall
from carewatch.alerts.danger import Danger, Notice
from carewatch.alerts.moment import MORE, with_rounds
from carewatch.alerts.plan import Plan, plan
from carewatch.alerts.rounds import Rounds, rounds_of
from carewatch.alerts.wording import LONGEST
from carewatch.daemon.season import TOLD, SeasonKnown, with_season
from carewatch.sqlite.facts import Fact
from tests.alerts.made import RULES, at, call, kinds
from tests.alerts.test_seasons import task

SATURDAY = at(2, day=7)


def ahead(name: str = "elm") -> TreeCall:
    """A night in two days: something for the rounds."""
    return call(name, night=SATURDAY, act_by=at(15, 45, day=6))


def rounds(*calls: TreeCall, now: datetime) -> Rounds:
    """The rounds of a moment, of calls that nobody was told of."""
    return rounds_of(calls, (), (), RULES, now)


def made(*calls: TreeCall, now: datetime, standing: tuple[Danger, ...] = ()) -> Plan:
    """What the plan alone says."""
    return plan(calls, standing, (), RULES, now)


def test_rounds_with_nothing_beside_them_are_a_message_of_their_own() -> None:
    """Once a day."""
    told = with_rounds((), (), rounds(ahead(), now=at(7)), RULES)
    assert kinds(told) == ["rounds"]
    assert with_rounds((), told, rounds(ahead(), now=at(8)), RULES) == ()


def test_a_call_of_the_same_minute_brings_the_rounds_along() -> None:
    """Work in the morning: one message, with the danger of the other tree behind it and the own one said once."""
    early = call("maple", act_by=at(9), night=at(11))
    calls = (early, ahead())
    new = made(*calls, now=at(7)).notices
    told = with_rounds(new, (), rounds(*calls, now=at(7)), RULES)
    assert kinds(told) == ["call"]
    assert (told[0].id, told[0].title) == (new[0].id, new[0].title)
    assert told[0].body.startswith(new[0].body + "\n\nelm (lawn): frost Sat 7 Nov")
    assert told[0].body.count("maple") == 1
    # The same moment a second time, and an hour later: it was told.
    for hour in (7, 8):
        assert with_rounds((), told, rounds(*calls, now=at(hour)), RULES) == ()
    # The next morning has its own rounds.
    later = with_rounds(
        (), told, rounds(call("elm", night=at(2, day=9), act_by=at(15, day=8)), now=at(7, day=6)), RULES
    )
    assert kinds(later) == ["rounds"]


def test_a_call_of_the_night_does_not_take_the_place_of_the_rounds() -> None:
    """What was said before the hour of the rounds was said without them."""
    night = made(call("maple", severity="Severe", act_by=at(6), night=at(8)), now=at(4)).notices
    assert kinds(night) == ["call"]
    assert kinds(with_rounds((), night, rounds(ahead(), now=at(7)), RULES)) == ["rounds"]


def test_what_does_not_fit_is_left_to_the_rounds() -> None:
    """The call itself is never cut for it."""
    new = made(call("maple", act_by=at(9), night=at(11)), now=at(7)).notices
    body = new[0].body + "\n\n" + "x" * (LONGEST - len(new[0].body) - 40)
    many = rounds(*(ahead(f"a-tree-with-quite-a-long-name-{number}") for number in range(9)), now=at(7))
    (told,) = with_rounds((replace(new[0], body=body),), (), many, RULES)
    assert told.body == f"{body}\n\n{MORE}"
    assert len(told.body) <= LONGEST


def season(
    said: tuple[Notice, ...], new: tuple[Notice, ...], last: date, known: SeasonKnown, now: datetime
) -> tuple[Plan, dict[str, Fact]]:
    """The season's plan with one move."""
    tasks = [task("elm", about="shed", last=last)]
    return with_season(Plan((), new), tasks, known, 50.0, RULES, now, [*said, *new])


def test_the_rounds_ride_along_with_the_plan_for_the_winter_and_the_same_moment_again_is_silent() -> None:
    """At the hour of the rounds both have something to say."""
    known = SeasonKnown((), {})
    planned, facts = season((), (), date(2026, 11, 10), known, at(7))
    told = with_rounds(planned.notices, (), rounds(ahead(), now=at(7)), RULES)
    assert kinds(told) == ["season"]
    assert told[0].body.startswith("For the winter, by 10 Nov: carry elm into shed.")
    assert "elm (lawn): frost Sat 7 Nov" in told[0].body
    again, _ = season(told, (), date(2026, 11, 10), replace(known, told=("winter-place:2026",)), at(7))
    assert TOLD in facts
    assert with_rounds(again.notices, told, rounds(ahead(), now=at(7)), RULES) == ()


@pytest.mark.parametrize(("days", "said"), [(0, ["season"]), (1, ["season"]), (2, []), (5, [])])
def test_a_plan_with_days_left_waits_for_a_morning_without_work(days: int, said: list[str]) -> None:
    """One that presses is said beside the call."""
    now = at(7)
    called = made(call("maple", act_by=at(9), night=at(11)), now=now).notices
    last = now.date() + timedelta(days=days)
    known = SeasonKnown((), {})
    planned, _ = season((), called, last, known, now)
    assert kinds(planned.notices) == ["call", *said]
    # The same moment again: it still waits, and the next morning it is said.
    again, _ = season(called, (), last, known, now)
    assert kinds(again.notices) == said
    next_day, _ = season(called, (), max(last, date(2026, 11, 7)), known, at(7, day=6))
    assert kinds(next_day.notices) == ["season"]
