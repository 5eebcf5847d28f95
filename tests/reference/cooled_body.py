"""A root ball on its own, in surroundings of one temperature."""

import numpy as np
from numpy.typing import NDArray

from carewatch.physics.root_ball import (
    SHELLS,
    ball_shape,
    ball_step,
    enthalpy_j,
    heat_capacities,
    outer_path_m,
    shell_conductances_w_k,
    temperature_c,
)

Array = NDArray[np.float64]


class Body:
    """A ball of substrate in surroundings of one temperature, cooled step by step."""

    def __init__(
        self,
        volume_m3: float,
        area_m2: float,
        conductivity: float,
        film_wm2k: float,
        start_c: float,
        *,
        water: float = 0.0,
        porosity: float = 0.0,
        solid_heat_mj: float = 2.0,
    ) -> None:
        shape = ball_shape(np.array([volume_m3]), np.array([area_m2]))
        self.heat = heat_capacities(shape, np.array([water]), np.array([porosity]), np.array([solid_heat_mj]))
        self.between = shell_conductances_w_k(shape, np.array([conductivity]))
        self.outside = area_m2 / (1.0 / film_wm2k + outer_path_m(shape) / conductivity)
        self.enthalpy = enthalpy_j(np.full((SHELLS, 1), start_c), *self.heat)

    def step(self, surround_c: float, seconds: float) -> None:
        """Let time pass."""
        self.enthalpy, _ = ball_step(
            self.enthalpy, *self.heat, self.between, self.outside, np.array([surround_c]), seconds
        )

    @property
    def shells_c(self) -> Array:
        """Temperatures, innermost first. [°C]"""
        return temperature_c(self.enthalpy, *self.heat)[:, 0]


def sphere(radius_m: float) -> tuple[float, float]:
    """Volume and surface. [m³], [m²]"""
    return 4.0 / 3.0 * np.pi * radius_m**3, 4.0 * np.pi * radius_m**2
