"""One care log out of the entries of the files and those of the database."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import tzinfo
from zoneinfo import ZoneInfo

from carewatch.care.garden import Garden
from carewatch.care.log import NOTES, Entry
from carewatch.care.tree import Tree

MOVE = "move:"


def with_log(garden: Garden, entries: Iterable[Entry]) -> Garden:
    """
    The garden with these entries in its log, oldest first.

    entries: of the database. Left out are those of trees that the garden no longer has, those of `misfits`, and those
    that stand in the files too: a work is done once, and the file is what its owner sees.
    """
    zone = ZoneInfo(garden.site.time_zone)
    trees = {tree.id for tree in garden.trees}
    known = {_identity(entry, zone) for entry in garden.log}
    added = [
        # Days are counted at the site; the database knows only UTC.
        replace(entry, at=entry.at.astimezone(zone))
        for entry in entries
        if entry.tree in trees and not _misfit(garden, entry) and _identity(entry, zone) not in known
    ]
    return replace(garden, log=tuple(sorted((*garden.log, *added), key=lambda entry: (entry.at, entry.tree))))


def misfits(garden: Garden, entries: Iterable[Entry]) -> tuple[str, ...]:
    """Why entries of the garden's trees cannot be reckoned with, a sentence each."""
    trees = {tree.id for tree in garden.trees}
    found = ((entry, _misfit(garden, entry)) for entry in entries if entry.tree in trees)
    return tuple(
        f"{entry.origin}: {entry.work} of {entry.tree} on {entry.at:%Y-%m-%d} is left out: {why}."
        for entry, why in found
        if why
    )


def in_force(log: Iterable[Entry], tree: str) -> dict[str, Entry]:
    """
    Measures that the log says began on a tree and did not end, with the entry of their begin, the oldest first.

    log: oldest first, up to the moment that is meant.
    """
    begun: dict[str, Entry] = {}
    for entry in log:
        if entry.tree != tree:
            continue
        if entry.work == "begin" and entry.measure:
            begun.setdefault(entry.measure, entry)
        for name in ended_by(entry, begun):
            begun.pop(name)
    return begun


def ended_by(entry: Entry, begun: Iterable[str]) -> list[str]:
    """
    Of the measures in force on its tree those that an entry ends.

    That is the one that an end names; and a move for good ends every carry: what was carried into a shed and is moved
    to the bench stands on the bench.
    """
    moved = entry.work == "move" and entry.to is not None
    return [
        name for name in begun if (entry.work == "end" and entry.measure == name) or (moved and name.startswith(MOVE))
    ]


def lives_at(log: Iterable[Entry], tree: Tree) -> str:
    """
    The place at which a tree lives: where the log moved it to last, else that of the garden file.

    log: oldest first, up to the moment that is meant.
    """
    moves = [entry.to for entry in log if entry.tree == tree.id and entry.work == "move" and entry.to]
    return moves[-1] if moves else tree.place


def seen_dead(log: Iterable[Entry]) -> Entry | None:
    """
    The entry that says of a tree that it is dead; None where anything else was seen on it since: then it lives.

    log: of that tree, oldest first.
    """
    last = None
    for entry in log:
        if entry.work == "observe":
            last = entry
    return last if last is not None and last.seen == "dead" else None


def _misfit(garden: Garden, entry: Entry) -> str:
    place = entry.to or ""
    if entry.measure and entry.measure.startswith(MOVE):
        place = entry.measure.removeprefix(MOVE)
    if place and place not in garden.places:
        return f"the garden has no place {place}"
    if entry.work == "sever-layer" and entry.roots is None:
        return "it does not say how many roots there were"
    return ""


def _identity(entry: Entry, zone: tzinfo) -> tuple[object, ...]:
    """A work on one branch is the same on the same day; what recurs within a day, at the same second."""
    local = entry.at.astimezone(zone)
    if entry.work in NOTES:
        return entry.tree, entry.work, local.replace(microsecond=0), entry.to, entry.seen, entry.measure
    return entry.tree, entry.work, local.date(), entry.branch
