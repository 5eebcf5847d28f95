"""`health`: whether the service's schedule moves, from the database alone; it is asked often, so it loads little."""

import sys
import tomllib
from collections.abc import Mapping
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from carewatch.config.find import named_config, usual_places
from carewatch.daemon.clock import ClockUnusable, clock_of
from carewatch.daemon.state import (
    BLIND_SINCE,
    COMPLETED_AT,
    CYCLE_FAILED,
    FILES_REFUSED,
    FILES_WAIT,
    REFRESH_MINUTES,
    STARTED_AT,
    moment,
)
from carewatch.sqlite.database import Database
from carewatch.sqlite.facts import all_facts
from carewatch.sqlite.refused import StoreRefused

FINE, FAILED, MISUSED = 0, 1, 2
# Two looks may be missed; and one may take a while. Estimate.
LOOKS = 2
SLACK = timedelta(minutes=15)
# A service that has just started fetches and judges before it has anything to show. Estimate.
FIRST_LOOK = timedelta(minutes=10)
# Of the configuration: config/settings.py, which is slow to load.
USUAL_DATABASE = "carewatch.sqlite"
USUAL_REFRESH_MINUTES = 60
DATABASE_VARIABLE = "CAREWATCH_STORAGE__PATH"


def health(explicit: str | None, environ: Mapping[str, str]) -> int:
    """0 when the schedule moves, 1 when it stands still, 2 when that cannot be found out."""
    try:
        now = clock_of(environ).now()
    except ClockUnusable as refused:
        return _said(f"{refused}.", MISUSED)
    config = named_config(explicit, environ) or next(filter(Path.is_file, usual_places(environ)), None)
    if config is None:
        return _said("No configuration was found; name it with --config.", MISUSED)
    try:
        path = _database(config, environ)
    except (OSError, ValueError) as refused:
        return _said(f"{config} cannot be read: {refused}.", MISUSED)
    try:
        with Database.open_for_reading(path, now) as database, database.snapshot(now) as snapshot:
            facts = all_facts(snapshot)
    except StoreRefused as refused:
        return _said(f"{refused.reason}.", FAILED)
    return _said(*state_of_health(facts, now))


def state_of_health(facts: Mapping[str, str], now: datetime) -> tuple[str, int]:
    """A sentence and the exit code. facts: of the database. now: aware."""
    started, completed = moment(facts, STARTED_AT), moment(facts, COMPLETED_AT)
    minutes = facts.get(REFRESH_MINUTES, "")
    # Besides, the garden is judged every hour.
    refresh = timedelta(minutes=max(60, int(minutes)) if minutes.isdigit() else USUAL_REFRESH_MINUTES)
    if completed is not None and -SLACK <= now - completed <= LOOKS * refresh + SLACK:
        blind = " The watch is blind: there is no usable forecast." if BLIND_SINCE in facts else ""
        failed = f" Not all went well: {facts[CYCLE_FAILED]}." if CYCLE_FAILED in facts else ""
        files = f" A change of the files is not in force: {facts[FILES_REFUSED]}." if FILES_REFUSED in facts else ""
        files += f" A change waits for the next start: {facts[FILES_WAIT]}." if FILES_WAIT in facts else ""
        return f"The schedule moves: the last look was {_ago(now - completed)} ago.{blind}{failed}{files}", FINE
    if started is not None and timedelta() <= now - started <= FIRST_LOOK:
        return f"The service started {_ago(now - started)} ago and has not looked yet.", FINE
    if completed is None:
        return "No look at the weather was completed yet, and no service has just started.", FAILED
    if completed > now:
        return "The schedule stands still: the last look lies ahead of this clock, which was set back.", FAILED
    return f"The schedule stands still: the last look was {_ago(now - completed)} ago.", FAILED


def _ago(passed: timedelta) -> str:
    minutes = max(0, round(passed.total_seconds() / 60))
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h"


def _database(config: Path, environ: Mapping[str, str]) -> Path:
    """Where the configuration says that the database lies. Raises OSError, ValueError."""
    content: dict[str, Any] = tomllib.loads(config.read_text(encoding="utf-8"))
    storage = content.get("storage")
    given = storage.get("path") if isinstance(storage, dict) else None
    over = next((value for name, value in environ.items() if name.upper() == DATABASE_VARIABLE and value), None)
    return config.absolute().parent / Path(over or str(given or USUAL_DATABASE)).expanduser()


def _said(text: str, code: int) -> int:
    (sys.stdout if code == FINE else sys.stderr).write(f"{text}\n")
    return code
