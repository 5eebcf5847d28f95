"""Hardening and softening: by short days and cold, undone by warm spells, gone with the leaves, less on new roots."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from carewatch.care.log import Entry
from carewatch.care.tree import Tree
from carewatch.condition.hardiness import fed_share, hardiness, root_hardiness
from carewatch.condition.stage import stage_of
from carewatch.forecast.history import DailyHistory
from tests.condition.grown import (
    NORTH,
    SOUTH,
    TABLES,
    days_later,
    lived_outdoors,
    noon,
    on,
    severed,
    tree,
    until,
    year_like,
)

YEARS = year_like("2024-09-01", "2026-12-31")
MAPLE, PINE = tree(), tree("pine", "Pinus sylvestris")
HARDENING = TABLES.condition.hardening


def _warm_spell(first: str, days: int, air_c: float) -> DailyHistory:
    """The year with some days of another temperature in it."""
    begin = np.datetime64(first)
    inside = (YEARS.days >= begin) & (YEARS.days < begin + days)
    return DailyHistory(YEARS.days, np.where(inside, air_c, YEARS.mean_c), None)


@pytest.mark.parametrize("owner", [MAPLE, PINE], ids=["maple", "pine"])
def test_trees_are_soft_in_summer_half_hard_in_october_and_hard_in_midwinter(owner: Tree) -> None:
    """The course that growers know; hardening begins with short days before any frost (Arora & Taulavuori 2016)."""
    july, october, january, may = (
        on(day, [], YEARS, owner).hardened for day in ("2025-07-10", "2025-10-20", "2026-01-25", "2026-05-20")
    )
    assert july == pytest.approx(0.0, abs=1e-3)
    assert 0.3 < october < 0.75
    assert january > 0.9
    assert may < 0.1


def test_the_south_hardens_in_its_own_winter() -> None:
    """Half a year apart."""
    southern = year_like("2024-09-01", "2026-12-31", latitude=SOUTH, mean_c=8.0, half_range_c=6.0)
    july, january = (on(day, [], southern, MAPLE, SOUTH).hardened for day in ("2026-07-25", "2026-01-25"))
    assert january == pytest.approx(0.0, abs=1e-3)
    assert july > 0.7


def test_a_warm_spell_in_winter_softens_and_cold_hardens_again_more_slowly() -> None:
    """Azalea buds lose hardiness within 8 to 15 days of 22/15 °C (Kalberer et al. 2007)."""
    spell = _warm_spell("2026-01-05", 12, 14.0)
    before, warmed, week_later = (on(day, [], spell).hardened for day in ("2026-01-04", "2026-01-16", "2026-01-23"))
    unspoilt = on("2026-01-16", [], YEARS).hardened
    assert warmed < unspoilt - 0.25
    assert warmed < week_later < before
    assert before - warmed > week_later - warmed


def test_a_warm_spell_softens_roots_as_well() -> None:
    """Cycles of 21 °C for up to 16 days lowered the midwinter hardiness of roots (Peterson, HortScience, abstract)."""
    spell = _warm_spell("2026-01-05", 16, 15.0)
    assert on("2026-01-20", [], spell).roots_hardened < on("2026-01-20", [], YEARS).roots_hardened - 0.3


def test_what_buds_have_spent_towards_spring_does_not_come_back() -> None:
    """Re-acclimation is nearly nothing at leaf emergence (Vitasse, Lenz & Körner 2014): a cold April helps nothing."""
    opened = [Entry("maple", "observe", noon("2026-04-10"), seen="leaf-out")]
    cold = _warm_spell("2026-04-12", 20, -2.0)
    assert on("2026-04-30", opened, cold).hardened == 0.0
    swollen = [Entry("maple", "observe", noon("2026-04-10"), seen="bud-swell")]
    assert on("2026-04-10", swollen, YEARS).hardened == 0.0


def test_evergreen_leaves_keep_some_hardiness_until_new_tips_open() -> None:
    """Pine needles of April are not those of January, nor those of July."""
    january, april, june = (on(day, [], YEARS, PINE).hardened for day in ("2026-01-25", "2026-04-15", "2026-06-20"))
    assert january > april > june
    assert april > 0.2


def test_mature_roots_harden_by_cold_alone() -> None:
    """They are as in October while the root zone is above ten degrees, and as in midwinter near zero."""
    for day, low, high in (("2025-07-10", 0.0, 1e-3), ("2025-10-01", 0.0, 0.15), ("2026-01-31", 0.85, 1.0)):
        assert low <= on(day, [], YEARS).roots_hardened <= high, day


@pytest.mark.parametrize("work", sorted(HARDENING.roots_harden_by))
def test_roots_of_a_girdled_severed_or_lifted_tree_harden_less_for_a_year(work: str) -> None:
    """Mature roots of girdled plants did not harden (Mityga & Lanphear 1971); moved ones 3-11 K less (1994)."""
    entry = Entry("maple", work, noon("2025-09-01"), roots="fair")
    intact, hurt = on("2026-01-25", [], YEARS).roots_hardened, on("2026-01-25", [entry], YEARS).roots_hardened
    assert hurt == pytest.approx(HARDENING.roots_harden_by[work] * intact)
    assert fed_share([entry], noon(days_later("2025-09-01", 366)).date(), HARDENING) == 1.0


def test_a_girdle_hinders_until_its_branch_is_cut_off() -> None:
    """Common practice: what is left of the old crown feeds its roots again; another branch's girdle stays."""
    girdled = Entry("maple", "set-layer", noon("2026-05-10"), branch="low")
    cut = Entry("maple", "cut-off", noon("2026-09-01"), branch="low")
    assert fed_share([girdled], noon("2026-10-01").date(), HARDENING) == HARDENING.roots_harden_by["set-layer"]
    assert fed_share([girdled, cut], noon("2026-10-01").date(), HARDENING) == 1.0
    other = Entry("maple", "set-layer", noon("2026-05-10"), branch="high")
    assert (
        fed_share([girdled, other, cut], noon("2026-10-01").date(), HARDENING) == HARDENING.roots_harden_by["set-layer"]
    )


def test_a_wire_hinders_no_root() -> None:
    """Only what parts roots from their top does."""
    assert fed_share([Entry("maple", "wire", noon("2025-09-01"))], noon("2025-10-01").date(), HARDENING) == 1.0
    assert fed_share([severed("2025-09-01")], noon("2025-10-01").date(), HARDENING) == 0.5


@given(st.lists(st.floats(-15.0, 25.0), min_size=5, max_size=12), st.sampled_from(["Acer palmatum", "Olea", "Pinus"]))
@settings(max_examples=40, deadline=None, derandomize=True)
def test_hardiness_stays_between_growth_and_midwinter_in_any_weather(temps: list[float], species: str) -> None:
    """Above ground and at the roots."""
    days = np.arange(np.datetime64("2025-01-01"), np.datetime64("2025-01-01") + 30 * len(temps), dtype="datetime64[D]")
    past = lived_outdoors(DailyHistory(days, np.repeat(temps, 30), None), NORTH)
    row = TABLES.species_for(species)
    assert 0.0 <= hardiness(row, past, stage_of(row, past, []), HARDENING) <= 1.0
    assert 0.0 <= root_hardiness(past, [], HARDENING) <= 1.0


def test_no_day_changes_hardiness_by_much() -> None:
    """Lags of days and weeks: a limit never jumps overnight of its own accord."""
    course = []
    for shift in range(0, 250, 2):
        day = noon(days_later("2025-09-01", shift)).date()
        course.append(on(day.isoformat(), [], until(YEARS, day)).hardened)
    assert max(abs(after - before) for before, after in pairwise(course)) < 0.3
