"""Who is in the shade before the first heat: climate against what roots and leaves bear."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from carewatch.care.log import Entry
from carewatch.care.tree import Tree
from carewatch.forecast.history import DailyHistory
from carewatch.place.spot import Place
from carewatch.tasks.ahead import before_this_half, usual_mean_c
from carewatch.tasks.summer import root_heat_limit_c
from carewatch.tasks.task import Task
from tests.condition.grown import NORTH, TABLES, severed, tree, until, year_like
from tests.tasks.clocks import PLACES, SITE, YEARS, entry, garden_of, place, tasks_on

SPRING = "2026-03-15"
BENCH = PLACES[0]
# July at 27 °C in the mean, as in inland Andalusia (from memory); and a coast whose July is at 15 °C.
HOT = year_like("2023-09-01", "2028-12-31", mean_c=17.5, half_range_c=9.5)
COOL = year_like("2023-09-01", "2028-12-31", mean_c=10.0, half_range_c=5.0)


def coloured(absorptance: float, name: str = "maple", *, fixed: bool = False) -> Tree:
    """A tree in a pot whose walls take in that share of the sun."""
    plain = tree(name, fixed=fixed)
    return replace(plain, pot=replace(plain.pot, absorptance=absorptance))


def plan(
    trees: Sequence[Tree],
    log: Sequence[Entry] = (),
    day: str = SPRING,
    years: DailyHistory = YEARS,
    places: Sequence[Place] = PLACES,
) -> dict[str, Task]:
    """The summer plan by tree."""
    found = tasks_on(day, garden_of(log, trees, places), years)
    return {task.tree: task for task in found if task.kind == "summer-place"}


@pytest.mark.parametrize(("hours", "limit_c"), [(0.5, 46.0), (5.0, 38.9)])
def test_the_limit_of_roots_is_five_kelvins_under_the_printed_half(hours: float, limit_c: float) -> None:
    """51.0 °C for 30 minutes and 43.9 °C for 300 are the same harm (Ruter & Ingram); a tenth 5 K below: estimate."""
    assert root_heat_limit_c(TABLES.hazards, hours, young=False) == pytest.approx(limit_c, abs=0.05)
    assert root_heat_limit_c(TABLES.hazards, hours, young=True) == pytest.approx(limit_c - 3.0, abs=0.05)


def test_a_black_pot_is_shaded_before_the_first_heat_and_a_white_one_need_not_be() -> None:
    """White pots stayed 7 °C cooler at the maximum (container colour study): dark ones are the case."""
    found = plan([coloured(0.93), coloured(0.25, "white")])

    assert found.keys() == {"maple"}
    task = found["maple"]
    assert task.title == "shade the pot before the first heat"
    assert date(2026, 4, 1) < task.last < date(2026, 6, 21)
    assert task.first < task.last
    assert "outer roots" in task.reason
    assert "common practice" in task.source


def test_where_summers_are_cool_nobody_shades_a_pot() -> None:
    assert plan([coloured(0.93)], years=COOL) == {}


def test_young_roots_and_hotter_summers_ask_for_it_earlier() -> None:
    """Young roots are hurt 3 K sooner (estimate); warmer summers reach the limit weeks before."""
    layer = [severed("2025-09-15", tied=True)]

    assert plan([coloured(0.93)], layer)["maple"].last < plan([coloured(0.93)])["maple"].last
    assert plan([coloured(0.93)], years=HOT)["maple"].last < plan([coloured(0.93)])["maple"].last


def test_a_crown_that_heat_reaches_goes_into_the_shade_and_a_layer_is_shaded_where_it_stands() -> None:
    """A layer stands absolutely still for twelve months (common practice): nobody carries it for the sun."""
    trees = [coloured(0.93), coloured(0.93, "layer"), coloured(0.93, "bolted", fixed=True)]
    log = [severed("2025-09-15", tied=True)]
    layer = replace(log[0], tree="layer")
    found = plan(trees, [layer], years=HOT)

    assert found["maple"].title == "into shade before the first heat"
    assert found["layer"].title == found["bolted"].title == "shade pot and crown before the first heat"
    assert "leaves reach" in found["maple"].reason
    nowhere = plan(trees, [layer], years=HOT, places=(BENCH,))
    assert nowhere["maple"].about == "shade pot and crown"


def test_a_place_in_the_shade_has_room_for_so_many() -> None:
    one = (BENCH, place("shade", "shade", room=1))
    found = plan([coloured(0.93), coloured(0.93, "second")], years=HOT, places=one)

    assert sorted(task.about for task in found.values()) == ["shade", "shade pot and crown"]


def test_it_is_done_by_what_keeps_the_sun_off_and_not_asked_of_who_stands_in_the_shade() -> None:
    log = [entry("begin", "2026-03-10", measure="shade-pot")]

    assert plan([coloured(0.93)], log)["maple"].state == "done"
    assert plan([replace(coloured(0.93), measures=("shade-pot",))])["maple"].state == "done"
    assert plan([replace(coloured(0.93), place="shade")]) == {}
    assert plan([coloured(0.93)], [entry("begin", "2026-03-10", measure="shade-cloth")])["maple"].state == "done"


def test_in_autumn_the_plan_is_that_of_the_next_summer() -> None:
    assert plan([coloured(0.93)], day="2026-10-15", years=HOT)["maple"].last.year == 2027
    assert plan([coloured(0.93)], day="2026-07-10", years=HOT)["maple"].state == "overdue"


def test_the_date_by_which_it_had_to_be_ready_does_not_move_while_summer_goes_on() -> None:
    """A June that is six degrees too warm is no reason to have been late since April."""
    hot_june = replace(YEARS, mean_c=YEARS.mean_c + 6.0 * (YEARS.days >= np.datetime64("2026-06-01")))
    dates = {day: plan([coloured(0.93)], day=day, years=hot_june)["maple"].last for day in ("2026-05-30", "2026-06-20")}
    assert len(set(dates.values())) == 1, dates
    assert plan([coloured(0.93)], day="2026-06-20")["maple"].last == dates["2026-06-20"]


def test_a_first_summer_goes_by_what_was_known_before_it() -> None:
    """A service that began in June has no record from before the summer: its hot weeks do not move the date either."""
    began = replace(YEARS, mean_c=YEARS.mean_c + 5.0, assumed_before=date(2026, 6, 1))
    usual = [
        usual_mean_c(before_this_half(until(began, date(2026, 6, day)), NORTH, dark=False), YEARS.days, SITE)
        for day in (5, 21)
    ]
    assert np.array_equal(usual[0], usual[1])
    spring = before_this_half(until(YEARS, date(2026, 6, 21)), NORTH, dark=False)
    assert date(2026, 3, 15) < spring.days[-1].astype(date) < date(2026, 3, 25)
    winter = until(YEARS, date(2026, 1, 21))
    assert before_this_half(winter, NORTH, dark=False).days.size == winter.days.size
