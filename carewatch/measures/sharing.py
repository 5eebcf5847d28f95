"""
All trees together: rounds are walked once, and what is short goes where it saves most.

Where there is enough for all, each tree gets the best of its own options; the work of a round is shared by the trees
that chose it (measures.rounds). Where there is not, one allocation of all trees decides (measures.allocation), among
the options that pass the one rule.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from carewatch.limits.judge import HAZARDS
from carewatch.measures.allocation import Choice, allocate, fits
from carewatch.measures.candidates import fleece_m2, net_m2
from carewatch.measures.catalogue import Measure, parts_of, row_name
from carewatch.measures.chances import needed
from carewatch.measures.choice import (
    ENOUGH,
    KEEP_SHARE,
    Option,
    choose,
    cost_of,
    explained,
    passes,
    stays_put,
)
from carewatch.measures.rounds import priced, walkers
from carewatch.measures.simulate import Result
from carewatch.measures.timing import act_by, chances_left
from carewatch.measures.trials import Bench, Trial

# Work that a call is taken to need before its measure is known. Judged. [min]
FIRST_GUESS_MINUTES = 15.0
# Of allocations that are worth the same, the one that serves the trees named first: less than any gain that decides.
TIE = 1e-4
# Choosing anew for rounds that fewer walk ends after two or three times; more would be two ways of equal worth in turn.
SETTLING = 5
ROOM = "room "
MOST_NAMES = 4
ONE_BY_ONE = " (shared out tree by tree: there was no time to find the best sharing)"


@dataclass(frozen=True)
class Displaced:
    """What a tree would have got if there were enough: the measure, the reason in words, and who got it instead."""

    measure: str
    why: str
    by: tuple[str, ...]


@dataclass(frozen=True)
class Call:
    """
    Outcome for one tree: options best first, reasons against others, and the times of the chosen one.

    factor: how many times its cost what was weighed had to gain. displaced: None unless it lost what is short.
    weighed: the chosen option; where none is, the one that the grower was asked for, else the best that was too little.
    """

    options: tuple[Option, ...]
    against: Mapping[str, str]
    act_by: np.datetime64 | None
    undo_at: np.datetime64 | None
    factor: float = 1.0
    displaced: Displaced | None = None
    weighed: Option | None = None


@dataclass(frozen=True)
class Taken:
    """What is not to be had any more. used: pots per place; stock: what is left to share out, by resource."""

    used: Mapping[str, int]
    stock: Mapping[str, float]


@dataclass
class _Tree:
    """One tree while it is being decided: its trials and options by name, and what the rule made of them."""

    tree: int
    trials: dict[str, Trial]
    options: list[Option]
    standing: float
    told: str
    ranked: list[Option] = field(default_factory=list)

    @property
    def chosen(self) -> Option | None:
        return next((option for option in self.ranked if option.chosen), None)


def taken_for_good(bench: Bench) -> Taken:
    """
    Room and cloth after those who keep theirs: trees that live in a place, and what is in force on trees not in danger.

    What is in force on a tree in danger is its own option, and can go to another.
    """
    stock = {"fleece": bench.garden.stock.fleece_m2, "net": bench.garden.stock.net_m2, "tent": bench.garden.stock.tents}
    held: dict[str, float] = {}
    asked: dict[str, float] = {}
    used: Counter[str] = Counter()
    for tree, condition in enumerate(bench.conditions):
        begun = [part for name in condition.begun for part in parts_of(name)]
        away = [part.partition(":")[2] for part in begun if row_name(part) == "move"]
        if not away:
            used[condition.place] += 1
        for part in begun:
            if row_name(part) not in bench.measures:
                continue
            needs = _needs_of(bench, tree, bench.measures[row_name(part)], part.partition(":")[2])
            _add(asked if bench.spells[tree] else held, needs)
        if not bench.spells[tree]:
            used.update(away)
    left = {name: max(amount - held.get(name, 0.0), asked.get(name, 0.0), 0.0) for name, amount in stock.items()}
    for place in bench.garden.places.values():
        if place.room is not None:
            free = place.room - used[place.id]
            left[ROOM + place.id] = max(float(free), asked.get(ROOM + place.id, 0.0), 0.0)
    return Taken(used, left)


def share_out(
    bench: Bench, trials: Sequence[Trial], result: Result, against: Sequence[Mapping[str, str]]
) -> tuple[Call, ...]:
    """A call for every tree, in order; nothing that is short is given twice."""
    # Fetching cloth and walking are shared by the trees that a round serves: first by all that it may serve, then by
    # those that really chose it.
    trees = _trees(bench, trials, result)
    caution = bench.garden.notices.caution
    paying = walkers([(one.trials[option.name], option) for one in trees for option in one.options], caution)
    for _ in range(SETTLING):
        for entry in trees:
            entry.options = [priced(option, entry.trials[option.name], paying, caution) for option in entry.options]
        _each_for_itself(bench, trees)
        before = {name: set(served) for name, served in paying.items()}
        paying = walkers([(one.trials[one.chosen.name], one.chosen) for one in trees if one.chosen], caution)
        if before == {name: set(served) for name, served in paying.items()}:
            break

    stock = taken_for_good(bench).stock
    needs = {entry.tree: _needs(bench, entry) for entry in trees}
    wanted = [
        Choice(entry.tree, 0.0, (), needs[entry.tree][option.name])
        for entry in trees
        if (option := entry.chosen) is not None
    ]
    displaced: dict[int, dict[str, Displaced]] = {}
    if not fits(wanted, range(len(wanted)), stock):
        displaced = _all_together(bench, trees, stock, needs)
    calls = {entry.tree: _call(bench, entry, against[entry.tree], displaced.get(entry.tree, {})) for entry in trees}
    return tuple(
        calls[tree] if tree in calls else Call((), against[tree], _act_by(bench, tree), None)
        for tree in range(len(bench.conditions))
    )


def _trees(bench: Bench, trials: Sequence[Trial], result: Result) -> list[_Tree]:
    """Trees that have something to choose, each option with its work if its rounds served it alone."""
    standing = bench.losses.mean(axis=0)
    loss = result.with_handling()
    found: dict[int, _Tree] = {}
    for position, trial in enumerate(trials):
        if trial.tree not in found:
            told = bench.told.get(bench.conditions[trial.tree].tree.id, "")
            found[trial.tree] = _Tree(trial.tree, {}, [], float(standing[trial.tree]), told)
        entry = found[trial.tree]
        entry.trials[trial.name] = trial
        entry.options.append(_option(bench, trial, result, position, float(loss[position]), entry.standing))
    return list(found.values())


def _option(bench: Bench, trial: Trial, result: Result, at: int, loss: float, standing: float) -> Option:
    condition = bench.conditions[trial.tree]
    asked = bool(condition.begun) or condition.tree.id in bench.told
    return Option(
        name=trial.name,
        loss=loss,
        handling=float(result.handling[at]),
        hazard_damage={name: float(result.hazard_damage[name][at]) for name in HAZARDS},
        hazard_loss={name: float(result.hazard_loss[name][at]) for name in HAZARDS},
        hazard_probability={name: float(result.hazard_probability[name][at]) for name in HAZARDS},
        carries=trial.carries,
        minutes=trial.minutes,
        gain=condition.tree.worth * (standing - loss),
        cost=cost_of(trial.minutes, bench.garden.notices.caution),
        chosen=False,
        why="",
        begun=trial.begun,
        hands=trial.hands,
        factor=needed(chances_left(bench.clock, trial.begins, bench.garden.notices), asked),
    )


def _each_for_itself(bench: Bench, trees: Sequence[_Tree]) -> None:
    """The best of its own options for each, the tree with most to lose first: neighbours keep it company."""
    company: dict[str, frozenset[str]] = {}
    for entry in sorted(trees, key=lambda one: -bench.conditions[one.tree].tree.worth * one.standing):
        condition = bench.conditions[entry.tree]
        near = company.get(condition.place, frozenset())
        entry.ranked = choose(entry.options, entry.standing, condition.layer, near, entry.told)
        if entry.chosen is not None:
            company[condition.place] = near | {entry.chosen.name}


def _all_together(
    bench: Bench,
    trees: Sequence[_Tree],
    stock: Mapping[str, float],
    needs: Mapping[int, Mapping[str, dict[str, float]]],
) -> dict[int, dict[str, Displaced]]:
    """
    One allocation of all trees; each entry's ranking is changed to what it gets. What each lost, by tree and measure.

    Trees whose option no longer pays once fewer share its rounds give it up, and the rest is shared out anew.
    """
    caution = bench.garden.notices.caution
    allowed = {
        (entry.tree, option.name)
        for entry in trees
        for option in entry.options
        if passes(option, entry.standing, entry.told)
    }
    while True:
        found, exact = _allocated(bench, trees, stock, needs, allowed)
        got = [
            (one.trials[option.name], option) for one in trees for option in one.options if _gets(found, one, option)
        ]
        paying = walkers(got, caution)
        failing = set()
        for entry in trees:
            entry.options = [priced(option, entry.trials[option.name], paying, caution) for option in entry.options]
            option = next((one for one in entry.options if _gets(found, entry, one)), None)
            if option is not None and not passes(option, entry.standing, entry.told):
                failing.add((entry.tree, option.name))
        if not failing:
            break
        allowed -= failing
    lost = {entry.tree: _lost(bench, trees, entry, found, needs, stock, exact) for entry in trees}
    for entry in trees:
        condition = bench.conditions[entry.tree]
        options = [option for option in entry.options if option.name not in lost[entry.tree]]
        ranked = choose(options, entry.standing, condition.layer, frozenset(), entry.told)
        chosen = next((option for option in options if _gets(found, entry, option)), None)
        stays = stays_put(options, condition.layer)
        entry.ranked = explained([replace(option, chosen=False) for option in ranked], chosen, entry.standing, stays)
    return lost


def _gets(found: Mapping[int, Trial], entry: _Tree, option: Option) -> bool:
    return entry.tree in found and found[entry.tree].name == option.name


def _allocated(
    bench: Bench,
    trees: Sequence[_Tree],
    stock: Mapping[str, float],
    needs: Mapping[int, Mapping[str, dict[str, float]]],
    allowed: set[tuple[int, str]],
) -> tuple[dict[int, Trial], bool]:
    """What each tree gets, and whether no other allocation is worth more."""
    caution = bench.garden.notices.caution
    choices: list[Choice] = []
    trials: list[Trial] = []
    round_cost: dict[str, float] = {}
    for entry in trees:
        for option in entry.options:
            if (entry.tree, option.name) not in allowed:
                continue
            trial = entry.trials[option.name]
            worth = option.gain - cost_of(trial.own_minutes, caution)
            if option.name == entry.told or option.begun:
                # It stands unless another is better by a fifth.
                worth += max(worth, 0.0) * (1.0 / KEEP_SHARE - 1.0)
            still = bench.conditions[entry.tree].layer and not option.carries
            if option.loss < ENOUGH and not option.hands and (still or any(one.hands for one in entry.options)):
                # A first-year layer stays where enough is saved in place, and what needs nobody while nobody is there
                # is taken where it saves enough: that much would be borne rather than the other way.
                worth += ENOUGH
            tie = TIE * entry.tree / len(bench.conditions)
            choices.append(Choice(entry.tree, worth - tie, tuple(trial.rounds), needs[entry.tree][option.name]))
            trials.append(trial)
            round_cost |= {name: cost_of(minutes, caution) for name, minutes in trial.rounds.items()}
    found = allocate(choices, round_cost, stock)
    return {choices[position].tree: trials[position] for position in found.taken}, found.exact


def _lost(
    bench: Bench,
    trees: Sequence[_Tree],
    entry: _Tree,
    found: Mapping[int, Trial],
    needs: Mapping[int, Mapping[str, dict[str, float]]],
    stock: Mapping[str, float],
    exact: bool,
) -> dict[str, Displaced]:
    """The options that a tree would rather have had and that need what went to others, best first."""
    names = {other.tree: found[other.tree].name for other in trees if other.tree in found}
    lost: dict[str, Displaced] = {}
    for option in entry.ranked:
        if _gets(found, entry, option):
            break
        if not passes(option, entry.standing, entry.told):
            continue
        mine = needs[entry.tree][option.name]
        for name, amount in mine.items():
            holders = [
                (other, needs[other][taken][name])
                for other, taken in names.items()
                if other != entry.tree and needs[other][taken].get(name)
            ]
            if name in stock and amount > stock[name] - sum(held for _, held in holders) + 1e-6:
                by = tuple(bench.conditions[other].tree.id for other, _ in holders)
                lost[option.name] = Displaced(option.name, _why(name, by) + ("" if exact else ONE_BY_ONE), by)
                break
    return lost


def _why(resource: str, by: Sequence[str]) -> str:
    what = f"the room in {resource.removeprefix(ROOM)}" if resource.startswith(ROOM) else f"the {resource}"
    if not by:
        return f"{what} does not suffice"
    # More names than these nobody reads. The list of all is beside the sentence.
    names = [*by[:MOST_NAMES], *([f"{len(by) - MOST_NAMES} more"] if len(by) > MOST_NAMES else [])]
    listed = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    return f"{what} goes to {listed}, which would lose more without it"


def _call(bench: Bench, entry: _Tree, against: Mapping[str, str], lost: Mapping[str, Displaced]) -> Call:
    trial = entry.trials[entry.chosen.name] if entry.chosen else None
    told = next((option for option in entry.options if option.name == entry.told), None)
    weighed = entry.chosen or told or next(iter(entry.ranked), None)
    return Call(
        tuple(entry.ranked),
        {**against, **{name: each.why for name, each in lost.items()}},
        trial.begins if trial else _act_by(bench, entry.tree),
        trial.undo if trial else None,
        weighed.factor if weighed else 1.0,
        next(iter(lost.values()), None),
        weighed,
    )


def _act_by(bench: Bench, tree: int) -> np.datetime64 | None:
    """When something would have to be done if anything could; None for a tree without a spell."""
    rules = bench.garden.notices
    return min(
        (act_by(bench.clock, spell.hazard, spell.starts, FIRST_GUESS_MINUTES, rules) for spell in bench.spells[tree]),
        default=None,
    )


def _needs(bench: Bench, entry: _Tree) -> dict[str, dict[str, float]]:
    """What each option of a tree takes of what may be short, by its name."""
    found = {}
    for name, trial in entry.trials.items():
        total: dict[str, float] = {}
        for part in trial.parts:
            _add(total, _needs_of(bench, entry.tree, part.candidate.measure, part.candidate.destination))
        found[name] = total
    return found


def _add(total: dict[str, float], more: Mapping[str, float]) -> None:
    for name, amount in more.items():
        total[name] = total.get(name, 0.0) + amount


def _needs_of(bench: Bench, tree: int, measure: Measure, destination: str) -> dict[str, float]:
    """What one measure on one tree takes of what may be short."""
    condition = bench.conditions[tree]
    if destination:
        return {ROOM + destination: 1.0}
    if measure.stock == "fleece":
        return {"fleece": fleece_m2(condition) * (2 if measure.name == "fleece-double" else 1)}
    if measure.stock == "net":
        return {"net": net_m2(condition)}
    return {"tent": 1.0} if measure.stock == "tent" else {}
