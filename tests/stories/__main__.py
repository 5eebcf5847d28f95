"""
Stories: `python -m tests.stories` prints their accounts; `--write` keeps them, for review; names choose some.

`--check` prints only times, and what is wrong: a story that breaks a rule or differs from what is kept. Several are
told at once, one per core. Ends with 1 when something is wrong.
"""

import argparse
import sys
from collections.abc import Sequence

from tests.stories.several import Result, results
from tests.stories.shelf import account_file, names


def main(arguments: Sequence[str] | None = None) -> int:
    """Tell stories; 0 when all is well."""
    parser = argparse.ArgumentParser(prog="python -m tests.stories", description="Tell what a grower would be told.")
    parser.add_argument("--write", action="store_true", help="write the accounts instead of printing them")
    parser.add_argument("--check", "--quiet", action="store_true", help="print only times, and what is wrong")
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"of {', '.join(names())}; default: all")
    options = parser.parse_args(arguments)
    unknown = set(options.names) - set(names())
    if unknown:
        parser.error(f"there is no story {', '.join(sorted(unknown))}")
    wrong = [result.name for result in results(options.names or names()) if not _well(result, options)]
    return 1 if wrong else 0


def _well(result: Result, options: argparse.Namespace) -> bool:
    """Print a result, or keep its account; whether all is well with it."""
    if result.missing:
        sys.stdout.write(f"{result.name}: {result.missing}\n")
        return True
    file = account_file(result.name)
    kept = file.read_text(encoding="utf-8") if file.exists() else ""
    if options.write:
        file.write_text(result.text, encoding="utf-8")
    elif not options.check:
        sys.stdout.write(result.text + "\n")
    changed = "" if kept == result.text else ", rewritten" if options.write else ", differs from what is kept"
    sys.stdout.write(f"{result.name}: {result.looks} looks, {result.took_s:.1f} s{changed}\n")
    sys.stdout.write("".join(f"    {problem}\n" for problem in result.broken))
    sys.stdout.flush()
    return not result.broken and (options.write or not changed)


if __name__ == "__main__":
    sys.exit(main())
