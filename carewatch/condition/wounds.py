"""Fresh cuts, with and without paste, and bark that a cut or stripping has left without its shade."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from carewatch.care.log import Entry
from carewatch.condition.chill import growing_degree_days
from carewatch.condition.leaf_area import CUTS_WOOD
from carewatch.condition.lived import Lived
from carewatch.condition.numbers import WoundNumbers
from carewatch.condition.recovery import Opened
from carewatch.condition.stage import FLUSHING, GROWTH_BASE_C, MATURE, Stage


@dataclass(frozen=True)
class Wounds:
    """
    Cuts in wood that frost can still reach, all of them together.

    fresh: 1 as cut, 0 when the rim bears what the wood does; of the freshest. open_size, sealed_size: of cuts without
    set paste and under it, against taking the whole crown. [0-1]
    """

    fresh: float
    open_size: float
    sealed_size: float


NO_WOUNDS = Wounds(0.0, 0.0, 0.0)


def wounds_of(log: Sequence[Entry], lived: Lived, numbers: WoundNumbers, usual_prune: float) -> Wounds:
    """
    Fresh cuts of a tree today.

    log: its entries, oldest first. usual_prune: share of the crown taken by a hard prune that does not say. [0-1]
    """
    fresh, open_kept, sealed_kept = 0.0, 1.0, 1.0
    for position, entry in enumerate(log):
        days = (lived.today - entry.at.date()).days
        if entry.work not in CUTS_WOOD or not 0 <= days < numbers.fresh_days:
            continue
        usual = usual_prune if entry.work == "hard-prune" else 0.0
        size = max(numbers.least_cut, usual if entry.removed is None else entry.removed)
        fading = (numbers.fresh_days - days) / (numbers.fresh_days - numbers.freshest_days)
        fresh = max(fresh, min(1.0, fading))
        if any(_set(day, lived, numbers) for day in _pasted(entry, log[position + 1 :])):
            sealed_kept *= 1.0 - size
        else:
            open_kept *= 1.0 - size
    return Wounds(fresh, 1.0 - open_kept, 1.0 - sealed_kept) if fresh > 0.0 else NO_WOUNDS


def bark_exposure(opened: Sequence[Opened], lived: Lived, stage: Stage, numbers: WoundNumbers) -> float:
    """
    Share of the stem's sunny face whose shade was taken and which is not used to the sun yet. [0-1]

    Stripped leaves give the shade back as they grow; cut wood does not, but the bark gets used to it.
    """
    bare = 0.0
    for work in opened:
        if work.effect.name in CUTS_WOOD:
            start = min(1.0, numbers.bares_factor * (1.0 - work.effect.leaf_area))
            bare = max(bare, start * (1.0 - _hardened(work, lived, stage, numbers)))
        elif work.effect.name.startswith("defoliate"):
            bare = max(bare, min(1.0, numbers.bares_factor * (1.0 - work.leaf_area)))
    return bare


def _hardened(work: Opened, lived: Lived, stage: Stage, numbers: WoundNumbers) -> float:
    """How far bark has got used to the sun since a work. [0-1]"""
    if work.days >= numbers.bark_days:
        return 1.0
    index = lived.index(work.entry.at.date())
    growing = (stage.phases[index:] == FLUSHING) | (stage.phases[index:] == MATURE)
    warmth = np.where(growing, growing_degree_days(lived.mean_c[index:], GROWTH_BASE_C), 0.0)
    return min(1.0, float(warmth.sum()) / numbers.bark_theta)


def _pasted(cut: Entry, later: Sequence[Entry]) -> list[date]:
    """Days on which paste was put on a cut: at once, or by a sealing of that branch or of all."""
    seals = [entry for entry in later if entry.work == "seal" and entry.branch in (None, cut.branch)]
    return [cut.at.date()] * cut.paste + [entry.at.date() for entry in seals]


def _set(day: date, lived: Lived, numbers: WoundNumbers) -> bool:
    """Whether paste put on on a day has set by today."""
    days = (lived.today - day).days
    if days < numbers.sets_soon_days:
        return False
    last = lived.index(day + timedelta(days=min(days, numbers.sets_days)))
    since = lived.mean_c[lived.index(day) : last + 1]
    if float(since.max()) < numbers.sets_from_c:
        return False
    return days >= numbers.sets_days or float(since.mean()) >= numbers.sets_soon_c
