"""January and July of places that are not in the table, and of every place in it by its neighbours."""

from math import sqrt

import numpy as np
import pytest

from carewatch.forecast.normals import STATIONS, latitude_normals_c, normals_c

TROPICS = 25.0


@pytest.mark.parametrize(
    ("city", "latitude", "longitude", "elevation_m", "january_c", "july_c"),
    [
        ("Jinan", 36.7, 117.0, 170.0, -1.1, 26.2),
        ("Zhengzhou", 34.7, 113.6, 110.0, 0.2, 27.2),
        ("Nanjing", 32.0, 118.8, 7.0, 1.9, 28.5),
        ("Hangzhou", 30.2, 120.2, 40.0, 4.2, 29.8),
        ("Hefei", 31.9, 117.2, 30.0, 1.8, 29.0),
        ("Nanchang", 28.6, 115.9, 47.0, 4.3, 29.9),
        ("Changsha", 28.2, 112.9, 68.0, 3.7, 30.0),
        ("Taiyuan", 37.8, 112.6, 778.0, -5.3, 25.0),
        ("Hohhot", 40.8, 111.7, 1065.0, -11.2, 23.7),
        ("Changchun", 43.9, 125.2, 237.0, -14.3, 22.9),
    ],
)
def test_cities_between_the_stations(
    city: str, latitude: float, longitude: float, elevation_m: float, january_c: float, july_c: float
) -> None:
    """
    None of them is in the table.

    China Statistical Yearbook 2009 and 2010, monthly average temperature of major cities:
    means of 2008, which had the hardest January in decades, and 2009; to 4 K for two single years.
    """
    assert normals_c(latitude, longitude, elevation_m) == pytest.approx((january_c, july_c), abs=4.0), city


@pytest.mark.parametrize(
    ("airport", "latitude", "longitude", "elevation_m", "january_c", "july_c"),
    [
        ("Heathrow", 51.5, -0.5, 25.0, 4.9, 18.4),
        ("Kennedy", 40.6, -73.8, 4.0, -0.4, 24.1),
        ("Los Angeles", 33.9, -118.4, 38.0, 13.7, 20.6),
        ("Fiumicino", 41.8, 12.2, 5.0, 7.2, 24.4),
        ("Kingsford Smith", -33.9, 151.2, 6.0, 22.1, 11.8),
    ],
)
def test_airports_by_a_published_table(
    airport: str, latitude: float, longitude: float, elevation_m: float, january_c: float, july_c: float
) -> None:
    """Averages of all 24 hours, in a data file of Linköping University's course TDP007; to 2 K."""
    assert normals_c(latitude, longitude, elevation_m) == pytest.approx((january_c, july_c), abs=2.0), airport


def test_each_station_told_from_the_others_is_missed_by_what_is_said() -> None:
    """Outside of the tropics 2.6 and 2.3 K, where the latitude alone misses by 6.5 and 4.5 K."""
    missed, alone = [], []
    for left_out in STATIONS:
        latitude, longitude, elevation_m, *usual = left_out
        if abs(latitude) < TROPICS:
            continue
        others = tuple(other for other in STATIONS if other != left_out)
        missed.append(np.subtract(normals_c(latitude, longitude, elevation_m, others), usual))
        alone.append(np.subtract(latitude_normals_c(latitude, elevation_m), usual))
    assert np.sqrt(np.square(missed).mean(axis=0)) == pytest.approx([2.6, 2.3], abs=0.1)
    assert np.sqrt(np.square(alone).mean(axis=0)) == pytest.approx([6.5, 4.5], abs=0.3)
    assert abs(np.corrcoef(np.transpose(missed))[0, 1]) < 2.0 / sqrt(len(missed)), "January would tell of July"


def test_far_from_every_station_the_latitude_tells() -> None:
    """In the middle of the southern ocean."""
    assert normals_c(-48.0, 90.0, 0.0) == pytest.approx(latitude_normals_c(-48.0, 0.0), abs=1.0)


def test_higher_is_colder() -> None:
    """6.5 K per kilometre."""
    low, high = normals_c(47.0, 11.0, 500.0), normals_c(47.0, 11.0, 1500.0)
    assert np.subtract(low, high) == pytest.approx([6.5, 6.5])
