"""What a protective measure does to the physics around a tree, what it costs, and when it acts."""

from dataclasses import dataclass

# Between the names of measures that are taken together, and between "move" and the place it leads to.
TOGETHER = "+"
PLACE = ":"


@dataclass(frozen=True)
class Measure:
    """
    One row of measures.toml.

    hazards: names of hazards it can relieve.
    hours: "night" (from two hours before sunset to `off_at_h` local time), "day" (from 9 to two hours before sunset) or
    "spell" (all of it).
    off_from_h: what acts for a whole spell is not undone earlier in the day, by the clock on the wall. [h]
    minutes_round, minutes_pot, minutes_per_10kg: work. [min]
    light: share of the light that passes; wind: share of the wind that passes; rain: share of rain that passes. [0-1]
    sky_cover: share of the open sky's longwave that a cover near air temperature replaces. [0-1]
    air_lift_c: warming of the air under the cover at night by heat from the floor. [K]
    vpd: factor on the vapour pressure deficit. [0-1]
    wall_sun: share of the sun that still reaches the pot's wall. [0-1]
    wall_exchange: factor on the heat exchange of wall and top with the air. [0-1]
    top_exchange: further factor on the exchange through the substrate's surface. [0-1]
    base_on_ground, wall_in_ground: the pot stands on, or is sunk in, the ground.
    height_m: new height of the pot's base, or None. [m]
    refill: raises the pot's water to capacity when it begins.
    hold_water: no watering while it acts.
    anchorage_floor: anchorage that ties lend. [0-1]; topple: factor on the overturning moment. [0-1]
    bark_sun: share of the sun that still reaches the stem's bark. [0-1]
    crown_snow: share of the snow that stays on the crown. [0-1]
    carries: how often the tree is handled (there and back). [-]
    stock: "fleece", "net", "tent", "mulch" or "" for what it needs.
    gust_limit_ms: above this gust it is not to be used. [m s⁻¹] or None
    goes_with: names of measures that it is sensibly taken together with, where one alone does not suffice.
    harm: what goes wrong if it is left on; caution: the safety word that goes with it ("" for none).
    """

    name: str
    hazards: tuple[str, ...]
    hours: str
    off_at_h: float
    off_from_h: float
    minutes_round: float
    minutes_pot: float
    minutes_per_10kg: float
    light: float
    wind: float
    rain: float
    sky_cover: float
    air_lift_c: float
    vpd: float
    wall_sun: float
    wall_exchange: float
    top_exchange: float
    base_on_ground: bool
    wall_in_ground: bool
    height_m: float | None
    refill: bool
    hold_water: bool
    anchorage_floor: float
    topple: float
    bark_sun: float
    crown_snow: float
    carries: int
    stock: str
    gust_limit_ms: float | None
    goes_with: tuple[str, ...]
    harm: str
    caution: str
    source: str


def parts_of(name: str) -> tuple[str, ...]:
    """The measures that a name stands for: "fleece+plunge" is fleece and plunge, "move:shed" itself, "" nothing."""
    return tuple(part for part in name.split(TOGETHER) if part)


def row_name(part: str) -> str:
    """Name of the row of the catalogue for one measure: "move" for "move:shed", else the name itself."""
    return part.partition(PLACE)[0]
