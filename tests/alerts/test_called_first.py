"""A call for the coming nights goes before the winter plan, which waits, but neither for good nor past its date."""

import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest

from carewatch.alerts.called_first import called_first
from carewatch.alerts.danger import Danger, Notice
from carewatch.alerts.farewell import Known
from carewatch.alerts.identity import dangers_of
from carewatch.alerts.plan import Plan
from carewatch.alerts.rounds import rounds_of
from carewatch.daemon.season import (
    NAMED,
    NO_SHELTERS,
    PROMISED,
    TOLD,
    SeasonKnown,
    as_told,
    season_known,
    with_season,
    without_told,
)
from carewatch.tasks.task import BANK, Task
from tests.alerts.made import RULES, Watch, at, call, kinds
from tests.alerts.test_seasons import task

KEY = "winter-place:2026"
SHELTERS = {"olive": ("shed", "frame")}
EIGHT = at(8)
TODAY, SOON = date(2026, 11, 5), date(2026, 11, 9)


class Clerk:
    """Keeps what is remembered from one morning to the next, as the database does."""

    def __init__(self) -> None:
        self.facts: dict[str, str] = {}

    def morning(
        self,
        tasks: Sequence[Task],
        called: Collection[str] = (),
        now: datetime = EIGHT,
        planned: Plan = Plan((), ()),  # noqa: B008 - frozen and empty
        shelters: Mapping[str, tuple[str, ...]] = NO_SHELTERS,
    ) -> list[Notice]:
        """The season's notices of a morning."""
        known = season_known(self.facts, tasks, shelters)
        told, facts = with_season(planned, tasks, known, 50.0, RULES, now, (), (), called)
        self.facts |= {name: str(value) for name, value in facts.items()}
        return [notice for notice in told.notices if notice.kind == "season"]


def names(notice: Notice) -> set[str]:
    """Trees of an order of the plan, not those that it leaves for later."""
    ordered = [line for line in notice.body.splitlines() if "bank " in line or "carry " in line]
    return {tree for tree in ("olive", "elm", "maple") if any(tree in line for line in ordered)}


def test_the_plan_waits_for_a_call_and_is_told_when_that_is_answered() -> None:
    """A shed too small: banked at seven, the olive would have to be dug out again at one."""
    clerk = Clerk()
    tasks = [task("olive", last=SOON), task("elm", about="shed", last=SOON)]
    assert clerk.morning(tasks, {"olive"}) == []
    assert TOLD not in clerk.facts
    (told,) = clerk.morning(tasks, (), at(8, day=6))
    assert names(told) == {"olive", "elm"}
    assert clerk.morning(tasks, (), at(8, day=7)) == []


@pytest.mark.parametrize(("last", "waits"), [(SOON, True), (TODAY + timedelta(1), False), (date(2026, 10, 20), False)])
def test_the_others_wait_with_it_but_not_beyond_the_day_before_their_date(last: date, waits: bool) -> None:
    found = Clerk().morning([task("olive", last=SOON), task("elm", about="shed", last=last)], {"olive"})
    assert [names(notice) for notice in found] == ([] if waits else [{"elm"}])


def test_what_a_plan_leaves_out_is_told_later_and_once() -> None:
    """The plan says that it does; the rest comes when the cold is over, under the same winter."""
    clerk = Clerk()
    tasks = [task("olive", last=TODAY), task("elm", about="shed", last=TODAY), task("maple", last=SOON)]
    (first,) = clerk.morning(tasks, {"olive", "maple"})
    assert "maple and olive wait: what the cold of the next days asks for comes first" in first.body
    assert json.loads(clerk.facts[PROMISED]) == {"maple": KEY, "olive": KEY}
    assert clerk.morning(tasks, {"olive", "maple"}, at(8, day=6)) == []
    (rest,) = clerk.morning(tasks, (), at(8, day=7))
    assert names(rest) == {"olive", "maple"}
    assert rest.id != first.id
    assert json.loads(clerk.facts[PROMISED]) == {}
    assert clerk.morning(tasks, (), at(8, day=8)) == []


def test_of_what_was_left_out_one_may_be_called_again() -> None:
    clerk = Clerk()
    tasks = [task("olive", last=TODAY), task("elm", about="shed", last=TODAY), task("maple", last=TODAY)]
    clerk.morning(tasks, {"olive", "maple"})
    (rest,) = clerk.morning(tasks, {"maple"}, at(8, day=7))
    assert names(rest) == {"olive"}
    assert json.loads(clerk.facts[PROMISED]) == {"maple": KEY}
    (last,) = clerk.morning(tasks, (), at(8, day=9))
    assert names(last) == {"maple"}


def test_another_winter_keeps_no_promise_of_the_last() -> None:
    clerk = Clerk()
    clerk.facts = {TOLD: json.dumps([KEY]), PROMISED: json.dumps({"olive": "winter-place:2025"})}
    assert clerk.morning([task("olive", last=TODAY)]) == []


def brought_back(quarters: dict[str, str]) -> tuple[Plan, SeasonKnown]:
    """A plan that calls an olive back from the shed, and what is known of its winter."""
    watch = Watch()
    watch.look(at(13), call("olive", measure="move:shed", severity="Severe"))
    watch.answer("done")
    planned = watch.look(at(12, day=7))
    assert kinds(planned.notices) == ["bring-back"], planned.notices
    return planned, SeasonKnown((), quarters)


def test_a_place_that_was_named_on_the_way_back_is_not_told_again() -> None:
    """Nothing else is left to tell: the plan of this winter counts as told."""
    planned, known = brought_back({"olive": "plunge"})
    _, facts = with_season(planned, (), known, 50.0, RULES, at(12, day=7), planned.notices)
    assert json.loads(str(facts[NAMED])) == {"olive": KEY}
    clerk = Clerk()
    clerk.facts = {name: str(value) for name, value in facts.items()}
    assert clerk.morning([task("olive", last=TODAY)], (), at(8, day=8)) == []
    assert json.loads(clerk.facts[TOLD]) == [KEY]


def test_a_tree_that_was_brought_back_before_its_place_was_known_is_in_the_plan() -> None:
    planned, known = brought_back({})
    _, facts = with_season(planned, (), known, 50.0, RULES, at(12, day=7), planned.notices)
    assert NAMED not in facts
    others = Clerk()
    others.facts = {NAMED: json.dumps({"olive": KEY})}
    (told,) = others.morning([task("olive", last=SOON), task("elm", about="shed", last=SOON)], (), at(8, day=8))
    assert names(told) == {"elm"}


COLD = call("olive", measure="move:shed")


def answered(answer: str) -> Danger:
    """The olive's frost with an answer."""
    (danger,) = dangers_of(COLD, (), at(8))
    return replace(danger, answer=answer)


def test_who_is_called_first() -> None:
    """Work against cold, or a carry, within a day and a half, not refused; or done, while the cold goes on."""
    gale = replace(call("olive", measure="fleece", hazard="wind"))
    for given, standing, first in (
        (COLD, (), True),
        (call("olive", measure=BANK), (), True),
        (replace(COLD, act_by=at(15, day=7)), (), False),
        (replace(COLD, act_by=at(19, day=6)), (), True),
        (replace(COLD, act_by=at(6)), (), True),
        (replace(COLD, in_force=True), (), True),
        (replace(COLD, in_force=True, undo_at=at(9, day=12)), (), False),
        (replace(COLD, in_force=True, undo_at=None), (), False),
        (replace(COLD, in_force=True, spells=(replace(COLD.spells[0], loss=0.001),)), (), False),
        (replace(COLD, measure=""), (), False),
        (COLD, (answered("skip"),), False),
        (COLD, (answered("later"),), True),
        (gale, (), False),
        (replace(gale, measure="move:shed"), (), True),
    ):
        assert called_first([given], standing, at(8)) == ({"olive"} if first else set()), given


def test_the_rounds_do_not_ask_for_a_winter_place_of_a_tree_that_is_called_first() -> None:
    """The same contradiction, in another message."""
    due = [task("olive", last=TODAY, state="due"), task("elm", last=TODAY, state="due")]
    assert [found.tree for found in rounds_of([COLD], (), (), RULES, at(8), tasks=due).tasks] == ["elm"]
    over = replace(COLD, in_force=True, spells=(replace(COLD.spells[0], loss=0.001),))
    assert len(rounds_of([over], (), (), RULES, at(8), tasks=due).tasks) == 2


def test_a_call_that_carries_a_layer_near_its_rest_brings_it_to_its_winter_place() -> None:
    """Known before it is carried, so that the call can say "leave it there"; kept outside of the rounds' hours."""
    clerk = Clerk()
    clerk.morning([task("olive", last=SOON), task("elm", about="shed", last=SOON)], shelters=SHELTERS)
    known = season_known(clerk.facts, ())
    assert known.quarters_by([]) == {"olive": "plunge", "elm": "shed"}
    assert known.quarters_by([COLD])["olive"] == "shed"
    assert known.quarters_by([replace(COLD, measure="mulch+move:frame")])["olive"] == "frame"
    for other in (replace(COLD, measure="move:wall"), replace(COLD, measure="fleece"), replace(COLD, tree="elm")):
        assert known.quarters_by([other]) == {"olive": "plunge", "elm": "shed"}


def test_a_layer_of_which_the_winter_plan_has_no_order_is_brought_to_its_winter_place_as_well() -> None:
    """Else its call said "it may come back", and the rounds of the next day that it stays."""
    clerk = Clerk()
    clerk.morning([task("elm", "tie-check", "")], shelters=SHELTERS)
    known = season_known(clerk.facts, ())
    assert known.quarters_by([]) == {}
    watch = Watch()
    told = watch.look(at(13), COLD, known=Known(layers={"olive"}, quarters=known.quarters_by([COLD]))).notices[0]
    assert "That is the winter place of olive: leave it there." in told.body
    assert "may come back" not in told.body


def test_a_date_that_was_told_comes_nearer_or_stays_and_never_moves_away() -> None:
    """Roots are reckoned anew each day; what is overdue stays overdue since the day that was named."""
    clerk = Clerk()
    clerk.morning([task("elm", about="shed", last=SOON)])
    known = season_known(clerk.facts, ())
    later, sooner = (task("elm", about="shed", last=SOON + timedelta(days)) for days in (4, -2))
    (kept,) = as_told([later], known, 50.0, date(2026, 11, 8))
    assert (kept.last, kept.state) == (SOON, "soon")
    (kept,) = as_told([later], known, 50.0, date(2026, 11, 11))
    assert (kept.last, kept.state) == (SOON, "overdue")
    assert as_told([sooner], known, 50.0, TODAY) == (sooner,)
    next_winter = task("elm", about="shed", last=date(2027, 11, 20))
    done = replace(later, state="done")
    assert as_told([next_winter, done], known, 50.0, TODAY) == (next_winter, done)


def test_dates_that_cannot_be_read_are_none() -> None:
    """What is broken in the store must not keep the day's judgement from being said."""
    known = season_known({"season.dates": '{"elm": "soon"}'}, ())
    elm = task("elm", about="shed", last=SOON)
    assert as_told([elm], known, 50.0, TODAY) == (elm,)
    assert without_told([elm], (), known, TODAY) == (elm,)


def test_what_the_plan_told_is_in_the_rounds_at_its_date_and_once_a_week() -> None:
    """After the plan only its breaches speak: a list that comes daily is not read."""
    clerk = Clerk()
    elm, other = task("elm", about="shed", last=SOON), task("maple", about="shed", last=SOON)
    clerk.morning([elm])
    known = season_known(clerk.facts, ())
    told = {day: [found.tree for found in without_told([elm, other], (), known, day)] for day in november(5, 17)}
    # 9 and 16 November are Mondays.
    assert [day.day for day, trees in told.items() if "elm" in trees] == [8, 9, 16]
    assert all("maple" in trees for trees in told.values())
    next_winter = task("elm", about="shed", last=date(2027, 11, 9))
    assert without_told([next_winter], (), known, date(2027, 11, 2)) == (next_winter,)


def november(first: int, last: int) -> list[date]:
    """Days of November 2026, both included."""
    return [date(2026, 11, day) for day in range(first, last + 1)]
