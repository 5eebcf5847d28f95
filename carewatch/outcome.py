"""The outcome of an assessment in plain values: from here on nothing holds an array."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np

from carewatch.alerts.call import EASED, SpellFacts, TreeCall
from carewatch.alerts.picture import Course, is_near
from carewatch.assess import Assessment, TreeOutlook
from carewatch.care.whole_log import in_force
from carewatch.hazard.spells import Spell, severity_of
from carewatch.limits.judge import KINDS, is_cold
from carewatch.measures.catalogue import parts_of, row_name
from carewatch.measures.choice import Option
from carewatch.measures.in_force import naive_utc
from carewatch.measures.timing import (
    DRY_FIRST_H,
    HOUR,
    SHUT_BEFORE_SUNSET_H,
    WET_MM,
    Clock,
    shade_days,
    well_over,
)


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


def dry_from(assessment: Assessment) -> datetime | None:
    """When a day will have passed without rain, UTC, if it rains now or within a day; None where it is dry."""
    clock, zone = assessment.clock, ZoneInfo("UTC")
    wet = np.median(assessment.weather.ahead.values["rain_mm"], axis=1) > WET_MM
    rained = well_over(clock, clock.now, wet, DRY_FIRST_H)
    return moment_of(rained + DRY_FIRST_H * HOUR, zone) if rained > clock.now else None


def dark_from(assessment: Assessment) -> datetime:
    """Sunset of the day of asking, UTC; 18:00 by the site's clock where the sun does not set."""
    clock = assessment.clock
    return moment_of(clock.sunset_of(clock.now_local.astype("datetime64[D]")), ZoneInfo("UTC"))


def moment_of(stamp: np.datetime64, zone: ZoneInfo) -> datetime:
    """A UTC stamp as a moment in a time zone."""
    return datetime.fromtimestamp(int(stamp.astype("datetime64[s]").astype(np.int64)), UTC).astimezone(zone)


def _call(tree: TreeOutlook, assessment: Assessment, zone: ZoneInfo) -> TreeCall:
    chosen = tree.chosen
    name = chosen.name if chosen else ""
    rows = [assessment.measures[row_name(part)] for part in parts_of(name)]
    begun = tuple(part for part in parts_of(name) if part in _in_force(tree))
    # Nobody is warned of work that is done.
    new = [assessment.measures[row_name(part)] for part in parts_of(name) if part not in begun] or rows
    weighed, under = tree.weighed, _stands_under(tree)
    act_by = tree.act_by if tree.act_by is not None else assessment.clock.now
    spells = tuple(_facts(tree, spell, zone, under) for spell in tree.spells)
    rejected = next(
        (
            option
            for option in tree.options
            if not option.chosen
            and option.telling
            and not _families(option.name) & _families(name)
            and _is_thought_of(option.name, spells, assessment)
        ),
        None,
    )
    return TreeCall(
        tree=tree.condition.tree.id,
        place=_stands_at(tree),
        layer=tree.condition.layer,
        spells=spells,
        measure=name,
        in_force=bool(name) and set(parts_of(name)) <= _in_force(tree),
        why=chosen.why if chosen else "",
        standing_loss=under.loss if under else tree.standing_loss,
        loss_with=chosen.loss if chosen else tree.standing_loss,
        minutes=chosen.minutes if chosen else 0.0,
        act_by=moment_of(act_by, zone),
        undo_at=None if tree.undo_at is None else moment_of(tree.undo_at, zone),
        harm=" ".join(dict.fromkeys(row.harm for row in rows if row.harm)),
        caution=" ".join(dict.fromkeys(row.caution for row in new if row.caution)),
        # Beside what stands already, what another would do alone is no comparison.
        rejected=rejected.name if rejected and not under else "",
        rejected_why=rejected.why if rejected and not under else "",
        gain=weighed.gain if weighed else 0.0,
        cost=weighed.cost if weighed else 0.0,
        factor=tree.factor,
        displaced_measure=tree.displaced.measure if tree.displaced else "",
        displaced_by=tree.displaced.by if tree.displaced else (),
        displaced_why=tree.displaced.why if tree.displaced else "",
        shade_days=_shade_days(tree, assessment),
        begun=begun,
        stands_under=under.name if under else "",
        shut_at=_shut_at(name, act_by, assessment.clock, zone),
    )


def _is_thought_of(name: str, spells: Sequence[SpellFacts], assessment: Assessment) -> bool:
    """Whether a measure is for the hazard that costs most: only such a one is missed by whoever reads of another."""
    costliest = max(
        (spell for spell in spells if spell.eased >= EASED), key=lambda spell: spell.loss, default=spells[0]
    )
    meant = {hazard for part in parts_of(name) for hazard in assessment.measures[row_name(part)].hazards}
    return costliest.hazard in meant or (costliest.frozen and "root-freeze" in meant)


def _shut_at(name: str, act_by: np.datetime64, clock: Clock, zone: ZoneInfo) -> datetime | None:
    """When what is opened by day is shut on its first day, or None where nothing is opened."""
    if "ventilate" not in parts_of(name):
        return None
    first = max(act_by, clock.now)
    shut = clock.sunset_of(clock.to_local(first).astype("datetime64[D]")) - SHUT_BEFORE_SUNSET_H * HOUR
    return moment_of(shut, zone)


def _stands_under(tree: TreeOutlook) -> Option | None:
    """What is in force and eases the danger, as it was tried, where more or something else is chosen; None: nothing."""
    begun = _in_force(tree)
    if tree.chosen is None or set(parts_of(tree.chosen.name)) <= begun:
        return None
    tried = [option for option in tree.options if set(parts_of(option.name)) <= begun]
    best = min(tried, key=lambda option: option.loss, default=None)
    return best if best is not None and best.loss < tree.standing_loss * (1.0 - EASED) else None


def _in_force(tree: TreeOutlook) -> set[str]:
    return {part for name in tree.condition.begun for part in parts_of(name)}


def _shade_days(tree: TreeOutlook, assessment: Assessment) -> int:
    """Days in shade that a tree needs when it comes back from the place that its call sends it to, or 0."""
    places = {place.id: place for place in assessment.places}
    to = next((part.partition(":")[2] for part in parts_of(tree.chosen.name if tree.chosen else "") if ":" in part), "")
    now = assessment.clock.now
    log = [entry for entry in assessment.garden.log if entry.at <= assessment.now]
    carried = in_force(log, tree.condition.tree.id).get(f"move:{to}") if to else None
    # Where it stands already its stay counts from the carry, and where no end is in sight until now at least.
    since = naive_utc(carried.at) if carried else tree.act_by
    until = now if carried and tree.undo_at is None else tree.undo_at
    if not to or since is None or until is None:
        return 0
    return shade_days(tree.condition.in_leaf, places[to], since if carried else max(since, now), until)


def _families(name: str) -> set[str]:
    """Measures of one family are told apart in the list, not in a message: all fleece, all moves."""
    return {row_name(part).partition("-")[0] for part in parts_of(name)}


def _facts(tree: TreeOutlook, spell: Spell, zone: ZoneInfo, under: Option | None = None) -> SpellFacts:
    """One spell in plain values. under: what is in force: its loss, chance and class are those that this leaves."""
    facts = replace(
        facts_of(spell, tree.condition.in_leaf, zone),
        eased=_eased(tree, spell.hazard, under),
        spared=_spared(tree, spell.hazard),
        unused=_is_unused(tree, spell),
    )
    if under is None:
        return facts
    left = _left(tree, spell.hazard, under)
    loss_if = spell.loss_if * left
    return replace(
        facts,
        probability=min(spell.probability, under.hazard_probability.get(spell.hazard, 0.0)),
        loss=spell.loss * left,
        loss_if=loss_if,
        severity=severity_of(loss_if) or "Minor",
    )


def facts_of(spell: Spell, in_leaf: bool, zone: ZoneInfo) -> SpellFacts:
    """A spell of a tree that nothing protects in plain values. in_leaf: the tree is."""
    return SpellFacts(
        hazard=spell.hazard,
        organ=spell.organ or organ_of(spell.hazard, in_leaf),
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
        frozen=spell.frozen,
    )


def _costliest(tree: TreeOutlook, hazard: str) -> float:
    """What a hazard would cost the bare tree. [0-1]"""
    return max(spell.loss for spell in tree.spells if spell.hazard == hazard)


def _left(tree: TreeOutlook, hazard: str, under: Option | None) -> float:
    """Share of what a hazard would cost that is left under what is in force. [0-1]"""
    stands = _costliest(tree, hazard)
    if under is None or stands <= 0.0:
        return 1.0
    return float(np.clip(under.hazard_loss.get(hazard, 0.0) / stands, 0.0, 1.0))


def _eased(tree: TreeOutlook, hazard: str, under: Option | None = None) -> float:
    """Share of what a hazard would cost, under what is in force, that the chosen measure saves. [0-1]"""
    stands = _costliest(tree, hazard) * _left(tree, hazard, under)
    if tree.chosen is None or stands <= 0.0:
        return 0.0
    return float(np.clip(1.0 - tree.chosen.hazard_loss.get(hazard, 0.0) / stands, 0.0, 1.0))


def _is_unused(tree: TreeOutlook, spell: Spell) -> bool:
    """Whether a spell is sun to which leaves are not used, and not such as few roots cannot bear."""
    allowed = tree.condition.sun_limit_kwh
    return spell.hazard == "sun" and (allowed is None or spell.limit < allowed)


def _spared(tree: TreeOutlook, hazard: str) -> float:
    """What all that is in force keeps of the tree from a hazard, below zero where it makes it worse. [-1-1]"""
    begun = [option for option in tree.options if option.begun]
    whole = max(begun, key=lambda option: len(parts_of(option.name)), default=None)
    return 0.0 if whole is None else _costliest(tree, hazard) - whole.hazard_loss.get(hazard, 0.0)


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
