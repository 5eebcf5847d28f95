"""What surfaces and skies radiate, against printed values: black bodies, a leaf in a vacuum, clear skies."""

from functools import partial

import numpy as np
from numpy.typing import NDArray

from carewatch.physics.humidity import dew_point_from_humidity_c
from carewatch.physics.radiation import blackbody_wm2, sky_longwave_wm2
from tests.reference.registry import Chapter, Check, one

Array = NDArray[np.float64]

FAO_11 = "FAO-56 example 11 (constants rounded: 0.04; printed to 0.05)"
GATES = "Physical Processes in Ecosystems, ch. 11.5, after Gates (its 0 °C is 273 K: 1 W/m²)"
CAMPBELL_NORMAN = "Campbell & Norman 1998, table A.3"
UNSWORTH = "Unsworth & Monteith 1975: -119 + 1.06 σT⁴, scatter ± 30 W/m²"


def _megajoules(temp_c: float) -> Array:
    """Of a black surface over a day. [MJ m⁻² d⁻¹]"""
    return 0.0864 * blackbody_wm2(one(temp_c))


def _leaf_wm2(temp_c: float) -> Array:
    return 0.96 * blackbody_wm2(one(temp_c))


def _clear_sky(temp_c: float) -> Array:
    """Over air of 70 %. [W m⁻²]"""
    return sky_longwave_wm2(one(temp_c), dew_point_from_humidity_c(one(temp_c), one(70.0)), one(0.0))


CHAPTER = Chapter(
    "Radiating surfaces",
    (
        *(
            Check(
                "black body over a day [MJ m⁻² d⁻¹]", FAO_11, f"{temp} °C", expected, 0.09, partial(_megajoules, temp)
            )
            for temp, expected in ((25.1, 38.8), (19.1, 35.8))
        ),
        *(
            Check(
                "black body over a day [MJ m⁻² d⁻¹]",
                "FAO-56 annex 2, table 2.8 (its constants are rounded: 0.1 %)",
                f"{temp} °C",
                expected,
                0.001 * expected,
                partial(_megajoules, temp),
                "recomputed",
            )
            for temp, expected in ((1.0, 27.70), (17.0, 34.75), (33.0, 43.08))
        ),
        *(
            Check(
                "leaf in a vacuum [W m⁻²]",
                GATES,
                f"{temp} °C, emissivity 0.96",
                absorbed,
                2.0,
                partial(_leaf_wm2, temp),
            )
            for temp, absorbed in ((75.18, 800.0), (51.02, 600.0), (19.79, 400.0))
        ),
        *(
            Check(
                "black body [W m⁻²]",
                CAMPBELL_NORMAN,
                f"{temp} °C",
                expected,
                0.6,
                partial(blackbody_wm2, one(temp)),
                "recomputed",
            )
            for temp, expected in ((0.0, 316.0), (20.0, 419.0), (30.0, 479.0))
        ),
        *(
            Check(
                "clear sky [W m⁻²]",
                UNSWORTH,
                f"air of {temp} °C, 70 %",
                expected,
                30.0,
                partial(_clear_sky, temp),
                "from memory",
            )
            for temp, expected in ((-5.0, 191.8), (5.0, 240.8), (15.0, 295.4))
        ),
    ),
)
