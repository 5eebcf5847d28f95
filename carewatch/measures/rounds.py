"""
Who pays for a round that serves several trees: each as it gains by it.

Walking and fetching are done once for all. Shared by heads, the first tree that gives up would make the round dearer to
the next, until nobody is left for a round that all together would have paid well; shared by what each gains, a round is
walked when all that it serves together are worth it, and given up by all of them when they are not.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace

from carewatch.measures.choice import Option, cost_of
from carewatch.measures.trials import Trial

# A tree without any gain would pay nothing and make a round free for itself. [-]
LEAST_PART = 1e-9

# By name of a round, and tree, what is left of the tree's gain for it. [-]
Walkers = Mapping[str, Mapping[int, float]]


def part_of(option: Option, trial: Trial, caution: float) -> float:
    """What is left of the gain for the rounds that an option needs, when the work on the tree itself is paid. [-]"""
    return max(option.gain - option.factor * cost_of(trial.own_minutes, caution), LEAST_PART)


def walkers(taken: Iterable[tuple[Trial, Option]], caution: float) -> Walkers:
    """Who pays for each round if these options are taken; of several of one tree that which leaves most of its gain."""
    found: defaultdict[str, dict[int, float]] = defaultdict(dict)
    for trial, option in taken:
        part = part_of(option, trial, caution)
        for name in trial.rounds:
            found[name][trial.tree] = max(part, found[name].get(trial.tree, 0.0))
    return found


def priced(option: Option, trial: Trial, paying: Walkers, caution: float) -> Option:
    """The option with its share of the rounds that are walked, this tree joining those that it would come on top of."""
    mine = part_of(option, trial, caution)
    minutes = trial.own_minutes
    for name, once in trial.rounds.items():
        others = sum(part for tree, part in paying.get(name, {}).items() if tree != trial.tree)
        minutes += once * mine / (mine + others)
    return replace(option, minutes=minutes, cost=cost_of(minutes, caution))
