"""What each tree can stand today: doses of 10 % and 50 % damage per organ, from species, stage and condition."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date
from math import exp, log, sqrt

import numpy as np
from numpy.typing import NDArray

from carewatch.care.species import Doses, Species
from carewatch.condition.cold_carried import BELOW_C
from carewatch.condition.now import BARE, Condition
from carewatch.condition.season import late_leaf
from carewatch.forecast.weather import Array
from carewatch.limits.doses import HazardNumbers
from carewatch.limits.in_shelter import in_shelter, under_load

NEVER: Doses = (np.inf, np.inf)
NEVER_COLD: Doses = (-np.inf, -np.inf)
# A second flush after stripping is tenderer than the first by this (estimate: fewer reserves). [K]
SECOND_FLUSH_K = 0.5
# A stage less likely than this is left out: nobody warns of what is true of one tree in twenty (judged). [0-1]
LEAST_CHANCE = 0.05
# A night brings so many times its depth below 10 °C at the coldest hour in degree-hours (half a sine of some 13 hours,
# judged). [h]
NIGHT_H = 8.6
# Hardiness that autumn's wood and evergreen leaves in autumn have: half of the way to midwinter (condition.hardiness).
HALF_HARDENED = 0.5
TAKEN = ("leaf_frost_taken", "bud_frost_taken", "roots_lost")


@dataclass(frozen=True)
class Tolerance:
    """
    Arrays (tree,), pairs as two arrays ending in _10 and _50.

    leaf_frost, bud_frost: tissue temperatures. [°C]; leaf_weight, bud_weight: loss by losing the organ. [0-1]
    wet_shift_k: rise of the leaf's limit when dew or rime sits on it. [K]
    root_frost_young, root_frost_mature: [°C]; young: share of young roots. [0-1]
    heat: leaf, over four hours. [°C]; drying: share of leaf water lost. [0-1]; sun: [kWh m⁻² d⁻¹]
    rock, rock_tied: gusts at the plant. [m s⁻¹]; rock_weight: share of roots at stake. [0-1]; tear: gusts. [m s⁻¹]
    soak: hours without air at 20 °C. [h]; root_supply, anchorage: [0-1]; held: anchorage with ties. [0-1]
    wound_frost: on the rims of fresh cuts. [°C]; wound_weight: loss if all of them die back. [0-1]
    chill: degree-hours of cold above zero, infinite for hardy kinds; chill_carried: that it comes with. [°C·h]
    bark_exposure: share of the stem's sunny face that shade has left. [0-1]
    forces, forced_kd, swell_kd, open_kd, rest, swell, open, frost_to_come_c, dark, dark_carried, damp, load: as
    limits.in_shelter.
    leaf_frost_taken, bud_frost_taken, roots_lost: shares of leaves, buds and roots that the coldest of the last days
    has probably killed; leaf_weight and bud_weight are of what it left. [0-1]
    """

    leaf_frost_10: Array
    leaf_frost_50: Array
    bud_frost_10: Array
    bud_frost_50: Array
    leaf_weight: Array
    bud_weight: Array
    wet_shift_k: Array
    root_frost_young_10: Array
    root_frost_young_50: Array
    root_frost_mature_10: Array
    root_frost_mature_50: Array
    young: Array
    heat_10: Array
    heat_50: Array
    drying_10: Array
    drying_50: Array
    sun_10: Array
    sun_50: Array
    rock_10: Array
    rock_tied_10: Array
    rock_weight: Array
    tear_10: Array
    tear_50: Array
    soak_10: Array
    root_supply: Array
    anchorage: Array
    held: Array
    wound_frost_10: Array
    wound_frost_50: Array
    wound_weight: Array
    chill_10: Array
    chill_50: Array
    chill_carried: Array
    bark_exposure: Array
    carry_harm: Array
    forces: Array
    forced_kd: Array
    swell_kd: Array
    open_kd: Array
    rest_10: Array
    rest_50: Array
    swell_10: Array
    swell_50: Array
    open_10: Array
    open_50: Array
    frost_to_come_c: Array
    dark_10: Array
    dark_50: Array
    dark_carried: Array
    damp_10: Array
    damp_50: Array
    load_10: Array
    load_50: Array
    leaf_frost_taken: Array
    bud_frost_taken: Array
    roots_lost: Array

    def select(self, index: NDArray[np.int64]) -> "Tolerance":
        """Rows of the trees at these positions."""
        return Tolerance(**{field.name: getattr(self, field.name)[index] for field in fields(self)})


def tolerances(
    conditions: Sequence[Condition], sun_habit_kwh: Array, hazards: HazardNumbers, today: date, latitude: float
) -> Tolerance:
    """
    Tolerance of every tree today.

    sun_habit_kwh: direct sun that the places of the last 14 days offer on a clear day, (tree,). [kWh m⁻² d⁻¹]
    """
    rows = [
        _row(condition, float(habit), hazards, today, latitude)
        for condition, habit in zip(conditions, sun_habit_kwh, strict=True)
    ]
    return Tolerance(**{field.name: np.array([row[field.name] for row in rows]) for field in fields(Tolerance)})


def leaf_organ(condition: Condition, stage: str, today: date, latitude: float) -> str:
    """Key of the organ weight that a tree's leaves have if it is in a stage with leaves, such as "leaf.flush"."""
    if condition.tree.species.evergreen:
        return "leaf.evergreen.winter" if stage in ("winter-hard", "hardening") else "leaf.evergreen.summer"
    if stage == "flush":
        weak = condition.second_flush or condition.root_supply < 0.5
        return "leaf.layer.flush" if condition.layer else "leaf.flush.weak" if weak else "leaf.flush"
    if stage == "colouring":
        return "leaf.layer.colouring" if condition.layer else "leaf.colouring"
    late = late_leaf(np.datetime64(today), latitude)
    if condition.layer:
        return "leaf.layer.late" if late else "leaf.layer.mature"
    return "leaf.mature.late" if late else "leaf.mature"


def organ_worth(condition: Condition, hazards: HazardNumbers, today: date, latitude: float) -> tuple[float, float]:
    """Loss by losing all leaves, and by losing all buds, expected over the stages that the tree may be in. [0-1]"""
    frost = _frost(condition, hazards, today, latitude)
    return frost.leaf_weight, frost.bud_weight


def year_day(today: date, latitude: float) -> int:
    """Day of the northern year: southern dates are shifted by half a year."""
    day = today.timetuple().tm_yday
    return day if latitude >= 0 else (day + 181) % 365 + 1


def mature_root_frost_c(species: Species, hardened: float) -> Doses:
    """
    Limits of mature roots between October's value and midwinter's. [°C]

    hardened: condition's roots_hardened. [0-1]
    """
    return _between(species.root_october_c, species.root_midwinter_c, hardened)


def tender_night_c(species: Species) -> float:
    """Lowest air of a night that a tender evergreen bears: by frost, or by cold above zero. [°C]"""
    return max(species.frost_c["winter-hard"][0], BELOW_C - species.chill_kh[0] / NIGHT_H)


def _row(condition: Condition, habit: float, hazards: HazardNumbers, today: date, latitude: float) -> dict[str, float]:
    species = condition.tree.species
    tender = condition.tender
    frost = _frost(condition, hazards, today, latitude)
    mature = mature_root_frost_c(species, condition.roots_hardened)
    heat, drying, sun = NEVER, NEVER, NEVER
    if condition.in_leaf:
        heat = (species.leaf_heat_4h_c[0] + condition.heat_shift_k, species.leaf_heat_4h_c[1] + condition.heat_shift_k)
        drying = _mixed_rising(condition.soft, species.water_loss_flush, species.water_loss_mature)
        sun = _sun(condition, habit)
    wound, wound_weight = _wound(condition, hazards)
    chill = species.chill_kh if condition.in_leaf else NEVER
    intact_soak = hazards.soak_leaf_h if condition.in_leaf else hazards.soak_dormant_h
    untied, tied = condition.gust_limit_ms, condition.gust_limit_tied_ms
    tear = _tear(condition, hazards)
    return {
        "leaf_frost_10": frost.leaf[0],
        "leaf_frost_50": frost.leaf[1],
        "bud_frost_10": frost.bud[0],
        "bud_frost_50": frost.bud[1],
        "leaf_weight": frost.leaf_weight,
        "bud_weight": frost.bud_weight,
        "wet_shift_k": hazards.wet_frost_shift_k * tender,
        "root_frost_young_10": species.root_young_c[0],
        "root_frost_young_50": species.root_young_c[1],
        "root_frost_mature_10": mature[0],
        "root_frost_mature_50": mature[1],
        "young": condition.young_roots,
        "heat_10": heat[0],
        "heat_50": heat[1],
        "drying_10": drying[0],
        "drying_50": drying[1],
        "sun_10": sun[0],
        "sun_50": sun[1],
        "rock_10": untied,
        "rock_tied_10": tied,
        "rock_weight": 1.0 - condition.anchorage,
        "tear_10": tear[0],
        "tear_50": tear[1],
        "soak_10": condition.soak_hours or intact_soak,
        "root_supply": condition.root_supply,
        "anchorage": condition.anchorage,
        "held": condition.held,
        "wound_frost_10": wound[0],
        "wound_frost_50": wound[1],
        "wound_weight": wound_weight,
        "chill_10": chill[0],
        "chill_50": chill[1],
        "chill_carried": condition.cold_kh,
        "bark_exposure": condition.bark_exposure,
        "carry_harm": hazards.carry_harm_tied if condition.tied else hazards.carry_harm_untied,
        **in_shelter(condition, hazards),
        **under_load(condition, hazards),
        # What the weather of the last days took is laid over this by limits.lost_already.
        **dict.fromkeys(TAKEN, 0.0),
    }


@dataclass(frozen=True)
class _Frost:
    """Limits of leaves and of buds, and what losing them is expected to cost, over the stages that may be."""

    leaf: Doses
    leaf_weight: float
    bud: Doses
    bud_weight: float


def _frost(condition: Condition, hazards: HazardNumbers, today: date, latitude: float) -> _Frost:
    """
    Leaf and bud limits; an organ that is not there, or is the lesser one, cannot freeze.

    Where the date of a stage is uncertain, each possible stage stands with its chance: an organ's limit is that of the
    mixture, its weight the expectation. The worth of leaves that may not be out yet is small, and so on.
    """
    shift = condition.frost_shift_k
    leaves: list[tuple[float, Doses]] = []
    buds: list[tuple[float, Doses]] = []
    leaf_weight = 0.0
    for stage, chance in _possible(condition).items():
        leaf, bud = _stage_frost(condition, stage)
        if np.isfinite(leaf[0]):
            leaves.append((chance, leaf))
            leaf_weight += chance * hazards.organ_weight[leaf_organ(condition, stage, today, latitude)]
        if np.isfinite(bud[0]):
            buds.append((chance, (bud[0] + shift, bud[1] + shift)))
    bud_weight = hazards.organ_weight["buds"] * (sum(chance for chance, _ in buds) if buds else 1.0)
    # What was seen burnt is gone: only the rest can be lost.
    return _Frost(mixed_doses(leaves), leaf_weight * condition.unburnt, mixed_doses(buds), bud_weight)


def there(condition: Condition) -> tuple[float, float]:
    """How likely leaves are out that frost could take, and how likely buds or wood are what it would find. [0-1]"""
    leaves = buds = 0.0
    for stage, chance in _possible(condition).items():
        leaf, bud = _stage_frost(condition, stage)
        leaves += chance * bool(np.isfinite(leaf[0]))
        buds += chance * bool(np.isfinite(bud[0]))
    return leaves, buds


def _possible(condition: Condition) -> dict[str, float]:
    """Stages that the tree may be in with their chances, those that hardly can be left out."""
    own = condition.stage
    if own not in condition.chances or (condition.second_flush and not condition.tree.species.evergreen):
        # Stripped or in its second flush: that was seen or done, and no model's date.
        return {own: 1.0}
    likely = {name: chance for name, chance in condition.chances.items() if chance >= LEAST_CHANCE or name == own}
    total = sum(likely.values())
    return {name: chance / total for name, chance in likely.items()}


def _stage_frost(condition: Condition, stage: str) -> tuple[Doses, Doses]:
    """Limits of leaves and buds in one stage."""
    species = condition.tree.species
    frost = species.frost_c
    if species.evergreen:
        return (frost["new-tips"] if stage == "new-tips" else _foliage_frost(condition)), NEVER_COLD
    if stage in BARE:
        bud = _wood_frost(condition) if stage == "dormant" else frost[stage]
        return NEVER_COLD, bud
    if stage == "colouring":
        return frost["mature-leaf"], _wood_frost(condition)
    leaf = frost[stage]
    if condition.second_flush and stage == "flush":
        leaf = (leaf[0] + SECOND_FLUSH_K, leaf[1] + SECOND_FLUSH_K)
    return leaf, NEVER_COLD


def _wood_frost(condition: Condition) -> Doses:
    """Winter buds and twigs: from October's wood, or in spring from swelling buds, to midwinter's as they harden."""
    frost = condition.tree.species.frost_c
    soft = _between(frost["autumn-wood"], frost["bud-swell"], min(condition.waking, 1.0))
    beyond = max(0.0, condition.hardened - HALF_HARDENED) / (1.0 - HALF_HARDENED)
    return _between(soft, frost["dormant"], beyond)


def _foliage_frost(condition: Condition) -> Doses:
    """Ripe leaves of evergreens: from summer's limit over that of hardening to midwinter's."""
    frost, hardened = condition.tree.species.frost_c, condition.hardened
    if hardened <= HALF_HARDENED:
        return _between(frost["summer"], frost["hardening"], hardened / HALF_HARDENED)
    return _between(frost["hardening"], frost["winter-hard"], (hardened - HALF_HARDENED) / (1.0 - HALF_HARDENED))


def _wound(condition: Condition, hazards: HazardNumbers) -> tuple[Doses, float]:
    """
    Limits of the rims of fresh cuts, and what it costs if they die back.

    A fresh rim bears a share of what its wood does in winter, at least what it bears in growth, never more than the
    wood; as it ages it comes back to the wood's own. Paste keeps part of it.
    """
    wounds = condition.wounds
    size = 1.0 - (1.0 - wounds.open_size) * (1.0 - wounds.sealed_size * hazards.wound_pasted)
    if size <= 0.0 or wounds.fresh <= 0.0:
        return NEVER_COLD, 0.0
    wood = _foliage_frost(condition) if condition.tree.species.evergreen else _wood_frost(condition)
    soft, share = hazards.wound_frost_c, hazards.wound_hardy_share
    rim = (max(wood[0], min(soft[0], share * wood[0])), max(wood[1], min(soft[1], share * wood[1])))
    return _between(wood, rim, wounds.fresh), size * hazards.organ_weight["wound"]


def _between(start: Doses, end: Doses, share: float) -> Doses:
    return start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])


def mixed_doses(parts: Sequence[tuple[float, Doses]]) -> Doses:
    """
    Doses of 10 % and 50 % damage of an organ of which it is uncertain which limits hold; never cold without parts.

    parts: (chance, doses of cold) pairs. The damage of each dose is the chances' mean of the logistic curves: limits
    are not averaged, damages are.
    """
    if not parts:
        return NEVER_COLD
    total = sum(chance for chance, _ in parts)
    doses = {pair for _, pair in parts}
    if len(doses) == 1:
        return parts[0][1]
    tenth = _dose_of([(chance / total, pair) for chance, pair in parts], 0.1)
    return tenth, min(_dose_of([(chance / total, pair) for chance, pair in parts], 0.5), tenth - 1e-3)


def _mixed_rising(share: float, one: Doses, other: Doses) -> Doses:
    """The same of doses that harm by being high: so likely the one pair, else the other."""
    if share in (0.0, 1.0):
        return one if share else other
    tenth, half = mixed_doses([(share, (-one[0], -one[1])), (1.0 - share, (-other[0], -other[1]))])
    return -tenth, -half


def _dose_of(parts: Sequence[tuple[float, Doses]], share: float) -> float:
    """Dose at which a mixture of falling logistic curves comes to a share, by halving the interval that holds it."""
    low = min(2.0 * pair[1] - pair[0] for _, pair in parts)
    high = max(pair[0] for _, pair in parts)
    for _ in range(40):
        middle = 0.5 * (low + high)
        harm = sum(
            chance / (1.0 + exp(min(50.0, max(-50.0, log(9.0) * (half - middle) / (half - tenth)))))
            for chance, (tenth, half) in parts
        )
        low, high = (middle, high) if harm > share else (low, middle)
    return 0.5 * (low + high)


def _tear(condition: Condition, hazards: HazardNumbers) -> Doses:
    """Gusts that tear soft leaves; the pull grows with their square, and as they ripen they bear more of it. [m s⁻¹]"""
    if condition.tender <= 0.0 or condition.tree.species.evergreen or condition.stage == "leafless":
        return NEVER
    share = sqrt(condition.tender)
    return hazards.tear_gust_ms[0] / share, hazards.tear_gust_ms[1] / share


def _sun(condition: Condition, habit: float) -> Doses:
    """Direct sun of a day: a step beyond the places of the last fortnight, or less where a work forbids it."""
    step = condition.tree.species.sun_step_kwh
    tenth = habit + step[0]
    if condition.sun_limit_kwh is not None:
        tenth = min(tenth, condition.sun_limit_kwh)
    return tenth, tenth + step[1] - step[0]
