"""What the weather of the last days has probably taken already, and what of each organ is therefore left to lose."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

import numpy as np
from numpy.typing import NDArray

from carewatch.care.log import Entry
from carewatch.condition.now import Condition
from carewatch.exposure.run import Exposure
from carewatch.exposure.toll import Toll, no_toll
from carewatch.forecast.weather import Array, Times
from carewatch.limits.damage import damage, rest_of
from carewatch.limits.doses import HazardNumbers
from carewatch.limits.roots import frozen_share
from carewatch.limits.tolerance import Tolerance, there, tolerances

# What says how the leaves, or the buds, are: from then on the weather before it has no say.
LEAVES_SEEN = ("leaf-out", "mature", "colouring", "leaf-fall", "new-growth", "scorch", "firm")
BUDS_SEEN = ("bud-swell", "leaf-out", "mature", "new-growth")
# Works that leave so little of the leaves make them anew (judged). [0-1]
STRIPPED = 0.1
# A temperature that takes nothing of any leaf: stands for hours that have no say. [°C]
HARMLESS_C = 15.0
# Above this no frost limit of any organ begins, wet or dry: the tables' tenderest is below freezing. [°C]
HARMLESS_FROM_C = 5.0
# From this share on it is told since when an organ has lost (as the least severity, minor). [0-1]
TOLD = 0.02
NEVER_SEEN = np.datetime64("1900-01-01T00:00:00")


def seen_at(conditions: Sequence[Condition], log: Sequence[Entry], organ: str, now: datetime) -> Times:
    """
    When the leaves, or buds, of each tree were last seen, or made anew by a work; UTC, NEVER_SEEN for never, (tree,).

    log: of the garden; organ: "leaves" or "buds"; entries after `now` are not known yet.
    """
    words = LEAVES_SEEN if organ == "leaves" else BUDS_SEEN
    newest: dict[str, datetime] = {}
    for entry in log:
        if entry.at <= now and entry.work == "observe" and entry.seen in words:
            newest[entry.tree] = max(entry.at, newest.get(entry.tree, entry.at))
    found = []
    for condition in conditions:
        stripped = [work.entry.at for work in condition.opened if work.effect.leaf_area <= STRIPPED]
        moments = [*stripped, *([newest[condition.tree.id]] if condition.tree.id in newest else [])]
        found.append(np.datetime64(int(max(moments).timestamp()), "s") if moments else NEVER_SEEN)
    return np.array(found, dtype="datetime64[s]")


@dataclass(frozen=True)
class OnADay:
    """
    The trees of a garden as they were on one day.

    limits: one row per tree; leaves, buds: how likely they were there to be lost, (tree,). [0-1]
    """

    limits: Tolerance
    leaves: Array
    buds: Array


def on_a_day(conditions: Sequence[Condition], hazards: HazardNumbers, day: date, latitude: float) -> OnADay:
    """These conditions as something to lose; day: local; latitude: north positive. [°]"""
    limits = tolerances(conditions, np.zeros(len(conditions)), hazards, day, latitude)
    present = np.array([there(condition) for condition in conditions]).reshape(-1, 2)
    return OnADay(limits, present[:, 0], present[:, 1])


@dataclass(frozen=True)
class Losses:
    """
    Counts what a stretch of the past took.

    last: the trees at its end; on: the same on a local day of it, or None where a stretch is too short to tell days
    apart. leaves_seen, buds_seen: as seen_at.

    By frost and freezing only. Heat and drought come by day, under the grower's eyes, and rest on a watering habit that
    nobody keeps in a drought: a false "lost already" would silence the call to water.
    """

    last: Callable[[], OnADay]
    on: Callable[[date], OnADay] | None
    leaves_seen: Times
    buds_seen: Times

    def __call__(self, felt: Exposure, toll: Toll) -> Toll:
        """
        The toll, one member, after these hours.

        What was seen of an organ wins over what was worked out for it until then. Each day counts with the limits of
        that day: what is in leaf now was in bud a week ago. Days that take nothing by the limits at the beginning of
        the stretch nor by those at its end are passed over: in between a tree is between the two.
        """
        toll = _seen(toll, (self.leaves_seen < felt.times[0])[None], (self.buds_seen < felt.times[0])[None])
        if min(float(felt.tissue_c.min()), float(felt.roots.shells_c.min())) > HARMLESS_FROM_C:
            return toll
        last = self.last()
        harm = takes_something(felt, last.limits)
        days, starts = np.unique(felt.day, return_index=True)
        ends = [*starts[1:].tolist(), felt.day.size]
        if self.on is not None:
            harm |= takes_something(felt, self.on(days[0].astype(date)).limits)
        for day, start, end in zip(days, starts.tolist(), ends, strict=True):
            if harm[start:end].any():
                trees = last if self.on is None else self.on(day.astype(date))
                toll = self._after_day(toll, felt, slice(start, end), trees)
        return toll

    def _after_day(self, toll: Toll, felt: Exposure, part: slice, trees: OnADay) -> Toll:
        limits, stamps, tissue_c = trees.limits, felt.times[part, None], felt.tissue_c[part]
        counts = (stamps > self.leaves_seen)[:, None, :]
        leaf_c = np.where(counts, tissue_c, HARMLESS_C)
        bud_c = np.where((stamps > self.buds_seen)[:, None, :], tissue_c, HARMLESS_C)
        wet = np.where(felt.wet[part] & counts, limits.wet_shift_k, 0.0)
        leaf = damage((leaf_c - wet).min(axis=0), limits.leaf_frost_10, limits.leaf_frost_50)
        bud = damage(bud_c.min(axis=0), limits.bud_frost_10, limits.bud_frost_50)
        after = replace(
            toll,
            leaves=np.maximum(toll.leaves, trees.leaves * leaf),
            buds=np.maximum(toll.buds, trees.buds * bud),
            roots=np.maximum(toll.roots, frozen_share(felt.roots.shells_c[part], limits)),
        )
        return _dated(after, float(felt.day[part][0].astype(np.int64)))


def _seen(toll: Toll, leaves_unseen: NDArray[np.bool_], buds_unseen: NDArray[np.bool_]) -> Toll:
    """The toll of what was not seen since; nothing of what was."""
    return replace(
        toll,
        leaves=toll.leaves * leaves_unseen,
        leaves_since=toll.leaves_since * leaves_unseen,
        buds=toll.buds * buds_unseen,
        buds_since=toll.buds_since * buds_unseen,
    )


def _dated(toll: Toll, day: float) -> Toll:
    """Each organ's day: the first on which what it lost is worth telling."""

    def since(share: Array, before: Array) -> Array:
        return np.where(share < TOLD, 0.0, np.where(before > 0.0, before, day))

    return replace(
        toll,
        leaves_since=since(toll.leaves, toll.leaves_since),
        buds_since=since(toll.buds, toll.buds_since),
        roots_since=since(toll.roots, toll.roots_since),
    )


def takes_something(felt: Exposure, limits: Tolerance) -> NDArray[np.bool_]:
    """Hours in which these limits let anything be lost at all, (hour,); cheap, and on the safe side."""
    as_felt = felt.tissue_c - np.where(felt.wet, limits.wet_shift_k, 0.0)
    # The curve is at nothing where the logistic says 1 %: that is 1.1 ways from the 10 % to the 50 % dose before 10 %.
    beyond = np.zeros(felt.tissue_c.shape[0], dtype=np.bool_)
    for name, values in (
        ("leaf_frost", as_felt),
        ("bud_frost", felt.tissue_c),
        ("root_frost_young", felt.roots.shells_c.min(axis=1)),
        ("root_frost_mature", felt.roots.shells_c.min(axis=1)),
    ):
        beyond |= _passes(values, getattr(limits, f"{name}_10"), getattr(limits, f"{name}_50"))
    return beyond


def _passes(values: Array, tenth: Array, half: Array) -> NDArray[np.bool_]:
    """Hours in which any column is below where harm begins."""
    with np.errstate(invalid="ignore"):
        begins = tenth + 1.1 * (tenth - half)
    found: NDArray[np.bool_] = np.any(values < np.where(np.isfinite(begins), begins, -np.inf), axis=(1, 2))
    return found


def that_counts(toll: Toll) -> Toll:
    """
    What of a toll may be taken off what is at stake: that of the leaves.

    They are seen, and an observation corrects what was worked out for them. Roots and wood are out of sight: a pot that
    was banked and not logged would count as dead, and nothing would be said any more for a tree that lives.
    """
    return replace(no_toll(toll.leaves.shape[1]), leaves=toll.leaves, leaves_since=toll.leaves_since)


def with_toll(limits: Tolerance, toll: Toll) -> Tolerance:
    """
    Limits of the same trees, of which only what the toll left is at stake.

    The tree may have been protected in such a night and nobody logged it: part of what it took is at stake still.
    """
    return replace(
        limits,
        leaf_weight=limits.leaf_weight * rest_of(toll.leaves[0]),
        bud_weight=limits.bud_weight * rest_of(toll.buds[0]),
        leaf_frost_taken=toll.leaves[0],
        bud_frost_taken=toll.buds[0],
        roots_lost=toll.roots[0],
    )


@dataclass(frozen=True)
class LostAlready:
    """
    What a tree has probably lost, and the local day since which; None where it is not worth telling.

    leaves, buds, roots: shares. [0-1]
    """

    leaves: float = 0.0
    buds: float = 0.0
    roots: float = 0.0
    leaves_since: date | None = None
    buds_since: date | None = None
    roots_since: date | None = None


NOTHING = LostAlready()


def lost_already(toll: Toll) -> tuple[LostAlready, ...]:
    """A toll, tree by tree."""
    rows = (toll.leaves, toll.buds, toll.roots, toll.leaves_since, toll.buds_since, toll.roots_since)
    return tuple(
        LostAlready(leaves, buds, roots, *(_date(day) for day in days))
        for leaves, buds, roots, *days in zip(*(row[0].tolist() for row in rows), strict=True)
    )


def _date(day: float) -> date | None:
    if day <= 0.0:
        return None
    found: date = np.datetime64(int(day), "D").astype(date)
    return found
