"""What reporting commands print for a person: narrow enough for a phone's terminal, never by colour alone."""

import sys
import textwrap
from collections.abc import Sequence
from datetime import datetime

from rich.console import Console
from rich.markup import escape
from rich.text import Text

from carewatch.alerts.call import TreeCall
from carewatch.alerts.wording import chance, clock_time, day_word, exact, hazard_name, quantity, undo
from carewatch.cli.documents import ForecastDocument, OutlookDocument, TreeDocument
from carewatch.cli.explain import ExplainDocument
from carewatch.cli.hazard_steps import Step
from carewatch.forecast.credits import CREDITS, NAMES

WIDEST = 100


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
    screen.print(f"[bold]{escape(document.site.name)}[/bold], {day_text(now)} {clock_time(now)}")
    screen.print(_basis(document.forecast))
    by_tree = {call.tree: call for call in calls}
    danger = [tree for tree in document.trees if tree.spells]
    for tree in danger:
        screen.print()
        show_tree(screen, tree, by_tree[tree.tree], now)
    peace = [tree for tree in document.trees if not tree.spells]
    if peace:
        screen.print()
        screen.print("[bold]Left in peace[/bold] (nothing passes what they can stand)")
        for tree in peace:
            screen.print(Text(f"  {tree.tree}: {tree.species}, {tree.place}, {tree.stage}"))
    show_gaps(screen, document.forecast)
    for tree in document.trees:
        for note in tree.notes:
            screen.print(Text(f"{tree.tree}: {note}"))


def day_text(day: datetime) -> str:
    """Weekday and date."""
    return f"{day:%a} {day.day} {day:%b %Y}"


def _basis(forecast: ForecastDocument) -> str:
    kind = "members of an ensemble" if forecast.members_from == "ensemble" else "likely courses around one forecast"
    age = f"{forecast.age_hours:.0f} h old"
    source = NAMES.get(forecast.source, forecast.source)
    return f"{forecast.hours} hours ahead, {forecast.members} {kind} ({source}, {age})"


def show_tree(screen: Console, tree: TreeDocument, call: TreeCall, now: datetime) -> None:
    """One tree in danger: what it is, each spell, the measure and what was weighed."""
    fragility = tree.fragility
    screen.print(f"[bold]{escape(tree.tree)}[/bold]  {escape(tree.species)}, {escape(tree.place)}, {tree.stage}")
    screen.print(
        f"  roots supply {fragility.root_supply:.0%}, hold {fragility.anchorage:.0%}"
        f"{' (tied)' if fragility.tied else ''}, young roots {fragility.young_roots:.0%},"
        f" leaf {fragility.leaf_area:.0%}"
    )
    for spell, facts in zip(tree.spells, call.spells, strict=True):
        starts, ends = facts.starts, facts.ends
        until = clock_time(ends) if ends.date() == starts.date() else f"{day_word(ends, now)} {clock_time(ends)}"
        screen.print(
            f"  [bold]{hazard_name(facts)}[/bold] {day_word(starts, now)} {clock_time(starts)} to {until}: "
            f"{quantity(facts.peak, facts.unit)}, bears {exact(facts.limit, facts.unit)}; "
            f"{chance(facts.probability)}; {spell.severity.lower()}: {facts.loss_if:.0%} of the tree if it comes"
        )
    if call.measure:
        screen.print(
            f"  -> [bold]{escape(call.measure)}[/bold] by {day_word(call.act_by, now)} {clock_time(call.act_by)}: "
            f"{escape(call.why)}. {undo(call.measure, call.undo_at, now)}"
        )
    else:
        screen.print(Text(f"  -> {tree.call.why}"))
    if tree.call.measure and tree.call.displaced:
        screen.print(Text(f"     not {tree.call.displaced.measure}: {tree.call.displaced.why}"))
    weighed = [option for option in tree.spells[0].measures if not option.chosen][:3]
    for option in weighed:
        screen.print(Text(f"     not {option.measure}: {option.why}"))


def show_gaps(screen: Console, forecast: ForecastDocument) -> None:
    """What the forecast lacks and what was put in its place."""
    for title, lines in (
        ("Missing in the forecast", forecast.missing),
        ("Estimated", forecast.estimated),
        ("Assumed", forecast.assumed),
        ("Notes", forecast.notes),
    ):
        if lines:
            screen.print()
            screen.print(f"[bold]{title}[/bold]")
            for line in lines:
                screen.print(Text(f"  {line}"))
    shortened = {name: hours for name, hours in forecast.hours_judged.items() if hours < forecast.hours}
    for name, hours in shortened.items():
        screen.print(Text(f"  {name} is judged for the first {hours} hours only: unknown is not harmless."))
    if forecast.source in CREDITS:
        screen.print()
        screen.print(Text(CREDITS[forecast.source], style="dim"))


def show_explain(document: ExplainDocument) -> None:
    """Every number on the way from the forecast to the loss, with its source."""
    screen = console()
    tree = document.tree
    at = moment(document.hour)
    screen.print(f"[bold]{escape(tree.tree)}[/bold]  {escape(tree.species)}, {escape(tree.place)}, {tree.stage}")
    screen.print(f"Numbers of {day_text(at)} {clock_time(at)}, the hour that tells most; medians of the members.")
    for note in tree.notes:
        screen.print(Text(note))
    for work in document.works:
        screen.print(
            Text(
                f"  {work.on} {work.work}, {work.days} days ago: supply {work.root_supply:.2f}, hold "
                f"{work.anchorage:.2f}, young roots {work.young_roots:.2f} after {work.thermal_time:.0f} °C·d"
            )
        )
    group = ""
    for step in document.steps:
        if step.step != group:
            group = step.step
            screen.print()
            screen.print(Text(group, style="bold"))
        screen.print(Text(f"  {step.quantity}: ") + _value(step))
        for line in textwrap.wrap(step.source, screen.width - 6):
            screen.print(Text("      " + line, style="dim"))
    show_gaps(screen, document.forecast)


def _value(step: Step) -> Text:
    if step.value is None:
        return Text("-")
    if isinstance(step.value, str):
        return Text(step.value, overflow="fold")
    unit = "" if step.unit in ("-", "0-1") else f" {step.unit}"
    digits = 0 if abs(step.value) >= 100 else 1 if abs(step.value) >= 10 else 2
    return Text(f"{step.value:.{digits}f}{unit}".replace("-", "−", 1))
