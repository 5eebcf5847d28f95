"""Floors, root balls and pots settle on the past; what they had become by the last midnight may be kept meanwhile."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from carewatch.exposure.checkpoint import key_of, packed, unpacked
from carewatch.exposure.columns import Columns, Traits
from carewatch.exposure.kept import Checkpoint
from carewatch.exposure.march import RootState
from carewatch.exposure.run import Exposure, expose
from carewatch.exposure.toll import Toll, no_toll
from carewatch.forecast.weather import Hours, Times
from carewatch.physics.sun import sun_of_hours
from carewatch.place.light import canopy_leaf
from carewatch.place.microclimate import Microclimate, MicroclimateState, microclimate, start_state
from carewatch.place.spot import Place, Site


@dataclass(frozen=True)
class Settled:
    """
    State after the last hour of a stretch.

    ground: floors and enclosures; roots: root balls, pots and leaves; toll: what has probably been lost by then.
    """

    ground: MicroclimateState
    roots: RootState
    toll: Toll


# What a stretch took, added to what had been lost before it.
Tally = Callable[[Exposure, Toll], Toll]


@dataclass(frozen=True)
class Stretch:
    """
    Hours of the past in one member, with the trees as they were.

    local: the hours' stamps in the site's clock; columns: what was in force; season_c: ground below half a metre. [°C]
    """

    hours: Hours
    local: Times
    columns: Columns
    traits: Traits
    season_c: float


@dataclass(frozen=True)
class WaterNumbers:
    """supply_cap_mmol, uptake_c, soak_q10: as limits.doses.HazardNumbers."""

    supply_cap_mmol: float
    uptake_c: tuple[tuple[float, float], ...]
    soak_q10: float


def microclimate_of(
    site: Site, places: Sequence[Place], hours: Hours, state: MicroclimateState, season_c: float
) -> tuple[Microclimate, MicroclimateState]:
    """
    What each of the places offers over the hours, and their state after the last.

    state: at the first hour; season_c: temperature of the ground below half a metre. [°C]
    """
    sun = sun_of_hours(hours.times, site.latitude, site.longitude, site.elevation_m)
    leaf = canopy_leaf(hours.times, site.latitude, site.elevation_m)
    return microclimate(hours, sun, site, places, leaf, state, season_c)


def split_at_midnight(hours: Hours) -> tuple[Hours, Hours]:
    """Hours up to the last UTC midnight, and those after it, which may be none."""
    last = hours.times[-1].astype("datetime64[D]").astype("datetime64[s]")
    count = int(np.searchsorted(hours.times, last, side="right"))
    if count == 0:
        return hours, _part(hours, slice(len(hours), None))
    return _part(hours, slice(None, count)), _part(hours, slice(count, None))


def _part(hours: Hours, part: slice) -> Hours:
    return Hours(hours.times[part], {name: values[part] for name, values in hours.values.items()})


def settle(
    before: Stretch,
    since: Stretch,
    site: Site,
    places: tuple[Place, ...],
    water: WaterNumbers,
    tallies: tuple[Tally, Tally],
    basis: object,
    kept: Checkpoint | None,
) -> tuple[Settled, Checkpoint]:
    """
    The state after both stretches, and a checkpoint of the state between them.

    tallies: of the first stretch and of the second; basis: all that the first of them rests on, as key_of takes it.
    kept: a checkpoint of an earlier call, or None. It is used only where it bears the key of this very `before`, and is
    then what would have been worked out, bit by bit: with it or without it the answer is the same.
    """
    key = key_of(before, site, places, water, basis)
    between = unpacked(key, kept.content, Settled) if kept is not None and kept.key == key else None
    if between is None or kept is None:
        ground = start_state(places, before.hours, before.season_c)
        start = Settled(ground, None, no_toll(len(before.columns)))  # type: ignore[arg-type]
        between = _after(before, start, site, places, water, tallies[0])
        kept = Checkpoint(key, packed(key, between))
    return (_after(since, between, site, places, water, tallies[1]) if len(since.hours) else between), kept


def _after(
    stretch: Stretch, state: Settled, site: Site, places: tuple[Place, ...], water: WaterNumbers, tally: Tally
) -> Settled:
    hours = stretch.hours
    micro, ground = microclimate_of(site, places, hours, state.ground, stretch.season_c)
    felt, roots = expose(
        hours.times,
        stretch.local,
        micro,
        places,
        stretch.columns,
        stretch.traits,
        water.supply_cap_mmol,
        water.uptake_c,
        water.soak_q10,
        state.roots,
    )
    return Settled(ground, roots, tally(felt, state.toll))
