"""
Temperature of the substrate in a pot: five nested shells of equal volume, with the heat of freezing.

The state of a shell is its enthalpy, so that while water freezes the temperature stays near 0 °C until the latent heat
has gone. The step is implicit and conserves energy by construction: what the shells gain is what crosses the wall.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

SHELLS = 5
HOUR_S = 3600.0
# Water holds 4.18 and ice 1.9 MJ m⁻³ K⁻¹; freezing frees 334 kJ/kg (Oke 1987, table 2.1). [J m⁻³ K⁻¹], [J m⁻³]
WATER_HEAT = 4.18e6
ICE_HEAT = 1.9e6
FUSION = 3.34e8
# Water in a substrate freezes over half a kelvin, not at a point (held in pores; judged). [K]
FREEZING_RANGE_K = 0.5
# An hour is walked in three steps: against twenty-four layers the mean of the ball is then within 0.25 K (root mean
# square over a fortnight) in every pot of tests/reference, where one step leaves 0.4 K and two leave 0.3 K.
HOUR_PARTS = 3
# Pieces settle in one to four rounds; the second half starts anew from the safe side.
OUTER_STEPS = 12
INNER_STEPS = 6


@dataclass(frozen=True)
class BallShape:
    """
    Geometry and conductances of the balls, each of shape (column,).

    volume_m3: of the substrate; area_m2: of its whole surface; radius_m: three times volume over area.
    """

    volume_m3: Array
    area_m2: Array
    radius_m: Array


def ball_shape(volume_m3: Array, area_m2: Array) -> BallShape:
    """Shape with the radius of the similar sphere-like body, for which volume, area and path lengths agree."""
    return BallShape(volume_m3, area_m2, 3.0 * volume_m3 / area_m2)


def _scales() -> Array:
    """Linear scale of the shell borders from the centre outwards, equal volumes between them. [-]"""
    return np.cbrt(np.arange(SHELLS + 1) / SHELLS)


def _middles() -> Array:
    """Linear scale that halves the volume of each shell. [-]"""
    return np.cbrt((np.arange(SHELLS) + 0.5) / SHELLS)


def shell_conductances_w_k(shape: BallShape, conductivity: Array) -> Array:
    """
    Conductance between neighbouring shells, innermost first, shape (SHELLS - 1, ...). [W K⁻¹]

    conductivity: of the substrate, broadcastable to (..., column). [W m⁻¹ K⁻¹]
    """
    result: Array = np.multiply.outer(shell_factors(), conductivity_shape(shape) * conductivity)
    return result


def shell_factors() -> Array:
    """Area of each border over the path across it, for a ball of unit area and radius, shape (SHELLS - 1,). [-]"""
    result: Array = _scales()[1:-1] ** 2 / np.diff(_middles())
    return result


def conductivity_shape(shape: BallShape) -> Array:
    """Area over radius of each ball: what a conductivity is multiplied with. [m]"""
    return shape.area_m2 / shape.radius_m


def outer_path_m(shape: BallShape) -> Array:
    """Distance from the middle of the outermost shell to the wall. [m]"""
    result: Array = (1.0 - _middles()[-1]) * shape.radius_m
    return result


def freezing_span_j(liquid_j_k: Array, frozen_j_k: Array, latent_j: Array) -> Array:
    """Heat that a shell gives off between 0 °C and the end of its freezing range. [J]"""
    return latent_j + 0.5 * FREEZING_RANGE_K * (liquid_j_k + frozen_j_k)


def temperature_c(enthalpy: Array, liquid_j_k: Array, frozen_j_k: Array, latent_j: Array) -> Array:
    """
    Temperature of a shell. [°C]

    enthalpy: above liquid at 0 °C. [J]; liquid_j_k, frozen_j_k: heat capacities. [J K⁻¹]; latent_j: of all water. [J]
    """
    if np.min(enthalpy) >= 0.0:
        return np.asarray(enthalpy / liquid_j_k)
    span = freezing_span_j(liquid_j_k, frozen_j_k, latent_j)
    mushy = enthalpy * FREEZING_RANGE_K / span
    solid = -FREEZING_RANGE_K + (enthalpy + span) / frozen_j_k
    return np.where(enthalpy >= 0.0, enthalpy / liquid_j_k, np.where(enthalpy >= -span, mushy, solid))


def enthalpy_j(temp_c: Array, liquid_j_k: Array, frozen_j_k: Array, latent_j: Array) -> Array:
    """Enthalpy of a shell at a temperature, the inverse of temperature_c. [J]"""
    span = freezing_span_j(liquid_j_k, frozen_j_k, latent_j)
    return np.where(
        temp_c >= 0.0,
        temp_c * liquid_j_k,
        np.where(
            temp_c >= -FREEZING_RANGE_K,
            temp_c * span / FREEZING_RANGE_K,
            (temp_c + FREEZING_RANGE_K) * frozen_j_k - span,
        ),
    )


def heat_capacities(
    shape: BallShape, water: Array, porosity: Array, solid_heat_mj: Array
) -> tuple[Array, Array, Array]:
    """
    Heat capacity of one shell with liquid and with frozen water, and its latent heat. [J K⁻¹], [J K⁻¹], [J]

    water: volumetric. [0-1]; porosity: [0-1]; solid_heat_mj: of the solids. [MJ m⁻³ K⁻¹]
    """
    shell = shape.volume_m3 / SHELLS
    solids = (1.0 - porosity) * solid_heat_mj * 1e6
    return shell * (solids + water * WATER_HEAT), shell * (solids + water * ICE_HEAT), shell * water * FUSION


def ball_step(
    enthalpy: Array,
    liquid_j_k: Array,
    frozen_j_k: Array,
    latent_j: Array,
    between_w_k: Array,
    boundary_w_k: Array,
    boundary_c: Array,
    seconds: float = HOUR_S,
) -> tuple[Array, Array]:
    """
    Enthalpies one step later, and the heat that crossed the wall inwards. [J], [J]

    enthalpy: shape (SHELLS, ...), innermost first. [J]; capacities as temperature_c.
    between_w_k: shape (SHELLS - 1, ...). [W K⁻¹]; boundary_w_k, boundary_c: of the outermost shell to its surroundings.

    Backward Euler in the temperatures. Enthalpy is a broken line of temperature: steep while water freezes. Which piece
    each shell lies on is found by the nested Newton iteration of Brugnano & Casulli 2008 (Casulli & Zanolli 2010): the
    line is split into a convex and a concave part, of which the outer loop takes "thawed" and the inner loop "frozen
    through"; from the safe start, nothing thawed, it climbs to the solution and cannot overshoot. Fluxes are taken
    from the final temperatures, so the sum of what shells gain equals the returned heat to rounding.
    """
    span = freezing_span_j(liquid_j_k, frozen_j_k, latent_j)
    steep = span / FREEZING_RANGE_K
    right = enthalpy.copy()
    right[-1] = right[-1] + seconds * boundary_w_k * boundary_c
    conduct = seconds * between_w_k
    edge = seconds * boundary_w_k
    solid_gain = span - frozen_j_k * FREEZING_RANGE_K
    thawed = enthalpy > 0.0
    if thawed.all():
        # Nothing is frozen: unless the step freezes something, one solution is the whole of it.
        temp = _chain(liquid_j_k + np.zeros_like(right), conduct, edge, right.copy())
        if (temp > 0.0).all():
            gain = _gains(temp, between_w_k, boundary_w_k, boundary_c)
            return enthalpy + seconds * gain, seconds * boundary_w_k * (boundary_c - temp[-1])
    solid = enthalpy < -span
    temp = _pieces(thawed, solid, (liquid_j_k, frozen_j_k, steep), (conduct, edge, right, solid_gain))
    for outer in range(OUTER_STEPS):
        if outer == OUTER_STEPS // 2:
            thawed = np.zeros_like(thawed)
        for _ in range(INNER_STEPS):
            below = (temp < -FREEZING_RANGE_K) & ~thawed
            if not (solid != below).any():
                break
            solid = below
            temp = _pieces(thawed, solid, (liquid_j_k, frozen_j_k, steep), (conduct, edge, right, solid_gain))
        above = temp > 0.0
        if not (above != thawed).any():
            break
        thawed = above
        solid = solid & ~thawed
        temp = _pieces(thawed, solid, (liquid_j_k, frozen_j_k, steep), (conduct, edge, right, solid_gain))
    gain = _gains(temp, between_w_k, boundary_w_k, boundary_c)
    return enthalpy + seconds * gain, seconds * boundary_w_k * (boundary_c - temp[-1])


def ball_hour(
    enthalpy: Array,
    liquid_j_k: Array,
    frozen_j_k: Array,
    latent_j: Array,
    between_w_k: Array,
    boundary_w_k: Array,
    boundary_c: Array,
    parts: int = HOUR_PARTS,
) -> tuple[Array, Array]:
    """
    Enthalpies an hour later and their temperatures. [J], [°C]

    All arrays (SHELLS, ball), (SHELLS - 1, ball) or (ball,), as ball_step; parts: steps of the hour.

    The same as so many steps of ball_step. Balls in which nothing is frozen or freezes share one elimination for all
    steps; only the others look for the pieces of their line.
    """
    seconds = HOUR_S / parts
    conduct, edge = seconds * between_w_k, seconds * boundary_w_k
    diagonal = np.empty_like(enthalpy)
    diagonal[:] = liquid_j_k
    diagonal[:-1] += conduct
    diagonal[1:] += conduct
    diagonal[-1] += edge
    factor = np.empty_like(conduct)
    for i in range(1, SHELLS):
        np.divide(conduct[i - 1], diagonal[i - 1], out=factor[i - 1])
        diagonal[i] -= factor[i - 1] * conduct[i - 1]
    inverse = np.divide(1.0, diagonal, out=diagonal)
    # What a shell takes over from its outer neighbour's temperature.
    follows = conduct * inverse[:-1]
    inflow = edge * boundary_c
    value = enthalpy.copy()
    temp = value
    lowest = value.min(axis=0)
    for part in range(parts):
        if part:
            np.multiply(temp, liquid_j_k, out=value)
        value[-1] += inflow
        for i in range(1, SHELLS):
            value[i] += factor[i - 1] * value[i - 1]
        temp = np.multiply(value, inverse, out=value)
        for i in range(SHELLS - 2, -1, -1):
            temp[i] += follows[i] * temp[i + 1]
        np.minimum(lowest, temp.min(axis=0), out=lowest)
    after = temp * liquid_j_k
    if lowest.min() > 0.0:
        return after, temp
    cold = np.flatnonzero(~(lowest > 0.0))
    heat = tuple(np.broadcast_to(part, enthalpy.shape[1:])[cold] for part in (liquid_j_k, frozen_j_k, latent_j))
    walls = boundary_w_k[cold], boundary_c[cold]
    chilled, passing = enthalpy[:, cold], between_w_k[:, cold]
    for _ in range(parts):
        chilled, _ = ball_step(chilled, heat[0], heat[1], heat[2], passing, *walls, seconds)
    after[:, cold] = chilled
    temp[:, cold] = temperature_c(chilled, heat[0], heat[1], heat[2])
    return after, temp


def _pieces(
    thawed: NDArray[np.bool_],
    solid: NDArray[np.bool_],
    capacities: tuple[Array, Array, Array],
    system: tuple[Array, Array, Array, Array],
) -> Array:
    """Temperatures if the shells lie on the given pieces of their line."""
    liquid, frozen, steep = capacities
    conduct, edge, right, solid_gain = system
    if solid.any():
        capacity = np.where(thawed, liquid, np.where(solid, frozen, steep))
        return _chain(capacity, conduct, edge, right + solid * solid_gain)
    return _chain(np.where(thawed, liquid, steep), conduct, edge, right.copy())


def _gains(temp: Array, between: Array, boundary: Array, boundary_c: Array) -> Array:
    flow = between * (temp[1:] - temp[:-1])
    gain = np.empty_like(temp)
    gain[0] = flow[0]
    gain[1:-1] = flow[1:] - flow[:-1]
    gain[-1] = boundary * (boundary_c - temp[-1]) - flow[-1]
    return gain


def _chain(diagonal: Array, conduct: Array, edge: Array, value: Array) -> Array:
    """
    Temperatures of the coupled shells: a tridiagonal, diagonally dominant system, solved by elimination.

    diagonal: capacities, value: right side, both (SHELLS, ...) and used up.
    """
    diagonal[:-1] += conduct
    diagonal[1:] += conduct
    diagonal[-1] += edge
    for i in range(1, SHELLS):
        factor = conduct[i - 1] / diagonal[i - 1]
        value[i] += factor * value[i - 1]
        factor *= conduct[i - 1]
        diagonal[i] -= factor
    value[-1] /= diagonal[-1]
    for i in range(SHELLS - 2, -1, -1):
        value[i] = (value[i] + conduct[i] * value[i + 1]) / diagonal[i]
    return value
