"""A first-year layer is carried once: where it was brought for the cold it stays until spring brings it out."""

from collections.abc import Sequence
from datetime import date

import pytest

from carewatch.alerts.seasons import quarters_of
from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.care.tree import Tree
from carewatch.forecast.history import DailyHistory
from carewatch.place.spot import Place
from carewatch.tasks.prospect import Prospect
from carewatch.tasks.spring import may_winter_in, shelters_by_layer
from carewatch.tasks.task import Task
from tests.condition.grown import TABLES, severed, tree, year_like
from tests.tasks.clocks import NUMBERS, PLACES, YEARS, ahead_on, entry, garden_of, place, tasks_on

SHED, FRAME, ROOM = (
    place("shed", "shed", room=2),
    place("frame", "cold-frame"),
    place("room", "indoors", heated_to_c=16),
)
LAYER = severed("2025-09-15", tied=True)
OF_WINTER = ("winter-place", "spring-out")


def planted(log: Sequence[Entry], trees: Sequence[Tree], *quarters: Place) -> Garden:
    """A garden with these quarters beside its open places."""
    return garden_of(log, trees, (*PLACES, *quarters))


def carried(day: str, to: str = "shed", name: str = "maple") -> Entry:
    """An answer to the call of a cold night."""
    return entry("begin", day, name, measure=f"move:{to}")


def of_winter(garden: Garden, day: str) -> list[Task]:
    """The tasks of the winter's and the spring's plan."""
    return [task for task in tasks_on(day, garden, YEARS) if task.kind in OF_WINTER]


def rests_from(garden: Garden, day: str) -> date:
    """The day on which the maple comes to rest."""
    prospect: Prospect = ahead_on(day, garden).found[0]
    found = prospect.first_of(prospect.stage.phases == 0, prospect.today)
    assert found is not None
    return found


def test_a_layer_that_a_cold_night_brought_in_near_its_rest_stays_until_spring() -> None:
    """And says why, in the plan for spring; no order sends it elsewhere, though the shed is too cold by the plan."""
    garden = planted([LAYER, carried("2025-11-05")], [tree()], SHED, FRAME)
    assert date(2025, 11, 8) < rests_from(garden, "2025-11-08") < date(2025, 11, 29)

    found = of_winter(garden, "2025-11-08")

    assert quarters_of(found, {}) == {"maple": "shed"}
    # What was planned before gives way: carried to its bank now, it would be carried twice.
    assert quarters_of(found, {"maple": "plunge"}) == {"maple": "shed"}
    assert {(task.kind, task.state) for task in found} == {("winter-place", "done"), ("spring-out", "later")}
    assert all("A first-year layer is carried once, for the whole winter" in task.reason for task in found)


def test_it_is_known_all_winter_long_and_no_more_when_spring_brings_it_out() -> None:
    garden = planted([LAYER, carried("2025-11-05")], [tree()], SHED)
    known: dict[str, str] = {}
    for day in ("2025-11-08", "2025-12-20", "2026-01-20", "2026-02-10"):
        known = quarters_of(of_winter(garden, day), known)
        assert known == {"maple": "shed"}, day
    (out,) = (task for task in of_winter(garden, "2026-04-20") if task.kind == "spring-out")
    assert out.state in ("due", "overdue")
    assert quarters_of(of_winter(garden, "2026-04-20"), known) == {}


def test_put_off_in_spring_it_stays_a_little_longer() -> None:
    log = [LAYER, carried("2025-11-05"), entry("put-off", "2026-04-10", measure="spring-out")]
    found = of_winter(planted(log, [tree()], SHED), "2026-04-12")
    assert [task.state for task in found if task.kind == "spring-out"] == ["put-off"]


def test_a_layer_moved_in_for_good_is_sent_nowhere_else() -> None:
    """By the plan the frame would be the better place; it stands under a roof, and standing still is worth more."""
    garden = planted([LAYER, entry("move", "2025-11-05", to="shed")], [tree()], SHED, FRAME)
    assert {task.state for task in of_winter(garden, "2025-11-10") if task.kind == "winter-place"} <= {"done"}


def test_before_it_is_carried_it_is_known_where_it_would_stay() -> None:
    """So that the call which carries it can say so: not in a warm room, not while it is in leaf for weeks yet."""
    garden = planted([LAYER], [tree(), tree("old")], SHED, FRAME, ROOM)
    assert sheltered(garden, "2025-11-05") == {"maple": ("shed", "frame")}
    assert sheltered(garden, "2025-09-20") == {}


def test_it_is_known_too_where_the_winter_plan_has_no_order_for_it() -> None:
    """A mild winter asks for no quarters; a cold evening of it may ask for the shed all the same."""
    mild = year_like("2023-09-01", "2028-12-31", mean_c=14.0, half_range_c=8.5)
    garden = planted([LAYER], [tree()], SHED)
    assert [task for task in tasks_on("2025-12-20", garden, mild) if task.kind == "winter-place"] == []
    assert sheltered(garden, "2025-12-20", mild) == {"maple": ("shed",)}


def sheltered(garden: Garden, day: str, years: DailyHistory = YEARS) -> dict[str, tuple[str, ...]]:
    """Per layer the places in which it stays if it is brought there on a day."""
    return shelters_by_layer(ahead_on(day, garden, years).found, garden.places, NUMBERS)


@pytest.mark.parametrize(
    ("what", "log", "grown", "day"),
    [
        ("in leaf for weeks yet", [LAYER, carried("2025-10-05")], tree(), "2025-10-08"),
        ("no layer", [carried("2025-11-05")], tree(), "2025-11-08"),
        ("an old layer", [severed("2024-09-15"), carried("2025-11-05")], tree(), "2025-11-08"),
        ("in the open", [LAYER, carried("2025-11-05", "wall")], tree(), "2025-11-08"),
        ("leaves in the dark", [LAYER, carried("2025-11-05")], tree(species="Juniperus"), "2025-11-08"),
        ("a warm room", [LAYER, carried("2025-11-05", "room")], tree(), "2025-11-08"),
        ("awake again", [LAYER, carried("2026-05-05")], tree(), "2026-05-08"),
    ],
)
def test_who_does_not_stay(what: str, log: Sequence[Entry], grown: Tree, day: str) -> None:
    """Trees that are no fresh layers, that do not rest soon, or that stand where they cannot winter."""
    found = quarters_of(of_winter(planted(log, [grown], SHED, ROOM), day), {})
    assert found.get("maple") in (None, "plunge"), what


def test_a_leafy_layer_stays_in_the_light_of_a_frame() -> None:
    garden = planted([LAYER, carried("2025-11-25", "frame")], [tree(species="Juniperus")], FRAME)
    assert quarters_of(of_winter(garden, "2025-12-20"), {}) == {"maple": "frame"}


@pytest.mark.parametrize(
    ("species", "quarters", "may"),
    [
        ("Acer palmatum", SHED, True),
        ("Acer palmatum", ROOM, False),
        ("Juniperus", SHED, False),
        ("Juniperus", FRAME, True),
        ("Ficus", ROOM, True),
    ],
)
def test_where_a_species_may_winter(species: str, quarters: Place, may: bool) -> None:
    """Common practice: dark and cool for leafless trees, light for leaves, warmth for the tender alone."""
    assert may_winter_in(TABLES.species_for(species), quarters) is may
