"""Who winters where by which date, and who comes out when: climate against the limits of roots."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.care.tree import Tree
from carewatch.forecast.history import DailyHistory
from carewatch.place.spot import Place
from carewatch.tasks.task import BANK, WRAP, WRAP_HOLDS, Task
from tests.condition.grown import severed, tree, year_like
from tests.tasks.clocks import PLACES, YEARS, entry, garden_of, needed, place, task_on, tasks_on

OCTOBER = "2025-10-10"
SHED, FRAME, ROOM = place("shed", "shed", room=2), place("frame", "cold-frame"), place("room", "indoors")
FIG = "Ficus carica"
LAYER = severed("2025-09-15", tied=True)
# A winter in which a shed or a frame is warm enough for young roots: January at 2.5 °C in the mean.
MILDER = year_like("2023-09-01", "2028-12-31", mean_c=11.9, half_range_c=9.4)


def planted(log: Sequence[Entry], trees: Sequence[Tree], *quarters: Place) -> Garden:
    """A garden with these quarters beside its open places."""
    return garden_of(log, trees, (*PLACES, *quarters))


def plan(garden: Garden, day: str = OCTOBER, years: DailyHistory = MILDER) -> dict[str, Task]:
    """The winter plan by tree."""
    return {task.tree: task for task in tasks_on(day, garden, years) if task.kind == "winter-place"}


def test_a_fresh_layer_goes_into_the_shed_asleep_and_before_the_first_hard_nights() -> None:
    """Young roots die from -3 °C; carried once, level and tied (common practice)."""
    task = plan(planted([LAYER], [tree()], SHED))["maple"]

    assert task.about == "shed"
    assert date(2025, 10, 15) < task.last < date(2025, 12, 10)
    assert task.first < task.last
    assert "young roots" in task.reason
    assert "−3 °C" in task.reason
    assert "once, level and tied" in task.reason


def test_a_hardy_tree_in_a_mild_climate_stays_where_it_is() -> None:
    """Invented Atlantic winter of 11 °C: nothing to carry, nothing to bank."""
    mild = year_like("2023-09-01", "2028-12-31", latitude=38.7, mean_c=17.0, half_range_c=6.0)

    assert plan(planted([LAYER], [tree(), tree("pine", "Pinus")], SHED), years=mild) == {}
    assert task_on(OCTOBER, "spring-out", planted([LAYER], [tree()], SHED), mild) is None


def test_hardy_roots_need_a_colder_winter_than_young_ones() -> None:
    """The limit decides by when: an old maple's roots harden, a layer's do not (Mityga & Lanphear 1971)."""
    found = plan(planted([LAYER], [tree(), tree("old")], SHED), years=YEARS)

    assert found["maple"].last < found["old"].last


def test_room_goes_to_the_tree_that_needs_it_most_and_the_others_are_banked() -> None:
    """One place in the frame; who finds none stands banked to the rim. Roots of a trident maple are the tenderer."""
    small = place("frame", "cold-frame", room=1)
    log = [LAYER, Entry("trident", "sever-layer", LAYER.at, roots="sparse")]
    trident = tree("trident", "Acer buergerianum")
    found = plan(planted(log, [tree(), trident], small))
    dear = plan(planted(log, [tree(worth=9.0), trident], small))

    assert {name: task.about for name, task in found.items()} == {
        "trident": "frame",
        "maple": "bank the pot to its rim",
    }
    assert dear["maple"].about == "frame"


def test_a_tree_that_stands_in_the_shed_takes_its_room() -> None:
    small = place("shed", "shed", room=1)
    moved = planted([LAYER, entry("move", "2025-10-08", "old", to="shed")], [tree("old"), tree()], small)
    found = plan(moved)

    assert found["maple"].about == "bank the pot to its rim"
    assert (found["old"].state, found["old"].done_on) == ("done", date(2025, 10, 8))


def test_where_the_shed_is_too_cold_for_young_roots_they_are_banked_and_old_ones_go_in() -> None:
    """A ball that is banked to its rim stays near zero when a shed does not."""
    found = plan(planted([LAYER], [tree("old"), tree()], SHED), years=YEARS)

    assert found["maple"].about == "bank the pot to its rim"
    assert found["old"].about == "shed"


def test_leaves_do_not_winter_in_the_dark_and_a_tender_tree_goes_indoors() -> None:
    """Evergreens under glass, tropical ones into warmth (common practice); a hardy tree never into a heated room."""
    trees = [tree("olive", "Olea europaea"), tree("fig", "Ficus"), tree("maple")]
    found = plan(planted([LAYER], trees, ROOM, SHED, FRAME))

    assert found["olive"].about == "frame"
    assert found["fig"].about == "room"
    assert found["maple"].about == "shed"
    assert found["fig"].last < found["olive"].last
    only_room = plan(planted([LAYER], [tree()], ROOM))
    assert only_room["maple"].about == "bank the pot to its rim"


def test_what_is_fixed_is_banked_and_done_when_it_is() -> None:
    fixed = tree(fixed=True)
    found = plan(planted([LAYER], [fixed], SHED))["maple"]
    banked = planted([LAYER, entry("begin", "2025-11-01", measure="plunge")], [fixed], SHED)

    assert found.about == "bank the pot to its rim"
    assert "It is fixed" in found.reason
    assert plan(banked, "2025-11-05")["maple"].state == "done"


def without_mulch(garden: Garden, fleece_m2: float = 0.0) -> Garden:
    """The garden without bark or soil to bank a pot with."""
    return replace(garden, stock=replace(garden.stock, mulch=False, fleece_m2=fleece_m2))


def test_nothing_is_ordered_that_the_garden_has_not_got() -> None:
    """Without mulch pots are wrapped, and it is said how far that goes; a logged jacket, or a bank, is enough."""
    garden = without_mulch(planted([LAYER], [tree()]))
    found = plan(garden)["maple"]
    assert found.title == "wrap the pot for the winter"
    assert "there is nothing to bank it with: wrap its pot." in found.reason
    assert WRAP_HOLDS in found.reason
    assert "Wrap it with a moist root ball" in found.moves
    for cover in ("insulate-pot", "plunge"):
        log = [LAYER, entry("begin", "2025-11-01", measure=cover)]
        assert plan(without_mulch(planted(log, [tree()])), "2025-11-05")["maple"].state == "done"
    assert plan(planted([LAYER], [tree()]))["maple"].about == BANK


def test_for_a_tender_tree_without_a_roof_it_is_said_plainly_that_nothing_at_hand_is_enough() -> None:
    """A jacket keeps no ficus through a winter outdoors."""
    found = plan(without_mulch(planted([], [tree("fig", "Ficus")])))["fig"]
    assert "Nothing at hand is enough for it: find it a place under a roof." in found.reason


@pytest.mark.parametrize(("fleece_m2", "said"), [(0.0, "nothing at hand covers them."), (10.0, "cover them as well.")])
def test_leaves_are_covered_only_where_there_is_something_to_cover_them_with(fleece_m2: float, said: str) -> None:
    """Leaves of an olive bear less than its roots, and a pot's jacket covers none of them."""
    garden = without_mulch(planted([], [tree("olive", "Olea europaea")]), fleece_m2)
    assert plan(garden, years=YEARS)["olive"].reason.count(f"do not bear the coldest nights: {said}") == 1


def test_without_mulch_room_goes_to_the_tree_that_would_have_been_banked() -> None:
    """The roof is for the one that lacks most; what a bank would have saved lacks it all."""
    small = place("frame", "cold-frame", room=1)
    log = [LAYER, Entry("trident", "sever-layer", LAYER.at, roots="sparse")]
    garden = planted(log, [tree(), tree("trident", "Acer buergerianum")], small)
    assert {name: task.about for name, task in plan(without_mulch(garden)).items()} == {
        "trident": "frame",
        "maple": WRAP,
    }


def test_a_roof_goes_first_to_what_a_bank_does_not_save_and_without_a_bank_to_what_is_dearest() -> None:
    """Leaves of an olive want it more than roots that a bank would keep; nothing keeps them where there is none."""
    small = place("frame", "cold-frame", room=1)
    trees = [tree(worth=20.0), tree("olive", "Olea europaea")]
    garden = planted([LAYER], trees, small)
    assert {name: task.about for name, task in plan(garden).items()} == {"olive": "frame", "maple": BANK}
    bare = {name: task.about for name, task in plan(without_mulch(garden)).items()}
    assert bare == {"olive": WRAP, "maple": "frame"}


def test_the_move_is_overdue_until_it_is_made() -> None:
    garden = planted([LAYER], [tree()], SHED)
    made = planted([LAYER, entry("move", "2025-12-20", to="shed")], [tree()], SHED)

    assert plan(garden, "2025-12-18")["maple"].state == "overdue"
    assert plan(made, "2025-12-22")["maple"].state == "done"


def test_out_of_quarters_in_spring_when_days_are_mild_or_buds_move() -> None:
    """Out when the daily mean is above 7 °C or buds move, shade first (common practice)."""
    garden = planted([LAYER, entry("move", "2025-11-20", to="shed")], [tree()], SHED)
    task = needed("2026-02-01", "spring-out", garden)

    assert date(2026, 3, 1) < task.first < date(2026, 5, 1)
    assert "shade first" in task.reason
    assert "once, level and tied" in task.reason
    assert task.about == "bench"
    home = planted(
        [LAYER, entry("move", "2025-11-20", to="shed"), entry("move", "2026-04-01", to="bench")], [tree()], SHED
    )
    assert task_on("2026-04-05", "spring-out", home) is None


def test_a_warmer_spring_brings_them_out_earlier() -> None:
    garden = planted([LAYER, entry("move", "2025-11-20", to="shed")], [tree()], SHED)
    warm = year_like("2023-09-01", "2028-12-31", mean_c=12.5, half_range_c=9.4)

    assert needed("2026-01-10", "spring-out", garden, warm).first < needed("2026-01-10", "spring-out", garden).first


def test_the_plan_of_spring_goes_with_the_plan_of_winter() -> None:
    """Whoever is to go in is told when it comes out."""
    garden = planted([LAYER], [tree()], SHED)

    assert needed(OCTOBER, "spring-out", garden, MILDER).first.year == 2026
    assert task_on(OCTOBER, "spring-out", planted([LAYER], [tree()]), MILDER) is None


def test_a_plan_made_in_early_summer_is_one_for_the_winter_after_it() -> None:
    """Days still lengthen then, and buds moved long ago."""
    short = year_like("2025-01-01", "2028-12-31", mean_c=11.9, half_range_c=9.4)
    garden = planted([], [tree(species="Acer buergerianum")], SHED)

    assert needed("2026-06-20", "winter-place", garden, short).last.year == 2026
    assert needed("2026-06-20", "spring-out", garden, short).first.year == 2027


@pytest.mark.parametrize("kind", ["shed", "frame"])
def test_a_tree_is_not_sent_from_good_quarters_to_others(kind: str) -> None:
    stands = planted([LAYER, entry("move", "2025-10-05", to=kind)], [tree()], SHED, FRAME)

    assert {task.state for task in plan(stands).values()} <= {"done"}


def test_the_date_does_not_move_while_the_winter_goes_on() -> None:
    """A November that is six degrees too cold is no reason to have been late since October."""
    late = np.datetime64("2025-11-01")
    cold = replace(YEARS, mean_c=YEARS.mean_c - 6.0 * (YEARS.days >= late))
    garden = planted([LAYER], [tree()])
    dates = {plan(garden, day, years)["maple"].last for day in ("2025-10-30", "2025-11-20") for years in (YEARS, cold)}
    assert len(dates) == 1


def test_nobody_banks_a_pot_in_the_shed() -> None:
    """A tree that a cold spell brought into a shed too cold for its roots: outside it is banked, inside left alone."""
    moved = [LAYER, entry("begin", "2025-11-05", "maple", measure="move:shed")]
    assert plan(planted([LAYER], [tree()], SHED), "2025-11-08", YEARS)["maple"].about == "bank the pot to its rim"
    inside = plan(planted(moved, [tree()], SHED), "2025-11-08", YEARS)["maple"]
    assert (inside.about, inside.state) == ("shed", "done")


def test_leaves_that_do_not_bear_the_winter_want_a_roof_before_roots_that_a_bank_would_save() -> None:
    """One place in the frame: a maple has more at stake, but banked its roots ride it out; an olive's leaves do not."""
    small = place("frame", "cold-frame", room=1)
    found = plan(planted([], [tree(worth=3.0), tree("olive", "Olea europaea")], small), years=YEARS)
    assert {name: task.about for name, task in found.items()} == {"olive": "frame", "maple": "bank the pot to its rim"}
    (alone,) = plan(planted([], [tree("olive", "Olea europaea", fixed=True)]), years=YEARS).values()
    assert alone.about == "bank the pot to its rim"
    assert "Its leaves do not bear the coldest nights: cover them as well." in alone.reason


def test_room_that_leaves_want_in_the_coldest_nights_is_not_given_away_for_the_winter() -> None:
    """
    Three places in a shed for two olives and two figs.

    An olive does not winter in the dark, but its leaves, which no bank covers, are carried in there for hard nights:
    the room is theirs, as it will be when that night is called. What is left goes to a fig.
    """
    olives, figs = [tree(name, "Olea europaea") for name in ("o1", "o2")], [tree(name, FIG) for name in ("f1", "f2")]
    found = plan(planted([], [*olives, *figs], place("shed", "shed", room=3)))
    banked = "bank the pot to its rim"
    assert [found[name].about for name in ("o1", "o2", "f1", "f2")] == [banked, banked, "shed", banked]
    assert "for those there is room for it in shed." in found["o1"].reason
    (alone,) = plan(planted([], [olives[0]])).values()
    assert "cover them as well." in alone.reason


def test_who_was_carried_for_a_cold_spell_gets_no_order_before_that_is_over() -> None:
    """An olive under the roof of the shed, by a measure in force: its frame is named when it comes out."""
    log = [entry("begin", "2025-11-05", "olive", measure="move:shed")]
    trees = [tree("olive", "Olea europaea")]
    inside = plan(planted(log, trees, SHED, FRAME), "2025-11-08", YEARS)
    assert {task.state for task in inside.values()} <= {"done"}
    lee = [entry("begin", "2025-11-05", "olive", measure="move:shade")]
    assert plan(planted(lee, trees, SHED, FRAME), "2025-11-08", YEARS)["olive"].about == "frame"
    out = [*log, entry("end", "2025-11-09", "olive", measure="move:shed")]
    assert plan(planted(out, trees, SHED, FRAME), "2025-11-09", YEARS)["olive"].about == "frame"
