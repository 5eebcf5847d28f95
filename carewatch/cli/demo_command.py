"""`demo`: the invented garden in its two episodes, from forecast to message, offline."""

import sys
from dataclasses import dataclass
from datetime import datetime
from importlib.resources import as_file, files
from pathlib import Path
from zoneinfo import ZoneInfo

from carewatch.alerts.messages import call_message
from carewatch.alerts.wording import Message, clock_time, day_word, measure_name, undo
from carewatch.assess import Assessment
from carewatch.cli.documents import OutlookDocument, encoded, outlook_document
from carewatch.cli.paragraphs import hanging, wrapped
from carewatch.cli.reports import assessed
from carewatch.cli.screen import console, day_text, show_outlook
from carewatch.config.load import load
from carewatch.config.tables import load_tables
from carewatch.outcome import calls
from carewatch.weather_api.recorded import read_recorded

EPISODES = (
    ("autumn.toml", "A clear cold night in autumn"),
    ("summer.toml", "A dry, hot, windy week in early summer"),
)
WIDTH = 46
# Columns of the frame drawn round it.
FRAME = 6


@dataclass(frozen=True)
class EpisodeDocument:
    """One episode: its title, the outlook, and the message as it would arrive (null when nothing is to be done)."""

    episode: str
    outlook: OutlookDocument
    message: str | None


@dataclass(frozen=True)
class DemoDocument:
    """`demo --json`."""

    version: int
    invented: bool
    episodes: tuple[EpisodeDocument, ...]


def demo(as_json: bool) -> int:
    """Run both episodes and show everything that the service would find and say; nothing is sent."""
    with as_file(files("carewatch") / "demo") as folder:
        runs = [(title, _assessed(folder / name)) for name, title in EPISODES]
    if as_json:
        episodes = tuple(
            EpisodeDocument(title, outlook_document(assessment), _body(assessment)) for title, assessment in runs
        )
        sys.stdout.write(encoded(DemoDocument(1, True, episodes)) + "\n")
        return 0
    screen = console()
    screen.print("An invented garden with invented weather. Nothing is fetched, and nothing is sent.")
    for title, assessment in runs:
        _show(title, assessment)
    return 0


def _assessed(config_file: Path) -> Assessment:
    tables = load_tables()
    # The episode's own moment is the clock: its weather file says when it was issued.
    weather = {"autumn.toml": "cold-night.json", "summer.toml": "dry-week.json"}[config_file.name]
    raw = read_recorded(config_file.parent / weather)
    if raw.issued_at is None:
        raise ValueError(f"{weather} does not say when it was issued")
    garden = load(config_file, {}, raw.issued_at, tables).garden
    return assessed(garden, raw, tables, raw.issued_at)


def _local_now(assessment: Assessment) -> datetime:
    return assessment.now.astimezone(ZoneInfo(assessment.garden.site.time_zone))


def message_of(assessment: Assessment) -> Message | None:
    """The message that would go out for this assessment, or None when nothing is to be done."""
    wanted = [call for call in calls(assessment) if call.measure]
    return call_message(wanted, _local_now(assessment)) if wanted else None


def _body(assessment: Assessment) -> str | None:
    message = message_of(assessment)
    return message.body if message else None


def _show(title: str, assessment: Assessment) -> None:
    screen = console()
    screen.print()
    screen.rule(title, align="left", style="none", characters="=")
    show_outlook(outlook_document(assessment), calls(assessment))
    message = message_of(assessment)
    screen.print()
    if message is None:
        screen.print("No message: there is nothing to do.")
        return
    now = _local_now(assessment)
    screen.print(f"[bold]The message as it would arrive[/bold] ({day_text(now)} {clock_time(now)}), on a phone:")
    narrow = min(WIDTH, screen.width - FRAME)
    screen.print("  +" + "-" * (narrow + 2) + "+")
    for line in message.body.split("\n"):
        for part in _wrapped(line, narrow):
            screen.print(f"  | {part:<{narrow}} |", markup=False)
    screen.print("  +" + "-" * (narrow + 2) + "+")
    screen.print()
    screen.print("[bold]Undo[/bold]")
    for call in calls(assessment):
        if call.measure:
            when = undo(call.measure, call.undo_at, now) or f"over {day_word(call.spells[-1].ends, now)}"
            hanging(screen, f"{call.tree} ({measure_name(call.measure)}): {when}", 2)


def _wrapped(line: str, width: int) -> list[str]:
    return wrapped(line, width) or [""]
