"""The whole garden as plain values: site, places, trees, care log, rules of notices, stock of cloth."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, time

from carewatch.care.log import Entry
from carewatch.care.tree import Tree
from carewatch.place.spot import Place, Site


@dataclass(frozen=True)
class NoticeRules:
    """
    When and how carefully the service speaks.

    quiet_from, quiet_to: local times of night rest; rounds_at: local time of the daily rounds.
    caution: 0 easy-going, 0.5 ordinary, 1 anxious: scales what a loss is worth in work. [0-1]
    unlit_garden: nothing can be done in the garden after dusk.
    lift_kg: what one person lifts. [kg]
    away: pairs of dates, both included, on which nobody is there.
    """

    quiet_from: time
    quiet_to: time
    rounds_at: time
    caution: float
    unlit_garden: bool
    lift_kg: float
    away: tuple[tuple[date, date], ...]
    repeat_after_minutes: int


@dataclass(frozen=True)
class Stock:
    """What there is to protect with: square metres of fleece and of net, tents, and whether there is mulch."""

    fleece_m2: float
    net_m2: float
    tents: int
    mulch: bool


@dataclass(frozen=True)
class Garden:
    """Everything that the grower owns, as of one moment."""

    site: Site
    places: Mapping[str, Place]
    trees: tuple[Tree, ...]
    log: tuple[Entry, ...]
    notices: NoticeRules
    stock: Stock
