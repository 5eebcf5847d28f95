"""Exposure: what every column feels, hour by hour and member by member."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carewatch.exposure.columns import WATERING_HOURS, Columns, Traits
from carewatch.exposure.march import March, RootState, march, start_roots
from carewatch.exposure.pot_wall import WallExchange, wall_exchange
from carewatch.exposure.surroundings import Surroundings, surroundings
from carewatch.exposure.tissue import Tissue, limited_c, tissue
from carewatch.exposure.wind_load import overturning_ratio
from carewatch.forecast.weather import Array, Times
from carewatch.physics.evaporation import reference_et_hourly_mm
from carewatch.physics.root_ball import BallShape, ball_shape
from carewatch.place.microclimate import Microclimate
from carewatch.place.spot import Place

# A ratio above this says no more than that the roots bring nothing. [-]
MOST_DEMAND = 99.0


@dataclass(frozen=True)
class Exposure:
    """
    What each column feels, arrays (hour, member, column) unless said otherwise.

    tissue_c: organ that faces the sky. [°C]; demand_to_supply: [-]; overturning: [-]
    direct_kwh: direct sun on a level leaf since local midnight. [kWh m⁻²]
    sun_side_c: sunlit quarter of the outermost shell. [°C]
    day: local date of each hour's middle as datetime64[D], (hour,).
    """

    times: Times
    day: Times
    around: Surroundings
    parts: Tissue
    roots: March
    wall: WallExchange
    tissue_c: Array
    demand_to_supply: Array
    overturning: Array
    direct_kwh: Array
    sun_side_c: Array


def shape_of(traits: Traits) -> BallShape:
    """Ball geometry of every column."""
    return ball_shape(traits.volume_m3, traits.wall_m2 + traits.top_m2 + traits.base_m2)


def expose(
    times: Times,
    local: Times,
    micro: Microclimate,
    places: Sequence[Place],
    columns: Columns,
    traits: Traits,
    supply_cap_mmol: float,
    uptake_points: tuple[tuple[float, float], ...],
    soak_q10: float,
    state: RootState | None,
    chosen: NDArray[np.int64] | None = None,
) -> tuple[Exposure, RootState]:
    """
    Exposure of the columns over the hours of a microclimate, and the roots' state after the last.

    times: stamps, UTC; local: the same in the site's clock, datetime64[s].
    traits: one row per column. supply_cap_mmol, uptake_points, soak_q10: as limits.doses.HazardNumbers.
    state: carry-over, or None to start with a full pot at soil temperature.
    chosen: members to run per column, (member, column); None: all.
    """
    around = surroundings(micro, places, columns, traits, chosen)
    parts = tissue(around, traits)
    shape = shape_of(traits)
    heights = np.array([place.height_m for place in places])[columns.place]
    base = np.where(np.isnan(columns.base_height_m), heights, columns.base_height_m)
    reference = _reference_mm(around)
    wall = wall_exchange(around, columns, traits, shape, base, reference)
    if state is None:
        state = start_roots(shape, traits, around.soil_c[0])
    roots, after = march(
        wall,
        parts,
        reference,
        around.rain_mm,
        watering_hours(local, traits),
        columns,
        traits,
        shape,
        supply_cap_mmol / 1000.0,
        uptake_points,
        soak_q10,
        state,
    )
    water = traits.capacity * (1.0 - traits.available * (1.0 - roots.water_left))
    brings = np.maximum(roots.supply_mol, 1e-9)
    day = (local - np.timedelta64(30, "m")).astype("datetime64[D]")
    direct = around.beam_wm2 * around.sun_sine * traits.in_leaf / 1000.0
    return (
        Exposure(
            times=times,
            day=day,
            around=around,
            parts=parts,
            roots=roots,
            wall=wall,
            tissue_c=limited_c(parts, roots.rate_mol),
            demand_to_supply=np.minimum(
                np.where(traits.in_leaf > 0, np.maximum(parts.demand_mol, 0.0) / brings, 0.0), MOST_DEMAND
            ),
            overturning=overturning_ratio(around, traits, water, columns.topple),
            direct_kwh=sum_since_midnight(direct, day),
            sun_side_c=roots.shells_c[:, -1] + wall.sun_side_k,
        ),
        after,
    )


def sum_since_midnight(values: Array, day: Times) -> Array:
    """Running sum along hours that starts anew with each local day."""
    total = np.cumsum(values, axis=0)
    start = np.searchsorted(day, day, side="left")
    before = np.concatenate([np.zeros((1, *values.shape[1:])), total], axis=0)[start]
    result: Array = total - before
    return result


def watering_hours(local: Times, traits: Traits) -> Array:
    """1 in the hours whose stamp ends a watering of the habit, (hour, column). Days count from a fixed date."""
    hour = ((local - local.astype("datetime64[D]")) / np.timedelta64(1, "h")).astype(np.float64)
    day: NDArray[np.int64] = local.astype("datetime64[D]").astype(np.int64)
    morning, evening = WATERING_HOURS["twice-daily"]
    every = np.where(traits.watering_every_days > 0, traits.watering_every_days, 1e9)
    due = (day[:, None] % every[None, :]) < 1.0
    early = (np.abs(hour - morning) < 0.5)[:, None] & due & (traits.watering_every_days > 0)
    late = (np.abs(hour - evening) < 0.5)[:, None] & (traits.watering_twice > 0)
    result: Array = (early | late).astype(np.float64)
    return result


def _reference_mm(around: Surroundings) -> Array:
    """Reference evapotranspiration at each column, FAO-56 eq. 53 with the place's own light and wind. [mm h⁻¹]"""
    light = around.beam_wm2 * around.sun_sine + around.diffuse_wm2
    daylight = light > 5.0
    # Net radiation from what really comes down at the place; 0.23 is the reference grass (FAO-56). [MJ m⁻² h⁻¹]
    longwave = around.longwave_down_wm2 - around.longwave_up_wm2
    net = (0.77 * light + longwave) * 0.0036
    return np.maximum(
        reference_et_hourly_mm(
            around.crown_air_c, around.vapour_kpa, around.wind_ms, net, around.pressure_kpa, daylight
        ),
        0.0,
    )
