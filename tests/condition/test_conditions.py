"""What a tree is at one moment: where it stands, what holds it, what it bears, from everything that was done to it."""

from dataclasses import replace
from datetime import date, time

import numpy as np
import pytest

from carewatch.care.garden import Garden, NoticeRules, Stock
from carewatch.care.log import Entry
from carewatch.condition.now import conditions, oldest_work
from carewatch.place.spot import Site
from tests.condition.grown import GUST_INTACT_MS, TABLES, days_later, noon, on, severed, tree, until, year_like

YEARS = year_like("2024-09-01", "2027-12-31")


def _note(day: str, work: str, *, to: str | None = None, measure: str | None = None, tied: bool = False) -> Entry:
    return Entry("maple", work, noon(day), to=to, measure=measure, tied=tied)


def test_an_untouched_tree_is_whole() -> None:
    """No deficits, no limits of its own."""
    state = on("2026-07-10", [], YEARS)
    assert (state.root_supply, state.anchorage, state.leaf_area, state.young_roots) == (1.0, 1.0, 1.0, 0.0)
    assert (state.sun_limit_kwh, state.soak_hours, state.heat_shift_k, state.frost_shift_k) == (None, None, 0.0, 0.0)
    assert state.gust_limit_ms == GUST_INTACT_MS
    assert (state.layer, state.tied, state.second_flush) == (False, False, False)
    assert state.measures == state.begun == ()
    assert (state.stage, state.place) == ("mature-leaf", "bench")


def test_leaf_area_follows_the_season() -> None:
    """Bare in winter, half grown in flush, whole in summer."""
    areas = [on(day, [], YEARS).leaf_area for day in ("2026-02-01", "2026-05-01", "2026-07-01", "2026-12-28")]
    assert areas[0] == areas[3] == 0.0
    assert 0.0 < areas[1] < areas[2] == 1.0
    pine = tree("pine", "Pinus sylvestris")
    assert on("2026-02-01", [], YEARS, pine).leaf_area == 1.0
    assert on("2026-02-01", [], YEARS, pine).in_leaf


def test_a_tree_stands_where_it_was_moved_last() -> None:
    """Entries in the order of time, whatever the order of the file is for the garden's conditions."""
    log = [_note("2026-03-01", "move", to="shed"), _note("2026-04-15", "move", to="lawn")]
    assert on("2026-03-20", log[:1], YEARS).place == "shed"
    assert on("2026-05-01", log, YEARS).place == "lawn"


def test_ties_hold_until_they_are_taken_off() -> None:
    """Three points, trunk to pot, hold like roots of six tenths; they say nothing of the roots themselves."""
    log = [severed("2026-06-01", tied=True), _note("2026-07-01", "untie"), _note("2026-07-05", "tie-down")]
    tied, untied, again = (on(d, log[:n], YEARS) for d, n in (("2026-06-20", 1), ("2026-07-02", 2), ("2026-07-06", 3)))
    assert (tied.tied, untied.tied, again.tied) == (True, False, True)
    assert tied.held == pytest.approx(0.6)
    assert tied.anchorage < 0.35
    assert untied.held == untied.anchorage
    assert tied.gust_limit_ms > untied.gust_limit_ms
    assert untied.gust_limit_tied_ms >= tied.gust_limit_tied_ms - 1e-9


def test_measures_in_force_are_begun_and_not_ended() -> None:
    """And those of the file are in force all the time."""
    log = [_note("2026-03-01", "begin", measure="fleece"), _note("2026-03-09", "end", measure="fleece")]
    grown = tree(measures=("mulch",))
    during, after = on("2026-03-05", log[:1], YEARS, grown), on("2026-03-10", log, YEARS, grown)
    assert (during.measures, during.begun) == (("mulch",), ("fleece",))
    assert (after.measures, after.begun) == (("mulch",), ())


def test_a_layer_is_fresh_for_a_year() -> None:
    """Still for twelve months (common practice); then it is a tree like any other."""
    log = [severed("2026-06-01")]
    assert on(days_later("2026-06-01", 365), log, YEARS).layer
    assert not on(days_later("2026-06-01", 366), log, YEARS).layer
    pruned = [Entry("maple", "root-prune", noon("2026-06-01"), removed=0.3)]
    assert not on("2026-06-05", pruned, YEARS).layer


def test_shade_ends_when_supply_is_back_and_is_strictest_at_first() -> None:
    """0.5 kWh for a sparse layer in its first three weeks, 2 until supply is back to seven tenths, then no limit."""
    log = [severed("2025-09-15")]
    limits = [on(day, log, YEARS).sun_limit_kwh for day in ("2025-09-20", "2025-12-01", "2026-05-20", "2026-11-01")]
    assert limits == [0.5, 2.0, 2.0, None]


def test_the_strictest_of_several_works_counts_for_sun_soak_and_heat() -> None:
    """Tendernesses take the worst."""
    layer, cut = severed("2026-06-01"), Entry("maple", "root-prune", noon("2026-06-01"), removed=0.3)
    both, alone, pruned = (on("2026-06-10", log, YEARS) for log in ([layer, cut], [layer], [cut]))
    assert (alone.sun_limit_kwh, pruned.sun_limit_kwh) == (0.5, 2.0)
    assert both.sun_limit_kwh == 0.5
    assert both.soak_hours == min(alone.soak_hours or np.inf, pruned.soak_hours or np.inf) == 24.0
    assert both.heat_shift_k == min(alone.heat_shift_k, pruned.heat_shift_k) == -3.0


def test_hard_pruned_and_wired_wood_bears_less_frost_for_its_time() -> None:
    """One kelvin in the first winter; three for four weeks after wiring (common practice)."""
    pruned = [Entry("maple", "hard-prune", noon("2025-08-20"), removed=0.5)]
    assert on("2026-01-15", pruned, YEARS).frost_shift_k == 1.0
    assert on("2026-08-20", pruned, YEARS).frost_shift_k == 0.0
    wired = [Entry("maple", "wire", noon("2026-01-05"))]
    assert on("2026-01-20", wired, YEARS).frost_shift_k == 3.0
    assert on("2026-02-10", wired, YEARS).frost_shift_k == 0.0


@pytest.mark.parametrize("work", ["bend", "graft", "sever-layer", "repot", "lift"])
def test_every_work_is_forgotten_by_the_wind_after_two_summers(work: str) -> None:
    """A healed tree bears what an intact one bears."""
    entry = Entry("maple", work, noon("2025-04-20"), roots="sparse")
    young, old = on("2025-04-22", [entry], YEARS), on("2027-10-01", [entry], YEARS)
    assert young.gust_limit_ms < 10.0
    assert old.gust_limit_ms > 0.95 * GUST_INTACT_MS


def _garden(log: tuple[Entry, ...]) -> Garden:
    rules = NoticeRules(time(22), time(6, 30), time(7), 0.5, True, 20.0, (), 60)
    place = replace(TABLES.place_kinds["bench"], id="bench")
    site = Site("garden", 52.4, 13.1, 40.0, "Europe/Berlin", "suburban")
    trees = (tree("maple"), tree("pine", "Pinus sylvestris"))
    return Garden(site, {"bench": place}, trees, log, rules, Stock(10.0, 10.0, 1, True))


def test_what_is_done_after_now_is_not_known_yet() -> None:
    """A care log may hold tomorrow's plan; the tree of today is untouched by it."""
    now = noon("2026-06-10")
    history = until(YEARS, now.date())
    later = (severed("2026-06-11"), Entry("pine", "lift", noon("2026-07-01")))
    maple, pine = conditions(_garden(later), TABLES.condition, history, now)
    assert (maple.root_supply, pine.root_supply) == (1.0, 1.0)
    assert maple.opened == pine.opened == ()


def test_each_tree_has_its_own_log_in_the_order_of_time() -> None:
    """Entries of the other trees are not its own, and the file's order does not matter."""
    log = (
        Entry("pine", "move", noon("2026-05-02"), to="bench"),
        Entry("maple", "untie", noon("2026-06-05")),
        Entry("maple", "tie-down", noon("2026-06-01")),
        Entry("pine", "root-prune", noon("2026-05-01"), removed=0.4),
    )
    now = noon("2026-06-10")
    maple, pine = conditions(_garden(log), TABLES.condition, until(YEARS, now.date()), now)
    assert not maple.tied
    assert maple.root_supply == 1.0
    assert pine.root_supply < 1.0


def test_history_is_asked_for_back_to_the_oldest_entry_and_at_least_a_year() -> None:
    """Condition is a fold over both."""
    today = date(2026, 6, 10)
    assert oldest_work([], today) <= date(2025, 6, 10)
    assert oldest_work([severed("2023-09-01")], today) == date(2023, 9, 1)
    assert oldest_work([severed("2026-04-01")], today) <= date(2025, 6, 10)
