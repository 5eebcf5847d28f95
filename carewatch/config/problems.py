"""What is wrong with a configuration, as values that a person can act on: where, what, what is accepted instead."""

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, replace

from pydantic_core import PydanticCustomError

LONGEST_FOUND = 60
MOST_NEAREST = 3
# So alike are a name and a slip of the pen in it; less is asked where both begin the same (judged; 2 × common signs
# over all signs). [-]
ALIKE = 0.7
ALIKE_FROM_THE_START = 0.6
# What is less alike than the best by more than this was not meant (judged). [-]
AS_GOOD = 0.1
# A name is also meant by its first signs, when there are so many of them; a common beginning has so many.
FIRST_SIGNS = 3
COMMON_SIGNS = 4
# What is accepted is told a second time only when it is no longer than this.
LONGEST_AGAIN = 60


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
        return "\n".join(told_once(self.problems))


def told_once(problems: Iterable[ConfigProblem]) -> tuple[str, ...]:
    """One line per problem; a long list of what is accepted is written out where it stands first, and referred to."""
    first: dict[str, str] = {}
    lines = []
    for problem in problems:
        before = first.setdefault(problem.accepted, problem.key)
        again = before != problem.key and len(problem.accepted) > LONGEST_AGAIN
        lines.append(str(replace(problem, accepted=f"the same as for {before}") if again else problem))
    return tuple(lines)


def nearest_names(found: object, names: Iterable[str]) -> tuple[str, ...]:
    """
    Up to three of `names` that may have been meant by `found`, best first; none for what is no text.

    Letter case is ignored. A name is near when a slip of the pen leads to `found`, or when it begins with it; what is
    clearly further away than the nearest is left out.
    """
    if not isinstance(found, str):
        return ()
    written = found.strip().casefold()
    alike = {name: _likeness(written, name.casefold()) for name in names}
    least = max(ALIKE, max(alike.values(), default=0.0) - AS_GOOD)
    near = sorted((name for name, likeness in alike.items() if likeness >= least), key=lambda name: -alike[name])
    return tuple(near[:MOST_NEAREST])


def _likeness(written: str, name: str) -> float:
    """1 for the same word, 0 for words with nothing in common."""
    ratio = difflib.SequenceMatcher(None, written, name).ratio()
    begins = len(written) >= FIRST_SIGNS and name.startswith(written)
    akin = ratio >= ALIKE_FROM_THE_START and written[:COMMON_SIGNS] == name[:COMMON_SIGNS]
    changed_places = sorted(written) == sorted(name)
    return max(ratio, ALIKE) if begins or akin or changed_places else ratio


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
