"""A sparse layer of September in four real climates, as the program prints it; it skips without the data."""

from datetime import date

import pytest

from tests.condition.test_years import YEARS_FOLDER
from tests.condition.weather_years import WeatherYear, years_in
from tests.tasks.clocks import NUMBERS
from tests.tasks.fragility_years import SEVERED, course_of, main


@pytest.fixture(scope="module")
def years() -> list[WeatherYear]:
    """The weather years at hand."""
    found = years_in(YEARS_FOLDER) if YEARS_FOLDER.is_dir() else []
    if not found:
        pytest.skip("no weather year is at hand (CAREWATCH_SHARED names the folder)")
    return found


def test_the_program_prints_fourteen_months_side_by_side_and_finds_no_surprise(
    years: list[WeatherYear], capsys: pytest.CaptureFixture[str]
) -> None:
    """Each climate as it was, three kelvins colder and three warmer."""
    assert main([str(YEARS_FOLDER)]) == 0
    told = capsys.readouterr().out

    assert "(missed)" not in told
    for year in years:
        assert f"{year.name}, {year.latitude:.1f}°" in told
    assert told.count("\n  14 2026-11-15") == len(years)


def test_temperate_years_bring_a_firm_hold_in_months_eleven_to_thirteen(years: list[WeatherYear]) -> None:
    """Still for twelve months (common practice); in Lisbon only the caps keep it from being firm by spring."""
    month = {year.name.split()[0]: course_of(year).firm_month for year in years}

    for name in ("Potsdam", "Chicago"):
        if name in month:
            assert month[name] in (11, 12, 13), name
    for year in (year for year in years if year.latitude < 40.0):
        course = course_of(year)
        held = [point.capped for point in course.points if point.capped is not None]
        assert {0.35, 0.60, 0.85} == set(held)
        # What holds it there is the calendar alone: on day 300 it is firm at once.
        assert (course.firm or date.max) == date.fromordinal(date.fromisoformat(SEVERED).toordinal() + 300)


def test_ties_stay_for_twelve_months_everywhere_and_longer_where_it_is_cold(years: list[WeatherYear]) -> None:
    for year in years:
        cold, plain, warm = (course_of(year, shift_k) for shift_k in (-3.0, 0.0, 3.0))
        assert date(2026, 9, 15) <= warm.untie <= plain.untie <= cold.untie
        for course in (cold, plain, warm):
            if course.firm is not None:
                assert course.prospect.on(course.untie).anchorage >= NUMBERS.hold_enough


def test_shade_ends_with_the_leaves_and_comes_back_with_them_where_roots_are_few(years: list[WeatherYear]) -> None:
    for year in (year for year in years if year.latitude > 40.0):
        course = course_of(year)
        (_, autumn), (spring, end) = course.shade
        find = course.prospect.on
        assert find(autumn).stage == "colouring"
        assert find(date.fromordinal(autumn.toordinal() + 1)).stage == "dormant"
        assert find(spring).stage == "flush"
        assert find(end).root_supply < 0.7 <= find(date.fromordinal(end.toordinal() + 1)).root_supply
