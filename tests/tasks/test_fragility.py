"""Fragility month by month: the same as a judgement of that day, held by warmth and calendar, forecast past today."""

from datetime import date, timedelta
from itertools import pairwise

import pytest

from carewatch.tasks.ahead import continued
from carewatch.tasks.fragility import course_begins, deficits, fragility_course
from tests.condition.grown import days_later, on, severed, steady, until, year_like
from tests.tasks.clocks import SITE, YEARS, entry, prospect_of, warmer

SEPTEMBER = "2025-09-15"
LOG = [severed(SEPTEMBER, tied=True)]
# An invented year of a mild Atlantic coast: near the normals of Lisbon (from memory).
MILD = year_like("2023-09-01", "2028-12-31", latitude=38.7, mean_c=17.0, half_range_c=6.0)


@pytest.mark.parametrize("day", ["2025-09-15", "2025-12-24", "2026-05-15", "2026-08-01", "2026-11-20"])
def test_a_month_of_the_course_is_what_a_judgement_of_that_day_finds(day: str) -> None:
    """
    The course looks at many days at once, and finds on each what `condition` finds with the record up to it.

    But for the share of the crown where the phase is uncertain: the day of the next phase depends on days of which a
    judgement knows nothing.
    """
    found = prospect_of(LOG, YEARS).on(date.fromisoformat(day))
    judged = on(day, LOG, YEARS)

    assert found.leaf_area == pytest.approx(judged.leaf_area, abs=0.01)
    assert (found.root_supply, found.anchorage, found.young_roots, found.stage, found.in_leaf) == (
        judged.root_supply,
        judged.anchorage,
        judged.young_roots,
        judged.stage,
        judged.in_leaf,
    )
    assert (found.hardened, found.roots_hardened) == (judged.hardened, judged.roots_hardened)


def test_the_course_of_a_september_layer_runs_from_nothing_to_firm_in_about_a_year() -> None:
    """Fourteen months; 0.9 of its hold in months 11 to 13 (a layer stands still for twelve: common practice)."""
    course = fragility_course(prospect_of(LOG, YEARS), date.fromisoformat(SEPTEMBER), 14)

    assert [point.month for point in course] == list(range(15))
    assert (course[0].root_supply, course[0].anchorage) == pytest.approx((0.15, 0.10), abs=0.02)
    assert all(later.anchorage >= earlier.anchorage for earlier, later in pairwise(course))
    assert next(point.month for point in course if point.anchorage >= 0.9) in (11, 12, 13)
    # Few roots under a full soft flush in May; the roots of autumn are young until then.
    may = next(point for point in course if point.on.isoformat() == "2026-05-15")
    assert may.root_supply < 0.6
    assert may.leaf_area >= 0.6
    assert all(point.young_roots == 1.0 for point in course[:7])


def test_shade_is_asked_for_until_the_leaves_are_down_and_again_at_flush() -> None:
    """Common practice for a severed layer, and what May needs."""
    course = fragility_course(prospect_of(LOG, YEARS), date.fromisoformat(SEPTEMBER), 14)
    shade = {point.on.isoformat(): point.shade for point in course}

    assert shade["2025-09-15"]
    assert not any(shade[f"2026-{month:02d}-15"] for month in (1, 2, 3))
    assert shade["2026-05-15"]
    assert not shade["2026-09-15"]


def test_three_kelvins_less_recover_later_and_three_more_earlier() -> None:
    """The same layer in the same year; no date is written down but the caps of the calendar."""
    begin = date.fromisoformat(SEPTEMBER)
    cold, plain, warm = (
        fragility_course(prospect_of(LOG, warmer(YEARS, shift_k)), begin, 14) for shift_k in (-3.0, 0.0, 3.0)
    )

    for earlier, middle, later in zip(warm, plain, cold, strict=True):
        assert later.root_supply <= middle.root_supply <= earlier.root_supply
        assert later.anchorage <= middle.anchorage <= earlier.anchorage
    assert cold[10].root_supply < plain[10].root_supply < warm[10].root_supply
    firm = [next((point.month for point in course if point.anchorage >= 0.9), 99) for course in (warm, plain, cold)]
    assert firm == sorted(firm)
    assert firm[0] < firm[2]


def test_in_a_mild_climate_the_calendar_holds_it_and_the_course_says_so() -> None:
    """Declared caps: 0.35 before day 120, 0.60 before day 210, 0.85 before day 300, and nothing else."""
    course = fragility_course(prospect_of(LOG, MILD, 38.7), date.fromisoformat(SEPTEMBER), 14)
    capped = {point.month: (point.capped, point.anchorage) for point in course if point.capped is not None}

    assert {cap for cap, _ in capped.values()} <= {0.35, 0.60, 0.85}
    assert all(cap == anchorage for cap, anchorage in capped.values())
    assert capped
    assert all(point.anchorage <= 0.85 for point in course if (point.on - course[0].on).days < 300)
    assert next(point.month for point in course if point.anchorage >= 0.9) == 10


def test_days_after_today_are_marked_as_foreseen_and_rest_on_the_sites_own_season() -> None:
    """A year of record makes the next one; the same each time."""
    today = date.fromisoformat("2026-02-10")
    whole = continued(until(YEARS, today), 580, SITE)
    course, again = (
        fragility_course(prospect_of(LOG, whole, today=today), date.fromisoformat(SEPTEMBER), 14) for _ in range(2)
    )
    known = fragility_course(prospect_of(LOG, YEARS), date.fromisoformat(SEPTEMBER), 14)

    assert course == again
    assert [point.ahead for point in course] == [point.on > today for point in course]
    for point, real in zip(course, known, strict=True):
        if not point.ahead:
            assert point.root_supply == real.root_supply
        assert point.anchorage == pytest.approx(real.anchorage, abs=0.1)


def test_each_deficit_has_its_start_its_value_and_a_date() -> None:
    """Supply, hold and young roots of a layer; none of the leaves, which it kept."""
    today = date.fromisoformat("2026-03-01")
    found = {item.what: item for item in deficits(prospect_of(LOG, YEARS, today=today))}

    assert set(found) == {"root supply", "anchorage", "young roots"}
    supply, hold, young = found["root supply"], found["anchorage"], found["young roots"]
    assert (supply.began, hold.began, young.began) == (0.15, 0.10, 1.0)
    assert supply.began < supply.today < 0.7
    assert supply.closed_on is not None
    assert on(supply.closed_on.isoformat(), LOG, YEARS).root_supply >= 0.7
    assert on((supply.closed_on - timedelta(days=1)).isoformat(), LOG, YEARS).root_supply < 0.7
    assert hold.closed_on is not None
    assert hold.closed_on > supply.closed_on
    assert "before day 300" in hold.closes_by
    assert young.closed_on is not None
    assert "bud break" in young.closes_by
    assert all("estimate" in item.source or "common practice" in item.source for item in found.values())


def test_stripped_leaves_are_a_deficit_and_an_untouched_tree_has_none() -> None:
    """Leaf area grows again with warmth, and the day is foreseen."""
    log = [entry("defoliate", "2026-06-05", removed=1.0)]
    (leaf,) = deficits(prospect_of(log, YEARS, today=date.fromisoformat("2026-06-12")))

    assert (leaf.what, leaf.began, leaf.today) == ("leaf area", 0.0, 0.0)
    assert leaf.closed_on is not None
    assert date(2026, 7, 1) < leaf.closed_on < date(2026, 8, 31)
    assert deficits(prospect_of([], YEARS)) == ()


def test_what_is_never_reached_has_no_date() -> None:
    """Where roots stay cold nothing is foreseen."""
    cold = steady("2024-01-01", "2027-12-31", 4.0)
    found = deficits(prospect_of([severed("2025-10-15")], cold, today=date.fromisoformat("2026-02-01")))

    assert [item.closed_on for item in found] == [None, None, None]


def test_the_course_begins_with_the_oldest_work_that_still_weighs() -> None:
    """A root pruning of years ago is forgotten, and without any work the course begins today."""
    log = [entry("root-prune", "2024-03-25", removed=0.3), severed(SEPTEMBER)]

    assert course_begins(prospect_of(log, YEARS, today=date.fromisoformat("2026-03-01"))) == date(2025, 9, 15)
    today = date.fromisoformat("2026-03-01")
    assert course_begins(prospect_of([], YEARS, today=today)) == today


def test_months_of_different_lengths_keep_their_day() -> None:
    """A layer of the last of August is looked at on the last of each month."""
    begin = date.fromisoformat("2025-08-31")
    days = [point.on for point in fragility_course(prospect_of([severed("2025-08-31")], YEARS), begin, 6)]

    assert [day.isoformat()[5:] for day in days[1:]] == ["09-30", "10-31", "11-30", "12-31", "01-31", "02-28"]
    assert [point.month for point in fragility_course(prospect_of([], YEARS), begin, 6)] == list(range(7))
    assert days_later("2025-08-31", 30) == "2025-09-30"
