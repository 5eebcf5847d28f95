"""The course of what a column feels, as a band of the members: what a picture of a spell is drawn from."""

from dataclasses import dataclass

import numpy as np

from carewatch.forecast.weather import Array
from carewatch.hazard.spells import Spell
from carewatch.limits.judge import Judgement

# Longest course that is kept: days further ahead are on no picture. [h]
MOST_HOURS = 120


@dataclass(frozen=True)
class Band:
    """One hazard's course. low, middle, high: quantiles 0.1, 0.5 and 0.9 of the members, (hour,), as `Spell.peak`."""

    hazard: str
    low: Array
    middle: Array
    high: Array


def worst_band(judged: Judgement, column: int, spells: tuple[Spell, ...]) -> Band | None:
    """The band of the costliest spell of a column, from the first hour ahead on; None without a spell."""
    if not spells:
        return None
    hazard = max(spells, key=lambda spell: spell.loss).hazard
    if hazard not in judged.shown:
        # No gauge shows it: there is nothing to draw.
        return None
    felt = np.sort(judged.shown[hazard][:MOST_HOURS, :, column], axis=1)
    # Linear between the two members beside each quantile, as numpy does it, from one sort.
    places = np.array([0.1, 0.5, 0.9]) * (felt.shape[1] - 1)
    below = np.floor(places).astype(np.intp)
    above = np.minimum(below + 1, felt.shape[1] - 1)
    low, middle, high = (felt[:, below] + (places - below) * (felt[:, above] - felt[:, below])).T
    return Band(hazard, low, middle, high)
