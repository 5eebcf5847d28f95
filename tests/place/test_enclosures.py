"""Frames, tunnels, sheds and rooms: their air, light, wind, rain and damp, shut and opened."""

from dataclasses import replace

import numpy as np
import pytest

from carewatch.forecast.weather import Array
from carewatch.physics.humidity import saturation_vapour_pressure_kpa
from carewatch.place.enclosure import can_open, enclosure_step, enclosures, striving_c
from carewatch.place.spot import Site
from tests.place.days import KINDS, Stay, corner, hours_of, stay

ALL = tuple(corner(kind) for kind in ("ground", "cold-frame", "tunnel", "shed", "indoors"))
OPEN = ":opened"


@pytest.fixture(scope="module")
def spring() -> Stay:
    """Clear days of mid-April, 2 to 14 °C."""
    return stay(hours_of("2026-04-10", mean_c=8.0, swing_k=6.0, dew_c=1.0), *ALL, season_c=9.0)


@pytest.fixture(scope="module")
def frost() -> Stay:
    """Clear days of January, -9 to -1 °C, after a week of the same."""
    return stay(hours_of("2026-01-05", mean_c=-5.0, swing_k=4.0, dew_c=-9.0), *ALL, season_c=4.0)


@pytest.fixture(scope="module")
def summer() -> Stay:
    """Clear days of July, 15 to 29 °C."""
    return stay(hours_of("2026-07-01", mean_c=22.0, swing_k=7.0, dew_c=12.0), *ALL, season_c=17.0)


def _lift(there: Stay, name: str) -> Array:
    return there.air(name) - there.outside()


def _lowest_lift(there: Stay, name: str) -> float:
    return float(there.air(name).min() - there.outside().min())


def test_a_shut_frame_is_two_to_five_kelvin_milder_at_night(spring: Stay, frost: Stay) -> None:
    """Common practice, for the minimum."""
    for there in (spring, frost):
        assert 2.0 <= _lowest_lift(there, "cold-frame") <= 5.0


def test_a_shut_frame_is_fifteen_to_twenty_five_kelvin_hotter_at_noon(spring: Stay) -> None:
    """Common practice; a gardener's own thermometer of January 2010 showed 14 to 18 K at 42° N in full sun."""
    assert 15.0 <= float(_lift(spring, "cold-frame")[10:15].max()) <= 27.0
    site = Site("a frame", 42.0, 0.0, 40.0, "UTC", "suburban")
    hours = hours_of("2010-01-15", site=site, mean_c=-4.0, swing_k=5.0, dew_c=-8.0)
    january = stay(hours, corner("cold-frame"), site=site, season_c=4.0)
    assert 12.0 <= float(_lift(january, "cold-frame")[10:15].max()) <= 20.0


def test_a_shut_frame_cooks_in_july_and_an_opened_one_does_not(summer: Stay) -> None:
    """Over 45 °C shut (common practice: growers lose trees so); within 3 to 4 K of the air outside when opened."""
    assert summer.air("cold-frame").max() > 45.0
    assert np.abs(_lift(summer, "cold-frame" + OPEN)).max() < 4.0
    assert np.abs(_lift(summer, "tunnel" + OPEN)).max() < 4.0


def test_opening_gives_up_the_night_s_warmth_too(frost: Stay) -> None:
    """Left open at night it protects nothing (common practice)."""
    for name in ("cold-frame", "tunnel", "shed"):
        assert 0.0 <= _lowest_lift(frost, name + OPEN) < 0.6 < _lowest_lift(frost, name)


def test_a_tunnel_protects_little_and_is_the_colder_place_at_sunset(spring: Stay, frost: Stay) -> None:
    """Savage 1980: minima 1.3 K above those outside; colder than outside for one or two hours after sunset."""
    for there in (spring, frost):
        assert 0.7 <= _lowest_lift(there, "tunnel") <= 2.2
        assert _lowest_lift(there, "tunnel") < _lowest_lift(there, "cold-frame")
    assert _lift(frost, "tunnel")[16:20].min() < 0.0


def test_clouds_keep_a_tunnel_from_losing_its_warmth_to_the_sky() -> None:
    """The same frost under a covered sky: more of the soil's warmth stays."""
    clear, covered = (
        stay(hours_of("2026-01-05", mean_c=-3.0, swing_k=1.0, dew_c=-6.0, cloud=cloud), corner("tunnel"), season_c=4.0)
        for cloud in (0.0, 1.0)
    )
    assert _lowest_lift(covered, "tunnel") > _lowest_lift(clear, "tunnel") + 0.5


def test_a_shed_is_three_to_six_kelvin_milder_at_night_and_cooler_by_day(spring: Stay, frost: Stay) -> None:
    """Common practice; its day is flat."""
    for there in (spring, frost):
        assert 3.0 <= _lowest_lift(there, "shed") <= 6.0
        assert np.ptp(there.air("shed")) < 0.5 * np.ptp(there.outside())
    assert spring.air("shed").max() < spring.outside().max()


@pytest.mark.parametrize("damping_h", [2.5, 6.0, 24.0])
def test_an_enclosure_damps_and_delays_the_day_s_wave_as_a_first_order_lag(damping_h: float) -> None:
    """Textbook: amplitude by 1/sqrt(1 + (w t)²), delay atan(w t)/w, of a wave that passes a lag of time constant t."""
    place = replace(KINDS["shed"], id="lag", damping_h=damping_h, ground_share=0.0)
    inside = enclosures((place,))
    hour = np.arange(24 * 30)
    omega = 2.0 * np.pi / 24.0
    outside = np.cos(omega * hour)
    air = np.zeros((1, 1))
    course = np.empty(hour.size)
    none = np.zeros((1, 1))
    for now in hour:
        # A step takes the hour's end for the whole hour: half an hour early, which the delay below gives back.
        air = enclosure_step(inside, air, striving_c(inside, outside[now].reshape(1, 1), none, none), none)
        course[now] = air[0, 0]
    last = course[-24:]
    wave = np.fft.rfft(last)[1] / np.fft.rfft(outside[-24:])[1]
    assert float(np.abs(wave)) == pytest.approx(1.0 / np.hypot(1.0, omega * damping_h), rel=0.05)
    assert float(-np.angle(wave) / omega) == pytest.approx(np.arctan(omega * damping_h) / omega - 0.5, abs=0.1)


def test_a_heater_holds_what_it_promises_and_no_more(frost: Stay) -> None:
    """18 °C indoors all winter; a frame with a frost guard at 2 °C is at 2 °C at night, above it in the sun."""
    assert frost.air("indoors") == pytest.approx(np.full(24, 18.0))
    guarded = stay(
        hours_of("2026-01-05", mean_c=-5.0, swing_k=4.0, dew_c=-9.0),
        corner("cold-frame", heated_to_c=2.0),
        season_c=4.0,
    )
    assert guarded.air("cold-frame").min() == pytest.approx(2.0)
    assert guarded.air("cold-frame").max() > 3.0


def test_a_frame_with_a_frost_guard_can_still_be_opened(spring: Stay) -> None:
    """Its heater does not cool it; a living room's windows are nobody's business."""
    assert can_open(corner("cold-frame"))
    assert can_open(corner("cold-frame", heated_to_c=2.0))
    assert not can_open(corner("indoors"))
    assert not can_open(corner("ground"))
    assert "indoors" + OPEN not in spring.index


def test_a_room_in_summer_lags_behind_the_heat(summer: Stay) -> None:
    """Warmer than its heater's 18 °C, cooler than the afternoon outside."""
    room = summer.air("indoors")
    assert room.min() > 18.0
    assert room.max() < summer.outside().max() - 3.0


def test_shade_over_a_frame_cools_it() -> None:
    """A cloth of half the light takes about half of the excess at noon; a house that hides the sun nearly all of it."""
    hours = hours_of("2026-04-10", mean_c=8.0, swing_k=6.0, dew_c=1.0)
    there = stay(
        hours,
        corner("cold-frame"),
        corner("cold-frame", "cloth", shade_cloth=0.5),
        corner("cold-frame", "house", horizon=((0.0, 80.0), (180.0, 80.0))),
        season_c=9.0,
    )
    noon = {name: float(_lift(there, name)[12]) for name in ("cold-frame", "cloth", "house")}
    assert 0.35 < noon["cloth"] / noon["cold-frame"] < 0.65
    assert noon["house"] < 0.35 * noon["cold-frame"]


def test_no_rain_and_hardly_any_wind_get_in(spring: Stay) -> None:
    """Shut: still air, dry pots. Opened in a gale, a frame's box lets some wind over the pots."""
    for name in ("cold-frame", "tunnel", "shed", "indoors"):
        assert spring.last_day(name, spring.micro.wind_2m_ms).max() == pytest.approx(0.1)
        assert spring.last_day(name, spring.micro.gust_2m_ms).max() == pytest.approx(0.1)
        assert spring.last_day(name, spring.micro.rain_mm).max() == 0.0
    gale = stay(hours_of("2026-04-10", wind_ms=15.0), corner("cold-frame"))
    assert gale.last_day("cold-frame", gale.micro.wind_2m_ms).max() == pytest.approx(0.1)
    assert 0.3 < gale.last_day("cold-frame" + OPEN, gale.micro.wind_2m_ms).max() < 2.0


def _humidity(there: Stay, name: str) -> Array:
    vapour = there.last_day(name, there.micro.vapour_kpa)
    return vapour / saturation_vapour_pressure_kpa(there.air(name))


def test_a_shut_frame_drips_at_night_and_is_not_a_desert_at_noon(spring: Stay) -> None:
    """Common practice: its glass is wet in the morning; the moist soil keeps up with some of the heat."""
    assert _humidity(spring, "cold-frame").max() > 0.95
    alone = spring.outside("dew_point_c")
    at = int(spring.air("cold-frame").argmax())
    without_soil = float(saturation_vapour_pressure_kpa(alone[at : at + 1])[0])
    assert spring.last_day("cold-frame", spring.micro.vapour_kpa)[at] > 1.5 * without_soil
    assert 0.25 < float(_humidity(spring, "cold-frame")[at]) < 0.6


def test_opening_dries_a_frame(spring: Stay) -> None:
    """Vapour leaves with the air: near to that outside."""
    shut, aired = (spring.last_day(name, spring.micro.vapour_kpa) for name in ("cold-frame", "cold-frame" + OPEN))
    outside = saturation_vapour_pressure_kpa(spring.outside("dew_point_c"))
    assert np.abs(aired - outside).mean() < 0.25 * np.abs(shut - outside).mean()


def test_a_heated_room_is_dry_in_frost(frost: Stay) -> None:
    """Common practice: 20 to 40 % at 18 to 20 °C when it freezes outside."""
    assert np.all((_humidity(frost, "indoors") > 0.2) & (_humidity(frost, "indoors") < 0.4))


def test_no_air_holds_more_vapour_than_it_can(spring: Stay, frost: Stay, summer: Stay) -> None:
    """In every place, at every hour."""
    for there in (spring, frost, summer):
        most = saturation_vapour_pressure_kpa(there.micro.air_2m_c)
        assert np.all(there.micro.vapour_kpa <= most * (1.0 + 1e-9))


def test_outside_places_do_not_feel_that_there_is_a_frame(spring: Stay) -> None:
    """The lawn of a garden with enclosures is that of one without, as near as the floor's iteration ends (0.01 K)."""
    alone = stay(spring.hours, corner("ground"), season_c=9.0)
    for name in ("air_2m_c", "skin_c", "soil_c", "vapour_kpa", "wind_2m_ms"):
        assert alone.last_day("ground", getattr(alone.micro, name)) == pytest.approx(
            spring.last_day("ground", getattr(spring.micro, name)), abs=0.02
        )
