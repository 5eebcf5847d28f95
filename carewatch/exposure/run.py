"""Exposure: what every column feels, hour by hour and member by member."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from carewatch.exposure.bark import bared, bark_c, thaw_age_h
from carewatch.exposure.columns import WATERING_HOURS, Columns, Traits
from carewatch.exposure.crown_load import falls, hold, is_wintry
from carewatch.exposure.march import Drive, March, RootState, march, rain_and_drying, start_roots
from carewatch.exposure.pot_wall import WallExchange, wall_exchange
from carewatch.exposure.shelter import Sheltered, look
from carewatch.exposure.surroundings import Surroundings, surroundings
from carewatch.exposure.tissue import Tissue, limited_c, tissue
from carewatch.exposure.top_layer import loose, top_ice
from carewatch.exposure.wind_load import overturning_ratio
from carewatch.forecast.weather import Array, Times
from carewatch.physics.evaporation import reference_et_hourly_mm
from carewatch.physics.root_ball import BallShape, ball_shape
from carewatch.place.microclimate import Microclimate
from carewatch.place.spot import Place

# A ratio above this says no more than that the roots bring nothing. [-]
MOST_DEMAND = 99.0
# Values (hour x member x column) that are worked on together where hours do not depend on each other: what they need
# stays in the cache. Measured on a two-core x86 server.
PIECE_VALUES = 12_288


@dataclass(frozen=True)
class Whole:
    """
    Everything on the way to what the columns feel, for whoever wants to see it.

    demand_to_supply: [-]
    """

    around: Surroundings
    parts: Tissue
    wall: WallExchange
    demand_to_supply: Array


@dataclass(frozen=True)
class Exposure:
    """
    What each column feels, arrays (hour, member, column) unless said otherwise.

    tissue_c: organ that faces the sky. [°C]; wet: dew or rime settles on it; gust_ms: at mid-crown. [m s⁻¹]
    overturning: [-]; direct_kwh: direct sun on a level leaf since local midnight. [kWh m⁻²]
    sun_side_c: sunlit quarter of the outermost shell. [°C]
    bark_c: sunlit face of the stem, of columns whose bark is not used to the sun; NaN for the others. [°C]
    top_ice: share of the water in the uppermost substrate that is ice, of columns that ice could lift; 0 for the
    others. [0-1]
    thaw_age_h: hours since bark_c last thawed before the first hour, (member, column). [h]
    crown_snow_mm, crown_ice_mm: snow as water, and ice round the twigs, that the crown holds. [mm]
    sheltered: what stands in shelter feels besides.
    day: local date of each hour's middle as datetime64[D], (hour,). whole: only where it was asked for.
    """

    times: Times
    day: Times
    roots: March
    tissue_c: Array
    wet: NDArray[np.bool_]
    gust_ms: Array
    overturning: Array
    direct_kwh: Array
    sun_side_c: Array
    bark_c: Array
    top_ice: Array
    thaw_age_h: Array
    crown_snow_mm: Array
    crown_ice_mm: Array
    sheltered: Sheltered
    whole: Whole | None


class _Hours:
    """Arrays that are filled piece by piece along their hours."""

    def __init__(self, hours: int) -> None:
        self.hours = hours
        self.filled: dict[str, Array] = {}

    def put(self, part: slice, **values: Array) -> None:
        """Fill in a piece of each named array."""
        for name, piece in values.items():
            if name not in self.filled:
                self.filled[name] = np.empty((self.hours, *piece.shape[1:]), piece.dtype)
            self.filled[name][part] = piece


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
    keep: bool = False,
) -> tuple[Exposure, RootState]:
    """
    Exposure of the columns over the hours of a microclimate, and the roots' state after the last.

    times: stamps, UTC; local: the same in the site's clock, datetime64[s].
    traits: one row per column. supply_cap_mmol, uptake_points, soak_q10: as limits.doses.HazardNumbers.
    state: carry-over, or None to start with a full pot at soil temperature.
    chosen: members to run per column, (member, column); None: all. keep: the result carries all that led to it.

    Three passes: what surrounds leaf and pot, hour by hour independent; the march of roots and water, which carries
    state; and what the organs feel with the water they really got.
    """
    hours, members = micro.air_2m_c.shape[0], micro.air_2m_c.shape[1] if chosen is None else chosen.shape[0]
    pieces = _pieces(hours, members * len(columns))
    shape = shape_of(traits)
    heights = np.array([place.height_m for place in places])[columns.place]
    base = np.where(np.isnan(columns.base_height_m), heights, columns.base_height_m)
    all_hours, kept = _Hours(hours), _Hours(hours)
    bare, light_held = bared(traits), loose(traits)
    inside = look(places, columns, traits)
    wintry = is_wintry(micro) or (
        state is not None and bool(np.count_nonzero(state.crown_snow_mm) or np.count_nonzero(state.crown_ice_mm))
    )
    for part in pieces:
        here = columns.span(part)
        around = surroundings(_span(micro, part), places, here, traits, chosen)
        parts = tissue(around, traits)
        reference = _reference_mm(around)
        wall = wall_exchange(around, here, traits, shape, base[part], reference)
        rises, dries = rain_and_drying(around.rain_mm, reference, here, traits)
        if part.start == 0:
            began = start_roots(shape, traits, around.soil_c[0]) if state is None else state
        all_hours.put(
            part,
            conductance_w_k=wall.conductance_w_k,
            surround_c=wall.surround_c,
            demand_mol=parts.demand_mol,
            closed_mol=parts.closed_mol,
            rises=rises,
            dries=dries,
            supplied_c=parts.supplied_c,
            closed_c=parts.closed_c,
            gust_ms=around.gust_ms,
            direct_kwh=around.beam_wm2 * (around.sun_sine * traits.in_leaf / 1000.0),
            sun_side_k=wall.sun_side_k,
        )
        if bare.size:
            all_hours.put(part, bark_c=bark_c(around, here, traits, bare))
        if light_held.size:
            all_hours.put(part, top_c=wall.top_c[..., light_held], top_wm2k=wall.top_wm2k[..., light_held])
        if wintry:
            all_hours.put(part, **falls(around, parts.vpd_kpa, here, traits))
        if inside.any:
            all_hours.put(part, **inside.feels(around, parts.demand_mol))
        if keep:
            kept.put(part, **_arrays(around), **_arrays(parts), **_arrays(wall))
    found = all_hours.filled
    roots, after = march(
        Drive(**{field.name: found[field.name] for field in fields(Drive)}),
        watering_hours(local, traits),
        columns,
        traits,
        shape,
        supply_cap_mmol / 1000.0,
        uptake_points,
        soak_q10,
        began,
    )
    felt = _Hours(hours)
    for part in pieces:
        demand, closed_mol = found["demand_mol"][part], found["closed_mol"][part]
        water = traits.capacity * (1.0 - traits.available * (1.0 - roots.water_left[part]))
        felt.put(
            part,
            tissue_c=limited_c(
                found["supplied_c"][part], found["closed_c"][part], demand, closed_mol, roots.rate_mol[part]
            ),
            overturning=overturning_ratio(found["gust_ms"][part], traits, water, columns.topple[part]),
            sun_side_c=roots.shells_c[part, -1] + found["sun_side_k"][part],
        )
    whole = (hours, members, len(columns))
    ice = top_ice(found["top_c"], found["top_wm2k"], roots, traits, light_held) if light_held.size else None
    day = (local - np.timedelta64(30, "m")).astype("datetime64[D]")
    snow, crusts = hold(found, began.crown_snow_mm, began.crown_ice_mm) if wintry else (None, None)
    shelter = inside.felt(found, micro.open_air_c, chosen, day, traits, began.damp_h)
    after = replace(
        after,
        thaw_age_h=_last(began.thaw_age_h, bare, thaw_age_h(found["bark_c"], began.thaw_age_h[:, bare]))
        if bare.size
        else began.thaw_age_h,
        crown_snow_mm=began.crown_snow_mm if snow is None else snow[-1],
        crown_ice_mm=began.crown_ice_mm if crusts is None else crusts[-1],
        damp_h=shelter.damp_h[-1],
    )
    return (
        Exposure(
            times=times,
            day=day,
            roots=roots,
            tissue_c=felt.filled["tissue_c"],
            wet=found["demand_mol"] < 0.0,
            gust_ms=found["gust_ms"],
            overturning=felt.filled["overturning"],
            direct_kwh=sum_since_midnight(found["direct_kwh"], day),
            sun_side_c=felt.filled["sun_side_c"],
            bark_c=_some(whole, bare, np.nan, found.get("bark_c")),
            top_ice=_some(whole, light_held, 0.0, ice),
            thaw_age_h=began.thaw_age_h,
            crown_snow_mm=np.broadcast_to(0.0, whole) if snow is None else snow,
            crown_ice_mm=np.broadcast_to(0.0, whole) if crusts is None else crusts,
            sheltered=shelter,
            whole=_whole(kept.filled, roots, traits) if keep else None,
        ),
        after,
    )


def _some(shape: tuple[int, int, int], index: NDArray[np.int64], otherwise: float, values: Array | None) -> Array:
    """What was worked out for the columns at these positions only, in its place; without any it takes no memory."""
    if values is None:
        return np.broadcast_to(np.array(otherwise), shape)
    whole = np.full(shape, otherwise)
    whole[..., index] = values
    return whole


def _last(before: Array, index: NDArray[np.int64], values: Array) -> Array:
    """A carried value, anew for the columns at these positions."""
    result = before.copy()
    result[:, index] = values
    return result


def _pieces(hours: int, values: int) -> list[slice]:
    """Hours cut into pieces that fit the cache, each of so many values an hour."""
    size = max(1, PIECE_VALUES // values)
    return [slice(start, min(start + size, hours)) for start in range(0, hours, size)]


def _span(micro: Microclimate, part: slice) -> Microclimate:
    return Microclimate(**{name: values[part] for name, values in _arrays(micro).items()})


def _arrays(of: Microclimate | Surroundings | Tissue | WallExchange) -> dict[str, Array]:
    return {field.name: getattr(of, field.name) for field in fields(of)}


def _whole(kept: dict[str, Array], roots: March, traits: Traits) -> Whole:
    brings = np.maximum(roots.supply_mol, 1e-9)
    return Whole(
        around=Surroundings(**{field.name: kept[field.name] for field in fields(Surroundings)}),
        parts=Tissue(**{field.name: kept[field.name] for field in fields(Tissue)}),
        wall=WallExchange(**{field.name: kept[field.name] for field in fields(WallExchange)}),
        demand_to_supply=np.minimum(
            np.where(traits.in_leaf > 0, np.maximum(kept["demand_mol"], 0.0) / brings, 0.0), MOST_DEMAND
        ),
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
