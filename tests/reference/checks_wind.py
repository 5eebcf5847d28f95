"""Wind from height to height, Beaufort's scale, and the force on a crown."""

from functools import partial

import numpy as np
from numpy.typing import NDArray

from carewatch.physics.wind import (
    beaufort_lower_limit_ms,
    drag_force_n,
    overturning_moment_nm,
    restoring_moment_nm,
    wind_at_height_ms,
    wind_to_2m_ms,
)
from tests.reference.registry import Chapter, Check, one

BEAUFORT_MS = (0.3, 1.6, 3.4, 5.5, 8.0, 10.8, 13.9, 17.2, 20.8, 24.5, 28.5, 32.7)
GRASS_ROUGHNESS_M = 0.123 * 0.12


def _drag(speed_ms: float, coefficient: float, vogel_exponent: float) -> NDArray[np.float64]:
    """Force on 0.2 m² of crown, coefficient measured at 20 m/s. [N]"""
    return drag_force_n(one(speed_ms), 0.2, coefficient, vogel_exponent, 20.0)


CHAPTER = Chapter(
    "Wind",
    (
        Check(
            "wind at 2 m [m s⁻¹]",
            "FAO-56 example 14",
            "3.2 m/s at 10 m",
            2.4,
            0.05,
            lambda: wind_to_2m_ms(one(3.2), 10.0),
            "recomputed",
        ),
        Check(
            "factor 10 m to 2 m [-]",
            "FAO-56 table 2.9",
            "10 m",
            0.748,
            0.0005,
            lambda: wind_to_2m_ms(one(1.0), 10.0),
            "recomputed",
        ),
        Check(
            "wind at 2 m [m s⁻¹]",
            "FAO-56 example 18",
            "10 km/h at 10 m",
            2.078,
            0.002,
            lambda: wind_to_2m_ms(one(10.0 / 3.6), 10.0),
        ),
        Check(
            "general profile over FAO grass, 10 m to 2 m [-]",
            "FAO-56 table 2.9, box 4",
            "grass 0.12 m",
            0.748,
            0.0005,
            lambda: wind_at_height_ms(one(1.0), 2.0, GRASS_ROUGHNESS_M),
            "recomputed",
        ),
        Check(
            "general profile keeps the 10 m wind [-]",
            "definition",
            "10 m, roughness 0.1 m",
            1.0,
            1e-12,
            lambda: wind_at_height_ms(one(1.0), 10.0, 0.1),
            "arithmetic",
        ),
        *(
            Check(
                "lower limit of Beaufort's force [m s⁻¹]",
                "weather service table (WMO 1970)",
                f"force {force}",
                limit,
                0.1,
                partial(beaufort_lower_limit_ms, one(force)),
            )
            for force, limit in enumerate(BEAUFORT_MS, start=1)
        ),
        *(
            Check(
                "drag at 20 m/s [N]",
                f"½ρCdAU² with the coefficient of {author}",
                f"ρ 1.204, A 0.2 m², Cd {coefficient}",
                force,
                0.05,
                partial(_drag, 20.0, coefficient, -0.8),
                "arithmetic",
            )
            for coefficient, author, force in (
                (0.15, "Vollsinger et al. 2005", 7.2),
                (0.22, "Vollsinger et al. 2005", 10.6),
                (0.47, "Rudnicki et al. 2004", 22.6),
            )
        ),
        Check(
            "drag at 20 over drag at 10 m/s [-]",
            "Vollsinger et al. 2005: drag grows as the wind, V = -1",
            "Cd 0.2",
            2.0,
            1e-9,
            lambda: _drag(20.0, 0.2, -1.0) / _drag(10.0, 0.2, -1.0),
        ),
        Check(
            "drag at 20 over drag at 10 m/s [-]",
            "Vogel 1989: U^(2+V)",
            "Cd 0.2, V -0.5",
            2.0**1.5,
            1e-9,
            lambda: _drag(20.0, 0.2, -0.5) / _drag(10.0, 0.2, -0.5),
            "from memory",
        ),
        Check(
            "drag at 20 over drag at 10 m/s, rigid [-]",
            "definition",
            "V 0",
            4.0,
            1e-9,
            lambda: _drag(20.0, 0.2, 0.0) / _drag(10.0, 0.2, 0.0),
            "arithmetic",
        ),
        Check(
            "overturning moment [N m]",
            "definition",
            "10 N at 0.6 m",
            6.0,
            1e-9,
            lambda: overturning_moment_nm(one(10.0), 0.6),
            "arithmetic",
        ),
        Check(
            "restoring moment [N m]",
            "definition",
            "8 kg, 0.12 m",
            9.4144,
            0.0001,
            lambda: restoring_moment_nm(8.0, 0.12),
            "arithmetic",
        ),
    ),
)
