"""Days that a tree in leaf has stood in the dark, by its log."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

import numpy as np

from carewatch.care.log import Entry
from carewatch.care.tree import Tree
from carewatch.condition.lived import MOVE, Lived
from carewatch.place.spot import Place

# A place that passes less light than this is dark to leaves: sheds, and rooms some steps from a window (judged). [0-1]
DARK_GLAZING = 0.15
# Leaves at rest in the cold use up as much in seven days as others in one; above 15 °C they do not rest (estimate:
# evergreens stand three weeks in a dark shed below 5 °C, anything in leaf three days). Air [°C], days per day [-].
RESTING_PACE_C, RESTING_PACE = (5.0, 15.0), (1.0, 7.0)
# A day in the light makes two in the dark good (judged). [-]
MENDS = 2.0
# What lies further back has been made good or done its harm. [d]
LAST_DAYS = 90
RESTING = ("winter-hard", "hardening")


def is_dark(place: Place, keeps_in_rooms: bool) -> bool:
    """Whether leaves starve there; kinds that winter in heated rooms (common practice) do not in one."""
    return place.enclosed and place.glazing < DARK_GLAZING and not (keeps_in_rooms and place.heated_to_c is not None)


def dark_days(
    stage: str,
    in_leaf: bool,
    tree: Tree,
    log: Sequence[Entry],
    places: Mapping[str, Place],
    lived: Lived,
    now: datetime,
) -> float:
    """
    Days in the dark up to now, less what light has made good since; of resting leaves as days below 5 °C. [d]

    stage, in_leaf: of the tree now; log: its entries, oldest first; lived: its air by the day.
    """
    if not in_leaf or stage == "colouring" or not any(place.glazing < DARK_GLAZING for place in places.values()):
        return 0.0
    rooms = bool(np.isfinite(tree.species.chill_kh[0]))
    begins = now - timedelta(days=LAST_DAYS)
    stays = _stays(tree.place, log, now)
    carried = 0.0
    for since, until, name in stays:
        start = max(since, begins)
        if until <= start:
            continue
        length = (until - start).total_seconds() / 86400.0
        place = places.get(name)
        if place is None or not is_dark(place, rooms):
            carried = max(0.0, carried - MENDS * length)
        else:
            carried += length * (_pace(lived, start, until) if stage in RESTING else 1.0)
    return carried


def _pace(lived: Lived, since: datetime, until: datetime) -> float:
    """Mean pace of resting leaves over a stay."""
    air = lived.mean_c[lived.index(since.date()) : lived.index(until.date()) + 1]
    return float(np.interp(air, RESTING_PACE_C, RESTING_PACE).mean())


def _stays(home: str, log: Sequence[Entry], now: datetime) -> list[tuple[datetime, datetime, str]]:
    """(since, until, place) of every stay, oldest first."""
    resting = stood = home
    since = now - timedelta(days=LAST_DAYS)
    found = []
    for entry in log:
        if entry.work == "move" and entry.to:
            resting = to = entry.to
        elif entry.measure and MOVE in entry.measure and entry.work in ("begin", "end"):
            parts = [part for part in entry.measure.split("+") if part.startswith(MOVE)]
            to = parts[0].removeprefix(MOVE) if parts and entry.work == "begin" else resting
        else:
            continue
        found.append((since, entry.at, stood))
        since, stood = entry.at, to
    return [*found, (since, now, stood)]
