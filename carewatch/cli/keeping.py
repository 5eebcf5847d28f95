"""Arguments of the commands that keep the garden's books, and which function runs each; nothing heavy loads before."""

import argparse
from collections.abc import Mapping
from datetime import datetime

COMMANDS = ("log", "reading", "answer", "rounds", "notify", "backup", "restore", "export", "import")
# As in alerts.danger and care.log, which this module does not load: help must be quick.
ANSWERS = ("done", "skip", "later", "hang", "firm")
ROOTS = ("sparse", "fair", "dense")


def add_commands(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
    shared: argparse.ArgumentParser,
    at: argparse.ArgumentParser,
    as_json: argparse.ArgumentParser,
) -> None:
    """Add these commands to the parser. shared, at, as_json: parents with --config, --at and --json."""
    dry = argparse.ArgumentParser(add_help=False)
    dry.add_argument(
        "--dry-run", action="store_true", help="check everything and say what would be done, write nothing"
    )
    acting = [shared, dry, as_json]

    _add_log(commands, acting)

    reading = commands.add_parser("reading", parents=acting, help="keep what a thermometer showed at a place")
    reading.add_argument("place", metavar="PLACE")
    reading.add_argument(
        "value", metavar="VALUE", help="degrees Celsius, such as -3.5; or: show, strike NUMBER, amend NUMBER VALUE"
    )
    reading.add_argument("number", nargs="?", metavar="NUMBER")
    reading.add_argument("corrected", nargs="?", metavar="VALUE")
    reading.add_argument(
        "--at", "--on", metavar="TIME", help="when it was read: ISO 8601, site time unless it has an offset"
    )
    reading.add_argument("--all", action="store_true", help="show: struck and corrected readings too")

    answer = commands.add_parser("answer", parents=acting, help="answer a notice: done, skip, later, hang or firm")
    answer.add_argument("--token", metavar="TOKEN", help="instead of NOTICE: what stands at the end of an answer link")
    answer.add_argument(
        "words",
        nargs="*",
        metavar="NOTICE [TREE ...] " + "|".join(ANSWERS),
        help='id of the notice, the beginning of it, or "last"; only for these trees; the answer. Without a word: the '
        "notices that can be answered",
    )

    rounds = commands.add_parser("rounds", parents=[shared, at, as_json], help="what to do today, place by place")
    rounds.add_argument(
        "--for-helper", action="store_true", help="a page for whoever looks after the trees while nobody is there"
    )

    notify = commands.add_parser("notify", help="try the ways in which messages reach you")
    notify_commands = notify.add_subparsers(dest="notify_command", metavar="test", required=True)
    test = notify_commands.add_parser(
        "test", parents=acting, help="send a test notice and say what each channel answers"
    )
    test.add_argument("name", nargs="?", metavar="NAME", help="only on this channel")

    for name, what, help_text in (
        ("backup", "FILE", "write a whole copy of the database to a file"),
        ("restore", "FILE", "put a backup in the place of the database"),
        ("export", "DIR", "write care log and readings as plain files"),
        ("import", "DIR|FILE", "read the files of export back, or the [[tree.work]] of a TOML file"),
    ):
        commands.add_parser(name, parents=acting, help=help_text).add_argument("target", metavar=what)


def _add_log(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]", acting: list[argparse.ArgumentParser]
) -> None:
    log = commands.add_parser("log", parents=acting, help="write down what was done to a tree or seen on it")
    log.add_argument("tree", metavar="TREE")
    log.add_argument(
        "work",
        nargs="?",
        default="show",
        metavar="WORK",
        help="a work, or: move, water, observe SEEN, begin|end MEASURE, checked|put-off TASK, show (default), strike "
        "NUMBER, amend NUMBER",
    )
    log.add_argument("word", nargs="?", metavar="SEEN|MEASURE|TASK|NUMBER")
    log.add_argument("second", nargs="?", metavar="SEEN|MEASURE")
    log.add_argument("--on", metavar="DATE", help="a date, or a date and time in site time (default: now)")
    log.add_argument("--roots", metavar="|".join(ROOTS), help="how many roots a severed layer had")
    flag = argparse.BooleanOptionalAction
    log.add_argument("--roots-worked", action=flag, help="the roots were combed out or cut")
    log.add_argument("--removed", metavar="SHARE", help="share of roots, leaves or crown taken away, such as 0.3")
    log.add_argument("--tied", action=flag, help="the trunk is tied to the pot and the pot stands fast")
    log.add_argument("--paste", action=flag, help="cuts were sealed")
    log.add_argument("--branch", metavar="NAME", help='which branch, by a name of yours, or "trunk"')
    log.add_argument("--gauge", metavar="MM", help="wire, bend: thickness of the wire")
    log.add_argument(
        "--due",
        metavar="DATE",
        help="sacrifice: when it is to go (default: late summer of the next year); put-off: until when (default: two "
        "weeks)",
    )
    log.add_argument(
        "--other-tree", metavar="ID", help="sever-layer: taken from this tree; cut-off: it is this tree now"
    )
    log.add_argument("--to", metavar="PLACE", help="where a tree was moved to")
    log.add_argument("--note", metavar="TEXT")
    log.add_argument("--all", action="store_true", help="show: struck and corrected entries too")
    log.add_argument("--sure", action="store_true", help="it is so, though the rest of the log speaks against it")
    new = log.add_argument_group("sever-layer", "a layer that becomes a tree of its own in the garden file")
    new.add_argument("--new", metavar="ID", help="id of the new tree; TREE is the old one")
    new.add_argument("--pot", metavar="SIZE", help='its pot: litres or "22x18x12" in cm, then material and colour')
    new.add_argument("--place", metavar="PLACE", help="where it stands (default: with the old tree)")
    new.add_argument("--height", metavar="CM", help="its height above the pot")
    new.add_argument("--crown", metavar="CM", help="the width of its crown")
    new.add_argument("--taken", metavar="SHARE", help="share of the old tree's crown that went with it")


def run(options: argparse.Namespace, environ: Mapping[str, str], now: datetime) -> int:
    """Run one of these commands; returns the exit code."""
    dry_run, as_json = getattr(options, "dry_run", False), options.json
    if options.command == "log":
        from carewatch.cli import log_checks, log_command

        return log_command.log(
            options.config,
            log_checks.LogOptions(
                tree=options.tree,
                work=options.work,
                word=options.word,
                second=options.second,
                given=_given(options),
                new=_new(options),
                taken=options.taken,
                everything=options.all,
                sure=options.sure,
                dry_run=dry_run,
                as_json=as_json,
            ),
            environ,
            now,
        )
    if options.command == "reading":
        from carewatch.cli import reading_command

        return reading_command.reading(
            options.config,
            reading_command.ReadingOptions(
                place=options.place,
                value=options.value,
                number=options.number,
                corrected=options.corrected,
                at=options.at,
                everything=options.all,
                dry_run=dry_run,
                as_json=as_json,
            ),
            environ,
            now,
        )
    if options.command == "answer":
        from carewatch.cli import answer_command
        from carewatch.cli.reports import MISUSED
        from carewatch.cli.screen import error

        words: list[str] = options.words
        if not words and options.token is None:
            return answer_command.answerable(options.config, environ, now, as_json)
        if not words or words[-1] not in ANSWERS:
            no_answer = f"{words[-1]!r} is no answer. " if words else ""
            error(f"{no_answer}Say at the end what it is: {', '.join(ANSWERS[:-1])} or {ANSWERS[-1]}.")
            return MISUSED
        *before, said = words
        if options.token is not None:
            return answer_command.answer_with_token(
                options.config, options.token, before, said, environ, now, dry_run, as_json
            )
        if not before:
            error('Which notice? Give its id, the beginning of it, or "last"; `carewatch answer` shows them.')
            return MISUSED
        return answer_command.answer(options.config, before[0], before[1:], said, environ, now, dry_run, as_json)
    if options.command == "rounds":
        from carewatch.cli import rounds_command

        return rounds_command.rounds(options.config, options.at, environ, now, as_json, options.for_helper)
    if options.command == "notify":
        from carewatch.cli import notify_command

        return notify_command.test(options.config, options.name, environ, now, dry_run, as_json)
    if options.command == "import":
        from carewatch.cli import import_command

        return import_command.import_from(options.config, options.target, environ, now, dry_run, as_json)
    from carewatch.cli import store_commands

    command = {
        "backup": store_commands.backup,
        "restore": store_commands.restore,
        "export": store_commands.export,
    }[options.command]
    return command(options.config, options.target, environ, now, dry_run, as_json)


def _given(options: argparse.Namespace) -> dict[str, object]:
    """What was said after `log` beyond the kind of entry, by the names that the configuration has for it."""
    said = {
        "on": options.on,
        "roots": options.roots,
        "roots_worked": options.roots_worked,
        "removed": options.removed,
        "tied": options.tied,
        "paste": options.paste,
        "branch": options.branch,
        "gauge_mm": options.gauge,
        "due": options.due,
        "other_tree": options.other_tree,
        "to": options.to,
        "note": options.note,
    }
    return {name: value for name, value in said.items() if value is not None}


def _new(options: argparse.Namespace) -> dict[str, object]:
    """What was said of a new tree, by the names that a [[tree]] has for it."""
    said = {
        "id": options.new,
        "place": options.place,
        "height_cm": options.height,
        "crown_cm": options.crown,
        "pot": options.pot,
    }
    return {name: value for name, value in said.items() if value is not None}
