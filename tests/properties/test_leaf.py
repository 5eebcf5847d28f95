"""What holds for the temperature of every leaf and bud, whatever the weather."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from numpy.typing import NDArray

from carewatch.exposure.tissue import limited_c
from carewatch.physics.humidity import saturation_vapour_pressure_kpa
from carewatch.physics.leaf import organ_temperature_c
from carewatch.physics.radiation import blackbody_wm2, sky_longwave_wm2
from tests.properties.weather_states import STATES, AirAndOrgan, air_and_organ, few, seeds

Array = NDArray[np.float64]


def _temperature(states: AirAndOrgan) -> tuple[Array, Array]:
    return organ_temperature_c(
        states.air_c,
        states.vapour_kpa,
        states.wind_ms,
        states.absorbed_wm2,
        states.pressure_kpa,
        states.dimension_m,
        states.stomatal_mol,
    )


@few
@given(seeds)
def test_what_a_leaf_takes_up_it_gives_off(seed: int) -> None:
    """
    Radiation, convection and vapour balance to half a watt per square metre.

    The terms are written anew: Campbell & Norman 1998, eq. 7.30 and table 7.6 with the outdoor factor 1.4 for forced
    convection, joined with the free one by the exponent 4 (Churchill & Usagi 1972); 29.3 J mol⁻¹ K⁻¹ for air,
    44.3 kJ mol⁻¹ for vapour and 6.01 more for rime.
    """
    states = air_and_organ(seed)
    leaf, vapour_mol = _temperature(states)
    forced = 1.4 * 0.135 * np.sqrt(np.maximum(states.wind_ms, 0.05) / states.dimension_m)
    free = 0.04 * (np.abs(leaf - states.air_c) / states.dimension_m) ** 0.25
    sensible = 29.3 * 2.0 * (forced**4 + free**4) ** 0.25 * (leaf - states.air_c)
    latent = (44_300.0 + 6_010.0 * np.clip(-leaf, 0.0, 1.0)) * vapour_mol
    radiated = 2.0 * 0.97 * 5.670374419e-8 * (leaf + 273.15) ** 4
    assert np.max(np.abs(states.absorbed_wm2 - radiated - sensible - latent)) < 0.5


@few
@given(seeds)
def test_vapour_goes_from_the_wet_to_the_dry(seed: int) -> None:
    """Dew settles exactly where the organ is colder than the dew point, even on a bud that gives off nothing."""
    states = air_and_organ(seed)
    leaf, vapour_mol = _temperature(states)
    excess = saturation_vapour_pressure_kpa(leaf) - states.vapour_kpa
    assert np.all(np.where(states.stomatal_mol > 0.0, np.sign(vapour_mol), np.sign(excess)) == np.sign(excess))
    assert np.all(vapour_mol[(states.stomatal_mol == 0.0) & (excess > 0.0)] == 0.0)
    assert np.all(vapour_mol[excess < 0.0] < 0.0)


@few
@given(seeds)
def test_an_unknown_hour_gives_an_unknown_temperature(seed: int) -> None:
    """NaN in any input gives NaN for that state and changes no other."""
    states = air_and_organ(seed)
    leaf, vapour_mol = _temperature(states)
    hole = np.random.default_rng(seed).integers(0, STATES)
    for name in ("air_c", "dew_c", "wind_ms", "absorbed_wm2", "pressure_kpa", "dimension_m", "stomatal_mol"):
        values = getattr(states, name).copy()
        values[hole] = np.nan
        broken_leaf, broken_mol = _temperature(replace(states, **{name: values}))
        others = np.arange(STATES) != hole
        if not (name == "stomatal_mol" and vapour_mol[hole] < 0.0):
            assert np.isnan(broken_leaf[hole]), name
            assert np.isnan(broken_mol[hole]), name
        assert np.array_equal(broken_leaf[others], leaf[others]), name


@few
@given(seeds)
def test_more_wind_brings_a_night_leaf_closer_to_the_air(seed: int) -> None:
    """With closed stomata wind only exchanges heat, and dew brings heat as well."""
    states = replace(air_and_organ(seed, night=True), stomatal_mol=np.zeros(STATES))
    calm, _ = _temperature(states)
    windy, _ = _temperature(replace(states, wind_ms=2.0 * states.wind_ms + 0.2))
    assert np.all(np.abs(windy - states.air_c) <= np.abs(calm - states.air_c) + 0.02)


@few
@given(seeds)
def test_more_cloud_warms_a_night_leaf(seed: int) -> None:
    """A covered sky radiates more than a clear one; the leaf feels every tenth of it."""
    states = air_and_organ(seed, night=True)
    floor = blackbody_wm2(states.air_c - 2.0)
    last = np.full(STATES, -np.inf)
    for cloud in np.linspace(0.0, 1.0, 6):
        down = sky_longwave_wm2(states.air_c, states.dew_c, np.full(STATES, cloud))
        leaf, _ = _temperature(replace(states, absorbed_wm2=0.97 * (down + floor)))
        assert np.all(leaf >= last - 1e-6)
        last = leaf


@few
@given(seeds)
def test_more_light_warms_and_wider_stomata_cool_a_dry_leaf(seed: int) -> None:
    """Both only ever act in one direction, to the accuracy of the balance."""
    states = air_and_organ(seed)
    leaf, _ = _temperature(states)
    lighter, _ = _temperature(replace(states, absorbed_wm2=states.absorbed_wm2 + 50.0))
    wider, _ = _temperature(replace(states, stomatal_mol=states.stomatal_mol + 0.1))
    assert np.all(lighter > leaf)
    assert np.all(wider <= leaf + 0.02)


@few
@given(seeds)
def test_there_is_no_jump_at_zero(seed: int) -> None:
    """Two hundredths of a kelvin of air move the leaf by no more than five, through freezing as well."""
    every = air_and_organ(seed, night=True)
    states = AirAndOrgan(**{name: values[:40] for name, values in vars(every).items()})
    course = np.linspace(-4.0, 4.0, 401)[:, None]
    cold = states.dew_c - states.air_c
    air = course + np.zeros(40)
    radiation = 1.94 * blackbody_wm2(air - 6.0)
    leaf, vapour_mol = organ_temperature_c(
        air,
        saturation_vapour_pressure_kpa(air + cold),
        states.wind_ms,
        radiation,
        states.pressure_kpa,
        states.dimension_m,
        states.stomatal_mol,
    )
    step = np.diff(leaf, axis=0)
    assert np.max(np.abs(step)) < 0.05
    assert np.min(step) > 0.0
    assert np.max(np.abs(np.diff(vapour_mol, axis=0))) < 2e-4


@few
@given(seeds)
def test_more_water_from_the_roots_cools_a_leaf(seed: int) -> None:
    """Between closed and supplied stomata the temperature falls with every bit of water, and stays between the two."""
    states = air_and_organ(seed)
    wide = replace(states, stomatal_mol=states.stomatal_mol + 0.1)
    supplied, demand = _temperature(wide)
    closed, least = _temperature(replace(states, stomatal_mol=np.full(STATES, 0.005)))
    last = np.full(STATES, np.inf)
    for share in np.linspace(0.0, 1.0, 6):
        leaf = limited_c(supplied, closed, demand, least, least + share * (demand - least))
        assert np.all(leaf <= last + 1e-9)
        assert np.all(leaf <= np.maximum(supplied, closed) + 1e-9)
        assert np.all(leaf >= np.minimum(supplied, closed) - 1e-9)
        last = leaf
    assert last == pytest.approx(supplied)


def test_the_limited_leaf_agrees_with_a_balance_solved_for_its_water() -> None:
    """The straight line between the two states lies within 0.3 K of the balance at the rate that roots allow."""
    air, dew, wind = np.full(40, 30.0), np.full(40, 12.0), np.linspace(0.3, 4.0, 40)
    vapour = saturation_vapour_pressure_kpa(dew)
    absorbed = 0.5 * 900.0 + 0.97 * (sky_longwave_wm2(air, dew, np.zeros(40)) + blackbody_wm2(air + 5.0))

    def leaf(stomatal_mol: float) -> tuple[Array, Array]:
        return organ_temperature_c(
            air, vapour, wind, absorbed, np.full(40, 101.3), np.full(40, 0.02), np.full(40, stomatal_mol)
        )

    supplied, demand = leaf(0.2)
    closed, least = leaf(0.005)
    for stomatal_mol in (0.02, 0.05, 0.1):
        exact, rate = leaf(stomatal_mol)
        assert np.max(np.abs(limited_c(supplied, closed, demand, least, rate) - exact)) < 0.3
