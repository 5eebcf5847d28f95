"""Winter chill: what portions are made of, what undoes them, and what buds do with little of it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from carewatch.condition import chill
from carewatch.condition.chill import (
    chill_portions,
    competence,
    daily_portions,
    growing_degree_days,
    hourly_course_c,
    utah_units,
)


def steady_portions(temp_c: float, hours: int = 2400) -> float:
    """Portions of a time of one temperature."""
    return float(chill_portions(np.full(hours, temp_c)).sum())


def test_the_constants_of_the_dynamic_model_are_those_in_print() -> None:
    """Fishman, Erez & Couvillon 1987; Erez et al. 1990, Acta Hort. 276:165."""
    assert (chill.ENERGY_FORMED_K, chill.ENERGY_LOST_K) == (4153.5, 12888.8)
    assert (chill.RATE_FORMED_H, chill.RATE_LOST_H) == (139500.0, 2.567e18)
    assert (chill.SLOPE, chill.TRANSITION_K, chill.ZERO_K) == (1.6, 277.0, 273.0)


def test_the_first_portion_takes_28_hours_at_six_degrees() -> None:
    """The rule of the literature; the equations give 28.15 h in closed form, so the 29th hour completes it."""
    completed = chill_portions(np.full(60, 6.0))
    assert int(np.argmax(completed > 0.0)) + 1 == 29
    assert float(completed.sum()) == pytest.approx(2.0, abs=0.2)


@pytest.mark.parametrize("temp_c", [13.0, 15.0, 20.0, 30.0])
def test_warm_hours_make_no_portion(temp_c: float) -> None:
    """From 13 °C on less than one portion of the precursor ever comes together (steady state of the equations)."""
    assert steady_portions(temp_c) == 0.0


def test_deep_frost_makes_hardly_any_portion() -> None:
    """The precursor forms slowly in the cold, and below 4 °C less and less of it is fixed."""
    assert steady_portions(-10.0) < 0.1 * steady_portions(6.0)
    assert steady_portions(6.0) > steady_portions(0.0)


def test_a_warm_afternoon_undoes_what_was_not_fixed_yet() -> None:
    """The same cold hours count less between warm ones: what the model was made for (Fishman et al. 1987)."""
    broken = np.tile(np.concatenate([np.full(16, 6.0), np.full(8, 24.0)]), 60)
    whole = np.concatenate([np.full(16 * 60, 6.0), np.full(8 * 60, 24.0)])
    assert chill_portions(broken).sum() < 0.2 * chill_portions(whole).sum()


def test_what_is_fixed_is_not_lost_again() -> None:
    """Heat after a cold month takes no portion away."""
    cold = chill_portions(np.full(720, 6.0)).sum()
    assert chill_portions(np.concatenate([np.full(720, 6.0), np.full(240, 25.0)])).sum() >= cold


@given(st.lists(st.floats(-15.0, 25.0), min_size=3, max_size=10))
@settings(max_examples=50, deadline=None, derandomize=True)
def test_portions_are_never_negative_and_no_more_than_the_best_temperature_gives(temps: list[float]) -> None:
    """Whatever the weather; the best steady temperature lies between 4 and 9 °C."""
    portions = chill_portions(np.repeat(temps, 48))
    best = max(steady_portions(temp, 48 * len(temps)) for temp in (4.0, 6.0, 8.0))
    assert (portions >= 0.0).all()
    assert portions.sum() <= best + 1.0


@pytest.mark.parametrize("range_k", [4.0, 10.0])
def test_portions_of_a_winter_hardly_depend_on_the_daily_range(range_k: float) -> None:
    """So that daily means are enough: three to eight degrees, as between Potsdam and Port Angeles in winter."""
    means = np.linspace(3.0, 8.0, 90)
    assert daily_portions(means, range_k).sum() == pytest.approx(daily_portions(means, 7.0).sum(), rel=0.1)


def test_the_hours_of_a_day_have_its_mean_and_its_range() -> None:
    """Coldest at three in the morning, warmest at three in the afternoon."""
    day = hourly_course_c(np.array([5.0, 9.0]), 7.0).reshape(2, 24)
    assert day.mean(axis=1) == pytest.approx([5.0, 9.0])
    assert np.ptp(day, axis=1) == pytest.approx([7.0, 7.0])
    assert (day.argmax(axis=1) == 15).all()


def test_utah_units_turn_negative_in_warmth() -> None:
    """Richardson et al. 1974; the whole table stands in tests/reference/checks_chill.py."""
    assert list(utah_units(np.array([1.4, 2.4, 9.1, 12.4, 15.9, 18.0, 25.0]))) == [0.0, 0.5, 1.0, 0.5, 0.0, -0.5, -1.0]


def test_less_chill_costs_more_warmth_and_no_chill_still_opens_buds() -> None:
    """Thermal time falls exponentially with chill (Cannell & Smith 1983); it never becomes infinite."""
    share = competence(np.array([0.0, 20.0, 40.0, 60.0]), 40.0, 2.0)
    assert share[0] == pytest.approx(np.exp(-2.0))
    assert share[1] == pytest.approx(np.exp(-1.0))
    assert list(share[2:]) == [1.0, 1.0]
    assert (competence(np.array([0.0, 50.0]), 0.0, 2.0) == 1.0).all()


def test_degree_days_are_the_mean_above_the_base() -> None:
    """Western Regional Climate Center: 95 and 51 °F over 60 °F give 13; 30 and 10 °C over 10 °C give 10."""
    assert float(growing_degree_days(np.array([(95 + 51) / 2]), 60.0)[0]) == 13.0
    assert float(growing_degree_days(np.array([(30 + 10) / 2]), 10.0)[0]) == 10.0
    assert float(growing_degree_days(np.array([4.0]), 5.0)[0]) == 0.0
