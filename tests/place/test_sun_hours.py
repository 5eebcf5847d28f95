"""The sun of whole hours: mid-hour for means, the sunlit part at sunrise and sunset."""

import numpy as np
import pytest

from carewatch.physics.sun import sun_of_hours, sun_position, sun_times_utc
from tests.place.days import HOUR

MINUTE = np.timedelta64(60, "s")
ELEVATION_M = 50.0


@pytest.mark.parametrize("latitude", [-35.0, 0.0, 23.4, 52.0, 64.0])
@pytest.mark.parametrize("day", ["2026-01-15", "2026-03-20", "2026-06-21"])
def test_a_day_s_sunshine_outside_the_atmosphere_is_that_of_its_minutes(latitude: float, day: str) -> None:
    """Hourly sums on the level against an integral over minutes of NREL's position: within 1 %."""
    begins = np.datetime64(day, "s")
    sun = sun_of_hours(begins + np.arange(1, 25) * HOUR, latitude, 13.0, ELEVATION_M)
    ours = (sun.extraterrestrial_normal_wm2 * np.sin(np.radians(np.maximum(sun.elevation_deg, 0.0)))).sum()
    each = sun_position(begins + np.arange(1440) * MINUTE + MINUTE / 2, latitude, 13.0, ELEVATION_M)
    sine = np.sin(np.radians(np.maximum(each.elevation_deg, 0.0)))
    theirs = (each.extraterrestrial_normal_wm2 * sine).sum() / 60.0
    assert float(ours) == pytest.approx(float(theirs), rel=0.01)


def test_by_day_the_sun_stands_where_it_stands_at_half_past() -> None:
    """An hour with sun from begin to end is its middle, to the digit."""
    times = np.datetime64("2026-05-10", "s") + np.arange(1, 25) * HOUR
    sun, middle = sun_of_hours(times, 52.0, 13.0, 50.0), sun_position(times - HOUR / 2, 52.0, 13.0, 50.0)
    whole = middle.elevation_deg > 6.0
    assert whole.sum() >= 12
    assert sun.elevation_deg[whole] == pytest.approx(middle.elevation_deg[whole], abs=1e-9)
    assert sun.azimuth_deg[whole] == pytest.approx(middle.azimuth_deg[whole], abs=1e-9)
    assert sun.extraterrestrial_normal_wm2[whole] == pytest.approx(middle.extraterrestrial_normal_wm2[whole])


def test_an_hour_of_sunrise_counts_from_sunrise() -> None:
    """Its sun stands above the horizon even where half past is still night, and its sunshine is that of its part."""
    for offset in range(120):
        day = np.datetime64("2026-01-01") + 3 * offset
        rises, _ = sun_times_utc(np.array([day]), 52.0, 13.0)
        end = (rises[0].astype("datetime64[h]") + 1).astype("datetime64[s]")
        lit = float((end - rises[0]) / HOUR)
        sun = sun_of_hours(np.array([end]), 52.0, 13.0, 50.0)
        outside = sun_position(np.array([end]), 52.0, 13.0, 50.0).extraterrestrial_normal_wm2
        # The centre of the disc comes four to seven minutes after its rim, and looks are five minutes apart.
        assert float((sun.extraterrestrial_normal_wm2 / outside)[0]) == pytest.approx(lit, abs=0.2)
        assert (sun.elevation_deg[0] > 0.0) == (sun.extraterrestrial_normal_wm2[0] > 0.0)


def test_a_night_hour_has_no_sunshine_and_the_midnight_sun_has_all_of_it() -> None:
    """60° N in December at midnight; 75° N in June, all day."""
    night = sun_of_hours(np.array(["2026-12-21T00:00:00"], dtype="datetime64[s]"), 60.0, 0.0, 0.0)
    assert float(night.extraterrestrial_normal_wm2[0]) == 0.0
    assert float(night.elevation_deg[0]) < -40.0
    polar = sun_of_hours(np.datetime64("2026-06-21", "s") + np.arange(1, 25) * HOUR, 75.0, 0.0, 0.0)
    assert np.all(polar.extraterrestrial_normal_wm2 > 1300.0)
    assert np.all(polar.elevation_deg > 5.0)


@pytest.mark.parametrize("latitude", [-35.0, 52.0, 70.0])
def test_the_course_within_an_hour_is_the_sun_s(latitude: float) -> None:
    """Every five minutes of four weeks, from 5° to 60° high: within 0.3° of NREL's position."""
    times = np.datetime64("2026-05-10", "s") + np.arange(1, 24 * 28 + 1) * HOUR
    sun = sun_of_hours(times, latitude, 13.0, 50.0)
    instants = sun.course_elevation_deg.shape[1]
    moments = times[:, None] - HOUR + ((np.arange(instants) + 0.5) / instants * 3600.0).astype("timedelta64[s]")
    each = sun_position(moments.ravel(), latitude, 13.0, 50.0)
    middling = (each.elevation_deg > 5.0) & (each.elevation_deg < 60.0)
    assert middling.sum() > 1000
    off = np.abs(sun.course_elevation_deg.ravel() - each.elevation_deg)[middling]
    turned = np.abs((sun.course_azimuth_deg.ravel() - each.azimuth_deg + 180.0) % 360.0 - 180.0)[middling]
    assert off.max() < 0.3
    assert turned.max() < 0.3
