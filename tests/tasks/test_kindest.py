"""The kindest day for a task inside the forecast: declared rules, the wary reading of many courses."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from carewatch.forecast.weather import Array, Hours, Weather
from carewatch.measures.timing import local_times
from carewatch.tasks.kindest import DayAhead, days_ahead, foreseen_means, kindest
from tests.condition.grown import severed
from tests.tasks.clocks import NUMBERS, garden_of, tasks_on

ZONE = ZoneInfo("Europe/Berlin")
DAYS, MEMBERS = 6, 10
STARTS = datetime(2026, 10, 10, 22, tzinfo=UTC)
MILD = DayAhead(date(2026, 10, 12), 6.0, 14.0, 5.0, 0.0, 0.9)
RULE = NUMBERS.kindest["end-shade"]


def weather(**changed: Mapping[int, float]) -> Weather:
    """Six days from local midnight, all alike but where a variable of a day (0 to 5) is changed."""
    hours = DAYS * 24
    times = np.datetime64(STARTS.replace(tzinfo=None), "s") + np.arange(1, hours + 1) * np.timedelta64(3600, "s")
    usual = {"air_temp_c": 9.0, "gust_10m_ms": 6.0, "rain_mm": 0.0, "cloud": 0.8}
    values: dict[str, Array] = {}
    for name, value in usual.items():
        array = np.full((hours, MEMBERS), value)
        for day, other in changed.get(name, {}).items():
            array[day * 24 : (day + 1) * 24] = other
        values[name] = array
    ahead = Hours(times, values)
    known = dict.fromkeys(usual, hours)
    return Weather("recorded", STARTS, 1.0, ahead, ahead, "ensemble", (), (), known, ())


def on_days(found: Weather) -> tuple[DayAhead, ...]:
    """Its days at the site."""
    return days_ahead(found, local_times(found.ahead.times, ZONE))


def test_days_are_those_of_the_site_and_whole_ones_only() -> None:
    """Midnight to midnight in local time; the last day has no night after it and is kept if its hours are enough."""
    found = on_days(weather(air_temp_c={1: 2.0}))

    assert [day.on for day in found][:3] == [date(2026, 10, 11), date(2026, 10, 12), date(2026, 10, 13)]
    # A cold day makes the day before it cold, too: its night begins there.
    assert [day.least_c for day in found[:3]] == [2.0, 2.0, 9.0]


def test_a_wary_grower_reckons_with_what_one_course_in_ten_exceeds() -> None:
    found = weather()
    gusts = found.ahead.values["gust_10m_ms"]
    gusts[12, :] = np.linspace(4.0, 22.0, MEMBERS)

    assert on_days(found)[0].gust_ms == pytest.approx(20.2)
    assert on_days(found)[1].gust_ms == 6.0


def test_the_overcast_calm_day_without_frost_is_the_kindest_for_the_end_of_shade() -> None:
    """Shade comes off under an overcast sky, not in wind (common practice)."""
    forecast = weather(cloud={0: 0.1, 1: 1.0, 2: 0.7, 3: 0.7}, gust_10m_ms={2: 20.0}, air_temp_c={4: -3.0})
    chosen, unkind = kindest(on_days(forecast), RULE, date(2026, 10, 11), date(2026, 10, 20))

    assert chosen[0].on == date(2026, 10, 12)
    assert {day.on for day in chosen}.isdisjoint({date(2026, 10, 11), date(2026, 10, 13), date(2026, 10, 15)})
    assert "overcast" in chosen[0].why
    assert unkind == ""


def test_no_day_is_kind_where_each_breaks_a_rule_and_it_says_which() -> None:
    forecast = weather(cloud=dict.fromkeys(range(DAYS), 0.1))
    chosen, unkind = kindest(on_days(forecast), RULE, date(2026, 10, 11), date(2026, 10, 20))

    assert chosen == ()
    assert unkind == "no day of the forecast suits: sun"


def test_days_outside_of_the_window_are_not_named() -> None:
    days = [replace(MILD, on=MILD.on + timedelta(days=count)) for count in range(5)]
    chosen, _ = kindest(days, RULE, MILD.on + timedelta(days=1), MILD.on + timedelta(days=2))

    assert [day.on for day in chosen] == [date(2026, 10, 13), date(2026, 10, 14)]
    assert kindest(days, RULE, date(2027, 1, 1), date(2027, 2, 1)) == ((), "")


@pytest.mark.parametrize("name", ["gust_10m_ms", "cloud", "air_temp_c"])
def test_an_unknown_hour_is_not_kind(name: str) -> None:
    """Unknown is not harmless: a variable that ends takes its days out."""
    forecast = weather()
    short = replace(forecast, known_until={**forecast.known_until, name: 30})
    chosen, _ = kindest(on_days(short), RULE, date(2026, 10, 11), date(2026, 10, 20))

    assert {day.on for day in chosen} <= {date(2026, 10, 11)}


def test_every_rule_of_the_table_refuses_a_day_that_breaks_it() -> None:
    """A gale with frost, rain and sun is kind to nothing; a dull, dry, still, mild day to everything."""
    gale = DayAhead(MILD.on, -8.0, 30.0, 30.0, 40.0, 0.0)
    for kind, rule in NUMBERS.kindest.items():
        assert kindest([MILD], rule, MILD.on, MILD.on)[0] != (), kind
        assert kindest([gale], rule, MILD.on, MILD.on)[0] == (), kind


def test_daily_means_of_the_forecast_are_of_whole_days() -> None:
    means = foreseen_means(weather(air_temp_c={2: 3.0}), local_times(weather().ahead.times, ZONE))

    assert means.days[:3].astype(str).tolist() == ["2026-10-11", "2026-10-12", "2026-10-13"]
    assert means.mean_c[2] == pytest.approx(3.0, abs=0.3)


def test_a_task_that_is_due_names_its_kindest_days_and_a_later_one_does_not() -> None:
    """Ties that may go since September want a calm day."""
    garden = garden_of([severed("2025-09-15", tied=True)])
    gusty = weather(gust_10m_ms={0: 16.0, 1: 16.0, 2: 3.0, 3: 16.0, 4: 16.0, 5: 16.0})
    found = {task.kind: task for task in tasks_on("2026-10-11", garden, weather=gusty)}

    assert found["untie"].state == "due"
    assert [day.on for day in found["untie"].kindest] == [date(2026, 10, 13)]
    assert found["first-root-work"].kindest == ()
    assert found["first-root-work"].unkind == ""


def test_what_is_overdue_does_not_wait_for_a_kinder_day() -> None:
    """Of days that keep the rule the first one is told first."""
    days = [MILD, replace(MILD, on=date(2026, 10, 14), gust_ms=1.0, least_c=9.0)]
    window = (date(2026, 10, 11), date(2026, 10, 20))
    assert [day.on.day for day in kindest(days, RULE, *window)[0]] == [14, 12]
    assert [day.on.day for day in kindest(days, RULE, *window, soonest=True)[0]] == [12, 14]
