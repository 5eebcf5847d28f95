"""Pots that were banked, mulched or jacketed for the winter, and when they are uncovered."""

from dataclasses import replace
from datetime import date

import pytest

from carewatch.care.log import Entry
from carewatch.condition.stage import SWELLING
from tests.condition.grown import SOUTH, severed, tree, year_like
from tests.tasks.clocks import SITE, YEARS, ahead_on, entry, garden_of, needed, task_on, tasks_on, warmer

LAYER = severed("2025-09-15", tied=True)


def covered(measure: str, day: str = "2025-11-20") -> list[Entry]:
    """The layer with a cover on its pot."""
    return [LAYER, entry("begin", day, measure=measure)]


def test_a_banked_pot_is_uncovered_in_march_when_the_top_thaws() -> None:
    """Plunged and banked pots until March, when the top thaws (common practice); YEARS are like Potsdam."""
    task = needed("2026-02-01", "uncover", garden_of(covered("plunge")))

    assert date(2026, 3, 1) <= task.first <= date(2026, 4, 10)
    assert task.title == "uncover the pot (plunge)"
    assert "put it back" in task.moves
    assert "common practice" in task.source
    assert task.last > task.first


def test_mulch_goes_when_buds_swell() -> None:
    """Left into growth it rots the collar (common practice)."""
    garden = garden_of(covered("mulch"))
    task = needed("2026-02-01", "uncover", garden, about="mulch")
    (found,) = ahead_on("2026-02-01", garden).found
    swells = found.first_of(found.begins(SWELLING), date(2026, 2, 1))

    assert swells is not None
    assert abs((task.first - swells).days) <= 1
    assert "its buds move" in task.reason


@pytest.mark.parametrize("measure", ["plunge", "mulch", "insulate-pot"])
def test_warmth_brings_it_forward_and_an_end_in_the_log_closes_it(measure: str) -> None:
    log = covered(measure)
    plain = needed("2026-02-01", "uncover", garden_of(log), about=measure)
    warm = needed("2026-02-01", "uncover", garden_of(log), warmer(YEARS, 3.0), measure)
    ended = garden_of([*log, entry("end", "2026-04-02", measure=measure)])

    assert warm.first < plain.first
    assert needed("2026-06-01", "uncover", garden_of(log), about=measure).state == "overdue"
    task = needed("2026-04-10", "uncover", ended, about=measure)
    assert (task.state, task.done_on) == ("done", date(2026, 4, 2))
    assert task_on("2026-06-10", "uncover", ended, about=measure) is None


def test_what_was_left_on_through_a_summer_is_uncovered_in_the_next_spring() -> None:
    """In November nobody is told to uncover a pot."""
    log = covered("plunge", "2024-11-20")

    assert needed("2025-08-01", "uncover", garden_of(log)).state == "overdue"
    assert needed("2025-11-10", "uncover", garden_of(log)).first.year == 2026


def test_mulch_of_summer_stays_until_it_is_taken_away() -> None:
    """It keeps drought off then: only what was put on for the winter is told of."""
    assert task_on("2026-07-01", "uncover", garden_of([entry("begin", "2026-05-25", measure="mulch")])) is None


def test_who_is_to_be_banked_is_told_when_it_is_uncovered() -> None:
    """The plan of spring goes with the plan of winter; there are no quarters in this garden."""
    found = {task.kind: task for task in tasks_on("2025-10-10", garden_of([LAYER]))}

    assert found["winter-place"].about == "bank the pot to its rim"
    assert date(2026, 3, 1) <= found["uncover"].first <= date(2026, 4, 30)
    assert found["uncover"].state == "later"


@pytest.mark.parametrize("day", ["2026-05-20", "2026-06-20", "2026-07-20", "2026-10-10"])
def test_what_the_winter_plan_asks_for_ends_in_the_spring_after_that_winter(day: str) -> None:
    """In early summer days still lengthen and buds moved long ago: that spring is over."""
    short = year_like("2025-01-01", "2028-12-31")
    found = {task.kind: task for task in tasks_on(day, garden_of([], [tree(species="Acer buergerianum")]), short)}

    assert found["winter-place"].about == "bank the pot to its rim"
    assert found["winter-place"].last > date.fromisoformat(day)
    assert found["uncover"].first.year == 2027


def test_the_south_uncovers_in_its_own_spring() -> None:
    south = year_like("2023-09-01", "2028-12-31", latitude=SOUTH, mean_c=9.9, half_range_c=9.4)
    site = replace(SITE, latitude=SOUTH, time_zone="Australia/Hobart")
    log = [severed("2025-03-15", tied=True), entry("begin", "2025-06-01", measure="plunge")]

    assert date(2025, 8, 25) <= needed("2025-08-01", "uncover", garden_of(log, [tree()], site=site), south).first
    assert needed("2025-08-01", "uncover", garden_of(log, [tree()], site=site), south).first <= date(2025, 10, 15)
