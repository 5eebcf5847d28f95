"""How an Open-Meteo answer becomes canonical hours: times, units, spellings, models, members, and what is refused."""

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime

import numpy as np
import pandas as pd
import pytest

from carewatch.forecast.raw import RawForecast
from carewatch.weather_api.parse import parse_open_meteo
from carewatch.weather_api.refused import SourceRefused

Values = Sequence[object]
START = 1_768_435_200  # 2026-01-15T00:00Z


def answer(
    hourly: Mapping[str, Values], units: Mapping[str, str] | None = None, times: Values | None = None, **other: object
) -> dict[str, object]:
    """A document of the documented form; units default to what the request asks for."""
    asked = {
        "temperature_2m": "°C",
        "dew": "°C",
        "soil": "°C",
        "relative": "%",
        "cloud": "%",
        "wind": "m/s",
        "shortwave": "W/m²",
        "di": "W/m²",
        "precipitation": "mm",
        "rain": "mm",
        "showers": "mm",
        "snowfall": "cm",
        "snow_depth": "m",
        "surface_pressure": "hPa",
        "pressure": "hPa",
    }
    default_units = {key: next(unit for name, unit in asked.items() if key.startswith(name)) for key in hourly}
    if times is None:
        times = [START + 3600 * hour for hour in range(len(next(iter(hourly.values()))))]
    return {
        "latitude": 52.52,
        "longitude": 13.42,
        "elevation": 38.0,
        "utc_offset_seconds": 0,
        "hourly_units": {**default_units, **(units or {})},
        "hourly": {"time": times, **hourly},
        **other,
    }


def noted(forecast: RawForecast, *words: str) -> bool:
    return any(all(word in note for word in words) for note in forecast.notes)


def test_unix_times_are_utc_whatever_offset_the_answer_names() -> None:
    forecast = parse_open_meteo(answer({"temperature_2m": [1.0, 2.0]}, utc_offset_seconds=7200))
    assert list(forecast.single.index) == [pd.Timestamp("2026-01-15T00:00Z"), pd.Timestamp("2026-01-15T01:00Z")]


def test_local_times_keep_one_offset_across_the_change_to_summer_time() -> None:
    """
    The service labels a whole answer with the offset of the day of the request (open-meteo issue 488).

    Asked in winter in Berlin, 02:00 on 29 March 2026 exists in the answer, though not on any clock there: it is
    01:00 UTC.
    """
    times = ["2026-03-29T01:00", "2026-03-29T02:00", "2026-03-29T03:00", "2026-03-29T04:00"]
    forecast = parse_open_meteo(
        answer({"temperature_2m": [1.0, 2.0, 3.0, 4.0]}, times=times, utc_offset_seconds=3600, timezone="Europe/Berlin")
    )
    expected = pd.date_range("2026-03-29T00:00Z", periods=4, freq="h")
    assert list(forecast.single.index) == list(expected)
    assert forecast.single["air_temp_c"].tolist() == [1.0, 2.0, 3.0, 4.0]


def test_in_a_half_hour_zone_values_belong_to_the_full_utc_hour_that_the_server_read() -> None:
    """The server labels with +5:30 but reads with +5 (hourlyDisplay and hourlyRead in its ApiQueryParameter)."""
    forecast = parse_open_meteo(
        answer({"temperature_2m": [1.0, 2.0]}, times=["2026-01-15T00:00", "2026-01-15T01:00"], utc_offset_seconds=19800)
    )
    assert list(forecast.single.index) == list(pd.date_range("2026-01-14T19:00Z", periods=2, freq="h"))
    assert noted(forecast, "shifted")


def test_every_documented_unit_arrives_in_the_canonical_one() -> None:
    """Definitions: mile 1609.344 m, nautical mile 1852 m, inch 25.4 mm, foot 0.3048 m, 32 °F = 0 °C."""
    forecast = parse_open_meteo(
        answer(
            {
                "temperature_2m": [32.0],
                "dew_point_2m": [14.0],
                "soil_temperature_6cm": [50.0],
                "relative_humidity_2m": [80],
                "wind_speed_10m": [36.0],
                "wind_gusts_10m": [10.0],
                "cloud_cover": [25],
                "rain": [0.1],
                "showers": [0.0],
                "snowfall": [1.0],
                "snow_depth": [2.0],
                "surface_pressure": [1013.25],
            },
            {
                "temperature_2m": "°F",
                "dew_point_2m": "°F",
                "soil_temperature_6cm": "°F",
                "wind_speed_10m": "km/h",
                "wind_gusts_10m": "mp/h",
                "rain": "inch",
                "showers": "inch",
                "snowfall": "inch",
                "snow_depth": "ft",
            },
        )
    )
    row = forecast.single.iloc[0]
    assert row.to_dict() == pytest.approx(
        {
            "air_temp_c": 0.0,
            "dew_point_c": -10.0,
            "soil_temp_c": 10.0,
            "relative_humidity": 80.0,
            "wind_10m_ms": 10.0,
            "gust_10m_ms": 4.4704,
            "cloud": 0.25,
            "rain_mm": 2.54,
            "snowfall_cm": 2.54,
            "snow_depth_m": 0.6096,
            "pressure_kpa": 101.325,
        },
        abs=1e-9,
    )
    knots = parse_open_meteo(
        answer({"temperature_2m": [0.0], "wind_speed_10m": [10.0]}, {"wind_speed_10m": "kn"})
    ).single
    assert knots["wind_10m_ms"].iloc[0] == pytest.approx(5.14444, abs=1e-5)


def test_a_variable_in_an_unknown_unit_is_left_out_and_named() -> None:
    forecast = parse_open_meteo(
        answer({"temperature_2m": [1.0], "wind_speed_10m": [3.0]}, {"wind_speed_10m": "Beaufort"})
    )
    assert "wind_10m_ms" not in forecast.single
    assert noted(forecast, "wind_speed_10m", "Beaufort")


def test_a_temperature_without_a_unit_cannot_be_trusted_and_refuses_the_answer() -> None:
    document = answer({"temperature_2m": [41.0]})
    del document["hourly_units"]
    with pytest.raises(SourceRefused, match=r"no air temperature.*without a unit"):
        parse_open_meteo(document)


def test_old_spellings_are_understood() -> None:
    forecast = parse_open_meteo(
        answer(
            {
                "temperature_2m": [5.0],
                "relativehumidity_2m": [70],
                "dewpoint_2m": [0.0],
                "windspeed_10m": [2.0],
                "windgusts_10m": [6.0],
                "cloudcover": [50],
            }
        )
    )
    assert forecast.single.iloc[0].to_dict() == {
        "air_temp_c": 5.0,
        "relative_humidity": 70.0,
        "dew_point_c": 0.0,
        "wind_10m_ms": 2.0,
        "gust_10m_ms": 6.0,
        "cloud": 0.5,
    }


def test_the_first_model_with_air_temperature_serves_and_others_fill_in_what_it_lacks_by_name() -> None:
    forecast = parse_open_meteo(
        answer(
            {
                "wind_speed_10m_icon_d2": [9.0, 9.0],
                "temperature_2m_icon_d2": [None, None],
                "temperature_2m_gfs_seamless": [1.0, 2.0],
                "wind_speed_10m_gfs_seamless": [3.0, None],
                "cloud_cover_icon_d2": [100, 100],
                "cloud_cover_gfs_seamless": [None, None],
            }
        )
    )
    assert forecast.single["air_temp_c"].tolist() == [1.0, 2.0]
    assert forecast.single["wind_10m_ms"].iloc[0] == 3.0
    assert np.isnan(forecast.single["wind_10m_ms"].iloc[1])
    assert forecast.single["cloud"].tolist() == [1.0, 1.0]
    assert noted(forecast, "model gfs_seamless")
    assert noted(forecast, "Cloud cover is that of icon_d2")


def test_neighbouring_variables_are_not_taken_for_models() -> None:
    forecast = parse_open_meteo(
        answer(
            {
                "temperature_2m": [1.0],
                "temperature_2m_previous_day1": [9.0],
                "cloud_cover_low": [100],
                "precipitation_probability": [90],
                "shortwave_radiation_instant": [500.0],
                "snow_depth_water_equivalent": [1.0],
                "direct_normal_irradiance_instant": [700.0],
            }
        )
    )
    assert forecast.single.to_dict("list") == {"air_temp_c": [1.0]}


def test_nulls_stay_unknown_and_a_variable_of_nulls_alone_is_left_out_and_named() -> None:
    forecast = parse_open_meteo(
        answer({"temperature_2m": [1.0, None, 3.0], "wind_gusts_10m": [None, None, None], "cloud_cover": [0, 10, None]})
    )
    assert forecast.single["air_temp_c"].isna().tolist() == [False, True, False]
    assert forecast.single["cloud"].isna().tolist() == [False, False, True]
    assert "gust_10m_ms" not in forecast.single
    assert noted(forecast, "wind_gusts_10m", "no value at all")
    assert noted(forecast, "Hours without a value, of 3", "air temperature 1", "cloud cover 1")
    assert (forecast.single.dtypes == "float64").all()


def test_an_array_of_another_length_than_the_times_is_left_out_and_named() -> None:
    forecast = parse_open_meteo(answer({"temperature_2m": [1.0, 2.0, 3.0], "cloud_cover": [1, 2]}))
    assert "cloud" not in forecast.single
    assert noted(forecast, "cloud_cover", "2 values for 3 times")


def test_values_that_are_no_numbers_are_unknown_and_counted() -> None:
    forecast = parse_open_meteo(answer({"temperature_2m": [1.0, "cold", True, 10**400, [2.0]]}))
    assert forecast.single["air_temp_c"].notna().tolist() == [True, False, False, False, False]
    assert noted(forecast, "temperature_2m", "4 values that are not numbers")


def test_an_answer_without_air_temperature_is_refused_for_good() -> None:
    with pytest.raises(SourceRefused) as refused:
        parse_open_meteo(answer({"cloud_cover": [50]}), origin="the file x.json")
    assert refused.value.reason == (
        "the file x.json has no air temperature (temperature_2m), which every judgement needs"
    )
    assert not refused.value.transient


def test_the_refusal_says_why_an_air_temperature_that_is_there_does_not_count() -> None:
    with pytest.raises(SourceRefused, match=r"\(temperature_2m: 1 values for 2 times"):
        parse_open_meteo(answer({"cloud_cover": [50, 60], "temperature_2m": [1.0]}))


@pytest.mark.parametrize(
    ("document", "said"),
    [
        ({"error": True, "reason": "Latitude must be in range of -90 to 90°. Given: 900.0."}, "Given: 900.0"),
        ({"error": True}, "no reason given"),
        ([], "empty list"),
        ([[1]], "no object"),
        ("fine", "no object"),
        ({"latitude": 1.0}, "no hourly values"),
        ({"hourly": []}, "no hourly values"),
        ({"hourly": {"temperature_2m": [1.0]}}, "no times"),
        ({"hourly": {"time": [None, "soon"], "temperature_2m": [1.0, 2.0]}}, "no value at a full hour"),
        ({"hourly": {"time": ["1950-01-01T00:00", "2026-01-01T00:00"], "temperature_2m": [1.0, 2.0]}}, "76 years"),
    ],
)
def test_what_is_no_forecast_is_refused_with_its_reason(document: object, said: str) -> None:
    with pytest.raises(SourceRefused, match=said) as refused:
        parse_open_meteo(document)
    assert not refused.value.transient


def test_of_several_places_the_first_is_taken_with_a_note() -> None:
    forecast = parse_open_meteo([answer({"temperature_2m": [1.0]}), answer({"temperature_2m": [9.0]})])
    assert forecast.single["air_temp_c"].tolist() == [1.0]
    assert noted(forecast, "2 places")


def test_impossible_values_become_unknown_and_small_nonsense_is_moved_and_both_are_counted() -> None:
    forecast = parse_open_meteo(
        answer(
            {
                "temperature_2m": [-90.5, 60.5, 20.0],
                "relative_humidity_2m": [103, 999, 50],
                "shortwave_radiation": [-2.0, -9999.0, 400.0],
                "cloud_cover": [104, 0, 100],
                "wind_speed_10m": [-1.0, 500.0, 3.0],
            }
        )
    )
    nan = float("nan")
    expected = {
        "air_temp_c": [nan, nan, 20.0],
        "wind_10m_ms": [nan, nan, 3.0],
        "global_wm2": [0.0, nan, 400.0],
        "cloud": [1.0, 0.0, 1.0],
        "relative_humidity": [100.0, nan, 50.0],
    }
    pd.testing.assert_frame_equal(
        forecast.single, pd.DataFrame(expected, index=forecast.single.index), check_like=False
    )
    assert noted(forecast, "2 values of air temperature are impossible")
    assert noted(forecast, "1 values of cloud cover were moved into 0 to 1")


def test_rain_is_the_liquid_part_of_what_falls() -> None:
    """
    Each hour takes the best that it has.

    In turn: rain + showers; precipitation less snow where there is no split (7 cm of snow are 10 mm of water, from
    the documentation of the service); never below nothing; rain alone; precipitation alone.
    """
    forecast = parse_open_meteo(
        answer(
            {
                "temperature_2m": [1.0] * 6,
                "rain": [1.0, None, None, 0.5, None, None],
                "showers": [2.0, None, None, None, None, None],
                "precipitation": [9.0, 12.0, 1.0, None, 3.0, None],
                "snowfall": [4.2, 7.0, 7.0, 0.0, None, 0.0],
            }
        )
    )
    assert forecast.single["rain_mm"].tolist() == pytest.approx([3.0, 2.0, 0.0, 0.5, 3.0, float("nan")], nan_ok=True)
    assert forecast.single["snowfall_cm"].tolist()[:2] == [4.2, 7.0]
    assert noted(forecast, "precipitation less the water of snowfall in 2 hours")
    assert noted(forecast, "all precipitation in 1 hours")


def test_twice_given_and_unordered_hours_become_one_rising_gapless_index() -> None:
    times = [START + 3 * 3600, START, START + 3600, START + 3600]
    forecast = parse_open_meteo(answer({"temperature_2m": [3.0, 0.0, 1.0, 99.0]}, times=times))
    assert list(forecast.single.index) == list(pd.date_range("2026-01-15T00:00Z", periods=4, freq="h"))
    assert forecast.single["air_temp_c"].tolist() == pytest.approx([0.0, 1.0, float("nan"), 3.0], nan_ok=True)
    assert noted(forecast, "occur twice")
    assert noted(forecast, "1 hours between the first and the last are missing")


def test_sums_over_three_hours_are_not_passed_off_as_sums_of_one() -> None:
    """Hourly at first, three-hourly later: states are kept, sums and means only where they span one hour."""
    times = [START + 3600 * hour for hour in (0, 1, 2, 5, 8)]
    forecast = parse_open_meteo(
        answer({"temperature_2m": [0.0, 1.0, 2.0, 5.0, 8.0], "shortwave_radiation": [10.0] * 5}, times=times)
    )
    assert forecast.single["air_temp_c"].notna().sum() == 5
    assert forecast.single["global_wm2"].notna().tolist() == [True, True, True] + [False] * 6
    assert noted(forecast, "not one hour long")


def test_quarter_hours_between_the_hours_are_left_out() -> None:
    times = [START + 900 * quarter for quarter in range(9)]
    forecast = parse_open_meteo(answer({"temperature_2m": list(range(9)), "rain": [1.0] * 9}, times=times))
    assert forecast.single["air_temp_c"].tolist() == [0.0, 4.0, 8.0]
    assert "rain_mm" not in forecast.single


def test_members_are_columns_with_the_control_first_and_of_one_model() -> None:
    forecast = parse_open_meteo(
        answer(
            {
                "temperature_2m_member02_icon_d2": [2.0],
                "temperature_2m_icon_d2": [0.0],
                "temperature_2m_member01_icon_d2": [1.0],
                "temperature_2m_member01_gfs05": [50.0],
                "cloud_cover_icon_d2": [0],
                "cloud_cover_member01_icon_d2": [10],
                "cloud_cover_member02_icon_d2": [20],
            }
        )
    )
    assert forecast.members["air_temp_c"].to_numpy().tolist() == [[0.0, 1.0, 2.0]]
    assert forecast.members["cloud"].to_numpy().tolist() == [[0.0, 0.1, 0.2]]
    assert forecast.single["air_temp_c"].tolist() == [0.0]


def test_a_variable_that_most_members_lack_does_not_cost_the_members() -> None:
    hourly: dict[str, Values] = {f"temperature_2m_member{number:02d}": [float(number)] for number in range(1, 6)}
    hourly |= {"temperature_2m": [0.0], "wind_gusts_10m": [5.0], "wind_gusts_10m_member01": [6.0]}
    hourly |= {f"wind_gusts_10m_member{number:02d}": [None] for number in range(2, 6)}
    forecast = parse_open_meteo(answer(hourly))
    assert {name: frame.shape for name, frame in forecast.members.items()} == {"air_temp_c": (1, 6)}
    assert noted(forecast, "Gust is given for 2 members only")
    assert noted(forecast, "wind_gusts_10m_member02 to wind_gusts_10m_member05 (4 arrays)")


def test_a_member_that_lacks_one_variable_is_left_out_of_all() -> None:
    hourly: dict[str, Values] = {"temperature_2m": [0.0], "cloud_cover": [0]}
    hourly |= {f"temperature_2m_member{number:02d}": [float(number)] for number in range(1, 5)}
    hourly |= {f"cloud_cover_member{number:02d}": [10 * number] for number in range(1, 4)}
    forecast = parse_open_meteo(answer(hourly))
    assert forecast.members["air_temp_c"].to_numpy().tolist() == [[0.0, 1.0, 2.0, 3.0]]
    assert forecast.members["cloud"].to_numpy().tolist() == [pytest.approx([0.0, 0.1, 0.2, 0.3])]


def test_the_time_of_issue_is_that_of_the_call_or_else_of_the_current_values() -> None:
    document = answer(
        {"temperature_2m": [1.0]}, current={"time": "2026-01-15T11:30", "interval": 900}, utc_offset_seconds=3600
    )
    assert parse_open_meteo(document).issued_at == datetime(2026, 1, 15, 10, 30, tzinfo=UTC)
    fetched = datetime(2026, 1, 15, 12, tzinfo=UTC)
    assert parse_open_meteo(document, issued_at=fetched).issued_at == fetched
    assert parse_open_meteo(answer({"temperature_2m": [1.0]})).issued_at is None


def test_a_place_that_is_missing_is_not_a_number_and_noted() -> None:
    forecast = parse_open_meteo(answer({"temperature_2m": [1.0]}, latitude=None, longitude="x", elevation=None))
    assert np.isnan(forecast.latitude)
    assert np.isnan(forecast.longitude)
    assert forecast.elevation_m is None
    assert noted(forecast, "for which place")


def test_what_is_only_nearly_canonical_is_left_out_and_named() -> None:
    forecast = parse_open_meteo(
        answer({"temperature_2m": [1.0], "direct_radiation": [300.0], "pressure_msl": [1013.0]})
    )
    assert list(forecast.single.columns) == ["air_temp_c"]
    assert noted(forecast, "Direct radiation", "horizontal")
    assert noted(forecast, "Pressure", "sea level")
    assert noted(forecast, "Not in this answer", "dew point", "direct normal radiation", "rain")
