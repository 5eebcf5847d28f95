"""Where the date of a stage is uncertain what is expected is mixed, and a danger is found wherever it costs."""

from dataclasses import replace

import numpy as np
import pytest

from carewatch.care.log import Entry
from carewatch.condition.leaf_area import leaf_area
from carewatch.condition.now import Condition
from carewatch.condition.stage import COLOURING, FLUSHING, MATURE
from carewatch.hazard.spells import LEAST_LOSS
from tests.condition.grown import TABLES, days_later, first_day, noon, on, severed, stages, until, year_like
from tests.limits.felt import judged, limits_of, uneventful

YEARS = year_like("2024-09-01", "2027-12-31")
MAPLE = TABLES.species_for("Acer palmatum")
NOVEMBER = "2026-11-04"
SHARES = np.linspace(0.0, 1.0, 41)


def _seen(day: str, what: str) -> Entry:
    return Entry("maple", "observe", noon(day), seen=what)


def _mixed(base: Condition, first: str, second: str, share: float) -> Condition:
    """Likely so much in the first stage, else in the second; named after the likelier one."""
    name = first if share >= 0.5 else second
    return replace(base, stage=name, chances={first: share, second: 1.0 - share})


def test_leaves_that_may_be_green_are_never_hidden_behind_wood_that_bears_the_night() -> None:
    """
    A layer in November at -4.8 °C: its loss rises with the chance that its leaves are green, and is a danger at once.

    Buds are worth more than such leaves, and lose nothing there.
    """
    layer = on(NOVEMBER, [severed("2026-09-20"), _seen(NOVEMBER, "mature")], YEARS)
    losses = []
    for share in SHARES:
        verdict = judged(
            uneventful(tissue_c=-4.8), limits_of(_mixed(layer, "mature-leaf", "colouring", float(share)), NOVEMBER)
        )
        loss = float(verdict.loss["frost"][0, 0])
        losses.append(loss)
        assert verdict.beyond["frost"].any() or loss < LEAST_LOSS, share
        if loss >= LEAST_LOSS:
            assert verdict.organ("frost", 0) == "leaves", share
            assert float(verdict.limit["frost"][0]) > -4.8, share
    assert (np.diff(losses) >= -1e-9).all()
    assert np.diff(losses).max() < 0.02
    green, half = losses[-1], losses[len(losses) // 2]
    assert green > 0.1
    assert half == pytest.approx(0.5 * (green + losses[0]), abs=0.02)


def test_wood_that_loses_more_than_colouring_leaves_leads() -> None:
    """At -12 °C the colouring leaf is gone in any case; what is told is the wood."""
    maple = on(NOVEMBER, [_seen(NOVEMBER, "colouring")], YEARS)
    verdict = judged(uneventful(tissue_c=-12.0), limits_of(maple, NOVEMBER))
    assert verdict.organ("frost", 0) == "buds"
    assert verdict.beyond["frost"].any()


def test_leaves_ripen_over_days_and_not_at_midnight() -> None:
    """Water they can lose, gusts, dew and leaf area, by the chance that they are flush still."""
    base = on("2026-06-01", [_seen("2026-06-01", "leaf-out")], YEARS)
    rows = [limits_of(_mixed(base, "flush", "mature-leaf", float(share)), "2026-06-01") for share in SHARES]
    drying = np.array([float(row.drying_10[0]) for row in rows])
    dew = np.array([float(row.wet_shift_k[0]) for row in rows])
    torn = np.array([1.0 / float(row.tear_10[0]) for row in rows])
    for course in (-drying, dew, torn):
        assert (np.diff(course) >= -1e-9).all()
        assert np.diff(course).max() <= 0.35 * (course[-1] - course[0])
    assert drying[[0, -1]] == pytest.approx([MAPLE.water_loss_mature[0], MAPLE.water_loss_flush[0]])
    assert dew[-1] == dew[len(SHARES) // 2]
    assert torn[0] == 0.0


def test_no_crown_fills_in_a_night() -> None:
    """From day to day about the date on which the model ripens the leaves the area grows by a tenth at most."""
    ripe = first_day(stages("Acer palmatum", YEARS), YEARS, MATURE, "2026-05-01")
    days = [days_later(ripe.isoformat(), shift) for shift in range(-12, 13)]
    areas = [
        leaf_area(MAPLE, stages("Acer palmatum", until(YEARS, noon(day).date())), [], TABLES.condition.leaf_area)
        for day in days
    ]
    assert (np.diff(areas) >= 0.0).all()
    assert np.diff(areas).max() < 0.1
    assert areas[-1] > 0.95
    assert areas[0] < 0.75


def test_who_saw_green_leaves_the_day_before_yesterday_has_green_leaves() -> None:
    """Though the model alone would have had them colour that very day."""
    turns = first_day(stages("Acer palmatum", YEARS), YEARS, COLOURING, "2026-09-01").isoformat()
    alone = on(turns, [], YEARS)
    assert alone.chances["mature-leaf"] < 0.7
    seen = on(turns, [_seen(days_later(turns, -2), "mature")], YEARS)
    assert seen.chances["mature-leaf"] > 0.95
    weeks = on(days_later(turns, 12), [_seen(days_later(turns, -2), "mature")], YEARS)
    assert weeks.chances["mature-leaf"] < seen.chances["mature-leaf"]


@pytest.mark.parametrize("phase", [FLUSHING, MATURE, COLOURING])
def test_a_little_more_warmth_moves_the_chances_a_little(phase: int) -> None:
    """A tenth of a kelvin on one day is no jump: the date of a stage is known to the part of a day."""
    turn = first_day(stages("Acer palmatum", YEARS), YEARS, phase, "2026-01-15").isoformat()
    seen = [_seen(days_later(turn, -8), {FLUSHING: "bud-swell", MATURE: "leaf-out", COLOURING: "mature"}[phase])]
    courses = []
    for warmer in np.arange(0.0, 6.0, 0.1):
        past = until(YEARS, noon(turn).date())
        mean_c = past.mean_c.copy()
        mean_c[-3] += warmer
        courses.append(stages("Acer palmatum", replace(past, mean_c=mean_c), seen).chances)
    assert np.abs(np.diff(np.array(courses), axis=0)).max() < 0.03
