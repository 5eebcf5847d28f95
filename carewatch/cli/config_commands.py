"""`config check` and `config new`."""

import json
import sys
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from carewatch.cli.screen import console, error
from carewatch.config.entry_check import out_of_season_problem
from carewatch.config.load import find_config, load
from carewatch.config.problems import ConfigErrors, told_once
from carewatch.config.starter import starter_text
from carewatch.config.tables import load_tables

FINE, FAILED, MISUSED = 0, 1, 2


def check(explicit: str | None, environ: Mapping[str, str], now: datetime, as_json: bool) -> int:
    """Read the configuration and report every problem at once."""
    try:
        path = find_config(explicit, environ)
        loaded = load(path, environ, now, load_tables())
    except ConfigErrors as refused:
        if as_json:
            problems = [
                {
                    "file": problem.file,
                    "line": problem.line,
                    "key": problem.key,
                    "found": problem.found,
                    "accepted": problem.accepted,
                    "nearest": list(problem.nearest),
                    "what": problem.what,
                }
                for problem in refused.problems
            ]
            document = {"version": 1, "fine": False, "problems": problems, "warnings": list(refused.warnings)}
            sys.stdout.write(json.dumps(document, ensure_ascii=False, indent=2) + "\n")
        else:
            show_refusal(refused)
        return MISUSED
    odd = ((entry, out_of_season_problem(entry, loaded.garden, now)) for entry in loaded.garden.log)
    seen = [str(replace(problem, file=entry.origin, key="seen")) for entry, problem in odd if problem is not None]
    warnings = [*loaded.warnings, *seen]
    if as_json:
        document = {"version": 1, "fine": True, "problems": [], "warnings": warnings}
        sys.stdout.write(json.dumps(document, ensure_ascii=False, indent=2) + "\n")
        return FINE
    for warning in warnings:
        error(f"warning: {warning}")
    garden = loaded.garden
    trees, places = _counted(len(garden.trees), "tree"), _counted(len(garden.places), "place")
    console().print(f"{path}: fine. {trees} in {places}, {len(garden.log)} in the care log.", markup=False)
    return FINE


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def show_refusal(refused: ConfigErrors) -> None:
    """All problems of a configuration on standard error, one a line."""
    for line in told_once(refused.problems):
        error(line)
    for warning in refused.warnings:
        error(f"warning: {warning}")
    error(f"{_counted(len(refused.problems), 'problem')}; nothing was started and nothing was written.")


def new(file: str | None) -> int:
    """Write a first configuration to a new file, or to standard output."""
    text = starter_text()
    if file is None:
        sys.stdout.write(text)
        return FINE
    path = Path(file)
    try:
        with path.open("x", encoding="utf-8") as target:
            target.write(text)
    except FileExistsError:
        error(f"{path} exists already; nothing was written. Choose another name, or remove it first.")
        return MISUSED
    except OSError as refused:
        error(f"{path} cannot be written: {refused.strerror or refused}.")
        return FAILED
    console().print(
        f"{path} written. Set latitude, longitude and time zone, name your trees, then: carewatch config check "
        f"--config {path}",
        markup=False,
    )
    return FINE
