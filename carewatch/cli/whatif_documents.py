"""What `whatif` prints: the answer as JSON, and narrow enough for a phone's terminal."""

from collections.abc import Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from rich.console import Console
from rich.text import Text

from carewatch.alerts.call import SpellFacts
from carewatch.alerts.meaning import described
from carewatch.alerts.wording import DAYS, MONTHS, clock_time, listed
from carewatch.cli.documents import (
    DOCUMENT_VERSION,
    ForecastDocument,
    Quantity,
    SiteDocument,
    forecast_document,
    site_document,
    stamp,
)
from carewatch.cli.paragraphs import hanging
from carewatch.cli.screen import console, day_text, moment, show_gaps
from carewatch.whatif.gates import Barrier, month_of
from carewatch.whatif.kindest import Day, Whatif
from carewatch.whatif.said import share

REASON_INDENT = 3
# What a tree would lose without the work is said from one per cent on. [0-1]
WORTH_SAYING = 0.01


@dataclass(frozen=True)
class BarrierDocument:
    """Why a work is not right."""

    kind: str
    why: str
    source: str


@dataclass(frozen=True)
class FearedDocument:
    """A hazard beyond what the tree could stand after the work."""

    hazard: str
    organ: str
    starts: str
    ends: str
    peak_at: str
    peak: Quantity
    limit: Quantity
    probability: float
    damage: float
    loss: float
    severity: str
    certainty: str


@dataclass(frozen=True)
class DayDocument:
    """One coming day; rank and losses are null where the work is barred on it."""

    day: str
    at: str
    rank: int | None
    verdict: str
    expected_loss: float | None
    expected_loss_without: float | None
    by_hazard: Mapping[str, float]
    why: str
    unfit: str | None
    remark: str | None
    barriers: tuple[BarrierDocument, ...]
    spells: tuple[FearedDocument, ...]


@dataclass(frozen=True)
class WhatifDocument:
    """`whatif --json`."""

    version: int
    site: SiteDocument
    at: str
    forecast: ForecastDocument
    tree: str
    species: str
    place: str
    stage: str
    stage_basis: str
    work: str
    described: str
    aftercare: tuple[str, ...]
    right: bool
    barriers: tuple[BarrierDocument, ...]
    opens: str | None
    told: str
    every_day: tuple[str, ...]
    weeks: int
    afterwards: str
    afterwards_from: str | None
    days: tuple[DayDocument, ...]


def whatif_document(answer: Whatif, aftercare: tuple[str, ...]) -> WhatifDocument:
    """The answer as it is printed; aftercare: measures that would be taken with the work."""
    basis, condition = answer.basis, answer.condition
    zone = ZoneInfo(basis.garden.site.time_zone)
    return WhatifDocument(
        version=DOCUMENT_VERSION,
        site=site_document(basis),
        at=stamp(basis.now.astimezone(zone)),
        forecast=forecast_document(basis),
        tree=condition.tree.id,
        species=condition.tree.species.asked_for,
        place=condition.place,
        stage=condition.stage,
        stage_basis=condition.stage_basis,
        work=answer.work.work,
        described=described(answer.work),
        aftercare=aftercare,
        right=bool(answer.days),
        barriers=_barriers(answer.barriers),
        opens=None if answer.opens is None else answer.opens.isoformat(),
        told=answer.told,
        every_day=answer.every_day,
        weeks=answer.weeks,
        afterwards=answer.afterwards,
        afterwards_from=answer.afterwards_kind or None,
        days=tuple(_day_document(day) for day in answer.days),
    )


def _barriers(barriers: tuple[Barrier, ...]) -> tuple[BarrierDocument, ...]:
    return tuple(BarrierDocument(each.kind, each.why, each.source) for each in barriers)


def _day_document(day: Day) -> DayDocument:
    return DayDocument(
        day=day.at.date().isoformat(),
        at=stamp(day.at),
        rank=day.rank,
        verdict=day.verdict,
        expected_loss=day.loss,
        expected_loss_without=day.without,
        by_hazard=day.by_hazard,
        why=day.why,
        unfit=day.unfit or None,
        remark=day.remark or None,
        barriers=_barriers(day.barriers),
        spells=tuple(_feared_document(spell) for spell in day.spells),
    )


def _feared_document(spell: SpellFacts) -> FearedDocument:
    return FearedDocument(
        hazard=spell.hazard,
        organ=spell.organ,
        starts=stamp(spell.starts),
        ends=stamp(spell.ends),
        peak_at=stamp(spell.peak_at),
        peak=Quantity(spell.peak, spell.unit),
        limit=Quantity(spell.limit, spell.unit),
        probability=spell.probability,
        damage=spell.damage,
        loss=spell.loss,
        severity=spell.severity,
        certainty=spell.certainty,
    )


def show_whatif(document: WhatifDocument) -> None:
    """The answer for a person: what it comes to, then every day with its reason, then what it rests on."""
    screen = console()
    now = moment(document.at)
    head = f"{document.tree}  {document.species}, {document.place}, {document.stage}"
    hanging(screen, head, bold=document.tree)
    care = f", with {listed(document.aftercare)}" if document.aftercare else ""
    hanging(screen, f"{document.described}{care}, asked {day_text(now)} {clock_time(now)}")
    screen.print()
    hanging(screen, document.told, style="bold")
    if not document.right:
        for barrier in document.barriers:
            hanging(screen, f"{barrier.why} [{barrier.source}]")
        if len(document.barriers) > 1:
            hanging(screen, _all_clear(document))
        stage = f"Stage {document.stage_basis}; what you see on the tree goes before: log it."
        hanging(screen, stage, style="dim")
        return
    remarks = {day.remark for day in document.days}
    alike = remarks.pop() if len(remarks) == 1 else None
    for line in filter(None, (*document.every_day, alike)):
        hanging(screen, line)
    for day in document.days:
        screen.print()
        _show_day(screen, day, alike)
    screen.print()
    hanging(screen, f"Noon of each day is judged, over {document.weeks} weeks. {document.afterwards}", style="dim")
    show_gaps(screen, document.forecast, document.tree)


def _all_clear(document: WhatifDocument) -> str:
    if document.opens is None:
        return "No day in sight has all of it behind it."
    at = moment(document.opens).date()
    return f"All of it is past from about {month_of(at)} on."


def _show_day(screen: Console, day: DayDocument, said: str | None) -> None:
    """One day; said: a remark that stands above all days already."""
    at = moment(day.at)
    rank = "–" if day.rank is None else f"{day.rank}."
    name = f"{rank:<3}{DAYS[at.weekday()]} {at.day} {MONTHS[at.month - 1]}"
    cost = "" if day.expected_loss is None else f"  {share(day.expected_loss)}"
    screen.print(Text.assemble((name, "bold"), f"  {day.verdict}{cost}"))
    without = day.expected_loss_without or 0.0
    beside = f"{share(without)} would be lost without the work too." if without >= WORTH_SAYING else ""
    for line in filter(None, (day.unfit, day.why, beside, None if day.remark == said else day.remark)):
        hanging(screen, line, REASON_INDENT)
