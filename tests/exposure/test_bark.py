"""Sunlit bark: against a disc solved numerically, and against what was measured on the stems of young cherries."""

from dataclasses import fields

import numpy as np
import pytest

from carewatch.exposure.bark import (
    ABSORPTIVITY,
    EMISSIVITY,
    WOOD_CONDUCTIVITY,
    bared,
    bark_c,
    convection_wm2k,
)
from carewatch.exposure.columns import NEUTRAL, Columns, Traits
from carewatch.exposure.surroundings import Surroundings
from carewatch.physics.radiation import blackbody_wm2


def _traits(stem_m: float = 0.03, leaf_area: float = 0.0, exposure: float = 1.0) -> Traits:
    row = {field.name: 0.0 for field in fields(Traits)}
    row |= {"stem_m": stem_m, "leaf_area": leaf_area, "bark_exposure": exposure}
    return Traits(**{name: np.array([value]) for name, value in row.items()})


def _around(**values: float) -> Surroundings:
    """One hour of clear noon, unless said otherwise."""
    row = {field.name: 0.0 for field in fields(Surroundings)} | {
        "crown_air_c": 25.0,
        "wind_ms": 1.0,
        "beam_wm2": 800.0,
        "sun_sine": np.sin(np.radians(45.0)),
        "diffuse_wm2": 100.0,
        "reflected_wm2": 120.0,
        "longwave_down_wm2": 330.0,
        "longwave_up_wm2": 480.0,
    }
    return Surroundings(**{name: np.full((1, 1, 1), value) for name, value in (row | values).items()})


def _face_c(traits: Traits, around: Surroundings, bark_sun: float = 1.0) -> float:
    values = {name: np.full((1, 1), neutral) for name, neutral in (NEUTRAL | {"bark_sun": bark_sun}).items()}
    columns = Columns(tree=np.zeros(1, dtype=np.int64), place=np.zeros((1, 1), dtype=np.int64), **values)
    return float(bark_c(around, columns, traits, bared(traits))[0, 0, 0])


def _disc_face_k(stem_m: float, conductance: float, facing: float) -> float:
    """
    Excess over the air on the facing line of a disc, heated by a half cosine, by finite differences in polar cells.

    Cells of equal radius and angle; conduction between neighbours, Robin boundary outside; solved as one linear system.
    """
    rings, sectors = 12, 48
    step, turn = stem_m / 2.0 / rings, 2.0 * np.pi / sectors
    size = rings * sectors
    matrix, source = np.zeros((size, size)), np.zeros(size)
    for ring in range(rings):
        for sector in range(sectors):
            here = ring * sectors + sector
            links = [
                (ring * sectors + (sector + side) % sectors, WOOD_CONDUCTIVITY * step / ((ring + 0.5) * step * turn))
                for side in (-1, 1)
            ]
            if ring > 0:
                links.append(((ring - 1) * sectors + sector, WOOD_CONDUCTIVITY * ring * turn))
            if ring < rings - 1:
                links.append(((ring + 1) * sectors + sector, WOOD_CONDUCTIVITY * (ring + 1) * turn))
            for there, conducts in links:
                matrix[here, here] += conducts
                matrix[here, there] -= conducts
            if ring == rings - 1:
                outside = rings * step * turn
                through = 1.0 / (1.0 / conductance + step / 2.0 / WOOD_CONDUCTIVITY)
                light = facing * max(np.cos(sector * turn), 0.0)
                # Light falls on the surface: what of it enters is what the film does not carry off at once.
                matrix[here, here] += through * outside
                source[here] += light * outside * through / conductance
    inside = np.linalg.solve(matrix, source)[(rings - 1) * sectors]
    through = WOOD_CONDUCTIVITY / (step / 2.0)
    return float((facing + through * inside) / (conductance + through))


@pytest.mark.parametrize("stem_m", [0.015, 0.04, 0.08])
def test_a_stem_evens_out_what_its_size_lets_it(stem_m: float) -> None:
    """Waves round the stem against two-dimensional conduction, solved cell by cell: within 4 %."""
    sun, dark = _around(diffuse_wm2=0.0, reflected_wm2=0.0), _around(beam_wm2=0.0, diffuse_wm2=0.0, reflected_wm2=0.0)
    traits = _traits(stem_m)
    warmer = _face_c(traits, sun) - _face_c(traits, dark)
    air = np.array(25.0)
    conductance = float(convection_wm2k(np.array(1.0), np.array(stem_m)))
    conductance += 4.0 * EMISSIVITY * float(blackbody_wm2(air)) / 298.15
    facing = ABSORPTIVITY * 800.0 * np.cos(np.radians(45.0))
    assert warmer == pytest.approx(_disc_face_k(stem_m, conductance, facing), rel=0.04)


def test_bark_gets_as_hot_in_summer_as_on_measured_stems() -> None:
    """Sheppard et al. 2016: the south-western face of young cherries reached nearly 50 °C."""
    hot = _around(crown_air_c=31.0, longwave_down_wm2=370.0, longwave_up_wm2=520.0, wind_ms=1.5)
    assert 43.0 < _face_c(_traits(0.08), hot) < 54.0


def test_bark_swings_through_a_clear_day_in_spring_as_on_measured_stems() -> None:
    """Sheppard et al. 2016: 38 K at most within 24 hours in spring."""
    night = _around(
        crown_air_c=-4.0,
        beam_wm2=0.0,
        diffuse_wm2=0.0,
        reflected_wm2=0.0,
        wind_ms=0.5,
        longwave_down_wm2=215.0,
        longwave_up_wm2=285.0,
    )
    noon = _around(crown_air_c=12.0, wind_ms=1.5, sun_sine=np.sin(np.radians(38.0)), longwave_down_wm2=250.0)
    swing = _face_c(_traits(0.08), noon) - _face_c(_traits(0.08), night)
    assert 28.0 < swing < 46.0


def test_shade_of_the_crown_a_sleeve_and_wind_keep_bark_cool() -> None:
    """Each by itself; white paint lowered the temperature (Sheppard et al. 2016)."""
    bare = _face_c(_traits(), _around())
    assert _face_c(_traits(leaf_area=1.0), _around()) < bare - 5.0
    assert _face_c(_traits(), _around(), bark_sun=0.1) < bare - 8.0
    assert _face_c(_traits(), _around(wind_ms=4.0)) < bare - 3.0


def test_the_less_crown_is_left_the_hotter_the_bark() -> None:
    """More removed is never safer."""
    faces = [_face_c(_traits(leaf_area=left), _around()) for left in (1.0, 0.7, 0.4, 0.1, 0.0)]
    assert faces == sorted(faces)


def test_at_night_bark_is_a_little_colder_than_the_air_under_a_clear_sky() -> None:
    """It sees half a sky; a stem in the wind is nearly at air temperature."""
    dark = {"beam_wm2": 0.0, "diffuse_wm2": 0.0, "reflected_wm2": 0.0, "crown_air_c": 0.0}
    still = _face_c(_traits(), _around(**dark, longwave_down_wm2=220.0, longwave_up_wm2=300.0, wind_ms=0.3))
    windy = _face_c(_traits(), _around(**dark, longwave_down_wm2=220.0, longwave_up_wm2=300.0, wind_ms=6.0))
    assert -4.0 < still < -0.3
    assert still < windy < 0.0


def test_only_bared_stems_are_worked_out() -> None:
    """Nobody asks for the bark of a tree whose bark is used to the sun."""
    assert bared(_traits(exposure=0.0)).size == 0
    assert bared(_traits(exposure=0.2)).size == 1
