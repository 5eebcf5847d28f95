"""Ice in the top of the substrate: against the time that the heat of freezing takes, and what mulch and moisture do."""

from dataclasses import fields
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
from numpy.typing import NDArray

from carewatch.exposure.columns import Traits
from carewatch.exposure.march import March
from carewatch.exposure.top_layer import LAYER_M, loose, top_ice
from carewatch.physics.root_ball import FUSION

Array = NDArray[np.float64]


def _traits(held: float = 0.1) -> Traits:
    """Three litres of akadama, 14 cm deep."""
    row = {field.name: 0.0 for field in fields(Traits)} | {
        "capacity": 0.40,
        "available": 0.6,
        "porosity": 0.70,
        "solid_heat_mj": 2.2,
        "conductivity_dry": 0.15,
        "conductivity_wet": 0.60,
        "depth_m": 0.14,
        "held": held,
    }
    return Traits(**{name: np.array([value]) for name, value in row.items()})


def _ice(surface_c: Array, *, ball_c: float = 0.0, film: float = 15.0, water_left: float = 1.0) -> Array:
    hours = surface_c.size
    roots = SimpleNamespace(shells_c=np.full((hours, 5, 1, 1), ball_c), water_left=np.full((hours, 1, 1), water_left))
    traits = _traits()
    outside = surface_c[:, None, None].astype(np.float64)
    ice = top_ice(outside, np.full(outside.shape, film), cast("March", roots), traits, loose(traits))
    found: Array = ice[:, 0, 0]
    return found


@pytest.mark.parametrize("surface_c", [-3.0, -6.0, -12.0])
def test_freezing_through_takes_the_time_of_stefans_problem(surface_c: float) -> None:
    """
    Over a ball at 0 °C: t = latent heat · depth · (1/h + depth/2k) / degrees of frost (Stefan 1891, with a film).

    Within a tenth, and an hour for the step.
    """
    ice = _ice(np.full(200, surface_c))
    latent = 0.40 * FUSION * LAYER_M
    expected_h = latent * (1.0 / 15.0 + LAYER_M / 2.0 / 0.60) / -surface_c / 3600.0
    through = int(np.argmax(ice >= 0.999)) + 1
    assert through == pytest.approx(expected_h, rel=0.10, abs=1.0)


def test_ice_only_grows_in_frost_and_only_melts_without() -> None:
    """And stays within its bounds in any course of weather."""
    random = np.random.default_rng(4)
    for _ in range(30):
        course = random.uniform(-12.0, 12.0, 96)
        ice = _ice(course, ball_c=0.0)
        assert np.all((ice >= 0.0) & (ice <= 1.0))
        grows = np.diff(ice)
        assert np.all(grows[course[1:] >= 0.0] <= 1e-12)
        assert np.all(grows[course[1:] <= 0.0] >= -1e-12)


def test_colder_is_never_less_ice_and_a_cover_never_more() -> None:
    """Hour by hour through nights of frost and mild days; mulch leaves a third of the exchange (measures.toml)."""
    hours = np.arange(120)
    course = 1.5 - 9.0 * np.cos(2.0 * np.pi * (hours - 6.0) / 24.0)
    bare, colder, covered = _ice(course, ball_c=1.0), _ice(course - 2.0, ball_c=1.0), _ice(course, ball_c=1.0, film=5.0)
    assert np.all(colder >= bare - 1e-12)
    assert covered.max() < bare.max()
    assert np.count_nonzero(np.diff((bare >= 0.5).astype(int)) == 1) >= 3
    assert np.count_nonzero(np.diff((covered >= 0.5).astype(int)) == 1) <= 1


def test_dry_substrate_freezes_faster_and_a_warm_ball_keeps_the_top_open() -> None:
    """Less water to freeze; heat from below."""
    cold = np.full(24, -5.0)
    wet, dry = _ice(cold), _ice(cold, water_left=0.2)
    assert np.argmax(dry >= 0.5) < np.argmax(wet >= 0.5)
    assert _ice(np.full(48, -2.0), ball_c=6.0).max() < _ice(np.full(48, -2.0), ball_c=0.0).max()


def test_a_ball_that_is_frozen_at_the_beginning_has_a_frozen_top() -> None:
    """No freeze is counted that nobody saw."""
    assert _ice(np.full(3, -5.0), ball_c=-3.0)[0] == 1.0


def test_only_loose_trees_are_worked_out() -> None:
    """A tree in its second year asks for nothing."""
    assert loose(_traits(0.9)).size == 0
    assert loose(_traits(0.2)).size == 1
