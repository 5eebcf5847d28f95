"""Fresh cuts and bared bark as the log leaves them: how old, how large, under paste or not, used to the sun or not."""

import pytest

from carewatch.care.log import Entry
from carewatch.condition.wounds import NO_WOUNDS
from tests.condition.grown import days_later, noon, on, steady, tree, year_like

YEARS = year_like("2024-09-01", "2027-12-31")
DAY = "2026-06-10"


def _cut(day: str = DAY, *, removed: float | None = 0.5, paste: bool = False, branch: str | None = None) -> Entry:
    return Entry("maple", "hard-prune", noon(day), removed=removed, paste=paste, branch=branch)


def _seal(day: str, branch: str | None = None) -> Entry:
    return Entry("maple", "seal", noon(day), branch=branch)


def test_a_tree_that_nobody_cut_has_no_wounds_and_bark_that_knows_the_sun() -> None:
    """Repotting and wiring open nothing above ground."""
    log = [Entry("maple", "repot", noon("2026-04-01")), Entry("maple", "wire", noon(DAY))]
    state = on(DAY, log, YEARS)
    assert state.wounds == NO_WOUNDS
    assert state.bark_exposure == 0.0


def test_a_cut_is_freshest_for_two_days_and_answers_no_more_after_three_weeks() -> None:
    """Penn State Extension: sensitivity is greatest within 48 hours of pruning and declines over two weeks."""
    fresh = [on(days_later(DAY, days), [_cut()], YEARS).wounds.fresh for days in (0, 2, 7, 14, 20, 21)]
    assert fresh[:2] == [1.0, 1.0]
    assert fresh == sorted(fresh, reverse=True)
    assert 0.0 < fresh[3] < 0.5
    assert fresh[-1] == 0.0


def test_more_cut_away_is_never_a_smaller_wound_and_order_does_not_matter() -> None:
    """Two cuts together open more than either; the freshest counts for both."""
    sizes = [on(DAY, [_cut(removed=share)], YEARS).wounds.open_size for share in (0.1, 0.3, 0.6, 0.9)]
    assert sizes == sorted(sizes)
    earlier = _cut(days_later(DAY, -5), removed=0.4)
    both = on(DAY, [earlier, _cut()], YEARS).wounds
    assert both.open_size == pytest.approx(1.0 - 0.6 * 0.5)
    assert both.fresh == 1.0
    assert on(DAY, [_cut(), earlier], YEARS).wounds == both


def test_a_branch_of_which_the_log_says_no_share_still_leaves_a_wound() -> None:
    """The mother of a severed layer: `cut-off` without a share."""
    off = Entry("maple", "cut-off", noon(DAY))
    assert on(DAY, [off], YEARS).wounds.open_size > 0.0


def test_paste_counts_once_it_has_set() -> None:
    """A skin within a day in summer; two days near 5 °C; never below 3 °C (common practice)."""
    pasted = [_cut(paste=True)]
    assert on(DAY, pasted, YEARS).wounds.sealed_size == 0.0
    next_day = on(days_later(DAY, 1), pasted, YEARS).wounds
    assert (next_day.open_size, next_day.sealed_size) == (0.0, 0.5)
    for air_c, sets_after in ((5.0, 2), (1.0, None)):
        cold = steady("2025-01-01", "2026-12-31", air_c)
        for days in (1, 2, 5):
            sealed = on(days_later(DAY, days), pasted, cold).wounds.sealed_size > 0.0
            assert sealed == (sets_after is not None and days >= sets_after), (air_c, days)


def test_a_later_sealing_counts_for_its_branch_or_for_all() -> None:
    """`seal` without a branch is for every cut that was open."""
    later, cut = days_later(DAY, 3), _cut(branch="left")
    for branch, sealed in ((None, True), ("left", True), ("right", False)):
        wounds = on(days_later(DAY, 6), [cut, _seal(later, branch)], YEARS).wounds
        assert (wounds.sealed_size > 0.0) == sealed, branch
        assert (wounds.open_size > 0.0) != sealed, branch


def test_a_chop_bares_the_bark_for_a_season_of_growth() -> None:
    """All of it when half of the crown goes, nothing after a summer, and nothing after a year in any climate."""
    chop = [_cut("2026-04-20")]
    course = [on(days_later("2026-04-20", days), chop, YEARS).bark_exposure for days in (0, 60, 120, 200)]
    assert course[0] > 0.98
    assert course == sorted(course, reverse=True)
    assert course[2] < 0.5
    assert course[3] <= 0.1
    cool = steady("2024-01-01", "2027-12-31", 6.0)
    assert on(days_later("2026-04-20", 365), chop, cool).bark_exposure == 0.0


def test_a_chop_in_autumn_keeps_the_bark_bare_through_the_winter() -> None:
    """Bark gets used to the sun by growing."""
    assert on("2027-02-10", [_cut("2026-11-10", removed=0.7)], YEARS).bark_exposure > 0.9


def test_the_more_is_taken_the_barer_the_bark_and_leaves_give_the_shade_back() -> None:
    """Stripped in June, a maple stands in leaf again in August."""
    bare = [on(DAY, [_cut(removed=share)], YEARS).bark_exposure for share in (0.1, 0.3, 0.5, 0.8)]
    assert bare == sorted(bare)
    assert bare[0] == pytest.approx(0.2, abs=0.01)
    stripped = [Entry("maple", "defoliate", noon(DAY), removed=1.0)]
    assert on(DAY, stripped, YEARS).bark_exposure == 1.0
    assert on(days_later(DAY, 75), stripped, YEARS).bark_exposure < 0.3
    assert on("2027-01-20", stripped, YEARS).bark_exposure == 0.0


def test_an_evergreen_is_wounded_like_any_other() -> None:
    """Paste is a matter of the wood, not of leaves."""
    pine = on(DAY, [_cut()], YEARS, tree("maple", "Pinus sylvestris"))
    assert pine.wounds.open_size == 0.5
    assert pine.bark_exposure > 0.98
