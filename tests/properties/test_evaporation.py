"""What holds for the reference evapotranspiration, and that the quick way gives what the steps give."""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import given
from numpy.typing import NDArray

from carewatch.physics import evaporation_from_weather
from carewatch.physics.evaporation import (
    Standard,
    clear_sky_mj,
    extraterrestrial_daily_mj,
    extraterrestrial_hourly_mj,
    net_radiation_hourly_mj,
    reference_et_hourly_mm,
    solar_hour_angle_rad,
)
from carewatch.physics.evaporation_from_weather import (
    reference_et_from_weather_daily_mm,
    reference_et_from_weather_hourly_mm,
)
from carewatch.physics.humidity import pressure_at_kpa, saturation_vapour_pressure_kpa
from carewatch.physics.sun import declination_rad, sunset_hour_angle_rad
from carewatch.physics.wind import wind_to_2m_ms
from tests.properties.weather_states import STATES, few, seeds

Array = NDArray[np.float64]

BOTH: tuple[Standard, Standard] = ("fao", "asce")


@dataclass(frozen=True)
class Weather:
    """Hours anywhere on earth, units as the evapotranspiration wants them."""

    air_c: Array
    vapour_kpa: Array
    wind_ms: Array
    solar_mj: Array
    day: Array
    hour: Array
    latitude: Array
    longitude: Array
    elevation_m: Array
    low_relative: Array

    def evaporation_mm(self, standard: Standard, out: Array | None = None) -> Array:
        """Straight from the weather. [mm h-1]"""
        return reference_et_from_weather_hourly_mm(
            self.air_c,
            self.vapour_kpa,
            self.wind_ms,
            self.solar_mj,
            self.day,
            self.hour,
            self.latitude,
            self.longitude,
            self.elevation_m,
            self.low_relative,
            10.0,
            standard,
            out,
        )

    def outside_mj(self) -> Array:
        """Extraterrestrial radiation of each hour. [MJ m-2 h-1]"""
        angle = solar_hour_angle_rad(self.hour, self.day, self.longitude)
        return extraterrestrial_hourly_mj(self.day, self.latitude, angle)

    def elevation_sine(self) -> Array:
        """Of the sun in the middle of the hour. [-]"""
        phi, declination = np.radians(self.latitude), declination_rad(self.day)
        angle = solar_hour_angle_rad(self.hour, self.day, self.longitude)
        sine: Array = np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * np.cos(angle)
        return sine


def weather(seed: int, states: int = STATES) -> Weather:
    """From the pole to the equator, frost to heat, dry to saturated, calm to gale, dull to clear, night and day."""
    draw = np.random.default_rng(seed)
    air = draw.uniform(-25.0, 46.0, states)
    some = Weather(
        air_c=air,
        vapour_kpa=saturation_vapour_pressure_kpa(air) * draw.uniform(0.15, 1.0, states),
        wind_ms=draw.choice([0.0, 0.5, 2.0, 8.0, 25.0], states) * draw.uniform(0.7, 1.3, states),
        solar_mj=draw.uniform(0.0, 1.0, states),
        day=draw.integers(1, 366, states).astype(np.float64),
        hour=draw.uniform(0.0, 24.0, states),
        latitude=draw.uniform(-89.0, 89.0, states),
        longitude=draw.uniform(-180.0, 180.0, states),
        elevation_m=draw.uniform(0.0, 4000.0, states),
        low_relative=draw.uniform(0.2, 1.1, states),
    )
    return replace(some, solar_mj=some.solar_mj * clear_sky_mj(some.outside_mj(), some.elevation_m))


def _step_by_step_mm(w: Weather, standard: Standard) -> Array:
    """The functions of physics.evaporation one after the other. [mm h-1]"""
    clear = clear_sky_mj(w.outside_mj(), w.elevation_m)
    low = w.elevation_sine() < np.sin(0.3)
    relative = np.where(low, w.low_relative, w.solar_mj / np.where(low, 1.0, clear))
    net = net_radiation_hourly_mj(w.solar_mj, w.air_c, w.vapour_kpa, relative, standard)
    pressure = pressure_at_kpa(w.elevation_m)
    wind_2m = wind_to_2m_ms(w.wind_ms, 10.0)
    return reference_et_hourly_mm(w.air_c, w.vapour_kpa, wind_2m, net, pressure, net >= 0.0, standard)


@pytest.mark.parametrize("standard", BOTH)
@few
@given(seeds)
def test_the_quick_way_gives_what_the_steps_give(standard: Standard, seed: int) -> None:
    """To a million millionth of a millimetre, and relatively where the two terms do not cancel."""
    w = weather(seed)
    assert w.evaporation_mm(standard) == pytest.approx(_step_by_step_mm(w, standard), rel=1e-12, abs=1e-12)


@few
@given(seeds)
def test_days_that_are_no_whole_numbers_are_days_as_well(seed: int) -> None:
    """Between two days the sun stands between the two."""
    w = weather(seed)
    w = replace(w, day=w.day + 0.37)
    assert w.evaporation_mm("fao") == pytest.approx(_step_by_step_mm(w, "fao"), rel=1e-12, abs=1e-12)


@few
@given(seeds)
def test_the_sun_may_be_given_once_for_all_members(seed: int) -> None:
    """Broadcasting is writing out in full, whichever axis is short; and long arrays are their pieces."""
    w = weather(seed, 24 * 7 * 5)
    cube = {name: values.reshape(24, 7, 5) for name, values in vars(w).items()}
    for short in ("day", "hour", "latitude", "longitude", "elevation_m", "low_relative"):
        cube[short] = cube[short][:, :1, :1]
    cube["wind_ms"] = cube["wind_ms"][:1, :, :1]
    full = {name: np.broadcast_to(values, (24, 7, 5)).copy() for name, values in cube.items()}
    at_once = Weather(**cube).evaporation_mm("asce")
    assert at_once.shape == (24, 7, 5)
    assert at_once == pytest.approx(Weather(**full).evaporation_mm("asce"), rel=1e-12, abs=1e-14)
    with pytest.MonkeyPatch.context() as small:
        small.setattr(evaporation_from_weather, "BLOCK", 20)
        assert Weather(**cube).evaporation_mm("asce") == pytest.approx(at_once, rel=1e-12, abs=1e-14)
        assert Weather(**full).evaporation_mm("asce") == pytest.approx(at_once, rel=1e-12, abs=1e-14)
    single = Weather(**{name: values[3, 2, 1] for name, values in full.items()}).evaporation_mm("asce")
    assert single.shape == ()
    assert float(single) == pytest.approx(float(at_once[3, 2, 1]), rel=1e-12)


def test_the_answer_goes_where_it_is_wanted() -> None:
    """An array of the right shape is filled and returned; another one is refused with both shapes."""
    w = weather(1, 50)
    there = np.full(50, np.nan)
    answer = w.evaporation_mm("fao", there)
    assert answer is there
    assert np.array_equal(there, w.evaporation_mm("fao"))
    every_other = np.full(100, np.nan)
    w.evaporation_mm("fao", every_other[::2])
    assert np.array_equal(every_other[::2], there)
    assert np.isnan(every_other[1::2]).all()
    with pytest.raises(ValueError, match=r"\(49,\).*\(50,\)"):
        w.evaporation_mm("fao", np.empty(49))


@few
@given(seeds)
def test_an_unknown_hour_gives_an_unknown_answer(seed: int) -> None:
    """NaN in any input gives NaN for that hour and changes no other; so does a wind below zero."""
    w = weather(seed)
    whole = w.evaporation_mm("asce")
    hole = int(np.random.default_rng(seed).integers(0, STATES))
    others = np.arange(STATES) != hole
    for name, values in vars(w).items():
        broken = values.copy()
        broken[hole] = np.nan
        answer = replace(w, **{name: broken}).evaporation_mm("asce")
        assert np.isnan(answer[hole]), name
        assert answer[others] == pytest.approx(whole[others], rel=1e-12, abs=1e-14), name
    backwards = w.wind_ms.copy()
    backwards[hole] = -1.0
    answer = replace(w, wind_ms=backwards).evaporation_mm("asce")
    assert np.isnan(answer[hole])
    assert np.array_equal(answer[others], whole[others])


@few
@given(seeds)
def test_more_sun_evaporates_more(seed: int) -> None:
    """What the ground keeps grows with the sun, though a clearer sky lets more warmth out."""
    w = weather(seed)
    more = replace(w, solar_mj=1.1 * w.solar_mj + 0.01)
    assert np.all(more.evaporation_mm("fao") > w.evaporation_mm("fao"))


@pytest.mark.parametrize("standard", BOTH)
@few
@given(seeds)
def test_drier_air_takes_up_more(standard: Standard, seed: int) -> None:
    """At the same net radiation, wherever there is wind."""
    w = weather(seed)
    wind, net, pressure = w.wind_ms + 0.1, 0.7 * w.solar_mj - 0.1, pressure_at_kpa(w.elevation_m)
    moist = reference_et_hourly_mm(w.air_c, w.vapour_kpa, wind, net, pressure, net >= 0.0, standard)
    dry = reference_et_hourly_mm(w.air_c, 0.9 * w.vapour_kpa, wind, net, pressure, net >= 0.0, standard)
    assert np.all(dry > moist)


@few
@given(seeds)
def test_wind_dries_in_dry_air_and_cools_in_moist_air(seed: int) -> None:
    """Without radiation all comes from the wind; in saturated air wind only takes away what the sun gives."""
    w = weather(seed)
    pressure, day = pressure_at_kpa(w.elevation_m), np.ones(STATES, dtype=np.bool_)
    none, saturated = np.zeros(STATES), saturation_vapour_pressure_kpa(w.air_c)
    thirsty = 0.9 * w.vapour_kpa
    calm = reference_et_hourly_mm(w.air_c, thirsty, w.wind_ms, none, pressure, day)
    windy = reference_et_hourly_mm(w.air_c, thirsty, w.wind_ms + 1.0, none, pressure, day)
    assert np.all(windy > calm)
    assert np.all(calm >= 0.0)
    sunny = np.full(STATES, 1.5)
    calm = reference_et_hourly_mm(w.air_c, saturated, w.wind_ms, sunny, pressure, day)
    windy = reference_et_hourly_mm(w.air_c, saturated, w.wind_ms + 1.0, sunny, pressure, day)
    assert np.all(windy < calm)
    assert np.all(windy > 0.0)


@few
@given(seeds)
def test_nothing_evaporates_from_nothing(seed: int) -> None:
    """Neither radiation nor deficit: neither evaporation nor dew."""
    w = weather(seed)
    none = np.zeros(STATES)
    saturated = saturation_vapour_pressure_kpa(w.air_c)
    night = np.zeros(STATES, dtype=np.bool_)
    for standard in BOTH:
        still = reference_et_hourly_mm(w.air_c, saturated, w.wind_ms, none, pressure_at_kpa(100.0), night, standard)
        assert np.max(np.abs(still)) < 1e-12


@few
@given(seeds)
def test_there_is_no_jump_between_night_and_day(seed: int) -> None:
    """Through a day of one cloudiness no minute moves FAO-56 by more than six thousandths of a millimetre an hour."""
    draw = np.random.default_rng(seed)
    minutes = np.arange(1441.0) / 60.0
    air, share = draw.uniform(-5.0, 38.0), draw.uniform(0.3, 1.0)
    some = Weather(
        air_c=np.full(1441, air),
        vapour_kpa=saturation_vapour_pressure_kpa(np.full(1441, air)) * draw.uniform(0.2, 1.0),
        wind_ms=np.full(1441, draw.uniform(0.0, 10.0)),
        solar_mj=np.zeros(1441),
        day=np.full(1441, float(draw.integers(1, 366))),
        hour=minutes,
        latitude=np.full(1441, draw.uniform(-65.0, 65.0)),
        longitude=np.full(1441, 7.5),
        elevation_m=np.full(1441, 300.0),
        low_relative=np.full(1441, share),
    )
    some = replace(some, solar_mj=share * clear_sky_mj(some.outside_mj(), some.elevation_m))
    course = some.evaporation_mm("fao")
    assert np.max(np.abs(np.diff(course))) < 0.006


@few
@given(seeds)
def test_the_hours_of_a_day_make_the_day(seed: int) -> None:
    """Extraterrestrial radiation of 24 hours is that of the day, under the midnight sun too."""
    draw = np.random.default_rng(seed)
    day, latitude = draw.integers(1, 366, STATES).astype(np.float64), draw.uniform(-90.0, 90.0, STATES)
    angle = solar_hour_angle_rad(np.arange(24.0)[:, None] + 0.5, day, draw.uniform(-180.0, 180.0, STATES))
    hours = extraterrestrial_hourly_mj(day, latitude, angle)
    whole = extraterrestrial_daily_mj(day, latitude)
    sunset = sunset_hour_angle_rad(day, latitude)
    # An hour over midnight that is lit at both its ends, but not in between, loses one of them: a low sun's minutes.
    split = (sunset > np.pi * 23.0 / 24.0) & (sunset < np.pi)
    assert np.all(hours >= 0.0)
    assert hours.sum(axis=0)[~split] == pytest.approx(whole[~split], rel=1e-9, abs=1e-9)
    assert hours.sum(axis=0)[split] == pytest.approx(whole[split], abs=0.05)


@few
@given(seeds)
def test_an_hour_later_is_fifteen_degrees_further_west(seed: int) -> None:
    """The sun of a place is its own, whatever the clock of Greenwich says."""
    w = weather(seed)
    moved = replace(w, hour=w.hour + 1.0, longitude=w.longitude - 15.0)
    assert moved.evaporation_mm("fao") == pytest.approx(w.evaporation_mm("fao"), rel=1e-9, abs=1e-12)


@few
@given(seeds)
def test_a_day_follows_the_same_laws(seed: int) -> None:
    """
    More sun evaporates more; the polar night has no answer; an unknown day neither.

    In the tropics: under a low winter sun a clearer day can lose more by its clearer night than it gains.
    """
    draw = np.random.default_rng(seed)
    low = draw.uniform(-5.0, 25.0, STATES)
    high = low + draw.uniform(0.0, 20.0, STATES)
    vapour = saturation_vapour_pressure_kpa(low) * draw.uniform(0.3, 1.0, STATES)
    wind, day = draw.uniform(0.1, 12.0, STATES), draw.integers(1, 366, STATES).astype(np.float64)
    latitude = draw.uniform(-20.0, 20.0, STATES)
    solar = draw.uniform(0.2, 0.75, STATES) * extraterrestrial_daily_mj(day, latitude)
    ordinary = reference_et_from_weather_daily_mm(high, low, vapour, wind, solar, day, latitude, 200.0)
    sunnier = reference_et_from_weather_daily_mm(high, low, vapour, wind, 1.02 * solar, day, latitude, 200.0)
    assert np.all(sunnier > ordinary)
    assert np.all((ordinary > -1.0) & (ordinary < 20.0))
    dark = reference_et_from_weather_daily_mm(high, low, vapour, wind, 0.0 * solar, np.full(STATES, 172.0), -80.0, 0.0)
    assert np.isnan(dark).all()
    unknown = reference_et_from_weather_daily_mm(high, low, np.nan * vapour, wind, solar, day, latitude, 200.0)
    assert np.isnan(unknown).all()
