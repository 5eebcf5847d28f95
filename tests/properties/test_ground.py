"""What holds for every garden floor and the air above it."""

import numpy as np
from hypothesis import given
from numpy.typing import NDArray

from carewatch.physics import ground
from carewatch.physics.ground import (
    Floor,
    GroundState,
    air_at_height_c,
    exchange_ms,
    floor_of,
    ground_step,
    richardson,
    stability,
)
from carewatch.physics.humidity import saturation_vapour_pressure_kpa
from carewatch.physics.radiation import blackbody_wm2, sky_emissivity_clear, sky_longwave_wm2
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


def _any_hour(seed: int) -> tuple[GroundState, Floor, dict[str, Array]]:
    """States of unfrozen floors in any weather of day or night, (state, floor)."""
    draw = np.random.default_rng(seed)
    shape = (STATES, len(FLOORS))
    air = draw.uniform(-15.0, 40.0, shape)
    soil = draw.uniform(2.0, 35.0, shape)
    deep = soil + draw.uniform(-5.0, 5.0, shape)
    forcing = {
        "air_temp_c": air,
        "vapour_kpa": saturation_vapour_pressure_kpa(air - draw.uniform(0.0, 20.0, shape)),
        "wind_2m_ms": draw.choice([0.0, 0.3, 1.0, 3.0, 12.0], shape) * draw.uniform(0.7, 1.3, shape),
        "sunlight_wm2": np.maximum(draw.uniform(-600.0, 1000.0, shape), 0.0),
        "longwave_wm2": draw.uniform(0.65, 1.0, shape) * blackbody_wm2(air),
        "snow_depth_m": np.where(air < 5.0, np.maximum(draw.uniform(-0.5, 0.3, shape), 0.0), 0.0),
    }
    return GroundState(air + draw.uniform(-8.0, 8.0, shape), soil, deep), floor_of(FLOORS), forcing


@few
@given(seeds)
def test_the_skin_loses_what_it_gains(seed: int) -> None:
    """Sun and sky equal emission, warmth and vapour to the air and the flux into the soil, within 1 W m⁻²."""
    state, floor, forcing = _any_hour(seed)
    after = ground_step(state, floor, **forcing)
    skin, air, wind, snow = after.skin_c, forcing["air_temp_c"], forcing["wind_2m_ms"], forcing["snow_depth_m"]
    albedo = floor.albedo + (0.75 - floor.albedo) * np.minimum(snow / 0.02, 1.0)
    absorbed = (1.0 - albedo) * forcing["sunlight_wm2"] + 0.97 * forcing["longwave_wm2"]
    velocity = exchange_ms(wind, richardson(air, skin, wind))
    excess = saturation_vapour_pressure_kpa(skin) - forcing["vapour_kpa"]
    resistance = 1.0 / velocity + np.where(excess > 0.0, floor.surface_resistance, 0.0)
    to_air = 1230.0 * (velocity * (skin - air) + excess / (0.066 * resistance))
    into_soil = (skin - after.soil_c) / (1.0 / floor.skin_conductance + 0.5 * snow / 0.2)
    thawed = after.soil_c > 0.0
    left_over = absorbed - 0.97 * blackbody_wm2(skin) - to_air - into_soil
    assert thawed.mean() > 0.9
    assert np.max(np.abs(left_over[thawed])) < 1.0


@few
@given(seeds)
def test_the_soil_keeps_what_the_skin_gives_it(seed: int) -> None:
    """Warmed by the flux of the hour, drawn to the deep soil with the day's period (Deardorff 1978, eq. 8)."""
    state, floor, forcing = _any_hour(seed)
    after = ground_step(state, floor, **forcing)
    snow = forcing["snow_depth_m"]
    flux = (after.skin_c - after.soil_c) / (1.0 / floor.skin_conductance + 0.5 * snow / 0.2)
    layer = 2.5e6 * np.sqrt(1.0 / 2.5e6 * 86_400.0)
    gained = 3600.0 * (2.0 * np.sqrt(np.pi) * flux / layer - 2.0 * np.pi / 86_400.0 * (after.soil_c - state.deep_c))
    thawed = after.soil_c > 0.0
    assert np.max(np.abs(after.soil_c - state.soil_c - gained)[thawed]) < 1e-9


@few
@given(seeds)
def test_the_same_hour_gives_the_same_floor_from_whatever_skin_it_starts(seed: int) -> None:
    """The skin holds no heat: a guess 10 K off settles at the same temperature, in calm as in wind."""
    state, floor, forcing = _any_hour(seed)
    other = GroundState(
        state.skin_c + np.random.default_rng(seed).uniform(-10.0, 10.0, state.skin_c.shape), *_rest(state)
    )
    here, there = ground_step(state, floor, **forcing), ground_step(other, floor, **forcing)
    assert np.max(np.abs(here.skin_c - there.skin_c)) < 0.05


def _rest(state: GroundState) -> tuple[Array, Array]:
    return state.soil_c, state.deep_c


@few
@given(seeds)
def test_a_little_more_of_anything_makes_a_little_difference(seed: int) -> None:
    """No jump where stable air turns unstable, dew turns to evaporation, snow covers or light comes."""
    state, floor, forcing = _any_hour(seed)
    before = ground_step(state, floor, **forcing).skin_c
    nudges = {
        "air_temp_c": 1e-3,
        "vapour_kpa": 1e-5,
        "wind_2m_ms": 1e-3,
        "sunlight_wm2": 0.1,
        "longwave_wm2": 0.1,
        "snow_depth_m": 1e-5,
    }
    for name, nudge in nudges.items():
        after = ground_step(state, floor, **{**forcing, name: forcing[name] + nudge}).skin_c
        assert np.max(np.abs(after - before)) < 0.05, name


def test_the_exchange_has_one_slope_on_both_sides_of_neutral() -> None:
    """And the slope that the iteration uses is that of the exchange itself (central differences)."""
    free = floor_of(("grass",)).free
    numbers = np.concatenate([-np.logspace(1, -3, 60), np.logspace(-3, 2, 60)])
    _, slope = stability(numbers, free)
    step = 1e-6 * np.maximum(np.abs(numbers), 1.0)
    above, below = stability(numbers + step, free)[0], stability(numbers - step, free)[0]
    # Near neutral the unstable side bends with the square root of the number.
    assert np.max(np.abs((above - below) / (2.0 * step) - slope)) < 0.05
    at_zero = stability(np.zeros(1), free)
    assert (float(at_zero[0][0]), float(at_zero[1][0])) == (1.0, -15.0)


@few
@given(seeds)
def test_a_wet_floor_stays_cooler_by_day_than_a_dry_one_and_snow_than_either(seed: int) -> None:
    """In sun: watered grass below paving of the same albedo; snow throws three quarters of it back (Oke 1987)."""
    draw = np.random.default_rng(seed)
    air = draw.uniform(5.0, 35.0, (STATES, 2))
    air[:, 1] = air[:, 0]
    wind, sun = draw.uniform(1.0, 6.0, (STATES, 1)), draw.uniform(300.0, 900.0, (STATES, 1))
    floor = floor_of(("grass", "grass"))
    dry = Floor(floor.skin_conductance, floor.albedo, np.array([50.0, 1e5]), neutral=floor.neutral, free=floor.free)
    forcing = (
        air,
        saturation_vapour_pressure_kpa(air - 8.0),
        np.broadcast_to(wind, air.shape),
        np.broadcast_to(sun, air.shape),
        0.8 * blackbody_wm2(air),
    )
    state = GroundState(air, air, air)
    bare = ground_step(state, dry, *forcing, np.zeros(air.shape)).skin_c
    snowy = ground_step(state, dry, *forcing, np.full(air.shape, 0.1)).skin_c
    assert np.all(bare[:, 1] > bare[:, 0])
    assert np.all(snowy <= bare + 1e-6)


@few
@given(seeds)
def test_what_a_place_is_told_does_not_depend_on_its_neighbours(seed: int) -> None:
    """Each place alone, within what the iteration leaves; in reverse order, to the last digit."""
    state, floor, forcing = _any_hour(seed)
    together = ground_step(state, floor, **forcing)
    turned = ground_step(
        GroundState(state.skin_c[:, ::-1], state.soil_c[:, ::-1], state.deep_c[:, ::-1]),
        floor_of(FLOORS[::-1]),
        **{name: values[:, ::-1] for name, values in forcing.items()},
    )
    assert np.array_equal(together.skin_c, turned.skin_c[:, ::-1])
    for place, kind in enumerate(FLOORS):
        at = slice(place, place + 1)
        alone = ground_step(
            GroundState(state.skin_c[:, at], state.soil_c[:, at], state.deep_c[:, at]),
            floor_of((kind,)),
            **{name: values[:, at] for name, values in forcing.items()},
        )
        assert np.max(np.abs(alone.skin_c - together.skin_c[:, at])) < 0.02
        assert np.max(np.abs(alone.soil_c - together.soil_c[:, at])) < 0.01


@few
@given(seeds)
def test_any_unknown_input_makes_the_floor_unknown(seed: int) -> None:
    """One state per input is NaN there and nowhere else."""
    state, floor, forcing = _any_hour(seed)
    whole = ground_step(state, floor, **forcing).skin_c
    for row, name in enumerate(forcing):
        broken = {key: values.copy() for key, values in forcing.items()}
        broken[name][row, 0] = np.nan
        skin = ground_step(state, floor, **broken).skin_c
        assert np.isnan(skin[row, 0]), name
        known = np.ones(skin.shape, dtype=bool)
        known[row, 0] = False
        assert np.max(np.abs(skin[known] - whole[known])) < 0.02, name


def test_a_rougher_surround_brings_a_night_floor_closer_to_the_air() -> None:
    """A meadow of half a metre against a lawn (FAO-56 box 4: 0.123 of the height), 2 m/s, clear."""
    air = np.full((1, 1), 10.0)
    skins = []
    for roughness_m in (ground.ROUGHNESS_M, 0.123 * 0.5):
        skin = ground_step(
            GroundState(air, air, air),
            floor_of(("grass",), roughness_m),
            air,
            saturation_vapour_pressure_kpa(air - 4.0),
            np.full((1, 1), 2.0),
            np.zeros((1, 1)),
            0.75 * blackbody_wm2(air),
            np.zeros((1, 1)),
        ).skin_c
        skins.append(float(skin[0, 0]))
    assert skins[0] < skins[1] < 10.0


@few
@given(seeds)
def test_the_sky_radiates_no_more_than_a_black_body_and_more_with_every_cloud(seed: int) -> None:
    """From polar nights to the tropics; no jump anywhere, the clear sky as it is without cloud."""
    draw = np.random.default_rng(seed)
    air = draw.uniform(-40.0, 45.0, STATES)
    dew = np.minimum(air - draw.uniform(0.0, 40.0, STATES), 36.0)
    cloud = np.linspace(0.0, 1.0, 101)[:, None]
    emissivity = sky_longwave_wm2(air, dew, cloud) / blackbody_wm2(air)
    assert np.all(emissivity > 0.6)
    assert np.all(emissivity < 1.0)
    assert np.all(np.diff(emissivity, axis=0) >= -1e-12)
    assert np.max(np.diff(emissivity, axis=0)) < 0.02
    assert np.max(np.abs(emissivity[0] - sky_emissivity_clear(saturation_vapour_pressure_kpa(dew), air))) < 1e-12
