"""What cannot stand in one care log, or hardly: entries that contradict each other, with what puts it right."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from itertools import pairwise

from carewatch.care.log import Entry
from carewatch.care.planned import TAKEN_OFF_BY
from carewatch.care.tree import Tree
from carewatch.care.whole_log import MOVE

# Phases of a deciduous tree in the order of its year.
YEAR = ("bud-swell", "leaf-out", "mature", "colouring", "leaf-fall", "dormant")
# So near to each other two observations of the season must follow the order of the year (judged). [d]
NEAR = timedelta(days=45)
# Steps around the year from which on the way back is the shorter one.
BACKWARDS = 4
OPENING = YEAR[:3]
# After these a tree may open leaves again.
STRIPPED_BY = ("defoliate", "hard-prune", "cut-off")
STRIPPED_AS_SEEN = ("leaf-fall", "scorch", "wilting", "new-growth")
# What is done to roots, which a branch on its mother does not have.
ROOT_WORKS = ("root-prune", "repot", "lift")
ON_A_BRANCH = ("set-layer", "wire", "bend", "sacrifice", "graft")
DATED = "%Y-%m-%d"
WRONG_ONE = "Amend or strike the one that is wrong."


@dataclass(frozen=True)
class Contradiction:
    """
    An entry that does not follow from the rest of the log.

    entry: the one that does not; other: what it contradicts, None where something is missing.
    what: how the matter stands, as a clause; remedy: sentences.
    certain: it cannot be true; otherwise it may be, since a log knows only what was written down.
    """

    entry: Entry
    other: Entry | None
    what: str
    remedy: str
    certain: bool

    def __str__(self) -> str:
        """One line for a person."""
        done = " ".join(filter(None, (self.entry.work, self.entry.seen, self.entry.measure, self.entry.branch)))
        return f"{done} of {self.entry.tree} on {self.entry.at:{DATED}}: {self.what}. {self.remedy}"


def contradictions(tree: Tree, log: Iterable[Entry]) -> tuple[Contradiction, ...]:
    """
    Everything that contradicts itself in the log of one tree.

    log: the whole log, whichever order; entries of one moment stand in the order in which they were done.
    """
    mine = sorted((entry for entry in log if entry.tree == tree.id), key=lambda entry: entry.at)
    checks: tuple[Callable[[Tree, Sequence[Entry]], Iterator[Contradiction]], ...] = (
        _before_it_was_there,
        _severed_twice,
        _severed_or_layered,
        _after_its_death,
        _two_places,
        _wires,
        _ties,
        _measures,
        _branches,
        _seasons,
    )
    return tuple(found for check in checks for found in check(tree, mine))


def brought_in(tree: Tree, before: Sequence[Entry], after: Sequence[Entry]) -> tuple[Contradiction, ...]:
    """
    The contradictions that a change of the log brings in; what it contradicted before is not told again.

    before, after: the whole log without the change and with it.
    """
    known = {(found.entry, found.what) for found in contradictions(tree, before)}
    return tuple(found for found in contradictions(tree, after) if (found.entry, found.what) not in known)


def _before_it_was_there(tree: Tree, log: Sequence[Entry]) -> Iterator[Contradiction]:
    severed = next((entry for entry in log if entry.work == "sever-layer"), None)
    for entry in log:
        if tree.since is not None and entry.at.date() < tree.since:
            what = f"{tree.id} came to the garden on {tree.since} (its key `since`)"
            yield Contradiction(entry, None, what, "Give a later date, or an earlier `since`.", True)
        elif severed is not None and entry.at.date() < severed.at.date():
            what = f"it was severed from its mother only on {_when(severed)}"
            if severed.other_tree is not None:
                mother = severed.other_tree
                remedy = f"Until then it was a branch of {mother}: log it there, or correct one of the dates."
                yield Contradiction(entry, severed, what, remedy, True)
            elif entry.work in ROOT_WORKS:
                remedy = (
                    "A branch has no roots of its own: correct one of the dates. A layer that is taken from a rooted "
                    "tree becomes a tree of its own with --new ID."
                )
                yield Contradiction(entry, severed, what, remedy, True)


def _severed_twice(_tree: Tree, log: Sequence[Entry]) -> Iterator[Contradiction]:
    severed = [entry for entry in log if entry.work == "sever-layer"]
    # Twice on one day is the same entry twice, and is told so where entries are added.
    for entry in (other for other in severed[1:] if other.at.date() != severed[0].at.date()):
        remedy = f"{WRONG_ONE} A layer that was taken from it becomes a tree of its own with --new ID."
        yield Contradiction(entry, severed[0], f"it was severed on {_when(severed[0])} already", remedy, True)


def _severed_or_layered(_tree: Tree, log: Sequence[Entry]) -> Iterator[Contradiction]:
    """Whether the tree itself was cut from its mother, or a layer from the tree."""
    set_on = next((entry for entry in log if entry.work == "set-layer" and entry.branch), None)
    for entry in log:
        if set_on is not None and entry.work == "sever-layer" and entry.other_tree is None and entry.at >= set_on.at:
            what = f"a layer was set on its {set_on.branch} on {_when(set_on)}"
            remedy = "If that layer becomes a tree of its own, say so with --new ID and --pot SIZE."
            yield Contradiction(entry, set_on, what, remedy, False)


def _after_its_death(_tree: Tree, log: Sequence[Entry]) -> Iterator[Contradiction]:
    dead = next((entry for entry in log if entry.seen == "dead"), None)
    for entry in log:
        if dead is not None and entry.at > dead.at and entry.seen != "dead":
            remedy = "If it lives, strike that entry first: nobody is warned for a dead tree."
            yield Contradiction(entry, dead, f"it was seen dead on {_when(dead)}", remedy, False)


def _two_places(_tree: Tree, log: Sequence[Entry]) -> Iterator[Contradiction]:
    moves = [entry for entry in log if entry.work == "move"]
    for first, second in pairwise(moves):
        if first.at == second.at and first.to != second.to:
            what = f"at that very time it was moved to {first.to} ({_stands(first)})"
            yield Contradiction(second, first, what, f"Give the time of day of each. {WRONG_ONE}", True)
        between = any(first.at <= entry.at <= second.at and MOVE in (entry.measure or "") for entry in log)
        if first.at != second.at and first.to == second.to and not between:
            what = f"it was moved to {first.to} on {_when(first)} already"
            yield Contradiction(second, first, what, WRONG_ONE, False)


def _wires(_tree: Tree, log: Sequence[Entry]) -> Iterator[Contradiction]:
    standing: list[Entry] = []
    for entry in log:
        if entry.work == "wire":
            standing.append(entry)
        elif entry.work in TAKEN_OFF_BY and entry.branch:
            standing = [wire for wire in standing if wire.branch != entry.branch]
        elif entry.work == "unwire":
            that_day = [wire for wire in log if wire.work == "wire" and wire.at.date() == entry.at.date()]
            # A wire without a branch may be on any.
            meant = [wire for wire in (*standing, *that_day) if not entry.branch or wire.branch in (None, entry.branch)]
            if not meant:
                yield Contradiction(entry, None, _no_wire(entry, standing), _log_first(entry, "wire"), False)
            standing = [wire for wire in standing if entry.branch and wire.branch != entry.branch]


def _no_wire(entry: Entry, standing: Sequence[Entry]) -> str:
    wired = ", ".join(dict.fromkeys(str(wire.branch) for wire in standing))
    on = f" on {entry.branch}" if entry.branch else ""
    return f"no wire was set{on} before" + (f", only on {wired}" if wired else "")


def _ties(_tree: Tree, log: Sequence[Entry]) -> Iterator[Contradiction]:
    tied = False
    for entry in log:
        if entry.work == "untie":
            if not tied and not any(_ties_it(other) and other.at.date() == entry.at.date() for other in log):
                yield Contradiction(entry, None, "no ties were set before", _log_first(entry, "tie-down"), False)
            tied = False
        tied = tied or _ties_it(entry)


def _ties_it(entry: Entry) -> bool:
    return entry.work == "tie-down" or entry.tied


def _measures(_tree: Tree, log: Sequence[Entry]) -> Iterator[Contradiction]:
    standing: dict[str, Entry] = {}
    for entry in log:
        measure = str(entry.measure)
        if entry.work == "begin" and measure in standing:
            since = standing[measure]
            what = f"{measure} has been in force on {entry.tree} since {since.at:%Y-%m-%d %H:%M} already"
            yield Contradiction(entry, since, what, f"Log its end first. {WRONG_ONE}", False)
        elif entry.work == "begin":
            standing[measure] = entry
        elif entry.work == "end" and standing.pop(measure, None) is None:
            names = f"In force then: {', '.join(standing)}." if standing else "Nothing was in force then."
            remedy = f"{names} {_log_first(entry, f'begin {measure}')}"
            yield Contradiction(entry, None, f"{measure} was not in force on {entry.tree}", remedy, False)


def _branches(_tree: Tree, log: Sequence[Entry]) -> Iterator[Contradiction]:
    """What is done to a branch that has been taken off, and sacrifices that stand already."""
    gone: dict[str, Entry] = {}
    planned: dict[str, Entry] = {}
    for entry in log:
        branch = entry.branch or ""
        # A trunk that was cut grows on below the cut, and is called the same.
        if entry.work == "cut-off" and branch and branch != "trunk":
            if branch in gone:
                what = f"{branch} was cut off on {_when(gone[branch])} already"
                yield Contradiction(entry, gone[branch], what, WRONG_ONE, False)
            gone.setdefault(branch, entry)
        elif branch in gone and entry.work in ON_A_BRANCH:
            what = f"{branch} was cut off on {_when(gone[branch])}"
            yield Contradiction(entry, gone[branch], what, f"Give a new branch another name. {WRONG_ONE}", False)
        if entry.work == "sacrifice":
            if branch in planned:
                what = f"{branch} has been a sacrifice since {_when(planned[branch])}"
                remedy = "To plan it anew, amend that entry with --due; when it is off, log cut-off."
                yield Contradiction(entry, planned[branch], what, remedy, False)
            planned.setdefault(branch, entry)
        elif entry.work in TAKEN_OFF_BY:
            planned.pop(branch, None)


def _seasons(tree: Tree, log: Sequence[Entry]) -> Iterator[Contradiction]:
    """Observations against the order of the year; not of trees that flush whenever it is warm."""
    if tree.species.evergreen or tree.species.chill_portions == 0.0:
        return
    seen = [entry for entry in log if entry.seen in YEAR]
    for first, second in pairwise(seen):
        apart = second.at.date() - first.at.date()
        steps = (YEAR.index(str(second.seen)) - YEAR.index(str(first.seen))) % len(YEAR)
        between = [other for other in log if first.at <= other.at <= second.at and other not in (first, second)]
        stripped = second.seen in OPENING and any(
            other.work in STRIPPED_BY or other.seen in STRIPPED_AS_SEEN for other in (first, *between)
        )
        same_day = apart == timedelta(0) and steps not in (0, 1, len(YEAR) - 1)
        backwards = timedelta(0) < apart <= NEAR and steps >= BACKWARDS and not stripped
        if same_day or backwards:
            what = f"{first.seen} was seen on {_when(first)}"
            yield Contradiction(second, first, what, f"The later one decides the season. {WRONG_ONE}", False)


def _log_first(entry: Entry, work: str) -> str:
    branch = f' --branch "{entry.branch}"' if entry.branch and work == "wire" else ""
    return f"Log it first, with its date: `carewatch log {entry.tree} {work}{branch} --on DATE`."


def _when(entry: Entry) -> str:
    return f"{entry.at:{DATED}} ({_stands(entry)})"


def _stands(entry: Entry) -> str:
    return entry.origin or "in the log"
