"""The winter of a site without a record: never milder than it can be, and nothing added where the latitude tells it."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from carewatch.care.garden import Garden
from carewatch.forecast.history import DailyHistory, seasonal_mean_c
from carewatch.forecast.weather import Array
from carewatch.place.spot import Site
from carewatch.tasks.outside import of_hard_winters, outside_of
from carewatch.tasks.task import BY_REGION, GUESSED, Task
from tests.condition.grown import severed, tree
from tests.replay.recorded import ABSENT, CHICAGO, DE_BILT, SHARED, Station, at_hand, weather_of
from tests.tasks.clocks import NUMBERS, SITE, YEARS, garden_of, tasks_on

HERE = Site("Chicago", 41.98, -87.92, 201.0, "America/Chicago", "suburban")
JANUARY = np.arange("2026-01-01", "2026-02-01", dtype="datetime64[D]")
LAYER = severed("2025-08-02", tied=True)


def unrecorded(site: Site, days: int = 14, recorded_c: float = 12.0) -> DailyHistory:
    """A year of which only the last days, in November 2025, are known."""
    all_days = np.arange("2024-11-01", "2025-11-09", dtype="datetime64[D]")
    mean_c = seasonal_mean_c(all_days, *site.position)
    mean_c[-days:] = recorded_c
    first: date = all_days[-days].astype(date)
    return DailyHistory(all_days, mean_c, first)


def assumed_january_c(latitude: float, longitude: float, elevation_m: float) -> float:
    """Mean of January as the winter plan has it where nothing is on record. [°C]"""
    site = replace(HERE, latitude=latitude, longitude=longitude, elevation_m=elevation_m)
    none = DailyHistory(np.empty(0, dtype="datetime64[D]"), np.empty(0), None)
    return float(outside_of(none, JANUARY, np.full(JANUARY.size, np.nan), site, NUMBERS).mean_c.mean())


@pytest.mark.parametrize(
    ("city", "latitude", "longitude", "elevation_m", "january_c"),
    [
        ("New York", 40.7, -74.0, 10.0, 0.5),
        ("Atlanta", 33.7, -84.4, 300.0, 6.5),
        ("Chicago", 42.0, -87.9, 200.0, -4.0),
        ("Minneapolis", 44.9, -93.2, 260.0, -9.0),
        ("Montreal", 45.5, -73.6, 40.0, -9.7),
        ("Winnipeg", 49.9, -97.2, 240.0, -16.0),
        ("Tokyo", 35.7, 139.7, 30.0, 5.4),
        ("Seoul", 37.6, 127.0, 80.0, -2.0),
        ("Beijing", 39.9, 116.4, 50.0, -3.0),
        ("Kyiv", 50.4, 30.5, 170.0, -3.5),
        ("Moscow", 55.8, 37.6, 150.0, -6.5),
        ("Novosibirsk", 55.0, 82.9, 160.0, -17.0),
        ("Salt Lake City", 40.8, -112.0, 1290.0, -1.5),
    ],
)
def test_january_is_not_taken_for_milder_than_it_is(
    city: str, latitude: float, longitude: float, elevation_m: float, january_c: float
) -> None:
    """Normals from memory, to 2 K; and not for so cold that every pot would be banked in early autumn."""
    assumed = assumed_january_c(latitude, longitude, elevation_m)
    assert january_c - 8.0 < assumed < january_c + 2.0, f"{city}: {assumed:.1f} for {january_c:.1f} °C"


@pytest.mark.parametrize(
    ("latitude", "longitude"),
    [
        (38.7, -9.1),
        (48.2, 16.4),
        (52.1, 5.2),
        (52.4, 13.1),
        (49.2, -123.1),
        (-37.8, 145.0),
        (-42.9, 147.3),
        (1.3, 103.8),
    ],
)
def test_nothing_is_added_where_winters_are_not_hard(latitude: float, longitude: float) -> None:
    """Lisbon, Vienna, De Bilt, Potsdam, Vancouver, the south, the tropics: no false alarm for them."""
    site = replace(HERE, latitude=latitude, longitude=longitude, elevation_m=20.0)
    assert not of_hard_winters(site, NUMBERS)
    assert assumed_january_c(latitude, longitude, 20.0) == pytest.approx(
        float(seasonal_mean_c(JANUARY, latitude, longitude, 20.0).mean())
    )


@pytest.mark.parametrize("station", [CHICAGO, DE_BILT], ids=lambda station: str(station.name))
def test_recorded_januaries_are_no_colder_than_what_is_assumed(station: Station) -> None:
    """Hours that were measured: to 2 K."""
    if not at_hand(station):
        pytest.skip(ABSENT)
    course = weather_of(station, SHARED)
    of_january = course.times.astype("datetime64[M]").astype(int) % 12 == 0
    measured = float(course.hourly["temperature_2m"][of_january].mean())
    spot = station.spot
    assert assumed_january_c(spot.latitude, spot.longitude, spot.elevation_m) < measured + 2.0


def plan(site: Site, history: DailyHistory, day: str = "2025-11-08") -> dict[str, Task]:
    """The winter plan of a layer and a maple by tree."""
    garden: Garden = garden_of([LAYER], [tree(), tree("old")], site=site)
    return {task.tree: task for task in tasks_on(day, garden, history) if task.kind == "winter-place"}


def recorded_year() -> DailyHistory:
    """Three years, each like that of the station."""
    course = weather_of(CHICAGO, SHARED)
    days = course.times.astype("datetime64[D]")
    wanted = np.arange("2025-01-02", "2025-12-30", dtype="datetime64[D]") + 365
    mean_c: Array = np.array([course.hourly["temperature_2m"][days == day].mean() for day in wanted])
    all_days = np.concatenate([wanted - 365 * back for back in (3, 2, 1)])
    return DailyHistory(all_days, np.tile(mean_c, 3), None)


def test_on_a_continent_the_plan_comes_in_time_and_says_that_it_rests_on_no_record() -> None:
    """A mild November in Chicago, known for two weeks: soon after it froze to −16 °C in the year that was measured."""
    found = plan(HERE, unrecorded(HERE))
    assert found["maple"].last < date(2025, 11, 10)
    assert found["old"].last < date(2025, 11, 20)
    assert all(GUESSED in task.reason for task in found.values())


def test_it_comes_no_later_than_by_the_usual_spell_on_the_record_of_the_same_place() -> None:
    if not at_hand(CHICAGO):
        pytest.skip(ABSENT)
    record = recorded_year()
    days = np.arange("2025-07-01", "2026-06-30", dtype="datetime64[D]")
    unknown = np.full(days.size, np.nan)
    known = outside_of(record, days, unknown, HERE, NUMBERS)
    guess = outside_of(unrecorded(HERE, 1), days, unknown, HERE, NUMBERS)
    assert (known.rests_on, guess.rests_on) == ("", GUESSED)
    usual = known.mean_c - NUMBERS.winter_spell_k
    for limit_c in (-1.0, -3.0, -5.0):
        firsts = [days[np.argmax(least_c < limit_c)] for least_c in (guess.least_c, usual)]
        assert firsts[0] <= firsts[1] + np.timedelta64(7, "D"), limit_c


def test_by_the_region_alone_it_says_so_and_a_record_needs_no_word() -> None:
    by_region = plan(SITE, unrecorded(SITE))
    recorded = plan(SITE, YEARS)
    assert by_region
    assert all(BY_REGION in task.reason for task in by_region.values())
    assert recorded
    assert not any("on record" in task.reason for task in recorded.values())


def test_the_forecast_counts_where_nothing_is_on_record_and_only_there() -> None:
    """What is foreseen may be worse than what a region usually brings; a record is not moved by the days' weather."""
    days = np.arange("2025-11-01", "2026-04-01", dtype="datetime64[D]")
    foreseen = np.where(days == np.datetime64("2025-11-12"), -20.0, np.nan)
    by_region = outside_of(unrecorded(SITE), days, foreseen, SITE, NUMBERS)
    recorded = outside_of(YEARS, days, foreseen, SITE, NUMBERS)
    assert by_region.least_c.min() == -20.0
    assert days[np.argmin(by_region.least_c)] == np.datetime64("2025-11-12")
    assert recorded.least_c.min() > -20.0
    warm = outside_of(unrecorded(SITE), days, np.full(days.size, 15.0), SITE, NUMBERS)
    assert np.array_equal(warm.least_c, warm.mean_c - warm.spell_k)
