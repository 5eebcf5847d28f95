"""What tips a pot over what holds it: against moments worked by hand and what is published of crowns in wind."""

from dataclasses import fields

import numpy as np
import pytest

from carewatch.exposure.columns import Traits
from carewatch.exposure.wind_load import DRAG_BROADLEAF, DRAG_NEEDLE, VOGEL, overturning_ratio


def _traits(**values: float) -> Traits:
    """One tree: 60 cm in leaf over three litres of akadama in a pot 18 cm wide, unless said otherwise."""
    row = {field.name: 0.0 for field in fields(Traits)} | {
        "frontal_m2": 0.09,
        "mid_crown_m": 0.50,
        "volume_m3": 0.003,
        "half_base_m": 0.09,
        "density_dry": 700.0,
    }
    return Traits(**{name: np.array([value]) for name, value in (row | values).items()})


def _ratios(traits: Traits, *gust_ms: float, water: float = 0.3, topple: float = 1.0) -> list[float]:
    gusts = np.array(gust_ms)[:, None, None]
    ratio = overturning_ratio(gusts, traits, np.full(gusts.shape, water), np.full((len(gust_ms), 1), topple))
    return [float(value) for value in ratio[:, 0, 0]]


def test_the_ratio_is_that_of_two_moments_worked_by_hand() -> None:
    """
    At 20 m/s: 0.5 · 1.204 · 0.22 · 0.09 · 400 = 4.77 N on a lever of 0.5 m, against 3.3 kg · 9.81 · 0.09 m.

    Drag coefficient at 20 m/s: Vollsinger et al. 2005, broad-leaved crowns 0.15-0.22.
    """
    assert _ratios(_traits(), 20.0)[0] == pytest.approx(4.768 * 0.5 / (3.3 * 9.80665 * 0.09), rel=1e-3)


def test_drag_coefficients_are_those_measured_in_the_tunnel() -> None:
    """Vollsinger et al. 2005: 0.15-0.22 for broad leaves; Rudnicki et al. 2004: 0.22-0.47 for conifers."""
    assert 0.15 <= DRAG_BROADLEAF <= 0.22
    assert 0.22 <= DRAG_NEEDLE <= 0.47
    leafy, needles = (_ratios(_traits(needle=value), 20.0)[0] for value in (0.0, 1.0))
    assert needles / leafy == pytest.approx(DRAG_NEEDLE / DRAG_BROADLEAF)


def test_crowns_give_way_so_that_twice_the_wind_is_not_four_times_the_force() -> None:
    """Vogel 1989, de Langre 2008: force by the power 2 + V with V from -0.5 to -1.2 for leafy crowns."""
    assert -1.2 <= VOGEL <= -0.5
    half, full = _ratios(_traits(), 15.0, 30.0)
    assert 2.0**0.8 <= full / half <= 2.0**1.5


def test_a_tall_tree_in_a_light_pot_falls_before_a_low_one_in_a_wide_one() -> None:
    """Common practice: tall in light is the case. 120 cm over 5 l falls in a gust, a low tree in a tray does not."""
    tall = _traits(frontal_m2=0.35, mid_crown_m=0.95, volume_m3=0.005, half_base_m=0.10)
    low = _traits(frontal_m2=0.05, mid_crown_m=0.25, volume_m3=0.004, half_base_m=0.11)
    assert _ratios(tall, 15.0)[0] > 1.0 > _ratios(low, 25.0)[0]


def test_water_holds_a_pot_down_and_a_lee_side_helps() -> None:
    """A soaked pot weighs more; a tree laid down cannot fall."""
    dry, wet = (_ratios(_traits(), 15.0, water=water)[0] for water in (0.1, 0.45))
    assert dry / wet == pytest.approx((0.7 + 0.45) / (0.7 + 0.1))
    assert _ratios(_traits(), 15.0, topple=0.0)[0] == 0.0


def test_no_wind_no_moment_and_an_unknown_gust_stays_unknown() -> None:
    """Nothing is made up."""
    calm, unknown = _ratios(_traits(), 0.0, np.nan)
    assert calm == 0.0
    assert np.isnan(unknown)
