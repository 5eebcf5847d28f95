"""
Columns: one tree, in one place, in one condition, under measures with the hours in which they act.

A column's modifiers are arrays (hour, column); what never changes with the hour lives in Traits, (column,).
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from carewatch.condition.now import Condition
from carewatch.forecast.weather import Array
from carewatch.physics.container import container_capacity, retention

# Leaf area per ground area of a full crown of a small tree: foliage pads of two to three layers (estimate). [m² m⁻²]
LEAF_AREA_INDEX = 2.5
# Depth of a crown over its height (estimate: the lowest third is trunk). [-]
CROWN_DEPTH_SHARE = 0.7
# A bud or twig tip is about 4 mm across (common practice). [m]
BUD_DIMENSION_M = 0.004
# A leaf's dimension along the wind is 0.72 of its width (Campbell & Norman 1998, table 14.1). [-]
DIMENSION_OF_WIDTH = 0.72
# The file knows no thickness of stems: a fifteenth of the height, between a whip and an old trunk (estimate; growers
# aim at a sixth to a twelfth, young layers have a twentieth). [-], [m]
STEM_OF_HEIGHT, STEM_RANGE_M = 1.0 / 15.0, (0.01, 0.08)
# Bare twigs hold a fifth of the snow that a crown in leaf or needle holds (estimate: it lies on a tenth to a quarter of
# the area). [-]
BARE_CATCH = 0.2
# How light_need marks leaves that rest.
RESTING_NEEDS = 0.5
WATERING_HOURS = {
    "daily": (7.0,),
    "twice-daily": (7.0, 17.0),
    "every-2-days": (7.0,),
    "every-3-days": (7.0,),
    "rain-only": (),
}
WATERING_EVERY_DAYS = {"daily": 1, "twice-daily": 1, "every-2-days": 2, "every-3-days": 3, "rain-only": 0}


@dataclass(frozen=True)
class Columns:
    """
    Modifiers of each column, arrays (hour, column) unless said otherwise; meanings and units as measures.catalogue.

    tree: index of the condition, (column,). place: index of the place.
    base_height_m: of the pot's base; NaN where the place's own height counts. refill, hold_water: as 0 and 1.
    """

    tree: NDArray[np.int64]
    place: NDArray[np.int64]
    light: Array
    wind: Array
    rain: Array
    sky_cover: Array
    air_lift_c: Array
    vpd: Array
    wall_sun: Array
    wall_exchange: Array
    top_exchange: Array
    on_ground: Array
    in_ground: Array
    base_height_m: Array
    refill: Array
    hold_water: Array
    anchorage_floor: Array
    topple: Array
    bark_sun: Array
    crown_snow: Array

    def __len__(self) -> int:
        return int(self.tree.size)

    def select(self, index: NDArray[np.int64]) -> "Columns":
        """The columns at these positions."""
        return Columns(**{field.name: getattr(self, field.name)[..., index] for field in fields(self)})

    def span(self, part: slice) -> "Columns":
        """The columns in a part of their hours."""
        hourly = {field.name: getattr(self, field.name)[part] for field in fields(self) if field.name != "tree"}
        return Columns(tree=self.tree, **hourly)


NEUTRAL = {
    "light": 1.0,
    "wind": 1.0,
    "rain": 1.0,
    "sky_cover": 0.0,
    "air_lift_c": 0.0,
    "vpd": 1.0,
    "wall_sun": 1.0,
    "wall_exchange": 1.0,
    "top_exchange": 1.0,
    "on_ground": 0.0,
    "in_ground": 0.0,
    "base_height_m": np.nan,
    "refill": 0.0,
    "hold_water": 0.0,
    "anchorage_floor": 0.0,
    "topple": 1.0,
    "bark_sun": 1.0,
    "crown_snow": 1.0,
}


@dataclass(frozen=True)
class Traits:
    """
    What does not change with the hour, arrays (column,).

    in_leaf, evergreen: 0 or 1. leaf_area: [0-1]; crown_leaf_m2: one-sided leaf area now. [m²]
    dimension_m: of the organ along the wind. [m]; stomatal_mol, closed_mol: [mol m⁻² s⁻¹]; leaf_water_gm2: [g m⁻²]
    mid_crown_m, height_m: above the pot's base. [m]; frontal_m2: crown against the wind. [m²]
    volume_m3, wall_m2, top_m2, base_m2, depth_m, half_base_m: of the pot; wall_w_m2k: conductance of its wall. [W m⁻²
    K⁻¹]
    absorptance: of the wall. [-]; substrate numbers as care.tree.Substrate; capacity: water at capacity in this pot.
    [0-1]
    root_supply: [0-1]; needle: 0 or 1.
    tender: 1 in flush, whose leaves close badly, 0 when they have ripened. [0-1]
    held: hold of the roots, ties included. [0-1]; stem_m: thickness of the stem. [m]; bark_exposure: share of its sunny
    face that shade has left lately. [0-1]
    snow_catch: share of falling snow that the crown can hold. [0-1]
    forces: share of a day's warmth that moves its buds now, 0 where they rest or are open. [0-1]; forcing_base_c: what
    counts as warmth. [°C]
    light_need: 0 without leaves, 0.5 for leaves that rest in winter, else 1; keeps_in_rooms: 1 for kinds that winter in
    heated rooms.
    """

    in_leaf: Array
    leaf_area: Array
    crown_leaf_m2: Array
    dimension_m: Array
    stomatal_mol: Array
    closed_mol: Array
    leaf_water_gm2: Array
    mid_crown_m: Array
    height_m: Array
    frontal_m2: Array
    volume_m3: Array
    wall_m2: Array
    top_m2: Array
    base_m2: Array
    depth_m: Array
    half_base_m: Array
    wall_w_m2k: Array
    absorptance: Array
    porosity: Array
    capacity: Array
    available: Array
    solid_heat_mj: Array
    conductivity_dry: Array
    conductivity_wet: Array
    drain_hours: Array
    density_dry: Array
    root_supply: Array
    needle: Array
    watering_every_days: Array
    watering_twice: Array
    held: Array
    stem_m: Array
    bark_exposure: Array
    tender: Array
    snow_catch: Array
    forces: Array
    forcing_base_c: Array
    light_need: Array
    keeps_in_rooms: Array

    def select(self, index: NDArray[np.int64]) -> "Traits":
        """Traits of the trees at these positions."""
        return Traits(**{field.name: getattr(self, field.name)[index] for field in fields(self)})


def traits_of(conditions: Sequence[Condition]) -> Traits:
    """Traits of each condition's tree as it is now."""
    capacity = _capacities(conditions)
    rows = [_traits_row(condition, held) for condition, held in zip(conditions, capacity, strict=True)]
    return Traits(**{field.name: np.array([row[field.name] for row in rows]) for field in fields(Traits)})


def _capacities(conditions: Sequence[Condition]) -> list[float]:
    """Water that each tree's pot holds when it has drained. [0-1]"""
    substrates = [condition.tree.substrate for condition in conditions]
    curve = retention(
        np.array([substrate.porosity for substrate in substrates]),
        np.array([substrate.water_at_capacity for substrate in substrates]),
        np.array([substrate.reference_depth_cm for substrate in substrates]),
        np.array([substrate.depth_slope for substrate in substrates]),
    )
    held = container_capacity(curve, np.array([condition.tree.pot.depth_cm for condition in conditions]))
    return [float(value) for value in held]


def _traits_row(condition: Condition, capacity: float) -> dict[str, float]:
    tree, species, pot, substrate = condition.tree, condition.tree.species, condition.tree.pot, condition.tree.substrate
    length, width, depth = pot.length_cm / 100, pot.width_cm / 100, pot.depth_cm / 100
    crown = tree.crown_cm / 100
    height = tree.height_cm / 100
    leaf = species.leaf_width_cm / 100 * DIMENSION_OF_WIDTH
    tender = condition.tender
    closed = species.closed_mol + tender * (species.closed_flush_mol - species.closed_mol)
    light_need = RESTING_NEEDS if condition.stage in ("winter-hard", "hardening") else 1.0
    if not condition.in_leaf or condition.stage == "colouring":
        light_need = 0.0
    return {
        "in_leaf": float(condition.in_leaf),
        "leaf_area": condition.leaf_area,
        "crown_leaf_m2": np.pi / 4 * crown**2 * LEAF_AREA_INDEX * condition.leaf_area,
        "dimension_m": max(leaf, 0.001) if condition.in_leaf else BUD_DIMENSION_M,
        "stomatal_mol": species.stomatal_mol if condition.in_leaf else 0.0,
        "closed_mol": closed if condition.in_leaf else 0.0,
        "leaf_water_gm2": species.leaf_water_gm2,
        "mid_crown_m": depth + height * (1 - CROWN_DEPTH_SHARE / 2),
        "height_m": height,
        # Twigs alone show the wind about a quarter of what a leafy crown does (estimate).
        "frontal_m2": crown * height * CROWN_DEPTH_SHARE * (0.25 + 0.55 * condition.leaf_area),
        "volume_m3": pot.volume_l / 1000,
        "wall_m2": 2 * (length + width) * depth,
        "top_m2": length * width,
        "base_m2": length * width,
        "depth_m": depth,
        "half_base_m": min(length, width) / 2,
        "wall_w_m2k": pot.wall_conductivity / (pot.wall_mm / 1000),
        "absorptance": pot.absorptance,
        "porosity": substrate.porosity,
        "capacity": capacity,
        "available": substrate.available,
        "solid_heat_mj": substrate.solid_heat_mj,
        "conductivity_dry": substrate.conductivity_dry,
        "conductivity_wet": substrate.conductivity_wet,
        "drain_hours": substrate.drain_hours,
        "density_dry": substrate.density_dry,
        "root_supply": condition.root_supply,
        "needle": float(species.leaf_class == "needle"),
        "watering_every_days": float(WATERING_EVERY_DAYS[tree.watering]),
        "watering_twice": float(tree.watering == "twice-daily"),
        "held": condition.held,
        "stem_m": float(np.clip(height * STEM_OF_HEIGHT, *STEM_RANGE_M)),
        "bark_exposure": condition.bark_exposure,
        "tender": tender,
        "snow_catch": BARE_CATCH + (1.0 - BARE_CATCH) * (min(condition.leaf_area, 1.0) if condition.in_leaf else 0.0),
        "forces": condition.forces,
        "forcing_base_c": species.forcing_base_c,
        "light_need": light_need,
        "keeps_in_rooms": float(isfinite(species.chill_kh[0])),
    }
