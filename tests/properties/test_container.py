"""What holds for the water in any pot."""

import numpy as np
import pytest
from hypothesis import given
from numpy.typing import NDArray

from carewatch.care.tree import Substrate
from carewatch.config.tables import load_tables
from carewatch.physics.container import (
    SHALLOW_CM,
    Retention,
    air_space,
    airless_height_cm,
    container_capacity,
    depletion_after_mm,
    easy_share_at,
    readily_available_mm,
    retention,
    stress_factor,
    total_available_mm,
    water_at_height,
    waterlogged_after_h,
)
from tests.properties.weather_states import STATES, few, seeds

Array = NDArray[np.float64]

SUBSTRATES = tuple(load_tables().substrates.values())


def _substrates(seed: int) -> tuple[Retention, Array, Array, Array, Array]:
    """Curves of substrates from grit to peat, and the four numbers that they were drawn through."""
    draw = np.random.default_rng(seed)
    porosity = draw.uniform(0.45, 0.95, STATES)
    length, residual = draw.uniform(0.5, 12.0, STATES), draw.uniform(0.0, 0.6, STATES) * porosity
    drawn = Retention(porosity, residual, length)
    deep = draw.uniform(8.0, 25.0, STATES)
    held = container_capacity(drawn, deep)
    slope = (container_capacity(drawn, SHALLOW_CM) - held) / (deep - SHALLOW_CM)
    return drawn, porosity, held, deep, slope


@few
@given(seeds)
def test_the_curve_is_found_from_what_two_pots_hold(seed: int) -> None:
    """The one substrate that holds so much in a deep and so much in a shallow pot, whatever it is."""
    drawn, porosity, held, deep, slope = _substrates(seed)
    found = retention(porosity, held, deep, slope)
    assert found.length_cm == pytest.approx(drawn.length_cm, rel=1e-6)
    assert found.residual == pytest.approx(drawn.residual, abs=1e-6)


@pytest.mark.parametrize("row", SUBSTRATES, ids=lambda row: str(row.name))
def test_every_substrate_of_the_tables_has_a_curve(row: Substrate) -> None:
    """It holds what its row says at the reference depth and at 5 cm, and stays within its pores in any pot."""
    curve = retention(row.porosity, row.water_at_capacity, row.reference_depth_cm, row.depth_slope)
    assert float(container_capacity(curve, row.reference_depth_cm)) == pytest.approx(row.water_at_capacity)
    shallow = row.water_at_capacity + row.depth_slope * (row.reference_depth_cm - SHALLOW_CM)
    assert float(container_capacity(curve, SHALLOW_CM)) == pytest.approx(shallow)
    course = container_capacity(curve, np.linspace(0.5, 80.0, 200))
    assert np.all((course > 0.0) & (course < row.porosity))
    assert np.all(np.diff(course) < 0.0)


@few
@given(seeds)
def test_a_shallow_pot_is_wetter_than_a_deep_one(seed: int) -> None:
    """Per volume; so it has less air; between what is held however high and full pores."""
    curve, porosity, _, deep, _ = _substrates(seed)
    shallow, ordinary = container_capacity(curve, 0.5 * deep), container_capacity(curve, deep)
    assert np.all(shallow > ordinary)
    assert np.all(ordinary > curve.residual)
    assert np.all(shallow < porosity)
    assert np.all(air_space(curve, 0.5 * deep) < air_space(curve, deep))
    assert ordinary + air_space(curve, deep) == pytest.approx(porosity)


@few
@given(seeds)
def test_what_the_pot_holds_is_what_its_heights_hold(seed: int) -> None:
    """The mean over the height; saturated at the bottom, driest at the top."""
    curve, porosity, _, deep, _ = _substrates(seed)
    middles = (np.arange(2000.0)[:, None] + 0.5) / 2000.0 * deep
    held = water_at_height(curve, middles)
    assert held.mean(axis=0) == pytest.approx(container_capacity(curve, deep), abs=1e-5)
    assert np.all(np.diff(held, axis=0) <= 0.0)
    assert water_at_height(curve, np.zeros(STATES)) == pytest.approx(porosity)


@few
@given(seeds)
def test_the_airless_layer_lies_at_the_bottom(seed: int) -> None:
    """At its top there is just the least air, unless it fills the pot; it does not depend on the pot above it."""
    curve, porosity, _, deep, _ = _substrates(seed)
    height = airless_height_cm(curve, deep)
    inside = height < deep
    air = porosity - water_at_height(curve, height)
    assert air[inside] == pytest.approx(0.10, abs=1e-9)
    assert np.all(air[~inside] <= 0.10)
    assert np.array_equal(airless_height_cm(curve, 2.0 * deep)[inside], height[inside])


def test_impossible_substrates_have_no_curve() -> None:
    """Water that grows with depth, more water than pores, or a fall no drained pot can show: NaN, and so all of it."""
    for porosity, held, deep, slope in (
        (0.6, 0.4, 15.0, -0.01),
        (0.6, 0.7, 15.0, 0.01),
        (0.6, 0.4, 15.0, 0.05),
        (0.6, 0.4, 4.0, 0.01),
        (0.6, 0.4, np.nan, 0.01),
        (np.nan, 0.4, 15.0, 0.01),
    ):
        curve = retention(porosity, held, deep, slope)
        assert np.isnan(container_capacity(curve, 10.0)).all(), (porosity, held, deep, slope)
    curve = retention(0.6, 0.4, 15.0, 0.01)
    assert np.isnan(container_capacity(curve, np.array([0.0, -1.0, np.nan]))).all()
    assert np.isnan(water_at_height(curve, np.array([-1.0, np.nan]))).all()


@few
@given(seeds)
def test_no_water_is_lost_or_made(seed: int) -> None:
    """What goes in is used, makes up for what was missing, or runs out; a pot has no more to give than all of it."""
    draw = np.random.default_rng(seed)
    total = total_available_mm(draw.uniform(0.3, 0.7, STATES), draw.uniform(0.05, 0.25, STATES), 0.1)
    missing = draw.uniform(0.0, 1.0, STATES) * total
    gained, used = draw.uniform(0.0, 40.0, STATES), draw.uniform(0.0, 12.0, STATES)
    after, runs_out = depletion_after_mm(missing, gained, used, total)
    assert np.all((after >= 0.0) & (after <= total))
    assert np.all(runs_out >= 0.0)
    enough = missing - gained + used <= total
    assert (gained - used - runs_out)[enough] == pytest.approx((missing - after)[enough], abs=1e-9)
    assert np.all((after == 0.0) | (runs_out == 0.0))


@few
@given(seeds)
def test_stress_begins_where_the_easy_water_ends(seed: int) -> None:
    """One down to the readily available, then steadily to nothing, without a jump."""
    draw = np.random.default_rng(seed)
    total, easy = draw.uniform(5.0, 80.0, STATES), draw.uniform(0.1, 0.8, STATES)
    ready = readily_available_mm(total, easy)
    assert stress_factor(ready, total, easy) == pytest.approx(np.ones(STATES))
    assert stress_factor(ready + 1e-6 * total, total, easy) == pytest.approx(np.ones(STATES), abs=1e-5)
    assert np.all(stress_factor(total, total, easy) == 0.0)
    last = np.ones(STATES)
    for share in np.linspace(0.0, 1.2, 13):
        factor = stress_factor(share * total, total, easy)
        assert np.all((factor >= 0.0) & (factor <= last + 1e-12))
        last = factor


def test_a_thirsty_day_leaves_less_of_the_easy_water() -> None:
    """The table's share holds at 5 mm a day; it never leaves 0.1 to 0.8."""
    shares = easy_share_at(np.linspace(-5.0, 20.0, 200))
    assert np.all(np.diff(shares) <= 0.0)
    assert float(easy_share_at(np.array(5.0))) == pytest.approx(0.5)
    assert shares.min() >= 0.1
    assert shares.max() <= 0.8


@few
@given(seeds)
def test_hours_without_air_count_faster_in_the_warm_and_are_made_good(seed: int) -> None:
    """They grow only while there is too little air, and fall back to none when it is back."""
    draw = np.random.default_rng(seed)
    before, temp = draw.uniform(0.0, 100.0, STATES), draw.uniform(0.0, 35.0, STATES)
    air = draw.uniform(0.0, 0.3, STATES)
    after = waterlogged_after_h(before, air, temp, 2.0)
    warmer = waterlogged_after_h(before, air, temp + 10.0, 2.0)
    drowned = air < 0.10
    assert np.all(after[drowned] > before[drowned])
    assert (warmer - before)[drowned] == pytest.approx(2.0 * (after - before)[drowned])
    assert np.all(after[~drowned] <= before[~drowned])
    assert np.all(after >= 0.0)
    for _ in range(250):
        after = waterlogged_after_h(after, np.full(STATES, 0.2), temp, 2.0)
    assert np.all(after == 0.0)


def test_what_is_unknown_about_a_pot_stays_unknown() -> None:
    """NaN in any input of the balance gives NaN."""
    unknown, known = np.array([np.nan]), np.array([10.0])
    for answer in (
        total_available_mm(unknown, known, 0.1),
        readily_available_mm(unknown),
        stress_factor(unknown, known),
        stress_factor(known, unknown),
        easy_share_at(unknown),
        *depletion_after_mm(unknown, known, known, known),
        *depletion_after_mm(known, unknown, known, known),
        *depletion_after_mm(known, known, unknown, known),
        waterlogged_after_h(unknown, known, known, 2.0),
        waterlogged_after_h(known, unknown, known, 2.0),
        waterlogged_after_h(known, known, unknown, 2.0),
    ):
        assert np.isnan(answer).all()
