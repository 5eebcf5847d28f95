"""An answer and the record make one past: the answer wins, the most trusted origin is next, nothing is invented."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pandas as pd
import pytest

from carewatch.config.tables import load_tables
from carewatch.forecast.joining import REACH_BACK_DAYS, joined, with_record
from carewatch.forecast.packing import columns, past_days, unpacked
from carewatch.forecast.raw import RawForecast
from carewatch.forecast.record import ARCHIVE, MET_NORWAY, OPEN_METEO, PastDay, Record
from carewatch.forecast.spinup import spin_up
from carewatch.forecast.weather import Weather
from tests.forecast.answers import ELEVATION_M, HOURS, LATITUDE, LONGITUDE, NOW, frame, raw

RECORD_BEGINS = datetime(2026, 5, 22, tzinfo=UTC)


def recorded(origin: str, air_c: float, until: datetime, begins: datetime = RECORD_BEGINS) -> tuple[PastDay, ...]:
    """The record of one origin: every variable, and air of one temperature."""
    hours = int((until - begins) / timedelta(hours=1)) + 1
    week = frame()
    table = pd.concat([week] * (hours // HOURS + 1)).iloc[:hours]
    table.index = pd.date_range(begins, periods=hours, freq="h")
    table["air_temp_c"] = air_c
    table["dew_point_c"] = air_c - 5.0
    return past_days(table, origin, begins.date(), until)


def weather_of(answer: RawForecast, record: Record, now: datetime = NOW) -> Weather:
    return joined(answer, record, LATITUDE, LONGITUDE, ELEVATION_M, now, load_tables().forecast_errors)


def test_an_answer_that_begins_now_settles_on_recorded_hours() -> None:
    """As the second source's does: nothing has to be assumed about the last fourteen days."""
    begins_now = raw(frame().loc["2026-06-10 12:00":])
    alone = weather_of(begins_now, Record())
    assert spin_up(alone).assumed

    weather = weather_of(begins_now, Record(recent=recorded(ARCHIVE, 9.0, NOW)))

    lead = spin_up(weather)
    assert not lead.assumed
    assert lead.hours.values["air_temp_c"][:-1] == pytest.approx(9.0, abs=0.01)
    assert np.all(np.diff(weather.past.times) == np.timedelta64(3600, "s"))
    assert weather.past.times[-1] + np.timedelta64(3600, "s") == weather.ahead.times[0]
    assert any("the archive (reanalysis)" in note for note in weather.notes)
    assert weather.ahead.values["air_temp_c"] == pytest.approx(alone.ahead.values["air_temp_c"])


def test_the_answer_wins_over_the_record_and_the_more_trusted_origin_over_the_other() -> None:
    record = (*recorded(OPEN_METEO, 7.0, NOW - timedelta(days=5)), *recorded(ARCHIVE, 9.0, NOW))
    answer = raw(frame())

    single = with_record(answer, record, NOW).single

    assert single.loc[frame().index, "air_temp_c"].to_numpy() == pytest.approx(frame()["air_temp_c"].to_numpy())
    before = single.loc[: frame().index[0] - pd.Timedelta(hours=1), "air_temp_c"]
    trusted = before.loc[: pd.Timestamp(NOW) - pd.Timedelta(days=5)]
    assert trusted.to_numpy() == pytest.approx(7.0, abs=0.01)
    assert before.iloc[len(trusted) :].to_numpy() == pytest.approx(9.0, abs=0.01)


def test_what_the_answer_does_not_know_of_its_own_past_comes_from_the_record_and_nothing_of_the_future_does() -> None:
    """MET Norway gives no radiation: hours that an earlier answer knew keep theirs, and those ahead stay unknown."""
    without_light = raw(frame().drop(columns="global_wm2"))

    single = with_record(without_light, recorded(MET_NORWAY, 9.0, NOW + timedelta(days=1)), NOW).single

    assert single.loc[:NOW, "global_wm2"].notna().all()
    assert single.loc[pd.Timestamp(NOW).ceil("h") :, "global_wm2"].isna().all()


def test_a_hole_in_the_record_of_more_than_three_hours_ends_the_past_there() -> None:
    """Carried state is never fed what is not known."""
    hole = NOW - timedelta(days=6)
    record = (
        *recorded(ARCHIVE, 9.0, hole),
        *recorded(ARCHIVE, 9.0, NOW, (hole + timedelta(days=2)).replace(hour=0, minute=0)),
    )

    weather = weather_of(raw(frame().loc["2026-06-10 12:00":]), Record(recent=record))

    assert spin_up(weather).assumed
    assert np.isfinite(weather.past.values["air_temp_c"]).all()
    assert weather.past.times[0] >= np.datetime64("2026-06-06T00:00")


def test_the_record_s_days_go_with_the_weather() -> None:
    means = ((date(2025, 6, 10), ARCHIVE, 11.0), (date(2026, 6, 9), OPEN_METEO, 15.0))

    weather = weather_of(raw(frame()), Record(means))

    assert weather.days is not None
    assert weather.days.days.tolist() == [day for day, _, _ in means]
    assert weather.days.mean_c == pytest.approx([11.0, 15.0])
    assert weather_of(raw(frame()), Record()).days is None


def test_members_stay_beside_their_hours() -> None:
    members = {"air_temp_c": pd.DataFrame({number: frame()["air_temp_c"] + number for number in range(6)})}
    answer = raw(frame(), members)

    whole, alone = weather_of(answer, Record(recent=recorded(ARCHIVE, 9.0, NOW))), weather_of(answer, Record())

    assert whole.members_from == "ensemble"
    assert whole.ahead.values["air_temp_c"] == pytest.approx(alone.ahead.values["air_temp_c"])


def _by_pandas(answer: RawForecast, recent: list[PastDay], now: datetime) -> pd.DataFrame:
    """The same by pandas' own means: `combine_first` day by day, the most trusted last, then the answer over all."""
    found: pd.DataFrame | None = None
    for day in sorted(recent, key=lambda day: (ARCHIVE, MET_NORWAY, OPEN_METEO).index(day.origin)):
        index = pd.date_range(pd.Timestamp(day.day, tz="UTC"), periods=24, freq="h")
        hours = pd.DataFrame(unpacked(day.content), index=index, columns=columns())
        found = hours if found is None else hours.combine_first(found)
    assert found is not None
    begins = pd.Timestamp(now) - pd.Timedelta(days=REACH_BACK_DAYS)
    found = found.loc[(found.index >= begins) & (found.index <= pd.Timestamp(now))].dropna(how="all")
    own = answer.single
    own = own.reindex(own.index.union(pd.date_range(found.index[0], own.index[0], freq="h")))
    return own.combine_first(found).loc[own.index]


@pytest.mark.parametrize("seed", range(8))
def test_the_hours_that_are_put_together_are_those_that_pandas_puts_together(seed: int) -> None:
    """Three origins whose days overlap, with holes of hours and of whole days, and an answer with holes of its own."""
    random = np.random.default_rng(seed)
    recent: list[PastDay] = []
    for origin in (OPEN_METEO, ARCHIVE, MET_NORWAY):
        for day in (NOW.date() - timedelta(days=back) for back in range(20) if random.random() < 0.7):
            table = pd.DataFrame(random.normal(5.0, 9.0, (24, len(columns()))), columns=columns())
            table.index = pd.date_range(pd.Timestamp(day, tz="UTC"), periods=24, freq="h")
            table = table.mask(random.random(table.shape) < random.choice([0.02, 0.5]))
            table.loc[random.random(24) < 0.2] = np.nan
            recent += past_days(table, origin, day, NOW + timedelta(days=1))
    whole = frame()
    answer = raw(whole.mask(random.random(whole.shape) < 0.3).drop(columns="global_wm2"))

    single = with_record(answer, recent, NOW).single

    wanted = _by_pandas(answer, recent, NOW)
    pd.testing.assert_frame_equal(single, wanted[list(single)], check_exact=True, check_freq=False)
    assert set(single) >= set(wanted)
