"""Hours between values of every six hours: through them, through their lows and highs, and beyond none."""

import csv
from importlib.resources import files

import numpy as np
import pytest
from numpy.typing import NDArray

from carewatch.forecast.steps import between_instants_c

HOUR = np.timedelta64(3600, "s")
Array = NDArray[np.float64]


def stamps(begins: str, count: int, every_h: int = 1) -> NDArray[np.datetime64]:
    return np.datetime64(begins, "s") + np.arange(count) * every_h * HOUR


def test_a_low_between_two_instants_is_met_at_the_hour_of_sunrise() -> None:
    """Sunrise at 50° N 0° E on the equinox is about 6:08 UTC (almanac); the low stands at the full hour next to it."""
    instants = stamps("2026-03-20T00:00", 4, 6) + 3 * HOUR
    hours = stamps("2026-03-20T03:00", 19)
    low, high = np.array([-1.0, 4.0, 9.0, np.nan]), np.array([4.0, 11.0, 11.0, np.nan])

    drawn = between_instants_c(instants, np.array([1.0, 4.0, 11.0, 9.0]), low, high, hours, 50.0, 0.0)

    assert drawn[[0, 6, 12, 18]] == pytest.approx([1.0, 4.0, 11.0, 9.0])
    assert drawn[3] == drawn.min() == pytest.approx(-1.0)
    assert drawn.max() == pytest.approx(11.0)


def test_outside_of_the_instants_nothing_is_known() -> None:
    instants = stamps("2026-03-20T06:00", 2, 6)
    unknown = np.full(2, np.nan)

    drawn = between_instants_c(
        instants, np.array([1.0, 4.0]), unknown, unknown, stamps("2026-03-20T04:00", 12), 50.0, 0.0
    )

    assert np.isnan(drawn[[0, 1, 9, 11]]).all()
    assert np.isfinite(drawn[2:9]).all()
    alone = between_instants_c(instants[:1], np.array([1.0]), unknown[:1], unknown[:1], instants, 50.0, 0.0)
    assert alone[0] == 1.0
    assert np.isnan(alone[1])


@pytest.mark.parametrize("latitude", [70.0, -70.0])
def test_where_the_sun_does_not_rise_a_low_stands_in_the_middle(latitude: float) -> None:
    """At 70° the sun stays down in one December and up in the other."""
    instants, unknown = stamps("2026-12-21T00:00", 2, 6), np.full(2, np.nan)

    drawn = between_instants_c(
        instants, np.array([0.0, 0.0]), np.array([-5.0, np.nan]), unknown, stamps("2026-12-21T00:00", 7), latitude, 20.0
    )

    assert drawn[3] == drawn.min() == pytest.approx(-5.0)


def test_a_low_and_a_high_that_want_the_same_hour_stand_beside_each_other() -> None:
    """Both lie within the step, and neither is lost."""
    instants = stamps("2026-06-21T18:00", 2, 6)

    drawn = between_instants_c(
        instants,
        np.array([10.0, 10.0]),
        np.array([8.0, np.nan]),
        np.array([12.0, np.nan]),
        stamps("2026-06-21T18:00", 7),
        50.0,
        0.0,
    )

    assert (drawn.min(), drawn.max()) == (pytest.approx(8.0), pytest.approx(12.0))


def greensboro_year() -> tuple[NDArray[np.datetime64], Array]:
    """Hourly air temperature of a typical year in North Carolina, in UTC: TMY3, NREL, shipped with pvlib. [°C]"""
    text = (files("pvlib") / "data" / "723170TYA.CSV").read_text(encoding="utf-8")
    rows = list(csv.DictReader(text.splitlines()[1:]))
    air = np.array([float(row["Dry-bulb (C)"]) for row in rows])
    # Local standard time, five hours behind; the first row is 1:00.
    return np.datetime64("2001-01-01T06:00:00", "s") + np.arange(air.size) * HOUR, air


def test_on_a_real_year_night_minima_are_kept_that_a_straight_line_loses() -> None:
    """
    Root mean square error of daily minima against TMY3 of Greensboro.

    Straight lines between six-hourly values miss them by a degree; the curve through lows and highs by a tenth of that.
    """
    times, air = greensboro_year()
    given = np.arange(0, air.size - 6, 6)
    low, high = (np.array([take(air[row : row + 7]) for row in given]) for take in (np.min, np.max))

    drawn = between_instants_c(times[given], air[given], low, high, times, 36.1, -79.95)

    whole = given[-1] // 24 * 24
    straight = np.interp(np.arange(air.size), given, air[given])
    days = air[:whole].reshape(-1, 24).min(axis=1)
    error = {
        name: float(np.sqrt(np.mean((values[:whole].reshape(-1, 24).min(axis=1) - days) ** 2)))
        for name, values in (("curve", drawn), ("straight", straight))
    }
    assert error["straight"] > 0.7
    assert error["curve"] < 0.25
    hours = np.sqrt(np.mean((drawn[:whole] - air[:whole]) ** 2)) / np.sqrt(
        np.mean((straight[:whole] - air[:whole]) ** 2)
    )
    assert hours < 0.9
