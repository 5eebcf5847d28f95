"""What holds for water vapour in any air."""

import numpy as np
import pytest
from hypothesis import given
from numpy.typing import NDArray

from carewatch.physics.humidity import (
    dew_point_c,
    dew_point_from_humidity_c,
    pressure_at_kpa,
    saturation_over_ice_kpa,
    saturation_slope_kpa_k,
    saturation_vapour_pressure_kpa,
    vapour_deficit_kpa,
    wet_bulb_c,
)
from tests.properties.weather_states import STATES, few, seeds

Array = NDArray[np.float64]


def _air(seed: int) -> tuple[Array, Array, Array]:
    """Air, dew point and pressure from arctic nights to desert noons, from the sea to the mountains."""
    draw = np.random.default_rng(seed)
    air = draw.uniform(-35.0, 48.0, STATES)
    return air, air - draw.uniform(0.0, 30.0, STATES), draw.uniform(60.0, 105.0, STATES)


@few
@given(seeds)
def test_warmer_air_holds_more_and_ever_more(seed: int) -> None:
    """Saturation rises, and so does its slope: the derivative, to FAO-56's rounding of 4098.17 to 4098."""
    air, _, _ = _air(seed)
    step = 1e-3
    around = saturation_vapour_pressure_kpa(air + step) - saturation_vapour_pressure_kpa(air - step)
    slope = saturation_slope_kpa_k(air)
    assert around / (2.0 * step) == pytest.approx(slope, rel=5e-5)
    assert np.all(saturation_slope_kpa_k(air + 0.1) > slope)


@few
@given(seeds)
def test_ice_holds_back_more_than_water(seed: int) -> None:
    """Below 0 °C the pressure over ice is lower; at 0 °C they meet to a thousandth; above there is no ice."""
    cold = -np.abs(_air(seed)[0]) - 0.2
    assert np.all(saturation_over_ice_kpa(cold) < saturation_vapour_pressure_kpa(cold))
    zero = np.zeros(1)
    assert saturation_over_ice_kpa(zero) == pytest.approx(saturation_vapour_pressure_kpa(zero), rel=1e-3)
    assert np.isnan(saturation_over_ice_kpa(-cold)).all()


@few
@given(seeds)
def test_the_dew_point_takes_back_the_saturation(seed: int) -> None:
    """There and back is the same temperature; all of the saturation is the air temperature itself."""
    air, _, _ = _air(seed)
    assert dew_point_c(saturation_vapour_pressure_kpa(air)) == pytest.approx(air, abs=1e-9)
    assert dew_point_from_humidity_c(air, np.full(STATES, 100.0)) == pytest.approx(air, abs=1e-9)
    drier = dew_point_from_humidity_c(air, np.full(STATES, 60.0))
    assert np.all(drier < air)
    assert np.all(dew_point_from_humidity_c(air, np.full(STATES, 30.0)) < drier)


@few
@given(seeds)
def test_the_deficit_ends_at_saturation(seed: int) -> None:
    """It falls to nothing as the dew point comes up, without a jump, and never below."""
    air, dew, _ = _air(seed)
    last = vapour_deficit_kpa(air, dew)
    assert np.all(last >= 0.0)
    for share in (0.5, 0.9, 0.999, 1.0):
        deficit = vapour_deficit_kpa(air, dew + share * (air - dew))
        assert np.all(deficit <= last)
        last = deficit
    assert np.max(last) < 1e-12
    assert np.all(vapour_deficit_kpa(air, air + 1.0) == 0.0)


@few
@given(seeds)
def test_the_wet_bulb_lies_between_dew_point_and_air(seed: int) -> None:
    """It rises with both, and in saturated air the three are one, to the thousandth that it is solved to."""
    air, dew, pressure = _air(seed)
    wet = wet_bulb_c(air, dew, pressure)
    assert np.all(wet <= air + 1e-3)
    assert np.all(wet >= dew - 1e-3)
    assert wet_bulb_c(air, air, pressure) == pytest.approx(air, abs=2e-3)
    assert np.all(wet_bulb_c(air, np.minimum(dew + 1.0, air), pressure) >= wet - 2e-3)
    assert np.all(wet_bulb_c(air + 1.0, dew, pressure) >= wet - 2e-3)


@few
@given(seeds)
def test_thin_air_dries_a_wet_bulb_faster(seed: int) -> None:
    """At lower pressure it reads lower."""
    air, dew, pressure = _air(seed)
    assert np.all(wet_bulb_c(air, dew, pressure - 5.0) <= wet_bulb_c(air, dew, pressure) + 2e-3)


def test_pressure_falls_with_height() -> None:
    """All the way from the Dead Sea to the high plateaus."""
    course = pressure_at_kpa(np.linspace(-400.0, 4500.0, 200))
    assert np.all(np.diff(course) < 0.0)


@few
@given(seeds)
def test_what_is_unknown_stays_unknown(seed: int) -> None:
    """NaN in any input gives NaN for that state, and changes no other."""
    air, dew, pressure = _air(seed)
    whole = wet_bulb_c(air, dew, pressure)
    for which in range(3):
        given_states = [air.copy(), dew.copy(), pressure.copy()]
        given_states[which][7] = np.nan
        broken = wet_bulb_c(*given_states)
        assert np.isnan(broken[7])
        assert np.delete(broken, 7) == pytest.approx(np.delete(whole, 7), abs=1e-3)
    unknown = np.array([np.nan])
    known = np.array([10.0])
    for answer in (
        saturation_vapour_pressure_kpa(unknown),
        saturation_over_ice_kpa(unknown),
        saturation_slope_kpa_k(unknown),
        dew_point_c(unknown),
        dew_point_c(-known),
        dew_point_from_humidity_c(known, unknown),
        dew_point_from_humidity_c(unknown, known),
        vapour_deficit_kpa(unknown, known),
        vapour_deficit_kpa(known, unknown),
        pressure_at_kpa(unknown),
    ):
        assert np.isnan(answer).all()
