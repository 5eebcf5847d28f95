"""What holds for the temperature of every root ball, whatever its pot and its weather."""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import given
from numpy.typing import NDArray

from carewatch.physics.root_ball import (
    FREEZING_RANGE_K,
    HOUR_PARTS,
    HOUR_S,
    SHELLS,
    BallShape,
    ball_hour,
    ball_shape,
    ball_step,
    enthalpy_j,
    heat_capacities,
    outer_path_m,
    shell_conductances_w_k,
    temperature_c,
)
from tests.properties.weather_states import few, seeds

Array = NDArray[np.float64]

BALLS = 200


@dataclass(frozen=True)
class Balls:
    """Balls in their surroundings, (ball,), with shells_c of shape (SHELLS, ball)."""

    shape: BallShape
    heat: tuple[Array, Array, Array]
    between_w_k: Array
    boundary_w_k: Array
    surround_c: Array
    shells_c: Array

    def stepped(self, seconds: float = HOUR_S) -> tuple[Array, Array, Array]:
        """Enthalpies before and after one step, and the heat that came in. [J]"""
        before = enthalpy_j(self.shells_c, *self.heat)
        after, entered = ball_step(before, *self.heat, self.between_w_k, self.boundary_w_k, self.surround_c, seconds)
        return before, after, entered

    def next_c(self, seconds: float = HOUR_S) -> Array:
        """Shell temperatures after one step. [°C]"""
        return temperature_c(self.stepped(seconds)[1], *self.heat)


def balls(seed: int, coldest_c: float = -20.0, warmest_c: float = 50.0) -> Balls:
    """Thimble pots to half barrels, dry pumice to wet peat, bare or wrapped, frozen, thawed and half thawed."""
    draw = np.random.default_rng(seed)
    radius = np.exp(draw.uniform(np.log(0.015), np.log(0.3), BALLS))
    shape = ball_shape(4.0 / 3.0 * np.pi * radius**3, 4.0 * np.pi * radius**2)
    porosity = draw.uniform(0.5, 0.9, BALLS)
    water = porosity * draw.uniform(0.02, 1.0, BALLS)
    conductivity = draw.uniform(0.05, 1.5, BALLS)
    film = np.exp(draw.uniform(np.log(0.5), np.log(40.0), BALLS))
    base = draw.uniform(coldest_c, warmest_c, BALLS) * draw.choice([0.0, 0.2, 1.0], BALLS)
    spread = draw.uniform(0.0, 8.0, BALLS) * draw.uniform(-1.0, 1.0, (SHELLS, BALLS))
    return Balls(
        shape=shape,
        heat=heat_capacities(shape, water, porosity, draw.uniform(1.8, 2.6, BALLS)),
        between_w_k=shell_conductances_w_k(shape, conductivity),
        boundary_w_k=shape.area_m2 / (1.0 / film + outer_path_m(shape) / conductivity),
        surround_c=draw.uniform(coldest_c, warmest_c, BALLS),
        shells_c=np.clip(base + spread, coldest_c, warmest_c),
    )


@few
@given(seeds)
def test_energy_is_conserved_to_rounding(seed: int) -> None:
    """What the shells gain is what came through the wall."""
    ball = balls(seed)
    before, after, entered = ball.stepped()
    scale = np.abs(before).max(axis=0) + np.abs(after).max(axis=0) + np.abs(entered)
    assert np.max(np.abs(after.sum(axis=0) - before.sum(axis=0) - entered) / scale) < 1e-9


@few
@given(seeds)
def test_no_shell_leaves_the_range_of_ball_and_surroundings(seed: int) -> None:
    """Heat flows from warm to cold only: an hour cannot overshoot, at any size and through any freezing."""
    ball = balls(seed)
    highest = np.maximum(ball.shells_c.max(axis=0), ball.surround_c)
    lowest = np.minimum(ball.shells_c.min(axis=0), ball.surround_c)
    after = ball.next_c()
    assert np.all(after <= highest + 1e-6)
    assert np.all(after >= lowest - 1e-6)


@few
@given(seeds)
def test_an_hour_is_its_steps_whether_or_not_something_freezes(seed: int) -> None:
    """What shares one elimination among the steps, and what does not, end where three steps of twenty minutes end."""
    for coldest_c in (-20.0, 0.5):
        ball = balls(seed, coldest_c)
        stepped = enthalpy_j(ball.shells_c, *ball.heat)
        walked, temp = ball_hour(stepped, *ball.heat, ball.between_w_k, ball.boundary_w_k, ball.surround_c)
        for _ in range(HOUR_PARTS):
            stepped, _ = ball_step(
                stepped, *ball.heat, ball.between_w_k, ball.boundary_w_k, ball.surround_c, HOUR_S / HOUR_PARTS
            )
        assert np.max(np.abs(walked - stepped) / (np.abs(stepped) + 1.0)) < 1e-9
        assert np.max(np.abs(temp - temperature_c(stepped, *ball.heat))) < 1e-9


@few
@given(seeds)
def test_a_ball_that_is_not_known_leaves_the_others_known(seed: int) -> None:
    """NaN in one column of an hour stays in that column."""
    ball = balls(seed)
    before = enthalpy_j(ball.shells_c, *ball.heat)
    alone, _ = ball_hour(before, *ball.heat, ball.between_w_k, ball.boundary_w_k, ball.surround_c)
    around = ball.surround_c.copy()
    around[3] = np.nan
    after, temp = ball_hour(before, *ball.heat, ball.between_w_k, ball.boundary_w_k, around)
    others = np.arange(BALLS) != 3
    assert np.isnan(after[:, 3]).all()
    assert np.isnan(temp[:, 3]).all()
    assert np.max(np.abs(after[:, others] - alone[:, others]) / (np.abs(alone[:, others]) + 1.0)) < 1e-9


@few
@given(seeds)
def test_warmer_surroundings_never_make_a_colder_ball(seed: int) -> None:
    """Nor does a warmer start."""
    ball = balls(seed)
    after = ball.next_c()
    assert np.all(replace(ball, surround_c=ball.surround_c + 1.5).next_c() >= after - 1e-7)
    assert np.all(replace(ball, shells_c=ball.shells_c + 0.7).next_c() >= after - 1e-7)


@few
@given(seeds)
def test_warming_mirrors_cooling_away_from_freezing(seed: int) -> None:
    """Above zero the balance is linear: what is as far below 40 °C as its twin is above ends as its mirror image."""
    ball = balls(seed, 1.0, 79.0)
    mirrored = replace(ball, shells_c=80.0 - ball.shells_c, surround_c=80.0 - ball.surround_c)
    assert np.max(np.abs(80.0 - mirrored.next_c() - ball.next_c())) < 1e-8


@few
@given(seeds)
def test_a_ball_in_balance_stays_as_it_is(seed: int) -> None:
    """One temperature inside and outside, frozen, freezing or thawed: nothing flows."""
    ball = balls(seed)
    still = replace(ball, shells_c=np.tile(ball.surround_c, (SHELLS, 1)))
    assert np.max(np.abs(still.next_c() - ball.surround_c)) < 1e-7


@few
@given(seeds)
def test_columns_do_not_feel_each_other(seed: int) -> None:
    """A ball gives the same alone, and an unknown neighbour leaves it known."""
    ball = balls(seed)
    after = ball.next_c()
    broken = ball.surround_c.copy()
    broken[3] = np.nan
    with_gap = replace(ball, surround_c=broken).next_c()
    others = np.arange(BALLS) != 3
    assert np.isnan(with_gap[:, 3]).all()
    assert np.max(np.abs(with_gap[:, others] - after[:, others])) < 1e-9
    first = tuple(part[:1] for part in ball.heat)
    alone, _ = ball_step(
        enthalpy_j(ball.shells_c, *ball.heat)[:, :1],
        first[0],
        first[1],
        first[2],
        ball.between_w_k[:, :1],
        ball.boundary_w_k[:1],
        ball.surround_c[:1],
    )
    known = temperature_c(alone, first[0], first[1], first[2])[:, 0]
    assert known == pytest.approx(after[:, 0], abs=1e-9)


@few
@given(seeds)
def test_enthalpy_and_temperature_are_each_other_s_inverse(seed: int) -> None:
    """Through thawed, freezing and frozen."""
    ball = balls(seed)
    assert np.max(np.abs(temperature_c(enthalpy_j(ball.shells_c, *ball.heat), *ball.heat) - ball.shells_c)) < 1e-9


@few
@given(seeds)
def test_freezing_holds_a_ball_at_zero_until_its_latent_heat_has_gone(seed: int) -> None:
    """Hour by hour in deep frost: while less heat has left than freezing frees, some shell has not frozen through."""
    ball = replace(balls(seed), shells_c=np.zeros((SHELLS, BALLS)), surround_c=np.full(BALLS, -12.0))
    latent = SHELLS * ball.heat[2]
    lost = np.zeros(BALLS)
    enthalpy = enthalpy_j(ball.shells_c, *ball.heat)
    for _ in range(30):
        enthalpy, entered = ball_step(enthalpy, *ball.heat, ball.between_w_k, ball.boundary_w_k, ball.surround_c)
        lost -= entered
        warmest = temperature_c(enthalpy, *ball.heat).max(axis=0)
        assert np.all(warmest[lost < latent] >= -FREEZING_RANGE_K - 1e-9)
        assert np.all(warmest <= 1e-9)


@few
@given(seeds)
def test_a_wet_ball_freezes_more_slowly_than_a_dry_one(seed: int) -> None:
    """Moist balls ride out a night (common practice: water at noon before a frost)."""
    draw = np.random.default_rng(seed)
    radius = draw.uniform(0.03, 0.15, BALLS)
    shape = ball_shape(4.0 / 3.0 * np.pi * radius**3, 4.0 * np.pi * radius**2)
    porosity = np.full(BALLS, 0.7)
    course = []
    for water in (0.1, 0.4):
        heat = heat_capacities(shape, np.full(BALLS, water), porosity, np.full(BALLS, 2.2))
        between = shell_conductances_w_k(shape, np.full(BALLS, 0.5))
        outside = shape.area_m2 / (1.0 / 15.0 + outer_path_m(shape) / 0.5)
        enthalpy = enthalpy_j(np.full((SHELLS, BALLS), 3.0), *heat)
        for _ in range(10):
            enthalpy, _ = ball_step(enthalpy, *heat, between, outside, np.full(BALLS, -8.0))
        course.append(temperature_c(enthalpy, *heat).mean(axis=0))
    assert np.all(course[1] > course[0])


def test_an_hourly_step_follows_minutes_through_two_days_of_frost_and_thaw() -> None:
    """
    The price of hourly steps is less than what pots of one kind differ.

    Root mean square of the mean temperature's difference: at most 0.35 K from three litres on, 0.5 K in smaller pots.
    """
    hours = np.arange(49.0)
    air = -3.0 + 8.0 * np.cos(2.0 * np.pi * (hours - 15.0) / 24.0)
    radius = np.array([0.03, 0.05, 0.072, 0.10, 0.15])
    shape = ball_shape(4.0 / 3.0 * np.pi * radius**3, 4.0 * np.pi * radius**2)
    heat = heat_capacities(shape, np.full(5, 0.40), np.full(5, 0.7), np.full(5, 2.2))
    between = shell_conductances_w_k(shape, np.full(5, 0.6))
    outside = shape.area_m2 / (1.0 / 18.0 + outer_path_m(shape) / 0.6)
    courses = []
    for parts in (1, 60):
        enthalpy = enthalpy_j(np.full((SHELLS, 5), 4.0), *heat)
        course = []
        for hour in range(1, 49):
            for part in range(1, parts + 1):
                surround = np.full(5, np.interp(hour - 1 + part / parts, hours, air))
                enthalpy, _ = ball_step(enthalpy, *heat, between, outside, surround, HOUR_S / parts)
            course.append(temperature_c(enthalpy, *heat).mean(axis=0))
        courses.append(np.array(course))
    error = np.sqrt(np.mean((courses[0] - courses[1]) ** 2, axis=0))
    assert np.all(error <= np.where(radius < 0.07, 0.5, 0.35)), error
