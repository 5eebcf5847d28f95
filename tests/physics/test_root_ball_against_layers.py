"""The root ball in five shells, hour by hour, against a sphere in forty layers and steps of seconds."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from carewatch.physics.root_ball import (
    SHELLS,
    ball_hour,
    ball_shape,
    enthalpy_j,
    heat_capacities,
    outer_path_m,
    shell_conductances_w_k,
)
from tests.physics.layered_sphere import LAYERS, Sphere, layer_temperatures_c

Array = NDArray[np.float64]

HOURS = np.arange(49.0)
START_C = 4.0
# What the two models may differ by in the mean of the ball: less than a thermometer in a pot can tell. [K]
ALLOWED_K = 0.5

POTS = {
    "three litres of akadama, wet": Sphere(0.072, 0.6, 0.38, 0.30, 2.2, 15.0),
    "one litre, half dry": Sphere(0.050, 0.3, 0.20, 0.30, 2.2, 20.0),
    "a thimble in the wind": Sphere(0.030, 0.6, 0.44, 0.30, 2.2, 20.0),
    "fourteen litres of loam": Sphere(0.150, 0.9, 0.40, 0.38, 2.2, 12.0),
    "three litres of peat": Sphere(0.072, 0.5, 0.60, 0.13, 2.5, 15.0),
}
# Mean and half range of two invented days; coldest at 3, warmest at 15 o'clock. [°C]
DAYS = {"frost and thaw": (-1.0, 7.0), "hard frost": (-6.0, 5.0), "a light night frost": (1.5, 5.0)}


def _shell_temperatures_c(sphere: Sphere, surround_c: Array) -> Array:
    """Hourly course of carewatch's shells, (hour, SHELLS)."""
    shape = ball_shape(np.array([4.0 / 3.0 * np.pi * sphere.radius_m**3]), np.array([4.0 * np.pi * sphere.radius_m**2]))
    heat = heat_capacities(
        shape, np.array([sphere.water]), np.array([1.0 - sphere.solids]), np.array([sphere.solids_mj])
    )
    between = shell_conductances_w_k(shape, np.array([sphere.conductivity]))
    outside = shape.area_m2 / (1.0 / sphere.film_wm2k + outer_path_m(shape) / sphere.conductivity)
    enthalpy = enthalpy_j(np.full((SHELLS, 1), START_C), *heat)
    course = [np.full(SHELLS, START_C)]
    for hour in range(1, HOURS.size):
        enthalpy, temp = ball_hour(enthalpy, *heat, between, outside, surround_c[hour : hour + 1])
        course.append(temp[:, 0])
    return np.array(course)


@pytest.mark.parametrize("days", DAYS)
@pytest.mark.parametrize("pot", POTS)
def test_the_ball_follows_a_fine_model_through_two_days(
    pot: str, days: str, record_property: Callable[[str, object], None]
) -> None:
    """
    Root mean square of the difference: in the mean at most half a kelvin, in the innermost fifth at most a kelvin.

    An hour's step lags behind fast changes: the worst hours come just before a ball thaws or has frozen through.
    """
    middle, half = DAYS[days]
    surround = middle + half * np.cos(2.0 * np.pi * (HOURS - 15.0) / 24.0)
    mean, layers = layer_temperatures_c(POTS[pot], HOURS, surround, START_C)
    shells = _shell_temperatures_c(POTS[pot], surround)
    difference = shells.mean(axis=1) - mean
    error = float(np.sqrt(np.mean(difference**2)))
    worst = int(np.abs(difference).argmax())
    told = (
        f"{pot}, {days}: {error:.2f} K, worst {difference[worst]:+.2f} K after {worst} h "
        f"at {mean[worst]:.1f} °C, coldest core {layers[:, 0].min():.1f} against {shells[:, 0].min():.1f} °C"
    )
    record_property("difference", told)
    assert error <= ALLOWED_K, told
    # The innermost fifth of the volume against the layers that fill it.
    edges = np.linspace(0.0, 1.0, LAYERS + 1)
    share = np.clip(0.2 - edges[:-1] ** 3, 0.0, np.diff(edges**3))
    core = layers @ share / share.sum()
    assert float(np.sqrt(np.mean((core - shells[:, 0]) ** 2))) <= 1.0


def test_the_fine_model_keeps_its_own_energy() -> None:
    """In surroundings of its own temperature it does not change, and left long enough it takes theirs on."""
    still, _ = layer_temperatures_c(POTS["three litres of peat"], HOURS, np.full(HOURS.size, START_C), START_C)
    assert still == pytest.approx(np.full(HOURS.size, START_C), abs=1e-6)
    long = np.linspace(0.0, 400.0, 41)
    frozen, _ = layer_temperatures_c(POTS["one litre, half dry"], long, np.full(41, -8.0), START_C)
    assert frozen[-1] == pytest.approx(-8.0, abs=1e-3)
