"""Bark on the sunny face of a thin stem: a cylinder that the sun heats on one side and wind and wood cool all round."""

import numpy as np
from numpy.typing import NDArray

from carewatch.exposure.columns import Columns, Traits
from carewatch.exposure.surroundings import Surroundings
from carewatch.forecast.weather import Array
from carewatch.physics.radiation import blackbody_wm2

# Between the barks of birch and of plum (judged; bark reflects a fifth to a half of the sun). [-]
ABSORPTIVITY = 0.65
EMISSIVITY = 0.95
# Across the grain of moist wood (Wood Handbook, order of 0.3-0.4; from memory). [W m⁻¹ K⁻¹]
WOOD_CONDUCTIVITY = 0.35
# A full crown shades its own stem from four fifths of the sun (judged). [0-1]
CROWN_SHADE = 0.8
# Air: kinematic viscosity [m² s⁻¹] and conductivity [W m⁻¹ K⁻¹] near 20 °C.
VISCOSITY, AIR_CONDUCTIVITY = 1.5e-5, 0.026
# Cylinders across the wind, Nu = c Re^n (Hilpert 1933, as printed in textbooks of heat transfer; from memory): below
# and from Re 4,000 on; and still air round a cylinder some 10 K warmer, 1.32 (ΔT/D)^(1/4) (as above). [-]
SLOW, FAST, FAST_FROM_RE = (0.683, 0.466), (0.193, 0.618), 4_000.0
CALM_EXCESS_K = 10.0
# Bark that was in the sun above this has thawed (hazards.toml, bark: a test holds them equal). [°C]
THAWS_C = 12.0
# What falls on a facing strip is the half cosine max(cos φ, 0) round the stem: its mean, and the size of its waves on
# the facing line by their number round the stem (Fourier series of the half cosine).
MEAN, WAVES = 1.0 / np.pi, ((1, 0.5), (2, 2.0 / (3.0 * np.pi)), (4, -2.0 / (15.0 * np.pi)))


def bared(traits: Traits) -> NDArray[np.int64]:
    """Positions of the columns whose bark is not used to the sun: of no others is it worked out."""
    found: NDArray[np.int64] = np.nonzero(traits.bark_exposure > 0.0)[0]
    return found


def bark_c(around: Surroundings, columns: Columns, traits: Traits, index: NDArray[np.int64]) -> Array:
    """
    Surface of the stem on the side that the sun stands on, (hour, member, len(index)). [°C]

    index: from `bared`. At night it is the side that faced the last sun.

    Steady within the hour: a stem of three centimetres follows in a quarter of one. Each wave of the absorbed light
    loses heat to the air by the surface's conductance h and round the stem by the wood's, n k/R for n waves, so that a
    thin stem evens out what a thick one keeps on its sunny side (conduction in a cylinder, any textbook).
    """
    radius = traits.stem_m[index] / 2.0
    air = around.crown_air_c[..., index]
    emitted = EMISSIVITY * blackbody_wm2(air)
    conductance = convection_wm2k(around.wind_ms[..., index], 2.0 * radius) + 4.0 * emitted / (air + 273.15)
    shade = 1.0 - CROWN_SHADE * np.minimum(traits.leaf_area[index], 1.0)
    light = ABSORPTIVITY * shade * columns.bark_sun[:, None, index]
    sine = np.clip(around.sun_sine, 0.0, 1.0)
    facing = light * around.beam_wm2[..., index] * np.sqrt(1.0 - sine**2)
    ambient = light * 0.5 * (around.diffuse_wm2[..., index] + around.reflected_wm2[..., index])
    # An upright surface sees the sky near the horizon, half as much colder than the air as all of it (as pot_wall).
    down = EMISSIVITY * around.longwave_down_wm2[..., index]
    longwave = 0.25 * (down + emitted) + 0.5 * EMISSIVITY * around.longwave_up_wm2[..., index] - emitted
    warmer: Array = (MEAN * facing + ambient + longwave) / conductance
    for number, size in WAVES:
        warmer = warmer + size * facing / (conductance + number * WOOD_CONDUCTIVITY / radius)
    return air + warmer


def thaw_age_h(face_c: Array, began_h: Array) -> Array:
    """
    Hours since the bark last thawed, at the end of its hours, (member, column). [h]

    face_c: (hour, member, column). [°C]; began_h: the same before the first of them. [h]
    """
    hours = face_c.shape[0]
    thawed = face_c[::-1] > THAWS_C
    ago = np.argmax(thawed, axis=0).astype(np.float64)
    result: Array = np.where(thawed.any(axis=0), ago, began_h + hours)
    return result


def convection_wm2k(wind_ms: Array, diameter_m: Array) -> Array:
    """Convection of a bare stem, the greater of forced and free. [W m⁻² K⁻¹]"""
    reynolds = np.maximum(wind_ms, 0.0) * diameter_m / VISCOSITY
    nusselt = np.where(reynolds < FAST_FROM_RE, SLOW[0] * reynolds ** SLOW[1], FAST[0] * reynolds ** FAST[1])
    free = 1.32 * (CALM_EXCESS_K / diameter_m) ** 0.25
    return np.maximum(nusselt * AIR_CONDUCTIVITY / diameter_m, free)
