"""One tree's call in plain values: what wording, planning and rounds need to know, and no arrays."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class SpellFacts:
    """
    One hazard of the call.

    starts, ends, peak_at: with the site's time zone; peak, limit: in unit; probability, damage,
    loss, loss_if: [0-1]; severity, certainty: CAP 1.2 words; organ: "leaves", "buds", "roots", "bark" or "tree".
    """

    hazard: str
    organ: str
    starts: datetime
    ends: datetime
    peak_at: datetime
    peak: float
    limit: float
    unit: str
    probability: float
    damage: float
    loss: float
    loss_if: float
    severity: str
    certainty: str


@dataclass(frozen=True)
class TreeCall:
    """
    A tree in danger.

    tree, place: ids; layer: a severed layer in its first year. spells: earliest first, at least one.
    measure: name of the chosen measure, "" when none is worth its work; in_force: it is in place already.
    why: the reason for it, in words.
    standing_loss, loss_with: expected without and with the measure. [0-1]; minutes: of work.
    act_by, undo_at: with the site's time zone; undo_at None while no end is in sight.
    harm, caution: what goes wrong if it is left on, and the safety word; "" for none.
    rejected, rejected_why: the strongest measure that was not taken, and the reason.
    """

    tree: str
    place: str
    layer: bool
    spells: tuple[SpellFacts, ...]
    measure: str
    in_force: bool
    why: str
    standing_loss: float
    loss_with: float
    minutes: float
    act_by: datetime
    undo_at: datetime | None
    harm: str
    caution: str
    rejected: str
    rejected_why: str

    @property
    def worst(self) -> SpellFacts:
        """The spell that would cost most."""
        return max(self.spells, key=lambda spell: spell.loss)
