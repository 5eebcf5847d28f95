"""Spheres that cool and freeze from outside, against worked examples of heat transfer: conduction and freezing."""

from functools import cache, partial

import numpy as np
from numpy.typing import NDArray

from carewatch.physics.root_ball import FREEZING_RANGE_K, SHELLS
from tests.reference.cooled_body import Body, sphere
from tests.reference.registry import Chapter, Check

Array = NDArray[np.float64]

CENGEL_POTATO = "Cengel & Ghajar, Heat and Mass Transfer, ch. 4, cooling of potatoes (instructor's solution)"
POTATO = "radius 3 cm, k 0.50, α 0.13e-6, h 19, from 25 °C in air of 2 °C"
CENGEL_APPLE = "Cengel & Ghajar, Heat and Mass Transfer, ch. 4, apples in the freezer (printed answer)"
APPLE = "diameter 9 cm, k 0.418, ρ 840, cp 3.81, h 8, from 20 °C in air of -15 °C, one hour"
INCROPERA = (
    "Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, example 5.4 to 5.5 (two-step cooling of a sphere)"
)
SINGH = "Singh & Heldman, Introduction to Food Engineering, ch. 7"
ICE = "five shells, half a kelvin of freezing range: 10 %"
PLANK = "Plank leaves out the heat of cooling ice and the freezing range: 15 %"
# First roots of 1 - x cot x = Bi, as printed with the examples.
POTATO_ROOT, APPLE_ROOT, STEEL_ROOT = 1.635, 1.476, 1.800


def _mean_of_profile(root: float, inner: float, outer: float) -> float:
    """Mean of sin(root r) / (root r) between two radii, by volume; 1 is the centre."""

    def whole(radius: float) -> float:
        x = root * radius
        return float((np.sin(x) - x * np.cos(x)) / root**3)

    return 3.0 * (whole(outer) - whole(inner)) / (outer**3 - inner**3)


def _centre_c(body: Body, around_c: float, root: float) -> float:
    """Temperature of the centre, from the innermost fifth by the profile of the first term. [°C]"""
    share = _mean_of_profile(root, 0.0, (1.0 / SHELLS) ** (1.0 / 3.0))
    return float(around_c + (body.shells_c[0] - around_c) / share)


def _surface_c(body: Body, around_c: float, root: float) -> float:
    """Temperature of the surface, from the outermost fifth by the profile of the first term. [°C]"""
    share = _mean_of_profile(root, (1.0 - 1.0 / SHELLS) ** (1.0 / 3.0), 1.0)
    return float(around_c + (body.shells_c[-1] - around_c) / share * np.sin(root) / root)


@cache
def _potato() -> tuple[float, float]:
    """When the centre has come down to 6 °C, and the surface by then. [h], [°C]"""
    body, seconds = Body(*sphere(0.03), 0.50, 19.0, 25.0, solid_heat_mj=0.50 / 0.13), 0.0
    while _centre_c(body, 2.0, POTATO_ROOT) > 6.0:
        body.step(2.0, 10.0)
        seconds += 10.0
    return seconds / 3600.0, _surface_c(body, 2.0, POTATO_ROOT)


@cache
def _apple() -> tuple[float, float, float]:
    """Centre and surface after an hour, and the heat that has left. [°C], [°C], [kJ]"""
    body = Body(*sphere(0.045), 0.418, 8.0, 20.0, solid_heat_mj=0.840 * 3.81)
    before = body.enthalpy.sum()
    for _ in range(360):
        body.step(-15.0, 10.0)
    lost_kj = float(before - body.enthalpy.sum()) / 1000.0
    return _centre_c(body, -15.0, APPLE_ROOT), _surface_c(body, -15.0, APPLE_ROOT), lost_kj


@cache
def _steel() -> tuple[float, float]:
    """Two steps of the 5 mm sphere: in air to 335 °C, then in the bath until its centre is at 50 °C. [s], [s]"""
    body, seconds = Body(*sphere(0.005), 20.0, 10.0, 400.0, solid_heat_mj=3.0), 0.0
    while body.shells_c.mean() > 335.0:
        body.step(20.0, 0.1)
        seconds += 0.1
    bath, dipped = Body(*sphere(0.005), 20.0, 6000.0, 335.0, solid_heat_mj=3.0), 0.0
    while _centre_c(bath, 20.0, STEEL_ROOT) > 50.0:
        bath.step(20.0, 0.005)
        dipped += 0.005
    return seconds, dipped


def _frozen_h(radius_m: float, conductivity: float, film_wm2k: float, latent_mj: float, below_k: float) -> float:
    """When the last shell of a sphere at its freezing point has frozen. [h]"""
    body = Body(*sphere(radius_m), conductivity, film_wm2k, 0.0, water=latent_mj / 334.0, porosity=1.0)
    seconds = 0.0
    while body.shells_c.max() > -FREEZING_RANGE_K:
        body.step(-below_k, 10.0)
        seconds += 10.0
    return seconds / 3600.0


def _ice_cm(conductivity: float, latent_mj: float, below_k: float, hours: float, expected_cm: float) -> float:
    """Ice that has grown from outside, in a ball whose flat outermost shell is about as thick. [cm]"""
    radius = 0.95 * expected_cm / 100.0 / (1.0 - (1.0 - 1.0 / SHELLS) ** (1.0 / 3.0))
    volume, area = sphere(radius)
    body = Body(volume, area, conductivity, 1e6, 0.0, water=latent_mj / 334.0, porosity=1.0)
    for _ in range(round(hours * 6)):
        body.step(-below_k, 600.0)
    return float(-body.enthalpy.sum() / (area * latent_mj * 1e6)) * 100.0


CHAPTER = Chapter(
    "Conduction and freezing",
    (
        Check("centre at 6 °C after [h]", CENGEL_POTATO, POTATO, 1.45, 0.04, lambda: _potato()[0]),
        Check("surface by then [°C]", CENGEL_POTATO, POTATO, 4.44, 0.1, lambda: _potato()[1]),
        Check("centre [°C]", CENGEL_APPLE, APPLE, 11.2, 0.2, lambda: _apple()[0]),
        Check("surface [°C]", CENGEL_APPLE, APPLE, 2.7, 0.2, lambda: _apple()[1]),
        Check("heat given off [kJ]", CENGEL_APPLE, APPLE, 17.2, 0.3, lambda: _apple()[2]),
        Check(
            "mean at 335 °C after [s]",
            INCROPERA,
            "radius 5 mm, k 20, ρ 3000, c 1000, h 10, from 400 °C in air of 20 °C",
            94.0,
            1.0,
            lambda: _steel()[0],
            "recomputed",
        ),
        Check(
            "centre at 50 °C after [s]",
            INCROPERA,
            "the same from 335 °C in water of 20 °C, h 6000",
            3.1,
            0.15,
            lambda: _steel()[1],
            "recomputed",
        ),
        Check(
            "ice on a lake [cm]",
            "Verma, Concepts of Physics, ch. 28 (printed answer 27.5 h); " + ICE,
            "k 1.7, ρL 336 MJ m⁻³, 10 K below, 27.5 h",
            10.0,
            1.0,
            partial(_ice_cm, 1.7, 336.0, 10.0, 27.5, 10.0),
        ),
        Check(
            "frozen through [h]",
            SINGH + ", example; " + PLANK,
            "diameter 7 cm, k 1.2, h 50, ρL 250 MJ m⁻³, 38.75 K below",
            0.72,
            0.15 * 0.72,
            partial(_frozen_h, 0.035, 1.2, 50.0, 250.0, 38.75),
            "recomputed",
        ),
        Check(
            "frozen through [h]",
            "Plank's equation on the potato of " + SINGH + "; " + PLANK,
            "diameter 2 cm, k 1.3, h 40, ρL 950 × 0.88 × 333.2 kJ, 38 K below",
            0.1957,
            0.15 * 0.1957,
            partial(_frozen_h, 0.010, 1.3, 40.0, 278.6, 38.0),
            "other program",
        ),
    ),
)
