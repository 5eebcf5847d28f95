"""The care log: dated entries of what was done to a tree and what was seen on it."""

from dataclasses import dataclass
from datetime import datetime

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
)
# Entries that are no works: what moves a tree, waters it, or is seen on it, and measures that begin and end.
NOTES = ("move", "water", "observe", "begin", "end")
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
)


@dataclass(frozen=True)
class Entry:
    """
    One entry of the care log.

    work: a name of WORKS or NOTES; at: when, with a time zone (a bare date means noon at the site).
    roots: "sparse", "fair" or "dense"; roots_worked: the roots were combed out or cut at once.
    removed: share taken away (of roots, leaves or crown). [0-1]
    tied: the trunk is tied to the pot and the pot stands fast; paste: cuts were sealed.
    to: the place of a move; seen: the observation; measure: name of the measure that begins or ends.
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
    to: str | None = None
    seen: str | None = None
    measure: str | None = None
    note: str | None = None
    origin: str = ""
