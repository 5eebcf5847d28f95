"""
A second opinion on the root ball: twenty-four thin layers and a stiff solver, nothing of carewatch in it.

The body has the volume and the surface of the pot; its layers are those of a sphere that is stretched evenly, so that
volume over area is a third of its depth. Water in pores freezes between 0 and -0.5 °C.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

Array = NDArray[np.float64]

LAYERS = 24
ABSOLUTE_ERROR_J = 0.05
RELATIVE_ERROR = 1e-6
HOUR_S = 3600.0
# Oke 1987, table 2.1; the same facts that carewatch takes. [J m⁻³ K⁻¹], [J m⁻³], [°C]
LIQUID, ICE, FUSION, FROZEN_C = 4.18e6, 1.9e6, 3.34e8, -0.5


@dataclass(frozen=True)
class Pot:
    """
    A ball of moist substrate.

    volume_m3: [m³]; area_m2: of its whole surface. [m²]; conductivity: [W m⁻¹ K⁻¹]; water, porosity: [0-1]
    solid_heat_mj: heat capacity of the solids. [MJ m⁻³ K⁻¹]; wall_wm2k: conductance of the wall. [W m⁻² K⁻¹]
    """

    volume_m3: float
    area_m2: float
    conductivity: float
    water: float
    porosity: float
    solid_heat_mj: float
    wall_wm2k: float


@dataclass(frozen=True)
class Course:
    """
    Hour by hour, the start included, (hour,). [°C]

    mean_c: by volume; core_c: innermost fifth of the volume; centre_c: innermost layer.
    frozen_through_h: when the last layer is frozen for the first time, NaN if never. [h]
    unfrozen: share of the volume in layers that are not frozen through. [0-1]
    evaluations: how often the solver asked for the fluxes.
    """

    mean_c: Array
    core_c: Array
    centre_c: Array
    frozen_through_h: float
    unfrozen: Array
    evaluations: int


def layered_course(pot: Pot, start_c: float, film_wm2k: Array, surround_c: Array, between: bool) -> Course:
    """
    Course of a ball that begins thawed at one temperature.

    film_wm2k: exchange of the wall's outside, surround_c: what it exchanges with, one per hour that ends. [W m⁻² K⁻¹],
    [°C]. between: they run in straight lines from hour to hour; else each holds for the whole of its hour.
    """
    depth = 3.0 * pot.volume_m3 / pot.area_m2
    edge = np.linspace(0.0, 1.0, LAYERS + 1)
    volume = pot.volume_m3 * np.diff(edge**3)
    middle = 0.5 * (edge[1:] + edge[:-1])
    solids = 1e6 * (1.0 - pot.porosity) * pot.solid_heat_mj
    thawed, frozen = volume * (solids + pot.water * LIQUID), volume * (solids + pot.water * ICE)
    span = volume * pot.water * FUSION - 0.5 * FROZEN_C * (thawed + frozen)
    inner = pot.conductivity * pot.area_m2 * edge[1:-1] ** 2 / (depth * np.diff(middle))
    resistance = (1.0 - middle[-1]) * depth / pot.conductivity + 1.0 / pot.wall_wm2k
    core = np.clip(0.2 - edge[:-1] ** 3, 0.0, np.diff(edge**3)) / 0.2

    def temperature(heat: Array) -> Array:
        slush = FROZEN_C * heat / -span
        return np.where(heat >= 0.0, heat / thawed, np.where(heat > -span, slush, FROZEN_C + (heat + span) / frozen))

    heat = start_c * thawed
    states, through, evaluations = [heat], float("nan"), 0
    for hour in range(film_wm2k.size):
        before = max(hour - 1, 0) if between else hour
        films, outsides = film_wm2k[[before, hour]], surround_c[[before, hour]]

        def change(seconds: float, heat: Array, films: Array = films, outsides: Array = outsides) -> Array:
            late = seconds / HOUR_S
            film, outside = ((1.0 - late) * pair[0] + late * pair[1] for pair in (films, outsides))
            now = temperature(heat)
            outward = inner * (now[:-1] - now[1:])
            gain = np.zeros(LAYERS)
            gain[:-1] -= outward
            gain[1:] += outward
            gain[-1] += pot.area_m2 / (1.0 / film + resistance) * (outside - now[-1])
            return gain

        solved = solve_ivp(
            change,
            (0.0, HOUR_S),
            heat,
            method="LSODA",
            rtol=RELATIVE_ERROR,
            atol=ABSOLUTE_ERROR_J,
            lband=1,
            uband=1,
        )
        if np.isnan(through):
            # The last layer to freeze is the one farthest from the end of its freezing range.
            left = (solved.y + span[:, None]).max(axis=0)
            if left[-1] < 0.0:
                done = int(np.argmax(left < 0.0))
                through = hour + float(solved.t[done]) / HOUR_S
        heat = solved.y[:, -1]
        states.append(heat)
        evaluations += int(solved.nfev)
    layers = np.array([temperature(state) for state in states])
    unfrozen = (layers > FROZEN_C) @ volume / pot.volume_m3
    return Course(layers @ volume / pot.volume_m3, layers @ core, layers[:, 0], through, unfrozen, evaluations)
