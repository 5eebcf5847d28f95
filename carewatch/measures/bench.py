"""The bench on which measures are tried: candidates run as columns, pairs where no single suffices, then shared out."""

from collections.abc import Mapping
from collections.abc import Set as AbstractSet

from carewatch.hazard.spells import LEAST_LOSS
from carewatch.measures.choice import cost_of
from carewatch.measures.pairing import TIES, WIND, aired, asked_for, pairs, tied
from carewatch.measures.sharing import Call, share_out, taken_for_good
from carewatch.measures.simulate import Result, run_whole, simulate
from carewatch.measures.trials import Bench, Trial, first_stay, name_of, singles

# A place under glass that costs more than this by heat is tried with its lights up by day as well. Judged. [0-1]
HOT = 0.005
# How often a choice that rested on few members is looked at again with all, at most. Judged.
LOOKED_AGAIN = 3


def try_measures(bench: Bench) -> tuple[Call, ...]:
    """A call for every tree, in order; trees without a spell are left in peace and nothing is tried for them."""
    trials, against = singles(bench, taken_for_good(bench).used)
    result = simulate(bench, trials)
    nothing_lost: dict[int, set[str]] = {tree: set() for tree in {trial.tree for trial in trials}}
    result = _more(bench, trials, result, _pairs(bench, trials, result, nothing_lost))
    result = _more(bench, trials, result, _with_ties(bench, trials, result))
    calls = share_out(bench, trials, result, against)
    if _nearest_alone(bench, trials, result, calls):
        calls = share_out(bench, trials, result, against)
    # Where what one alone would do went to others, two of what is left are tried.
    lost = {tree: set(calls[tree].against) for tree in nothing_lost if calls[tree].displaced is not None}
    tried = len(trials)
    result = _more(bench, trials, result, _pairs(bench, trials, result, lost))
    if len(trials) > tried:
        calls = share_out(bench, trials, result, against)
    for _ in range(LOOKED_AGAIN):
        # What is told rests on all members, also where sharing made it another than the best of its tree.
        told = [p for p, trial in enumerate(trials) if _is_chosen(calls[trial.tree], trial) and not result.whole[p]]
        if not told:
            break
        run_whole(bench, trials, result, told)
        calls = share_out(bench, trials, result, against)
    return calls


def _nearest_alone(bench: Bench, trials: list[Trial], result: Result, calls: tuple[Call, ...]) -> bool:
    """
    Whether a tree for which nothing was worth its work has trials that can be decided night by night.

    What would have to be done again next week must not keep a tree from what is due tonight: of those trials the
    nearest stay alone is put in their place; the later ones are judged when they come near.
    """
    silent = {tree for tree, call in enumerate(calls) if not any(option.chosen for option in call.options)}
    near = {p: first_stay(bench, trial) for p, trial in enumerate(trials) if trial.tree in silent}
    short = {p: trial for p, trial in near.items() if trial is not None}
    if not short:
        return False
    result.put(list(short), simulate(bench, list(short.values())))
    for position, trial in short.items():
        trials[position] = trial
    return True


def _more(bench: Bench, trials: list[Trial], result: Result, second: list[Trial]) -> Result:
    """The result with that of further trials, which are added to the list."""
    if not second:
        return result
    trials += second
    return result.followed_by(simulate(bench, second))


def _is_chosen(call: Call, trial: Trial) -> bool:
    return any(option.chosen and option.name == trial.name for option in call.options)


def _pairs(bench: Bench, trials: list[Trial], result: Result, lost: Mapping[int, AbstractSet[str]]) -> list[Trial]:
    """
    Pairs for the trees that no single measure gets below a minor loss, where one could pay for its work.

    lost: by tree that is looked at, the names of what is not to be had for it.

    For layers in their first year only what leaves them where they stand counts as a single measure that does. What
    was asked for together is tried together again, whatever else would do: it stands unless another is better.
    """
    standing = bench.losses.mean(axis=0)
    loss = result.with_handling()
    found: list[Trial] = []
    for tree in sorted(lost):
        known = {trial.name for trial in trials if trial.tree == tree}
        mine = [p for p, trial in enumerate(trials) if trial.tree == tree and trial.name not in lost[tree]]
        if not mine:
            continue
        told = bench.told.get(bench.conditions[tree].tree.id, "")
        asked = asked_for(bench, [trials[position] for position in mine], told)
        found += asked
        # A layer in its first year is not carried for one alone that would do, while two may do where it stands.
        still = [float(loss[p]) for p in mine if not (bench.conditions[tree].layer and trials[p].carries)]
        if min(still, default=1.0) < LEAST_LOSS or standing[tree] < LEAST_LOSS:
            continue
        left = {trials[p].name: {name: float(each[p]) for name, each in result.hazard_loss.items()} for p in mine}
        worth, caution = bench.conditions[tree].tree.worth, bench.garden.notices.caution
        # The least that the best single leaves and costs: a pair that saves all of it must pay for its own work.
        single = min(worth * float(loss[p]) + cost_of(trials[p].own_minutes, caution) for p in mine)
        wanted = pairs([trials[position] for position in mine], left)
        wanted += [
            pair
            for p in mine
            if len(trials[p].parts) == 1 and result.hazard_loss["heat"][p] > HOT and (pair := aired(bench, trials[p]))
        ]
        names = known | {pair.name for pair in asked}
        found += [pair for pair in wanted if cost_of(pair.own_minutes, caution) < single and pair.name not in names]
    return found


def _with_ties(bench: Bench, trials: list[Trial], result: Result) -> list[Trial]:
    """What is best against all but wind with ties as well, for trees that no trial gets below a minor loss."""
    loss = result.with_handling()
    found = []
    for tree in sorted({trial.tree for trial in trials}):
        mine = [p for p, trial in enumerate(trials) if trial.tree == tree]
        if min(float(loss[p]) for p in mine) < LEAST_LOSS:
            continue
        left = {trials[p].name: {name: float(each[p]) for name, each in result.hazard_loss.items()} for p in mine}
        held = tied([trials[p] for p in mine], left)
        if held is not None:
            saved = left[name_of(held.parts[:-1])][WIND] - left[TIES][WIND]
            worth, caution = bench.conditions[tree].tree.worth, bench.garden.notices.caution
            found += [held] if worth * saved > cost_of(held.parts[-1].minutes, caution) else []
    return found
