"""Which measures can be considered for a tree at all, and why the others cannot."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from carewatch.care.garden import Garden
from carewatch.condition.now import Condition
from carewatch.hazard.spells import Spell
from carewatch.measures.catalogue import Measure, parts_of
from carewatch.place.enclosure import can_open
from carewatch.place.spot import Place

MOVE = "move"
# A hardy tree is never brought into a room warmer than this: buds move, chill is lost (common practice). [°C]
WARM_ROOM_C = 10.0
# Trees whose leaves bear less frost than this in winter are tender and may come in (estimate). [°C]
TENDER_C = -3.0
# A humid tent in the sun passes 35 °C in half an hour (common practice): only where little direct sun falls. [kWh m⁻²
# d⁻¹]
TENT_SUN_KWH = 1.0


@dataclass(frozen=True)
class Candidate:
    """A measure to be tried: its row, the place of a move ("" otherwise), and whether it is in place already."""

    measure: Measure
    destination: str = ""
    begun: bool = False

    @property
    def name(self) -> str:
        """Name as it is shown and logged, such as "fleece" or "move:shed"."""
        return f"{MOVE}:{self.destination}" if self.destination else self.measure.name


def fleece_m2(condition: Condition) -> float:
    """Cloth that covers crown and pot down to the floor: a cap and four sides. [m²]"""
    tree = condition.tree
    width = max(tree.crown_cm, tree.pot.length_cm) / 100
    height = (tree.height_cm + tree.pot.depth_cm) / 100
    return width * width + 4 * width * height


def net_m2(condition: Condition) -> float:
    """Net or shade cloth over one tree: its crown with a margin on two sides. [m²]"""
    width = condition.tree.crown_cm / 100 + 0.4
    return 2 * width * width


def candidates(
    condition: Condition,
    spells: Sequence[Spell],
    garden: Garden,
    measures: Mapping[str, Measure],
    used: Mapping[str, int],
    direct_kwh: float,
) -> tuple[list[Candidate], dict[str, str]]:
    """
    Measures worth simulating for a tree in danger, and the reason against each that relieves its hazards but cannot be.

    used: trees per place; direct_kwh: direct sun that its place offers in a day. [kWh m⁻² d⁻¹]
    """
    hazards = {spell.hazard for spell in spells}
    place = garden.places[condition.place]
    chosen: list[Candidate] = []
    against: dict[str, str] = {}
    chosen += _in_place(condition, garden, measures)
    begun = {candidate.name for candidate in chosen}
    for measure in measures.values():
        if measure.name == MOVE or not hazards & set(measure.hazards):
            continue
        reason = _against(measure, condition, place, garden, direct_kwh)
        if reason:
            against[measure.name] = reason
        elif measure.name not in condition.measures and measure.name not in begun:
            chosen.append(Candidate(measure))
    lift = _cannot_lift(condition, garden)
    for other in garden.places.values():
        name = f"{MOVE}:{other.id}"
        if other.id == condition.place or name in begun:
            continue
        if lift:
            against[name] = lift
        elif other.room is not None and used.get(other.id, 0) >= other.room:
            against[name] = "no room is left there"
        elif _too_warm(other, condition):
            against[name] = "a hardy tree does not go into a warm room"
        else:
            chosen.append(Candidate(measures[MOVE], other.id))
    return chosen, against


def _in_place(condition: Condition, garden: Garden, measures: Mapping[str, Measure]) -> list[Candidate]:
    """What the log says is in place already."""
    found = []
    for name in (part for begun in condition.begun for part in parts_of(begun)):
        row, _, destination = name.partition(":")
        if row in measures and (not destination or destination in garden.places):
            found.append(Candidate(measures[row], destination, begun=True))
    return found


def _cannot_lift(condition: Condition, garden: Garden) -> str:
    if condition.tree.fixed:
        return "the tree is fixed where it stands"
    mass = condition.tree.wet_mass_kg()
    if mass > garden.notices.lift_kg:
        return f"the wet pot weighs about {mass:.0f} kg, more than one person lifts"
    return ""


def _too_warm(place: Place, condition: Condition) -> bool:
    species = condition.tree.species
    leaf = species.frost_c.get("winter-hard" if species.evergreen else "dormant", (-20.0, -25.0))[0]
    return place.heated_to_c is not None and place.heated_to_c > WARM_ROOM_C and leaf < TENDER_C


def _against(measure: Measure, condition: Condition, place: Place, garden: Garden, direct_kwh: float) -> str:
    """Why a measure cannot be taken here, or ""."""
    stock = garden.stock
    if measure.carries and (reason := _cannot_lift(condition, garden)):
        return reason
    short = {
        "fleece": stock.fleece_m2 < fleece_m2(condition) * (2 if measure.name == "fleece-double" else 1),
        "net": stock.net_m2 < net_m2(condition),
        "tent": stock.tents < 1,
        "mulch": not stock.mulch,
    }
    if measure.stock and short[measure.stock]:
        return f"not enough {measure.stock} in stock"
    if measure.name == "ventilate" and not can_open(place):
        return "it does not stand under glass"
    if measure.name == "set-down" and place.height_m < 0.1:
        return "it stands on the ground already"
    if measure.wall_in_ground and (place.floor == "paved" or place.enclosed):
        return "there is no soil to sink the pot into"
    if place.enclosed and measure.hours != "day" and measure.stock in ("fleece", "net"):
        return "it stands inside"
    if measure.name == "humid-tent" and direct_kwh > TENT_SUN_KWH:
        return "a closed tent in the sun cooks the leaves"
    if measure.name == "lay-down" and condition.layer and not condition.tied:
        return "an untied layer must not be laid down"
    return ""


def too_windy(measure: Measure, gust_ms: np.ndarray) -> bool:
    """The gusts in the hours in which it acts pass what the measure bears (nine in ten members below). [m s⁻¹]"""
    if measure.gust_limit_ms is None or gust_ms.size == 0:
        return False
    return bool(np.quantile(gust_ms, 0.9) > measure.gust_limit_ms)
