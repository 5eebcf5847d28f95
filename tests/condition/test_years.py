"""Whole years of real weather from four climates: dates a grower there would nod at; they skip without the data."""

import os
from pathlib import Path

import pytest

from tests.condition.weather_years import WeatherYear, years_in
from tests.condition.years import EVENTS, EVERGREEN_EVENTS, SPECIES, dates_of, main, published

SHARED = Path(os.environ.get("CAREWATCH_SHARED", Path(__file__).parents[3] / "shared"))
YEARS_FOLDER = SHARED / "data" / "years"
HARDY = (*SPECIES, "Fagus", "Malus", "Larix", "Pinus", "Quercus")


@pytest.fixture(scope="module")
def years() -> list[WeatherYear]:
    """The weather years at hand."""
    found = years_in(YEARS_FOLDER) if YEARS_FOLDER.is_dir() else []
    if not found:
        pytest.skip("no weather year is at hand (CAREWATCH_SHARED names the folder)")
    return found


def test_every_year_of_every_tree_runs_through_its_events_in_order(years: list[WeatherYear]) -> None:
    """Also in the mild winter of Lisbon and in the cool summer of Port Angeles."""
    for year in years:
        for species in SPECIES:
            dates = dates_of(species, year)
            assert list(dates) == list(EVERGREEN_EVENTS if species != "Acer palmatum" else EVENTS)
            assert "" not in dates.values(), (year.name, species)
            assert list(dates.values()) == sorted(dates.values()), (year.name, species)


def test_no_date_lies_outside_of_its_published_range(
    years: list[WeatherYear], capsys: pytest.CaptureFixture[str]
) -> None:
    """The program prints them side by side; sources stand in tests/condition/years.py."""
    assert main([str(YEARS_FOLDER)]) == 0
    told = capsys.readouterr().out
    assert "(missed)" not in told
    assert all(year.name in told for year in years)
    assert any(published(year, "Acer palmatum", "bud break") for year in years)


@pytest.mark.parametrize("species", SPECIES)
def test_three_kelvins_less_are_later_in_spring_and_three_more_earlier(years: list[WeatherYear], species: str) -> None:
    """And the other way round in autumn; no date is held by the calendar."""
    for year in years:
        cold, plain, warm = (list(dates_of(species, year, shift).values()) for shift in (-3.0, 0.0, 3.0))
        for at, sign in ((0, 1), (1, 1), (2, 1), (3, -1)):
            early, middle, late = (cold[at], plain[at], warm[at])[::-sign]
            assert early < middle < late, (year.name, species, at)


def test_kinds_that_need_much_chill_are_held_back_by_a_mild_winter_and_open_all_the_same(
    years: list[WeatherYear],
) -> None:
    """Three kelvins more in Lisbon leave 17 portions: beech comes late there, but it comes (Cannell & Smith 1983)."""
    mild = [year for year in years if year.latitude < 40.0]
    for year in mild:
        plain, warm = (dates_of("Fagus", year, shift)["bud break"] for shift in (0.0, 3.0))
        assert "" < plain < warm < "07-15"


def test_winters_of_real_years_chill_every_hardy_kind_enough(years: list[WeatherYear]) -> None:
    """North of the Mediterranean all of them leaf out between March and June."""
    for year in years:
        if year.latitude > 40.0:
            for species in HARDY:
                dates = list(dates_of(species, year).values())
                assert "03-15" < dates[1] < "06-10", (year.name, species)
