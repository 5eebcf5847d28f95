"""The bench on which measures are tried: candidate columns run through the same engine as the tree as it stands."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from carewatch.care.garden import Garden
from carewatch.condition.now import Condition
from carewatch.exposure.columns import Columns, Traits
from carewatch.exposure.march import RootState
from carewatch.exposure.run import expose
from carewatch.forecast.weather import Array
from carewatch.hazard.spells import Spell
from carewatch.limits.doses import HazardNumbers
from carewatch.limits.judge import HAZARDS, Judgement, judge
from carewatch.limits.tolerance import Tolerance
from carewatch.measures.apply import NEUTRAL_LAID, Laid, lay_over
from carewatch.measures.candidates import Candidate, candidates, fleece_m2, net_m2, occupied, too_windy
from carewatch.measures.catalogue import Measure
from carewatch.measures.choice import Option, choose, cost_of, handling_loss
from carewatch.measures.timing import HOUR, WATER_BY_H, Clock, act_by, acting_hours, rounds_needed, undo_at
from carewatch.place.microclimate import Microclimate
from carewatch.place.spot import Place

# Values (member x column) marched together: few enough for the cache, many enough to be worth a step. Measured.
BLOCK_VALUES = 2048
# Work that a call is taken to need before its measure is known. Judged. [min]
FIRST_GUESS_MINUTES = 15.0


@dataclass(frozen=True)
class Bench:
    """
    All that a trial needs: the garden as it stands and the weather at its places.

    standing: baseline columns, one per tree; traits, limits, roots: one row per tree; judged: of the baseline.
    """

    garden: Garden
    conditions: tuple[Condition, ...]
    places: tuple[Place, ...]
    measures: Mapping[str, Measure]
    hazards: HazardNumbers
    clock: Clock
    micro: Microclimate
    standing: Columns
    traits: Traits
    limits: Tolerance
    roots: RootState
    judged: Judgement
    spells: tuple[tuple[Spell, ...], ...]
    direct_kwh: Mapping[str, float]


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
    relieved = [spell for spell in bench.spells[tree] if spell.hazard in measure.hazards]
    rules = bench.garden.notices
    once = measure.minutes_round + measure.minutes_pot
    once += measure.minutes_per_10kg * condition.tree.wet_mass_kg() / 10.0
    begins = min(act_by(clock, spell.hazard, spell.starts, once, rules) for spell in relieved)
    if measure.refill:
        begins = min(begins, _water_by(clock, begins))
        if begins < clock.now:
            return None, "too late in the day: leaves and pot would be wet at dusk"
    ends = max(spell.ends for spell in relieved)
    undo = undo_at(clock, measure, ends, rules)
    acts = acting_hours(clock, measure, begins, undo)
    if not acts.any():
        return None, "it would come too late"
    gusts = bench.micro.gust_2m_ms[acts][:, :, int(bench.standing.place[0, tree])]
    if too_windy(measure, gusts):
        return None, f"gusts pass the {measure.gust_limit_ms:.0f} m/s that it bears"
    times = rounds_needed(acts) if measure.hours != "spell" else 1
    return Trial(tree, candidate, acts, times, once * times, begins, undo), ""


def _water_by(clock: Clock, begins: np.datetime64) -> np.datetime64:
    """Two in the afternoon of the day on which watering would begin, UTC."""
    day = clock.to_local(begins).astype("datetime64[D]")
    return clock.to_utc(day.astype("datetime64[s]") + WATER_BY_H * HOUR)


@dataclass(frozen=True)
class _Result:
    loss: Array
    hazard_loss: Mapping[str, Array]
    hazard_damage: Mapping[str, Array]
    hazard_probability: Mapping[str, Array]


def _simulate(bench: Bench, trials: Sequence[Trial]) -> _Result:
    """Expected total and per-hazard loss of every trial, (trial,)."""
    members = bench.micro.air_2m_c.shape[1]
    size = max(1, BLOCK_VALUES // members)
    parts: list[_Result] = []
    ids = [place.id for place in bench.places]
    for start in range(0, len(trials), size):
        block = trials[start : start + size]
        index = np.array([trial.tree for trial in block], dtype=np.int64)
        laid = [
            Laid(
                trial.candidate.measure,
                trial.acts,
                ids.index(trial.candidate.destination) if trial.candidate.destination else NEUTRAL_LAID,
            )
            for trial in block
        ]
        columns = lay_over(bench.standing.select(index), laid, bench.places)
        felt, _ = expose(
            bench.clock.utc,
            bench.clock.local,
            bench.micro,
            bench.places,
            columns,
            bench.traits.select(index),
            bench.hazards.supply_cap_mmol,
            bench.hazards.uptake_c,
            bench.hazards.soak_q10,
            bench.roots.select(index),
        )
        judged = judge(felt, bench.limits.select(index), columns, bench.hazards)
        parts.append(
            _Result(
                judged.total().mean(axis=0),
                {name: judged.loss[name].mean(axis=0) for name in HAZARDS},
                {name: judged.damage[name].mean(axis=0) for name in HAZARDS},
                {name: judged.beyond[name].any(axis=0).mean(axis=0) for name in HAZARDS},
            )
        )
    if not parts:
        return _Result(np.empty(0), {}, {}, {})
    return _Result(
        np.concatenate([part.loss for part in parts]),
        {name: np.concatenate([part.hazard_loss[name] for part in parts]) for name in HAZARDS},
        {name: np.concatenate([part.hazard_damage[name] for part in parts]) for name in HAZARDS},
        {name: np.concatenate([part.hazard_probability[name] for part in parts]) for name in HAZARDS},
    )


def _options(bench: Bench, tree: int, trials: Sequence[Trial], result: _Result, standing: float) -> list[Option]:
    condition, caution = bench.conditions[tree], bench.garden.notices.caution
    options = []
    for position, trial in enumerate(trials):
        if trial.tree != tree:
            continue
        handling = handling_loss(
            condition,
            float(bench.limits.carry_harm[tree]),
            trial.candidate.measure.carries,
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
                carries=trial.candidate.measure.carries,
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
    standing = bench.judged.total().mean(axis=0)
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
        ranked = choose(
            left, float(standing[tree]), hours_left, bench.conditions[tree].layer, company.get(place, frozenset())
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
