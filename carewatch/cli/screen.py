"""What reporting commands print for a person: narrow enough for a phone's terminal, never by colour alone."""

import sys
from collections.abc import Sequence
from datetime import datetime

from rich.console import Console
from rich.markup import escape
from rich.text import Text

from carewatch.alerts.call import TreeCall
from carewatch.alerts.wording import (
    chance,
    clock_time,
    day_word,
    exact,
    hazard_name,
    measure_name,
    quantity,
    undo,
)
from carewatch.cli.documents import ForecastDocument, OutlookDocument, TreeDocument
from carewatch.cli.explain import ExplainDocument
from carewatch.cli.hazard_steps import Step
from carewatch.cli.paragraphs import hanging, wrapped
from carewatch.cli.weather_words import gaps_of
from carewatch.forecast.credits import CREDITS, NAMES

WIDEST = 100
# A forecast of less is told in hours.
LEAST_DAYS = 2


def console() -> Console:
    """Standard output, at most WIDEST columns; the reader's terminal decides on colour."""
    screen = Console(file=sys.stdout, highlight=False)
    if screen.width > WIDEST:
        screen = Console(file=sys.stdout, highlight=False, width=WIDEST)
    return screen


def error(text: str) -> None:
    """A line for a person on standard error."""
    Console(file=sys.stderr, highlight=False, soft_wrap=True).print(escape(text))


def moment(text: str) -> datetime:
    """A moment of a document."""
    return datetime.fromisoformat(text)


def show_outlook(document: OutlookDocument, calls: Sequence[TreeCall]) -> None:
    """The outlook of every tree: those in danger first, then who is left in peace, then what the forecast lacks."""
    screen = console()
    now = moment(document.at)
    name = document.site.name
    hanging(screen, f"{name}, {day_text(now)} {clock_time(now)}", bold=name)
    hanging(screen, _basis(document.forecast))
    by_tree = {call.tree: call for call in calls}
    danger = [tree for tree in document.trees if tree.spells]
    for tree in danger:
        screen.print()
        show_tree(screen, tree, by_tree[tree.tree], now)
    peace = [tree for tree in document.trees if not tree.spells]
    if peace:
        screen.print()
        hanging(screen, "Left in peace (nothing passes what they can stand)", bold="Left in peace")
        for tree in peace:
            hanging(screen, f"{tree.tree}: {tree.species}, {tree.place}, {tree.stage}", 2)
    said = [f"{tree.tree}: {note}" for tree in document.trees for note in tree.notes]
    show_gaps(screen, document.forecast, document.trees[0].tree if document.trees else "TREE", said)


def day_text(day: datetime) -> str:
    """Weekday and date."""
    return f"{day:%a} {day.day} {day:%b %Y}"


def _basis(forecast: ForecastDocument) -> str:
    kind = "members of an ensemble" if forecast.members_from == "ensemble" else "likely courses around one forecast"
    age = f"{forecast.age_hours:.0f} h old"
    source = NAMES.get(forecast.source, forecast.source)
    days = forecast.hours / 24
    ahead = f"{days:.3g} days" if days >= LEAST_DAYS else f"{forecast.hours} hours"
    return f"{ahead} ahead, {forecast.members} {kind} ({source}, {age})"


def show_tree(screen: Console, tree: TreeDocument, call: TreeCall, now: datetime) -> None:
    """One tree in danger: what it is, each spell, the measure and what was weighed."""
    fragility = tree.fragility
    hanging(screen, f"{tree.tree}  {tree.species}, {tree.place}, {tree.stage}", bold=tree.tree)
    hanging(
        screen,
        f"roots supply {_per_cent(fragility.root_supply)}, hold {_per_cent(fragility.anchorage)}"
        f"{' (tied)' if fragility.tied else ''}, young roots {_per_cent(fragility.young_roots)},"
        f" leaf {_per_cent(fragility.leaf_area)}",
        2,
    )
    for spell, facts in zip(tree.spells, call.spells, strict=True):
        starts, ends = facts.starts, facts.ends
        until = clock_time(ends) if ends.date() == starts.date() else f"{day_word(ends, now)} {clock_time(ends)}"
        name = hazard_name(facts)
        hanging(
            screen,
            f"{name} {day_word(starts, now)} {clock_time(starts)} to {until}: "
            f"{quantity(facts.peak, facts.unit)}, bears {exact(facts.limit, facts.unit)}; "
            f"{chance(facts.probability)}; {spell.severity.lower()}: "
            f"{_per_cent(facts.loss_if)} of the tree if it comes",
            2,
            name,
        )
    if call.measure:
        name = measure_name(call.measure)
        hanging(
            screen,
            f"-> {name} by {day_word(call.act_by, now)} {clock_time(call.act_by)}: "
            f"{call.why}. {undo(call.measure, call.undo_at, now)}",
            2,
            f"-> {name}",
        )
    else:
        hanging(screen, f"-> {tree.call.why}", 2)
    if tree.call.measure and tree.call.displaced:
        hanging(screen, f"not {measure_name(tree.call.displaced.measure)}: {tree.call.displaced.why}", 5)
    weighed = [option for option in tree.spells[0].measures if not option.chosen][:3]
    for option in weighed:
        hanging(screen, f"not {measure_name(option.measure)}: {option.why}", 5)


def _per_cent(share: float) -> str:
    return f"{share * 100:.0f} %"


def show_gaps(screen: Console, forecast: ForecastDocument, tree: str, assumed: Sequence[str] = ()) -> None:
    """
    What the forecast lacks and what was taken instead, as far as it matters to a grower.

    tree: of which `explain` tells the rest; assumed: of trees, besides what the forecast's past needs.
    """
    gaps = gaps_of(forecast)
    for title, lines in (
        ("What the forecast does not tell", (*gaps.lacks, *gaps.unjudged)),
        ("Taken for granted", (*forecast.assumed, *assumed)),
    ):
        if lines:
            screen.print()
            screen.print(f"[bold]{title}[/bold]")
            for line in lines:
                hanging(screen, line, 2)
    if gaps.more:
        screen.print()
        hanging(screen, f"How the forecast was read: carewatch explain {tree}", style="dim")
    _show_credit(screen, forecast)


def _show_credit(screen: Console, forecast: ForecastDocument) -> None:
    if forecast.source in CREDITS:
        screen.print()
        hanging(screen, CREDITS[forecast.source], style="dim")


def show_every_gap(screen: Console, forecast: ForecastDocument) -> None:
    """What the forecast lacks and what was put in its place, every remark as it was made."""
    for title, lines in (
        ("Missing in the forecast", forecast.missing),
        ("Estimated", forecast.estimated),
        ("Assumed", forecast.assumed),
        ("Notes", forecast.notes),
        ("Not judged", gaps_of(forecast).unjudged),
    ):
        if lines:
            screen.print()
            screen.print(f"[bold]{title}[/bold]")
            for line in lines:
                hanging(screen, line, 2)
    _show_credit(screen, forecast)


def show_explain(document: ExplainDocument) -> None:
    """Every number on the way from the forecast to the loss, with its source."""
    screen = console()
    tree = document.tree
    at = moment(document.hour)
    hanging(screen, f"{tree.tree}  {tree.species}, {tree.place}, {tree.stage}", bold=tree.tree)
    hanging(screen, f"Numbers of {day_text(at)} {clock_time(at)}, the hour that tells most; medians of the members.")
    for note in tree.notes:
        hanging(screen, note)
    for work in document.works:
        ago = f"{work.days} day{'' if work.days == 1 else 's'} ago"
        hanging(
            screen,
            f"{work.on} {work.work}, {ago}: supply {work.root_supply:.2f}, hold "
            f"{work.anchorage:.2f}, young roots {work.young_roots:.2f} after {work.thermal_time:.0f} °C·d",
            2,
        )
    group = ""
    for step in document.steps:
        if step.step != group:
            group = step.step
            screen.print()
            screen.print(Text(group, style="bold"))
        hanging(screen, f"{step.quantity}: {_value(step)}", 2)
        for line in wrapped(step.source, screen.width - 6):
            screen.print(Text("      " + line, style="dim"))
    show_every_gap(screen, document.forecast)


def _value(step: Step) -> str:
    if step.value is None:
        return "-"
    if isinstance(step.value, str):
        return step.value
    unit = "" if step.unit in ("-", "0-1") else f" {step.unit}"
    digits = 0 if abs(step.value) >= 100 else 1 if abs(step.value) >= 10 else 2
    return f"{step.value:.{digits}f}{unit}".replace("-", "−", 1)
