"""Which danger a spell belongs to: the standing one brought up to date, or a new one with an id for good."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from carewatch.alerts.call import SpellFacts, TreeCall
from carewatch.alerts.danger import Danger
from carewatch.alerts.notices import identity

# Spells of one tree and hazard whose credible intervals, each widened by this, overlap are one danger (design).
WIDENED = timedelta(hours=12)
# A call is stood down when the best gain falls under this share of what would call for it (design: hysteresis). [0-1]
STAND_DOWN = 0.6


def dangers_of(call: TreeCall, standing: Sequence[Danger], now: datetime) -> tuple[Danger, ...]:
    """
    The dangers that the spells are: standing ones brought up to date, or new ones, at least one per spell.

    A spell that has grown over several standing dangers is all of them from now on: none of those is gone, and the
    answer to each still counts. What a spell begins anew is a danger of its own.
    """
    mine = [danger for danger in standing if danger.tree == call.tree]
    taken: set[str] = set()
    found: list[list[Danger]] = []
    for spell in call.spells:
        known = next((danger for danger in mine if danger.id not in taken and _belongs(danger, spell)), None)
        taken |= {known.id} if known else set()
        found.append([_updated(known, call, spell, now) if known else _new(call, spell, now)])
    for danger in mine:
        owner = next((at for at, spell in enumerate(call.spells) if _belongs(danger, spell)), None)
        if owner is not None and danger.id not in taken:
            taken.add(danger.id)
            found[owner].append(_updated(danger, call, call.spells[owner], now))
    return tuple(danger for members in found for danger in members)


def _belongs(danger: Danger, spell: SpellFacts) -> bool:
    """Whether a spell of the danger's tree is the danger: same hazard, and the widened intervals overlap."""
    overlap = danger.starts - WIDENED <= spell.ends + WIDENED and spell.starts - WIDENED <= danger.ends + WIDENED
    return danger.hazard == spell.hazard and overlap


def anew(danger: Danger, now: datetime) -> Danger:
    """
    The same danger as news: one with an id of its own, of which nothing was said.

    For a call whose hour passed without an answer and whose next hour to act comes: what is said then is no repeat.
    """
    spoken = "" if danger.spoken_at is None else danger.spoken_at.astimezone(UTC).isoformat()
    return replace(
        danger,
        id=identity("danger", danger.id, "anew", spoken),
        revision=1,
        state="foreseen",
        first_seen_at=now,
        raised_at=None,
        spoken_severity="",
        spoken_measure="",
        spoken_act_by=None,
        spoken_at=None,
        answer="",
        below_runs=0,
    )


def end_was_told(danger: Danger, now: datetime) -> bool:
    """Whether the grower was told an end that is of today or later: what is done for it ends then, and not before."""
    if danger.spoken_at is None or danger.undo_at is None:
        return False
    return danger.undo_at.astimezone(now.tzinfo).date() >= now.date()


def _measure_for(call: TreeCall, spell: SpellFacts) -> str:
    """The call's measure, if it is for this spell: what does nothing for a danger is not told with it."""
    return call.measure if spell in call.met else ""


def _new(call: TreeCall, spell: SpellFacts, now: datetime) -> Danger:
    starts = spell.starts.astimezone(UTC).isoformat()
    return Danger(
        id=identity("danger", call.tree, spell.hazard, starts, now.isoformat()),
        tree=call.tree,
        hazard=spell.hazard,
        starts=spell.starts,
        ends=spell.ends,
        severity=spell.severity,
        probability=spell.probability,
        loss=spell.loss,
        peak=spell.peak,
        limit=spell.limit,
        unit=spell.unit,
        measure=_measure_for(call, spell),
        act_by=call.act_by,
        undo_at=call.undo_at,
        revision=1,
        state="foreseen",
        first_seen_at=now,
        in_force=call.in_force and spell in call.met,
        shade_days=call.shade_days if spell in call.met else 0,
    )


def _updated(known: Danger, call: TreeCall, spell: SpellFacts, now: datetime) -> Danger:
    """The standing danger with the new numbers; a spell that is under way keeps the start it was seen with."""
    return replace(
        known,
        starts=min(known.starts, spell.starts) if known.starts <= now else spell.starts,
        ends=spell.ends,
        severity=spell.severity,
        probability=spell.probability,
        loss=spell.loss,
        peak=spell.peak,
        limit=spell.limit,
        unit=spell.unit,
        measure=_measure_for(call, spell),
        act_by=call.act_by,
        undo_at=known.undo_at if end_was_told(known, now) else call.undo_at,
        below_runs=known.below_runs if hardly_worth_it(known, call) else 0,
        in_force=call.in_force and spell in call.met,
        shade_days=_shade_days(known, call, spell),
    )


def _shade_days(known: Danger, call: TreeCall, spell: SpellFacts) -> int:
    """
    Days in shade when it comes out. [d]

    What is in force was long as soon as it was called long: leaves that stood in the dark are not hardened by an end
    that came nearer.
    """
    days = call.shade_days if spell in call.met else 0
    return max(known.shade_days, days) if known.in_force or known.answer == "done" else days


def hardly_worth_it(danger: Danger, call: TreeCall) -> bool:
    """
    Whether the grower was told of a danger for which, by this run, no measure is nearly worth its work any more.

    What is worth a little less than its work stays asked for: a call must not come and go with a hair's breadth.
    """
    asked = danger.spoken_at is not None and bool(danger.spoken_measure)
    told = asked and not call.measure and not call.in_force
    return told and call.gain < STAND_DOWN * call.factor * call.cost
