"""Trials run through the same engine as the trees as they stand: what each of them would lose."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carewatch.exposure.run import Exposure
from carewatch.forecast.weather import Array
from carewatch.limits.blocks import run_blocks
from carewatch.limits.judge import HAZARDS, Judgement
from carewatch.measures.apply import NEUTRAL_LAID, Laid, lay_over
from carewatch.measures.choice import cost_of, handling_loss
from carewatch.measures.trials import Bench, Trial

# Members that a first trial runs, spread over the tree's own loss; of what leaves the tree in place and of what
# carries it, the best runs again with all.
TRIAL_MEMBERS = 15
# Ensembles up to this size are tried whole.
SMALL_ENSEMBLE = 25
FINALISTS = 1


@dataclass(frozen=True)
class Result:
    """
    Expected values per trial, (trial,). [0-1]

    loss: all hazards together, without handling; handling: what carrying alone costs. whole: run with all members.
    """

    loss: Array
    handling: Array
    hazard_loss: Mapping[str, Array]
    hazard_damage: Mapping[str, Array]
    hazard_probability: Mapping[str, Array]
    whole: NDArray[np.bool_]

    def with_handling(self) -> Array:
        """Expected loss with the handling, (trial,). [0-1]"""
        result: Array = 1.0 - (1.0 - self.loss) * (1.0 - self.handling)
        return result

    def put(self, at: Sequence[int], other: "Result") -> None:
        """Another result in place of what was at these positions."""
        mine = (self.hazard_loss, self.hazard_damage, self.hazard_probability)
        theirs = (other.hazard_loss, other.hazard_damage, other.hazard_probability)
        self.loss[at], self.handling[at], self.whole[at] = other.loss, other.handling, other.whole
        for values, new in zip(mine, theirs, strict=True):
            for name in HAZARDS:
                values[name][at] = new[name]

    def followed_by(self, other: "Result") -> "Result":
        """Both, one after the other."""

        def joined(mine: Mapping[str, Array], theirs: Mapping[str, Array]) -> dict[str, Array]:
            return {name: np.concatenate([values, theirs[name]]) for name, values in mine.items()}

        return Result(
            np.concatenate([self.loss, other.loss]),
            np.concatenate([self.handling, other.handling]),
            joined(self.hazard_loss, other.hazard_loss),
            joined(self.hazard_damage, other.hazard_damage),
            joined(self.hazard_probability, other.hazard_probability),
            np.concatenate([self.whole, other.whole]),
        )


def simulate(bench: Bench, trials: Sequence[Trial]) -> Result:
    """Expected total and per-hazard loss of every trial, (trial,): first with few members, the best again with all."""
    result = _run(bench, trials, few=True)
    if bench.losses.shape[0] <= SMALL_ENSEMBLE or not trials:
        return result
    loss = result.with_handling()
    finalists: list[int] = []
    for tree in sorted({trial.tree for trial in trials}):
        mine = [position for position, trial in enumerate(trials) if trial.tree == tree]
        cost = {p: cost_of(trials[p].minutes, bench.garden.notices.caution) for p in mine}
        worth = bench.conditions[tree].tree.worth
        # A layer may end up with the best that stays or the best that is carried, so both kinds send their best.
        for carried in (False, True):
            kind = [p for p in mine if (trials[p].carries > 0) == carried]
            finalists += sorted(kind, key=lambda p: worth * float(loss[p]) + cost[p])[:FINALISTS]
    run_whole(bench, trials, result, finalists)
    return result


def run_whole(bench: Bench, trials: Sequence[Trial], result: Result, positions: Sequence[int]) -> None:
    """Put what all members say of the trials at these positions into the result."""
    at = [position for position in positions if not result.whole[position]]
    result.put(at, _run(bench, [trials[position] for position in at], few=False))


def _spread_members(losses: Array, count: int) -> tuple[NDArray[np.int64], Array]:
    """
    Members that stand for all, spread evenly over a tree's loss, and the share of members each stands for.

    losses: (member,). [0-1]; count: how many to choose.
    """
    order = np.argsort(losses, kind="stable")
    groups = np.array_split(order, count)
    chosen = np.array([group[len(group) // 2] for group in groups], dtype=np.int64)
    return chosen, np.array([len(group) / losses.size for group in groups])


def _run(bench: Bench, trials: Sequence[Trial], few: bool) -> Result:
    """All trials through the engine, with few members each or with all."""
    count = len(trials)
    result = Result(
        np.zeros(count),
        np.array([_handling(bench, trial) for trial in trials]),
        {name: np.zeros(count) for name in HAZARDS},
        {name: np.zeros(count) for name in HAZARDS},
        {name: np.zeros(count) for name in HAZARDS},
        np.full(count, not few or bench.losses.shape[0] <= SMALL_ENSEMBLE),
    )
    if not trials:
        return result
    members = bench.losses.shape[0]
    chosen: NDArray[np.int64] | None = None
    weight = np.full((members, count), 1.0 / members)
    if few and members > SMALL_ENSEMBLE:
        picked = [_spread_members(bench.losses[:, trial.tree], TRIAL_MEMBERS) for trial in trials]
        chosen = np.stack([members_of for members_of, _ in picked], axis=1)
        weight = np.stack([share for _, share in picked], axis=1)
    index = np.array([trial.tree for trial in trials], dtype=np.int64)
    columns = lay_over(bench.standing.select(index), [_laid(bench, trial) for trial in trials], bench.places)

    def read(start: int, _felt: Exposure, judged: Judgement) -> None:
        total = judged.total()
        part = slice(start, start + total.shape[1])
        share = weight[:, part]
        result.loss[part] = (total * share).sum(axis=0)
        for name in HAZARDS:
            result.hazard_loss[name][part] = (judged.loss[name] * share).sum(axis=0)
            result.hazard_damage[name][part] = (judged.damage[name] * share).sum(axis=0)
            result.hazard_probability[name][part] = (judged.beyond[name].any(axis=0) * share).sum(axis=0)

    run_blocks(bench.grounds, columns, read, chosen)
    return result


def _laid(bench: Bench, trial: Trial) -> list[Laid]:
    ids = [place.id for place in bench.places]
    return [
        Laid(
            part.candidate.measure,
            part.acts,
            ids.index(part.candidate.destination) if part.candidate.destination else NEUTRAL_LAID,
        )
        for part in trial.parts
    ]


def _handling(bench: Bench, trial: Trial) -> float:
    condition = bench.conditions[trial.tree]
    harm = float(bench.grounds.limits.carry_harm[trial.tree])
    return handling_loss(condition, harm, trial.carries, bench.hazards.roots_spare)
