"""Light at a place: horizon, cloth, glass, floor, and the sum of a day."""

import numpy as np
import pytest

from carewatch.physics.sun import sun_of_hours, sun_position
from carewatch.place.light import clear_direct_kwh, daily_light_mol, glass_passes, sees_sun, sun_sine
from carewatch.place.spot import Site
from tests.place.days import HOUR, SITE, corner, hours_of, stay

MINUTE = np.timedelta64(60, "s")
# A house from north-east to south-south-east, and a hedge in the west.
HORIZON = ((45.0, 5.0), (80.0, 30.0), (160.0, 38.0), (170.0, 4.0), (250.0, 4.0), (270.0, 12.0), (300.0, 8.0))


@pytest.mark.parametrize("day", ["2026-03-20", "2026-06-21", "2026-10-15"])
def test_the_sun_comes_over_the_roof_at_the_minute(day: str) -> None:
    """Minutes of sun at the place, against the solar position of each minute (NREL's algorithm): within five a day."""
    begins = np.datetime64(day, "s")
    place = corner("ground", horizon=HORIZON)
    hourly = sun_of_hours(begins + np.arange(1, 25) * HOUR, SITE.latitude, SITE.longitude, SITE.elevation_m)
    up = (hourly.course_elevation_deg > 0.0).mean(axis=1)
    ours = float((sees_sun((place,), hourly)[:, 0] * up).sum()) * 60.0
    each = sun_position(begins + np.arange(1440) * MINUTE, SITE.latitude, SITE.longitude, SITE.elevation_m)
    height = np.interp(each.azimuth_deg, [at for at, _ in HORIZON], [high for _, high in HORIZON], period=360.0)
    minutes = float(((each.elevation_deg > 0.0) & (each.elevation_deg > height)).sum())
    assert 200.0 < minutes < 750.0
    assert ours == pytest.approx(minutes, abs=5.0)


def test_behind_the_house_there_is_no_beam_but_the_sky_is_still_bright() -> None:
    """Nothing direct at half past six; diffuse by the share of sky that is seen; in the afternoon the whole beam."""
    hours = hours_of("2026-06-15", days=1)
    here = stay(hours, corner("ground", horizon=HORIZON, sky_view=0.6))
    beam, diffuse = here.micro.beam_wm2[:, 0, 0], here.micro.diffuse_wm2[:, 0, 0]
    assert beam[6] == 0.0
    assert hours.values["direct_normal_wm2"][6, 0] > 300.0
    assert beam[13] == pytest.approx(hours.values["direct_normal_wm2"][13, 0])
    assert diffuse == pytest.approx(0.6 * hours.values["diffuse_wm2"][:, 0])


def test_cloth_takes_its_nominal_share_of_both() -> None:
    """A cloth of 50 % halves beam and diffuse (nominal share, from memory), and hides some of the night sky."""
    here = stay(hours_of("2026-06-15", days=1), corner("ground"), corner("ground", "cloth", shade_cloth=0.5))
    for values in (here.micro.beam_wm2, here.micro.diffuse_wm2):
        assert here.last_day("cloth", values) == pytest.approx(0.5 * here.last_day("ground", values))
    view = here.micro.sky_view[0, 0]
    assert view[1] == pytest.approx(0.7 * view[0])


def test_glass_turns_away_slanting_light() -> None:
    """
    Duffie & Beckman 2013, example 5.1.1: glass of index 1.526 reflects 0.043 of normal light at each face.

    At 60° it reflects 0.185 and 0.001 of the two polarisations: a pane passes 0.843 without absorption, 0.917 at 0°.
    """
    assert float(glass_passes(np.array(0.0))) == pytest.approx(1.0, abs=1e-4)
    assert float(glass_passes(np.array(60.0))) == pytest.approx(0.843 / 0.917, abs=2e-3)
    assert np.all(np.diff(glass_passes(np.linspace(0.0, 89.0, 90))) <= 1e-9)
    assert float(glass_passes(np.array(85.0))) < 0.5


def test_a_frame_keeps_out_more_of_a_winter_noon_than_of_a_summer_noon() -> None:
    """Sun at 15° meets the lid at 75°; its share there falls to about 0.7 of that of steep light (Fresnel)."""
    share = []
    for day in ("2026-12-15", "2026-06-21"):
        hours = hours_of(day, days=1)
        here = stay(hours, corner("cold-frame"))
        share.append(float(here.micro.beam_wm2[11, 0, 0] / hours.values["direct_normal_wm2"][11, 0]))
    assert share[1] == pytest.approx(0.8, abs=0.01)
    assert 0.6 < share[0] / share[1] < 0.8


def test_a_dark_shed_keeps_its_two_hundredths() -> None:
    """What comes in by a window has no roof to slant on."""
    hours = hours_of("2026-12-15", days=1)
    here = stay(hours, corner("shed"))
    beam = here.micro.beam_wm2[:, 0, 0]
    assert beam == pytest.approx(0.02 * hours.values["direct_normal_wm2"][:, 0])


def test_snow_throws_light_up() -> None:
    """Oke 1987, table 1.1: snow reflects three quarters or so, grass a quarter (FAO-56: 0.23)."""
    bare, white = (stay(hours_of("2026-02-10", days=1, snow_m=depth), corner("ground")) for depth in (0.0, 0.1))
    level = white.micro.beam_wm2[11, 0, 0] * 0.39 + white.micro.diffuse_wm2[11, 0, 0]
    assert bare.micro.reflected_wm2[11, 0, 0] / level == pytest.approx(0.23, abs=0.02)
    assert white.micro.reflected_wm2[11, 0, 0] / level == pytest.approx(0.75, abs=0.05)


def test_beam_and_diffuse_make_up_the_whole_on_open_ground() -> None:
    """Through an hour of sunrise as at noon: nothing of the forecast's global radiation is lost."""
    hours = hours_of("2026-03-20", days=2)
    here = stay(hours, corner("ground", sky_view=1.0))
    sun = sun_of_hours(hours.times, SITE.latitude, SITE.longitude, SITE.elevation_m)
    level = here.micro.beam_wm2[:, 0, 0] * sun_sine(sun) + here.micro.diffuse_wm2[:, 0, 0]
    assert level == pytest.approx(hours.values["global_wm2"][:, 0], abs=1e-6)


def test_what_a_clear_day_offers_is_what_its_hours_bring() -> None:
    """The habit's number and the hourly engine agree to the watt-hour on a cloudless day, trees and roofs included."""
    places = (corner("bench"), corner("under-tree"), corner("cold-frame"), corner("wall", horizon=HORIZON))
    hours = hours_of("2026-05-02", days=1)
    here = stay(hours, *places)
    sine = sun_sine(sun_of_hours(hours.times, SITE.latitude, SITE.longitude, SITE.elevation_m))
    brought = (here.micro.beam_wm2[:, 0, : len(places)] * sine[:, None]).sum(axis=0) / 1000.0
    assert clear_direct_kwh(SITE, places, np.datetime64("2026-05-02")) == pytest.approx(brought, rel=1e-9)
    assert brought[0] > 4.0


def test_full_sun_is_two_thousand_micromoles() -> None:
    """1000 W m⁻² of sunshine are about 2000 µmol m⁻² s⁻¹ (McCree 1972; common practice of growers): 7.4 mol an hour."""
    days, light = daily_light_mol(np.full((1, 1), 1000.0), np.array(["2026-06-21"], dtype="datetime64[D]"))
    assert days.size == 1
    assert float(light[0, 0]) == pytest.approx(2000e-6 * 3600.0, rel=0.04)


@pytest.mark.parametrize(
    ("latitude", "day", "least", "most"),
    [(40.0, "2026-06-21", 55.0, 66.0), (45.0, "2026-12-21", 10.0, 20.0), (52.0, "2026-12-21", 5.0, 12.0)],
)
def test_daily_light_of_clear_days_is_that_of_maps(latitude: float, day: str, least: float, most: float) -> None:
    """
    Monthly means outdoors are up to 55-60 mol m⁻² d⁻¹ in the sunniest summers, 5-10 in northern winters.

    Korczynski, Logan & Faust 2002, HortTechnology 12:12-16 (from memory); a clear day lies at or above a mean.
    """
    site = Site("mapped", latitude, 0.0, 100.0, "UTC", "open")
    hours = hours_of(day, days=1, site=site)
    _, light = daily_light_mol(hours.values["global_wm2"], (hours.times - HOUR).astype("datetime64[D]"))
    assert least < float(light[0, 0]) < most


def test_days_are_summed_each_for_itself() -> None:
    """Two days and the begin of a third, over members and places."""
    day = np.repeat(np.array(["2026-06-21", "2026-06-22", "2026-06-23"], dtype="datetime64[D]"), [24, 24, 3])
    light = np.ones((51, 2, 4)) * np.arange(1, 5)
    days, sums = daily_light_mol(light, day)
    assert list(days.astype(str)) == ["2026-06-21", "2026-06-22", "2026-06-23"]
    assert sums.shape == (3, 2, 4)
    assert sums[0] == pytest.approx(sums[1])
    assert sums[2] == pytest.approx(sums[0] / 8.0)
