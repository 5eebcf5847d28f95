"""The outcome of an assessment in plain values: from here on nothing holds an array."""

from collections.abc import Sequence
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np

from carewatch.alerts.call import SpellFacts, TreeCall
from carewatch.alerts.picture import Course, is_near
from carewatch.assess import Assessment, TreeOutlook
from carewatch.hazard.spells import Spell
from carewatch.limits.judge import KINDS, is_cold
from carewatch.measures.catalogue import parts_of, row_name
from carewatch.measures.timing import Clock, shade_days


def calls(assessment: Assessment) -> tuple[TreeCall, ...]:
    """Every tree in danger in plain values, in the garden's order, whether or not a measure is worth taking."""
    zone = ZoneInfo(assessment.garden.site.time_zone)
    return tuple(_call(tree, assessment, zone) for tree in assessment.trees if tree.spells)


def courses(assessment: Assessment, told: Sequence[TreeCall]) -> tuple[Course, ...]:
    """For the pictures of messages: the course of the costliest spell of each tree that may soon be called for."""
    near = {call.tree for call in told if call.measure and is_near(call, assessment.now)}
    clock = assessment.clock
    begins = moment_of(clock.utc[0], ZoneInfo("UTC"))
    nights = _nights(clock)
    return tuple(
        Course(
            tree=tree.condition.tree.id,
            hazard=tree.band.hazard,
            begins=begins,
            low=tuple(tree.band.low.tolist()),
            middle=tuple(tree.band.middle.tolist()),
            high=tuple(tree.band.high.tolist()),
            cold=is_cold(tree.band.hazard, max(tree.spells, key=lambda spell: spell.loss).limit),
            nights=nights,
        )
        for tree in assessment.trees
        if tree.band is not None and tree.condition.tree.id in near
    )


def _nights(clock: Clock) -> tuple[tuple[datetime, datetime], ...]:
    """Sunset to sunrise, UTC, of every night that the table of the sun knows."""
    pairs = [(clock.sunset[day], clock.sunrise[day + 1]) for day in range(clock.sunset.size - 1)]
    utc = ZoneInfo("UTC")
    return tuple(
        (moment_of(down, utc), moment_of(up, utc)) for down, up in pairs if not (np.isnat(down) or np.isnat(up))
    )


def moment_of(stamp: np.datetime64, zone: ZoneInfo) -> datetime:
    """A UTC stamp as a moment in a time zone."""
    return datetime.fromtimestamp(int(stamp.astype("datetime64[s]").astype(np.int64)), UTC).astimezone(zone)


def _call(tree: TreeOutlook, assessment: Assessment, zone: ZoneInfo) -> TreeCall:
    chosen = tree.chosen
    name = chosen.name if chosen else ""
    rows = [assessment.measures[row_name(part)] for part in parts_of(name)]
    rejected = next(
        (
            option
            for option in tree.options
            if not option.chosen and option.telling and not _families(option.name) & _families(name)
        ),
        None,
    )
    weighed = tree.weighed
    act_by = tree.act_by if tree.act_by is not None else assessment.clock.now
    return TreeCall(
        tree=tree.condition.tree.id,
        place=_stands_at(tree),
        layer=tree.condition.layer,
        spells=tuple(_facts(tree, spell, zone) for spell in tree.spells),
        measure=name,
        in_force=bool(name) and set(parts_of(name)) <= _in_force(tree),
        why=chosen.why if chosen else "",
        standing_loss=tree.standing_loss,
        loss_with=chosen.loss if chosen else tree.standing_loss,
        minutes=chosen.minutes if chosen else 0.0,
        act_by=moment_of(act_by, zone),
        undo_at=None if tree.undo_at is None else moment_of(tree.undo_at, zone),
        harm=" ".join(dict.fromkeys(row.harm for row in rows if row.harm)),
        caution=" ".join(dict.fromkeys(row.caution for row in rows if row.caution)),
        rejected=rejected.name if rejected else "",
        rejected_why=rejected.why if rejected else "",
        gain=weighed.gain if weighed else 0.0,
        cost=weighed.cost if weighed else 0.0,
        factor=tree.factor,
        displaced_measure=tree.displaced.measure if tree.displaced else "",
        displaced_by=tree.displaced.by if tree.displaced else (),
        displaced_why=tree.displaced.why if tree.displaced else "",
        shade_days=_shade_days(tree, assessment),
        begun=tuple(part for part in parts_of(name) if part in _in_force(tree)),
    )


def _in_force(tree: TreeOutlook) -> set[str]:
    return {part for name in tree.condition.begun for part in parts_of(name)}


def _shade_days(tree: TreeOutlook, assessment: Assessment) -> int:
    """Days in shade that a tree needs when it comes back from the place that its call sends it to, or 0."""
    places = {place.id: place for place in assessment.places}
    to = next((part.partition(":")[2] for part in parts_of(tree.chosen.name if tree.chosen else "") if ":" in part), "")
    if not to or tree.undo_at is None or tree.act_by is None:
        return 0
    return shade_days(tree.condition.in_leaf, places[to], max(tree.act_by, assessment.clock.now), tree.undo_at)


def _families(name: str) -> set[str]:
    """Measures of one family are told apart in the list, not in a message: all fleece, all moves."""
    return {row_name(part).partition("-")[0] for part in parts_of(name)}


def _facts(tree: TreeOutlook, spell: Spell, zone: ZoneInfo) -> SpellFacts:
    return SpellFacts(
        hazard=spell.hazard,
        organ=spell.organ or organ_of(spell.hazard, tree.condition.in_leaf),
        starts=moment_of(spell.starts, zone),
        ends=moment_of(spell.ends, zone),
        peak_at=moment_of(spell.peak_at, zone),
        peak=spell.peak,
        limit=spell.limit,
        unit=spell.unit,
        probability=spell.probability,
        damage=spell.damage,
        loss=spell.loss,
        loss_if=spell.loss_if,
        severity=spell.severity,
        certainty=spell.certainty,
        eased=_eased(tree, spell.hazard),
    )


def _eased(tree: TreeOutlook, hazard: str) -> float:
    """Share of what a hazard would cost that the chosen measure saves. [0-1]"""
    stands = max(spell.loss for spell in tree.spells if spell.hazard == hazard)
    if tree.chosen is None or stands <= 0.0:
        return 0.0
    return float(np.clip(1.0 - tree.chosen.hazard_loss.get(hazard, 0.0) / stands, 0.0, 1.0))


def _stands_at(tree: TreeOutlook) -> str:
    """The place to which it was carried last, as its measures in force say, else the one where it lives."""
    moves = [part for name in tree.condition.begun for part in parts_of(name) if part.startswith("move:")]
    return moves[-1].partition(":")[2] if moves else tree.condition.place


def organ_of(hazard: str, in_leaf: bool) -> str:
    """The organ that a hazard hurts first."""
    organ = KINDS[hazard].organ
    if organ == "foliage":
        return "leaves" if in_leaf else "buds"
    return organ
