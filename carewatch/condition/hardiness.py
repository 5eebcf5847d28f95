"""How far a tree has hardened: above ground by short days and cold, at the roots by cold alone; warm spells undo it."""

from collections.abc import Sequence
from datetime import date

import numpy as np

from carewatch.care.log import Entry
from carewatch.care.species import Species
from carewatch.condition.lived import Lived
from carewatch.condition.stage import Stage
from carewatch.forecast.weather import Array

# Short days alone bring half of the midwinter hardiness, cold the other half: Pinus sylvestris reached -22 °C under
# short days and -40 °C under short days and cold (Smit-Spinks et al. 1985, cited by Arora & Taulavuori 2016, Front.
# Environ. Sci. 4:44). [-]
BY_DAY_LENGTH = 0.5
# Day length around the species' own at which hardening begins (-) and is released in full (+). Estimate. [h]
RELEASE_H = 1.0
# Running warmth between which cold hardens not at all and fully: cold acclimation happens between 10 and 0 °C (common
# range of acclimation experiments; ends are estimates). [°C]
UNHARDENED_ABOVE_C, HARDENED_BELOW_C = 12.0, 3.0
ROOT_UNHARDENED_ABOVE_C, ROOT_HARDENED_BELOW_C = 10.0, 1.0
# Hardiness follows its steady level with a lag: weeks to harden, a week to soften (first-order form of Leinonen 1996,
# Tree Physiol. 16:987; buds of azaleas lost hardiness within 8 to 15 days at 22/15 °C: Kalberer et al. 2007, J. Amer.
# Soc. Hort. Sci. 132:73; the times are estimates). [d]
HARDEN_DAYS, SOFTEN_DAYS = 12.0, 5.0
ROOT_HARDEN_DAYS, ROOT_SOFTEN_DAYS = 14.0, 6.0
# Hardiness that evergreen leaves can still have when buds swell; wood and buds of deciduous trees have the table's own
# value for swelling buds by then. Estimate. [-]
EVERGREEN_AT_SWELL = 0.25
# Days that a hardiness remembers: older ones weigh less than a ten thousandth. [d]
MEMORY_DAYS = 150
# Roots that the top does not feed as before harden less, for a year: mature roots of girdled Taxus did not harden at
# all (Mityga & Lanphear 1971), newly transplanted trees were 3 to 11 K less hardy than established ones (J. Environ.
# Hort. 12:33, 1994). Shares are estimates. [-]
ROOTS_HARDEN_BY = {"set-layer": 0.5, "sever-layer": 0.5, "lift": 0.6}
UNFED_DAYS = 365


def hardiness(species: Species, lived: Lived, stage: Stage) -> float:
    """
    Hardiness above ground today: 0 as in growth, 0.5 as in October, 1 as in midwinter. [0-1]

    Falls as buds wake and is gone at leaf-out, when the ability to harden again has gone as well (Vitasse, Lenz &
    Körner 2014, Front. Plant Sci. 5:541).
    """
    recent = slice(-MEMORY_DAYS, None)
    ceiling = _ceiling(stage.waking[recent], species.evergreen)
    length, rising = lived.season.length_h[recent], lived.season.rising[recent]
    late = species.colouring_day_length_h + RELEASE_H
    released = np.where(rising, 1.0, np.clip((late - length) / (2.0 * RELEASE_H), 0.0, 1.0))
    cold = _cold(lived.mean_c[recent], UNHARDENED_ABOVE_C, HARDENED_BELOW_C)
    goal = ceiling * released * (BY_DAY_LENGTH + (1.0 - BY_DAY_LENGTH) * cold)
    return min(_followed(goal, HARDEN_DAYS, SOFTEN_DAYS), float(ceiling[-1]))


def root_hardiness(lived: Lived, log: Sequence[Entry]) -> float:
    """Hardiness of mature roots today: 0 as in October, 1 as in midwinter. [0-1]"""
    cold = _cold(lived.root_c[-MEMORY_DAYS:], ROOT_UNHARDENED_ABOVE_C, ROOT_HARDENED_BELOW_C)
    return fed_share(log, lived.today) * _followed(cold, ROOT_HARDEN_DAYS, ROOT_SOFTEN_DAYS)


def fed_share(log: Sequence[Entry], today: date) -> float:
    """
    Share of their hardening that roots reach under what was done in the last year. [0-1]

    A girdled branch starves them no longer once it is cut off: what is left of the crown feeds them.
    """
    shares = [
        ROOTS_HARDEN_BY[entry.work]
        for position, entry in enumerate(log)
        if entry.work in ROOTS_HARDEN_BY
        and 0 <= (today - entry.at.date()).days <= UNFED_DAYS
        and not (entry.work == "set-layer" and _was_cut_off(entry, log[position + 1 :]))
    ]
    return min(shares, default=1.0)


def _was_cut_off(girdled: Entry, later: Sequence[Entry]) -> bool:
    return any(entry.work == "cut-off" and entry.branch == girdled.branch for entry in later)


def _ceiling(waking: Array, evergreen: bool) -> Array:
    """Most that can be had while buds go from rest (0) over swelling (1) to leaf-out (2)."""
    swollen = EVERGREEN_AT_SWELL if evergreen else 0.0
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
