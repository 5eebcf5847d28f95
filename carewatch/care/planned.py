"""What the log plans: sacrifice branches and trunks that are to go one day."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from carewatch.care.log import Entry

# Late summer, when a large cut closes without bleeding and before growth ends (common practice): month and day, north
# and south. A sacrifice is left for the season after the one in which it was begun.
LATE_SUMMER_NORTH, LATE_SUMMER_SOUTH = (8, 20), (2, 20)
FIRST_MONTH_OF_SOUTHERN_SEASON = 7
# Works that take a branch off.
TAKEN_OFF_BY = ("cut-off", "hard-prune")


@dataclass(frozen=True)
class PlannedRemoval:
    """A branch, or the trunk, that is left for a time. due: as the entry says, or late summer of the next year."""

    entry: Entry
    branch: str
    due: date


def planned_removals(log: Iterable[Entry], tree: str, latitude: float) -> tuple[PlannedRemoval, ...]:
    """
    Sacrifices of a tree that still stand, the oldest first.

    log: oldest first, up to the moment that is meant; latitude: north positive. [°]
    """
    standing: dict[str, Entry] = {}
    for entry in log:
        if entry.tree != tree or not entry.branch:
            continue
        if entry.work == "sacrifice":
            standing[entry.branch] = entry
        elif entry.work in TAKEN_OFF_BY:
            standing.pop(entry.branch, None)
    return tuple(
        PlannedRemoval(entry, branch, entry.due or late_summer_after(entry.at.date(), latitude))
        for branch, entry in standing.items()
    )


def late_summer_after(begun: date, latitude: float) -> date:
    """Late summer of the growing season that follows the one of `begun`. latitude: north positive. [°]"""
    if latitude >= 0:
        return date(begun.year + 1, *LATE_SUMMER_NORTH)
    # A southern season that begins in July has its late summer in the calendar year after.
    season = begun.year if begun.month >= FIRST_MONTH_OF_SOUTHERN_SEASON else begun.year - 1
    return date(season + 2, *LATE_SUMMER_SOUTH)
