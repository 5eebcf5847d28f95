"""Pots that were covered for the winter, and when bark, soil, mulch and jackets come off again."""

from collections.abc import Iterator, Sequence
from datetime import date, timedelta

import numpy as np

from carewatch.care.log import Entry
from carewatch.care.whole_log import in_force
from carewatch.condition.season import EQUINOX
from carewatch.forecast.weather import Array
from carewatch.tasks.numbers import TaskNumbers
from carewatch.tasks.prospect import Flags, Prospect
from carewatch.tasks.spring import winter_planned_from
from carewatch.tasks.task import Draft
from carewatch.tasks.wording import day_of

# Covers of a pot, and what each of them is told as. A banked pot and a mulched one are uncovered when buds move, too.
COVERS = {"plunge": "the bank around its pot", "mulch": "its mulch", "insulate-pot": "the jacket of its pot"}
BY_BUDS = ("plunge", "mulch")
MULCH, BANKED = "mulch", "plunge"
HARM = {
    "plunge": "a banked ball stays wet and warms late, and roots want warmth before the leaves",
    "mulch": "left on into growth it rots the collar and shelters mice",
    "insulate-pot": "behind it the pot stays damp, and in sun one side of it warms",
}


def uncovering(prospect: Prospect, mean_c: Array, numbers: TaskNumbers, to_be_banked: bool) -> Iterator[Draft]:
    """
    When each cover that was put on for the winter comes off, and the one that the winter plan asks for.

    mean_c: of the open air, a row per day of the prospect. [°C]
    """
    covered = in_force(prospect.log, prospect.tree.id)
    for name in COVERS:
        begun = covered.get(name)
        ended = None if begun is not None else _newest(prospect.log, "end", name)
        if ended is not None:
            begun = _newest([entry for entry in prospect.log if entry.at <= ended.at], "begin", name) or ended
        if begun is not None and _in_the_dark_half(prospect, begun.at.date()):
            done = None if ended is None else ended.at.date()
            yield from _off(prospect, name, begun.at.date(), mean_c, numbers, done)
        elif to_be_banked and name == BANKED:
            yield from _off(prospect, name, winter_planned_from(prospect), mean_c, numbers, None)


def _off(
    prospect: Prospect, name: str, since: date, mean_c: Array, numbers: TaskNumbers, done: date | None
) -> Iterator[Draft]:
    """The draft for one cover that is on since a day."""
    span = numbers.uncover_mean_days
    thawed = np.convolve((mean_c >= numbers.uncover_mean_c).astype(float), np.ones(span))[: mean_c.size] >= span - 0.5
    stirs: Flags = prospect.stage.waking >= 1.0
    off = stirs if name == MULCH else (thawed | stirs) if name in BY_BUDS else thawed
    season, today = prospect.lived.season, prospect.index(prospect.today)
    if done is None and season.height[today] < EQUINOX and not season.rising[today]:
        # What was left on through a summer serves the winter that comes.
        since = max(since, prospect.today)
    first = prospect.first_of(season.rising & off, since)
    if first is None:
        return
    by_buds = bool(stirs[prospect.index(first)]) and name in BY_BUDS
    why = "its buds move" if by_buds else f"days come to {numbers.uncover_mean_c:.0f} °C in the mean and its top thaws"
    yield Draft(
        "uncover",
        first,
        first,
        first + timedelta(days=numbers.uncover_open_days),
        f"Take away {COVERS[name]} when {why} (about {day_of(first)}): {HARM[name]}.",
        "Warmth moves it, and buds most of all. Not before a spell of hard frost that is in sight: keep the bark near "
        "and put it back for one.",
        numbers.sources["uncover"],
        name,
        done,
    )


def _newest(log: Sequence[Entry], work: str, measure: str) -> Entry | None:
    """The newest entry by which a measure began or ended."""
    return next((entry for entry in reversed(log) if entry.work == work and entry.measure == measure), None)


def _in_the_dark_half(prospect: Prospect, day: date) -> bool:
    """Whether a cover was put on for the winter: one that is put on in summer keeps heat and drought off."""
    return float(prospect.lived.season.height[prospect.index(day)]) < EQUINOX
