"""A sparse layer of September in four real climates, as the program prints it; it skips without the data."""

from datetime import date, timedelta
from math import exp

import pytest

from carewatch.condition.stage import FLUSHING, MATURE
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


def by_hand(year: WeatherYear, leaf_out: date, mature: date) -> dict[date, float]:
    """
    Hold of the same layer by the law alone, hour by hour in plain arithmetic: 1 - 0.9 exp(-(theta / 1100)^2).

    Each hour adds w clip(T - 5, 0, 23) / 24; w is 0.3 leafless, 0.4 in flush, 1 in leaf, 0.6 in colour; colour on 9
    October, leaves down on 3 November. Roots take the temperature of the air here.
    """
    theta, hold = 0.0, {}
    for count in range(427):
        day = date(2025, 9, 15) + timedelta(days=count)
        colour, autumn = date(day.year, 10, 9), date(day.year, 11, 3)
        out, ripe = leaf_out.replace(year=day.year), mature.replace(year=day.year)
        weight = 0.3 if not out <= day < autumn else 0.4 if day < ripe else 1.0 if day < colour else 0.6
        first = 24 * (day.timetuple().tm_yday - 1)
        air = year.air_temp_c[first : first + 24]
        theta += weight * sum(min(max(value - 5.0, 0.0), 23.0) for value in air.tolist()) / 24.0
        hold[day] = 1.0 - 0.9 * exp(-((theta / 1100.0) ** 2))
    return hold


def test_hold_follows_its_law_as_a_sum_over_hours_gives_it(years: list[WeatherYear]) -> None:
    """Another program, the same law and numbers; daily means and the lag of roots cost up to three hundredths."""
    for year in (year for year in years if year.latitude > 40.0):
        course = course_of(year)
        stage = course.prospect.stage.phases
        opened, ripe = (
            course.prospect.first_of(stage == phase, date(2026, 1, 1)) or date.max for phase in (FLUSHING, MATURE)
        )
        expected = by_hand(year, opened, ripe)
        for point in course.points:
            if point.capped is None:
                assert point.anchorage == pytest.approx(expected[point.on], abs=0.03), (year.name, point)


@pytest.mark.parametrize(
    ("name", "values"),
    [("Potsdam", {(7, 15): 0.57, (8, 15): 0.80, (9, 15): 0.93}), ("Chicago", {(8, 15): 0.94})],
)
def test_leaves_that_open_on_10_may_give_what_growers_reckoned_with(
    years: list[WeatherYear], name: str, values: dict[tuple[int, int], float]
) -> None:
    """
    The law was fitted (an estimate, to common practice) with leaves that open about 10 May and are ripe in June.

    A Japanese maple opens earlier: its layers are firm a week or two before that.
    """
    for year in (year for year in years if name in year.name):
        late = by_hand(year, date(2026, 5, 10), date(2026, 6, 5))
        course = course_of(year)
        for (month, day), value in values.items():
            assert late[date(2026, month, day)] == pytest.approx(value, abs=0.015)
            assert course.prospect.on(date(2026, month, day)).anchorage >= value


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
