"""Dose to damage: what the two published doses mean, and what lies between and beyond them."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from carewatch.limits.damage import damage, root_loss, running_dose_k
from tests.condition.grown import TABLES

Array = NDArray[np.float64]

SPARE = TABLES.hazards.roots_spare
few = settings(max_examples=60, deadline=None, derandomize=True)
doses = st.tuples(st.floats(-40.0, 60.0), st.floats(0.5, 30.0), st.booleans())


@given(doses)
@few
def test_the_two_doses_give_ten_and_fifty_per_cent_exactly(pair: tuple[float, float, bool]) -> None:
    """In cold as in heat; the order of the two says which way it hurts."""
    tenth, span, cold = pair
    half = tenth - span if cold else tenth + span
    assert damage(np.array([tenth, half]), tenth, half) == pytest.approx([0.1, 0.5], abs=1e-9)


@given(doses)
@few
def test_damage_rises_with_the_dose_from_nothing_to_all(pair: tuple[float, float, bool]) -> None:
    """Nothing far below, all far beyond, and never less for more."""
    tenth, span, cold = pair
    step = -span if cold else span
    course = damage(tenth + step * np.linspace(-5.0, 10.0, 300), tenth, tenth + step)
    assert course[0] == 0.0
    assert course[-1] > 0.999
    assert np.all(np.diff(course) >= 0.0)
    assert np.all((course >= 0.0) & (course <= 1.0))


def test_an_untroubled_organ_loses_nothing_at_all() -> None:
    """Not a little of everything: a mild night costs a hardy bud exactly zero."""
    assert damage(np.array(-2.0), -16.0, -22.0) == 0.0
    assert damage(np.array(25.0), 40.0, 45.0) == 0.0


def test_an_organ_that_is_not_there_cannot_be_lost() -> None:
    """Buds of a tree in leaf, leaves of a bare one."""
    assert damage(np.array(-40.0), -np.inf, -np.inf) == 0.0
    assert damage(np.array(60.0), np.inf, np.inf) == 0.0


def test_an_unknown_dose_is_unknown_damage() -> None:
    """It silences nothing."""
    assert np.isnan(damage(np.array(np.nan), -2.0, -4.0))


def test_an_intact_tree_spares_two_fifths_of_its_roots() -> None:
    """We cut that much as a matter of course (common practice); a sparse layer spares almost nothing."""
    whole = np.ones(4)
    assert root_loss(np.array([0.0, 0.2, 0.4, 1.0]), whole, SPARE) == pytest.approx([0.0, 0.0, 0.0, 1.0])
    assert root_loss(np.array([0.7]), whole[:1], SPARE) == pytest.approx([0.5])
    sparse = np.full(3, 0.15)
    assert root_loss(np.array([0.06, 0.3, 1.0]), sparse, SPARE) == pytest.approx([0.0, 0.255, 1.0], abs=0.001)


def test_the_fewer_roots_a_tree_has_the_more_the_loss_of_a_share_costs() -> None:
    """And nothing is spared of nothing."""
    course = root_loss(np.full(11, 0.5), np.linspace(1.0, 0.0, 11), SPARE)
    assert np.all(np.diff(course) >= 0.0)
    assert course[-1] == pytest.approx(0.5)


def _steady(temp_c: float, hours: int, reference_c: float, slope_k: float) -> float:
    course = np.full((hours, 1), temp_c)
    start = np.zeros(hours, dtype=np.int64)
    return float(running_dose_k(course, np.array([reference_c]), slope_k, start)[-1, 0])


@pytest.mark.parametrize("hours", [1, 2, 4, 8, 16])
def test_a_leaf_bears_six_kelvins_less_for_ten_times_as_long(hours: int) -> None:
    """T(4 h) + 6 log10(4/t) is the limit for t hours: there, the dose is that of the four-hour limit."""
    four_hours, slope = 40.0, TABLES.hazards.heat_slope_k
    assert slope == 6.0
    one_hour = four_hours + slope * np.log10(4.0)
    limit = four_hours + slope * np.log10(4.0 / hours)
    assert four_hours + _steady(limit, hours, one_hour, slope) == pytest.approx(four_hours, abs=1e-6)


def test_the_pairs_of_root_heat_do_the_same_harm() -> None:
    """51.0 °C in 30 minutes and 43.9 °C in 300 (Ruter & Ingram, Ilex crenata 'Helleri'): half an hour counts half."""
    numbers = TABLES.hazards
    one_hour = 51.0 - numbers.root_heat_slope_k * np.log10(2.0)
    long = _steady(43.9, 5, one_hour, numbers.root_heat_slope_k)
    short = _steady(51.0, 1, one_hour, numbers.root_heat_slope_k) + numbers.root_heat_slope_k * np.log10(0.5)
    assert long == pytest.approx(short, abs=0.01)
    assert damage(np.array([long]), numbers.root_heat_10_shift_k, 0.0) == pytest.approx([0.5], abs=0.001)


def test_heat_of_a_day_sums_and_a_new_day_starts_anew() -> None:
    """Never falling within a day; a night in between forgets it."""
    course = np.tile(np.array([20.0, 30.0, 42.0, 41.0, 30.0, 20.0])[:, None], (2, 1))
    start = np.repeat([0, 6], 6)
    dose = running_dose_k(course, np.array([43.0]), 6.0, start)[:, 0]
    for first in (0, 6):
        assert all(later >= earlier for earlier, later in pairwise(dose[first : first + 6]))
    assert dose[6] == pytest.approx(dose[0])


@given(st.lists(st.floats(-10.0, 55.0), min_size=24, max_size=24), st.integers(0, 23))
@few
def test_a_hotter_hour_never_makes_a_smaller_dose(day: list[float], hour: int) -> None:
    """Whatever the rest of the day was like."""
    course: Array = np.array(day)[:, None]
    start = np.zeros(24, dtype=np.int64)
    hotter = course.copy()
    hotter[hour] += 3.0
    reference = np.array([42.0])
    assert np.all(running_dose_k(hotter, reference, 6.0, start) >= running_dose_k(course, reference, 6.0, start) - 1e-9)
