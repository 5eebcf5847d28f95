"""Winter chill, thermal time and the ripening of leaves against what is printed of them."""

from functools import partial

import numpy as np
from numpy.typing import NDArray

from carewatch.condition.chill import chill_portions, growing_degree_days, utah_units
from carewatch.condition.stage import senescence_per_day
from tests.reference.registry import Chapter, Check, one

UTAH = "Richardson, Seeley & Walker 1974, HortScience 9:331-332, classes in °C"
DYNAMIC = "Fishman, Erez & Couvillon 1987, J. Theor. Biol. 124:473 and 126:309; Erez et al. 1990, Acta Hort. 276:165"
# Temperature of an hour, and its units; upper ends belong to their class. [°C], [h⁻¹]
UTAH_HOURS = (
    (0.0, 0.0),
    (1.4, 0.0),
    (1.5, 0.5),
    (2.4, 0.5),
    (2.5, 1.0),
    (6.0, 1.0),
    (9.1, 1.0),
    (9.2, 0.5),
    (12.4, 0.5),
    (12.5, 0.0),
    (15.9, 0.0),
    (16.0, -0.5),
    (18.0, -0.5),
    (18.1, -1.0),
)


def first_portion_h(temp_c: float) -> float:
    """Whole hours of a steady temperature until the first portion is fixed; infinite within a year of it."""
    completed = np.nonzero(chill_portions(np.full(8760, temp_c)) > 0.0)[0]
    return float(completed[0] + 1) if completed.size else float("inf")


def _units(temp_c: float) -> NDArray[np.float64]:
    return utah_units(one(temp_c))


def _portions_at(temp_c: float) -> NDArray[np.float64]:
    """Portions of 100 days of a steady temperature."""
    return np.array(chill_portions(np.full(2400, temp_c)).sum())


CHAPTER = Chapter(
    "Chill and warmth",
    (
        *(
            Check("chill units of an hour [-]", UTAH, f"{temp} °C", units, 1e-12, partial(_units, temp))
            for temp, units in UTAH_HOURS
        ),
        Check(
            "hours to the first chill portion [h]",
            f"{DYNAMIC}: one portion in about 28 h at 6 °C",
            "steady 6 °C from nothing",
            28.15,
            1.0,
            lambda: first_portion_h(6.0),
            "recomputed",
        ),
        *(
            Check(
                "hours to the first chill portion [h]",
                f"{DYNAMIC}: closed form ln(xs / (xs - 1)) / k1 of the constants in print",
                f"steady {temp} °C from nothing",
                hours,
                1.0,
                partial(first_portion_h, temp),
                "recomputed",
            )
            for temp, hours in ((4.0, 29.1), (8.0, 28.2), (10.0, 30.2))
        ),
        Check(
            "chill portions in 100 days [-]",
            f"{DYNAMIC}: no portion forms at 13 °C and more",
            "steady 13 °C",
            0.0,
            1e-12,
            lambda: _portions_at(13.0),
            "recomputed",
        ),
        Check(
            "degree-days [°F d]",
            "Western Regional Climate Center, worked example",
            "max 95, min 51, base 60 °F",
            13.0,
            1e-9,
            lambda: growing_degree_days(one((95.0 + 51.0) / 2.0), 60.0),
        ),
        Check(
            "ripening of leaves per day [-]",
            "Delpierre et al. 2009, Agric. For. Meteorol. 149:938, Tb 28.5 °C, x = y = 2",
            "15 °C, 11.5 h of day, begins below 12.5 h",
            154.3,
            0.1,
            lambda: senescence_per_day(one(15.0), one(11.5), 12.5),
            "from memory",
        ),
    ),
)
