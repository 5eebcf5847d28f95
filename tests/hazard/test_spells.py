"""Spells: which hours are beyond a limit, how likely, how bad, and in which words of the standard."""

from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray

from carewatch.alerts.danger import SEVERITIES
from carewatch.hazard.spells import Spell, certainty_of, runs, severity_of, spells_of, urgency_of
from carewatch.limits.judge import HAZARDS, UNITS, Judgement

Array = NDArray[np.float64]

HOURS, MEMBERS = 120, 20
TIMES = np.datetime64("2026-05-01T01:00:00", "s") + np.arange(HOURS) * np.timedelta64(3600, "s")
WHOLE = dict.fromkeys(HAZARDS, HOURS)
# OASIS Common Alerting Protocol 1.2, section 3.2.2.
CAP_SEVERITY = {"Extreme", "Severe", "Moderate", "Minor", "Unknown"}
CAP_URGENCY = {"Immediate", "Expected", "Future", "Past", "Unknown"}
CAP_CERTAINTY = {"Observed", "Likely", "Possible", "Unlikely", "Unknown"}


def _judgement(hazard: str, dose: Array, limit: float, loss: Array) -> Judgement:
    """One column; dose (hour, member) of one hazard, loss per member; nothing else happens."""
    never = np.zeros((HOURS, MEMBERS, 1), dtype=np.bool_)
    quiet = np.zeros((MEMBERS, 1))
    course = {name: np.zeros((HOURS, MEMBERS, 1)) for name in HAZARDS} | {hazard: dose[:, :, None]}
    beyond = dose < limit if hazard in ("frost", "root-freeze") else dose > limit
    return Judgement(
        dose=course,
        shown=course,
        limit={name: np.array([limit]) for name in HAZARDS},
        beyond=dict.fromkeys(HAZARDS, never) | {hazard: beyond[:, :, None]},
        damage=dict.fromkeys(HAZARDS, quiet) | {hazard: loss[:, None] / 0.35},
        loss=dict.fromkeys(HAZARDS, quiet) | {hazard: loss[:, None]},
    )


def _frost(nights: dict[int, float], members: int, loss: float = 0.2) -> Judgement:
    """Nights at which so many members reach the given minimum for five hours (centre: index)."""
    dose = np.full((HOURS, MEMBERS), 5.0)
    for centre, lowest in nights.items():
        for offset, warmer in zip(range(-2, 3), (1.0, 0.5, 0.0, 0.5, 1.0), strict=True):
            dose[centre + offset, :members] = lowest + warmer
    harmed = np.zeros(MEMBERS)
    harmed[:members] = loss
    return _judgement("frost", dose, -2.0, harmed)


def _found(judgement: Judgement, horizon: dict[str, int] | None = None) -> tuple[Spell, ...]:
    return spells_of(judgement, 0, TIMES, horizon or WHOLE, MEMBERS)


@pytest.mark.parametrize(
    ("loss", "word"),
    [
        (0.0, ""),
        (0.0199, ""),
        (0.02, "Minor"),
        (0.0999, "Minor"),
        (0.10, "Moderate"),
        (0.2999, "Moderate"),
        (1.0 - 0.7, "Severe"),
        (1.0 - 0.9, "Moderate"),
        (0.30, "Severe"),
        (0.5999, "Severe"),
        (0.60, "Extreme"),
        (1.0, "Extreme"),
    ],
)
def test_severity_is_of_the_loss(loss: float, word: str) -> None:
    """None below 2 %, minor below 10, moderate below 30, severe below 60, extreme from there."""
    assert severity_of(loss) == word


def test_words_are_those_of_the_common_alerting_protocol() -> None:
    """OASIS CAP 1.2, section 3.2.2."""
    assert {severity_of(loss) for loss in np.linspace(0.02, 1.0, 200)} <= CAP_SEVERITY
    assert {certainty_of(share) for share in np.linspace(0.0, 1.0, 200)} <= CAP_CERTAINTY
    assert {urgency_of(hours) for hours in np.linspace(-5.0, 200.0, 400)} <= CAP_URGENCY
    assert set(SEVERITIES) == CAP_SEVERITY


def test_certainty_is_likely_from_more_than_one_in_two() -> None:
    """CAP 1.2: "Likely" is p above about 50 %, "Possible" is p below it."""
    assert [certainty_of(share) for share in (0.51, 0.50, 0.05, 0.049)] == [
        "Likely",
        "Possible",
        "Possible",
        "Unlikely",
    ]


def test_urgency_grows_as_the_hours_run_out() -> None:
    """CAP 1.2: action at once where the work must begin, "soon (within next hour)" before it, later beyond that."""
    order = ["Immediate", "Expected", "Future"]
    words = [order.index(urgency_of(hours)) for hours in np.linspace(-3.0, 72.0, 300)]
    assert all(first <= later for first, later in pairwise(words))
    assert set(words) == {0, 1, 2}
    assert [urgency_of(hours) for hours in (0.0, 0.01, 1.0, 1.01)] == ["Immediate", "Expected", "Expected", "Future"]
    assert urgency_of(-5.0, over=True) == "Past"


def test_without_danger_there_is_no_spell() -> None:
    """Nor where nothing is lost by it."""
    assert _found(_frost({}, 0)) == ()
    assert _found(_frost({30: -4.0}, MEMBERS, loss=0.019)) == ()


def test_a_spell_tells_its_hours_peak_and_chance() -> None:
    """Bounds are the ends of the hours, the peak is the median of the members that pass the limit."""
    (spell,) = _found(_frost({30: -4.0}, 15))
    assert (spell.hazard, spell.unit) == ("frost", "°C")
    assert (spell.first, spell.last) == (28, 32)
    assert spell.starts == TIMES[27]
    assert spell.ends == TIMES[32]
    assert spell.peak_at == TIMES[30]
    assert spell.peak == -4.0
    assert spell.limit == -2.0
    assert spell.probability == 0.75
    assert spell.loss == pytest.approx(0.15)
    assert spell.loss_if == pytest.approx(0.2)
    assert (spell.severity, spell.certainty) == ("Moderate", "Likely")


def test_two_frost_nights_in_a_row_are_one_danger_and_three_days_apart_two() -> None:
    """Less than 36 hours apart (one message, one cover)."""
    assert len(_found(_frost({30: -4.0, 54: -3.5}, 15))) == 1
    assert len(_found(_frost({30: -4.0, 100: -3.5}, 15))) == 2


def test_one_odd_member_of_many_is_noise_and_one_of_twenty_is_not() -> None:
    """From 5 % on it is spoken of."""
    assert len(_found(_frost({30: -4.0}, 1))) == 1
    dose = np.full((HOURS, 50), 5.0)
    dose[30, 0] = -6.0
    loss = np.zeros(50)
    loss[0] = 0.3
    judgement = _judgement("frost", dose[:, :MEMBERS], -2.0, loss[:MEMBERS])
    many = Judgement(
        dose={name: np.zeros((HOURS, 50, 1)) for name in HAZARDS} | {"frost": dose[:, :, None]},
        shown={name: np.zeros((HOURS, 50, 1)) for name in HAZARDS} | {"frost": dose[:, :, None]},
        limit=judgement.limit,
        beyond={name: np.zeros((HOURS, 50, 1), dtype=np.bool_) for name in HAZARDS}
        | {"frost": dose[:, :, None] < -2.0},
        damage=dict.fromkeys(HAZARDS, loss[:, None]),
        loss=dict.fromkeys(HAZARDS, loss[:, None]),
    )
    assert spells_of(many, 0, TIMES, WHOLE, 50) == ()


def test_hours_beyond_the_horizon_are_not_judged() -> None:
    """Nothing is said of weather that nobody knows."""
    judgement = _frost({30: -4.0, 100: -3.5}, 15)
    (spell,) = _found(judgement, WHOLE | {"frost": 60})
    assert spell.last < 60
    assert _found(judgement, WHOLE | {"frost": 20}) == ()


def test_the_worst_of_heat_is_its_highest_and_of_cold_its_lowest() -> None:
    """Doses rise or fall."""
    dose = np.full((HOURS, MEMBERS), 20.0)
    dose[40:46] = np.array([41.0, 43.0, 44.5, 43.0, 42.0, 41.0])[:, None]
    (spell,) = _found(_judgement("heat", dose, 40.0, np.full(MEMBERS, 0.4)))
    assert (spell.peak, spell.peak_at) == (44.5, TIMES[42])
    assert spell.severity == "Severe"


def test_spells_come_in_the_order_of_time() -> None:
    """Whatever the order of hazards."""
    frost, heat = _frost({80: -4.0}, 20), np.full((HOURS, MEMBERS), 20.0)
    heat[20:24] = 45.0
    hot = _judgement("heat", heat, 40.0, np.full(MEMBERS, 0.4))
    both = Judgement(
        dose={**frost.dose, "heat": hot.dose["heat"]},
        shown={**frost.shown, "heat": hot.shown["heat"]},
        limit={**frost.limit, "heat": hot.limit["heat"]},
        beyond={**frost.beyond, "heat": hot.beyond["heat"]},
        damage={**frost.damage, "heat": hot.damage["heat"]},
        loss={**frost.loss, "heat": hot.loss["heat"]},
    )
    assert [spell.hazard for spell in _found(both)] == ["heat", "frost"]


def test_runs_are_joined_across_short_breaks_only() -> None:
    """First and last index of each."""
    flags = np.zeros(20, dtype=np.bool_)
    flags[[2, 3, 6, 15]] = True
    assert runs(flags, 1) == [(2, 2), (3, 3), (6, 6), (15, 15)]
    assert runs(flags, 4) == [(2, 6), (15, 15)]
    assert runs(np.zeros(5, dtype=np.bool_), 4) == []


def test_every_hazard_has_a_unit() -> None:
    """Peak and limit are told in it."""
    assert set(UNITS) == set(HAZARDS)
