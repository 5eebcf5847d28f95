"""The long clock and `whatif` say the same of season and waiting: one table is the truth for both."""

from datetime import date, timedelta

import pytest

from carewatch.care.log import Entry
from carewatch.forecast.history import DailyHistory
from carewatch.tasks.almanac import almanac_from
from carewatch.tasks.layers import first_root_work, sleeves
from carewatch.tasks.season import feeding
from carewatch.whatif.gates import Gates, gates_of
from tests.condition.grown import NORTH, SOUTH, TABLES, noon, severed, tree, year_like
from tests.tasks.clocks import NUMBERS, entry, prospect_of
from tests.whatif.years import standing

RULES = TABLES.work_rules
TEMPERATE = year_like("2024-01-01", "2029-06-01")
MEDITERRANEAN = year_like("2024-01-01", "2029-06-01", latitude=38.7, mean_c=17.0, half_range_c=6.0)
SOUTHERN = year_like("2024-01-01", "2029-06-01", latitude=SOUTH, mean_c=12.0, half_range_c=5.0)
# A spring-severed layer finds its first season in the late summer of conifers, an autumn one in spring.
GROWN = [
    ("Acer palmatum", TEMPERATE, NORTH, "2025-09-15"),
    ("Larix", TEMPERATE, NORTH, "2025-09-15"),
    ("Pinus", TEMPERATE, NORTH, "2025-09-15"),
    ("Pinus", TEMPERATE, NORTH, "2025-03-20"),
    ("Juniperus chinensis", TEMPERATE, NORTH, "2025-09-15"),
    ("Buxus", TEMPERATE, NORTH, "2025-06-20"),
    ("Olea europaea", MEDITERRANEAN, 38.7, "2025-09-15"),
    ("Ficus", MEDITERRANEAN, 38.7, "2025-06-20"),
    ("Acer palmatum", SOUTHERN, SOUTH, "2025-03-15"),
    ("Juniperus chinensis", SOUTHERN, SOUTH, "2025-03-15"),
]


def said(
    work: str, log: list[Entry], years: DailyHistory, latitude: float, today: date, species: str = "Acer palmatum"
) -> Gates:
    """What `whatif` says of a work in the days that the long clock looks at; the tree is strong."""
    prospect = prospect_of(log, years, latitude, today, species)
    plant = tree(species=species)
    almanac = almanac_from(prospect.lived, prospect.stage, today)
    asked = Entry(plant.id, work, noon(today.isoformat()))
    return gates_of(standing(plant, latitude), plant, asked, log, RULES, almanac, lambda _day: 1.0)


@pytest.mark.parametrize(("species", "years", "latitude", "day"), GROWN)
def test_the_first_root_work_is_due_on_days_on_which_whatif_lets_it(
    species: str, years: DailyHistory, latitude: float, day: str
) -> None:
    """About eighteen months on, six weeks more or less for the season (common practice)."""
    log, today = [severed(day)], date.fromisoformat(day) + timedelta(days=30)
    (task,) = first_root_work(prospect_of(log, years, latitude, today, species), NUMBERS)
    gates = said("root-prune", log, years, latitude, today, species)
    window = [task.first + timedelta(days=count) for count in range((task.last - task.first).days + 1)]

    assert all(gates.on(each) == () for each in window)
    assert gates.on(task.last + timedelta(days=1)) != ()
    assert gates.on(task.first - timedelta(days=1)) != ()
    assert (task.first - date.fromisoformat(day)).days >= 548 - 45
    assert (task.last - task.first).days >= 7


def test_feeding_is_due_from_the_day_on_which_whatif_lets_it() -> None:
    """No feed for four to six weeks after root work (common practice): four bar it, six are best."""
    log = [entry("root-prune", "2026-05-01", removed=0.3)]
    today = date(2026, 5, 5)
    (task,) = feeding(prospect_of(log, TEMPERATE, today=today), NUMBERS)
    gates = said("feed", log, TEMPERATE, NORTH, today)

    assert task.first == date(2026, 5, 29)
    assert task.best == date(2026, 6, 12)
    assert gates.on(task.first) == ()
    assert gates.on(task.first - timedelta(days=1)) != ()


def test_a_layer_is_severed_in_time_by_both() -> None:
    """Six weeks of a root zone above 10 °C are left on the last day (common practice)."""
    log = [entry("set-layer", "2026-05-20", branch="low left")]
    today = date(2026, 7, 5)
    sever = next(
        draft for draft in sleeves(prospect_of(log, TEMPERATE, today=today), log, NUMBERS) if draft.kind == "sever"
    )
    gates = said("sever-layer", log, TEMPERATE, NORTH, today)

    assert gates.on(sever.first) == ()
    assert gates.on(sever.last - timedelta(days=7)) == ()
    late = gates.on(sever.last + timedelta(days=7))
    assert late != ()
    assert "root zone stays above 10 °C" in late[0].why
