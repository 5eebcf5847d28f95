"""Arguments of `whatif`, and how it is run; nothing heavy loads before."""

import argparse
from collections.abc import Mapping
from datetime import datetime

from carewatch.cli.keeping import ROOTS

COMMAND = "whatif"


def add_command(
    commands: "argparse._SubParsersAction[argparse.ArgumentParser]",
    shared: argparse.ArgumentParser,
    at: argparse.ArgumentParser,
    as_json: argparse.ArgumentParser,
) -> None:
    """Add the command to the parser. shared, at, as_json: parents with --config, --at and --json."""
    whatif = commands.add_parser(
        COMMAND,
        parents=[shared, at, as_json],
        help="whether a work is right now, and which coming day is kindest to it",
    )
    whatif.add_argument("tree", metavar="TREE")
    whatif.add_argument("work", metavar="WORK", help="a work as in `log`: root-prune, sever-layer, defoliate and so on")
    whatif.add_argument("--roots", metavar="|".join(ROOTS), help="sever-layer: how many roots the layer has")
    flag = argparse.BooleanOptionalAction
    whatif.add_argument("--roots-worked", action=flag, help="the roots would be combed out or cut")
    whatif.add_argument("--removed", metavar="SHARE", help="share of roots, leaves or crown to take away, such as 0.3")
    whatif.add_argument("--tied", action=flag, help="the trunk would be tied to the pot and the pot stand fast")
    whatif.add_argument("--paste", action=flag, help="cuts would be sealed")
    whatif.add_argument("--branch", metavar="NAME", help="which branch")
    whatif.add_argument("--gauge", metavar="MM", help="wire, bend: thickness of the wire")
    whatif.add_argument("--due", metavar="DATE", help="sacrifice: when it is to go")
    whatif.add_argument(
        "--with",
        dest="aftercare",
        action="append",
        default=[],
        metavar="MEASURE",
        help="what would be done for it at once: shade-cloth, move:PLACE and so on; may be given again",
    )
    whatif.add_argument(
        "--sure", action="store_true", help="ask all the same, though the rest of the log speaks against"
    )
    new = whatif.add_argument_group("sever-layer", "a layer on TREE that would become a tree of its own")
    new.add_argument("--pot", metavar="SIZE", help='its pot: litres or "22x18x12" in cm, then material and colour')
    new.add_argument("--place", metavar="PLACE", help="where it would stand (default: with the old tree)")
    new.add_argument("--height", metavar="CM", help="its height above the pot")
    new.add_argument("--crown", metavar="CM", help="the width of its crown")


def run(options: argparse.Namespace, environ: Mapping[str, str], now: datetime) -> int:
    """Run the command; returns the exit code."""
    from carewatch.cli import whatif_command

    given = {
        "roots": options.roots,
        "roots_worked": options.roots_worked,
        "removed": options.removed,
        "tied": options.tied,
        "paste": options.paste,
        "branch": options.branch,
        "gauge_mm": options.gauge,
        "due": options.due,
    }
    new = {
        "pot": options.pot,
        "place": options.place,
        "height_cm": options.height,
        "crown_cm": options.crown,
    }
    asked = whatif_command.Asked(
        tree=options.tree,
        work=options.work,
        given={name: value for name, value in given.items() if value is not None},
        new={name: value for name, value in new.items() if value is not None},
        aftercare=tuple(options.aftercare),
        sure=options.sure,
        as_json=options.json,
    )
    return whatif_command.whatif(options.config, asked, options.at, environ, now)
