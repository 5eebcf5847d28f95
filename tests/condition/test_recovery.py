"""What works open and how it closes again: slowly at first, never faster than the calendar, never in frost."""

from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from carewatch.care.log import WORKS, Entry
from carewatch.condition.recovery import capped, closed_share, effect_of
from carewatch.forecast.history import DailyHistory
from tests.condition.grown import SOUTH, TABLES, days_later, noon, on, severed, steady, year_like

YEARS = year_like("2024-09-01", "2027-12-31")
# A climate in which nothing but the calendar could hold a tree back. [°C]
WARM = steady("2025-01-01", "2027-12-31", 22.0)
# The layer of these tests, severed in September in north-east Germany.
SEPTEMBER = "2025-09-15"


@given(st.floats(0.0, 0.99), st.floats(1.0, 2.5), st.floats(100.0, 1200.0))
@settings(max_examples=60, deadline=None, derandomize=True)
def test_recovery_only_ever_rises_from_where_it_began_to_whole(start: float, shape: float, scale: float) -> None:
    """1-(1-x)exp(-(theta/scale)^k): between the two, rising with every bit of warmth."""
    course = [closed_share(start, theta, scale, shape) for theta in np.linspace(0.0, 6.0 * scale, 40)]
    assert course[0] == pytest.approx(start)
    assert all(later >= earlier for earlier, later in pairwise(course))
    assert course[-1] <= 1.0
    assert course[-1] > 0.99


def test_recovery_is_s_shaped() -> None:
    """Nothing much happens at first: the first tenth of the warmth brings far less than a tenth of what is open."""
    scale = 700.0
    assert closed_share(0.0, 0.1 * scale, scale, 1.5) < 0.035
    steps = np.diff([closed_share(0.0, theta, scale, 1.5) for theta in np.linspace(0.0, 2000.0, 41)])
    assert 0 < int(steps.argmax()) < 30
    assert steps[0] < 0.5 * steps.max()


def test_a_sparse_layer_of_september_has_hardly_recovered_by_mid_october() -> None:
    """No layer goes from 15 to 37 % of its supply in a month of autumn (common practice)."""
    supply = on("2025-10-15", [severed(SEPTEMBER)], YEARS).root_supply
    assert 0.15 <= supply < 0.37


def test_a_sparse_layer_is_in_full_flush_on_few_roots() -> None:
    """Its worst danger is in May and June: supply 0.2 to 0.55 in mid-May, and whole by the next spring."""
    assert 0.2 <= on("2026-05-15", [severed(SEPTEMBER)], YEARS).root_supply <= 0.55
    assert on("2027-04-15", [severed(SEPTEMBER)], YEARS).root_supply > 0.9


def test_a_sparse_layer_stands_firm_after_about_a_year() -> None:
    """Still for twelve months (common practice): 0.9 of its hold is passed in months 11 to 13."""
    early, late = days_later(SEPTEMBER, 11 * 30), days_later(SEPTEMBER, 13 * 31)
    assert on(early, [severed(SEPTEMBER)], YEARS).anchorage < 0.9
    assert on(late, [severed(SEPTEMBER)], YEARS).anchorage >= 0.9


@pytest.mark.parametrize(("day", "highest"), [(119, 0.35), (209, 0.60), (299, 0.85)])
def test_the_calendar_holds_a_layer_back_in_a_warm_year(day: int, highest: float) -> None:
    """Before day 120, 210 and 300, however warm it is; then the cap is gone."""
    for roots in ("sparse", "fair", "dense"):
        log = [severed("2025-01-10", roots)]
        assert on(days_later("2025-01-10", day), log, WARM).anchorage <= highest + 1e-9
    after = on(days_later("2025-01-10", day + 1), [severed("2025-01-10")], WARM).anchorage
    assert after > highest


def test_a_cap_never_lowers_what_was_there_at_the_start() -> None:
    """A hold of a half under a cap of a third stays a half."""
    assert capped(0.9, 10, [(120, 0.35)], 0.5) == 0.5
    assert capped(0.9, 130, [(120, 0.35)], 0.5) == 0.9


def test_cold_and_frozen_roots_gain_nothing() -> None:
    """Below the base of 5 °C, and below zero."""
    for air_c in (4.0, -6.0):
        winter = steady("2025-10-01", "2026-04-30", air_c)
        held = on("2026-04-01", [severed("2025-10-15")], winter)
        assert held.root_supply == pytest.approx(0.15, abs=1e-6)
        assert held.anchorage == pytest.approx(0.10, abs=1e-6)


def test_roots_gain_more_under_mature_leaves_than_bare_or_in_flush() -> None:
    """Roots regenerate little during active spring growth (Watson & Himelick 1982); leaves feed them afterwards."""
    air = steady("2025-01-01", "2025-12-31", 14.0)
    seen = {"mature": None, "leaf-out": None, "dormant": None}
    gained = {}
    for stage in seen:
        # Seen anew every few days, so that the tree stays in that phase.
        log = [severed("2025-02-01")]
        log += [Entry("maple", "observe", noon(days_later("2025-02-01", 3 * step)), seen=stage) for step in range(20)]
        gained[stage] = on("2025-03-30", log, air).root_supply
    assert gained["mature"] > gained["leaf-out"] + 0.05
    assert gained["leaf-out"] > gained["dormant"] - 1e-9


def test_young_roots_of_autumn_stay_young_until_buds_break() -> None:
    """Roots made after early September do not harden that year (Mityga & Lanphear 1971: young ones never did)."""
    log = [severed("2025-09-05")]
    for day in ("2025-11-15", "2026-01-20", "2026-03-20"):
        assert on(day, log, YEARS).young_roots == pytest.approx(1.0)


def test_young_roots_ripen_between_bud_break_and_september_only() -> None:
    """Few are left young in the second winter, and September changes nothing any more."""
    log = [severed("2025-09-05")]
    may, july, september, october = (
        on(day, log, YEARS).young_roots for day in ("2026-05-20", "2026-07-15", "2026-09-02", "2026-10-20")
    )
    assert 1.0 > may > july > september
    assert september < 0.1
    assert october == pytest.approx(september)


def test_cut_roots_branch_and_are_young_before_they_ripen() -> None:
    """After root pruning the young share first rises to its peak at six weeks."""
    log = [Entry("maple", "root-prune", noon("2026-03-25"), removed=0.34)]
    at_once, six_weeks, autumn = (on(day, log, YEARS).young_roots for day in ("2026-03-25", "2026-05-06", "2026-09-10"))
    assert at_once == pytest.approx(0.15, abs=0.02)
    assert six_weeks == pytest.approx(0.5, abs=0.02)
    assert autumn < 0.2


def test_root_pruning_takes_six_to_ten_weeks() -> None:
    """Common practice for a third: supply is back above seven tenths by then, and below it in the first weeks."""
    log = [Entry("maple", "root-prune", noon("2026-05-20"), removed=1 / 3)]
    assert on("2026-05-20", log, YEARS).root_supply == pytest.approx((2 / 3) ** 1.3, abs=0.01)
    assert on("2026-05-27", log, YEARS).root_supply < 0.7
    assert on("2026-07-29", log, YEARS).root_supply > 0.9


@pytest.mark.parametrize("work", ["root-prune", "defoliate", "hard-prune", "lift"])
def test_more_removed_is_never_safer(work: str) -> None:
    """On the day, after three weeks and after three months: no less supply, hold or leaf for taking less."""
    for day in (0, 21, 90):
        states = []
        for share in np.linspace(0.05, 1.0, 20):
            log = [Entry("maple", work, noon("2026-06-01"), removed=float(share))]
            states.append(on(days_later("2026-06-01", day), log, YEARS))
        for name in ("root_supply", "anchorage", "leaf_area"):
            course = [getattr(state, name) for state in states]
            assert all(less >= more - 1e-9 for less, more in pairwise(course)), (name, day)


@pytest.mark.parametrize("name", ["root_supply", "anchorage", "gust_limit_ms"])
def test_a_richly_rooted_layer_is_safer_than_a_poor_one_and_one_left_alone_than_one_combed(name: str) -> None:
    """Sparse < fair < dense, worked < undisturbed, at every time."""
    for day in ("2025-09-16", "2025-12-01", "2026-05-15", "2026-08-01"):
        value = {
            (roots, worked): getattr(on(day, [severed(SEPTEMBER, roots, worked=worked)], YEARS), name)
            for roots in ("sparse", "fair", "dense")
            for worked in (False, True)
        }
        for worked in (False, True):
            assert value["sparse", worked] <= value["fair", worked] <= value["dense", worked], day
        for roots in ("sparse", "fair", "dense"):
            assert value[roots, True] <= value[roots, False], (day, roots)


def test_works_combine_by_product() -> None:
    """Two works on one tree: shares multiply."""
    first = Entry("maple", "root-prune", noon("2026-05-20"), removed=1 / 3)
    second = Entry("maple", "bend", noon("2026-06-01"))
    third = Entry("maple", "hard-prune", noon("2026-06-02"), removed=0.5)
    both = on("2026-06-10", [first, second, third], YEARS)
    alone = [on("2026-06-10", [entry], YEARS) for entry in (first, second, third)]
    assert both.root_supply == pytest.approx(np.prod([state.root_supply for state in alone]))
    assert both.anchorage == pytest.approx(np.prod([state.anchorage for state in alone]))
    assert both.leaf_area == pytest.approx(alone[2].leaf_area)


def test_a_stripped_tree_greens_again_within_two_months() -> None:
    """Buds move after 150, nine tenths are back after 450 °C d; new leaves are tender for weeks."""
    log = [Entry("maple", "defoliate", noon("2026-06-05"))]
    bare = on("2026-06-08", log, YEARS)
    assert (bare.stage, bare.in_leaf, bare.leaf_area) == ("leafless", False, 0.0)
    tender = on("2026-06-28", log, YEARS)
    assert tender.second_flush
    assert tender.stage in ("flush", "leafless")
    green = on("2026-08-05", log, YEARS)
    assert green.leaf_area > 0.85
    assert green.stage == "mature-leaf"


def test_a_tree_stripped_last_summer_has_its_leaves_this_summer() -> None:
    """A winter in between brings a full new set."""
    log = [Entry("maple", "defoliate", noon("2026-06-05"))]
    assert on("2027-07-01", log, YEARS).leaf_area == pytest.approx(1.0)


def test_notes_open_nothing() -> None:
    """Moves, waterings, observations and measures are no works."""
    for work in ("move", "water", "observe", "begin", "end"):
        entry = Entry("maple", work, noon("2026-05-01"), to="shed", seen="wilting", measure="fleece")
        assert effect_of(entry, TABLES.works, needle=False) is None


def test_every_work_of_the_table_is_reached_by_some_entry() -> None:
    """A row that no entry opens would be dead."""
    day = noon("2026-05-01")
    entries = [
        *(
            severed("2026-05-01", roots, worked=worked)
            for roots in ("sparse", "fair", "dense")
            for worked in (False, True)
        ),
        *(Entry("maple", "root-prune", day, removed=share) for share in (None, 0.5, 0.7)),
        *(Entry("maple", "repot", day, roots_worked=worked) for worked in (False, True)),
        *(Entry("maple", "defoliate", day, removed=share) for share in (None, 0.5)),
        *(Entry("maple", work, day, roots="fair") for work in WORKS),
    ]
    names = {effect.name for entry in entries if (effect := effect_of(entry, TABLES.works, needle=False))}
    conifer = effect_of(Entry("pine", "lift", day), TABLES.works, needle=True)
    assert conifer is not None
    assert names | {conifer.name} == set(TABLES.works)


def test_recovery_forgets_no_warmth_when_history_grows() -> None:
    """A day later a tree has never lost supply or hold that it had gained."""
    log = [replace(severed(SEPTEMBER), tied=True)]
    last = None
    for step in range(0, 400, 20):
        state = on((noon(SEPTEMBER) + timedelta(days=step)).date().isoformat(), log, YEARS)
        if last is not None:
            assert state.root_supply >= last.root_supply - 1e-9
            assert state.anchorage >= last.anchorage - 1e-9
        last = state


@given(
    st.lists(st.floats(-12.0, 28.0), min_size=42, max_size=42), st.sampled_from(["sever-layer", "lift", "root-prune"])
)
@settings(max_examples=25, deadline=None, derandomize=True)
def test_recovery_never_runs_backwards_in_any_weather(temps: list[float], work: str) -> None:
    """Supply and hold only rise, the young share only ripens once its peak is past, however the weather turns."""
    days = np.arange(np.datetime64("2024-03-25"), np.datetime64("2024-03-25") + 840, dtype="datetime64[D]")
    weather = DailyHistory(days, np.repeat(temps, 20), None)
    entry = Entry("maple", work, noon("2025-04-01"), roots="fair", removed=0.4 if work == "root-prune" else None)
    last = None
    for step in range(45, 400, 25):
        state = on(days_later("2025-04-01", step), [entry], weather)
        if last is not None:
            assert state.root_supply >= last.root_supply - 1e-9
            assert state.anchorage >= last.anchorage - 1e-9
            assert state.young_roots <= last.young_roots + 1e-9
        last = state


def test_young_roots_of_the_south_ripen_in_the_southern_summer() -> None:
    """Until early March there, not until September."""
    southern = year_like("2024-09-01", "2027-12-31", latitude=SOUTH, mean_c=12.5, half_range_c=4.5)
    log = [severed("2025-03-20")]
    may, august, march, july = (
        on(day, log, southern, latitude=SOUTH).young_roots
        for day in ("2025-05-20", "2025-08-10", "2026-03-08", "2026-07-01")
    )
    assert may == august == pytest.approx(1.0)
    assert march < 0.4
    assert july == pytest.approx(march, abs=0.02)
