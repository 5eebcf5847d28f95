"""The date of a winter place is told by itself on the day before it and on its day; looks can wait for a Monday."""

import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest

from carewatch.alerts.call import TreeCall
from carewatch.alerts.called_first import called_first
from carewatch.alerts.danger import Notice
from carewatch.alerts.moment import with_rounds
from carewatch.alerts.plan import Plan
from carewatch.alerts.rounds import rounds_message, rounds_notice, rounds_of
from carewatch.alerts.seasons import placed
from carewatch.alerts.wording import LONGEST
from carewatch.daemon.season import DATES, TOLD, SeasonKnown, as_told, season_known, with_season, without_told
from carewatch.tasks.task import BANK, GUESSED, WRAP, KindDay, Task
from tests.alerts.made import RULES, at, call, kinds
from tests.alerts.test_seasons import task

SOON = date(2026, 11, 13)


class Mornings:
    """What is said at eight, day after day, of the season alone; what is remembered goes from day to day."""

    def __init__(self, facts: dict[str, str] | None = None) -> None:
        self.facts = dict(facts or {})

    def at_eight(self, day: int, tasks: Sequence[Task], calls: Sequence[TreeCall] = ()) -> tuple[Notice, ...]:
        """The messages of a morning of November."""
        now = at(8, day=day)
        known = season_known(self.facts, tasks)
        due = as_told(tasks, known, 50.0, now.date())
        planned, facts = with_season(
            Plan((), ()), due, known, 50.0, RULES, now, (), (), called_first(calls, (), now, due)
        )
        self.facts |= {name: str(value) for name, value in facts.items() if value is not None}
        told = without_told(due, planned.notices, known, now.date())
        return with_rounds(planned.notices, (), rounds_of(calls, (), (), RULES, now, tasks=told), RULES)


def into_shed(last: date, today: date, tree: str = "elm") -> Task:
    """A move into the shed whose window is open, as it stands today."""
    return task(tree, about="shed", last=last, state="overdue" if today > last else "due")


def days_told(mornings: Mornings, last: Callable[[date], date], first: int = 4, end: int = 21) -> dict[int, list[str]]:
    """Per day of November on which something was said, the kinds of messages. last: the date as reckoned on a day."""
    told = {}
    for day in range(first, end):
        today = date(2026, 11, day)
        if notices := mornings.at_eight(day, [into_shed(last(today), today)]):
            told[day] = kinds(notices)
    return told


def test_the_date_is_told_by_itself_on_the_day_before_and_on_its_day() -> None:
    """13 November is a Friday: between the plan and the date lies one Monday, behind it another."""
    assert days_told(Mornings(), lambda _: SOON) == {
        4: ["season"],
        9: ["rounds"],
        12: ["rounds"],
        13: ["rounds"],
        16: ["rounds"],
    }


@pytest.mark.parametrize("told", [{}, {TOLD: '["winter-place:2026"]'}])
def test_a_date_that_runs_before_the_days_is_told_twice_at_the_most(told: dict[str, str]) -> None:
    """Each day reckons it for tomorrow: also a tree that stood in no plan is named on two days, and is then late."""
    found = days_told(Mornings(told), lambda today: max(today + timedelta(days=1), date(2026, 11, 6)), 5, 14)
    assert len([day for day in found if day != 9]) <= 2
    assert found


def test_the_first_line_says_what_and_by_when() -> None:
    """Enough on a lock screen; "nothing to carry today" would be the opposite."""
    known = {TOLD: '["winter-place:2026"]'}
    tasks = [into_shed(SOON, SOON), into_shed(SOON + timedelta(1), SOON, "oak"), task("fig", "uncover", state="due")]
    (notice,) = Mornings(known).at_eight(13, tasks)
    assert notice.title == "elm (lawn): into shed for the winter, by today."
    assert notice.body.splitlines()[1] == "oak (lawn): into shed for the winter, by tomorrow."
    assert "Nothing to carry" not in notice.body
    assert notice.body.count("elm (lawn)") == 1


def test_a_date_stands_before_what_lies_ahead_and_stays_where_there_is_no_room() -> None:
    """What protects a tree gives way last."""
    calls = [call(f"a-tree-with-a-long-name-{n}", night=at(2, day=15 + n), act_by=at(15, day=14 + n)) for n in range(9)]
    rounds = rounds_of(calls, (), (), RULES, at(8, day=13), tasks=[into_shed(SOON, SOON)])
    message = rounds_message(replace(rounds, stays=("pine (lawn): it stays where it is.",)))
    assert "elm (lawn): into shed for the winter, by today." in message.body
    assert len(message.body) <= LONGEST
    carrier = replace(rounds_notice(rounds, RULES) or pytest.fail("no rounds"), kind="call", body="x" * (LONGEST - 300))
    (loaded,) = with_rounds((carrier,), (), rounds, RULES)
    assert "elm (lawn): into shed for the winter, by today." in loaded.body
    assert "a-tree-with-a-long-name-8" not in loaded.body


def test_who_is_carried_today_anyway_is_not_reminded_of() -> None:
    """One order at a time."""
    carried = replace(call("elm", measure="move:shed"), layer=False)
    assert called_first([carried], (), at(8)) == {"elm"}
    rounds = rounds_of([carried], (), (), RULES, at(8), tasks=[into_shed(date(2026, 11, 5), date(2026, 11, 5))])
    assert rounds_notice(rounds, RULES) is None


def test_a_guess_that_waits_for_the_record_is_not_in_the_rounds_of_that_day_either() -> None:
    """The next day it is told as the plan."""
    mornings = Mornings()
    guess = replace(into_shed(date(2026, 11, 6), date(2026, 11, 5)), reason=f"Its roots are harmed. {GUESSED}")
    assert mornings.at_eight(5, [guess]) == ()
    assert kinds(mornings.at_eight(6, [guess])) == ["season"]


def test_what_was_told_is_asked_for_until_another_move_is_made() -> None:
    """The long clock would bank it by now; whoever made room in the shed is reminded of the shed."""
    mornings = Mornings()
    (plan,) = mornings.at_eight(9, [into_shed(SOON, date(2026, 11, 9))])
    assert "carry elm into shed" in plan.body
    banked = replace(task("elm", about=BANK, last=SOON, state="due"), reason="From −3 °C on it is harmed. Bank it.")
    (reminder,) = mornings.at_eight(12, [banked])
    assert reminder.title == "elm (lawn): into shed for the winter, by tomorrow."
    known = season_known(mornings.facts, [banked])
    (kept,) = as_told([banked], known, 50.0, date(2026, 11, 12))
    assert (kept.about, kept.reason) == ("shed", "From −3 °C on it is harmed. As it was told: into shed.")
    # What there is to cover a pot with is what there is today.
    wrapped = replace(banked, about=WRAP)
    assert placed(wrapped, "plunge") == wrapped
    assert placed(wrapped, "shed").about == "shed"
    # A shed that was taken out of the garden's file is no place any more.
    gone = season_known(mornings.facts, [banked], places=("lawn",))
    assert as_told([banked], gone, 50.0, date(2026, 11, 12)) == (banked,)


def test_the_plan_as_it_was_told_is_what_is_remembered_of_places() -> None:
    """A place that the long clock thought of in October is none that the grower heard of."""
    mornings = Mornings({"season.quarters": '{"elm": "frame"}'})
    mornings.at_eight(9, [into_shed(SOON, date(2026, 11, 9))])
    assert season_known(mornings.facts, ()).quarters == {"elm": "shed"}


def test_told_in_one_look_neither_plan_is_told_again() -> None:
    """All winter places were named on the way back, and spring brings others out: both are remembered."""
    known = SeasonKnown((), {}, named={"elm": "winter-place:2026"})
    kind = (KindDay(date(2026, 11, 5), ""),)
    out = replace(task("fig", "spring-out", "lawn", state="due"), first=date(2026, 11, 5), kindest=kind)
    moves = [into_shed(date(2026, 11, 5), date(2026, 11, 5)), out]
    planned, facts = with_season(Plan((), ()), moves, known, 50.0, RULES, at(8), ())
    assert kinds(planned.notices) == ["season"]
    assert json.loads(str(facts[TOLD])) == ["spring-out:2026", "winter-place:2026"]


LOOK = replace(task("elm", "tie-check", "", last=date(2026, 11, 12)), first=date(2026, 11, 5), state="due")


def test_a_look_is_told_when_it_comes_due_when_it_is_overdue_and_once_a_week() -> None:
    """A list that comes daily is not read; 9 and 16 November are Mondays."""
    known = SeasonKnown((), {})
    days = [date(2026, 11, day) for day in range(4, 20)]
    assert [day.day for day in days if without_told([LOOK], (), known, day)] == [5, 9, 13, 16]
    for kind in ("untie", "uncover", "second-shade", "sever"):
        asked = replace(LOOK, kind=kind)
        assert all(without_told([asked], (), known, day) for day in days), kind


def test_a_look_alone_is_a_message_on_mondays_only() -> None:
    def told(now: datetime) -> bool:
        tasks = without_told([LOOK], (), SeasonKnown((), {}), now.date())
        return rounds_notice(rounds_of((), (), (), RULES, now, tasks=tasks), RULES) is not None

    assert [day for day in range(4, 20) if told(at(8, day=day))] == [9, 16]


FAR = replace(call("elm", measure="move:shed", act_by=at(15, day=8), night=at(2, day=9)), layer=True)


def test_a_plan_waits_with_a_layer_that_a_likely_call_wants_elsewhere() -> None:
    """Carried once: banked by the plan, it would be dug out for the shed three days later."""
    bank = task("elm", about=BANK, last=SOON)
    shed = task("elm", about="shed", last=SOON)
    unlikely = replace(FAR, spells=(replace(FAR.spells[0], probability=0.3),))
    for given, move, first in (
        (FAR, bank, True),
        (FAR, shed, False),
        (replace(FAR, layer=False), bank, False),
        (unlikely, bank, False),
        (replace(FAR, measure="fleece"), bank, False),
        # What is due before that cold is not put off by it.
        (FAR, task("elm", about=BANK, last=date(2026, 11, 7)), False),
        (replace(FAR, act_by=at(15, day=10)), bank, False),
        (FAR, task("oak", about=BANK, last=SOON), False),
    ):
        assert called_first([given], (), at(8), [move]) == ({"elm"} if first else set()), (given, move)
    due = replace(bank, state="due")
    assert rounds_of([FAR], (), (), RULES, at(8), tasks=[due]).tasks == ()
    mornings = Mornings()
    assert kinds(mornings.at_eight(5, [due], [FAR])) == ["rounds"]
    assert DATES not in mornings.facts
    assert kinds(mornings.at_eight(6, [due])) == ["season"]
