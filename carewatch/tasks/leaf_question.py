"""A tree whose leaves could tell what its roots bring, as a plain value for those who ask."""

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class LeafQuestion:
    """
    A tree whose leaves could tell what its roots bring.

    work: that cut its roots, and on: when. hot_on: the last hot day since, None: there was none lately.
    supply: what its roots bring by the table. [0-1] once_until: last day of the question that the work itself raises.
    """

    tree: str
    place: str
    work: str
    on: date
    hot_on: date | None
    supply: float
    once_until: date
