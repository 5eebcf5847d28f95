"""The replay on a small scale: the real service through a recorded day, and errors of forecasts that behave."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from tests.replay.errors import AIR_SD_K, LEADS_H, Forecaster
from tests.replay.garden import garden
from tests.replay.judged import verdict
from tests.replay.recorded import ABSENT, CHICAGO, STATIONS, Station, at_hand, weather_of
from tests.replay.watch import clock_hours, replayed

# Five in the morning there; in the night that follows, a cold spell goes down to −16 °C.
BEGINS = datetime(2026, 11, 25, 11, tzinfo=UTC)


def _forecaster(station: Station = CHICAGO, seed: int = 1, jitter: float = 0.0) -> Forecaster:
    if not at_hand(station):
        pytest.skip(ABSENT)
    return Forecaster(weather_of(station), seed, jitter)


def test_the_service_lives_through_a_recorded_day() -> None:
    forecaster = _forecaster()

    found = replayed(CHICAGO, forecaster, BEGINS, clock_hours(0.75, every=3), garden("2026-08-15"), answering=True)

    judged = verdict(found, answering=True)
    assert not judged.broken
    assert judged.counts["call"] >= 1
    assert {one.how for one in judged.real} <= {"called", "in force"}


@pytest.mark.parametrize("name", sorted(STATIONS))
def test_recorded_weather_is_whole(name: str) -> None:
    truth = _forecaster(STATIONS[name]).truth
    assert np.all(np.diff(truth.times) == np.timedelta64(3600, "s"))
    assert all(np.isfinite(values).all() for values in truth.hourly.values())
    assert -35.0 < truth.hourly["temperature_2m"].min() < truth.hourly["temperature_2m"].max() < 45.0


def test_errors_grow_with_lead_to_the_size_that_is_declared() -> None:
    forecaster, at = _forecaster(), BEGINS
    truth = forecaster.truth.hourly["temperature_2m"]
    missed = []
    for day in range(-200, 20):
        issued = at + timedelta(days=day)
        now = int(np.searchsorted(forecaster.truth.times, np.datetime64(issued.replace(tzinfo=None))))
        error = forecaster.believed(issued).hourly["temperature_2m"] - truth
        missed.append([error[now + int(lead)] for lead in LEADS_H])
    sd = np.array(missed).std(axis=0)
    # 220 days whose errors hang together over one: a sample of some hundred and fifty.
    np.testing.assert_allclose(sd, AIR_SD_K, rtol=0.2, atol=1e-9)


def test_a_forecast_of_an_hour_changes_little_from_one_look_to_the_next() -> None:
    forecaster = _forecaster()
    first, then = (forecaster.believed(BEGINS + timedelta(hours=hour)).hourly["temperature_2m"] for hour in (0, 1))
    ahead = forecaster.truth.times > np.datetime64((BEGINS + timedelta(hours=7)).replace(tzinfo=None))
    assert 0.0 < np.abs(first - then)[ahead].max() < 1.0


def test_the_same_seed_gives_the_same_forecasts_and_jitter_is_a_tenth() -> None:
    forecaster, same, shaken = _forecaster(), _forecaster(), _forecaster(jitter=0.1)
    first, again, other = (each.believed(BEGINS).hourly["temperature_2m"] for each in (forecaster, same, shaken))
    assert np.array_equal(first, again)
    far = forecaster.truth.times > np.datetime64((BEGINS + timedelta(days=7)).replace(tzinfo=None))
    assert (other - first)[far].std() == pytest.approx(0.1 * AIR_SD_K[-1], rel=0.3)
