"""Columns run through exposure and limits in blocks that fit the cache; of a block only what is asked is kept."""

from collections.abc import Iterator, Sequence
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

# Values (member x column) of one block: few enough for the cache, many enough to be worth a step of the hourly loop.
# Measured on a two-core x86 server with 51 members: 1000 to 2000 are best, 500 and 4000 take a fifth longer.
BLOCK_VALUES = 1024


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
    grounds: Grounds, columns: Columns, chosen: NDArray[np.int64] | None = None
) -> Iterator[tuple[int, Exposure, Judgement]]:
    """
    Exposure and judgement of the columns, block by block, each with the position of its first column.

    chosen: members to run per column, (member, column); None: all.
    """
    members = grounds.micro.air_2m_c.shape[1] if chosen is None else chosen.shape[0]
    size = max(1, BLOCK_VALUES // members)
    for start in range(0, len(columns), size):
        index = np.arange(start, min(start + size, len(columns)))
        part = columns.select(index)
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
            None if chosen is None else chosen[:, index],
        )
        yield start, felt, judge(felt, grounds.limits.select(part.tree), part, grounds.hazards)
