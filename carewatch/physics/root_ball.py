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
    line = _line(liquid_j_k, frozen_j_k, latent_j)
    return _step(enthalpy, line, _walls(between_w_k, boundary_w_k, boundary_c, seconds))


@dataclass(frozen=True)
class _Line:
    """
    The broken line from temperature to enthalpy, as temperature_c takes its parts.

    span: heat of the freezing range; steep: that over the range; solid_gain: what shells frozen through lie above the
    line's own zero. [J], [J K⁻¹], [J]
    """

    liquid: Array
    frozen: Array
    span: Array
    steep: Array
    solid_gain: Array


@dataclass(frozen=True)
class _Walls:
    """Conductances between shells and of the wall, in W K⁻¹ and, over the step, in J K⁻¹; what flows in at 0 °C. [J]"""

    between: Array
    boundary: Array
    boundary_c: Array
    seconds: float
    conduct: Array
    edge: Array
    inflow: Array


def _line(liquid: Array, frozen: Array, latent: Array) -> _Line:
    span = freezing_span_j(liquid, frozen, latent)
    return _Line(liquid, frozen, span, span / FREEZING_RANGE_K, span - frozen * FREEZING_RANGE_K)


def _walls(between: Array, boundary: Array, boundary_c: Array, seconds: float) -> _Walls:
    conduct, edge = seconds * between, seconds * boundary
    return _Walls(between, boundary, boundary_c, seconds, conduct, edge, edge * boundary_c)


def _step(enthalpy: Array, line: _Line, walls: _Walls) -> tuple[Array, Array]:
    """As ball_step."""
    right = enthalpy.copy()
    right[-1] = right[-1] + walls.inflow
    thawed = enthalpy > 0.0
    if thawed.all():
        # Nothing is frozen: unless the step freezes something, one solution is the whole of it.
        temp = _chain(line.liquid + np.zeros_like(right), walls, right.copy())
        if (temp > 0.0).all():
            return _stepped(enthalpy, temp, walls)
    solid = enthalpy < -line.span
    temp = _pieces(thawed, solid, line, walls, right)
    for outer in range(OUTER_STEPS):
        if outer == OUTER_STEPS // 2:
            thawed = np.zeros_like(thawed)
        for _ in range(INNER_STEPS):
            below = (temp < -FREEZING_RANGE_K) & ~thawed
            if not np.count_nonzero(solid != below):
                break
            solid = below
            temp = _pieces(thawed, solid, line, walls, right)
        above = temp > 0.0
        if not np.count_nonzero(above != thawed):
            break
        thawed = above
        solid = solid & ~thawed
        temp = _pieces(thawed, solid, line, walls, right)
    return _stepped(enthalpy, temp, walls)


def _stepped(enthalpy: Array, temp: Array, walls: _Walls) -> tuple[Array, Array]:
    """What a step ends in, its temperatures known: fluxes are those of its end."""
    gain = _gains(temp, walls)
    return enthalpy + walls.seconds * gain, walls.edge * (walls.boundary_c - temp[-1])


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
    if not np.count_nonzero(enthalpy.min(axis=0) > 0.0):
        # Each of the balls is frozen somewhere.
        return _frozen_hour(
            enthalpy, (liquid_j_k, frozen_j_k, latent_j), (between_w_k, boundary_w_k, boundary_c), parts
        )
    conduct, edge = seconds * between_w_k, seconds * boundary_w_k
    diagonal = np.empty_like(enthalpy)
    diagonal[:] = liquid_j_k
    diagonal[:-1] += conduct
    diagonal[1:] += conduct
    diagonal[-1] += edge
    link, hold = list(conduct), list(diagonal)
    # What a shell takes over from its inner neighbour's right side.
    factor = [link[0] / hold[0]]
    for i in range(1, SHELLS):
        hold[i] -= factor[i - 1] * link[i - 1]
        if i < SHELLS - 1:
            factor.append(link[i] / hold[i])
    inverse = np.divide(1.0, diagonal, out=diagonal)
    # What it takes over from its outer neighbour's temperature.
    follows = list(conduct * inverse[:-1])
    inflow = edge * boundary_c
    # Right side, then temperature: one array, and its rows.
    temp = enthalpy.copy()
    shell = list(temp)
    lowest = temp.min(axis=0)
    for part in range(parts):
        if part:
            temp *= liquid_j_k
        shell[-1] += inflow
        for i in range(1, SHELLS):
            shell[i] += factor[i - 1] * shell[i - 1]
        temp *= inverse
        for i in range(SHELLS - 2, -1, -1):
            shell[i] += follows[i] * shell[i + 1]
        np.minimum(lowest, temp.min(axis=0), out=lowest)
    after = temp * liquid_j_k
    if lowest.min() > 0.0:
        return after, temp
    cold = np.flatnonzero(~(lowest > 0.0))
    heat = tuple(np.broadcast_to(part, enthalpy.shape[1:])[cold] for part in (liquid_j_k, frozen_j_k, latent_j))
    walls = between_w_k[:, cold], boundary_w_k[cold], boundary_c[cold]
    after[:, cold], temp[:, cold] = _frozen_hour(enthalpy[:, cold], heat, walls, parts)
    return after, temp


def _frozen_hour(
    enthalpy: Array, heat: tuple[Array, ...], conductances: tuple[Array, Array, Array], parts: int
) -> tuple[Array, Array]:
    """As ball_hour, for balls in which something is frozen or freezes; heat: as temperature_c takes it."""
    liquid, frozen, latent = heat
    line, walls = _line(liquid, frozen, latent), _walls(*conductances, HOUR_S / parts)
    for _ in range(parts):
        enthalpy, _ = _step(enthalpy, line, walls)
    return enthalpy, temperature_c(enthalpy, liquid, frozen, latent)


def _pieces(thawed: NDArray[np.bool_], solid: NDArray[np.bool_], line: _Line, walls: _Walls, right: Array) -> Array:
    """Temperatures if the shells lie on the given pieces of their line."""
    if np.count_nonzero(solid):
        capacity = np.where(thawed, line.liquid, np.where(solid, line.frozen, line.steep))
        return _chain(capacity, walls, right + solid * line.solid_gain)
    return _chain(np.where(thawed, line.liquid, line.steep), walls, right.copy())


def _gains(temp: Array, walls: _Walls) -> Array:
    flow = walls.between * (temp[1:] - temp[:-1])
    gain = np.empty_like(temp)
    gain[0] = flow[0]
    gain[1:-1] = flow[1:] - flow[:-1]
    gain[-1] = walls.boundary * (walls.boundary_c - temp[-1]) - flow[-1]
    return gain


def _chain(diagonal: Array, walls: _Walls, value: Array) -> Array:
    """
    Temperatures of the coupled shells: a tridiagonal, diagonally dominant system, solved by elimination.

    diagonal: capacities, value: right side, both (SHELLS, ...) and used up.
    """
    conduct = walls.conduct
    diagonal[:-1] += conduct
    diagonal[1:] += conduct
    diagonal[-1] += walls.edge
    link = [conduct[i : i + 1] for i in range(SHELLS - 1)]
    holds = [diagonal[i : i + 1] for i in range(SHELLS)]
    shell = [value[i : i + 1] for i in range(SHELLS)]
    for i in range(1, SHELLS):
        factor = link[i - 1] / holds[i - 1]
        shell[i] += factor * shell[i - 1]
        factor *= link[i - 1]
        holds[i] -= factor
    shell[-1] /= holds[-1]
    for i in range(SHELLS - 2, -1, -1):
        shell[i] += link[i] * shell[i + 1]
        shell[i] /= holds[i]
    return value
