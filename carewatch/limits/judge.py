"""
From what a column feels to what it loses: dose, damage and loss of every hazard.

Each family of hazards has a module of its own, which declares its kinds and enters them on one sheet; a hazard more is
a module more in FAMILIES, its numbers in hazards.toml and Tolerance, and its words in alerts.wording.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from carewatch.exposure.columns import Columns
from carewatch.exposure.run import Exposure
from carewatch.forecast.weather import Array
from carewatch.limits import bark, chill, frost, heave, leaves, load, roots, shelter, storm
from carewatch.limits.damage import root_loss
from carewatch.limits.doses import HazardNumbers
from carewatch.limits.sheet import Case, Flags, Kind, Sheet
from carewatch.limits.tolerance import Tolerance

FAMILIES = (frost, chill, roots, heave, leaves, bark, storm, load, shelter)
KINDS: Mapping[str, Kind] = {kind.name: kind for family in FAMILIES for kind in family.KINDS}
HAZARDS = tuple(KINDS)
COLD = tuple(kind.name for kind in KINDS.values() if kind.cold)
UNITS = {kind.name: kind.unit for kind in KINDS.values()}
# The variable whose horizon ends what can be said of each hazard.
RESTS_ON = {kind.name: kind.rests_on for kind in KINDS.values()}


def is_cold(hazard: str, limit: float) -> bool:
    """Whether a hazard is the worse the lower its dose, given the limit that it passes."""
    kind = KINDS[hazard]
    return kind.cold or (kind.turns and limit < 0.0)


@dataclass(frozen=True)
class Judgement:
    """
    What the columns lose.

    dose: per hazard, (hour, member, column), in the hazard's unit; shown: what a thermometer or gauge would say, the
    same but for heat, where the dose counts the time as well; limit: per hazard, (column,), the 10 % dose, infinite
    where the hazard cannot act; beyond: per hazard, (hour, member, column), true where the limit is passed.
    damage: share of the organ, loss: what it costs the tree, per hazard, (member, column). [0-1]
    together: loss by all hazards; what one has taken of an organ the others cannot take again; None: their product.
    leading: per hazard, (column,), name of the organ that loses most, "" for the hazard's usual one.
    """

    dose: Mapping[str, Array]
    shown: Mapping[str, Array]
    limit: Mapping[str, Array]
    beyond: Mapping[str, Flags]
    damage: Mapping[str, Array]
    loss: Mapping[str, Array]
    together: Array | None = None
    leading: Mapping[str, NDArray[np.str_]] = field(default_factory=dict)

    def total(self) -> Array:
        """Loss by all hazards together, (member, column). [0-1]"""
        if self.together is not None:
            return self.together
        kept = np.ones_like(next(iter(self.loss.values())))
        for loss in self.loss.values():
            kept = kept * (1.0 - loss)
        return 1.0 - kept

    def organ(self, hazard: str, column: int) -> str:
        """Organ that loses most by a hazard where that is not its usual one, else ""."""
        leading = self.leading.get(hazard)
        return "" if leading is None else str(leading[column])


def judge(felt: Exposure, limits: Tolerance, columns: Columns, numbers: HazardNumbers) -> Judgement:
    """Dose, damage and loss of each column; limits belong to the columns, one row each."""
    hours, members, count = felt.tissue_c.shape
    sheet = Sheet((hours, members, count))
    case = Case(felt, limits, columns, numbers, np.searchsorted(felt.day, felt.day, side="left"))
    for family in FAMILIES:
        family.judge(case, sheet)
    by_leaves = (1.0 - sheet.leaves_kept) * limits.leaf_weight
    by_roots = root_loss(1.0 - sheet.roots_kept, limits.root_supply, numbers.roots_spare, limits.roots_lost)
    together = 1.0 - (1.0 - by_leaves) * (1.0 - by_roots) * sheet.rest_kept
    return Judgement(
        dose=sheet.dose,
        shown=sheet.shown,
        limit=sheet.limit,
        beyond=sheet.beyond,
        damage=sheet.hurt,
        loss=sheet.loss,
        together=together,
        leading=sheet.leading,
    )
