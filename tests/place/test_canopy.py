"""Trees above a place: in leaf and bare with the season, and what light comes through them."""

from datetime import date

import numpy as np
import pytest

from carewatch.forecast.weather import Array
from carewatch.physics.sun import sun_of_hours
from carewatch.place.light import between_seasons, canopy_leaf, crown_path, passing
from carewatch.place.spot import Site
from tests.place.days import HOUR, corner, hours_of, stay

POTSDAM, HOBART = 52.4, -42.9


def _on(day: str, latitude: float = 50.0, elevation_m: float = 50.0) -> float:
    times = np.array([np.datetime64(f"{day}T12:00:00", "s")])
    return float(canopy_leaf(times, latitude, elevation_m)[0])


def test_trees_are_bare_in_winter_and_full_in_summer() -> None:
    """Any grower at 52° N."""
    assert [_on(day, POTSDAM) for day in ("2026-01-15", "2026-03-15", "2026-12-15")] == [0.0, 0.0, 0.0]
    assert [_on(day, POTSDAM) for day in ("2026-06-01", "2026-07-15", "2026-09-15")] == [1.0, 1.0, 1.0]


def test_the_season_of_leaves_lasts_as_long_as_in_the_phenological_gardens() -> None:
    """Chmielewski & Rötzer 2001: first leaves on 24 April, leaf fall on 28 October, 188 days, in Europe's mean."""
    year = np.datetime64("2026-01-01T00:00:00", "s") + np.arange(365 * 24) * HOUR
    leaf = canopy_leaf(year, 50.0, 50.0)
    some = year[leaf > 0.2]
    assert abs(some[0] - np.datetime64("2026-04-24")) < np.timedelta64(7, "D")
    half = year[leaf > 0.5]
    assert abs(half[-1] - np.datetime64("2026-10-28")) < np.timedelta64(4, "D")
    assert (half[-1] - half[0]) / np.timedelta64(1, "D") == pytest.approx(188.0, abs=10.0)


@pytest.mark.parametrize(("elevation_m", "day"), [(100.0, date(2026, 5, 2)), (1100.0, date(2026, 5, 24))])
def test_spring_climbs_the_mountains_as_beech_does(elevation_m: float, day: date) -> None:
    """Dittmar & Elling 2006: beech in Bavaria (48-50° N) unfolds between 2 and 24 May, two days later per 100 m."""
    assert 0.3 < _on(day.isoformat(), 49.0, elevation_m) < 0.9


def test_leaves_come_and_go_over_weeks() -> None:
    """No day takes more than a twentieth of them (common practice: four weeks to come, five to fall)."""
    year = np.datetime64("2026-01-01T00:00:00", "s") + np.arange(365 * 24) * HOUR
    leaf = canopy_leaf(year, POTSDAM, 50.0)
    assert np.abs(np.diff(leaf)).max() * 24.0 < 0.05


def test_the_south_is_in_leaf_at_christmas() -> None:
    """Hobart: bare in July, full from November to March."""
    assert [_on(day, HOBART) for day in ("2026-07-15", "2026-12-25", "2026-03-01")] == [0.0, 1.0, 1.0]
    assert 0.0 < _on("2026-10-25", HOBART) < 1.0


def test_a_run_across_leaf_fall_follows_it_day_by_day() -> None:
    """Three weeks from mid-October: more sun comes through at their end than at their begin."""
    hours = hours_of("2026-10-12", days=21)
    here = stay(hours, corner("under-tree"))
    share = here.micro.beam_wm2[:, 0, 0] / np.maximum(hours.values["direct_normal_wm2"][:, 0], 1.0)
    noons = share[np.arange(21) * 24 + 11]
    assert np.all(np.diff(noons) > 0.0)
    assert noons[-1] > 1.5 * noons[0]


def test_light_falls_with_leaf_area_as_in_a_textbook() -> None:
    """Campbell & Norman 1998, ch. 15: exp(-0.5 LAI) is 0.607, 0.223 and 0.082 at 1, 3 and 5."""
    passes = between_seasons(np.array([1.0]), np.array([0.0821]), np.array([1.0, 3.0, 5.0]) / 5.0)
    assert passes[:, 0] == pytest.approx([0.607, 0.223, 0.082], abs=1e-3)


def _passing(day: str, site: Site) -> Array:
    times = np.datetime64(day, "s") + np.arange(1, 25) * HOUR
    sun = sun_of_hours(times, site.latitude, site.longitude, site.elevation_m)
    leaf = canopy_leaf(times, site.latitude, site.elevation_m)
    return passing((corner("under-tree"),), sun, leaf).beam[11:13, 0]


def test_single_trees_pass_what_was_measured_under_them() -> None:
    """Konarska et al. 2014, Gothenburg: leafless 40-52 % of direct sun, in leaf 1-5 %; gaps between crowns added."""
    gothenburg = Site("measured", 57.7, 0.0, 20.0, "UTC", "suburban")
    bare, leafy = _passing("2026-02-20", gothenburg), _passing("2026-07-10", gothenburg)
    assert np.all((bare >= 0.40) & (bare <= 0.52))
    assert np.all((leafy >= 0.01) & (leafy <= 0.15))


def test_low_sun_has_farther_to_go_through_a_crown_but_not_as_far_as_through_a_layer() -> None:
    """An endless layer would make the way 1/sin(elevation); a crown's is at most its width over its depth."""
    low, high = crown_path(np.array([10.0, 60.0]))
    assert low > 1.0 > high
    assert low / high < 1.5 < np.sin(np.radians(60.0)) / np.sin(np.radians(10.0))


def test_a_bare_tree_opens_the_sky() -> None:
    """More diffuse light, and more sky to lose heat to on a clear night, in March than in June."""
    tree = corner("under-tree")
    march, june = (stay(hours_of(begins), tree) for begins in ("2026-03-05", "2026-06-05"))
    for there, view in ((march, 0.5), (june, 0.3)):
        assert there.last_day("under-tree", there.micro.sky_view) == pytest.approx(np.full(24, view))
    below_screen = [
        float((there.outside() - there.last_day("under-tree", there.micro.skin_c)).max()) for there in (march, june)
    ]
    assert below_screen[0] > below_screen[1]


def test_an_evergreen_hides_as_much_in_winter() -> None:
    """A place whose shade does not fall with the leaves is the same all year."""
    shade = corner("shade")
    winter, summer = (stay(hours_of(begins), shade).micro.sky_view for begins in ("2026-01-05", "2026-07-05"))
    assert winter[0, 0, 0] == summer[0, 0, 0] == shade.sky_view
