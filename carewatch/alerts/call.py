"""One tree's call in plain values: what wording, planning and rounds need to know, and no arrays."""

from dataclasses import dataclass
from datetime import datetime

from carewatch.measures.catalogue import parts_of

# A measure is for a hazard if it saves at least so much of what that hazard would cost: what it does to others by the
# way is no reason to take it or to leave it on. Judged. [0-1]
EASED = 0.2
# The least loss that is spoken of: the lower end of the class "Minor" (design). [0-1]
LEAST_LOSS = 0.02
# Leaves under a cloth grow used to shade day by day: sun alone keeps it on only from the class "Moderate" on, for
# waiting makes its end no better. Judged. [0-1]
WEANED_LOSS = 0.10
CLOTH = "shade-cloth"
# What saves less of a tree than this changes nothing (as measures.choice has it of measures). [0-1]
NO_DIFFERENCE = 0.002


@dataclass(frozen=True)
class SpellFacts:
    """
    One hazard of the call.

    starts, ends, peak_at: with the site's time zone; peak, limit: in unit; probability, damage,
    loss, loss_if: [0-1]; severity, certainty: CAP 1.2 words; organ: "leaves", "buds", "roots", "bark" or "tree".
    eased: share of what its hazard would cost that the chosen measure saves. [0-1] frozen: leaves dry because the root
    ball is frozen in those hours, and takes no water. spared: what is in force, chosen or not, keeps so much of the
    tree from its hazard: that would be lost more if all of it were undone now; below zero where it harms. [-1-1]
    unused: of sun: leaves are not used to it, and no work on the tree forbids it.
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
    eased: float = 1.0
    frozen: bool = False
    spared: float = 0.0
    unused: bool = False


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
    measure may be several taken together, "fleece+plunge" (measures.catalogue.parts_of); in_force: all of them are.
    gain, cost: worth times the loss that the measure saves, and its work in the same coin; where none is taken, of what
    the grower was asked for, else of the best there is. factor: how many times its cost the gain must be to call for
    it: 1 at the last chance, else 2. [-]
    displaced_measure, displaced_by, displaced_why: what it would have got if there were enough, the trees that get it
    instead, and why, in words after which a full stop fits; "" and none where nothing was short.
    shade_days: days in shade before it goes back into the sun when it is brought out again; 0: none.
    begun: parts of the measure that are in force already. stands_under: what else is in force and answers the danger,
    where more or something else is asked for; spells and standing_loss are then those that it leaves; "" for nothing.
    shut_at: hour at which what is opened by day is shut again, with the site's time zone; None where nothing is opened.
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
    gain: float = 0.0
    cost: float = 0.0
    factor: float = 1.0
    displaced_measure: str = ""
    displaced_by: tuple[str, ...] = ()
    displaced_why: str = ""
    shade_days: int = 0
    begun: tuple[str, ...] = ()
    stands_under: str = ""
    shut_at: datetime | None = None

    @property
    def left(self) -> str:
        """What of the measure is still to be done: what is in force already is not asked for again."""
        return "+".join(part for part in parts_of(self.measure) if part not in self.begun) or self.measure

    @property
    def met(self) -> tuple[SpellFacts, ...]:
        """The spells that the measure is for; all of them where there is none, or it is for none in particular."""
        found = tuple(spell for spell in self.spells if self.meets(spell))
        return found or self.spells

    def meets(self, spell: SpellFacts) -> bool:
        """Whether the measure is for this spell."""
        return bool(self.measure) and spell.eased >= EASED

    @property
    def worst(self) -> SpellFacts:
        """The spell that would cost most among those that the measure is for."""
        return max(self.met, key=lambda spell: spell.loss)

    @property
    def holds(self) -> bool:
        """Whether what is in force is still needed: without it the tree would lose as much as is spoken of."""
        return self.in_force and sum(spell.loss for spell in self.met) >= min(
            least_loss(spell, self.measure) for spell in self.met
        )


def least_loss(spell: SpellFacts, measure: str) -> float:
    """The least that a spell must cost to keep a measure on that is in force. [0-1]"""
    return WEANED_LOSS if spell.hazard == "sun" and parts_of(measure) == (CLOTH,) else LEAST_LOSS
