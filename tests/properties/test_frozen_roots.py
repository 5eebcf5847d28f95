"""Frozen roots bring nothing, whatever the weather; and evergreen leaves dry over them in sun and wind."""

import numpy as np
from hypothesis import given
from numpy.typing import NDArray

from carewatch.condition.now import Condition
from carewatch.exposure.columns import NEUTRAL, Columns, traits_of
from carewatch.exposure.march import Drive, March, RootState, march, start_roots
from carewatch.exposure.run import shape_of
from tests.condition.grown import TABLES, on, tree, year_like
from tests.properties.weather_states import few, seeds

Array = NDArray[np.float64]
NUMBERS = TABLES.hazards
YEARS = year_like("2024-09-01", "2026-12-31")
HOURS, MEMBERS = 96, 4
EVERGREENS: tuple[Condition, ...] = tuple(
    on("2026-01-20", [], YEARS, tree("maple", species)) for species in ("Pinus", "Juniperus", "Olea")
)


def _walked(surround_c: Array, demand_mol: Array, start_c: float) -> tuple[March, RootState]:
    """Three evergreens through hours of what surrounds their pots; arrays (hour, member, column)."""
    traits = traits_of(EVERGREENS)
    hours, members, count = surround_c.shape
    values = {name: np.full((hours, count), neutral) for name, neutral in NEUTRAL.items()}
    columns = Columns(tree=np.arange(count), place=np.zeros((hours, count), dtype=np.int64), **values)
    shape = shape_of(traits)
    dry = np.zeros(surround_c.shape)
    drive = Drive(np.full(surround_c.shape, 1.5), surround_c, demand_mol, 0.1 * demand_mol, dry, dry)
    return march(
        drive,
        np.zeros((hours, count)),
        columns,
        traits,
        shape,
        NUMBERS.supply_cap_mmol / 1000.0,
        NUMBERS.uptake_c,
        NUMBERS.soak_q10,
        start_roots(shape, traits, np.full((members, count), start_c)),
    )


def _weather(seed: int) -> Array:
    """Days around zero with nights of any depth, each member its own."""
    random = np.random.default_rng(seed)
    hour = np.arange(HOURS)[:, None, None]
    middle, swing = random.uniform(-8.0, 4.0, (1, MEMBERS, 1)), random.uniform(0.0, 10.0, (1, MEMBERS, 1))
    course: Array = middle + swing * np.sin(2.0 * np.pi * hour / 24.0) + np.zeros((1, 1, len(EVERGREENS)))
    return course


@few
@given(seeds)
def test_a_frozen_shell_supplies_nothing_and_a_frozen_ball_nothing_at_all(seed: int) -> None:
    """Uptake is never more than the share of shells that are thawed (Li & Hoch: severely inhibited at 2 °C already)."""
    course = _weather(seed)
    roots, _ = _walked(course, np.full(course.shape, 1e-3), 2.0)
    thawed = (roots.shells_c > 0.0).mean(axis=1)
    assert np.all(roots.uptake <= thawed + 1e-12)
    frozen = thawed == 0.0
    assert np.all(roots.uptake[frozen] == 0.0)
    assert np.all(roots.supply_mol[frozen] == 0.0)


@few
@given(seeds)
def test_evergreen_leaves_lose_water_over_a_frozen_ball_and_none_over_a_warm_one(seed: int) -> None:
    """Winter drying: the more sun and wind ask for, the more is lost, and nothing comes after."""
    random = np.random.default_rng(seed)
    asked = np.broadcast_to(random.uniform(1e-5, 2e-4, (1, MEMBERS, 1)), (HOURS, MEMBERS, len(EVERGREENS))).copy()
    frozen, _ = _walked(np.full(asked.shape, -8.0), asked, -4.0)
    assert np.all(frozen.shells_c < 0.0)
    assert np.all(np.diff(frozen.tissue_loss, axis=0) >= 0.0)
    assert np.all(frozen.tissue_loss[-1] > 0.0)
    more, _ = _walked(np.full(asked.shape, -8.0), 2.0 * asked, -4.0)
    assert np.all(more.tissue_loss >= frozen.tissue_loss)
    warm, _ = _walked(np.full(asked.shape, 12.0), asked, 12.0)
    assert np.all(warm.tissue_loss == 0.0)
