"""Layers on the long clock: ties, the first root work, sleeves; windows as common practice has them."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from carewatch.care.log import Entry
from tests.condition.grown import SOUTH, days_later, noon, severed, tree, year_like
from tests.tasks.clocks import SITE, YEARS, entry, garden_of, needed, place, task_on, warmer

SEPTEMBER = "2025-09-15"
LAYER = [severed(SEPTEMBER, tied=True)]


@pytest.mark.parametrize("day", ["2025-09-16", "2026-03-01", "2026-08-01"])
def test_ties_of_a_layer_stay_for_twelve_months_and_until_its_roots_hold(day: str) -> None:
    """A severed layer stands absolutely still for at least twelve months (common practice)."""
    task = needed(day, "untie", garden_of(LAYER))

    assert task.first >= date(2026, 9, 15)
    assert task.state in ("later", "soon")
    assert "twelve months" in task.reason
    assert task.last > task.first
    assert "common practice" in task.source


def test_the_calendar_or_warmth_decides_about_ties_and_the_task_says_which() -> None:
    """A warm summer brings nothing forward; a cold one puts it back."""
    plain, warm, cold = (
        needed("2026-08-20", "untie", garden_of(LAYER), warmer(YEARS, shift_k)) for shift_k in (0.0, 3.0, -3.0)
    )

    assert warm.first == date(2026, 9, 15)
    assert warm.moves.startswith("The calendar decides")
    assert cold.first > plain.first >= date(2026, 9, 15)
    assert cold.moves.startswith("Warmth decides")


def test_root_work_in_between_makes_it_stand_still_anew_and_a_carry_does_not() -> None:
    moved = [*LAYER, entry("move", "2025-11-20", to="wall"), entry("move", "2026-03-20", to="bench")]
    repotted = [*LAYER, entry("repot", "2026-03-20")]

    assert (
        needed("2026-06-01", "untie", garden_of(moved)).first == needed("2026-06-01", "untie", garden_of(LAYER)).first
    )
    assert needed("2026-06-01", "untie", garden_of(repotted)).first >= date(2027, 3, 20)


def test_untying_is_due_then_overdue_and_done_when_the_log_says_so() -> None:
    due = needed("2026-10-20", "untie", garden_of(LAYER))
    overdue = needed("2027-01-20", "untie", garden_of(LAYER))
    untied = garden_of([*LAYER, entry("untie", "2026-10-25")])

    assert (due.state, overdue.state) == ("due", "overdue")
    done = needed("2026-11-01", "untie", untied)
    assert (done.state, done.done_on) == ("done", date(2026, 10, 25))
    assert task_on("2026-12-20", "untie", untied) is None


def test_a_tree_that_is_tied_for_its_roots_needs_no_twelve_months() -> None:
    """Ties after root pruning go when the roots hold it again."""
    log = [entry("root-prune", "2026-03-25", removed=0.34, tied=True)]
    task = needed("2026-04-10", "untie", garden_of(log))

    assert date(2026, 5, 1) < task.first < date(2026, 9, 1)
    assert "twelve months" not in task.reason
    assert task_on("2026-04-10", "untie", garden_of([entry("root-prune", "2026-03-25", removed=0.34)])) is None


def test_the_first_root_work_of_an_undisturbed_layer_is_about_eighteen_months_on() -> None:
    """Common practice; at bud swell, which is spring."""
    task = needed("2026-10-01", "first-root-work", garden_of(LAYER))

    assert abs((task.best - date(2025, 9, 15)).days / 30.44 - 18.0) < 2.0
    assert (task.first.year, task.last.year) == (2027, 2027)
    assert date(2027, 3, 1) <= task.first <= task.best <= task.last <= date(2027, 5, 31)
    early = needed("2025-10-01", "first-root-work", garden_of([severed("2025-06-20")]))
    assert early.first.year == 2027


def test_no_first_root_work_for_one_whose_roots_were_worked_or_that_had_it() -> None:
    worked = garden_of([severed(SEPTEMBER, worked=True)])
    had_it = garden_of([*LAYER, entry("root-prune", "2027-04-10", removed=0.3)])

    assert task_on("2026-10-01", "first-root-work", worked) is None
    assert needed("2027-04-20", "first-root-work", had_it).state == "done"
    assert task_on("2027-06-20", "first-root-work", had_it) is None


def test_kinds_of_warm_summers_have_their_root_work_in_the_warm_weeks() -> None:
    """Olive: nights above 12 °C, May to July (common practice)."""
    olive = tree(species="Olea europaea")
    warm = year_like("2023-09-01", "2028-12-31", latitude=38.7, mean_c=17.0, half_range_c=6.0)
    site = replace(SITE, latitude=38.7)
    task = needed("2026-10-01", "first-root-work", garden_of(LAYER, [olive], site=site), warm)

    assert date(2027, 5, 1) <= task.first <= task.best <= task.last <= date(2027, 8, 5)
    assert "warm weeks" in task.reason


def test_roots_are_looked_for_from_the_sixth_week_and_the_layer_is_severed_in_time() -> None:
    """Six weeks of a root zone above 10 °C must be left (common practice)."""
    garden = garden_of([entry("set-layer", "2026-05-20", branch="low left")])
    look = needed("2026-07-05", "look-for-roots", garden)
    sever = needed("2026-07-05", "sever", garden)

    assert look.first == date(2026, 7, 1)
    assert (look.state, look.about) == ("due", "low left")
    assert sever.first == date(2026, 7, 15)
    # The invented year falls below 10 °C in late October.
    assert date(2026, 8, 25) < sever.last < date(2026, 9, 25)


def test_a_look_into_the_sleeve_brings_the_next_one_two_weeks_on() -> None:
    log = [
        entry("set-layer", "2026-05-20", branch="low left"),
        entry("checked", "2026-07-06", measure="look-for-roots", branch="low left"),
    ]

    assert needed("2026-07-07", "look-for-roots", garden_of(log)).first == date(2026, 7, 20)


def test_a_layer_set_late_stays_on_its_mother_until_spring() -> None:
    sever = needed("2026-08-20", "sever", garden_of([entry("set-layer", "2026-08-05")]))

    assert date(2027, 4, 1) < sever.first < date(2027, 6, 1)
    assert "until" not in sever.reason or "spring" in sever.reason


@pytest.mark.parametrize(
    "ending",
    [
        Entry("maple", "cut-off", noon("2026-09-01"), branch="low left", other_tree="young"),
        Entry("young", "sever-layer", noon("2026-09-01"), roots="dense", other_tree="maple"),
    ],
    ids=["cut-off", "sever-layer"],
)
def test_a_severed_layer_needs_no_more_looks(ending: Entry) -> None:
    """It is found by either half of what the log has of it: the mother's wound or the new tree's first day."""
    log = [entry("set-layer", "2026-05-20", branch="low left"), ending]
    garden = garden_of(log, [tree(), tree("young")])

    assert task_on("2026-09-05", "look-for-roots", garden) is None
    assert needed("2026-09-05", "sever", garden).state == "done"
    assert task_on("2026-11-05", "sever", garden) is None


def test_the_south_has_the_same_windows_half_a_year_later() -> None:
    """A layer of March in Tasmania: still until the next March, root work in the spring after, severed in autumn."""
    south = year_like("2023-09-01", "2028-12-31", latitude=SOUTH, mean_c=12.0, half_range_c=5.0)
    site = replace(SITE, latitude=SOUTH, time_zone="Australia/Hobart")
    garden = garden_of([severed("2025-03-15", tied=True)], site=site)
    untie = needed("2025-12-01", "untie", garden, south)
    work = needed("2025-12-01", "first-root-work", garden, south)
    sleeve = garden_of([entry("set-layer", "2025-11-20")], site=site)

    assert untie.first >= date(2026, 3, 15)
    assert date(2026, 8, 1) <= work.first <= work.last <= date(2026, 11, 30)
    assert date(2026, 1, 15) <= needed("2026-01-20", "sever", sleeve, south).first <= date(2026, 1, 20)


def test_a_layer_is_not_turned_before_it_may_be_moved() -> None:
    """Turning is moving: it waits for the end of the twelve months, then for growth."""
    garden = garden_of([severed("2025-06-20", tied=True)], [tree(place="wall")], [place("wall", "wall")])
    task = needed("2026-05-20", "turn", garden)

    assert task.first >= date(2026, 6, 20)
    assert "not turned before 20 Jun 2026" in task.moves
    assert days_later("2025-06-20", 365) == "2026-06-20"
    assert task.first - date(2026, 6, 20) < timedelta(days=7)
