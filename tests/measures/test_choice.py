"""The one rule of deciding: the most saved for the least work, and peace where work is not worth it."""

from dataclasses import replace

import pytest

from carewatch.measures.chances import needed
from carewatch.measures.choice import (
    STANDS_STILL,
    Option,
    choose,
    cost_of,
    handling_loss,
    minutes_text,
    percent,
)
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
    ranked = choose([_option("fleece", 0.15, 4.0), _option("fleece-double", 0.05, 6.0)], 0.30, False, ALONE)
    assert _chosen(ranked) == "fleece-double"


def test_nothing_is_done_where_it_is_not_worth_the_work() -> None:
    """Three per cent of a tree against ten minutes; the reason says so."""
    ranked = choose([_option("fleece", 0.0, 10.0, standing=0.03)], 0.03, False, ALONE)
    assert _chosen(ranked) == ""
    assert "not worth 10 minutes" in ranked[0].why
    assert choose([], 0.3, False, ALONE) == []


def test_what_does_not_help_is_never_taken() -> None:
    """However cheap; what makes it worse says by what."""
    ranked = choose([_option("set-down", 0.38, 0.0), _option("mulch", 0.30, 0.0)], 0.30, False, ALONE)
    assert _chosen(ranked) == ""
    why = {option.name: option.why for option in ranked}
    assert why["mulch"] == "changes nothing here"
    assert "makes it worse" in why["set-down"]
    assert "frost" in why["set-down"]


def test_with_another_chance_to_come_the_gain_must_be_twice_the_cost() -> None:
    """At the last chance once is enough; in the dark after it a hair's breadth is not, unless it was asked for."""
    option = _option("fleece", 0.15, 6.0, standing=0.29)
    assert option.gain == pytest.approx(1.4 * option.cost)
    assert [_chosen(choose([replace(option, factor=needed(left))], 0.29, False, ALONE)) for left in (3, 2, 1, 0)] == [
        "",
        "",
        "fleece",
        "",
    ]
    assert needed(2, asked=True) == 2.0
    assert needed(0, asked=True) == needed(1) == 1.0


def test_what_was_asked_for_is_not_called_off_for_a_hairs_breadth() -> None:
    """It stands down below 0.6 of what it took to ask (design); a new one is not called there."""
    for gain, told, wanted in ((0.07, "", ""), (0.07, "fleece", "fleece"), (0.05, "fleece", ""), (0.11, "", "fleece")):
        option = _option("fleece", 0.30 - gain, 6.0)
        assert option.cost == pytest.approx(0.1)
        assert _chosen(choose([option], 0.30, False, ALONE, told)) == wanted, (gain, told)


def test_nothing_is_called_for_below_a_minor_loss() -> None:
    """Under two per cent expected, however little the work; what is in place already stays."""
    option = _option("hold-water", 0.0, 0.1, standing=0.015)
    assert option.gain > 2.0 * option.cost
    ranked = choose([option], 0.015, False, ALONE)
    assert _chosen(ranked) == ""
    assert "less than 2 % is expected" in ranked[0].why
    assert _chosen(choose([replace(option, begun=True)], 0.015, False, ALONE)) == "hold-water"


def test_a_fresh_layer_stands_still_where_enough_is_saved_in_place() -> None:
    """Even where carrying it saves more; the reason names the rule."""
    options = [_option("move:shed", 0.01, 6.0, carries=2), _option("fleece", 0.08, 6.0)]
    assert _chosen(choose(options, 0.30, False, ALONE)) == "move:shed"
    ranked = choose(options, 0.30, True, ALONE)
    assert _chosen(ranked) == "fleece"
    move = next(option for option in ranked if option.name == "move:shed")
    assert (move.why, move.telling) == (STANDS_STILL, True)


def test_a_fresh_layer_is_carried_where_nothing_in_place_is_enough() -> None:
    """More than a tenth would be lost in place."""
    options = [_option("move:shed", 0.03, 6.0, carries=2, handling=0.02), _option("fleece", 0.20, 5.0)]
    assert _chosen(choose(options, 0.45, True, ALONE)) == "move:shed"


def test_of_nearly_equal_ways_the_one_that_serves_the_neighbour_is_taken() -> None:
    """One errand is easier than two; never a carry for the sake of company."""
    options = [
        _option("fleece", 0.050, 5.0),
        _option("fleece-heavy", 0.055, 5.0),
        _option("move:shed", 0.052, 5.0, carries=2),
    ]
    assert _chosen(choose(options, 0.30, False, ALONE)) == "fleece"
    assert _chosen(choose(options, 0.30, False, frozenset({"fleece-heavy"}))) == "fleece-heavy"
    assert _chosen(choose(options, 0.30, False, frozenset({"move:shed"}))) == "fleece"
    far = [_option("fleece", 0.05, 5.0), _option("fleece-heavy", 0.20, 5.0)]
    assert _chosen(choose(far, 0.30, False, frozenset({"fleece-heavy"}))) == "fleece"


def test_while_nobody_is_there_what_needs_no_hands_is_taken_if_it_saves_enough() -> None:
    """Less than a tenth left: it is taken though the other saves more; and a layer is not left to helpers either."""
    fleece = replace(_option("fleece", 0.01, 4.0), hands=3)
    ranked = choose([fleece, _option("plunge", 0.08, 6.0)], 0.30, False, ALONE)
    assert _chosen(ranked) == "plunge"
    assert (ranked[1].why, ranked[1].telling) == ("it needs hands on 3 days on which nobody is there", True)
    ranked = choose([fleece, _option("plunge", 0.15, 6.0)], 0.30, False, ALONE)
    assert _chosen(ranked) == "fleece"
    assert ranked[0].why == (
        "expected loss falls from 30 % to 1 % for 4 minutes; it needs hands on 3 days on which nobody is there"
    )
    shed = _option("move:shed", 0.05, 6.0, carries=2, handling=0.02)
    assert _chosen(choose([fleece, shed], 0.30, True, ALONE)) == "move:shed"
    assert _chosen(choose([replace(fleece, hands=0), shed], 0.30, True, ALONE)) == "fleece"


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
    assert minutes_text(0.3) == "1 minute"
    assert minutes_text(7.6) == "8 minutes"


def test_a_layer_that_will_stand_still_at_the_last_chance_is_not_announced_to_be_moved() -> None:
    """With a chance still to come the net does not pay twice its work, being laid down would: nothing is said yet."""
    down = replace(_option("lay-down", 0.01, 3.5, standing=0.178, carries=2), factor=2.0)
    net = replace(_option("windbreak", 0.01, 7.0, standing=0.178), factor=2.0)
    assert down.worth_it
    assert not net.worth_it
    assert _chosen(choose([down, net], 0.178, True, ALONE)) == ""
    assert _chosen(choose([replace(down, factor=1.0), replace(net, factor=1.0)], 0.178, True, ALONE)) == "windbreak"


def test_what_saves_more_for_too_much_work_says_so() -> None:
    """The reason names what more would be saved, what would still be lost, or the work, as the case is."""
    chosen, dear = _option("plunge", 0.10, 6.0), _option("fleece+plunge", 0.02, 30.0)
    weak, same = _option("mulch", 0.20, 3.0), _option("insulate-pot", 0.10, 9.0)
    why = {option.name: option.why for option in choose([chosen, dear, weak, same], 0.30, False, ALONE)}
    assert why["fleece+plunge"] == "would save 8 % more, not worth 24 minutes more"
    assert why["mulch"] == "protects less: 20 % would still be lost"
    assert why["insulate-pot"] == "more work for the same: 9 minutes"


def test_an_addition_to_what_was_asked_for_is_no_change_of_mind() -> None:
    """Ties that were asked for stand; a net besides them is told when it is worth its own work, and not for less."""
    ties = _option("tie-down", 0.178, 0.0, standing=0.733)
    for left, taken in ((0.004, "windbreak+tie-down"), (0.10, "tie-down")):
        both = _option("windbreak+tie-down", left, 7.0, standing=0.733)
        assert ties.net > 0.8 * both.net
        assert _chosen(choose([ties, both], 0.733, True, ALONE, "tie-down")) == taken


def test_what_is_in_place_stays_only_for_what_it_eases() -> None:
    """A fleece that lowers a danger of eight per cent by half a per cent comes off, though it costs nothing to stay."""
    fleece = replace(_option("fleece", 0.076, 0.0, standing=0.08), begun=True)
    assert _chosen(choose([fleece], 0.08, False, ALONE)) == ""
    assert _chosen(choose([replace(fleece, loss=0.06, gain=0.02)], 0.08, False, ALONE)) == "fleece"
