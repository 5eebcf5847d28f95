"""What the past has probably killed of a tree, organ by organ, as it is carried along with its root ball."""

from dataclasses import dataclass, fields

import numpy as np

from carewatch.forecast.weather import Array


@dataclass(frozen=True)
class Toll:
    """
    Shares that the coldest day so far took, arrays (1, tree).

    leaves, buds: by frost; roots: by freezing. [0-1]
    leaves_since, buds_since, roots_since: local day on which it began, counted from 1970-01-01; 0 for none. [d]
    """

    leaves: Array
    buds: Array
    roots: Array
    leaves_since: Array
    buds_since: Array
    roots_since: Array


def no_toll(trees: int) -> Toll:
    """Nothing was taken of so many trees."""
    return Toll(**{field.name: np.zeros((1, trees)) for field in fields(Toll)})
