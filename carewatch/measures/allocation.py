"""
Who gets what when there is not enough for all: one choice per tree, all trees together, as a small integer programme.

Greatest sum of what the choices are worth, less the rounds that have to be walked for them. A round (fetching fleece on
one evening) is paid once, however many trees it serves.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

# Longer than this nobody waits: then the trees are served one after the other, and that is said. [s]
TIME_LIMIT_S = 2.0
# Below this an amount is nothing: the solver keeps its constraints to about a millionth. [-]
NOTHING = 1e-6


@dataclass(frozen=True)
class Choice:
    """
    One way to serve one tree.

    tree: position of the tree. worth: gain less its own work, without the rounds it needs. [-]
    rounds: names of the rounds that it needs; needs: amount that it takes of each resource.
    """

    tree: int
    worth: float
    rounds: tuple[str, ...]
    needs: Mapping[str, float]


@dataclass(frozen=True)
class Allocation:
    """
    Who gets what.

    taken: positions of the choices that are taken, at most one per tree, rising. worth: of all of them, rounds paid.
    exact: no other allocation is worth more; False when the time was up and the trees were served one by one.
    """

    taken: tuple[int, ...]
    worth: float
    exact: bool


def allocate(
    choices: Sequence[Choice],
    round_cost: Mapping[str, float],
    stock: Mapping[str, float],
    time_limit_s: float = TIME_LIMIT_S,
) -> Allocation:
    """
    The allocation that is worth most; a tree for which nothing is taken is left as it stands, at no worth.

    round_cost: of each round, paid once. [-]; stock: how much there is of each resource; one that is not named is
    without end.
    """
    if not choices:
        return Allocation((), 0.0, True)
    taken = _solved(choices, round_cost, stock, time_limit_s)
    if taken is None:
        taken = greedy(choices, round_cost, stock)
        return Allocation(taken, worth_of(choices, taken, round_cost), False)
    return Allocation(taken, worth_of(choices, taken, round_cost), True)


def worth_of(choices: Sequence[Choice], taken: Sequence[int], round_cost: Mapping[str, float]) -> float:
    """What an allocation is worth: of all its choices, less its rounds, each paid once."""
    rounds = {name for position in taken for name in choices[position].rounds}
    return sum(choices[position].worth for position in taken) - sum(round_cost[name] for name in sorted(rounds))


def fits(choices: Sequence[Choice], taken: Sequence[int], stock: Mapping[str, float]) -> bool:
    """Whether there is enough for all of these choices together."""
    used: dict[str, float] = {}
    for position in taken:
        for name, amount in choices[position].needs.items():
            used[name] = used.get(name, 0.0) + amount
    return all(amount <= stock.get(name, np.inf) + NOTHING for name, amount in used.items())


def greedy(choices: Sequence[Choice], round_cost: Mapping[str, float], stock: Mapping[str, float]) -> tuple[int, ...]:
    """Tree by tree, the one with most to gain first; what it takes is gone for the next, rounds walked are free."""
    trees = sorted({choice.tree for choice in choices})
    best = {tree: max(choice.worth for choice in choices if choice.tree == tree) for tree in trees}
    taken: list[int] = []
    walked: set[str] = set()
    for tree in sorted(trees, key=lambda position: (-best[position], position)):
        found, most = None, 0.0
        for position, choice in enumerate(choices):
            if choice.tree != tree or not fits(choices, [*taken, position], stock):
                continue
            own = choice.worth - sum(round_cost[name] for name in choice.rounds if name not in walked)
            if own > most:
                found, most = position, own
        if found is not None:
            taken.append(found)
            walked |= set(choices[found].rounds)
    return tuple(sorted(taken))


def _solved(
    choices: Sequence[Choice], round_cost: Mapping[str, float], stock: Mapping[str, float], time_limit_s: float
) -> tuple[int, ...] | None:
    """
    Positions taken, or None when the time was up.

    Unknowns: one 0/1 per choice, then one 0/1 per round. A tree takes at most one choice; a choice needs its rounds; no
    resource is used beyond its stock.
    """
    count = len(choices)
    rounds = sorted({name for choice in choices for name in choice.rounds})
    column_of = {name: count + position for position, name in enumerate(rounds)}
    cells: list[tuple[int, int, float]] = []
    upper: list[float] = []

    def row(entries: Sequence[tuple[int, float]], most: float) -> None:
        cells.extend((len(upper), column, value) for column, value in entries)
        upper.append(most)

    for tree in sorted({choice.tree for choice in choices}):
        row([(position, 1.0) for position, choice in enumerate(choices) if choice.tree == tree], 1.0)
    for position, choice in enumerate(choices):
        for name in choice.rounds:
            row([(position, 1.0), (column_of[name], -1.0)], 0.0)
    for name, most in stock.items():
        users = [(position, choice.needs[name]) for position, choice in enumerate(choices) if choice.needs.get(name)]
        if users:
            row(users, most)
    at, columns, values = zip(*cells, strict=True)
    size = count + len(rounds)
    matrix = coo_array((values, (at, columns)), shape=(len(upper), size)).tocsr()
    found = milp(
        c=np.array([*(-choice.worth for choice in choices), *(round_cost[name] for name in rounds)]),
        constraints=LinearConstraint(matrix, -np.inf, np.array(upper)),
        integrality=np.ones(size, dtype=np.int64),
        bounds=Bounds(0.0, 1.0),
        options={"time_limit": time_limit_s, "mip_rel_gap": 0.0},
    )
    if found.status != 0 or found.x is None:
        return None
    taken = tuple(int(position) for position in np.nonzero(found.x[:count] > 0.5)[0])
    return taken if fits(choices, taken, stock) else None
