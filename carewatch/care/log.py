"""The care log: dated entries of what was done to a tree and what was seen on it."""

from dataclasses import dataclass
from datetime import date, datetime

WORKS = (
    "set-layer",
    "sever-layer",
    "root-prune",
    "repot",
    "defoliate",
    "hard-prune",
    "wire",
    "bend",
    "unwire",
    "seal",
    "tie-down",
    "untie",
    "lift",
    "graft",
    # A branch or trunk that is left to thicken what is below it and planned to go; one that was taken off, by the saw
    # or with the layer on it.
    "sacrifice",
    "cut-off",
    "feed",
)
# Entries that are no works: what moves a tree, waters it, or is seen on it, measures that begin and end, and tasks of
# the long clock that were looked after or put off.
NOTES = ("move", "water", "observe", "begin", "end", "checked", "put-off")
OBSERVATIONS = (
    "bud-swell",
    "leaf-out",
    "mature",
    "colouring",
    "leaf-fall",
    "dormant",
    "wilting",
    "scorch",
    "new-growth",
    "dead",
    # How leaves stood at two in the afternoon: hanging and up again in the evening, or firm.
    "hanging",
    "firm",
)


@dataclass(frozen=True)
class Entry:
    """
    One entry of the care log.

    work: a name of WORKS or NOTES; at: when, with a time zone (a bare date means noon at the site).
    roots: "sparse", "fair" or "dense"; roots_worked: the roots were combed out or cut at once.
    removed: share taken away (of roots, leaves or crown), or of the leaves that were seen scorched. [0-1]
    tied: the trunk is tied to the pot and the pot stands fast; paste: cuts were sealed.
    branch: the name that the grower has for the branch, or "trunk"; gauge_mm: thickness of the wire. [mm]
    due: when a sacrifice is to go, until when a task is put off. other_tree: from which a layer was taken, or which was
    taken off here.
    to: the place of a move; seen: the observation; measure: name of the measure that begins or ends, or of the task
    that was looked after or put off.
    origin: where the entry stands, for messages ("config.toml line 41").
    """

    tree: str
    work: str
    at: datetime
    roots: str | None = None
    roots_worked: bool = False
    removed: float | None = None
    tied: bool = False
    paste: bool = False
    branch: str | None = None
    gauge_mm: float | None = None
    due: date | None = None
    other_tree: str | None = None
    to: str | None = None
    seen: str | None = None
    measure: str | None = None
    note: str | None = None
    origin: str = ""
