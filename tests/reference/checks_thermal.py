"""Bodies that warm, cool and freeze against published heat transfer; what roots and buds bear against print."""

from collections.abc import Callable
from functools import partial

import numpy as np
from numpy.typing import NDArray

from carewatch.care.species import Species
from carewatch.config.tables import load_tables
from carewatch.limits.damage import damage, running_dose_k
from carewatch.physics.humidity import dew_point_from_humidity_c, saturation_vapour_pressure_kpa
from carewatch.physics.leaf import (
    EMISSIVITY,
    MOLAR_HEAT,
    boundary_vapour_mol,
    heat_conductance_mol,
    organ_temperature_c,
)
from carewatch.physics.radiation import blackbody_wm2
from carewatch.physics.root_ball import FREEZING_RANGE_K, SHELLS
from tests.reference.cooled_body import Body, sphere
from tests.reference.registry import Chapter, Check, one

Array = NDArray[np.float64]

CENGEL = "Cengel, Heat Transfer, example 4-1 (lumped bead)"
STEFAN = "Stefan 1891, depth = sqrt(2 k dT t / (L theta)); the rest: five shells, half a kelvin of freezing range"
PLANK = "Plank 1941 for a sphere, t = L theta (d/6h + d²/24k) / dT; the rest: sensible heat, freezing range"
LEAF = "Campbell & Norman 1998, eq. 14.6 with 7.30, 7.33 and 12.7, computed from the equations"
PENN = "Penn State Extension, critical temperatures of fruit buds (after Proebsting & Mills 1978), 10 %, half an hour"
RUTER = "Ruter & Ingram, Ilex crenata 'Helleri', 51.0 °C in 30 and 43.9 °C in 300 minutes, linear in log time"
# Conductivity so high that a ball is of one temperature. [W m⁻¹ K⁻¹]
ONE_TEMPERATURE = 1e4
DAY_S = 86_400.0


def _bead() -> Body:
    """A bead of 1 mm with k 35, rho 8500, cp 320 and h 210, 100 K above its surroundings."""
    return Body(*sphere(0.5e-3), 35.0, 210.0, 100.0, solid_heat_mj=8500.0 * 320.0 / 1e6)


def _bead_seconds_to(share: float) -> float:
    """When the bead's excess has fallen to a share of what it was. [s]"""
    body, seconds, step = _bead(), 0.0, 0.01
    while body.shells_c.mean() > 100.0 * share:
        body.step(0.0, step)
        seconds += step
    return seconds


def _pot(start_c: float) -> Body:
    """A pot of 30 × 20 × 8 cm, 40 % water, 45 % solids of 1.9 MJ m⁻³ K⁻¹, 15 W m⁻² K⁻¹ on all faces."""
    faces = 2.0 * (0.3 * 0.2 + 0.3 * 0.08 + 0.2 * 0.08)
    return Body(
        0.3 * 0.2 * 0.08,
        faces,
        ONE_TEMPERATURE,
        15.0,
        start_c,
        water=0.40,
        porosity=0.55,
        solid_heat_mj=1.9,
    )


def _pot_heat_mj(index: int) -> float:
    """Heat capacity of the pot's content, thawed (0) or frozen (1), per volume. [MJ m⁻³ K⁻¹]"""
    return float(_pot(0.0).heat[index][0]) * SHELLS / 4.8e-3 / 1e6


def _pot_hours_to(start_c: float, surround_c: float, reached: Callable[[Array], bool]) -> float:
    """How long it takes until the shells have reached something. [h]"""
    body, seconds = _pot(start_c), 0.0
    while not reached(body.shells_c):
        body.step(surround_c, 20.0)
        seconds += 20.0
    return seconds / 3600.0


def _front_cm(conductivity: float, water: float, below_k: float, hours: float, expected_cm: float) -> float:
    """Thickness frozen from outside, so large a ball that the front stays in its flat outermost shell. [cm]"""
    radius = 0.95 * expected_cm / 100.0 / (1.0 - (1.0 - 1.0 / SHELLS) ** (1.0 / 3.0))
    volume, area = sphere(radius)
    body = Body(volume, area, conductivity, 1e6, 0.0, water=water, porosity=1.0)
    for _ in range(int(hours * 6)):
        body.step(-below_k, 600.0)
    return float(-body.enthalpy.sum() / (area * water * 3.34e8)) * 100.0


def _sphere_frozen_h(radius_m: float, conductivity: float, film_wm2k: float, water: float, below_k: float) -> float:
    """When the last shell of a sphere at 0 °C has frozen. [h]"""
    body = Body(*sphere(radius_m), conductivity, film_wm2k, 0.0, water=water, porosity=1.0)
    seconds = 0.0
    while body.shells_c.max() > -FREEZING_RANGE_K:
        body.step(-below_k, 120.0)
        seconds += 120.0
    return seconds / 3600.0


def _plank_h(radius_m: float, conductivity: float, film_wm2k: float, water: float, below_k: float) -> float:
    """Plank's freezing time of a sphere. [h]"""
    path = 2.0 * radius_m / (6.0 * film_wm2k) + (2.0 * radius_m) ** 2 / (24.0 * conductivity)
    return water * 3.34e8 * path / below_k / 3600.0


def _leaf_rise_k(
    air_c: float, humidity_pct: float, wind_ms: float, absorbed_one_side_wm2: float, stomatal_mol: float
) -> Array:
    """Leaf of 5 cm (dimension 3.6 cm) less air. [K]"""
    vapour = saturation_vapour_pressure_kpa(dew_point_from_humidity_c(one(air_c), one(humidity_pct)))
    leaf, _ = organ_temperature_c(
        one(air_c),
        vapour,
        one(wind_ms),
        one(2.0 * absorbed_one_side_wm2),
        one(101.3),
        one(0.036),
        one(stomatal_mol),
    )
    return leaf - air_c


def _both_faces_as_one(stomatal_mol: float, wind_ms: float) -> float:
    """Stomata on one face that let out as much as these on each of two. [mol m⁻² s⁻¹]"""
    boundary = float(boundary_vapour_mol(one(wind_ms), one(0.036)))
    both = 2.0 * stomatal_mol * boundary / (stomatal_mol + boundary)
    return both * boundary / (boundary - both)


def _wet_face_c() -> Array:
    """A wet face at 20 °C and 50 % whose other face is dry and takes no heat: radiation makes up for what it would."""
    air, wet, wind, size = one(20.0), one(13.8), one(10.0), one(0.02)
    other_face = 0.5 * MOLAR_HEAT * heat_conductance_mol(wind, size, air - wet) * (air - wet)
    absorbed = 2.0 * EMISSIVITY * blackbody_wm2(wet) - other_face
    vapour = 0.5 * saturation_vapour_pressure_kpa(air)
    return organ_temperature_c(air, vapour, wind, absorbed, one(101.3), size, one(1e6))[0]


def _one_face_mol(wind_ms: float, dimension_m: float) -> Array:
    """Heat conductance of one face, no difference of temperature. [mol m⁻² s⁻¹]"""
    return 0.5 * heat_conductance_mol(one(wind_ms), one(dimension_m), one(0.0))


def _radiative_mol(temp_c: float) -> Array:
    """Radiation of a leaf per kelvin, as a conductance. [mol m⁻² s⁻¹]"""
    return EMISSIVITY * (blackbody_wm2(one(temp_c + 0.5)) - blackbody_wm2(one(temp_c - 0.5))) / MOLAR_HEAT


def _root_critical_c(hours: int) -> float:
    """Steady root temperature that damages half of the mature roots in so many hours, by bisection. [°C]"""
    numbers = load_tables().hazards
    one_hour = numbers.root_heat_50_c - numbers.root_heat_slope_k * np.log10(1.0 / numbers.root_heat_ref_h)
    low, high = 35.0, 60.0
    while high - low > 1e-4:
        middle = 0.5 * (low + high)
        course = np.full((hours, 1), middle)
        start = np.zeros(hours, dtype=np.int64)
        dose = running_dose_k(course, np.array(one_hour), numbers.root_heat_slope_k, start)[-1]
        hurt = damage(dose, np.array(numbers.root_heat_10_shift_k), np.array(0.0))
        low, high = (low, middle) if hurt[0] > 0.5 else (middle, high)
    return 0.5 * (low + high)


def _species(name: str) -> Species:
    return load_tables().species_for(name)


BALL_CHECKS = (
    Check("time to 99 % [s]", CENGEL, "D 1 mm, k 35, h 210", 10.0, 0.1, lambda: _bead_seconds_to(0.01)),
    Check(
        "time constant [s]",
        "lumped exponential, rho cp V / (h A)",
        "the bead of example 4-1",
        2.159,
        0.015,
        lambda: _bead_seconds_to(float(np.exp(-1.0))),
        "arithmetic",
    ),
    Check(
        "heat capacity of a moist ball [MJ m⁻³ K⁻¹]",
        "0.45 × 1.9 + 0.40 × 4.18",
        "45 % solids, 40 % water",
        2.527,
        0.001,
        lambda: _pot_heat_mj(0),
        "arithmetic",
    ),
    Check(
        "heat capacity of a frozen ball [MJ m⁻³ K⁻¹]",
        "0.45 × 1.9 + 0.40 × 1.9",
        "45 % solids, 40 % water",
        1.615,
        0.001,
        lambda: _pot_heat_mj(1),
        "arithmetic",
    ),
    Check(
        "time constant of a pot [h]",
        "C V / (h A)",
        "30 × 20 × 8 cm, 40 % water, 15 W m⁻² K⁻¹",
        1.12,
        0.02,
        lambda: _pot_hours_to(20.0, 5.0, lambda shells: shells.mean() < 5.0 + 15.0 / np.e),
        "arithmetic",
    ),
    Check(
        "hours a freezing pot stays at 0 °C [h]",
        "latent heat / (h A 5 K); 0.6 h more by the freezing range and its sensible heat",
        "the same pot, surroundings -5 °C",
        11.9,
        0.8,
        lambda: _pot_hours_to(0.0, -5.0, lambda shells: shells.max() <= -FREEZING_RANGE_K),
        "arithmetic",
    ),
    *(
        Check(
            "freezing front [cm]",
            STEFAN,
            f"k {k}, water {water:.0%}, {below} K below for {hours} h",
            depth,
            0.1 * depth,
            partial(_front_cm, k, water, below, hours, depth),
            "other program",
        )
        for k, water, below, hours, depth in (
            (2.22, 0.917, 10.0, 24.0, 11.2),
            (1.2, 0.40, 5.0, 10.0, 5.7),
            (1.0, 0.30, 5.0, 10.0, 6.0),
            (0.8, 0.35, 8.0, 12.0, 6.9),
        )
    ),
    *(
        Check(
            "frozen through [h]",
            PLANK,
            f"radius {radius * 100:.0f} cm, k {k}, h {film:.0f}, water {water:.0%}, {below} K below",
            _plank_h(radius, k, film, water, below),
            0.15 * _plank_h(radius, k, film, water, below),
            partial(_sphere_frozen_h, radius, k, film, water, below),
            "other program",
        )
        for radius, k, film, water, below in ((0.07, 0.9, 15.0, 0.40, 8.0), (0.10, 0.6, 20.0, 0.38, 10.0))
    ),
)

LEAF_CHECKS = (
    *(
        Check(
            "heat conductance of one face outdoors [mol m⁻² s⁻¹]",
            "Campbell & Norman 1998, eq. 7.30 × 1.4",
            f"leaf of 5 cm, {wind} m/s",
            conductance,
            0.001,
            partial(_one_face_mol, wind, 0.036),
            "from memory",
        )
        for wind, conductance in ((0.5, 0.704), (1.0, 0.996), (2.0, 1.409), (4.0, 1.992))
    ),
    Check(
        "heat conductance of one face outdoors [mol m⁻² s⁻¹]",
        "Campbell & Norman 1998, eq. 7.30 × 1.4",
        "leaf of 2 cm, 2.0 m/s",
        1.4 * 1.591,
        0.001,
        partial(_one_face_mol, 2.0, 0.0144),
        "from memory",
    ),
    *(
        Check(
            "radiative conductance [mol m⁻² s⁻¹]",
            "Campbell & Norman 1998, eq. 12.7 and table A.3",
            f"{temp} °C, emissivity 0.97",
            conductance,
            0.0006,
            partial(_radiative_mol, temp),
            "from memory",
        )
        for temp, conductance in ((0.0, 0.153), (10.0, 0.170), (20.0, 0.189), (30.0, 0.209))
    ),
    Check(
        "night leaf less air [K]",
        LEAF,
        "0 °C, 80 %, 270 W/m² per face, 0.5 m/s",
        -1.44,
        0.03,
        partial(_leaf_rise_k, 0.0, 80.0, 0.5, 270.0, 0.0),
        "other program",
    ),
    Check(
        "night leaf less air [K]",
        LEAF,
        "0 °C, 80 %, 270 W/m² per face, 2.0 m/s",
        -0.79,
        0.03,
        partial(_leaf_rise_k, 0.0, 80.0, 2.0, 270.0, 0.0),
        "other program",
    ),
    Check(
        "closed leaf in the sun less air [K]",
        LEAF,
        "30 °C, 40 %, 1.0 m/s, 650 W/m² per face",
        5.25,
        0.05,
        partial(_leaf_rise_k, 30.0, 40.0, 1.0, 650.0, 0.0),
        "other program",
    ),
    Check(
        "transpiring leaf in the sun less air [K]",
        LEAF,
        "the same, stomata 0.2 mol m⁻² s⁻¹ on each face",
        -0.02,
        0.1,
        partial(_leaf_rise_k, 30.0, 40.0, 1.0, 650.0, _both_faces_as_one(0.2, 1.0)),
        "other program",
    ),
    Check(
        "wet face [°C]",
        "wet bulb, Stull 2011 (13.7; psychrometer 13.78); a leaf's vapour moves 9 % more easily than its heat",
        "20 °C, 50 %, 10 m/s, no radiation gained, other face dry and without heat",
        13.8,
        0.3,
        _wet_face_c,
        "recomputed",
    ),
)

TOLERANCE_CHECKS = (
    *(
        Check(
            "root temperature of 50 % damage [°C]",
            RUTER,
            f"{60 * hours} minutes",
            critical,
            0.1,
            partial(_root_critical_c, hours),
            "recomputed",
        )
        for hours, critical in ((1, 48.9), (2, 46.7))
    ),
    Check("root temperature of 50 % damage [°C]", RUTER, "300 minutes", 43.9, 0.8, partial(_root_critical_c, 5)),
    Check(
        "root temperature of 50 % damage [°C]",
        RUTER,
        "30 minutes",
        51.0,
        0.8,
        lambda: load_tables().hazards.root_heat_50_c,
    ),
    Check("silver tip [°C]", PENN, "apple, 15 °F", -9.4, 0.05, lambda: _species("Malus").frost_c["bud-swell"][0]),
    Check("tight cluster [°C]", PENN, "apple, 27 °F", -2.8, 0.05, lambda: _species("Malus").frost_c["flush"][0]),
    Check(
        "roots of 50 % damage in midwinter [°C]",
        "Havis 1976, Acer palmatum 'Atropurpureum' 14 °F (read second-hand; others 15 and 16 °F)",
        "mature roots",
        -10.0,
        1.1,
        lambda: _species("Acer palmatum").root_midwinter_c[1],
        "from memory",
    ),
    Check(
        "roots of 50 % damage when young [°C]",
        "Studer et al. 1978, Juniperus",
        "young roots, ± 2 K",
        -11.0,
        2.0,
        lambda: _species("Juniperus chinensis").root_young_c[1],
        "from memory",
    ),
    Check(
        "emerging leaves of natives, 50 % [°C]",
        "Vitasse, Lenz, Hoch & Körner 2014: -3.5 to -8.3 °C in seven species",
        "middle of the range; Fagus",
        -5.9,
        2.4,
        lambda: _species("Fagus sylvatica").frost_c["flush"][1],
    ),
)

CHAPTER = Chapter("Thermal bodies and what they bear", (*BALL_CHECKS, *LEAF_CHECKS, *TOLERANCE_CHECKS))
