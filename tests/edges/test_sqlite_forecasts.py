"""The archive of forecasts: each content once, what was known at a time, and no more than a home server can keep."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from carewatch.sqlite.database import Database
from carewatch.sqlite.forecasts import Asked, forecasts_since, forget_forecasts, newest_forecast, save_forecast
from carewatch.sqlite.refused import StoreRefused

NOW = datetime(2026, 11, 5, 11, tzinfo=UTC)
SINGLE = Asked("open-meteo", "single", 52.52, 13.41)
ENSEMBLE = replace(SINGLE, kind="ensemble", model="icon_seamless")
HOUR = timedelta(hours=1)


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    with Database.open(tmp_path / "a.sqlite", NOW) as opened:
        yield opened


def document(temperature: float, spent_ms: float = 0.1) -> dict[str, object]:
    return {"generationtime_ms": spent_ms, "hourly": {"time": [1, 2], "temperature_2m": [temperature, None]}}


def temperatures(found: Iterator[object]) -> list[float]:
    return [first_temperature(each) for each in found]


def first_temperature(stored: object) -> float:
    content = stored.document  # type: ignore[attr-defined]  # a StoredForecast
    return float(content["hourly"]["temperature_2m"][0])


def test_the_same_weather_is_stored_once_however_often_it_is_fetched(database: Database) -> None:
    """The service says with each answer how long it took; this does not make it another forecast."""
    with database.transaction(NOW) as transaction:
        first, new = save_forecast(transaction, SINGLE, document(1, 0.1), NOW - HOUR)
        again, new_again = save_forecast(transaction, SINGLE, document(1, 0.7), NOW)
        newest = newest_forecast(transaction, SINGLE)

    assert (new, new_again) == (True, False)
    assert first == again
    assert newest is not None
    assert newest.fetched_at == NOW
    assert newest.document == {"hourly": {"time": [1, 2], "temperature_2m": [1, None]}}


def test_the_newest_is_what_was_fetched_last_for_this_site_and_kind(database: Database) -> None:
    with database.transaction(NOW) as transaction:
        save_forecast(transaction, SINGLE, document(1), NOW - 3 * HOUR)
        save_forecast(transaction, SINGLE, document(2), NOW - 2 * HOUR)
        # A service with several machines may answer with the older run once more.
        save_forecast(transaction, SINGLE, document(1), NOW - HOUR)
        save_forecast(transaction, ENSEMBLE, document(3), NOW)
        save_forecast(transaction, replace(SINGLE, latitude=48.1), document(4), NOW)

        newest = newest_forecast(transaction, replace(SINGLE, latitude=52.520001))
        before = newest_forecast(transaction, SINGLE, as_of=NOW - 2 * HOUR)
        assert first_temperature(newest) == 1
        assert first_temperature(before) == 2
        assert newest_forecast(transaction, SINGLE, as_of=NOW - 4 * HOUR) is None
        assert first_temperature(newest_forecast(transaction, ENSEMBLE)) == 3
        assert newest_forecast(transaction, replace(ENSEMBLE, model="gfs025")) is None


def test_what_is_no_forecast_is_not_archived(database: Database) -> None:
    with database.transaction(NOW) as transaction:
        with pytest.raises(StoreRefused, match="as JSON"):
            save_forecast(transaction, SINGLE, document(float("nan")), NOW)
        with pytest.raises(StoreRefused, match="'elsewhere'"):
            save_forecast(transaction, replace(SINGLE, source="elsewhere"), document(1), NOW)
        assert newest_forecast(transaction, SINGLE) is None


def test_a_content_that_cannot_be_unpacked_is_told(database: Database) -> None:
    with database.transaction(NOW) as transaction:
        save_forecast(transaction, SINGLE, document(1), NOW)
        transaction.execute("UPDATE forecast SET content = x'00'")
        with pytest.raises(StoreRefused, match="cannot be unpacked"):
            newest_forecast(transaction, SINGLE)


def test_the_newest_four_ensembles_are_kept(database: Database) -> None:
    with database.transaction(NOW) as transaction:
        for age in range(7):
            save_forecast(transaction, ENSEMBLE, document(age), NOW - age * HOUR)
        assert forget_forecasts(transaction) == 3
        assert forget_forecasts(transaction) == 0
        assert temperatures(forecasts_since(transaction, "ensemble", NOW - 99 * HOUR)) == [3, 2, 1, 0]


def test_single_runs_are_kept_whole_for_a_month_and_by_the_quarter_day_for_thirteen(database: Database) -> None:
    """2025-09-01 is more than 13 months before, 2025-11-05 less; both are a month past."""
    with database.transaction(NOW) as transaction:
        for month, day in ((9, 1), (11, 5)):
            for hour in range(24):
                moment = datetime(2025, month, day, hour, tzinfo=UTC)
                save_forecast(transaction, SINGLE, document(100 * month + hour), moment)
        for hour in range(24):
            save_forecast(transaction, SINGLE, document(hour), NOW - timedelta(days=29) - hour * HOUR)

        forget_forecasts(transaction)

        kept = temperatures(forecasts_since(transaction, "single", NOW - timedelta(days=800)))
        assert kept == [1100, 1106, 1112, 1118, *reversed(range(24))]
        assert transaction.number("SELECT count(*) FROM fetch") == len(kept)


def test_archives_are_kept_for_thirteen_months_after_they_were_last_fetched(database: Database) -> None:
    archive = replace(SINGLE, kind="archive")
    with database.transaction(NOW) as transaction:
        for content in (1, 2):
            save_forecast(transaction, archive, document(content), NOW - timedelta(days=397))
        save_forecast(transaction, archive, document(2), NOW - timedelta(days=395))
        forget_forecasts(transaction)
        assert temperatures(forecasts_since(transaction, "archive", NOW - timedelta(days=800))) == [2]


def test_a_year_of_forecasts_stays_within_its_budget(database: Database) -> None:
    """
    Sixty megabytes a year, told from the size of one run as the service asks for it: 22 days of 13 variables.

    The numbers are random with as many digits as the service gives, which compresses worse than weather does.
    """
    generator = np.random.default_rng(5)
    hours = 22 * 24
    hourly: dict[str, list[float]] = {"time": [1_768_435_200 + 3600 * hour for hour in range(hours)]}
    for name in range(13):
        hourly[f"variable_{name}"] = [round(float(value), 1) for value in generator.normal(5, 6, hours)]
    with database.transaction(NOW) as transaction:
        save_forecast(transaction, SINGLE, {"hourly": hourly}, NOW)
        stored_bytes = transaction.number("SELECT length(content) FROM forecast")

    runs_kept = 30 * 24 + 366 * 4
    assert runs_kept * stored_bytes < 50e6
