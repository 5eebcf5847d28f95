"""Water in containers: how depth decides what is held, and the depletion and stress of FAO-56 chapter 8."""

from functools import cache, partial

import numpy as np
from numpy.typing import NDArray

from carewatch.config.tables import load_tables
from carewatch.physics.container import (
    Retention,
    air_space,
    container_capacity,
    depletion_after_mm,
    easy_share_at,
    readily_available_mm,
    retention,
    stress_factor,
    total_available_mm,
    waterlogged_after_h,
)
from tests.reference.registry import Chapter, Check, one

Array = NDArray[np.float64]

OWEN_ALTLAND = "Owen & Altland 2008, HortScience 43:505-508: 20 % less (medium bark) to 42 % less (fine)"
BILDERBACK = "Bilderback & Fonteno 1987, J. Environ. Hort. 5:180-182"
# Their #1 container and their bedding plant cell are about so deep (from memory).
NURSERY_CM, CELL_CM = 17.0, 5.7
TOMATO = "FAO-56 example 38, tomato: 0.32 and 0.12, roots 0.8 m, p 0.40"
TOMATO_RUN = TOMATO + ", 55 mm depleted, Kcb 1.2, ETo 5.0 then 6.5 mm"
ETO_MM = (5.0, 5.0, *(6.5,) * 8)
STRESS = (1.0, 1.0, 0.97, 0.89, 0.82, 0.75, 0.69, 0.63, 0.58, 0.54)
DEPLETION_MM = (55.0, 61.0, 67.0, 74.6, 81.5, 87.9, 93.7, 99.1, 104.1, 108.6)


@cache
def _bark() -> Retention:
    substrate = load_tables().substrates["bark-compost"]
    return retention(
        substrate.porosity, substrate.water_at_capacity, substrate.reference_depth_cm, substrate.depth_slope
    )


@cache
def _two_containers() -> Retention:
    """The medium of 71 % pores that holds 43 % in the deep container and 59 % in the shallow one."""
    return retention(0.71, 0.43, NURSERY_CM, (0.59 - 0.43) / (NURSERY_CM - CELL_CM))


def _less_water_pct(substrate: Retention, shallow_cm: float, deep_cm: float) -> Array:
    return 100.0 * (1.0 - container_capacity(substrate, deep_cm) / container_capacity(substrate, shallow_cm))


@cache
def _tomato() -> tuple[list[float], list[float]]:
    """Depletion at the start of each day and its stress factor. [mm], [-]"""
    total, depletion = one(160.0), one(55.0)
    starts, factors = [], []
    for reference_mm in ETO_MM:
        factor = stress_factor(depletion, total, 0.40)
        starts.append(float(depletion))
        factors.append(float(factor))
        depletion, _ = depletion_after_mm(depletion, one(0.0), factor * 1.2 * reference_mm, total)
    return starts, factors


def _tomato_day(column: int, day: int) -> float:
    return _tomato()[column][day]


def _hours_to_dry() -> float:
    """A pot of 4.8 L with a quarter of it available, under a crown of 0.25 m² that asks for 0.5 mm an hour. [h]"""
    total = total_available_mm(one(0.25), one(0.0), 4.8e-3 / 0.25)
    return float(total / 0.5)


def _soaked_h(root_temp_c: float) -> Array:
    return waterlogged_after_h(one(0.0), one(0.05), one(root_temp_c), 2.0, 10.0)


CHAPTER = Chapter(
    "Container water",
    (
        Check(
            "air after drainage, nursery container [-]",
            BILDERBACK,
            "71 % pores, 43 % water",
            0.28,
            0.001,
            lambda: air_space(_two_containers(), NURSERY_CM),
        ),
        Check(
            "air after drainage, bedding cell [-]",
            BILDERBACK,
            "the same medium, 59 % water (depths from memory)",
            0.12,
            0.03,
            lambda: air_space(_two_containers(), CELL_CM),
        ),
        Check(
            "water after drainage, bedding cell [-]",
            BILDERBACK,
            "the same medium (depths from memory)",
            0.59,
            0.03,
            lambda: container_capacity(_two_containers(), CELL_CM),
        ),
        Check(
            "less water in the deep than in the shallow core [%]",
            OWEN_ALTLAND,
            "bark, cores of 3.8 and 15.2 cm",
            31.0,
            11.0,
            lambda: _less_water_pct(_bark(), 3.8, 15.2),
        ),
        Check(
            "total available water [mm]",
            TOMATO,
            "eq. 82",
            160.0,
            0.01,
            lambda: total_available_mm(one(0.32), one(0.12), 0.8),
            "recomputed",
        ),
        Check(
            "readily available water [mm]",
            TOMATO,
            "eq. 83",
            64.0,
            0.01,
            lambda: readily_available_mm(one(160.0), 0.40),
            "recomputed",
        ),
        *(
            Check(
                "depletion at the start of the day [mm]",
                TOMATO_RUN,
                f"eq. 85, day {day + 1}",
                expected,
                0.06,
                partial(_tomato_day, 0, day),
                "from memory",
            )
            for day, expected in enumerate(DEPLETION_MM)
        ),
        *(
            Check(
                "stress factor [-]",
                TOMATO_RUN,
                f"eq. 84, day {day + 1}",
                expected,
                0.0051,
                partial(_tomato_day, 1, day),
                "from memory",
            )
            for day, expected in enumerate(STRESS)
        ),
        Check(
            "share taken up without stress [-]",
            "FAO-56 table 22, note 2: p + 0.04 (5 - ETc)",
            "p 0.5, 8 mm/d",
            0.38,
            1e-9,
            lambda: easy_share_at(one(8.0)),
            "from memory",
        ),
        Check(
            "water that runs out at the bottom [mm]",
            "FAO-56 eq. 88",
            "10 mm depleted, 25 mm of rain, 3 mm used",
            12.0,
            1e-9,
            lambda: depletion_after_mm(one(10.0), one(25.0), one(3.0), one(50.0))[1],
            "arithmetic",
        ),
        Check(
            "a pot is empty after [h]",
            "1.2 L under 0.25 m² of crown at 0.5 mm an hour",
            "4.8 L, 25 % available",
            9.6,
            0.01,
            _hours_to_dry,
            "arithmetic",
        ),
        *(
            Check(
                "hours without air after ten at that temperature, as at 20 °C [h]",
                "demand for oxygen doubles with every 10 K",
                f"{temp:.0f} °C",
                expected,
                1e-9,
                partial(_soaked_h, temp),
                "arithmetic",
            )
            for temp, expected in ((10.0, 5.0), (20.0, 10.0), (30.0, 20.0))
        ),
    ),
)
