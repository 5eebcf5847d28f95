"""What is common practice and no publication: the table says so, and the long clock keeps to it."""

from datetime import date, timedelta

import pytest

from carewatch.care.planned import late_summer_after
from tests.condition.grown import NORTH, SOUTH, severed, tree
from tests.tasks.clocks import NUMBERS, entry, garden_of, needed

PRACTICE = "common practice"
LAYER = severed("2025-09-15", tied=True)


@pytest.mark.parametrize(
    ("work", "after", "days"),
    [
        # A severed layer stands still for twelve months at least.
        ("untie", "sever-layer", (365, 366)),
        ("repot", "sever-layer", (365, 366)),
        # The first root work comes about eighteen months on, six weeks more or less for the season.
        ("root-prune", "sever-layer", (548 - 46, 548)),
        # Roots are looked for from the sixth week, and nothing is fed for four to six weeks after root work.
        ("sever-layer", "set-layer", (42, 42)),
        ("feed", "root-prune", (28, 42)),
    ],
)
def test_waiting_is_common_practice_and_marked_as_such(work: str, after: str, days: tuple[int, int]) -> None:
    waits, source = NUMBERS.rules.wait(work, after)

    assert days[0] <= waits <= days[1]
    assert source.startswith(PRACTICE)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("untie", "keeps its ties until its roots hold it"),
        ("ties", "bite after eight to twelve weeks"),
        ("shade", "stays in shade until dormancy"),
        ("sacrifice", "late summer of the next year"),
        ("wire", "comes off when it begins to mark the bark"),
        ("sleeve", "from the sixth week"),
        ("winter", "fully dormant"),
        ("spring", "above 7 °C or buds move"),
        ("uncover", "in March, when the top thaws"),
        ("summer", "before the first hot day"),
    ],
)
def test_every_row_of_the_long_clock_says_what_practice_it_keeps(row: str, words: str) -> None:
    assert NUMBERS.sources[row].startswith(PRACTICE)
    assert words in NUMBERS.sources[row]


@pytest.mark.parametrize("kind", sorted(NUMBERS.kindest))
def test_every_rule_of_a_kind_day_says_where_it_comes_from(kind: str) -> None:
    assert NUMBERS.kindest[kind].source.startswith(PRACTICE)
    assert "estimate" in NUMBERS.kindest[kind].source


@pytest.mark.parametrize(
    ("begun", "latitude", "due"),
    [
        (date(2025, 4, 10), NORTH, date(2026, 8, 20)),
        (date(2025, 11, 1), NORTH, date(2026, 8, 20)),
        (date(2025, 10, 10), SOUTH, date(2027, 2, 20)),
        (date(2026, 3, 10), SOUTH, date(2027, 2, 20)),
    ],
)
def test_a_sacrifice_goes_in_late_summer_of_the_next_season(begun: date, latitude: float, due: date) -> None:
    assert late_summer_after(begun, latitude) == due


def test_shade_lasts_until_dormancy_and_wire_is_looked_at_weekly_from_the_fourth_week_of_growth() -> None:
    """The layer stands in the shade since it was severed; the wire was set before growth began."""
    garden = garden_of([LAYER], [tree(place="shade")])
    shade = needed("2025-10-20", "end-shade", garden)
    wired = garden_of([entry("wire", "2026-03-20", branch="low left")])
    look = needed("2026-05-01", "wire-check", wired)

    assert date(2025, 10, 20) < shade.first < date(2025, 11, 25)
    assert "leaves are down" in shade.reason
    assert NUMBERS.wire_grown_days == 21
    assert look.last - look.first == timedelta(days=6)
