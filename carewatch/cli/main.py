"""The command line: arguments, exit codes, and which command runs; heavy libraries load only when one does."""

import argparse
import os
import re
import sys
from collections.abc import Sequence
from functools import cache
from typing import NoReturn

from carewatch import __version__
from carewatch.cli import keeping, watching, whatif_arguments

# 0 fine, 1 failed, 2 wrong usage or configuration.
FINE, FAILED, MISUSED = 0, 1, 2
_NO_COMMAND = re.compile(r"^argument (?:COMMAND|check\|new): invalid choice: '(.*)' \(choose from (.*)\)$")
COMMA = re.compile(r"^(-\d+),(\d+)(?: ?°? ?C)?$")


class Parser(argparse.ArgumentParser):
    """A parser that answers a mistyped command with the near ones, in place of a list of all."""

    def error(self, message: str) -> NoReturn:
        """Say what is wrong, and end with the exit code for wrong usage."""
        found = _NO_COMMAND.search(message)
        if found is None:
            super().error(message)
        from carewatch.config.problems import nearest_names

        word, names = found.groups()
        near = nearest_names(word, re.findall(r"[\w-]+", names))
        hint = f"Did you mean {' or '.join(near)}?" if near else f"`{self.prog} --help` lists them all."
        self.exit(MISUSED, f"There is no command {word!r}. {hint}\n")


@cache
def parser() -> argparse.ArgumentParser:
    """The parser of all commands, made once."""
    shared = argparse.ArgumentParser(add_help=False)
    shared.add_argument(
        "--config", metavar="FILE", help="configuration (default: $CAREWATCH_CONFIG, ./config.toml, the config folder)"
    )
    at = argparse.ArgumentParser(add_help=False)
    at.add_argument("--at", metavar="TIME", help="judge as of this moment: ISO 8601, site time unless it has an offset")
    as_json = argparse.ArgumentParser(add_help=False)
    as_json.add_argument("--json", action="store_true", help="one JSON document on standard output, nothing else")

    top: argparse.ArgumentParser = Parser(
        prog="carewatch",
        description="Watches the weather for each small container tree; says what to do, by when, and when to undo it.",
    )
    top.add_argument("--version", action="version", version=f"carewatch {__version__}")
    commands = top.add_subparsers(dest="command", metavar="COMMAND", required=True)

    outlook = commands.add_parser(
        "outlook", parents=[shared, at, as_json], help="what each tree will feel, and the dangers found"
    )
    outlook.add_argument("tree", nargs="?", metavar="TREE", help="only this tree")
    explain = commands.add_parser(
        "explain", parents=[shared, at, as_json], help="every number behind a tree's outlook, with its source"
    )
    explain.add_argument("tree", metavar="TREE")
    explain.add_argument("--plot", metavar="FILE", help="draw its recovery as a picture: an SVG file, overwritten")
    tasks = commands.add_parser(
        "tasks",
        parents=[shared, at, as_json],
        help="the long clock: what is due when, why, what moves it, and the kindest days",
    )
    tasks.add_argument("tree", nargs="?", metavar="TREE", help="only this tree, with its fragility month by month")
    tasks.add_argument(
        "--months", type=int, default=14, metavar="N", help="how many months of it (1 to 18; default 14)"
    )
    commands.add_parser("demo", parents=[as_json], help="an invented garden in two episodes, offline, nothing is sent")
    config = commands.add_parser("config", help="check the configuration, or start one")
    config_commands = config.add_subparsers(dest="config_command", metavar="check|new", required=True)
    config_commands.add_parser("check", parents=[shared, as_json], help="read it and report every problem at once")
    new = config_commands.add_parser("new", help="write a first configuration to fill in")
    new.add_argument("file", nargs="?", metavar="FILE", help="where to (default: standard output)")
    whatif_arguments.add_command(commands, shared, at, as_json)
    keeping.add_commands(commands, shared, at, as_json)
    watching.add_commands(commands, shared, as_json)
    return top


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code."""
    given = sys.argv[1:] if arguments is None else list(arguments)
    if given[:1] == ["reading"]:
        # A minus before a decimal comma reads as an option otherwise.
        given = [COMMA.sub(r"\1.\2", word) for word in given]
    try:
        options = parser().parse_args(given)
    except SystemExit as stop:
        return stop.code if isinstance(stop.code, int) else MISUSED
    try:
        return _run(options)
    except BrokenPipeError:
        # The reader went away (a pager, head): not an error of ours, and nothing may be written at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FINE
    except KeyboardInterrupt:
        return FAILED


def _run(options: argparse.Namespace) -> int:
    if options.command in watching.COMMANDS:
        return watching.run(options, os.environ)

    from carewatch.daemon.clock import ClockUnusable, clock_of

    try:
        now = clock_of(os.environ).now()
    except ClockUnusable as refused:
        sys.stderr.write(f"{refused}\n")
        return MISUSED
    if options.command in keeping.COMMANDS:
        return keeping.run(options, os.environ, now)

    if options.command == whatif_arguments.COMMAND:
        return whatif_arguments.run(options, os.environ, now)

    from carewatch.cli import config_commands, demo_command, reports

    if options.command == "config":
        if options.config_command == "new":
            return config_commands.new(options.file)
        return config_commands.check(options.config, os.environ, now, options.json)
    if options.command == "demo":
        return demo_command.demo(options.json)
    if options.command == "outlook":
        return reports.outlook(options.config, options.tree, options.at, os.environ, now, options.json)
    if options.command == "tasks":
        from carewatch.cli import tasks_command

        asked = tasks_command.TasksOptions(options.tree, options.months, options.at, options.json)
        return tasks_command.tasks(options.config, asked, os.environ, now)
    return reports.explain(options.config, options.tree, options.at, os.environ, now, options.json, options.plot)
