"""What each tree can stand today: doses of 10 % and 50 % damage per organ, from species, stage and condition."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date

import numpy as np
from numpy.typing import NDArray

from carewatch.care.species import Doses, Species
from carewatch.condition.now import Condition
from carewatch.forecast.weather import Array
from carewatch.limits.doses import HazardNumbers

NEVER: Doses = (np.inf, np.inf)
NEVER_COLD: Doses = (-np.inf, -np.inf)
# A second flush after stripping is tenderer than the first by this (estimate: fewer reserves). [K]
SECOND_FLUSH_K = 0.5
# Leaves lose their worth for next year from mid-August on (estimate: reserves are laid in).
LATE_LEAF_DAY = 227


@dataclass(frozen=True)
class Tolerance:
    """
    Arrays (tree,), pairs as two arrays ending in _10 and _50.

    leaf_frost, bud_frost: tissue temperatures. [°C]; leaf_weight, bud_weight: loss by losing the organ. [0-1]
    wet_shift_k: rise of the leaf's limit when dew or rime sits on it. [K]
    root_frost_young, root_frost_mature: [°C]; young: share of young roots. [0-1]
    heat: leaf, over four hours. [°C]; drying: share of leaf water lost. [0-1]; sun: [kWh m⁻² d⁻¹]
    rock, rock_tied: gusts at the plant. [m s⁻¹]; rock_weight: share of roots at stake. [0-1]; tear: gusts. [m s⁻¹]
    soak: hours without air at 20 °C. [h]; root_supply, anchorage: [0-1]
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
    carry_harm: Array

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


def leaf_organ(condition: Condition, today: date, latitude: float) -> str:
    """Key of the organ weight of a tree's leaves today, such as "leaf.flush"; "" without leaves."""
    stage = condition.stage
    if not condition.in_leaf:
        return ""
    if condition.tree.species.evergreen:
        return "leaf.evergreen.winter" if stage in ("winter-hard", "hardening") else "leaf.evergreen.summer"
    if stage == "flush":
        weak = condition.second_flush or condition.root_supply < 0.5
        return "leaf.layer.flush" if condition.layer else "leaf.flush.weak" if weak else "leaf.flush"
    if stage == "colouring":
        return "leaf.layer.colouring" if condition.layer else "leaf.colouring"
    late = year_day(today, latitude) >= LATE_LEAF_DAY
    if condition.layer:
        return "leaf.layer.late" if late else "leaf.layer.mature"
    return "leaf.mature.late" if late else "leaf.mature"


def year_day(today: date, latitude: float) -> int:
    """Day of the northern year: southern dates are shifted by half a year."""
    day = today.timetuple().tm_yday
    return day if latitude >= 0 else (day + 181) % 365 + 1


def mature_root_frost_c(species: Species, today: date, latitude: float) -> Doses:
    """
    Root limits of the date: October's value in the growing season, midwinter's from mid-January to March. [°C]

    Straight lines from 15 October to 15 January and back from 1 March to 15 April (estimate: roots harden with the
    cold of autumn and soften before the buds move).
    """
    day = year_day(today, latitude)
    points = ((0, 0.83), (15, 1.0), (60, 1.0), (105, 0.0), (288, 0.0), (365, 0.83))
    depth = float(np.interp(day, [point[0] for point in points], [point[1] for point in points]))
    october, winter = species.root_october_c, species.root_midwinter_c
    return (
        october[0] + depth * (winter[0] - october[0]),
        october[1] + depth * (winter[1] - october[1]),
    )


def _row(condition: Condition, habit: float, hazards: HazardNumbers, today: date, latitude: float) -> dict[str, float]:
    species, stage = condition.tree.species, condition.stage
    tender = stage in ("flush", "new-tips") or condition.second_flush
    leaf, bud = _frost(condition)
    mature = mature_root_frost_c(species, today, latitude)
    heat, drying, sun = NEVER, NEVER, NEVER
    if condition.in_leaf:
        heat = (species.leaf_heat_4h_c[0] + condition.heat_shift_k, species.leaf_heat_4h_c[1] + condition.heat_shift_k)
        drying = species.water_loss_flush if tender else species.water_loss_mature
        sun = _sun(condition, habit)
    organ = leaf_organ(condition, today, latitude)
    intact_soak = hazards.soak_leaf_h if condition.in_leaf else hazards.soak_dormant_h
    untied, tied = condition.gust_limit_ms, condition.gust_limit_tied_ms
    tear = hazards.tear_gust_ms if stage == "flush" else NEVER
    return {
        "leaf_frost_10": leaf[0],
        "leaf_frost_50": leaf[1],
        "bud_frost_10": bud[0],
        "bud_frost_50": bud[1],
        "leaf_weight": hazards.organ_weight[organ] if organ else 0.0,
        "bud_weight": hazards.organ_weight["buds"],
        "wet_shift_k": hazards.wet_frost_shift_k if tender else 0.0,
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
        "carry_harm": hazards.carry_harm_tied if condition.tied else hazards.carry_harm_untied,
    }


def _frost(condition: Condition) -> tuple[Doses, Doses]:
    """Leaf and bud limits of the stage; an organ that is not there, or is the lesser one, cannot freeze."""
    species, stage = condition.tree.species, condition.stage
    shift = condition.frost_shift_k
    leaf, bud = NEVER_COLD, NEVER_COLD
    if stage in ("dormant", "bud-swell", "leafless"):
        bud = species.frost_c[stage]
    elif stage == "colouring":
        leaf, bud = species.frost_c["mature-leaf"], species.frost_c["autumn-wood"]
    else:
        leaf = species.frost_c[stage]
    if condition.second_flush and stage == "flush":
        leaf = (leaf[0] + SECOND_FLUSH_K, leaf[1] + SECOND_FLUSH_K)
    return leaf, (bud[0] + shift, bud[1] + shift)


def _sun(condition: Condition, habit: float) -> Doses:
    """Direct sun of a day: a step beyond the places of the last fortnight, or less where a work forbids it."""
    step = condition.tree.species.sun_step_kwh
    tenth = habit + step[0]
    if condition.sun_limit_kwh is not None:
        tenth = min(tenth, condition.sun_limit_kwh)
    return tenth, tenth + step[1] - step[0]
