"""Arguments of the commands that watch, and which function runs each; nothing heavy loads before."""

import argparse
from collections.abc import Mapping

COMMANDS = ("run", "once", "history", "health")


def add_commands(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
    shared: argparse.ArgumentParser,
    as_json: argparse.ArgumentParser,
) -> None:
    """Add these commands to the parser. shared, as_json: parents with --config and --json."""
    commands.add_parser(
        "run", parents=[shared], help="the service: watch the weather, judge, send, until it is stopped"
    )
    once = commands.add_parser(
        "once", parents=[shared, as_json], help="one cycle, then exit: look, judge, send what is due"
    )
    once.add_argument(
        "--at", metavar="TIME", help="as if it were this moment: ISO 8601, site time unless it has an offset"
    )
    once.add_argument("--dry-run", action="store_true", help="say what would be sent, write nothing and send nothing")
    history = commands.add_parser(
        "history", parents=[shared, as_json], help="the record of past weather: from when to when, from where, its gaps"
    )
    history.add_argument("--fetch", action="store_true", help="ask the archive for what is missing")
    history.add_argument("--dry-run", action="store_true", help="with --fetch: say what would be asked for")
    commands.add_parser("health", parents=[shared], help="whether the service's schedule moves: exit code 0 or 1")


def run(options: argparse.Namespace, environ: Mapping[str, str]) -> int:
    """Run one of these commands; returns the exit code."""
    if options.command == "health":
        from carewatch.cli import health_command

        return health_command.health(options.config, environ)
    if options.command == "run":
        from carewatch.cli import run_command

        return run_command.run(options.config, environ)
    if options.command == "history":
        from carewatch.cli import history_command

        return history_command.history(options.config, options.fetch, options.dry_run, environ, options.json)
    from carewatch.cli import once_command

    return once_command.once(options.config, options.at, environ, options.dry_run, options.json)
