"""Columns run through exposure and limits in blocks that fit the cache; of a block only what is asked is kept."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carewatch.exposure.columns import Columns, Traits
from carewatch.exposure.march import RootState
from carewatch.exposure.run import Exposure, expose
from carewatch.forecast.weather import Times
from carewatch.limits.doses import HazardNumbers
from carewatch.limits.judge import Judgement, judge
from carewatch.limits.tolerance import Tolerance
from carewatch.place.microclimate import Microclimate
from carewatch.place.spot import Place

# Values (member x column) of one block: many enough to be worth a step of the hourly loop, few enough for the memory
# of a small server (60 MB). Measured on a two-core x86 server.
BLOCK_VALUES = 3_072


@dataclass(frozen=True)
class Grounds:
    """
    What every run of columns shares.

    times, local: stamps, UTC and site clock. micro: of `places`. traits, limits: one row per tree.
    roots: state at the first hour, one member, one column per tree.
    """

    times: Times
    local: Times
    micro: Microclimate
    places: Sequence[Place]
    traits: Traits
    limits: Tolerance
    roots: RootState
    hazards: HazardNumbers


def run_blocks(
    grounds: Grounds,
    columns: Columns,
    read: Callable[[int, Exposure, Judgement], None],
    chosen: NDArray[np.int64] | None = None,
) -> None:
    """
    Run the columns block by block; `read` takes what is wanted of each: position of its first column, exposure, result.

    A block is given up when it has been read: two of them alive would double the memory.
    chosen: members to run per column, (member, column); None: all.
    """
    members = grounds.micro.air_2m_c.shape[1] if chosen is None else chosen.shape[0]
    size = max(1, BLOCK_VALUES // members)
    for start in range(0, len(columns), size):
        index = np.arange(start, min(start + size, len(columns)))
        read(start, *_run(grounds, columns.select(index), None if chosen is None else chosen[:, index], False))


def run_whole(grounds: Grounds, column: Columns) -> tuple[Exposure, Judgement]:
    """Exposure with all that led to it, and judgement, of few columns."""
    return _run(grounds, column, None, True)


def _run(grounds: Grounds, part: Columns, chosen: NDArray[np.int64] | None, keep: bool) -> tuple[Exposure, Judgement]:
    members = grounds.micro.air_2m_c.shape[1] if chosen is None else chosen.shape[0]
    felt, _ = expose(
        grounds.times,
        grounds.local,
        grounds.micro,
        grounds.places,
        part,
        grounds.traits.select(part.tree),
        grounds.hazards.supply_cap_mmol,
        grounds.hazards.uptake_c,
        grounds.hazards.soak_q10,
        grounds.roots.select(part.tree).spread(members),
        chosen,
        keep,
    )
    return felt, judge(felt, grounds.limits.select(part.tree), part, grounds.hazards)
