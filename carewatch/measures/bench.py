"""The bench on which measures are tried: candidate columns run through the same engine as the tree as it stands."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from carewatch.care.garden import Garden
from carewatch.condition.now import Condition
from carewatch.exposure.columns import Columns
from carewatch.exposure.run import Exposure
from carewatch.forecast.weather import Array
from carewatch.hazard.spells import Spell
from carewatch.limits.blocks import Grounds, run_blocks
from carewatch.limits.doses import HazardNumbers
from carewatch.limits.judge import HAZARDS, Judgement
from carewatch.measures.apply import NEUTRAL_LAID, Laid, lay_over
from carewatch.measures.candidates import Candidate, candidates, fleece_m2, net_m2, occupied, too_windy
from carewatch.measures.catalogue import Measure
from carewatch.measures.choice import Option, choose, cost_of, handling_loss
from carewatch.measures.timing import HOUR, WATER_BY_H, Clock, act_by, acting_hours, rounds_needed, undo_at
from carewatch.place.spot import Place

# Members that a first trial runs, spread over the tree's own loss; of what leaves the tree in place and of what
# carries it, the best runs again with all.
TRIAL_MEMBERS = 15
# Ensembles up to this size are tried whole.
SMALL_ENSEMBLE = 25
FINALISTS = 1
# Work that a call is taken to need before its measure is known. Judged. [min]
FIRST_GUESS_MINUTES = 15.0


@dataclass(frozen=True)
class Bench:
    """
    All that a trial needs: the garden as it stands and the weather at its places.

    told: per tree, the measure that the grower was asked for. standing: baseline columns, one per tree.
    losses: of the baseline, all hazards together, (member, tree). [0-1]
    """

    garden: Garden
    conditions: tuple[Condition, ...]
    places: tuple[Place, ...]
    measures: Mapping[str, Measure]
    hazards: HazardNumbers
    clock: Clock
    grounds: Grounds
    standing: Columns
    losses: Array
    spells: tuple[tuple[Spell, ...], ...]
    direct_kwh: Mapping[str, float]
    told: Mapping[str, str]


@dataclass(frozen=True)
class Trial:
    """
    A candidate on one tree.

    acts: its hours, (hour,); handlings, minutes: how often, and all the work; begins, undo: UTC, undo None while no end
    is in sight.
    """

    tree: int
    candidate: Candidate
    acts: NDArray[np.bool_]
    handlings: int
    minutes: float
    begins: np.datetime64
    undo: np.datetime64 | None


@dataclass(frozen=True)
class Call:
    """Outcome for one tree: options best first, reasons against others, and the times of the chosen one."""

    options: tuple[Option, ...]
    against: Mapping[str, str]
    act_by: np.datetime64 | None
    undo_at: np.datetime64 | None


def try_measures(bench: Bench) -> tuple[Call, ...]:
    """A call for every tree, in order; trees without a spell are left in peace and nothing is tried for them."""
    used = occupied(bench.conditions)
    trials: list[Trial] = []
    against: list[dict[str, str]] = []
    for tree, (condition, spells) in enumerate(zip(bench.conditions, bench.spells, strict=True)):
        if not spells:
            against.append({})
            continue
        wanted, reasons = candidates(
            condition, spells, bench.garden, bench.measures, used, bench.direct_kwh[condition.place]
        )
        for candidate in wanted:
            trial, reason = _trial(bench, tree, candidate)
            if trial is None:
                reasons[candidate.name] = reason
            else:
                trials.append(trial)
        against.append(reasons)
    results = _simulate(bench, trials)
    # Fetching cloth and walking are shared by the trees that a round serves: first by all that it may serve, then by
    # those that really chose it.
    served = Counter(trial.candidate.name for trial in trials)
    first = _share_out(bench, _shared_rounds(trials, served), results, against, used)
    chosen = Counter(option.name for call in first for option in call.options if option.chosen)
    others = [{option.name for option in call.options if option.chosen} for call in first]
    settled = [
        replace(trial, minutes=_minutes(trial, chosen[trial.candidate.name] + (trial.candidate.name not in mine)))
        for trial, mine in ((trial, others[trial.tree]) for trial in trials)
    ]
    return _share_out(bench, settled, results, against, used)


def _shared_rounds(trials: Sequence[Trial], served: Mapping[str, int]) -> list[Trial]:
    return [replace(trial, minutes=_minutes(trial, served[trial.candidate.name])) for trial in trials]


def _minutes(trial: Trial, served: int) -> float:
    """All work of a trial when the fixed part of its rounds is shared by so many trees. [min]"""
    spared = trial.candidate.measure.minutes_round * (1.0 - 1.0 / served) * trial.handlings
    return trial.minutes - spared


def _trial(bench: Bench, tree: int, candidate: Candidate) -> tuple[Trial | None, str]:
    """The candidate with its hours and its work, or why it is too late or too windy for it."""
    measure, condition, clock = candidate.measure, bench.conditions[tree], bench.clock
    relieved = [spell for spell in bench.spells[tree] if spell.hazard in measure.hazards] or list(bench.spells[tree])
    rules = bench.garden.notices
    if candidate.begun:
        undo = undo_at(clock, measure, max(spell.ends for spell in relieved), rules)
        return Trial(tree, candidate, acting_hours(clock, measure, clock.now, undo), 0, 0.0, clock.now, undo), ""
    once = measure.minutes_round + measure.minutes_pot
    once += measure.minutes_per_10kg * condition.tree.wet_mass_kg() / 10.0
    begins = min(act_by(clock, spell.hazard, spell.starts, once, rules) for spell in relieved)
    if measure.hours == "night":
        begins = max(min(begins, _before_sunset(clock, begins, once)), clock.now)
    if measure.refill:
        begins = min(begins, _water_by(clock, begins))
        if begins < clock.now:
            return None, "too late in the day: leaves and pot would be wet at dusk"
    ends = max(spell.ends for spell in relieved)
    undo = undo_at(clock, measure, ends, rules)
    acts = acting_hours(clock, measure, begins, undo)
    if not acts.any():
        return None, "it would come too late"
    gusts = bench.grounds.micro.gust_2m_ms[acts][:, :, int(bench.standing.place[0, tree])]
    if too_windy(measure, gusts):
        return None, f"gusts pass the {measure.gust_limit_ms:.0f} m/s that it bears"
    times = rounds_needed(acts) if measure.hours != "spell" else 1
    return Trial(tree, candidate, acts, times, once * times, begins, undo), ""


def _before_sunset(clock: Clock, begins: np.datetime64, minutes: float) -> np.datetime64:
    """An hour before the sunset of that day and the work: covers keep the warmth that the floor still has."""
    day = clock.to_local(begins).astype("datetime64[D]")
    moment: np.datetime64 = clock.sunset_of(day) - HOUR - np.timedelta64(round(minutes * 60), "s")
    return moment


def _water_by(clock: Clock, begins: np.datetime64) -> np.datetime64:
    """Two in the afternoon of the day on which watering would begin, UTC."""
    day = clock.to_local(begins).astype("datetime64[D]")
    return clock.to_utc(day.astype("datetime64[s]") + WATER_BY_H * HOUR)


@dataclass(frozen=True)
class _Result:
    """Expected values per trial, (trial,)."""

    loss: Array
    hazard_loss: Mapping[str, Array]
    hazard_damage: Mapping[str, Array]
    hazard_probability: Mapping[str, Array]


def _simulate(bench: Bench, trials: Sequence[Trial]) -> _Result:
    """Expected total and per-hazard loss of every trial, (trial,): first with few members, the best again with all."""
    result = _run(bench, trials, few=True)
    if bench.losses.shape[0] <= SMALL_ENSEMBLE or not trials:
        return result
    finalists: list[int] = []
    for tree in sorted({trial.tree for trial in trials}):
        mine = [position for position, trial in enumerate(trials) if trial.tree == tree]
        cost = {p: cost_of(trials[p].minutes, bench.garden.notices.caution) for p in mine}
        worth = bench.conditions[tree].tree.worth
        # A layer may end up with the best that stays or the best that is carried, so both kinds send their best.
        for carried in (False, True):
            kind = [p for p in mine if (trials[p].candidate.measure.carries > 0) == carried]
            finalists += sorted(kind, key=lambda p: worth * float(result.loss[p]) + cost[p])[:FINALISTS]
    exact = _run(bench, [trials[position] for position in finalists], few=False)
    result.loss[finalists] = exact.loss
    for name in HAZARDS:
        result.hazard_loss[name][finalists] = exact.hazard_loss[name]
        result.hazard_damage[name][finalists] = exact.hazard_damage[name]
        result.hazard_probability[name][finalists] = exact.hazard_probability[name]
    return result


def _spread_members(losses: Array, count: int) -> tuple[NDArray[np.int64], Array]:
    """
    Members that stand for all, spread evenly over a tree's loss, and the share of members each stands for.

    losses: (member,). [0-1]; count: how many to choose.
    """
    order = np.argsort(losses, kind="stable")
    groups = np.array_split(order, count)
    chosen = np.array([group[len(group) // 2] for group in groups], dtype=np.int64)
    return chosen, np.array([len(group) / losses.size for group in groups])


def _run(bench: Bench, trials: Sequence[Trial], few: bool) -> _Result:
    """All trials through the engine, with few members each or with all."""
    count = len(trials)
    result = _Result(
        np.zeros(count),
        {name: np.zeros(count) for name in HAZARDS},
        {name: np.zeros(count) for name in HAZARDS},
        {name: np.zeros(count) for name in HAZARDS},
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
    ids = [place.id for place in bench.places]
    laid = [
        Laid(
            trial.candidate.measure,
            trial.acts,
            ids.index(trial.candidate.destination) if trial.candidate.destination else NEUTRAL_LAID,
        )
        for trial in trials
    ]
    index = np.array([trial.tree for trial in trials], dtype=np.int64)
    columns = lay_over(bench.standing.select(index), laid, bench.places)

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


def _options(bench: Bench, tree: int, trials: Sequence[Trial], result: _Result, standing: float) -> list[Option]:
    condition, caution = bench.conditions[tree], bench.garden.notices.caution
    options = []
    for position, trial in enumerate(trials):
        if trial.tree != tree:
            continue
        handling = handling_loss(
            condition,
            float(bench.grounds.limits.carry_harm[tree]),
            0 if trial.candidate.begun else trial.candidate.measure.carries,
            bench.hazards.roots_spare,
        )
        loss = 1.0 - (1.0 - float(result.loss[position])) * (1.0 - handling)
        options.append(
            Option(
                name=trial.candidate.name,
                loss=loss,
                handling=handling,
                hazard_damage={name: float(result.hazard_damage[name][position]) for name in HAZARDS},
                hazard_loss={name: float(result.hazard_loss[name][position]) for name in HAZARDS},
                hazard_probability={name: float(result.hazard_probability[name][position]) for name in HAZARDS},
                carries=0 if trial.candidate.begun else trial.candidate.measure.carries,
                minutes=trial.minutes,
                gain=condition.tree.worth * (standing - loss),
                cost=cost_of(trial.minutes, caution),
                chosen=False,
                why="",
            )
        )
    return options


def _share_out(
    bench: Bench, trials: Sequence[Trial], result: _Result, against: Sequence[dict[str, str]], used: Mapping[str, int]
) -> tuple[Call, ...]:
    """Choose tree by tree, the one with most to lose first; what it takes of room and cloth is gone for the next."""
    standing = bench.losses.mean(axis=0)
    stake = [bench.conditions[tree].tree.worth * standing[tree] for tree in range(len(bench.conditions))]
    room = {
        place.id: place.room - used.get(place.id, 0) for place in bench.garden.places.values() if place.room is not None
    }
    cloth = {"fleece": bench.garden.stock.fleece_m2, "net": bench.garden.stock.net_m2, "tent": bench.garden.stock.tents}
    calls: dict[int, Call] = {}
    company: dict[str, frozenset[str]] = {}
    for tree in sorted(range(len(bench.conditions)), key=lambda position: -stake[position]):
        if not bench.spells[tree]:
            calls[tree] = Call((), {}, None, None)
            continue
        mine = {trial.candidate.name: trial for trial in trials if trial.tree == tree}
        options = _options(bench, tree, trials, result, float(standing[tree]))
        reasons = dict(against[tree])
        left = []
        for option in options:
            short = _short(bench, tree, mine[option.name], room, cloth)
            if short:
                reasons[option.name] = short
            else:
                left.append(option)
        earliest = min((trial.begins for trial in mine.values()), default=bench.clock.now)
        hours_left = float((earliest - bench.clock.now) / HOUR)
        place = bench.conditions[tree].place
        told = bench.told.get(bench.conditions[tree].tree.id, "")
        ranked = choose(
            left, float(standing[tree]), hours_left, bench.conditions[tree].layer, company.get(place, frozenset()), told
        )
        chosen = next((option for option in ranked if option.chosen), None)
        trial = mine[chosen.name] if chosen else None
        if trial is not None:
            _take(bench, tree, trial, room, cloth)
            company[place] = company.get(place, frozenset()) | {trial.candidate.name}
        calls[tree] = Call(
            tuple(ranked), reasons, trial.begins if trial else _act_by(bench, tree), trial.undo if trial else None
        )
    return tuple(calls[tree] for tree in range(len(bench.conditions)))


def _act_by(bench: Bench, tree: int) -> np.datetime64:
    """When something would have to be done if anything could."""
    rules = bench.garden.notices
    return min(
        act_by(bench.clock, spell.hazard, spell.starts, FIRST_GUESS_MINUTES, rules) for spell in bench.spells[tree]
    )


def _needs(bench: Bench, tree: int, trial: Trial) -> tuple[str, float]:
    """Kind and amount of stock that a trial takes."""
    measure, condition = trial.candidate.measure, bench.conditions[tree]
    if measure.stock == "fleece":
        return "fleece", fleece_m2(condition) * (2 if measure.name == "fleece-double" else 1)
    if measure.stock == "net":
        return "net", net_m2(condition)
    return (measure.stock, 1.0) if measure.stock == "tent" else ("", 0.0)


def _short(bench: Bench, tree: int, trial: Trial, room: Mapping[str, int], cloth: Mapping[str, float]) -> str:
    if trial.candidate.begun:
        return ""
    destination = trial.candidate.destination
    if destination and room.get(destination, 1) < 1:
        return "the room there goes to a tree with more to lose"
    kind, amount = _needs(bench, tree, trial)
    return f"the {kind} goes to a tree with more to lose" if kind and cloth[kind] < amount else ""


def _take(bench: Bench, tree: int, trial: Trial, room: dict[str, int], cloth: dict[str, float]) -> None:
    if trial.candidate.destination in room:
        room[trial.candidate.destination] -= 1
    kind, amount = _needs(bench, tree, trial)
    if kind:
        cloth[kind] -= amount
