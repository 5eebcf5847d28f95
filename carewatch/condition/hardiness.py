"""How far a tree has hardened: above ground by short days and cold, at the roots by cold alone; warm spells undo it."""

from collections.abc import Sequence
from datetime import date

import numpy as np

from carewatch.care.log import Entry
from carewatch.care.species import Species
from carewatch.condition.lived import Lived
from carewatch.condition.numbers import HardeningNumbers
from carewatch.condition.stage import Stage
from carewatch.forecast.weather import Array

# Days that a hardiness remembers: older ones weigh less than a ten thousandth. [d]
MEMORY_DAYS = 150


def hardiness(species: Species, lived: Lived, stage: Stage, numbers: HardeningNumbers) -> float:
    """
    Hardiness above ground today: 0 as in growth, 0.5 as in October, 1 as in midwinter. [0-1]

    Falls as buds wake and is gone at leaf-out, when the ability to harden again has gone as well (Vitasse, Lenz &
    Körner 2014, Front. Plant Sci. 5:541).
    """
    recent = slice(-MEMORY_DAYS, None)
    ceiling = _ceiling(stage.waking[recent], numbers.evergreen_at_swell if species.evergreen else 0.0)
    length, rising = lived.season.length_h[recent], lived.season.rising[recent]
    late = species.colouring_day_length_h + numbers.release_h
    released = np.where(rising, 1.0, np.clip((late - length) / (2.0 * numbers.release_h), 0.0, 1.0))
    cold = _cold(lived.mean_c[recent], *numbers.shoot_cold_c)
    goal = ceiling * released * (numbers.by_day_length + (1.0 - numbers.by_day_length) * cold)
    return min(_followed(goal, *numbers.shoot_days), float(ceiling[-1]))


def root_hardiness(lived: Lived, log: Sequence[Entry], numbers: HardeningNumbers) -> float:
    """Hardiness of mature roots today: 0 as in October, 1 as in midwinter. [0-1]"""
    cold = _cold(lived.root_c[-MEMORY_DAYS:], *numbers.root_cold_c)
    return fed_share(log, lived.today, numbers) * _followed(cold, *numbers.root_days)


def fed_share(log: Sequence[Entry], today: date, numbers: HardeningNumbers) -> float:
    """
    Share of their hardening that roots reach under what was done in the last year. [0-1]

    A girdled branch starves them no longer once it is cut off: what is left of the crown feeds them.
    """
    shares = [
        numbers.roots_harden_by[entry.work]
        for position, entry in enumerate(log)
        if entry.work in numbers.roots_harden_by
        and 0 <= (today - entry.at.date()).days <= numbers.unfed_days
        and not (entry.work == "set-layer" and _was_cut_off(entry, log[position + 1 :]))
    ]
    return min(shares, default=1.0)


def _was_cut_off(girdled: Entry, later: Sequence[Entry]) -> bool:
    return any(entry.work == "cut-off" and entry.branch == girdled.branch for entry in later)


def _ceiling(waking: Array, swollen: float) -> Array:
    """Most that can be had while buds go from rest (0) over swelling (1) to leaf-out (2)."""
    before = 1.0 - (1.0 - swollen) * np.minimum(waking, 1.0) ** 2
    return np.where(waking <= 1.0, before, swollen * np.maximum(2.0 - waking, 0.0))


def _cold(temp_c: Array, none_above_c: float, full_below_c: float) -> Array:
    """Share of the hardening that cold of a day calls for."""
    result: Array = np.clip((none_above_c - temp_c) / (none_above_c - full_below_c), 0.0, 1.0)
    return result


def _followed(goal: Array, harden_days: float, soften_days: float) -> float:
    """Where a first-order lag, slow upwards and quick downwards, has come to after these days."""
    up, down = 1.0 - float(np.exp(-1.0 / harden_days)), 1.0 - float(np.exp(-1.0 / soften_days))
    state = float(goal[0])
    for level in goal.tolist():
        state += (up if level > state else down) * (level - state)
    return state
