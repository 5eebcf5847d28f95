"""The garden floor on one night after another, against what thermometers near the ground have read."""

import numpy as np
import pytest
from numpy.typing import NDArray

from carewatch.physics.ground import GroundState, air_at_height_c, floor_of, ground_step
from carewatch.physics.humidity import saturation_vapour_pressure_kpa
from carewatch.physics.radiation import sky_longwave_wm2

Array = NDArray[np.float64]

ONE = np.ones((1, 1))


def _floor_night(
    air_c: Array, dew_c: Array, wind_ms: float, cloud: float, soil_c: float, kind: str = "grass", snow_m: float = 0.0
) -> Array:
    """Skin hour by hour through a night without sun. [°C]"""
    state = GroundState(air_c[0] * ONE, soil_c * ONE, soil_c * ONE)
    skin = []
    for air, dew in zip(air_c, dew_c, strict=True):
        state = ground_step(
            state,
            floor_of((kind,)),
            air * ONE,
            saturation_vapour_pressure_kpa(dew * ONE),
            wind_ms * ONE,
            0.0 * ONE,
            sky_longwave_wm2(air * ONE, dew * ONE, cloud * ONE),
            snow_m * ONE,
        )
        skin.append(state.skin_c[0, 0])
    return np.array(skin)


def _radiation_night() -> tuple[Array, Array]:
    """Air that falls from 9 to -0.5 °C with the square root of time, dew point 2 K below but never above 1 °C."""
    air = 9.0 - 9.5 * np.sqrt(np.arange(13.0) / 12.0)
    return air, np.minimum(air - 1.0, 1.0)


@pytest.mark.parametrize("wind_ms", [0.5, 0.8, 1.2])
def test_grass_minimum_of_a_clear_calm_night_lies_as_far_below_the_screen_as_measured(wind_ms: float) -> None:
    """
    At blade height three to five kelvin, a little more where nothing moves.

    At 10 cm 3.3 to 4.8 K below 1.5 m on the clear, calm nights of January to June 2000 at De Bilt (KNMI hourly data,
    station 260, T10N); "3 to 5 °C" is also common practice.
    """
    air, dew = _radiation_night()
    skin = _floor_night(air, dew, wind_ms, 0.0, 7.0)
    wind = np.full(air.size, wind_ms)
    near = air_at_height_c(air, skin, wind, np.full(air.size, 0.10))
    assert 3.0 <= air.min() - near.min() <= 6.0


def test_under_cloud_or_in_wind_the_grass_is_hardly_colder_than_the_screen() -> None:
    """0 to 1 K under an overcast sky or in more than 4 m/s (common practice)."""
    air, dew = _radiation_night()
    for wind_ms, cloud in ((0.8, 1.0), (5.0, 0.5)):
        skin = _floor_night(air, dew, wind_ms, cloud, 7.0)
        near = air_at_height_c(air, skin, np.full(air.size, wind_ms), np.full(air.size, 0.10))
        assert -1.5 <= air.min() - near.min() <= 1.0


def test_snow_keeps_the_soil_warm_and_makes_the_air_above_it_colder() -> None:
    """Snow on pots is protection (common practice); above it grass minima are the lowest of all (Brugge 2011)."""
    air, dew = np.full(12, -5.0), np.full(12, -7.0)
    bare = _floor_night(air, dew, 1.0, 0.0, 1.0)
    snowy = _floor_night(air, dew, 1.0, 0.0, 1.0, snow_m=0.1)
    assert snowy[-1] < bare[-1] - 1.0
    soils = []
    for snow_m in (0.0, 0.2):
        state = GroundState(-5.0 * ONE, 2.0 * ONE, 2.0 * ONE)
        for _ in range(48):
            state = ground_step(
                state,
                floor_of(("soil",)),
                -8.0 * ONE,
                saturation_vapour_pressure_kpa(-10.0 * ONE),
                1.0 * ONE,
                0.0 * ONE,
                sky_longwave_wm2(-8.0 * ONE, -10.0 * ONE, 0.2 * ONE),
                snow_m * ONE,
            )
        soils.append(float(state.soil_c[0, 0]))
    assert soils[1] > soils[0] + 1.0


def test_paving_burns_at_noon_while_watered_grass_stays_near_the_air() -> None:
    """Dry paving passes the air by more than 10 K in sun; watered grass by less than half of that (Oke 1987, order)."""
    rises = {}
    for kind in ("grass", "paved"):
        state = GroundState(24.0 * ONE, 22.0 * ONE, 20.0 * ONE)
        for sun in (200.0, 400.0, 600.0, 750.0, 850.0, 850.0):
            state = ground_step(
                state,
                floor_of((kind,)),
                28.0 * ONE,
                saturation_vapour_pressure_kpa(14.0 * ONE),
                2.0 * ONE,
                sun * ONE,
                sky_longwave_wm2(28.0 * ONE, 14.0 * ONE, 0.0 * ONE),
                0.0 * ONE,
            )
        rises[kind] = float(state.skin_c[0, 0]) - 28.0
    assert rises["paved"] > 10.0
    assert rises["grass"] < 0.5 * rises["paved"]
    assert rises["grass"] > 0.0
