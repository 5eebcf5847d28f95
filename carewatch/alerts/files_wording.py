"""What the watch says about the files that it is set up by: that a change is not in force, and that it is again."""

from collections.abc import Sequence

from carewatch.alerts.wording import LONGEST, Message, listed

# So many mistakes are told; all of them stand in the log and in what `config check` says.
MOST_TOLD = 3
HOW_TO_SEE_ALL = "`carewatch config check` shows everything."


def refused_message(problems: Sequence[str], files: Sequence[str], trees: int) -> Message:
    """
    The files changed and cannot be used; what was read before stays in force.

    problems: a line each, at least one. files: their names, at least one. trees: how many are watched as before.
    """
    one = len(problems) == 1
    first = f"{listed(files)}: {'a mistake' if one else f'{len(problems)} mistakes'}, the change is not in force."
    return _message(
        first, [f"{_watched(trees)} as before. You will hear when it is read again."], problems, HOW_TO_SEE_ALL
    )


def needs_start_message(problems: Sequence[str], trees: int) -> Message:
    """
    The files were read, except for what holds from a start on.

    problems: a line each, at least one. trees: how many are watched.
    """
    return _message("A changed setting waits for a new start of carewatch.", [f"{_watched(trees)}."], problems)


def mended_message(trees: int) -> Message:
    """The files are in force again, after a mistake that was told. trees: how many are watched now."""
    return _message("The garden's files are read again.", [f"{_watched(trees)}, as the files say now."], ())


def _watched(trees: int) -> str:
    return "1 tree is watched" if trees == 1 else f"{trees} trees are watched"


def _message(first: str, lines: Sequence[str], problems: Sequence[str], last: str = "") -> Message:
    """As many problems as are told and fit, whole or cut."""
    told = list(problems[:MOST_TOLD])
    tail = [last] if last else []
    room = LONGEST - sum(len(line) + 1 for line in (first, *lines, *tail))
    most = max(0, room // max(1, len(told)) - 1)
    cut = [problem if len(problem) <= most else problem[: most - 1] + "…" for problem in told]
    return Message(first, "\n".join([first, *lines, *cut, *tail]))
