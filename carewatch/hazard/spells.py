"""Spells: the hours in which a hazard is beyond a tree's limit, with their probability, peak and cost."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from carewatch.forecast.weather import Array, Times
from carewatch.limits.judge import HAZARDS, UNITS, Judgement, is_cold

# Hours less than this apart belong to one spell: two frost nights in a row are one danger (judged). [h]
SAME_SPELL_H = 36
# A spell is spoken of from this probability on; below it, it is noise of the members (judged). [0-1]
LEAST_PROBABILITY = 0.05
# Credible edges: hours in which at least this share of the members is beyond the limit (judged). [0-1]
CREDIBLE = 0.10
# An hour belongs to a likely danger only if its chance of loss is worth some minutes of work, too: a small chance the
# night before is not the beginning of a frost that is almost certain the night after. Six minutes (judged). [0-1]
WORTH_AN_ERRAND = 0.10
# Classes of the share that is lost if the spell happens: none < 2 %, minor < 10 %, moderate < 30 %, severe < 60 %
# (judged; the words are those of CAP 1.2). Doses of heat build up over the hours of a hot day (judged: ten). [h]
LOSS_CLASSES = ((0.02, "Minor"), (0.10, "Moderate"), (0.30, "Severe"), (0.60, "Extreme"))
ROUNDING = 1e-9
BY_DURATION = ("heat", "root-heat")
HEAT_BUILDS_H = 10
LEAST_LOSS = LOSS_CLASSES[0][0]
# Leaves dry over frozen roots if, over the spell and the day before it, half of the ball is frozen in the mean of hours
# and members. Judged. [h, 0-1]
DAY_H = 24
HALF = 0.5


@dataclass(frozen=True)
class Spell:
    """
    One hazard beyond one tree's limit.

    first, last: index of the first and last credible hour; starts, ends: their bounds, UTC.
    peak_at: hour of the worst; peak, limit: in `unit`. probability: share of members that pass the limit. [0-1]
    damage, loss: expected, over all members. [0-1]; loss_if: expected if it happens. [0-1]
    severity, certainty: words of the OASIS Common Alerting Protocol 1.2, section 3.2.2.
    organ: that loses most where it is not the hazard's usual one, else "". frozen: leaves dry over a frozen ball.
    """

    hazard: str
    first: int
    last: int
    starts: np.datetime64
    ends: np.datetime64
    peak_at: np.datetime64
    peak: float
    limit: float
    unit: str
    probability: float
    damage: float
    loss: float
    loss_if: float
    severity: str
    certainty: str
    organ: str = ""
    frozen: bool = False


def severity_of(loss: float) -> str:
    """
    CAP severity of a loss, or "" below the least that is spoken of.

    loss: given that the spell happens. [0-1]
    A bound belongs to the worse class; the last digit of a sum does not decide.
    """
    name = ""
    for bound, word in LOSS_CLASSES:
        if loss >= bound - ROUNDING:
            name = word
    return name


def certainty_of(probability: float) -> str:
    """CAP certainty: "Likely" from one in two on, "Possible" below it, "Unlikely" under one in twenty."""
    if probability > 0.5:
        return "Likely"
    return "Possible" if probability >= LEAST_PROBABILITY else "Unlikely"


def urgency_of(hours_until: float, over: bool = False) -> str:
    """
    Urgency of what is to be done, by the OASIS Common Alerting Protocol 1.2, section 3.2.2.

    hours_until: left until the work must begin. over: the hazard is past.
    Immediate: responsive action should be taken immediately; Expected: soon, within the next hour; Future: in the near
    future; Past: responsive action is no longer required.
    """
    if over:
        return "Past"
    if hours_until <= 0.0:
        return "Immediate"
    return "Expected" if hours_until <= 1.0 else "Future"


def runs(flags: NDArray[np.bool_], gap: int) -> list[tuple[int, int]]:
    """First and last index of each run of true, runs less than `gap` apart joined."""
    found: list[tuple[int, int]] = []
    for index in np.nonzero(flags)[0]:
        if found and index - found[-1][1] < gap:
            found[-1] = (found[-1][0], int(index))
        else:
            found.append((int(index), int(index)))
    return found


def spells_of(judged: Judgement, column: int, times: Times, horizon: dict[str, int], members: int) -> tuple[Spell, ...]:
    """
    Spells of one column, earliest first.

    horizon: per hazard, how many hours ahead are known; later hours are not judged for it. members: how many.
    """
    found: list[Spell] = []
    for hazard in HAZARDS:
        known = min(horizon[hazard], times.size)
        beyond = judged.beyond[hazard][:known, :, column]
        if not beyond.any():
            continue
        share = beyond.mean(axis=1)
        highest = max(float(share.max()), 1.0 / members)
        loss_if = float(judged.loss[hazard][beyond.any(axis=0), column].mean())
        edge = min(max(CREDIBLE, WORTH_AN_ERRAND / max(loss_if, 1e-6)), 0.5 * highest)
        edge = min(max(edge, CREDIBLE), highest * 0.999)
        for first, last in runs(share >= edge, SAME_SPELL_H):
            spell = _spell(judged, hazard, column, times, beyond, first, last)
            if spell is not None:
                found.append(spell)
    return tuple(sorted(found, key=lambda spell: (spell.first, spell.hazard)))


def over_frozen_roots(spells: tuple[Spell, ...], shells_c: Array) -> tuple[Spell, ...]:
    """
    The spells of one column, those marked in which leaves dry because the root ball is frozen and brings no water.

    shells_c: of the root ball, (hour, shell, member). [°C]
    """

    def is_frozen(spell: Spell) -> bool:
        hours = shells_c[max(0, spell.first - DAY_H) : spell.last + 1]
        return spell.hazard == "drying" and float((hours <= 0.0).mean()) >= HALF

    return tuple(replace(spell, frozen=True) if is_frozen(spell) else spell for spell in spells)


def _spell(
    judged: Judgement, hazard: str, column: int, times: Times, beyond: NDArray[np.bool_], first: int, last: int
) -> Spell | None:
    touched = beyond[first : last + 1].any(axis=0)
    probability = float(touched.mean())
    loss = judged.loss[hazard][:, column]
    loss_if = float(loss[touched].mean())
    if probability < LEAST_PROBABILITY or loss_if < LEAST_LOSS:
        return None
    # Heat adds up from the morning on: its peak lies before the hour in which the sum passes the limit.
    begin = max(0, first - HEAT_BUILDS_H) if hazard in BY_DURATION else first
    dose = judged.shown[hazard][begin : last + 1, :, column][:, touched]
    limit = float(judged.limit[hazard][column])
    cold = is_cold(hazard, limit)
    worst = dose.min(axis=0) if cold else dose.max(axis=0)
    middle = float(np.median(worst))
    if hazard in BY_DURATION:
        # What it bears for as long as this lasts: as far below the peak as the dose is beyond its limit.
        most = judged.dose[hazard][first : last + 1, :, column][:, touched].max(axis=0)
        limit = min(limit, middle - float(np.median(most)) + limit)
    course = np.median(dose, axis=1)
    if hazard == "sun":
        # The day's sum is greatest at midnight; what hurts is the hour in which it grows most.
        course = np.diff(course, prepend=course[0])
    at = int(course.argmin() if cold else course.argmax())
    return Spell(
        hazard=hazard,
        first=first,
        last=last,
        starts=times[first] - np.timedelta64(1, "h"),
        ends=times[last],
        peak_at=times[begin + at],
        peak=middle,
        limit=limit,
        unit=UNITS[hazard],
        probability=probability,
        damage=float(np.where(touched, judged.damage[hazard][:, column], 0.0).mean()),
        loss=float(np.where(touched, loss, 0.0).mean()),
        loss_if=loss_if,
        severity=severity_of(loss_if),
        certainty=certainty_of(probability),
        organ=judged.organ(hazard, column),
    )
