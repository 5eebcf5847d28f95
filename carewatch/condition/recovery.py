"""What works opened and how far it has closed: root supply, anchorage, young roots, leaves."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from carewatch.care.log import Entry
from carewatch.care.species import Species
from carewatch.care.works import WorkEffect
from carewatch.condition.leaf_area import regrown
from carewatch.condition.leaves import Verdict, verdict
from carewatch.condition.lived import Lived
from carewatch.condition.numbers import LeafNumbers, RecoveryNumbers
from carewatch.condition.season import before_autumn
from carewatch.condition.stage import FLUSHING, Stage
from carewatch.forecast.weather import Array

# Works that cut roots: only of these do leaves tell. What grafts and bends carry is not asked of them.
CUTS_ROOTS = ("sever-layer", "root-prune", "repot", "lift")


@dataclass(frozen=True)
class Opened:
    """
    One work on one tree and what is left of its deficits today.

    root_supply, anchorage, young_roots, leaf_area: today. [0-1]; theta: thermal time since the work. [°C d]
    second_flush: its new leaves are still tender.
    leaves: what was seen of the leaves since and has corrected root_supply, oldest first.
    """

    entry: Entry
    effect: WorkEffect
    days: int
    theta: float
    root_supply: float
    anchorage: float
    young_roots: float
    leaf_area: float
    second_flush: bool
    leaves: tuple[Verdict, ...] = ()


def effect_of(entry: Entry, works: Mapping[str, WorkEffect], needle: bool) -> WorkEffect | None:
    """The row of the works table that fits an entry, its shares set by what was removed; None for mere notes."""
    work, removed = entry.work, entry.removed
    if work == "sever-layer":
        return works[f"sever-layer.{entry.roots}.{'worked' if entry.roots_worked else 'undisturbed'}"]
    if work == "root-prune":
        share = 1 / 3 if removed is None else removed
        # Between the rows' own shares, which are a third, a half and seven tenths.
        row = "third" if share <= 0.42 else "half" if share <= 0.6 else "most"
        # A tree that loses the share r keeps (1-r)^1.3 of its supply: the fine roots go first (estimate).
        return replace(works[f"root-prune.{row}"], root_supply=(1 - share) ** 1.3, anchorage=1 - share)
    if work == "repot":
        return works["repot.combed" if entry.roots_worked else "repot.slipped"]
    if work == "defoliate":
        share = 1.0 if removed is None else removed
        # A crown with a tenth of its leaves left stands as a bare one does (judged).
        row = "full" if share >= 0.9 else "partial"
        return replace(works[f"defoliate.{row}"], leaf_area=1 - share)
    if work == "hard-prune":
        return works["hard-prune"] if removed is None else replace(works["hard-prune"], leaf_area=1 - removed)
    if work == "cut-off":
        return replace(works["cut-off"], leaf_area=1 - (removed or 0.0))
    if work == "lift":
        effect = works["lift.conifer" if needle else "lift.broadleaf"]
        # What is left works harder: a twentieth more than its share (estimate, as in the row itself).
        return effect if removed is None else replace(effect, root_supply=min(1.0, 1 - removed + 0.05))
    return works.get(work)


def root_theta(lived: Lived, stage: Stage, species: Species, numbers: RecoveryNumbers) -> Array:
    """Thermal time that each day gives to the roots, weighted by leaf state, shape (day,). [°C d]"""
    span = numbers.warmest_useful_c - species.root_base_c
    gain = np.clip(lived.root_c - species.root_base_c, 0.0, span)
    return np.where(lived.root_c > 0.0, gain, 0.0) * leaf_weights(stage.phases, species.evergreen)


def closed_share(start: float, theta: float, theta_scale: float, shape: float) -> float:
    """
    Share restored after thermal time theta: 1-(1-start)·exp(-(theta/theta_scale)^shape). [0-1]

    S-shaped for shape above 1: nothing much happens at first. Estimate, fitted to common practice.
    """
    return float(1.0 - (1.0 - start) * np.exp(-((theta / theta_scale) ** shape)))


def capped(share: float, days: int, caps: Sequence[tuple[int, float]], start: float) -> float:
    """Share held below the calendar caps that still run; a cap never lowers it under where it started."""
    for before, highest in caps:
        if days < before:
            return max(start, min(share, highest))
    return share


def opened_by(
    entry: Entry,
    effect: WorkEffect,
    lived: Lived,
    stage: Stage,
    species: Species,
    log: Sequence[Entry],
    thetas: Array,
    numbers: RecoveryNumbers,
) -> Opened:
    """
    What is left today of the deficits that one work opened.

    log: entries of the tree; thetas: thermal time of its roots per day, from root_theta. [°C d]
    """
    day = entry.at.date()
    index = lived.index(day)
    gains = thetas[index:]
    theta = float(gains.sum())
    days = (lived.today - day).days
    supply = closed_share(effect.root_supply, theta, effect.supply_theta, effect.supply_shape)
    anchorage = closed_share(effect.anchorage, theta, effect.anchor_theta, 2.0)
    anchorage = capped(anchorage, days, effect.anchor_caps, effect.anchorage)
    leaf = regrown(effect, index, species, lived, stage, log)
    young = _young(effect, index, lived, stage, gains, numbers.young_theta)
    return Opened(entry, effect, days, theta, supply, anchorage, young, leaf.share, leaf.tender)


def corrected(
    opened: Sequence[Opened],
    log: Sequence[Entry],
    lived: Lived,
    stage: Stage,
    species: Species,
    thetas: Array,
    numbers: LeafNumbers,
) -> list[Opened]:
    """
    The works with the root supply that leaves showed, from the day on which they were looked at.

    log: entries of the tree, oldest first; thetas: thermal time of its roots per day, from root_theta. [°C d]

    Each verdict multiplies the supply of the work that limited it most on that day, up to 1; what is then missing
    closes by the law of closed_share, under which a deficit that is rescaled once is rescaled alike on every later day.
    Without leaves, or with roots that suffice, leaves say nothing of roots.
    """
    scales = [1.0] * len(opened)
    seen: list[tuple[Verdict, ...]] = [()] * len(opened)
    for entry in log:
        found = verdict(entry, numbers)
        if found is None or not (species.evergreen or stage.phases[lived.index(found.on)] >= FLUSHING):
            continue
        # What each work that cut roots lacks on that day by the table alone.
        lacks = {
            position: 1.0 - _supply_on(found.on, work, lived, thetas)
            for position, work in enumerate(opened)
            if work.entry.work in CUTS_ROOTS and work.entry.at <= entry.at
        }
        most = max(lacks, key=lambda position: scales[position] * lacks[position], default=None)
        if most is None or scales[most] * lacks[most] <= 1.0 - numbers.roots_suffice:
            continue
        supply = min(1.0, found.factor * (1.0 - scales[most] * lacks[most]))
        scales[most] = (1.0 - supply) / lacks[most]
        seen[most] = (*seen[most], found)
    return [
        replace(work, root_supply=1.0 - scale * (1.0 - work.root_supply), leaves=verdicts) if verdicts else work
        for work, scale, verdicts in zip(opened, scales, seen, strict=True)
    ]


def _supply_on(day: date, work: Opened, lived: Lived, thetas: Array) -> float:
    """Supply of a work on a day by the table alone. [0-1]"""
    theta = float(thetas[lived.index(work.entry.at.date()) : lived.index(day) + 1].sum())
    effect = work.effect
    return closed_share(effect.root_supply, theta, effect.supply_theta, effect.supply_shape)


def _young(effect: WorkEffect, index: int, lived: Lived, stage: Stage, gains: Array, ripen_theta: float) -> float:
    """Share of roots that are still young: rises to its peak, then ripens from bud break to early September only."""
    days = lived.days.size - 1 - index
    if effect.young_roots_peak_days > 0:
        rise = min(1.0, days / effect.young_roots_peak_days)
        share = effect.young_roots + (effect.young_roots_peak - effect.young_roots) * rise
    else:
        share = max(effect.young_roots, effect.young_roots_peak)
    # Roots made after early September do not harden that year (Mityga & Lanphear 1971: young roots never did).
    in_time = before_autumn(lived.season)[index:]
    grown = np.arange(lived.days.size - index) > effect.young_roots_peak_days
    ripens = (stage.phases[index:] >= FLUSHING) & in_time & grown
    return float(share * np.exp(-float(gains[ripens].sum()) / ripen_theta))


def leaf_weights(phases: NDArray[np.int64], evergreen: bool) -> Array:
    """
    Weight of a day's warmth for root growth. [0-1]

    Leafless .3, flush .4 (roots regenerate little during active spring growth: Watson & Himelick 1982), mature 1,
    colouring .6; evergreens 1 and .5 in winter. Values: estimate. Evergreens that harden in autumn still count 1: their
    needles work on, autumn is the second season of their roots (common practice), and the cold of the root zone, which
    ends it, is in the thermal time already.
    """
    table = np.array([0.5, 0.5, 0.4, 1.0, 1.0]) if evergreen else np.array([0.3, 0.3, 0.4, 1.0, 0.6])
    result: Array = table[phases]
    return result
