"""Wind at a place: from 10 m in the open to 2 m in the garden, gusts and shelter."""

import numpy as np
import pytest

from carewatch.forecast.weather import Array
from carewatch.place.spot import Place, Site
from tests.place.days import corner, hours_of, stay


def _at(surroundings: str, *places: Place, wind_ms: float = 10.0) -> tuple[Array, Array]:
    """Wind and gust of each place, from 10 m/s with gusts of 16 at 10 m."""
    site = Site("a garden", 52.0, 0.0, 40.0, "UTC", surroundings)
    here = stay(hours_of("2026-11-10", days=1, site=site, wind_ms=wind_ms), *places, site=site)
    return here.micro.wind_2m_ms[0, 0], here.micro.gust_2m_ms[0, 0]


def test_open_country_has_seven_tenths_of_its_wind_at_two_metres() -> None:
    """
    FAO-56 eq. 47 gives 0.748 over clipped grass; open country is a little rougher.

    The power law of ASCE 7, exposure C, gives (2/10)^(1/6.5) = 0.78 for the mean.
    """
    wind, _ = _at("open", corner("ground"))
    assert 0.68 <= wind[0] / 10.0 <= 0.78


def test_gusts_lose_less_towards_the_ground_than_the_mean_wind() -> None:
    """ASCE 7, exposure C: 3-second gusts follow (2/10)^(1/9.5) = 0.844 where the mean follows 0.781 (from memory)."""
    wind, gust = _at("open", corner("ground"))
    assert gust[0] / 16.0 == pytest.approx(0.844, abs=0.04)
    assert gust[0] / wind[0] > 1.6


def test_a_bench_in_a_suburb_gets_about_half_of_the_gusts_at_ten_metres() -> None:
    """Common practice: a plant in a sheltered garden feels half of the gust that the forecast names."""
    _, gust = _at("suburban", corner("bench"))
    assert 0.4 <= gust[0] / 16.0 <= 0.55


def test_houses_keep_off_what_their_roughness_does() -> None:
    """
    Log law from 0.03 m to 0.5 m roughness through an equal wind at 60 m: half at 2 m above the displaced ground.

    Wieringa 1986, Q. J. R. Meteorol. Soc. 112:867-889, for the blending height.
    """
    high = np.log(60.0 / 0.03) / np.log(10.0 / 0.03)
    suburb = high * np.log(2.0 / 0.5) / np.log(60.0 / 0.5)
    country, _ = _at("open", corner("ground"))
    garden, _ = _at("suburban", corner("ground"))
    assert garden[0] / country[0] == pytest.approx(suburb / (np.log(2.0 / 0.03) / np.log(10.0 / 0.03)), abs=0.1)


def test_shelter_takes_its_share_of_wind_and_gust() -> None:
    """A place behind a hedge that keeps off two fifths."""
    wind, gust = _at("suburban", corner("ground"), corner("ground", "hedge", shelter=0.4))
    assert wind[1] == pytest.approx(0.6 * wind[0])
    assert gust[1] == pytest.approx(0.6 * gust[0])


def test_the_air_over_a_garden_s_floor_is_stirred_by_the_open_wind() -> None:
    """Walls slow the wind and stir the air: stability goes by the wind over the roofs."""
    site = Site("a garden", 52.0, 0.0, 40.0, "UTC", "sheltered")
    here = stay(hours_of("2026-11-10", days=1, site=site, wind_ms=4.0), corner("wall"), site=site)
    assert here.micro.stirring_ms[0, 0, 0] > 3.0 * here.micro.wind_2m_ms[0, 0, 0]


def test_a_negative_wind_is_unknown() -> None:
    """No number comes out of what no anemometer shows."""
    wind, gust = _at("open", corner("ground"), wind_ms=-1.0)
    assert np.isnan(wind[0])
    assert np.isnan(gust[0])
