"""The almanac of a tree for one who asks today: its past, what is foreseen, and then what is usual."""

from collections.abc import Sequence
from datetime import date

import numpy as np

from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.care.tree import Tree
from carewatch.condition.lived import Past
from carewatch.condition.stage import stage_of
from carewatch.forecast.history import DailyHistory
from carewatch.forecast.weather import Hours
from carewatch.tasks.almanac import Almanac, almanac_from

# So far ahead a next window is looked for: the eighteen months that a layer waits, and a year to the season after. [d]
LOOKED_AHEAD_DAYS = 540 + 370
# What is usual on a date is the mean of this many days around it in the years that are known. [d]
USUAL_DAYS = 21


def history_ahead(history: DailyHistory, hours: Hours, now: np.datetime64) -> DailyHistory:
    """
    The daily past, carried on by what is foreseen and then by what is usual.

    hours: before and after now, the members' mean counts; now: UTC stamp.
    Usual is the mean of the same weeks of the years that the past holds; it holds one at least.
    """
    today = history.days[-1]
    days = np.arange(history.days[0], today + LOOKED_AHEAD_DAYS + 1, dtype="datetime64[D]")
    size = history.days.size
    mean_c = np.empty(days.size)
    mean_c[:size] = history.mean_c
    padded = np.pad(history.mean_c, USUAL_DAYS // 2, mode="edge")
    smooth = np.convolve(padded, np.full(USUAL_DAYS, 1.0 / USUAL_DAYS), mode="valid")
    for index in range(size, days.size):
        donors = [index - round(365.25 * years) for years in range(1, 5)]
        mean_c[index] = np.mean([smooth[donor] for donor in donors if 0 <= donor < size] or [smooth[-1]])
    at = (hours.times.astype("datetime64[D]") - days[0]).astype(np.int64)
    air = hours.values["air_temp_c"].mean(axis=1)
    count = np.bincount(at, minlength=days.size)[: days.size]
    total = np.bincount(at, weights=air, minlength=days.size)[: days.size]
    foreseen = (count >= 18) & (days >= now.astype("datetime64[D]"))
    mean_c[foreseen] = total[foreseen] / count[foreseen]
    return DailyHistory(days, mean_c, history.assumed_before, history.gaps)


def up_to(history: DailyHistory, day: date) -> DailyHistory:
    """The history as it will be known on a day."""
    known = history.days <= np.datetime64(day)
    return DailyHistory(history.days[known], history.mean_c[known], history.assumed_before, history.gaps)


def almanac_of(garden: Garden, tree: Tree, log: Sequence[Entry], ahead: DailyHistory, today: date) -> Almanac:
    """
    Almanac of one tree.

    log: its entries up to now, oldest first; ahead: from history_ahead.
    """
    lived = Past(ahead, garden.places, garden.site.latitude).lived_by(tree.place, log)
    stage = stage_of(tree.species, lived, log)
    return almanac_from(lived, stage, today)
