"""Which season a tree believes it is in: thermal time, day length and cold, and observations above all."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

import numpy as np

from carewatch.care.log import Entry
from carewatch.care.species import Species
from carewatch.forecast.history import DailyHistory
from carewatch.forecast.weather import Array
from carewatch.physics.sun import day_length_h

# Phases in the order of the year; evergreens use other names for the same clock. Before new tips open they have
# softened as far as they had hardened in autumn, so that stage serves both ways (estimate).
PHASES = ("dormant", "bud-swell", "flush", "mature-leaf", "colouring")
EVERGREEN_NAMES = {
    "dormant": "winter-hard",
    "bud-swell": "hardening",
    "flush": "new-tips",
    "mature-leaf": "summer",
    "colouring": "hardening",
}
PHASE_SEEN = {
    "bud-swell": "bud-swell",
    "leaf-out": "flush",
    "mature": "mature-leaf",
    "colouring": "colouring",
    "leaf-fall": "dormant",
    "dormant": "dormant",
}
# Growing degree days count above this. Chuine et al. 2013 use 0-5 °C from 1 January. [°C]
GROWTH_BASE_C = 5.0
# Warmth before the days are this long opens no bud: it stands in for chilling where winters are mild, and costs five
# days in north-east Germany (estimate: without it maples leaf out on 19 January in Lisbon and 22 July in Melbourne,
# where growers see them in March and September). [h]
GROWTH_DAY_LENGTH_H = 10.5
# Senescence after Delpierre et al. 2009 with x = y = 2 and base 28.5 °C (from memory). [°C]
SENESCENCE_BASE_C = 28.5
# Spring models miss by one, autumn models by two weeks (Olsson & Jönsson 2015: hardly better than the mean date). [d]
SPREAD_DAYS = {"dormant": 14, "bud-swell": 10, "flush": 10, "mature-leaf": 10, "colouring": 14}


@dataclass(frozen=True)
class Stage:
    """
    Phase of one tree on every day of its history.

    phases: index into PHASES per day, shape (day,); today: name of the stage now.
    basis: "observed on DATE" or "modelled, ± N days".
    """

    phases: np.ndarray
    today: str
    basis: str


def stage_of(species: Species, history: DailyHistory, log: Sequence[Entry], latitude: float) -> Stage:
    """
    Stage of a tree through its history.

    log: its entries; the last observation before a day decides that day and re-anchors what follows.
    """
    days, mean = history.days, history.mean_c
    year_day = (days - days.astype("datetime64[Y]")).astype(np.float64) + 1.0
    length = day_length_h(year_day, latitude)
    warm = np.where(length >= GROWTH_DAY_LENGTH_H, np.maximum(mean - GROWTH_BASE_C, 0.0), 0.0)
    above_zero = np.maximum(mean, 0.0)
    lack = np.maximum(SENESCENCE_BASE_C - mean, 0.0)
    start = species.colouring_day_length_h
    ripening = np.where(length < start, lack**2 * (length / start) ** 2, 0.0)
    # After the summer solstice only: in spring days are short, too, but lengthen.
    autumn = year_day > 172 if latitude >= 0 else (year_day > 355) | (year_day < 172)
    ripening = np.where(autumn, ripening, 0.0)
    midwinter = 1 if latitude >= 0 else 182
    seen = _observations(log)
    phases = np.zeros(days.size, dtype=np.int64)
    phase, heat, leaf_age, ripe = _first_phase(species, float(year_day[0]), latitude)
    for i in range(days.size):
        if int(year_day[i]) == midwinter:
            heat, ripe = 0.0, 0.0
            phase = 0 if phase in (3, 4) else phase
        heat += float(warm[i])
        leaf_age += float(above_zero[i])
        ripe += float(ripening[i])
        if phase == 0 and ripe == 0.0 and heat >= species.bud_swell_gdd:
            phase = 1
        if phase == 1 and heat >= species.leaf_out_gdd:
            phase, leaf_age = 2, 0.0
        if phase == 2 and leaf_age >= species.flush_gdd:
            phase = 3
        if phase == 3 and ripe >= species.colouring_sum:
            phase = 4
        if phase == 4 and ripe >= species.leaf_fall_sum:
            phase = 0
        observed = seen.get(days[i].astype(date))
        if observed is not None:
            phase, heat, leaf_age, ripe = _anchored(observed, species, heat, ripe)
        phases[i] = phase
    name = PHASES[phase]
    today = EVERGREEN_NAMES[name] if species.evergreen else name
    last = max(seen, default=None)
    if last is not None and (days[-1].astype(date) - last).days <= SPREAD_DAYS[name]:
        return Stage(phases, today, f"observed on {last}")
    return Stage(phases, today, f"modelled, give or take {SPREAD_DAYS[name]} days")


def _observations(log: Sequence[Entry]) -> dict[date, int]:
    """Phase seen per local date; the last entry of a day counts."""
    ordered = sorted((entry for entry in log if entry.work == "observe" and entry.seen in PHASE_SEEN), key=_at)
    return {entry.at.date(): PHASES.index(PHASE_SEEN[str(entry.seen)]) for entry in ordered}


def _at(entry: Entry) -> datetime:
    return entry.at


def _first_phase(species: Species, year_day: float, latitude: float) -> tuple[int, float, float, float]:
    """Phase on the first day of a history, before anything is summed: winter half year dormant, summer half in leaf."""
    summer = 120 <= year_day <= 280
    if latitude < 0:
        summer = year_day <= 97 or year_day >= 302
    if summer:
        return 3, species.leaf_out_gdd, species.flush_gdd, 0.0
    late = year_day > 280 if latitude >= 0 else 97 < year_day < 182
    return 0, 0.0, 0.0, species.leaf_fall_sum if late else 0.0


def _anchored(phase: int, species: Species, heat: float, ripe: float) -> tuple[int, float, float, float]:
    """Sums as the model would have them at the start of the phase that was seen."""
    if phase == 0:
        return 0, heat, 0.0, max(ripe, species.leaf_fall_sum) if ripe > 0.0 else 0.0
    if phase == 1:
        return 1, species.bud_swell_gdd, 0.0, 0.0
    if phase == 2:
        return 2, species.leaf_out_gdd, 0.0, 0.0
    if phase == 3:
        # Still green though the model saw it colour: colour comes soon, but not today.
        return 3, max(heat, species.leaf_out_gdd), species.flush_gdd, min(ripe, 0.8 * species.colouring_sum)
    return (
        4,
        max(heat, species.leaf_out_gdd),
        species.flush_gdd,
        min(max(ripe, species.colouring_sum), 0.5 * (species.colouring_sum + species.leaf_fall_sum)),
    )


def leaf_weights(phases: np.ndarray, evergreen: bool) -> Array:
    """
    Weight of a day's warmth for root growth. [0-1]

    Leafless .3, flush .4 (roots regenerate little during active spring growth: Watson & Himelick 1982), mature 1,
    colouring .6; evergreens 1 and .5 in winter. Values: estimate.
    """
    table = np.array([0.5, 0.5, 0.4, 1.0, 0.8]) if evergreen else np.array([0.3, 0.3, 0.4, 1.0, 0.6])
    result: Array = table[phases]
    return result
