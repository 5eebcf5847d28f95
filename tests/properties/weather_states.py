"""Arrays of weather as it can occur, drawn by hypothesis: one seed, hundreds of states."""

from dataclasses import dataclass

import numpy as np
from hypothesis import settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from carewatch.physics.humidity import saturation_vapour_pressure_kpa
from carewatch.physics.radiation import blackbody_wm2, sky_longwave_wm2

Array = NDArray[np.float64]

STATES = 400
# Few examples, each of hundreds of states: a property is tried on some ten thousand of them in a second.
few = settings(max_examples=25, deadline=None, derandomize=True)
seeds = st.integers(0, 2**31)


@dataclass(frozen=True)
class AirAndOrgan:
    """Air around organs and what they are, (STATES,); units as physics.leaf."""

    air_c: Array
    dew_c: Array
    wind_ms: Array
    sunlight_wm2: Array
    absorbed_wm2: Array
    pressure_kpa: Array
    dimension_m: Array
    stomatal_mol: Array

    @property
    def vapour_kpa(self) -> Array:
        """Vapour pressure of the air. [kPa]"""
        return saturation_vapour_pressure_kpa(self.dew_c)


def air_and_organ(seed: int, *, night: bool = False) -> AirAndOrgan:
    """From arctic nights to desert noons, calm to gale, needle to large leaf, closed to wide open, sea to mountains."""
    draw = np.random.default_rng(seed)
    air = draw.uniform(-30.0, 48.0, STATES)
    # Dew points above 33 °C hardly occur on earth (from memory: the record is 35).
    dew = np.minimum(air - draw.uniform(0.0, 30.0, STATES), 33.0)
    sunlight = np.zeros(STATES) if night else draw.uniform(0.0, 1300.0, STATES)
    floor = air + (draw.uniform(-12.0, 3.0, STATES) if night else draw.uniform(-12.0, 25.0, STATES))
    down = sky_longwave_wm2(air, dew, draw.uniform(0.0, 1.0, STATES))
    return AirAndOrgan(
        air_c=air,
        dew_c=dew,
        wind_ms=draw.choice([0.0, 0.1, 0.3, 1.0, 3.0, 10.0, 30.0], STATES) * draw.uniform(0.7, 1.3, STATES),
        sunlight_wm2=sunlight,
        absorbed_wm2=0.5 * sunlight + 0.97 * (down + blackbody_wm2(floor)),
        pressure_kpa=draw.uniform(65.0, 105.0, STATES),
        dimension_m=draw.choice([0.001, 0.004, 0.01, 0.03, 0.1], STATES),
        stomatal_mol=draw.choice([0.0, 0.002, 0.005, 0.03, 0.2, 0.5], STATES),
    )
