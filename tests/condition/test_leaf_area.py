"""Leaves as a state of their own: stripped, chopped, lost, and grown again when the tree is in growth."""

from itertools import pairwise

import pytest

from carewatch.care.log import Entry
from tests.condition.grown import days_later, noon, on, tree, year_like

YEARS = year_like("2024-09-01", "2027-12-31")
OLIVE = tree("maple", "Olea europaea")
PINE = tree("maple", "Pinus sylvestris")


def _seen(day: str, what: str) -> Entry:
    return Entry("maple", "observe", noon(day), seen=what)


def _work(day: str, name: str, removed: float | None = None) -> Entry:
    return Entry("maple", name, noon(day), removed=removed)


def test_leaves_that_were_stripped_late_stay_away_until_spring() -> None:
    """Warm October days bring no second flush: only trees in growth open buds (common practice)."""
    stripped = [_work("2025-10-05", "defoliate", 1.0)]
    assert on("2025-10-30", stripped, YEARS).leaf_area == 0.0
    assert on("2026-06-15", stripped, YEARS).leaf_area == pytest.approx(1.0)


def test_a_tree_chopped_in_winter_builds_its_crown_again_in_summer() -> None:
    """Leaves are new every spring, the twigs that carried them are not."""
    chopped = [_work("2026-02-20", "hard-prune", 0.8)]
    areas = [on(day, chopped, YEARS).leaf_area for day in ("2026-06-01", "2026-07-01", "2026-08-15")]
    assert areas[0] < 0.5 < areas[1] <= areas[2]
    assert on("2026-06-15", [], YEARS).leaf_area == 1.0
    assert on("2027-07-15", chopped, YEARS).leaf_area == pytest.approx(1.0)


def test_leaves_seen_falling_in_summer_are_lost_and_the_tree_is_not_dormant() -> None:
    """Drought or frost took them: the season goes on, buds move again in weeks, and the new leaves are soft."""
    log = [_seen("2026-06-10", "leaf-fall")]
    bare, tender, green = (on(day, log, YEARS) for day in ("2026-06-11", "2026-07-02", "2026-08-15"))
    assert (bare.stage, bare.in_leaf, bare.leaf_area) == ("leafless", False, 0.0)
    assert tender.second_flush
    assert green.leaf_area > 0.8
    assert green.stage == "mature-leaf"


def test_leaves_seen_falling_in_autumn_are_shed() -> None:
    """The same word means the season then."""
    fallen = on("2025-11-02", [_seen("2025-11-01", "leaf-fall")], YEARS)
    assert (fallen.stage, fallen.in_leaf) == ("dormant", False)
    assert on("2026-06-20", [_seen("2025-11-01", "leaf-fall")], YEARS).leaf_area == 1.0


def test_an_olive_that_drops_its_leaves_is_never_simply_dormant() -> None:
    """An evergreen without leaves has lost them, at whatever time of year."""
    bare = on("2026-01-20", [_seen("2026-01-19", "leaf-fall")], YEARS, OLIVE)
    assert bare.leaf_area == 0.0
    assert bare.stage == "winter-hard"
    assert on("2026-04-10", [_seen("2026-01-19", "leaf-fall")], YEARS, OLIVE).leaf_area < 0.2
    assert on("2026-08-20", [_seen("2026-01-19", "leaf-fall")], YEARS, OLIVE).leaf_area > 0.8


def test_burnt_leaves_count_for_less_until_they_have_grown_again() -> None:
    """A third of the crown at first sight (judged)."""
    log = [_seen("2026-06-10", "scorch")]
    assert on("2026-06-11", log, YEARS).leaf_area == pytest.approx(0.7)
    assert on("2026-08-20", log, YEARS).leaf_area > 0.95
    assert not on("2026-07-05", log, YEARS).second_flush


def test_new_leaves_that_are_seen_early_are_believed() -> None:
    """Observation wins: regrowth goes on from the day on which it was seen to begin."""
    stripped = [_work("2026-06-01", "defoliate", 1.0)]
    told = [*stripped, _seen("2026-06-09", "new-growth")]
    assert on("2026-06-16", told, YEARS).leaf_area > on("2026-06-16", stripped, YEARS).leaf_area
    assert on("2026-06-12", told, YEARS).second_flush


def test_a_stripped_pine_is_not_green_again_by_winter_alone() -> None:
    """Evergreens hold no spare set of leaves for spring."""
    stripped = [_work("2025-09-20", "defoliate", 0.5)]
    autumn, winter = (on(day, stripped, YEARS, PINE).leaf_area for day in ("2025-10-10", "2026-02-20"))
    assert winter == pytest.approx(autumn, abs=0.02)
    assert winter < 0.6


@pytest.mark.parametrize("entry", [_work("2026-06-05", "defoliate", 1.0), _work("2026-03-01", "hard-prune", 0.6)])
def test_what_grows_again_never_shrinks_within_a_season(entry: Entry) -> None:
    """Recovery runs backwards only with a cause."""
    areas = [on(days_later("2026-06-06", step), [entry], YEARS).leaf_area for step in range(0, 80, 5)]
    assert all(after >= before - 1e-9 for before, after in pairwise(areas))


def test_losses_and_works_multiply() -> None:
    """A stripped half of which a third burns."""
    log = [_work("2026-07-01", "defoliate", 0.5), _seen("2026-07-02", "scorch")]
    assert on("2026-07-03", log, YEARS).leaf_area == pytest.approx(0.5 * 0.7, abs=0.02)
