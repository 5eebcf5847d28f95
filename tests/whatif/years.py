"""Gates of works on trees in years that no record knows."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date

from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.care.tree import Tree
from carewatch.forecast.history import DailyHistory
from carewatch.whatif.almanac import almanac_of
from carewatch.whatif.gates import Gates, gates_of
from tests.condition.grown import NORTH, TABLES, noon, tree, year_like
from tests.measures.gardens import corner, garden

YEARS = year_like("2025-01-01", "2029-06-01")
OPEN = ("bench",)


def standing(plant: Tree, latitude: float = NORTH, kinds: Sequence[str] = OPEN) -> Garden:
    """A garden with one tree; kinds: of its places, named after them."""
    whole = garden([plant])
    places = {kind: corner(kind, kind) for kind in {plant.place, *kinds}}
    return replace(whole, places=places, site=replace(whole.site, latitude=latitude))


def gates(
    work: str,
    today: str,
    log: Sequence[Entry] = (),
    *,
    species: str = "Acer palmatum",
    latitude: float = NORTH,
    kinds: Sequence[str] = OPEN,
    years: DailyHistory = YEARS,
    removed: float | None = None,
    supply: Callable[[date], float] = lambda _day: 1.0,
) -> Gates:
    """The gates of a work as of one day; supply: of the tree's roots. [0-1]"""
    plant = tree("maple", species)
    where = standing(plant, latitude, kinds)
    asked = Entry("maple", work, noon(today), removed=removed, roots="fair" if work == "sever-layer" else None)
    known = [entry for entry in log if entry.at <= noon(today)]
    almanac = almanac_of(where, plant, known, years, date.fromisoformat(today))
    return gates_of(where, plant, asked, known, TABLES.work_rules, almanac, supply)


def barred(work: str, today: str, log: Sequence[Entry] = (), *, species: str = "Acer palmatum") -> str:
    """Why a work is barred on that very day, all reasons together, or ""."""
    found = gates(work, today, log, species=species).on(date.fromisoformat(today))
    return " ".join(barrier.why for barrier in found)


def done(work: str, day: str, removed: float | None = None) -> Entry:
    """An earlier work on the same tree."""
    return Entry("maple", work, noon(day), removed=removed, roots="fair" if work == "sever-layer" else None)


def seen(what: str, day: str) -> Entry:
    """An observation of the same tree."""
    return Entry("maple", "observe", noon(day), seen=what)
