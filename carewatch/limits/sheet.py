"""What every hazard's module is written with: the case that is judged, the sheet it writes on, and what a hazard is."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from carewatch.exposure.columns import Columns
from carewatch.exposure.run import Exposure
from carewatch.forecast.weather import Array
from carewatch.limits.doses import HazardNumbers
from carewatch.limits.tolerance import Tolerance

Flags = NDArray[np.bool_]
Index = NDArray[np.int64]

# Growth of a running sum in an hour that counts, in its own unit.
GROWS = 0.005
# Limit of a hazard that cannot act: no dose passes it.
NEVER = np.inf
# Nothing anywhere; whole arrays are views of these.
_ZERO, _FALSE = np.zeros(()), np.zeros((), dtype=np.bool_)


@dataclass(frozen=True)
class Kind:
    """
    A hazard by its name.

    unit: of dose and limit. organ: what it hurts first: "foliage" (leaves, or buds on a bare tree), "leaves", "roots",
    "bark" or "tree". cold: the lower the worse; turns: cold only where its limit lies below zero.
    summed: its dose is a running sum, a spell is the hours in which it still grows.
    rests_on: the forecast's variable whose horizon ends what can be said of it.
    """

    name: str
    unit: str
    organ: str
    cold: bool = False
    turns: bool = False
    summed: bool = False
    rests_on: str = "air_temp_c"


@dataclass(frozen=True)
class Case:
    """What is judged: columns, what they felt, what each can stand; day_start: index of each hour's first."""

    felt: Exposure
    limits: Tolerance
    columns: Columns
    numbers: HazardNumbers
    day_start: Index


@dataclass
class Sheet:
    """
    Entries per hazard as they are worked out, and what of leaves, roots and the rest all hazards together leave.

    Meanings as limits.judge.Judgement. leading: per hazard, (column,), the organ that loses most where that is not the
    hazard's usual one. leaves_kept, roots_kept, rest_kept: (member, column). [0-1]
    """

    shape: tuple[int, int, int]
    dose: dict[str, Array] = field(default_factory=dict)
    shown: dict[str, Array] = field(default_factory=dict)
    limit: dict[str, Array] = field(default_factory=dict)
    beyond: dict[str, Flags] = field(default_factory=dict)
    hurt: dict[str, Array] = field(default_factory=dict)
    loss: dict[str, Array] = field(default_factory=dict)
    leading: dict[str, NDArray[np.str_]] = field(default_factory=dict)
    leaves_kept: Array = field(init=False)
    roots_kept: Array = field(init=False)
    rest_kept: Array = field(init=False)

    def __post_init__(self) -> None:
        self.leaves_kept, self.roots_kept, self.rest_kept = (np.ones(self.shape[1:]) for _ in range(3))

    def enter(
        self,
        kind: Kind,
        dose: Array,
        limit: Array,
        hurt: Array,
        loss: Array,
        shown: Array | None = None,
        beyond: Flags | None = None,
    ) -> None:
        """
        Write down one hazard.

        shown: where a gauge says something else than the dose; beyond: where it is more than dose against limit.
        """
        if beyond is None:
            beyond = (dose < limit) if kind.cold else (dose > limit)
        if kind.summed:
            # A sum stays high until it is begun anew; the spell is the hours in which it still grows.
            beyond = beyond & (np.diff(dose, axis=0, prepend=0.0) > GROWS)
        self._write(kind, dose, dose if shown is None else shown, limit, beyond, hurt, loss)

    def quiet(self, kind: Kind) -> None:
        """Write down that a hazard can act on none of the columns; it costs nothing."""
        nothing = np.broadcast_to(_ZERO, self.shape)
        self._write(
            kind,
            nothing,
            nothing,
            np.full(self.shape[2], NEVER),
            np.broadcast_to(_FALSE, self.shape),
            nothing[0],
            nothing[0],
        )

    def enter_some(
        self,
        kind: Kind,
        index: Index,
        dose: Array,
        limit: Array,
        hurt: Array,
        loss: Array,
        shown: Array,
        beyond: Flags,
    ) -> None:
        """Write down a hazard that can act only on the columns at these positions; the arrays have those columns."""

        def spread(values: Array) -> Array:
            whole = np.zeros((*values.shape[:-1], self.shape[2]))
            whole[..., index] = values
            return whole

        limits = np.full(self.shape[2], NEVER)
        limits[index] = limit
        flags = np.zeros(self.shape, dtype=np.bool_)
        flags[..., index] = beyond
        whole = spread(dose)
        self._write(kind, whole, whole if shown is dose else spread(shown), limits, flags, spread(hurt), spread(loss))

    def _write(
        self, kind: Kind, dose: Array, shown: Array, limit: Array, beyond: Flags, hurt: Array, loss: Array
    ) -> None:
        self.dose[kind.name], self.shown[kind.name], self.limit[kind.name] = dose, shown, limit
        self.beyond[kind.name], self.hurt[kind.name], self.loss[kind.name] = beyond, hurt, loss
