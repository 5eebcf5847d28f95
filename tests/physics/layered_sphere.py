"""
A freezing sphere in forty layers, integrated by a stiff solver of general use.

It is the second opinion on carewatch's root ball and takes nothing from it: layers of equal thickness instead of shells
of equal volume, a differential equation instead of hourly steps, surroundings that change between the hours.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

Array = NDArray[np.float64]

LAYERS = 40
# Water in pores freezes between 0 and this. [°C]
FROZEN_THROUGH_C = -0.5


@dataclass(frozen=True)
class Sphere:
    """
    A ball of moist substrate.

    radius_m: [m]; conductivity: [W m⁻¹ K⁻¹]; water, solids: shares of the volume. [0-1]
    solids_mj: heat capacity of the solids. [MJ m⁻³ K⁻¹]; film_wm2k: exchange of its surface. [W m⁻² K⁻¹]
    """

    radius_m: float
    conductivity: float
    water: float
    solids: float
    solids_mj: float
    film_wm2k: float


def layer_temperatures_c(sphere: Sphere, hours: Array, surround_c: Array, start_c: float) -> tuple[Array, Array]:
    """
    Mean temperature and layers, (hour,) and (hour, LAYERS), of a ball that starts thawed at one temperature. [°C]

    hours: rising, from the start on. [h]; surround_c: at these hours, straight lines between them. [°C]
    """
    edges = np.linspace(0.0, sphere.radius_m, LAYERS + 1)
    volume = 4.0 / 3.0 * np.pi * np.diff(edges**3)
    middle = 0.5 * (edges[1:] + edges[:-1])
    thawed = 1e6 * volume * (sphere.solids * sphere.solids_mj + 4.18 * sphere.water)
    frozen = 1e6 * volume * (sphere.solids * sphere.solids_mj + 1.9 * sphere.water)
    # While it freezes, the heat capacity is the mean of thawed and frozen, and latent heat comes on top.
    freezing = 3.34e8 * sphere.water * volume - 0.5 * FROZEN_THROUGH_C * (thawed + frozen)
    conduct = 4.0 * np.pi * edges[1:-1] ** 2 * sphere.conductivity / np.diff(middle)
    skin = (sphere.radius_m - middle[-1]) / sphere.conductivity
    outside = 4.0 * np.pi * sphere.radius_m**2 / (1.0 / sphere.film_wm2k + skin)

    def temperature(heat: Array) -> Array:
        mushy = -FROZEN_THROUGH_C * heat / freezing
        below = FROZEN_THROUGH_C + (heat + freezing) / frozen
        return np.where(heat >= 0.0, heat / thawed, np.where(heat > -freezing, mushy, below))

    def change(seconds: float, heat: Array) -> Array:
        now = temperature(heat)
        inward = conduct * np.diff(now)
        gain = np.zeros(LAYERS)
        gain[:-1] += inward
        gain[1:] -= inward
        gain[-1] += outside * (np.interp(seconds, 3600.0 * hours, surround_c) - now[-1])
        return gain

    solved = solve_ivp(
        change,
        (3600.0 * hours[0], 3600.0 * hours[-1]),
        start_c * thawed,
        method="LSODA",
        t_eval=3600.0 * hours,
        max_step=300.0,
        rtol=1e-6,
        atol=0.1,
        lband=1,
        uband=1,
    )
    layers = np.array([temperature(heat) for heat in solved.y.T])
    return layers @ volume / volume.sum(), layers
