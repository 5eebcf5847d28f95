"""The JSON documents that reporting commands print: frozen values, filled from an assessment, through one encoder."""

import dataclasses
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from carewatch.assess import Assessment, TreeOutlook
from carewatch.hazard.spells import LEAST_LOSS, Spell, urgency_of
from carewatch.limits.judge import HAZARDS, UNITS
from carewatch.measures.choice import Option
from carewatch.measures.timing import HOUR
from carewatch.outcome import moment_of

DOCUMENT_VERSION = 1


@dataclass(frozen=True)
class Quantity:
    """A number with its unit."""

    value: float
    unit: str


@dataclass(frozen=True)
class SiteDocument:
    """The site's own keys of the configuration."""

    name: str
    latitude: float
    longitude: float
    elevation_m: float
    time_zone: str


@dataclass(frozen=True)
class ForecastDocument:
    """What the judgement rests on, and what it lacks."""

    source: str
    issued_at: str
    age_hours: float
    members: int
    members_from: str
    hours: int
    missing: tuple[str, ...]
    estimated: tuple[str, ...]
    notes: tuple[str, ...]
    assumed: tuple[str, ...]
    hours_judged: Mapping[str, int]


@dataclass(frozen=True)
class MeasureDocument:
    """One measure against one spell."""

    measure: str
    damage: float
    loss: float
    probability: float
    effort_minutes: float
    chosen: bool
    why: str


@dataclass(frozen=True)
class SpellDocument:
    """One hazard beyond one tree's limit."""

    hazard: str
    starts: str
    ends: str
    peak_at: str
    peak: Quantity
    limit: Quantity
    probability: float
    damage: float
    loss: float
    severity: str
    urgency: str
    certainty: str
    act_by: str
    undo_at: str | None
    measures: tuple[MeasureDocument, ...]


@dataclass(frozen=True)
class FragilityDocument:
    """What works and season have left of a tree's strength."""

    root_supply: float
    anchorage: float
    young_roots: float
    leaf_area: float
    layer_in_first_year: bool
    tied: bool


@dataclass(frozen=True)
class DisplacedDocument:
    """What a tree would get if there were enough for all, and the trees that get it instead."""

    measure: str
    by: tuple[str, ...]
    why: str


@dataclass(frozen=True)
class CallDocument:
    """What to do for one tree; measure is null when it is left in peace."""

    measure: str | None
    act_by: str | None
    undo_at: str | None
    expected_loss: float
    expected_loss_with: float
    why: str
    displaced: DisplacedDocument | None


@dataclass(frozen=True)
class TreeDocument:
    """One tree's outlook."""

    tree: str
    species: str
    place: str
    stage: str
    stage_basis: str
    fragility: FragilityDocument
    spells: tuple[SpellDocument, ...]
    call: CallDocument
    not_possible: Mapping[str, str]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class OutlookDocument:
    """`outlook --json`."""

    version: int
    site: SiteDocument
    at: str
    forecast: ForecastDocument
    trees: tuple[TreeDocument, ...]


def encoded(document: Any) -> str:
    """
    The document as one JSON text. Numbers are rounded to six digits, so that the same judgement gives the same bytes.

    Raises ValueError if a number is not finite: such a number must be left out or null before it gets here.
    """
    return json.dumps(_plain(document), ensure_ascii=False, allow_nan=False, indent=2)


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: _plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    if isinstance(value, np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        number = round(float(value), 6)
        return 0.0 if number == 0.0 else number
    return value


def stamp(moment: datetime) -> str:
    """ISO 8601 with the offset, to the minute."""
    return moment.isoformat(timespec="minutes")


def finite(value: float) -> float | None:
    """The number, or None when it stands for "never"."""
    return float(value) if math.isfinite(value) else None


def outlook_document(assessment: Assessment, only: str | None = None) -> OutlookDocument:
    """The outlook of all trees, or of one."""
    zone = ZoneInfo(assessment.garden.site.time_zone)
    return OutlookDocument(
        version=DOCUMENT_VERSION,
        site=site_document(assessment),
        at=stamp(assessment.now.astimezone(zone)),
        forecast=forecast_document(assessment),
        trees=tuple(
            tree_document(tree, assessment) for tree in assessment.trees if only in (None, tree.condition.tree.id)
        ),
    )


def site_document(assessment: Assessment) -> SiteDocument:
    """Site part of a document."""
    site = assessment.garden.site
    return SiteDocument(site.name, site.latitude, site.longitude, site.elevation_m, site.time_zone)


def forecast_document(assessment: Assessment) -> ForecastDocument:
    """Forecast part of a document."""
    weather = assessment.weather
    zone = ZoneInfo(assessment.garden.site.time_zone)
    return ForecastDocument(
        source=weather.source,
        issued_at=stamp(weather.issued_at.astimezone(zone)),
        age_hours=weather.age_hours,
        members=weather.ahead.members,
        members_from=weather.members_from,
        hours=len(weather.ahead),
        missing=weather.missing,
        estimated=weather.estimated,
        notes=weather.notes,
        assumed=assessment.assumed,
        hours_judged={name: assessment.horizon[name] for name in HAZARDS},
    )


def tree_document(tree: TreeOutlook, assessment: Assessment) -> TreeDocument:
    """One tree with its spells and the call."""
    condition = tree.condition
    species = condition.tree.species
    notes = []
    if species.found_by != "species" and species.asked_for.casefold() != species.name.casefold():
        notes.append(f"{species.asked_for}: the table's numbers for the {species.found_by} {species.name} serve.")
    return TreeDocument(
        tree=condition.tree.id,
        species=species.asked_for,
        place=condition.place,
        stage=condition.stage,
        stage_basis=condition.stage_basis,
        fragility=FragilityDocument(
            condition.root_supply,
            condition.anchorage,
            condition.young_roots,
            condition.leaf_area,
            condition.layer,
            condition.tied,
        ),
        spells=tuple(_spell_document(spell, tree, assessment) for spell in tree.spells),
        call=_call_document(tree, assessment),
        not_possible=dict(tree.against),
        notes=tuple(notes),
    )


def _call_document(tree: TreeOutlook, assessment: Assessment) -> CallDocument:
    zone = ZoneInfo(assessment.garden.site.time_zone)
    chosen, lost = tree.chosen, tree.displaced
    displaced = None if lost is None else DisplacedDocument(lost.measure, lost.by, lost.why)
    if chosen is None:
        why = no_call_reason(tree)
        return CallDocument(None, None, None, tree.standing_loss, tree.standing_loss, why, displaced)
    return CallDocument(
        measure=chosen.name,
        act_by=None if tree.act_by is None else stamp(moment_of(tree.act_by, zone)),
        undo_at=None if tree.undo_at is None else stamp(moment_of(tree.undo_at, zone)),
        expected_loss=tree.standing_loss,
        expected_loss_with=chosen.loss,
        why=chosen.why,
        displaced=displaced,
    )


def no_call_reason(tree: TreeOutlook) -> str:
    """Why nothing is asked for a tree: no danger, not yet, nothing that can be done, or nothing worth its work."""
    if not tree.spells:
        return "nothing passes a limit"
    if tree.displaced is not None:
        return f"{tree.displaced.measure} would help, but {tree.displaced.why}"
    best = max(tree.options, key=lambda option: option.gain - option.cost, default=None)
    if best is None or best.gain <= 0.0:
        return "nothing that can be done here helps"
    said = f"the best, {best.name}, {best.why}"
    if tree.standing_loss < LEAST_LOSS:
        return f"too little is at stake: {said}"
    return f"not yet: {said}" if best.gain > best.cost else f"nothing is worth its work: {said}"


def _spell_document(spell: Spell, tree: TreeOutlook, assessment: Assessment) -> SpellDocument:
    zone = ZoneInfo(assessment.garden.site.time_zone)
    act_by = tree.act_by if tree.act_by is not None else assessment.clock.now
    return SpellDocument(
        hazard=spell.hazard,
        starts=stamp(moment_of(spell.starts, zone)),
        ends=stamp(moment_of(spell.ends, zone)),
        peak_at=stamp(moment_of(spell.peak_at, zone)),
        peak=Quantity(spell.peak, spell.unit),
        limit=Quantity(spell.limit, UNITS[spell.hazard]),
        probability=spell.probability,
        damage=spell.damage,
        loss=spell.loss,
        severity=spell.severity,
        urgency=urgency_of(float((act_by - assessment.clock.now) / HOUR), bool(spell.ends <= assessment.clock.now)),
        certainty=spell.certainty,
        act_by=stamp(moment_of(act_by, zone)),
        undo_at=None if tree.undo_at is None else stamp(moment_of(tree.undo_at, zone)),
        measures=tuple(_measure_document(option, spell.hazard) for option in tree.options),
    )


def _measure_document(option: Option, hazard: str) -> MeasureDocument:
    return MeasureDocument(
        measure=option.name,
        damage=option.hazard_damage[hazard],
        loss=option.hazard_loss[hazard],
        probability=option.hazard_probability[hazard],
        effort_minutes=option.minutes,
        chosen=option.chosen,
        why=option.why,
    )
