"""What shelter itself does to trees, and what snow and ice do to crowns: who is harmed, and who is not."""

from dataclasses import replace

import numpy as np
import pytest

from carewatch.care.log import Entry
from carewatch.condition.dark_carried import dark_days
from carewatch.condition.frost_to_come import frost_to_come_c
from carewatch.condition.lived import Past
from carewatch.condition.now import Condition
from carewatch.exposure.bark import THAWS_C, thaw_age_h
from carewatch.limits.judge import Judgement
from tests.condition.grown import NORTH, TABLES, noon, on, steady, tree, year_like
from tests.limits.felt import judged, limits_of, uneventful

YEARS = year_like("2024-09-01", "2027-12-31")
NUMBERS = TABLES.hazards
MARCH, WINTER, SUMMER = "2026-03-15", "2026-01-20", "2026-07-10"
DAYS = 6 * 24


def _loss(verdict: Judgement, hazard: str) -> float:
    return float(verdict.loss[hazard][0, 0])


# --- forcing --------------------------------------------------------------------------------------------------------


def _forced(condition: Condition, warmth: float, outside: float = 0.0, low_c: float = 5.0) -> Judgement:
    """Six days in which the place gives so much thermal time, and the open air so much."""
    steps = np.linspace(0.0, 1.0, DAYS)
    felt = uneventful(DAYS, warmth_kd=warmth * steps, open_kd=outside * steps, open_low_c=low_c)
    return judged(felt, limits_of(condition, MARCH))


def _swelling(forces: float = 0.9) -> Condition:
    log = [Entry("maple", "observe", noon(MARCH), seen="bud-swell")]
    return replace(on(MARCH, log, YEARS), forces=forces, frost_to_come_c=-6.0)


def test_warmth_that_opens_buds_before_the_last_frosts_costs_what_the_frost_will_take() -> None:
    """Swollen buds of a maple bear -5 °C, open ones -2 (species table): the night of -6 is still to come."""
    verdict = _forced(_swelling(), 120.0)
    assert verdict.beyond["forcing"].any()
    assert 0.10 < _loss(verdict, "forcing") <= NUMBERS.organ_weight["buds"]
    assert _loss(_forced(_swelling(), 120.0, outside=120.0), "forcing") == 0.0
    assert not _forced(_swelling(), 120.0, outside=120.0).beyond["forcing"].any()


def test_the_forecast_frost_counts_where_the_climate_has_none() -> None:
    """A late frost in a mild place."""
    mild = replace(_swelling(), frost_to_come_c=3.0)
    assert _loss(_forced(mild, 120.0), "forcing") == 0.0
    assert np.isinf(_forced(mild, 120.0).limit["forcing"][0])
    assert _loss(_forced(mild, 120.0, low_c=-6.0), "forcing") > 0.10


def test_more_warmth_is_never_less_harm_and_no_warmth_none() -> None:
    """And buds that do not answer to warmth yet are not forced by any."""
    losses = [_loss(_forced(_swelling(), warmth), "forcing") for warmth in (0.0, 20.0, 60.0, 120.0, 400.0)]
    assert losses == sorted(losses)
    assert losses[0] == 0.0
    assert _loss(_forced(_swelling(forces=0.0), 400.0), "forcing") == 0.0


def test_the_condition_knows_how_far_buds_answer_and_what_frost_is_to_come() -> None:
    """Nothing in autumn's rest and in leaf; in spring nearly all; March near Potsdam still has nights of -5 °C."""
    forces = {day: on(day, [], YEARS).forces for day in ("2025-11-20", "2026-04-05", SUMMER)}
    assert forces["2025-11-20"] == forces[SUMMER] == 0.0
    assert forces["2026-04-05"] > 0.6
    to_come = {day: frost_to_come_c(year_like("2024-09-01", day)) for day in ("2026-03-01", "2026-04-15", "2026-06-01")}
    assert -9.0 < to_come["2026-03-01"] < -4.0 < to_come["2026-04-15"] < 1.0 < to_come["2026-06-01"]
    assert np.isinf(frost_to_come_c(year_like("2026-01-01", "2026-03-01")))


# --- dark -----------------------------------------------------------------------------------------------------------


def _dark(condition: Condition, days: float, day: str = WINTER) -> Judgement:
    hours = int(days * 24)
    return judged(uneventful(hours, dark_d=1.0 / 24.0), limits_of(condition, day))


def test_an_evergreen_at_rest_stands_weeks_in_the_dark_and_a_maple_in_leaf_days() -> None:
    """Three weeks below 5 °C, three days in leaf (common practice)."""
    pine = on(WINTER, [], YEARS, tree("maple", "Pinus"))
    assert _loss(_dark(pine, 6), "dark") == 0.0
    long_there = _dark(replace(pine, dark_d=24.0), 6)
    assert long_there.beyond["dark"].all()
    assert _loss(long_there, "dark") > 0.10
    leafy = on(SUMMER, [], YEARS)
    assert _loss(_dark(leafy, 2, SUMMER), "dark") < 0.01
    assert _dark(leafy, 6, SUMMER).beyond["dark"].any()
    assert _loss(_dark(leafy, 6, SUMMER), "dark") > 0.05


def test_the_dark_does_a_bare_tree_no_harm() -> None:
    """Dormant trees winter in sheds (common practice)."""
    verdict = _dark(on(WINTER, [], YEARS), 14)
    assert _loss(verdict, "dark") == 0.0
    assert np.isinf(verdict.limit["dark"][0])


def test_days_in_the_dark_are_counted_by_the_log_and_made_good_in_the_light() -> None:
    """Moves and measures that begin and end; a warm shed starves resting leaves seven times as fast."""
    places = {name: replace(TABLES.place_kinds[kind], id=name) for name, kind in (("bench", "bench"), ("shed", "shed"))}
    pine = tree("maple", "Pinus", place="bench")

    def found(log: list[Entry], mean_c: float = 2.0, in_leaf: bool = True) -> float:
        lived = Past(steady("2025-01-01", WINTER, mean_c), {}, NORTH).lived_by("bench", [])
        return dark_days("winter-hard", in_leaf, pine, log, places, lived, noon(WINTER))

    into = Entry("maple", "move", noon("2026-01-10"), to="shed")
    assert found([]) == 0.0
    assert found([into]) == pytest.approx(10.0)
    assert found([into], 20.0) == pytest.approx(70.0)
    begun = Entry("maple", "begin", noon("2026-01-10"), measure="move:shed")
    ended = Entry("maple", "end", noon("2026-01-18"), measure="move:shed")
    assert found([begun]) == pytest.approx(10.0)
    assert found([begun, ended]) == pytest.approx(4.0)
    assert found([into], in_leaf=False) == 0.0


# --- damp -----------------------------------------------------------------------------------------------------------


def test_mould_comes_with_the_third_wet_day_at_ten_degrees() -> None:
    """Three wet days in closed air (common practice), at 0.58 of the pace of 20 °C (Bulger et al. 1987)."""
    leafy = on(SUMMER, [], YEARS)
    course = 0.58 * np.arange(1.0, 97.0)
    verdict = judged(uneventful(96, damp_h=course), limits_of(leafy, SUMMER))
    first = int(np.argmax(verdict.beyond["damp"][:, 0, 0]))
    assert 66 <= first <= 78
    assert (
        0.0
        < _loss(verdict, "damp")
        < _loss(judged(uneventful(96, damp_h=2 * course), limits_of(leafy, SUMMER)), "damp")
    )
    pine = on(WINTER, [], YEARS, tree("maple", "Pinus"))
    assert _loss(judged(uneventful(96, damp_h=course), limits_of(pine, WINTER)), "damp") == 0.0
    bare = judged(uneventful(96, damp_h=2 * course), limits_of(on(WINTER, [], YEARS), WINTER))
    assert np.isinf(bare.limit["damp"][0])


# --- load -----------------------------------------------------------------------------------------------------------


def _load(condition: Condition, day: str, snow_mm: float = 0.0, ice: float = 0.0) -> Judgement:
    ramp = np.linspace(0.0, 1.0, 24)
    return judged(uneventful(24, snow_mm=snow_mm * ramp, ice_mm=ice * ramp), limits_of(condition, day))


def test_soft_leaf_bears_half_of_the_snow_that_needles_bear() -> None:
    """4 mm of water in leaf, 8 on evergreens; a tenth of what can break breaks there."""
    pine, leafy = on(WINTER, [], YEARS, tree("maple", "Pinus")), on(SUMMER, [], YEARS)
    for condition, day, limit in ((pine, WINTER, 8.0), (leafy, SUMMER, 4.0)):
        verdict = _load(condition, day, snow_mm=limit)
        assert float(verdict.damage["load"][0, 0]) == pytest.approx(0.10, abs=0.01)
        assert float(verdict.limit["load"][0]) == limit
        assert _loss(_load(condition, day, snow_mm=0.3 * limit), "load") == 0.0
    wired = on(WINTER, [Entry("maple", "wire", noon("2026-01-05"))], YEARS)
    assert float(_load(wired, WINTER, snow_mm=6.0).limit["load"][0]) == 4.0


def test_half_an_inch_of_ice_breaks_branches_and_a_glaze_does_not() -> None:
    """A quarter to half an inch breaks small branches and weak limbs (Hauer, Hruska & Dawson 1994)."""
    bare = on(WINTER, [], YEARS)
    assert _loss(_load(bare, WINTER, ice=1.5), "load") == 0.0
    quarter, half = (float(_load(bare, WINTER, ice=mm).damage["load"][0, 0]) for mm in (6.35, 12.7))
    assert 0.08 < quarter < 0.20
    assert 0.45 < half < 0.65


def test_a_load_that_lies_has_been_borne() -> None:
    """It melts, or it stays: nothing new is lost."""
    pine = on(WINTER, [], YEARS, tree("maple", "Pinus"))
    verdict = judged(uneventful(24, snow_mm=np.linspace(15.0, 2.0, 24)), limits_of(pine, WINTER))
    assert _loss(verdict, "load") == 0.0
    assert not verdict.beyond["load"].any()


# --- bark -----------------------------------------------------------------------------------------------------------


def test_a_thaw_before_now_counts_as_one_ahead() -> None:
    """The same night is judged the same before the sunny afternoon and in the evening after it."""
    assert NUMBERS.bark_thaws_c == THAWS_C
    bared = limits_of(replace(on(WINTER, [], YEARS), bark_exposure=1.0), WINTER)
    course = np.full(48, -2.0)
    course[12:15], course[20:30] = 15.0, -11.0
    whole = judged(uneventful(48, bark_c=course), bared)
    for cut in (14, 16, 19):
        age = float(thaw_age_h(course[:cut, None, None], np.full((1, 1), 1e4))[0, 0])
        later = judged(uneventful(48 - cut, bark_c=course[cut:], thaw_age_h=age), bared)
        assert _loss(later, "bark-scald") == pytest.approx(_loss(whole, "bark-scald"))
        assert _loss(later, "bark-scald") > 0.05
    forgotten = judged(uneventful(29, bark_c=course[19:]), bared)
    assert _loss(forgotten, "bark-scald") == 0.0
