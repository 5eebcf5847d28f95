"""What is wrong with a configuration, as values that a person can act on: where, what, what is accepted instead."""

import difflib
from collections.abc import Iterable
from dataclasses import dataclass

from pydantic_core import PydanticCustomError

LONGEST_FOUND = 60
MOST_NEAREST = 3


@dataclass(frozen=True)
class ConfigProblem:
    """
    One thing that must be changed before the configuration can be used.

    file: where it stands: a file, or "environment variable NAME"; line: 1-based, or None where there is none.
    key: dotted, such as "site.latitude" or "tree[hornbeam].work[2].on" (an unnamed item is counted from 1).
    found: what stands there, or None where it is missing or must not be shown.
    accepted: what may stand there; nearest: valid names that look like what was found.
    what: what is the matter, as a short predicate.
    """

    file: str
    line: int | None
    key: str
    found: str | None
    accepted: str
    nearest: tuple[str, ...] = ()
    what: str = "is not accepted"

    def __str__(self) -> str:
        """One plain line for a person."""
        where = self.file if self.line is None else f"{self.file}, line {self.line}"
        subject = f"{where}: {self.key}" if self.key else where
        parts = [f"{subject} {self.what}"]
        if self.found is not None:
            parts.append(f"found {self.found}")
        if self.accepted:
            parts.append(f"accepted: {self.accepted}")
        if self.nearest:
            parts.append(f"did you mean {' or '.join(self.nearest)}?")
        return "; ".join(parts)


class ConfigErrors(Exception):
    """Everything that is wrong with the configuration, all at once."""

    def __init__(self, problems: Iterable[ConfigProblem], warnings: Iterable[str] = ()) -> None:
        """Keep the problems in the order of files and lines; warnings are what else would have been said."""
        unique = tuple(dict.fromkeys(problems))
        self.problems = tuple(sorted(unique, key=lambda problem: (problem.file, problem.line or 0)))
        self.warnings = tuple(warnings)
        super().__init__(str(self))

    def __str__(self) -> str:
        """One line per problem."""
        return "\n".join(str(problem) for problem in self.problems)


def nearest_names(found: object, names: Iterable[str]) -> tuple[str, ...]:
    """Up to three of `names` that look like `found`, best first; letter case is ignored. None for what is no text."""
    if not isinstance(found, str):
        return ()
    by_folded = {name.casefold(): name for name in names}
    close = difflib.get_close_matches(found.strip().casefold(), by_folded, n=MOST_NEAREST, cutoff=0.6)
    return tuple(by_folded[folded] for folded in close)


def one_of(names: Iterable[str]) -> str:
    """The names as a sentence part: "one of: a, b, c"."""
    return "one of: " + ", ".join(names)


def refused(
    what: str, accepted: str = "", nearest: tuple[str, ...] = (), within: tuple[str | int, ...] = ()
) -> PydanticCustomError:
    """
    An error to raise in a validator: it carries everything but the position.

    accepted: empty for what the field's own description says; within: the path below the field that is validated.
    """
    return PydanticCustomError("carewatch", "refused", {"reason": (what, accepted, nearest, within)})


def looks_secret(value: str) -> bool:
    """Whether a text may carry an address, and with it a password or token."""
    return "://" in value or "@" in value


def shown(value: object) -> str | None:
    """
    `value` for a message, cut to a readable length.

    Tables and lists are named by their kind only, and a text that may carry an address or a password is not shown:
    a secret can stand under any key.
    """
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        if looks_secret(value):
            return "an address (not shown)"
        return f'"{value}"' if len(value) <= LONGEST_FOUND else f'"{value[:LONGEST_FOUND]}…"'
    return None if value is None else str(value)
