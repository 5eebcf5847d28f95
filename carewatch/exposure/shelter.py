"""What shelter does to what stands in it: warmth that moves buds, dark that starves leaves, air that keeps them wet."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from carewatch.condition.dark_carried import MENDS, RESTING_PACE, RESTING_PACE_C, is_dark
from carewatch.exposure.columns import RESTING_NEEDS, Columns, Traits
from carewatch.exposure.surroundings import Surroundings
from carewatch.forecast.weather import Array, Times
from carewatch.physics.humidity import saturation_vapour_pressure_kpa
from carewatch.place.spot import Place

Index = NDArray[np.int64]

# Infection of strawberry flowers by grey mould against wet hours W and temperature T: logit = -4.268 - 0.0901 W +
# 0.0294 W T - 2.35e-5 W T³ (Bulger, Ellis & Madden 1987, Phytopathology 77:1225; coefficients from memory, they give
# the abstract's optimum near 20 °C and all but complete infection after 24 wet hours there). Per wet hour. [h⁻¹]
MOULD = (-0.0901, 0.0294, -2.35e-5)
# Leaves count as wet from this humidity on (common practice of leaf wetness models: 90 %). [0-1]
WET_FROM = 0.9
# Cloth that keeps the deficit of the air under it below this share keeps leaves wet (fleece, tents; not shade cloth;
# judged).
STILL_VPD = 0.92
# In so many dry hours germ tubes have dried out but for 1/e (judged: half a day of dry air ends an infection). [h]
DRIES_H = 12.0


@dataclass(frozen=True)
class Sheltered:
    """
    What stands in shelter feels, arrays (hour, member, column) of the columns that it can touch, 0 for the others.

    warmth_kd, open_kd: thermal time since the first hour there, and outside. [°C d]
    open_low_c: lowest air outside in all hours, (member, 1). [°C]
    dark_d: days in the dark that each hour adds, or in the light makes good. [d]; damp_h: wet hours as at 20 °C that
    leaves in still air carry. [h]
    forced, starved, damp: positions of the columns that each can touch.
    """

    warmth_kd: Array
    open_kd: Array
    open_low_c: Array
    dark_d: Array
    damp_h: Array
    forced: Index
    starved: Index
    damp: Index


def unsheltered(shape: tuple[int, int, int]) -> Sheltered:
    """Of columns that no shelter touches; shape: (hour, member, column)."""
    nothing, nobody = np.broadcast_to(np.zeros(()), shape), np.zeros(0, dtype=np.int64)
    return Sheltered(nothing, nothing, nothing[0], nothing, nothing, nobody, nobody, nobody)


@dataclass(frozen=True)
class Look:
    """
    Which columns stand in shelter when, and what it could do to them.

    forced, starved, damp: positions; in_dark, still: of the latter two, (hour, len).
    """

    forced: Index
    starved: Index
    damp: Index
    in_dark: NDArray[np.bool_]
    still: NDArray[np.bool_]

    @property
    def any(self) -> bool:
        """Whether shelter does anything to any column."""
        return bool(self.forced.size or self.starved.size or self.damp.size)

    def feels(self, around: Surroundings, demand_mol: Array) -> dict[str, Array]:
        """What must be kept of a piece of the hours; demand_mol: negative where dew settles. [mol m⁻² s⁻¹]"""
        air = around.crown_air_c
        damp_air = air[..., self.damp]
        humid = around.vapour_kpa[..., self.damp] >= WET_FROM * saturation_vapour_pressure_kpa(damp_air)
        wet = humid | (demand_mol[..., self.damp] < 0.0) | (around.rain_mm[..., self.damp] > 0.0)
        return {
            "forced_air_c": air[..., self.forced],
            "dark_air_c": air[..., self.starved],
            "damp_air_c": damp_air,
            "wet_leaf": wet.astype(np.float64),
        }

    def felt(
        self,
        found: Mapping[str, Array],
        open_air_c: Array,
        chosen: Index | None,
        day: Times,
        traits: Traits,
        damp_began_h: Array,
    ) -> Sheltered:
        """
        All hours together.

        found: from `feels`; open_air_c: (hour, member, 1). [°C]; chosen: members per column, (member, column), or None.
        day: local date of each hour; damp_began_h: carried, (member, column). [h]
        """
        hours = day.size
        shape = (hours, *damp_began_h.shape)
        if not self.any:
            return unsheltered(shape)

        def spread(index: Index, values: Callable[[], Array]) -> Array:
            if not index.size:
                return np.broadcast_to(np.zeros(()), shape)
            whole = np.zeros(shape)
            whole[..., index] = values()
            return whole

        outside = np.broadcast_to(open_air_c, (hours, open_air_c.shape[1], shape[2]))
        if chosen is not None:
            outside = np.take_along_axis(open_air_c, chosen[None], axis=1)
        base = traits.forcing_base_c[self.forced]
        return Sheltered(
            warmth_kd=spread(self.forced, lambda: warmth_kd(found["forced_air_c"], day, base)),
            open_kd=spread(self.forced, lambda: warmth_kd(outside[..., self.forced], day, base)),
            open_low_c=outside.min(axis=0),
            dark_d=spread(self.starved, lambda: dark_pace(found["dark_air_c"], self.in_dark, traits, self.starved)),
            damp_h=spread(
                self.damp,
                lambda: damp_hours(
                    found["damp_air_c"], found["wet_leaf"] > 0.0, self.still, damp_began_h[:, self.damp]
                ),
            ),
            forced=self.forced,
            starved=self.starved,
            damp=self.damp,
        )


def look(places: Sequence[Place], columns: Columns, traits: Traits) -> Look:
    """Which columns stand in shelter that could harm them."""
    inside = np.array([place.enclosed for place in places])[columns.place]
    shut = np.array([place.enclosed and place.exchange <= 1.0 for place in places])[columns.place]
    still = shut | (columns.vpd < STILL_VPD)
    for_others, for_tender = (np.array([is_dark(place, rooms) for place in places]) for rooms in (False, True))
    in_dark = np.where(traits.keeps_in_rooms > 0.0, for_tender[columns.place], for_others[columns.place])
    forced = np.nonzero(inside.any(axis=0) & (traits.forces > 0.0))[0]
    starved = np.nonzero(in_dark.any(axis=0) & (traits.light_need > 0.0))[0]
    damp = np.nonzero(still.any(axis=0) & (traits.in_leaf > 0.0))[0]
    return Look(forced, starved, damp, in_dark[:, starved], still[:, damp])


def warmth_kd(air_c: Array, day: Times, base_c: Array) -> Array:
    """
    Thermal time since the first hour, by daily means as condition.stage counts it, (hour, member, column). [°C d]

    air_c: (hour, member, column). [°C]; day: local date of each hour. base_c: (column,). [°C]
    What a day brings comes in its warm hours; a day that is not whole brings its share.
    """
    starts = np.unique(day, return_index=True)[1]
    lengths = np.diff(np.append(starts, day.size))
    means = np.add.reduceat(air_c, starts, axis=0) / lengths[:, None, None]
    brings = np.maximum(means - base_c, 0.0) * (lengths / 24.0)[:, None, None]
    warm = np.maximum(air_c - base_c, 0.0)
    of_day = np.maximum(np.add.reduceat(warm, starts, axis=0), 1e-9)
    result: Array = np.cumsum(warm * np.repeat(brings / of_day, lengths, axis=0), axis=0)
    return result


def dark_pace(air_c: Array, in_dark: NDArray[np.bool_], traits: Traits, index: Index) -> Array:
    """
    Days in the dark that each hour adds, or in the light makes good, (hour, member, len(index)). [d]

    air_c: of these columns. [°C]; in_dark: (hour, len(index)).
    """
    resting = np.interp(air_c, RESTING_PACE_C, RESTING_PACE)
    pace = np.where(traits.light_need[index] == RESTING_NEEDS, resting, 1.0)
    result: Array = np.where(in_dark[:, None, :], pace, -MENDS) / 24.0
    return result


def mould_pace(temp_c: Array) -> Array:
    """How fast grey mould gets hold of a wet leaf, against 20 °C. [0-1]"""
    constant, linear, cubic = MOULD
    at_20 = constant + linear * 20.0 + cubic * 8000.0
    result: Array = np.maximum(constant + linear * temp_c + cubic * temp_c**3, 0.0) / at_20
    return result


def damp_hours(temp_c: Array, wet: NDArray[np.bool_], still: NDArray[np.bool_], began_h: Array) -> Array:
    """
    Wet hours in still air, as at 20 °C, that a leaf carries, (hour, member, column). [h]

    temp_c: of the air. [°C]; wet: whether its leaves are wet: what is wet does not dry out, be it in moving air; still:
    (hour, column); began_h: carried before, (member, column).
    """
    gains = np.where(wet & still[:, None, :], mould_pace(temp_c), 0.0)
    kept = np.where(wet, 1.0, np.exp(-1.0 / DRIES_H))
    carried, found = began_h, np.empty_like(gains)
    for hour in range(gains.shape[0]):
        carried = carried * kept[hour] + gains[hour]
        found[hour] = carried
    return found
