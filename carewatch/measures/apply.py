"""Measures laid over columns: which modifiers act in which hours."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carewatch.condition.now import Condition
from carewatch.exposure.columns import NEUTRAL, Columns
from carewatch.measures.catalogue import Measure
from carewatch.place.enclosure import can_open, opened
from carewatch.place.spot import Place

# Each enclosed place is simulated a second time with its lights up; the twin's id ends with this.
OPENED = ":opened"

# Modifiers of which a measure leaves a share.
FACTORS = (
    "light",
    "wind",
    "rain",
    "vpd",
    "wall_sun",
    "wall_exchange",
    "top_exchange",
    "topple",
    "bark_sun",
    "crown_snow",
)

# Destination of a measure that moves nothing.
NEUTRAL_LAID = -1


@dataclass(frozen=True)
class Laid:
    """A measure on one tree: acts in these hours, (hour,); destination: index of the place of a move, or -1."""

    measure: Measure
    acts: NDArray[np.bool_]
    destination: int = NEUTRAL_LAID


def with_opened(places: Sequence[Place]) -> tuple[Place, ...]:
    """The places and, after them, the opened twin of each that is opened for the trees."""
    from_closed = [opened(place, place.id + OPENED) for place in places if can_open(place)]
    return (*places, *from_closed)


def columns_of(
    trees: Sequence[int],
    laid: Sequence[Sequence[Laid]],
    conditions: Sequence[Condition],
    places: Sequence[Place],
    hours: int,
) -> Columns:
    """
    One column per entry of `trees` (indexes of conditions), each under its own measures.

    laid: per column, what acts besides nothing; hours: number of hours.
    """
    count = len(trees)
    index = {place.id: position for position, place in enumerate(places)}
    values = {name: np.full((hours, count), neutral) for name, neutral in NEUTRAL.items()}
    place = np.empty((hours, count), dtype=np.int64)
    for column, (tree, measures) in enumerate(zip(trees, laid, strict=True)):
        place[:, column] = index[conditions[tree].place]
        for item in measures:
            _lay(values, place, column, item, index, places)
    return Columns(tree=np.array(trees, dtype=np.int64), place=place, **values)


def lay_over(columns: Columns, laid: Sequence[Sequence[Laid]], places: Sequence[Place]) -> Columns:
    """The columns, each under its measures more; they are copied, not changed."""
    index = {place.id: position for position, place in enumerate(places)}
    values = {name: getattr(columns, name).copy() for name in NEUTRAL}
    place = columns.place.copy()
    for column, items in enumerate(laid):
        for item in items:
            _lay(values, place, column, item, index, places)
    return Columns(tree=columns.tree, place=place, **values)


def _lay(
    values: Mapping[str, NDArray[np.float64]],
    place: NDArray[np.int64],
    column: int,
    item: Laid,
    index: Mapping[str, int],
    places: Sequence[Place],
) -> None:
    measure, acts = item.measure, item.acts
    for name in FACTORS:
        values[name][acts, column] *= getattr(measure, name)
    values["sky_cover"][acts, column] = 1 - (1 - values["sky_cover"][acts, column]) * (1 - measure.sky_cover)
    values["air_lift_c"][acts, column] += measure.air_lift_c
    for name, flag in (("on_ground", measure.base_on_ground), ("in_ground", measure.wall_in_ground)):
        if flag:
            values[name][acts, column] = 1.0
    if measure.height_m is not None:
        values["base_height_m"][acts, column] = measure.height_m
    values["anchorage_floor"][acts, column] = np.maximum(
        values["anchorage_floor"][acts, column], measure.anchorage_floor
    )
    if measure.hold_water:
        values["hold_water"][acts, column] = 1.0
    if measure.refill:
        values["refill"][acts & ~np.concatenate([[False], acts[:-1]]), column] = 1.0
    if item.destination >= 0:
        place[acts, column] = item.destination
    if measure.name == "ventilate":
        for hour in np.nonzero(acts)[0]:
            twin = index.get(places[place[hour, column]].id + OPENED)
            if twin is not None:
                place[hour, column] = twin
