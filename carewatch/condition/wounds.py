"""Fresh cuts, with and without paste, and bark that a cut or stripping has left without its shade."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from carewatch.care.log import Entry
from carewatch.condition.chill import growing_degree_days
from carewatch.condition.leaf_area import CUTS_WOOD
from carewatch.condition.lived import Lived
from carewatch.condition.recovery import Opened
from carewatch.condition.stage import FLUSHING, GROWTH_BASE_C, MATURE, Stage

# A cut is freshest for two days and answers less to frost from then on (Penn State Extension: recently pruned fruit
# trees are most sensitive within 48 hours, and less and less over two weeks); three weeks to the end, because small
# trees in pots close more slowly (estimate). [d]
FRESHEST_DAYS = 2
FRESH_DAYS = 21
# The cut of a branch of which the log says nothing, and the least that any cut opens (estimate). [0-1]
USUAL_PRUNE, LEAST_CUT = 0.5, 0.25
# Paste has a skin and bears rain after a day at 10 °C or two days at 5 °C, and never sets below 3 °C (common practice).
SETS_FROM_C, SETS_SOON_C = 3.0, 10.0
SETS_DAYS, SETS_SOON_DAYS = 2, 1
# Half of the crown taken away lays the stem's bark bare; less in proportion (estimate). [-]
BARES = 2.0
# Bark is used to the sun after one season of growth, 1,500 °C d above 5 °C from spring to September in central Europe,
# and in any case after a year (common practice: one season). [°C d], [d]
BARK_THETA = 1500.0
BARK_DAYS = 365


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


def wounds_of(log: Sequence[Entry], lived: Lived) -> Wounds:
    """Fresh cuts of a tree today; log: its entries, oldest first."""
    fresh, open_kept, sealed_kept = 0.0, 1.0, 1.0
    for position, entry in enumerate(log):
        days = (lived.today - entry.at.date()).days
        if entry.work not in CUTS_WOOD or not 0 <= days < FRESH_DAYS:
            continue
        usual = USUAL_PRUNE if entry.work == "hard-prune" else 0.0
        size = max(LEAST_CUT, usual if entry.removed is None else entry.removed)
        fresh = max(fresh, min(1.0, (FRESH_DAYS - days) / (FRESH_DAYS - FRESHEST_DAYS)))
        if any(_set(day, lived) for day in _pasted(entry, log[position + 1 :])):
            sealed_kept *= 1.0 - size
        else:
            open_kept *= 1.0 - size
    return Wounds(fresh, 1.0 - open_kept, 1.0 - sealed_kept) if fresh > 0.0 else NO_WOUNDS


def bark_exposure(opened: Sequence[Opened], lived: Lived, stage: Stage) -> float:
    """
    Share of the stem's sunny face whose shade was taken and which is not used to the sun yet. [0-1]

    Stripped leaves give the shade back as they grow; cut wood does not, but the bark gets used to it.
    """
    bare = 0.0
    for work in opened:
        if work.effect.name in CUTS_WOOD:
            start = min(1.0, BARES * (1.0 - work.effect.leaf_area))
            bare = max(bare, start * (1.0 - _hardened(work, lived, stage)))
        elif work.effect.name.startswith("defoliate"):
            bare = max(bare, min(1.0, BARES * (1.0 - work.leaf_area)))
    return bare


def _hardened(work: Opened, lived: Lived, stage: Stage) -> float:
    """How far bark has got used to the sun since a work. [0-1]"""
    if work.days >= BARK_DAYS:
        return 1.0
    index = lived.index(work.entry.at.date())
    growing = (stage.phases[index:] == FLUSHING) | (stage.phases[index:] == MATURE)
    warmth = np.where(growing, growing_degree_days(lived.mean_c[index:], GROWTH_BASE_C), 0.0)
    return min(1.0, float(warmth.sum()) / BARK_THETA)


def _pasted(cut: Entry, later: Sequence[Entry]) -> list[date]:
    """Days on which paste was put on a cut: at once, or by a sealing of that branch or of all."""
    seals = [entry for entry in later if entry.work == "seal" and entry.branch in (None, cut.branch)]
    return [cut.at.date()] * cut.paste + [entry.at.date() for entry in seals]


def _set(day: date, lived: Lived) -> bool:
    """Whether paste put on on a day has set by today."""
    days = (lived.today - day).days
    if days < SETS_SOON_DAYS:
        return False
    last = lived.index(day + timedelta(days=min(days, SETS_DAYS)))
    since = lived.mean_c[lived.index(day) : last + 1]
    if float(since.max()) < SETS_FROM_C:
        return False
    return days >= SETS_DAYS or float(since.mean()) >= SETS_SOON_C
