"""What a loss is worth to the tree, hazard by hazard: the same frost on a flush, on autumn colour and on a dry bud."""

from dataclasses import replace

import numpy as np
import pytest

from carewatch.care.log import Entry
from carewatch.condition.now import Condition
from carewatch.hazard.spells import LEAST_LOSS, severity_of
from tests.condition.grown import TABLES, noon, on, severed, tree, year_like
from tests.limits.felt import judged, limits_of, uneventful

YEARS = year_like("2024-09-01", "2027-12-31")
NUMBERS = TABLES.hazards


def _seen(day: str, what: str) -> Entry:
    return Entry("maple", "observe", noon(day), seen=what)


def _maple_in(day: str, what: str, *log: Entry) -> Condition:
    return on(day, [*log, _seen(day, what)], YEARS)


def _frost_loss(condition: Condition, day: str, tissue_c: float) -> float:
    return float(judged(uneventful(tissue_c=tissue_c), limits_of(condition, day)).loss["frost"][0, 0])


def _root_frost_loss(condition: Condition, day: str, shells_c: float) -> float:
    return float(judged(uneventful(shells_c=shells_c), limits_of(condition, day)).loss["root-freeze"][0, 0])


def test_an_uneventful_day_costs_nothing() -> None:
    """By no hazard, at any stage."""
    for day, what in (("2026-02-10", "dormant"), ("2026-05-01", "leaf-out"), ("2026-07-10", "mature")):
        verdict = judged(uneventful(), limits_of(_maple_in(day, what), day))
        assert float(verdict.total()[0, 0]) == 0.0, day
        assert not any(beyond.any() for beyond in verdict.beyond.values()), day


def test_a_colouring_maple_in_its_first_frost_loses_next_to_nothing() -> None:
    """Leaves at -4 °C all brown the next day; they were on their way out: never more than minor."""
    loss = _frost_loss(_maple_in("2026-10-28", "colouring"), "2026-10-28", -4.0)
    assert severity_of(loss) in ("", "Minor")
    assert loss < 0.10


@pytest.mark.parametrize("tissue_c", [-1.0, -2.5, -4.0, -5.5])
def test_no_first_frost_on_autumn_colour_is_more_than_minor(tissue_c: float) -> None:
    """For a tree on its own roots; nor for a fresh layer."""
    for log in ([], [severed("2026-06-15")]):
        condition = _maple_in("2026-10-28", "colouring", *log)
        leaf = limits_of(condition, "2026-10-28")
        verdict = judged(uneventful(tissue_c=tissue_c), leaf)
        assert severity_of(float(verdict.loss["frost"][0, 0])) in ("", "Minor"), tissue_c


def test_the_same_frost_on_a_flush_is_far_worse() -> None:
    """-4 °C kills half of a flush, and a weak tree's flush is worth more to it."""
    flush = _frost_loss(_maple_in("2026-05-01", "leaf-out"), "2026-05-01", -4.0)
    colour = _frost_loss(_maple_in("2026-10-28", "colouring"), "2026-10-28", -4.0)
    layer = _frost_loss(_maple_in("2026-05-01", "leaf-out", severed("2025-09-15")), "2026-05-01", -4.0)
    assert flush > 10.0 * colour
    assert layer > 1.5 * flush
    assert flush == pytest.approx(0.5 * NUMBERS.organ_weight["leaf.flush"], abs=1e-6)


def test_buds_bear_in_winter_what_they_do_not_bear_when_swelling() -> None:
    """-12 °C."""
    dormant = _frost_loss(_maple_in("2026-01-20", "dormant"), "2026-01-20", -12.0)
    swelling = _frost_loss(_maple_in("2026-04-05", "bud-swell"), "2026-04-05", -12.0)
    assert dormant < 0.002
    assert swelling > 0.3


def test_wet_flush_freezes_a_kelvin_sooner_and_is_warned_of_a_kelvin_sooner() -> None:
    """Dew or hoar starts the freezing (estimate); what costs more than nothing is also beyond the limit."""
    limits = limits_of(_maple_in("2026-05-01", "leaf-out"), "2026-05-01")
    dry, wet = (judged(uneventful(tissue_c=-1.6, wet=wet), limits) for wet in (False, True))
    assert float(wet.loss["frost"][0, 0]) > float(dry.loss["frost"][0, 0])
    assert float(wet.loss["frost"][0, 0]) > LEAST_LOSS
    assert not dry.beyond["frost"].any()
    assert wet.beyond["frost"].all()
    assert float(wet.limit["frost"][0]) == pytest.approx(float(dry.limit["frost"][0]) + NUMBERS.wet_frost_shift_k)


def test_dew_does_not_harm_a_ripe_leaf() -> None:
    """Only soft tissue freezes sooner when wet."""
    limits = limits_of(_maple_in("2026-07-10", "mature"), "2026-07-10")
    dry, wet = (judged(uneventful(tissue_c=-3.0, wet=wet), limits).loss["frost"] for wet in (False, True))
    assert wet == pytest.approx(dry)


def test_loss_passes_two_per_cent_no_later_than_the_limit_where_leaves_matter() -> None:
    """The limit shown is the dose of 10 %: of a flush that is 3.5 % of the tree."""
    limits = limits_of(_maple_in("2026-05-01", "leaf-out"), "2026-05-01")
    at_limit = judged(uneventful(tissue_c=float(limits.leaf_frost_10[0])), limits)
    assert float(at_limit.damage["frost"][0, 0]) == pytest.approx(0.1)
    assert float(at_limit.loss["frost"][0, 0]) == pytest.approx(0.035)


def test_frozen_roots_cost_a_layer_everything_and_an_old_tree_little() -> None:
    """-5 °C in the ball in October: half of the young roots, a third of the mature ones."""
    layer = _root_frost_loss(on("2026-10-20", [severed("2026-09-20")], YEARS), "2026-10-20", -5.0)
    old = _root_frost_loss(on("2026-10-20", [], YEARS), "2026-10-20", -5.0)
    assert layer > 0.4
    assert old == pytest.approx(0.0, abs=0.01)
    assert _root_frost_loss(on("2026-10-20", [], YEARS), "2026-10-20", -9.0) > 0.9


def test_young_and_mature_roots_are_damaged_each_by_their_own_limits() -> None:
    """Damage of a mixed ball is the mean of both damages, not the damage at a mean limit."""
    condition = on("2026-10-20", [severed("2026-09-20")], YEARS)
    shares = {}
    for young in (0.0, 0.5, 1.0):
        limits = limits_of(replace(condition, young_roots=young), "2026-10-20")
        shares[young] = float(judged(uneventful(shells_c=-4.5), limits).damage["root-freeze"][0, 0])
    assert shares[0.5] == pytest.approx(0.5 * (shares[0.0] + shares[1.0]))
    assert shares[1.0] > shares[0.0]


def test_four_hours_of_heat_at_the_limit_cost_ten_per_cent_of_the_leaves() -> None:
    """One hour at the same temperature costs nothing that is seen; a whole day far more."""
    day = "2026-07-10"
    condition = _maple_in(day, "mature")
    limits = limits_of(condition, day)
    tenth = float(limits.heat_10[0])
    lost = {}
    for hours in (1, 4, 12):
        course = np.full(24, 20.0)
        course[10 : 10 + hours] = tenth
        lost[hours] = float(judged(uneventful(tissue_c=course), limits).damage["heat"][0, 0])
    assert lost[4] == pytest.approx(0.10, abs=0.002)
    assert lost[1] < 0.03
    assert lost[12] > 0.2


def test_above_fifty_three_degrees_a_leaf_is_lost_in_any_time() -> None:
    """Leaves of hollies and camellias die at 50.6 to 56.8 °C in half an hour (He et al. 2012)."""
    course = np.full(24, 20.0)
    course[12] = 53.5
    limits = limits_of(on("2026-07-10", [], YEARS, tree("olive", "Olea europaea")), "2026-07-10")
    assert float(judged(uneventful(tissue_c=course), limits).damage["heat"][0, 0]) > 0.9


def test_a_bare_tree_neither_scorches_nor_dries_nor_burns() -> None:
    """No leaves, no loss of leaves."""
    limits = limits_of(_maple_in("2026-02-10", "dormant"), "2026-02-10")
    verdict = judged(uneventful(tissue_c=48.0, tissue_loss=0.9, direct_kwh=8.0), limits)
    for hazard in ("heat", "drying", "sun"):
        assert float(verdict.loss[hazard][0, 0]) == 0.0
        assert not verdict.beyond[hazard].any()


def test_hot_roots_are_hurt_all_through_or_on_the_sunny_side_only() -> None:
    """A hot wall alone takes a twentieth of the roots, which an intact tree spares; young roots are hurt sooner."""
    mature = limits_of(on("2026-07-10", [], YEARS), "2026-07-10")
    side = judged(uneventful(sun_side_c=60.0, shells_c=30.0), mature)
    assert float(side.damage["root-heat"][0, 0]) == pytest.approx(0.05, abs=0.005)
    assert float(side.loss["root-heat"][0, 0]) == 0.0
    through = judged(uneventful(shells_c=46.0), mature)
    assert float(through.loss["root-heat"][0, 0]) > 0.3
    young = limits_of(on("2026-07-10", [severed("2026-06-20")], YEARS), "2026-07-10")
    tender, firm = (
        float(judged(uneventful(shells_c=38.0), rows).damage["root-heat"][0, 0]) for rows in (young, mature)
    )
    assert tender > firm


def test_a_gale_rocks_a_loose_layer_and_ties_hold_it() -> None:
    """9 m/s at the plant are far beyond an untied sparse layer and just the limit of a tied one."""
    limits = limits_of(on("2026-07-01", [severed("2026-06-20")], YEARS), "2026-07-01")
    loose = judged(uneventful(gust_ms=9.0), limits)
    tied = judged(uneventful(gust_ms=9.0), limits, anchorage_floor=0.6)
    assert float(loose.loss["wind"][0, 0]) > 0.5
    assert float(tied.loss["wind"][0, 0]) < 0.15
    assert loose.beyond["wind"].all()
    old = limits_of(on("2026-07-01", [], YEARS), "2026-07-01")
    assert float(judged(uneventful(gust_ms=9.0), old).loss["wind"][0, 0]) == 0.0


def test_a_pot_that_falls_costs_a_sixth_at_most() -> None:
    """Balance of moments is 50 %, blurred by gusts and footing (estimate)."""
    limits = limits_of(on("2026-02-01", [], YEARS), "2026-02-01")
    lost = [float(judged(uneventful(overturning=ratio), limits).loss["wind"][0, 0]) for ratio in (0.5, 0.85, 1.15, 3.0)]
    assert lost == pytest.approx([0.0, 0.015, 0.075, 0.15], abs=0.002)


def test_what_one_hazard_has_taken_of_an_organ_another_cannot_take_again() -> None:
    """Leaves that froze cannot dry as well: all together cost less than the sum, and no less than the worst."""
    limits = limits_of(_maple_in("2026-05-01", "leaf-out"), "2026-05-01")
    verdict = judged(uneventful(tissue_c=-6.0, shells_c=-9.0, tissue_loss=0.9, gust_ms=30.0), limits)
    parts = [float(loss[0, 0]) for loss in verdict.loss.values()]
    total = float(verdict.total()[0, 0])
    assert max(parts) <= total <= 1.0 - float(np.prod([1.0 - part for part in parts])) + 1e-12
    assert total < 1.0
    leaves = judged(uneventful(tissue_c=-6.0, tissue_loss=0.9), limits)
    assert float(leaves.total()[0, 0]) <= NUMBERS.organ_weight["leaf.flush"] + 1e-9
