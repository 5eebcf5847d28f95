"""
The table of measures against what growers know: factors, minutes, gusts, hours. Source of every number: the trade.

Ranges where practice has ranges. Effects in kelvin are not numbers of the table: they come out of the physics, and are
held in test_side_effects.
"""

from zoneinfo import ZoneInfo

import numpy as np
import pytest

from carewatch.measures.timing import acting_hours, clock_of
from tests.condition.grown import TABLES
from tests.measures.gardens import SITE

ROWS = TABLES.measures
# Light that passes, wind that is left, minutes of a round and of each pot. Wind of None: comes from the new height.
PRACTICE = {
    "fleece": (0.88, (0.4, 0.4), 4.0, 1.5),
    "fleece-heavy": (0.7, (0.4, 0.4), 4.0, 1.5),
    # A second layer is a minute's work more than practice has for one (estimate).
    "fleece-double": (0.6, (0.4, 0.4), 4.0, 2.5),
    "set-down": (1.0, None, 2.0, 1.0),
    "plunge": (1.0, (1.0, 1.0), 5.0, 6.0),
    "mulch": (1.0, (1.0, 1.0), 2.0, 1.5),
    "insulate-pot": (1.0, (1.0, 1.0), 3.0, 3.0),
    "humid-tent": (0.85, (0.0, 0.1), 5.0, 4.0),
    "shade-cloth": (0.5, (0.7, 0.7), 6.0, 1.0),
    "shade-pot": (1.0, (1.0, 1.0), 2.0, 1.0),
    "windbreak": (0.9, (0.4, 0.5), 6.0, 1.0),
    "lay-down": (1.0, (0.3, 0.3), 2.0, 1.5),
    "tie-down": (1.0, (1.0, 1.0), 3.0, 4.0),
    "water": (1.0, (1.0, 1.0), 3.0, 0.5),
    "hold-water": (1.0, (1.0, 1.0), 1.0, 0.5),
    "rain-cover": (0.9, (1.0, 1.0), 1.0, 0.5),
    "shake-off": (1.0, (1.0, 1.0), 1.0, 0.5),
    "ventilate": (1.0, (1.0, 1.0), 2.0, 0.0),
    "move": (1.0, (1.0, 1.0), 3.0, 2.0),
}


@pytest.mark.parametrize("name", PRACTICE)
def test_light_wind_and_minutes_are_those_of_practice(name: str) -> None:
    """Common practice for effects, estimate for minutes."""
    light, wind, once, each = PRACTICE[name]
    row = ROWS[name]
    assert (row.light, row.minutes_round, row.minutes_pot) == (light, once, each)
    if wind is None:
        assert row.height_m == 0.0
    else:
        assert wind[0] <= row.wind <= wind[1]


def test_what_each_does_besides() -> None:
    """Heat loss to a third, deficit to a third or a quarter, the rim of the pot in the ground, ties as hold of 0.6."""
    assert ROWS["insulate-pot"].wall_exchange == pytest.approx(1 / 3, abs=0.01)
    assert 0.25 <= ROWS["humid-tent"].vpd <= 1 / 3
    assert ROWS["plunge"].wall_in_ground
    assert ROWS["tie-down"].anchorage_floor == 0.6
    assert ROWS["move"].minutes_per_10kg == 1.0
    assert ROWS["lay-down"].topple == 0.0
    assert ROWS["rain-cover"].rain == ROWS["humid-tent"].rain == 0.0
    assert ROWS["water"].refill
    assert ROWS["hold-water"].hold_water
    assert {name for name, row in ROWS.items() if row.carries} == {"set-down", "plunge", "lay-down", "move"}
    # Two lifts there and back, one into the ground, where it stays till spring.
    assert ROWS["plunge"].carries < ROWS["set-down"].carries == ROWS["move"].carries == 2


def test_covers_and_nets_stay_in_their_bag_above_their_gust() -> None:
    """Fleece comes off above 12 m/s; nets bear more, a closed tent less."""
    limits = {name: row.gust_limit_ms for name, row in ROWS.items() if row.gust_limit_ms is not None}
    assert {limits[name] for name in ("fleece", "fleece-heavy", "fleece-double")} == {12.0}
    assert limits["humid-tent"] < limits["fleece"] < limits["shade-cloth"] < limits["windbreak"]


def test_what_practice_never_offers_is_not_in_the_table() -> None:
    """Misting gives false comfort; heaters, warm water and clearing the snow from pots are never advised."""
    assert not {"misting", "mist", "heater", "heat", "clear-snow", "warm-water"} & set(ROWS)
    assert all(row.harm for row in ROWS.values())
    assert all("two people" in ROWS[name].caution for name in ("move", "set-down", "plunge", "lay-down"))


def test_a_frame_is_open_from_nine_until_two_hours_before_sunset_and_fleece_off_by_half_past_nine() -> None:
    """On a day of May at 50° north; the sun sets at about 20:45 by the clock."""
    start = np.datetime64("2026-05-06T10:00:00", "s")
    times = start + np.arange(1, 73) * np.timedelta64(3600, "s")
    clock = clock_of(times, start, ZoneInfo(SITE.time_zone), SITE.latitude, SITE.longitude)
    hour = (clock.local - clock.local.astype("datetime64[D]")) / np.timedelta64(1, "h")
    opened = acting_hours(clock, ROWS["ventilate"], start, None)
    covered = acting_hours(clock, ROWS["fleece"], start, None)
    assert (hour[opened].min(), hour[opened].max()) == (9.0, 18.0)
    assert not covered[(hour > 9.5) & (hour < 18)].any()
    assert covered[(hour < 9) | (hour > 21)].all()
