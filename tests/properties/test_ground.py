"""What holds for every garden floor and the air above it."""

import numpy as np
from hypothesis import given
from numpy.typing import NDArray

from carewatch.physics.ground import GroundState, air_at_height_c, exchange_ms, floor_of, ground_step, richardson
from carewatch.physics.humidity import saturation_vapour_pressure_kpa
from carewatch.physics.radiation import sky_longwave_wm2
from tests.properties.weather_states import STATES, few, seeds

Array = NDArray[np.float64]

FLOORS = ("grass", "soil", "paved")


def night_skin_c(
    air_c: Array, dew_c: Array, wind_ms: Array, cloud: Array, soil_c: Array, hours: int = 10, snow_m: float = 0.0
) -> Array:
    """Skin of every kind of floor after a night of steady weather, (night, floor). [°C]"""
    shape = (air_c.size, len(FLOORS))

    def spread(values: Array) -> Array:
        return np.broadcast_to(values[:, None], shape)

    state = GroundState(spread(air_c), spread(soil_c), spread(soil_c))
    longwave = spread(sky_longwave_wm2(air_c, dew_c, cloud))
    for _ in range(hours):
        state = ground_step(
            state,
            floor_of(FLOORS),
            spread(air_c),
            spread(saturation_vapour_pressure_kpa(dew_c)),
            spread(wind_ms),
            np.zeros(shape),
            longwave,
            np.full(shape, snow_m),
        )
    return state.skin_c


def _nights(seed: int) -> tuple[Array, Array, Array, Array, Array]:
    """Air, dew point, wind, cloud and soil of nights from hard frost to summer."""
    draw = np.random.default_rng(seed)
    air = draw.uniform(-15.0, 20.0, STATES)
    dew = air - draw.uniform(0.5, 10.0, STATES)
    soil = air + draw.uniform(-1.0, 6.0, STATES)
    return air, dew, draw.uniform(0.0, 6.0, STATES), draw.uniform(0.0, 1.0, STATES), soil


@few
@given(seeds)
def test_on_clear_calm_nights_the_grass_is_colder_than_the_air(seed: int) -> None:
    """Grass minimum thermometers nearly always read below the screen (Brugge 2011, Weather)."""
    air, dew, _, _, soil = _nights(seed)
    skin = night_skin_c(air, dew, np.full(STATES, 0.8), np.zeros(STATES), soil)[:, 0]
    assert np.all(skin < air - 1.0)


@few
@given(seeds)
def test_cloud_warms_the_floor_at_night(seed: int) -> None:
    """Any more of it, on any floor, while the sky is open enough to cool it."""
    air, dew, wind, cloud, soil = _nights(seed)
    cloud = 0.6 * cloud
    assert np.all(night_skin_c(air, dew, wind, cloud + 0.2, soil) >= night_skin_c(air, dew, wind, cloud, soil) - 0.02)


@few
@given(seeds)
def test_wind_brings_a_cold_floor_closer_to_the_air(seed: int) -> None:
    """Wind over the inversion brings warmth down; only where a moist floor dries in it can it cool instead."""
    air, dew, wind, cloud, soil = _nights(seed)
    before = night_skin_c(air, dew, wind, cloud, soil)
    after = night_skin_c(air, dew, wind + 2.0, cloud, soil)
    dries = (before > dew[:, None]) & (np.array(FLOORS) != "paved")
    # Soil that freezes through in one weather and not in the other is a matter of its own.
    freezing = (soil < 0.5)[:, None]
    colder = (before < air[:, None] - 0.5) & ~dries & ~freezing
    assert colder.any()
    assert np.all(after[colder] >= before[colder] - 0.02)


@few
@given(seeds)
def test_paving_stays_warmer_than_grass_through_a_night(seed: int) -> None:
    """Paving gives up the warmth of the ground below; a sward insulates it (order of Oke 1987)."""
    air, dew, wind, _, soil = _nights(seed)
    warm = np.maximum(soil, air)
    skin = night_skin_c(air, dew, wind, np.zeros(STATES), warm)
    assert np.all(skin[:, 2] >= skin[:, 0] - 1e-6)
    assert np.all(skin[:, 1] >= skin[:, 0] - 1e-6)


@few
@given(seeds)
def test_air_between_floor_and_two_metres_rises_or_falls_steadily(seed: int) -> None:
    """From near the skin to the forecast's air, never outside the two; higher plants get the 2 m value."""
    air, _, wind, _, _ = _nights(seed)
    skin = air + np.random.default_rng(seed + 1).uniform(-12.0, 15.0, STATES)
    heights = np.array([0.02, 0.05, 0.1, 0.3, 0.8, 1.5, 2.0, 3.0])[:, None]
    course = air_at_height_c(air, skin, wind, heights)
    toward_air = np.diff(course, axis=0) * np.sign(air - skin)
    assert np.all(toward_air >= -1e-9)
    assert np.all(course <= np.maximum(air, skin) + 1e-9)
    assert np.all(course >= np.minimum(air, skin) - 1e-9)
    assert np.max(np.abs(course[-2:] - air)) < 1e-9


@few
@given(seeds)
def test_a_closed_room_has_one_air(seed: int) -> None:
    """Mixed air does not settle."""
    air, _, wind, _, _ = _nights(seed)
    assert np.array_equal(air_at_height_c(air, air - 5.0, wind, np.full(STATES, 0.1), 0.0), air)


@few
@given(seeds)
def test_a_stable_layer_exchanges_less_heat_than_an_unstable_one(seed: int) -> None:
    """At the same wind; without a difference of temperature the two meet."""
    _, _, wind, _, _ = _nights(seed)
    air = np.full(STATES, 10.0)
    stable, neutral, unstable = (
        exchange_ms(wind, richardson(air, air - difference, wind)) for difference in (4.0, 0.0, -4.0)
    )
    assert np.all(stable < neutral)
    assert np.all(neutral < unstable)
    assert np.all(stable > 0.0)


@few
@given(seeds)
def test_an_unknown_hour_of_one_place_leaves_the_others_known(seed: int) -> None:
    """NaN in, NaN out, and only there."""
    air, dew, wind, cloud, soil = _nights(seed)
    whole = night_skin_c(air, dew, wind, cloud, soil, 3)
    air = air.copy()
    air[5] = np.nan
    broken = night_skin_c(air, dew, wind, cloud, soil, 3)
    assert np.isnan(broken[5]).all()
    assert np.array_equal(np.delete(broken, 5, axis=0), np.delete(whole, 5, axis=0))
