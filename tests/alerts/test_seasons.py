"""The plans for a season: told once, in one list; what stands where it should is left in peace."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta

import pytest

from carewatch.alerts.seasons import quarters_of, season_key, season_notice
from carewatch.alerts.wording import LONGEST
from carewatch.daemon.season import QUARTERS, TOLD, season_known
from carewatch.tasks.task import BANK, WRAP, WRAP_HOLDS, Task
from tests.alerts.made import RULES, at


def task(
    tree: str = "maple",
    kind: str = "winter-place",
    about: str = BANK,
    last: date = date(2026, 11, 20),
    state: str = "soon",
) -> Task:
    """A move into or out of winter quarters."""
    return Task(
        tree=tree,
        place="lawn",
        kind=kind,
        about=about,
        first=last - timedelta(days=10),
        best=last,
        last=last,
        reason="From −3 °C on its young roots are harmed; where it stands a cold spell goes down to about −9 °C. "
        "Into shed.",
        moves="The first hard nights move it.",
        state=state,
        done_on=None,
        put_off_to=None,
        source="common practice",
    )


def test_the_winter_plan_is_one_list_that_is_told_once() -> None:
    """Who goes where by when, the reason of the most urgent; then never again in that winter."""
    tasks = [
        task("elm", about="shed"),
        task("oak", about="shed"),
        task("maple", last=date(2026, 11, 12)),
        task("wire", "wire-check"),
    ]
    found = season_notice(tasks, (), 50.0, RULES, at(8))
    assert found is not None
    notice, key = found
    assert notice.kind == "season"
    assert notice.title == "Winter places for 3 trees, the first by 12 Nov."
    assert notice.body.split("\n\n")[1].splitlines() == [
        "By 12 Nov: bank maple to the rim with bark or soil.",
        "By 20 Nov: carry elm and oak into shed.",
    ]
    assert "maple: from −3\u00a0°C on its young roots are harmed" in notice.body
    assert season_notice(tasks, (key,), 50.0, RULES, at(8, day=9)) is None
    assert season_notice(tasks, (key,), 50.0, RULES, at(8) + timedelta(days=60)) is None


def test_pots_that_cannot_be_banked_are_wrapped_and_what_that_is_worth_is_said() -> None:
    """On the lock screen what to do; once, how long it holds; kept in mind as the measure that it is."""
    tasks = [task("elm", about=WRAP), task("oak", about=WRAP), task("maple", about="shed")]
    found = season_notice(tasks, (), 50.0, RULES, at(13, day=13))
    assert found is not None
    assert "By 20 Nov: wrap the pots of elm and oak." in found[0].body
    assert found[0].body.count(WRAP_HOLDS) == 1
    assert "bark or soil." not in found[0].body
    alone = season_notice(tasks[:1], (), 50.0, RULES, at(13, day=13))
    assert alone is not None
    assert alone[0].title == "For the winter, by 20 Nov: wrap the pot of elm."
    assert quarters_of(tasks, {}) == {"elm": "insulate-pot", "oak": "insulate-pot", "maple": "shed"}


def test_a_layer_goes_in_and_out_once_level_and_tied() -> None:
    """In the line that names it; other trees of the same place have a line of their own."""
    layer = replace(task(about="shed"), reason="Its young roots are harmed. Into shed, once, level and tied.")
    winter = season_notice([layer, task("elm", about="shed")], (), 50.0, RULES, at(8))
    out = replace(layer, kind="spring-out", about="lawn", first=at(4).date())
    spring = season_notice([out], (), 50.0, RULES, at(8))
    assert winter is not None
    assert spring is not None
    assert "By 20 Nov: carry maple, once, level and tied, into shed." in winter[0].body
    assert "By 20 Nov: carry elm into shed." in winter[0].body
    assert "Now: maple, once, level and tied, to lawn." in spring[0].body


def test_it_is_told_a_week_before_its_first_move_and_not_at_night() -> None:
    """Time to make room and to fetch bark."""
    tasks = [task(last=date(2026, 11, 30))]
    assert season_notice(tasks, (), 50.0, RULES, at(12, day=12)) is None
    assert season_notice(tasks, (), 50.0, RULES, at(12, day=13)) is not None
    assert season_notice(tasks, (), 50.0, RULES, at(23, day=13)) is None


def test_what_is_overdue_is_for_now() -> None:
    """A service that starts in winter does not tell of dates that are past."""
    found = season_notice([task(last=date(2026, 10, 22), state="overdue")], (), 50.0, RULES, at(8))
    assert found is not None
    assert found[0].title == "For the winter, now: bank maple to the rim with bark or soil."
    assert "now: bank maple to the rim with bark or soil." in found[0].body


@pytest.mark.parametrize("state", ["done", "put-off"])
def test_what_is_done_or_put_off_is_not_told(state: str) -> None:
    """The long clock knows."""
    assert season_notice([task(state=state)], (), 50.0, RULES, at(8)) is None


def test_spring_is_told_when_the_first_may_come_out() -> None:
    """Out by stages."""
    tasks = [
        task("elm", "spring-out", "bench", date(2027, 3, 30)),
        task("oak", "spring-out", "bench", date(2027, 4, 9)),
    ]
    assert season_notice(tasks, (), 50.0, RULES, at(8)) is None
    march = at(8).replace(year=2027, month=3, day=20)
    found = season_notice(tasks, (), 50.0, RULES, march)
    assert found is not None
    assert found[0].title == "Out of winter quarters: 2 trees, now."
    assert "Now: elm to bench.\nFrom 30 Mar: oak to bench." in found[0].body
    assert "First three days in shade, then four in half sun" in found[0].body


def test_a_winter_has_one_key_on_both_halves_of_the_earth() -> None:
    """Northern winters run over New Year, southern ones from April to September."""
    north = {season_key("winter-place", [task(last=day)], 50.0) for day in (date(2026, 11, 1), date(2027, 2, 20))}
    south = {season_key("winter-place", [task(last=day)], -37.0) for day in (date(2026, 5, 1), date(2026, 8, 20))}
    assert (north, south) == ({"winter-place:2026"}, {"winter-place:2026"})
    assert season_key("winter-place", [task(last=date(2027, 11, 1))], 50.0) == "winter-place:2027"


def test_quarters_are_known_until_spring_brings_the_tree_out() -> None:
    """Also when the move itself is no task any more."""
    planned = quarters_of([task("maple"), task("elm", about="shed")], {})
    assert planned == {"maple": "plunge", "elm": "shed"}
    # From day to day the long clock may think of another place; what was told stands until something else was done.
    assert quarters_of([task("elm")], planned) == {"elm": "shed"}
    # Carried into another place on a cold evening, or into any before there was a plan, it has no winter place there.
    assert quarters_of([task("elm", state="done")], planned) == {"elm": "shed"}
    assert quarters_of([task("elm", about="shed", state="done")], {}) == {}
    inside = [task("elm", "spring-out", "bench", date(2027, 3, 30), "later")]
    assert quarters_of(inside, planned) == {"elm": "shed"}
    due = [replace(inside[0], state="due")]
    assert quarters_of(due, {"elm": "shed"}) == {}


@pytest.mark.parametrize("facts", [{}, {TOLD: "not json", QUARTERS: "7"}, {TOLD: '{"a": 1}', QUARTERS: "[]"}])
def test_facts_that_are_none_or_broken_are_nothing_known(facts: Mapping[str, str]) -> None:
    """Nothing that stands in the database may stop the watch."""
    known = season_known(facts, ())
    assert (known.told, dict(known.quarters)) == ((), {})


def test_outside_the_hours_of_the_rounds_what_was_known_stays_known() -> None:
    """Tasks come with the rounds only."""
    known = season_known({TOLD: '["winter-place:2026"]', QUARTERS: '{"elm": "shed"}'}, ())
    assert (known.told, dict(known.quarters)) == (("winter-place:2026",), {"elm": "shed"})


@pytest.mark.parametrize("count", [1, 7, 60])
def test_the_list_fits_a_message(count: int) -> None:
    """What is left out is counted."""
    tasks = [
        task(f"tree-with-a-long-name-{index}", about=f"place-{index}", last=date(2026, 11, 10) + timedelta(index % 9))
        for index in range(count)
    ]
    found = season_notice(tasks, (), 50.0, RULES, at(8))
    assert found is not None
    assert len(found[0].body) <= LONGEST
    assert ("more: see `carewatch rounds`" in found[0].body) == (count == 60)
