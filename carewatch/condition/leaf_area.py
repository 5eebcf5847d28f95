"""Leaves as a state of their own: what the season gives, what was stripped, cut or lost, and what has grown again."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from carewatch.care.log import Entry
from carewatch.care.species import Species
from carewatch.care.works import WorkEffect
from carewatch.condition.chill import growing_degree_days
from carewatch.condition.lived import Lived
from carewatch.condition.numbers import LeafAreaNumbers
from carewatch.condition.stage import COLOURING, DORMANT, FLUSHING, GROWTH_BASE_C, MATURE, Stage, is_leaf_loss

CUTS_WOOD = ("hard-prune", "cut-off")
SIGNS_OF_GROWTH = ("leaf-out", "new-growth")


@dataclass(frozen=True)
class Regrowth:
    """
    share: of the leaves, against a tree that nothing was taken from. [0-1]; tender: new ones are still soft.

    unburnt: share that is not among those seen burnt or dried, or has grown again. [0-1]
    """

    share: float
    tender: bool
    unburnt: float = 1.0


def regrown(
    effect: WorkEffect, index: int, species: Species, lived: Lived, stage: Stage, log: Sequence[Entry]
) -> Regrowth:
    """
    What a work left of the leaves and what has grown since.

    index: day of the work in the record; log: entries of the tree, of which seen new growth says that it has begun.
    """
    if effect.leaf_area >= 1.0:
        return Regrowth(1.0, False)
    # Cut wood has to be built again, and evergreens keep no spare set of buds; leaves alone are new with the spring.
    by_spring = effect.name not in CUTS_WOOD and not species.evergreen
    return _regrown(
        effect.leaf_area,
        (effect.leaf_regrow_start, effect.leaf_regrow_full),
        effect.second_flush_days,
        index,
        by_spring,
        lived,
        stage,
        log,
    )


def lost(
    species: Species,
    lived: Lived,
    stage: Stage,
    log: Sequence[Entry],
    stripped: WorkEffect,
    numbers: LeafAreaNumbers,
) -> Regrowth:
    """
    What is left, and grown again, after leaves were seen scorched or falling in season.

    stripped: the row of a full defoliation, like which lost leaves come back.
    """
    share, tender, unburnt = 1.0, False, 1.0
    for entry in log:
        day = entry.at.date()
        gone = entry.work == "observe" and is_leaf_loss(entry.seen, day, lived, species)
        burnt = entry.work == "observe" and entry.seen == "scorch"
        if (gone or burnt) and lived.days[0].astype(date) <= day <= lived.today:
            left = 0.0 if gone else numbers.scorched_left if entry.removed is None else 1.0 - entry.removed
            span, days = (stripped.leaf_regrow_start, stripped.leaf_regrow_full), stripped.second_flush_days
            found = _regrown(left, span, days, lived.index(day), not species.evergreen, lived, stage, log)
            share *= found.share
            unburnt *= found.share if burnt else 1.0
            # A tree that opens a few new leaves among the old ones is not as soft as one in its second flush.
            tender = tender or (gone and found.tender)
    return Regrowth(share, tender, unburnt)


def leaf_area(species: Species, stage: Stage, shares: Sequence[float], numbers: LeafAreaNumbers) -> float:
    """
    Share of the full crown in leaf today. [0-1]

    shares: what each work and each loss left and has grown again. Evergreens keep their leaves in winter.
    Of a tree in leaf it is the mean over the phases with leaves that it may be in: no crown fills in a night.
    """
    season = 1.0 if species.evergreen else _in_season(stage, numbers)
    return season * float(np.prod(np.array([1.0, *shares])))


def _in_season(stage: Stage, numbers: LeafAreaNumbers) -> float:
    # In the order of PHASES; without leaves 0.
    worn = (0.0, 0.0, numbers.flush_area, 1.0, numbers.colouring_area)
    own = worn[int(stage.phases[-1])]
    leafy = [(chance, share) for chance, share in zip(stage.chances, worn, strict=True) if share]
    total = sum(chance for chance, _ in leafy)
    return sum(chance * share for chance, share in leafy) / total if own > 0.0 < total else own


def _regrown(
    left: float,
    span: tuple[float, float],
    tender_days: int,
    index: int,
    by_spring: bool,
    lived: Lived,
    stage: Stage,
    log: Sequence[Entry],
) -> Regrowth:
    """
    Law of regrowth: nothing before the first sum of warmth, nine tenths of what is missing at the second.

    by_spring: a new set of leaves comes with the next spring in any case.
    """
    phases = stage.phases[index:]
    rested = bool((phases == DORMANT).any())
    if by_spring and rested:
        return Regrowth(1.0, False)
    start, full = span
    # Warmth brings leaves only while the tree is in growth: what was taken in autumn waits for spring.
    growing = (phases == FLUSHING) | (phases == MATURE)
    warmth = np.cumsum(np.where(growing, growing_degree_days(lived.mean_c[index:], GROWTH_BASE_C), 0.0))
    seen = [lived.index(entry.at.date()) - index for entry in log if entry.seen in SIGNS_OF_GROWTH]
    opened = min((at for at in seen if 0 < at < warmth.size), default=None)
    if opened is not None and warmth[opened] < start:
        # New leaves were seen before the model had them: it goes on from there.
        warmth[opened:] += start - warmth[opened]
    grown = float(np.clip(0.9 * (warmth[-1] - start) / max(full - start, 1.0), 0.0, 1.0))
    begun = int(np.searchsorted(warmth, start, side="left"))
    since = warmth.size - begun if begun < warmth.size else -1
    # Softness is a matter of leaves: a hard-pruned tree that rested through a winter opens ordinary spring leaves.
    tender = 0 <= since <= tender_days and not rested and int(phases[-1]) != COLOURING
    return Regrowth(left + (1.0 - left) * grown, tender)
