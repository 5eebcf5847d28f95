"""Sharing out against brute force: every combination of up to ten trees is looked at, and none is worth more."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import product

import numpy as np
import pytest

from carewatch.measures.allocation import Choice, allocate, fits, greedy, worth_of

Case = tuple[list[Choice], dict[str, float], dict[str, float]]


def _sets(choices: Sequence[Choice]) -> Iterator[tuple[int, ...]]:
    """Every allocation there is: one choice or none per tree."""
    mine: dict[int, list[int]] = {}
    for position, choice in enumerate(choices):
        mine.setdefault(choice.tree, []).append(position)
    for picked in product(*([None, *positions] for positions in mine.values())):
        yield tuple(position for position in picked if position is not None)


def _by_force(choices: Sequence[Choice], round_cost: Mapping[str, float], stock: Mapping[str, float]) -> float:
    """Written anew, without the functions under test: the worth of the best of all allocations."""
    best = 0.0
    for taken in _sets(choices):
        used = dict.fromkeys(stock, 0.0)
        rounds: set[str] = set()
        worth = 0.0
        for position in taken:
            worth += choices[position].worth
            rounds.update(choices[position].rounds)
            for name, amount in choices[position].needs.items():
                used[name] += amount
        if all(used[name] <= stock[name] + 1e-9 for name in stock):
            best = max(best, worth - sum(round_cost[name] for name in rounds))
    return best


def _garden(seed: int, trees: int, most: int) -> Case:
    """Rooms of whole pots, cloth by the square metre (double twice), tents, pairs of two rounds, some work for free."""
    chance = np.random.default_rng(seed)
    round_cost = {
        name: float(chance.uniform(0.01, 0.25)) for name in ("shed", "frame", "fleece", "net", "bank", "tent")
    }
    stock = {
        "room shed": float(chance.integers(0, 4)),
        "room frame": float(chance.integers(0, 3)),
        "fleece": float(chance.uniform(0.5, 5.0)),
        "net": float(chance.uniform(0.5, 4.0)),
        "tent": float(chance.integers(0, 3)),
    }
    choices = []
    for tree in range(trees):
        cloth = float(chance.uniform(0.4, 2.0))
        stake = float(chance.uniform(0.1, 1.5))
        kinds: list[tuple[tuple[str, ...], dict[str, float]]] = [
            (("shed",), {"room shed": 1.0}),
            (("frame",), {"room frame": 1.0}),
            (("fleece",), {"fleece": cloth}),
            (("fleece",), {"fleece": 2 * cloth}),
            (("fleece", "bank"), {"fleece": cloth}),
            (("net",), {"net": cloth}),
            (("tent",), {"tent": 1.0}),
            (("bank",), {}),
            ((), {"room shed": 1.0}),
        ]
        picked = chance.choice(len(kinds), size=int(chance.integers(1, most + 1)), replace=False)
        for kind in sorted(int(position) for position in picked):
            rounds, needs = kinds[kind]
            choices.append(Choice(tree, stake * float(chance.uniform(-0.1, 1.0)), rounds, needs))
    return choices, round_cost, stock


@pytest.mark.parametrize("seed", range(150))
def test_no_allocation_of_a_small_garden_is_worth_more(seed: int) -> None:
    """Up to six trees with up to four choices each."""
    choices, round_cost, stock = _garden(seed, 1 + seed % 6, 4)
    found = allocate(choices, round_cost, stock)
    assert found.exact
    assert fits(choices, found.taken, stock)
    assert len({choices[position].tree for position in found.taken}) == len(found.taken)
    assert found.worth == pytest.approx(_by_force(choices, round_cost, stock), abs=1e-6)
    assert found.worth == pytest.approx(worth_of(choices, found.taken, round_cost))


@pytest.mark.parametrize("seed", range(1000, 1010))
def test_no_allocation_of_ten_trees_is_worth_more(seed: int) -> None:
    """Ten trees with up to two choices each: 3 ** 10 allocations at most."""
    choices, round_cost, stock = _garden(seed, 10, 2)
    assert allocate(choices, round_cost, stock).worth == pytest.approx(_by_force(choices, round_cost, stock), abs=1e-6)


def test_one_by_one_is_often_worse_and_never_better() -> None:
    """The gain over the greedy way is why there is a solver; both keep to the stock."""
    worse = 0
    for seed in range(100):
        choices, round_cost, stock = _garden(seed, 6, 4)
        by_turns = greedy(choices, round_cost, stock)
        assert fits(choices, by_turns, stock)
        lost = allocate(choices, round_cost, stock).worth - worth_of(choices, by_turns, round_cost)
        assert lost > -1e-6
        worse += lost > 0.01
    assert worse > 20


def test_the_last_place_goes_to_the_tree_that_has_nothing_else() -> None:
    """The other would gain more there, and almost as much under fleece: by turns it would take the place."""
    choices = [
        Choice(0, 0.90, ("shed",), {"room shed": 1.0}),
        Choice(0, 0.85, ("fleece",), {"fleece": 1.0}),
        Choice(1, 0.50, ("shed",), {"room shed": 1.0}),
    ]
    cost, stock = {"shed": 0.05, "fleece": 0.05}, {"room shed": 1.0, "fleece": 1.0}
    assert allocate(choices, cost, stock).taken == (1, 2)
    assert greedy(choices, cost, stock) == (0,)


def test_a_round_is_walked_when_all_that_it_serves_are_worth_it() -> None:
    """Three trees of 0.1 each do not pay a round of 0.2 alone; together they do."""
    choices = [Choice(tree, 0.1, ("fleece",), {}) for tree in range(3)]
    assert allocate(choices[:1], {"fleece": 0.2}, {}).taken == ()
    assert allocate(choices, {"fleece": 0.2}, {}).taken == (0, 1, 2)


def test_when_the_time_is_up_the_trees_are_served_one_by_one() -> None:
    """No time at all: the greedy way, and said so."""
    choices, round_cost, stock = _garden(3, 6, 4)
    found = allocate(choices, round_cost, stock, time_limit_s=0.0)
    assert not found.exact
    assert found.taken == greedy(choices, round_cost, stock)
    assert found.worth == pytest.approx(worth_of(choices, found.taken, round_cost))


def test_nothing_to_choose_takes_nothing() -> None:
    """And harmful choices are left."""
    assert allocate([], {}, {}).taken == ()
    assert allocate([Choice(0, -0.1, (), {})], {}, {}).taken == ()


def test_a_garden_of_sixty_is_shared_out_in_time() -> None:
    """Sixty trees with nine choices each, as on the worst night: exactly, within the two seconds."""
    choices, round_cost, stock = _garden(7, 60, 9)
    wide = {name: 6 * amount for name, amount in stock.items()}
    assert allocate(choices, round_cost, wide).exact
