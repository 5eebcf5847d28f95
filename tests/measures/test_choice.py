"""The one rule of deciding: the most saved for the least work, and peace where work is not worth it."""

import pytest

from carewatch.measures.choice import STANDS_STILL, Option, choose, cost_of, handling_loss, minutes_text, percent
from tests.condition.grown import TABLES, on, severed, year_like

YEARS = year_like("2024-09-01", "2027-12-31")
ALONE: frozenset[str] = frozenset()
SPARE = TABLES.hazards.roots_spare


def _option(
    name: str, loss: float, minutes: float, *, standing: float = 0.30, carries: int = 0, handling: float = 0.0
) -> Option:
    """As simulated for an ordinary tree at ordinary caution."""
    return Option(
        name=name,
        loss=loss,
        handling=handling,
        hazard_damage={"frost": loss},
        hazard_loss={"frost": loss},
        hazard_probability={"frost": 0.5},
        carries=carries,
        minutes=minutes,
        gain=standing - loss,
        cost=cost_of(minutes, 0.5),
        chosen=False,
        why="",
    )


def _chosen(options: list[Option]) -> str:
    return next((option.name for option in options if option.chosen), "")


@pytest.mark.parametrize(
    ("caution", "minutes", "cost"),
    [(0.5, 60.0, 1.0), (0.5, 6.0, 0.1), (0.0, 6.0, 1.0), (1.0, 60.0, 0.1), (0.5, 0.0, 0.0)],
)
def test_an_hour_of_work_is_worth_a_tree_at_ordinary_caution(caution: float, minutes: float, cost: float) -> None:
    """Minutes / (60 · 10^(2 caution - 1)): ten times more for the anxious, ten times less for the easy-going."""
    assert cost_of(minutes, caution) == pytest.approx(cost)


def test_the_cheapest_that_suffices_is_taken() -> None:
    """Two percent more saved are not worth twenty minutes."""
    ranked = choose(
        [_option("plunge", 0.01, 25.0), _option("fleece", 0.03, 5.0), _option("mulch", 0.25, 3.0)],
        0.30,
        6.0,
        False,
        ALONE,
    )
    assert _chosen(ranked) == "fleece"
    assert ranked[0].chosen
    assert sum(option.chosen for option in ranked) == 1
    assert "from 30 % to 3 %" in ranked[0].why
    assert "5 minutes" in ranked[0].why


def test_the_best_is_taken_where_it_is_worth_its_work() -> None:
    """A tenth more of the tree for two minutes more."""
    ranked = choose([_option("fleece", 0.15, 4.0), _option("fleece-double", 0.05, 6.0)], 0.30, 6.0, False, ALONE)
    assert _chosen(ranked) == "fleece-double"


def test_nothing_is_done_where_it_is_not_worth_the_work() -> None:
    """Three per cent of a tree against ten minutes; the reason says so."""
    ranked = choose([_option("fleece", 0.0, 10.0, standing=0.03)], 0.03, 6.0, False, ALONE)
    assert _chosen(ranked) == ""
    assert "not worth 10 minutes" in ranked[0].why
    assert choose([], 0.3, 6.0, False, ALONE) == []


def test_what_does_not_help_is_never_taken() -> None:
    """However cheap; what makes it worse says by what."""
    ranked = choose([_option("set-down", 0.38, 0.0), _option("mulch", 0.30, 0.0)], 0.30, 6.0, False, ALONE)
    assert _chosen(ranked) == ""
    why = {option.name: option.why for option in ranked}
    assert why["mulch"] == "changes nothing here"
    assert "makes it worse" in why["set-down"]
    assert "frost" in why["set-down"]


def test_with_a_day_left_the_gain_must_be_twice_the_cost() -> None:
    """There is a chance tomorrow; at the last chance once is enough."""
    options = [_option("fleece", 0.15, 6.0, standing=0.30)]
    assert options[0].gain == pytest.approx(1.5 * options[0].cost)
    assert _chosen(choose(options, 0.30, 30.0, False, ALONE)) == ""
    assert _chosen(choose(options, 0.30, 24.0, False, ALONE)) == "fleece"


def test_a_fresh_layer_stands_still_where_enough_is_saved_in_place() -> None:
    """Even where carrying it saves more; the reason names the rule."""
    options = [_option("move:shed", 0.01, 6.0, carries=2), _option("fleece", 0.08, 6.0)]
    assert _chosen(choose(options, 0.30, 6.0, False, ALONE)) == "move:shed"
    ranked = choose(options, 0.30, 6.0, True, ALONE)
    assert _chosen(ranked) == "fleece"
    move = next(option for option in ranked if option.name == "move:shed")
    assert (move.why, move.telling) == (STANDS_STILL, True)


def test_a_fresh_layer_is_carried_where_nothing_in_place_is_enough() -> None:
    """More than a tenth would be lost in place."""
    options = [_option("move:shed", 0.03, 6.0, carries=2, handling=0.02), _option("fleece", 0.20, 5.0)]
    assert _chosen(choose(options, 0.45, 6.0, True, ALONE)) == "move:shed"


def test_of_nearly_equal_ways_the_one_that_serves_the_neighbour_is_taken() -> None:
    """One errand is easier than two; never a carry for the sake of company."""
    options = [
        _option("fleece", 0.050, 5.0),
        _option("fleece-heavy", 0.055, 5.0),
        _option("move:shed", 0.052, 5.0, carries=2),
    ]
    assert _chosen(choose(options, 0.30, 6.0, False, ALONE)) == "fleece"
    assert _chosen(choose(options, 0.30, 6.0, False, frozenset({"fleece-heavy"}))) == "fleece-heavy"
    assert _chosen(choose(options, 0.30, 6.0, False, frozenset({"move:shed"}))) == "fleece"
    far = [_option("fleece", 0.05, 5.0), _option("fleece-heavy", 0.20, 5.0)]
    assert _chosen(choose(far, 0.30, 6.0, False, frozenset({"fleece-heavy"}))) == "fleece"


def test_carrying_costs_young_roots_by_what_does_not_hold() -> None:
    """(1 - anchorage)² of the harm per carry, there and back; nothing where all hold or none is carried."""
    layer = on("2026-06-25", [severed("2026-06-20")], YEARS)
    harm = TABLES.hazards.carry_harm_untied
    share = 2 * harm * (1.0 - layer.anchorage) ** 2 * layer.young_roots
    kept = SPARE * layer.root_supply
    assert handling_loss(layer, harm, 2, SPARE) == pytest.approx((share - kept) / (1.0 - kept))
    assert handling_loss(layer, harm, 2, SPARE) > 0.05
    assert handling_loss(layer, harm, 0, SPARE) == 0.0
    assert handling_loss(on("2026-06-25", [], YEARS), harm, 2, SPARE) == 0.0


def test_ties_and_time_make_carrying_safer() -> None:
    """A third of the harm when tied; after a year there is none."""
    log = [severed("2025-06-20")]
    fresh, later = (on(day, log, YEARS) for day in ("2025-06-25", "2026-09-10"))
    untied, tied = TABLES.hazards.carry_harm_untied, TABLES.hazards.carry_harm_tied
    assert handling_loss(fresh, tied, 2, SPARE) < handling_loss(fresh, untied, 2, SPARE)
    assert handling_loss(later, untied, 2, SPARE) == 0.0
    assert handling_loss(fresh, untied, 4, SPARE) > handling_loss(fresh, untied, 2, SPARE)


def test_numbers_in_reasons_are_whole_and_never_nothing() -> None:
    """A small loss is "under 1 %", one minute is one."""
    assert [percent(share) for share in (0.0, 0.004, 0.01, 0.126, 1.0)] == ["0 %", "under 1 %", "1 %", "13 %", "100 %"]
    assert minutes_text(_option("fleece", 0.1, 0.3)) == "1 minute"
    assert minutes_text(_option("fleece", 0.1, 7.6)) == "8 minutes"
