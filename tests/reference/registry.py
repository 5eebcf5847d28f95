"""What a reference check is, and every check there is, chapter by chapter."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Trust = Literal["published", "recomputed", "from memory", "arithmetic", "other program"]

TRUST_MEANINGS: dict[Trust, str] = {
    "published": "the number was read in the source named",
    "recomputed": "the printed number was recalled, and the source's equation gives it again from the source's inputs",
    "from memory": "recalled, not read again: a lead, it decides nothing alone",
    "arithmetic": "follows from a definition; no publication prints it",
    "other program": "an independent program or formula, on the same inputs",
}


@dataclass(frozen=True)
class Check:
    """
    One number of carewatch against one number from outside.

    quantity: what is compared, with its unit.
    source: publication and example, or program.
    inputs: as the source states them.
    expected, tolerance: the outside number, and how far a right answer may lie from it.
    compute: what carewatch makes of the inputs.
    trust: how far the outside number itself can be trusted.
    """

    quantity: str
    source: str
    inputs: str
    expected: float
    tolerance: float
    compute: Callable[[], ArrayLike]
    trust: Trust = "published"

    @cached_property
    def got(self) -> float:
        """What carewatch makes of the inputs, one number. An answer of another size is a mistake in the check."""
        return float(np.asarray(self.compute(), dtype=np.float64).item())

    @property
    def passed(self) -> bool:
        """Whether the number lies within the tolerance; NaN never does."""
        return abs(self.got - self.expected) <= self.tolerance


@dataclass(frozen=True)
class Chapter:
    """
    The checks of one part of the physics.

    title: its name in the report.
    checks: in reading order.
    """

    title: str
    checks: tuple[Check, ...]


def one(value: float) -> NDArray[np.float64]:
    """A number as the array the kernels take."""
    return np.array(value, dtype=np.float64)


def worst(difference: ArrayLike) -> float:
    """The largest absolute difference; NaN if any state gave NaN."""
    return float(np.max(np.abs(np.asarray(difference, dtype=np.float64))))
