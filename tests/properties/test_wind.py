"""What holds for any wind and what it pushes."""

import numpy as np
import pytest
from hypothesis import given
from numpy.typing import NDArray

from carewatch.physics.wind import (
    ELEMENT_HEIGHT_IN_ROUGHNESS,
    RIGID_DRAG_COEFFICIENT,
    beaufort_lower_limit_ms,
    drag_force_n,
    overturning_moment_nm,
    restoring_moment_nm,
    wind_at_height_ms,
    wind_to_2m_ms,
)
from tests.properties.weather_states import STATES, few, seeds

Array = NDArray[np.float64]

REFERENCE_MS = 20.0


def _winds(seed: int) -> tuple[Array, Array, Array]:
    """Wind at 10 m, height and roughness, from lawns to hedged gardens."""
    draw = np.random.default_rng(seed)
    return draw.uniform(0.1, 35.0, STATES), draw.uniform(0.0, 10.0, STATES), draw.uniform(0.005, 0.5, STATES)


@few
@given(seeds)
def test_wind_grows_with_height(seed: int) -> None:
    """From the top of the grass upwards; a plant lower than that has the wind of the top, without a jump."""
    wind, height, roughness = _winds(seed)
    here = wind_at_height_ms(wind, height, roughness)
    assert np.all(wind_at_height_ms(wind, height + 0.2, roughness) >= here)
    assert np.all(here > 0.0)
    assert np.all(here <= wind + 1e-9)
    top = ELEMENT_HEIGHT_IN_ROUGHNESS * roughness
    at_top = wind_at_height_ms(wind, top, roughness)
    assert np.array_equal(wind_at_height_ms(wind, 0.3 * top, roughness), wind_at_height_ms(wind, 0.0, roughness))
    assert wind_at_height_ms(wind, 1.0001 * top, roughness) == pytest.approx(at_top, rel=1e-3)


@few
@given(seeds)
def test_rough_ground_slows_the_wind_and_twice_the_wind_is_twice_the_wind(seed: int) -> None:
    """Below 10 m, as far as the law holds; the forecast's own height keeps the forecast's wind."""
    wind, height, roughness = _winds(seed)
    low = np.minimum(height, 9.0)
    smooth = wind_at_height_ms(wind, low, roughness)
    above_both = low > 1.1 * ELEMENT_HEIGHT_IN_ROUGHNESS * roughness
    assert np.all(wind_at_height_ms(wind, low, 1.1 * roughness)[above_both] < smooth[above_both])
    assert wind_at_height_ms(2.0 * wind, low, roughness) == pytest.approx(2.0 * smooth)
    assert wind_at_height_ms(wind, 10.0, roughness) == pytest.approx(wind)
    assert np.all(wind_at_height_ms(np.zeros(STATES), height, roughness) == 0.0)


@few
@given(seeds)
def test_the_wind_of_the_reference_is_that_of_two_metres(seed: int) -> None:
    """Measured at 2 m it stays as it is, to the rounding of FAO-56 eq. 47; measured higher it is less."""
    wind, height, _ = _winds(seed)
    assert wind_to_2m_ms(wind, 2.0) == pytest.approx(wind, rel=1e-3)
    lower = wind_to_2m_ms(wind, height + 1.0)
    assert np.all(wind_to_2m_ms(wind, height + 2.0) < lower)
    assert wind_to_2m_ms(3.0 * wind, height + 1.0) == pytest.approx(3.0 * lower)


@few
@given(seeds)
def test_the_force_of_the_wind_grows_with_the_wind(seed: int) -> None:
    """With any crown that yields less than the square takes away; with the area in proportion; without a jump."""
    draw = np.random.default_rng(seed)
    wind, area = draw.uniform(0.0, 40.0, STATES), draw.uniform(0.02, 1.0, STATES)
    drag, vogel = draw.uniform(0.1, 0.6, STATES), draw.uniform(-1.2, 0.0, STATES)
    force = drag_force_n(wind, area, drag, vogel, REFERENCE_MS)
    assert np.all(drag_force_n(wind + 0.1, area, drag, vogel, REFERENCE_MS) > force)
    assert drag_force_n(wind, 2.0 * area, drag, vogel, REFERENCE_MS) == pytest.approx(2.0 * force)
    assert np.all(drag_force_n(np.zeros(STATES), area, drag, vogel, REFERENCE_MS) == 0.0)
    # Where the crown begins to yield, the law of the rigid body goes over into the other.
    yields = vogel < -0.05
    begins = REFERENCE_MS * (RIGID_DRAG_COEFFICIENT / drag[yields]) ** (1.0 / vogel[yields])
    before, after = (
        drag_force_n(share * begins, area[yields], drag[yields], vogel[yields], REFERENCE_MS)
        for share in (0.9999, 1.0001)
    )
    assert after == pytest.approx(before, rel=1e-3, abs=1e-12)


@few
@given(seeds)
def test_a_crown_that_yields_is_pushed_less_in_a_gale(seed: int) -> None:
    """Above the speed at which the coefficient was measured, and never more than a plate below it."""
    draw = np.random.default_rng(seed)
    drag, vogel = draw.uniform(0.1, 0.6, STATES), draw.uniform(-1.2, -0.1, STATES)
    gale, breeze = draw.uniform(21.0, 40.0, STATES), draw.uniform(0.1, 19.0, STATES)
    rigid = np.zeros(STATES)
    assert np.all(
        drag_force_n(gale, 0.2, drag, vogel, REFERENCE_MS) < drag_force_n(gale, 0.2, drag, rigid, REFERENCE_MS)
    )
    plate = drag_force_n(breeze, 0.2, np.full(STATES, RIGID_DRAG_COEFFICIENT), rigid, REFERENCE_MS)
    assert np.all(drag_force_n(breeze, 0.2, drag, vogel, REFERENCE_MS) <= plate + 1e-12)


def test_the_scale_of_beaufort_rises_and_ends() -> None:
    """From 1 to 12; there is no force beyond."""
    limits = beaufort_lower_limit_ms(np.arange(1.0, 13.0))
    assert np.all(np.diff(limits) > 0.0)
    assert np.isnan(beaufort_lower_limit_ms(np.array([0.0, 13.0, np.nan]))).all()


def test_what_is_unknown_or_impossible_has_no_wind() -> None:
    """NaN in, NaN out; winds below zero, ground rougher than the law holds and masts in the grass neither."""
    wind, unknown = np.array([5.0]), np.array([np.nan])
    for answer in (
        wind_at_height_ms(unknown, 2.0, 0.1),
        wind_at_height_ms(wind, unknown, 0.1),
        wind_at_height_ms(wind, 2.0, unknown),
        wind_at_height_ms(-wind, 2.0, 0.1),
        wind_at_height_ms(wind, 2.0, 0.9),
        wind_at_height_ms(wind, 2.0, 0.0),
        wind_to_2m_ms(unknown, 10.0),
        wind_to_2m_ms(-wind, 10.0),
        wind_to_2m_ms(wind, 0.1),
        drag_force_n(unknown, 0.2, 0.3, -0.8, REFERENCE_MS),
        drag_force_n(-wind, 0.2, 0.3, -0.8, REFERENCE_MS),
        drag_force_n(wind, unknown, 0.3, -0.8, REFERENCE_MS),
        drag_force_n(wind, 0.2, unknown, -0.8, REFERENCE_MS),
        drag_force_n(wind, 0.2, 0.3, unknown, REFERENCE_MS),
        overturning_moment_nm(unknown, 1.0),
        restoring_moment_nm(unknown, 0.1),
    ):
        assert np.isnan(answer).all()
