"""Measures taken together on one tree: pairs that promise most, pairs with ties, what was asked for, frames opened."""

from collections.abc import Mapping, Sequence

import numpy as np

from carewatch.measures.candidates import Candidate
from carewatch.measures.catalogue import parts_of
from carewatch.measures.timing import acting_hours, rounds_needed
from carewatch.measures.trials import VENTILATE, Bench, Part, Trial, mornings, unattended
from carewatch.place.enclosure import can_open

# Pairs that are tried on one tree at most: the most promising by what their halves save. Judged.
MOST_PAIRS = 3
# What holds a tree in the wind changes neither its air nor its light: it goes with anything (common practice).
TIES, WIND = "tie-down", "wind"


def pairs(mine: Sequence[Trial], lost: Mapping[str, Mapping[str, float]]) -> list[Trial]:
    """
    The most promising declared pairs of one tree.

    mine: its trials; lost: by name of the trial, the expected loss by each hazard. [0-1]
    Ranked by what would be left if of each hazard the one took its share of what the other leaves.
    """
    single = {trial.name: trial for trial in mine if len(trial.parts) == 1}
    tried = {frozenset(part.candidate.name for part in trial.parts) for trial in mine}
    most = {hazard: max(losses[hazard] for losses in lost.values()) for hazard in next(iter(lost.values()), {})}

    def left(names: tuple[str, ...]) -> float:
        kept = 1.0
        for hazard, highest in most.items():
            share = [lost[name][hazard] / highest for name in names if highest > 0.0]
            kept *= 1.0 - highest * float(np.prod(share))
        return 1.0 - kept

    found = []
    for name, trial in single.items():
        for other in trial.parts[0].candidate.measure.goes_with:
            if other not in single or frozenset((name, other)) in tried:
                continue
            both = left((name, other))
            if both < min(left((name,)), left((other,))):
                found.append((both, Trial(trial.tree, trial.parts + single[other].parts)))
    found.sort(key=lambda item: (item[0], item[1].own_minutes, item[1].name))
    return [trial for _, trial in found[:MOST_PAIRS]]


def tied(mine: Sequence[Trial], lost: Mapping[str, Mapping[str, float]]) -> Trial | None:
    """
    What leaves least by all hazards but wind, with ties as well; None where nothing is left for ties to do.

    mine: the trials of one tree; lost: by name of the trial, the expected loss by each hazard. [0-1]
    """
    ties = next((trial for trial in mine if trial.name == TIES and not trial.begun), None)
    others = [trial for trial in mine if not any(part.candidate.name == TIES for part in trial.parts)]
    if ties is None or not others:
        return None

    def rest(trial: Trial) -> float:
        left = [loss for hazard, loss in lost[trial.name].items() if hazard != WIND]
        return 1.0 - float(np.prod([1.0 - loss for loss in left]))

    best = min(others, key=lambda trial: (rest(trial), trial.own_minutes, trial.name))
    names = {*(part.candidate.name for part in best.parts), TIES}
    if any({part.candidate.name for part in trial.parts} == names for trial in mine):
        return None
    # Ties alone that leave as much by wind would add nothing; and where nothing else takes away from the rest, they do.
    if lost[TIES][WIND] >= lost[best.name][WIND] or rest(best) >= rest(ties):
        return None
    return Trial(best.tree, best.parts + ties.parts)


def asked_for(bench: Bench, mine: Sequence[Trial], told: str) -> list[Trial]:
    """The measures that were asked for together, if they can still be taken and are not among a tree's trials yet."""
    names = parts_of(told)
    single = {trial.name: trial for trial in mine if len(trial.parts) == 1}
    if len(names) < 2 or any(trial.name == told for trial in mine):
        return []
    if all(name in single for name in names):
        return [Trial(mine[0].tree, tuple(part for name in names for part in single[name].parts))]
    opened = aired(bench, single[names[0]]) if names[0] in single and names[1:] == (VENTILATE,) else None
    return [opened] if opened else []


def aired(bench: Bench, trial: Trial) -> Trial | None:
    """A move under glass together with opening it every morning, or None where nothing is opened there."""
    (part,) = trial.parts
    place = bench.garden.places.get(part.candidate.destination)
    measure = bench.measures.get(VENTILATE)
    if place is None or measure is None or not can_open(place):
        return None
    acts = acting_hours(bench.clock, measure, bench.clock.now, None) & part.acts
    if not acts.any():
        return None
    dates = mornings(bench.clock, acts)
    away = unattended(bench, measure, dates)
    rounds = {f"{VENTILATE}@{date}": measure.minutes_round for date in dates}
    minutes = measure.minutes_pot * rounds_needed(acts)
    airing = Part(Candidate(measure), acts, minutes, rounds, 0, part.begins, part.undo, len(away))
    return Trial(trial.tree, (part, airing))
