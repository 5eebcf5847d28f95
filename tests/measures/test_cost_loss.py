"""The one rule of choice against the theory of cost and loss (Murphy 1977, Mon. Wea. Rev. 105:803-816)."""

import numpy as np
import pytest

from carewatch.measures.choice import Option, choose, cost_of
from carewatch.verify.scores import Table

MINUTES = 6.0
COST = cost_of(MINUTES, 0.5)
# What a night takes of an unprotected tree when it freezes; protected it takes nothing.
LOSS = 0.4


def _acts(probability: float) -> bool:
    """Whether the rule calls for a cover that saves all, at this probability of losing LOSS."""
    standing = probability * LOSS
    option = Option(
        name="fleece",
        loss=0.0,
        handling=0.0,
        hazard_damage={"frost": 0.0},
        hazard_loss={"frost": 0.0},
        hazard_probability={"frost": 0.0},
        carries=0,
        minutes=MINUTES,
        gain=standing,
        cost=COST,
        chosen=False,
        why="",
    )
    return choose([option], standing, False, frozenset())[0].chosen


def test_it_acts_from_the_ratio_of_cost_to_loss_on() -> None:
    """Protect when p > C / L: the threshold of the theory."""
    tried = np.linspace(0.01, 0.99, 99)
    acts = np.array([_acts(float(p)) for p in tried])
    assert acts.any()
    assert not acts.all()
    assert np.array_equal(acts, tried > COST / LOSS)


def test_no_other_threshold_costs_less_where_probabilities_are_true() -> None:
    """Nights whose probabilities are true: what the rule spends is the least of all thresholds, within chance."""
    rng = np.random.default_rng(20261129)
    told = rng.beta(0.6, 2.0, 20_000)
    freezes = rng.random(told.size) < told

    def expense(warned: np.ndarray) -> float:
        return float(np.where(warned, COST, np.where(freezes, LOSS, 0.0)).mean())

    edge = next(float(p) for p in np.linspace(0.0, 1.0, 2001) if _acts(float(p)))
    ours = expense(told >= edge)
    others = [expense(told >= threshold) for threshold in np.linspace(0.0, 1.0, 101)]
    assert ours <= min(others) + 0.0005
    assert ours < expense(np.ones(told.size, dtype=np.bool_))
    assert ours < expense(np.zeros(told.size, dtype=np.bool_))
    # The theory's own number for true probabilities: the mean of min(C, p L).
    assert ours == pytest.approx(float(np.minimum(COST, told * LOSS).mean()), abs=0.002)


def test_its_warnings_are_worth_something_and_chance_is_worth_nothing() -> None:
    """Relative value at our own C / L: between nothing and perfect, and none for warnings in random order."""
    rng = np.random.default_rng(7)
    told = rng.beta(0.6, 2.0, 20_000)
    freezes = rng.random(told.size) < told
    edge = next(float(p) for p in np.linspace(0.0, 1.0, 2001) if _acts(float(p)))
    warned = told >= edge

    def value(calls: np.ndarray) -> float:
        table = Table(
            hits=float((calls & freezes).sum()),
            false_alarms=float((calls & ~freezes).sum()),
            misses=float((~calls & freezes).sum()),
            quiet=float((~calls & ~freezes).sum()),
        )
        return table.relative_value(COST / LOSS)

    assert 0.2 < value(warned) < 1.0
    assert value(rng.permutation(warned)) < 0.05
