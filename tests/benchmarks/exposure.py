"""
What the engine costs in units of the machine itself: one exponential per hour, member and column, or another program.

Every figure is a ratio of times of one run, the two sides measured by turns, so that a slow machine slows both.
"""

import statistics
import time
from collections.abc import Callable, Iterator
from zoneinfo import ZoneInfo

import numpy as np
import refet
from numpy.typing import NDArray

from carewatch.condition.now import conditions, oldest_work
from carewatch.config.tables import load_tables
from carewatch.exposure.columns import Columns, traits_of
from carewatch.exposure.march import start_roots
from carewatch.exposure.run import shape_of
from carewatch.forecast.history import daily_history, season_ground_c
from carewatch.limits.blocks import Grounds, run_blocks
from carewatch.limits.tolerance import tolerances
from carewatch.measures.apply import columns_of, with_opened
from carewatch.measures.in_force import naive_utc, noons_before, sun_habit_kwh
from carewatch.measures.timing import local_times
from carewatch.physics.evaporation import (
    clear_sky_mj,
    extraterrestrial_hourly_mj,
    net_radiation_hourly_mj,
    reference_et_hourly_mm,
    solar_hour_angle_rad,
)
from carewatch.physics.humidity import pressure_at_kpa, saturation_vapour_pressure_kpa
from carewatch.physics.root_ball import (
    SHELLS,
    ball_shape,
    ball_step,
    enthalpy_j,
    heat_capacities,
    outer_path_m,
    shell_conductances_w_k,
)
from carewatch.physics.sun import mid_hour, sun_position
from carewatch.physics.wind import wind_to_2m_ms
from carewatch.place.microclimate import clear_direct_kwh, microclimate, spread_state, start_state
from tests.benchmarks.gardens import NOW, grown_garden, grown_weather, numbers
from tests.benchmarks.measured import Measured
from tests.reference.layered_ball import LAYERS, Pot, layered_course

COLUMNS, MEMBERS, HOURS = 200, 51, 168
ENGINE_BUDGET_EXP = 500.0
# Columns may cost this much more each when there are four times as many.
LINEAR_BUDGET = 1.25
# The layered reference may be slower by this at least; refet by this.
LSODA_TIMES, REFET_TIMES = 800.0, 4.0
BALL_COLUMNS, BALL_HOURS = 1_000, 48
VECTOR = 20_000
REPEATS = 3
# Values that stay in the first-level cache.
CACHED = 2_048


def run() -> Iterator[Measured]:
    """Engine in exponentials, its growth with columns, root ball against LSODA, evapotranspiration against refet."""
    yield from engine()
    yield root_ball()
    yield from evapotranspiration()


def engine() -> Iterator[Measured]:
    """Microclimate, exposure and judgement of many columns, in exponentials; and per column with a quarter of them."""
    many, few = _chain(COLUMNS), _chain(COLUMNS // 4)
    rounds = []
    for _ in range(REPEATS):
        before_s, many_s, few_s, after_s = (_seconds(work) for work in (_exponential, many, few, _exponential))
        one_s = 0.5 * (before_s + after_s) / (CACHED * _EXPONENTIALS)
        rounds.append((many_s / (COLUMNS * MEMBERS * HOURS) / one_s, many_s / few_s / 4.0, many_s, one_s))
    cost, growth, many_s, one_s = (statistics.median(side) for side in zip(*rounds, strict=True))
    yield Measured(
        "engine",
        cost,
        ENGINE_BUDGET_EXP,
        "exp",
        f"{COLUMNS} columns, {MEMBERS} members, {HOURS} h in {many_s:.2f} s; one exp {one_s * 1e9:.1f} ns",
    )
    yield Measured(
        "engine per column", growth, LINEAR_BUDGET, "times", f"{COLUMNS} columns against {COLUMNS // 4}, each column"
    )


def root_ball() -> Measured:
    """Time of the shells per column, over that of a layered ball under LSODA, on freezing and thawing days."""
    hours = np.arange(BALL_HOURS, dtype=np.float64)
    outside = -2.0 - 6.0 * np.cos(2.0 * np.pi * (hours - 3.0) / 24.0)
    film = np.full(BALL_HOURS, 15.0)
    pot = Pot(0.003, 0.135, 0.6, 0.40, 0.70, 2.2, 150.0)

    def shells() -> None:
        every = np.ones(BALL_COLUMNS) * np.linspace(0.8, 1.2, BALL_COLUMNS)
        shape = ball_shape(pot.volume_m3 * every, pot.area_m2 * every)
        heat = heat_capacities(shape, pot.water * every, 0.7 * np.ones_like(every), 2.2 * np.ones_like(every))
        between = shell_conductances_w_k(shape, pot.conductivity * every)
        through = pot.area_m2 / (1.0 / 15.0 + 1.0 / pot.wall_wm2k + outer_path_m(shape) / pot.conductivity)
        enthalpy = enthalpy_j(np.full((SHELLS, BALL_COLUMNS), 4.0), *heat)
        for hour in range(BALL_HOURS):
            enthalpy, _ = ball_step(enthalpy, *heat, between, through, outside[hour] * np.ones(BALL_COLUMNS))

    def layers() -> None:
        layered_course(pot, 4.0, film, outside, between=False)

    times = [(_seconds(shells) / BALL_COLUMNS, _seconds(layers)) for _ in range(REPEATS)]
    ours_s, theirs_s = (statistics.median(side) for side in zip(*times, strict=True))
    return Measured(
        "root ball",
        1000.0 * ours_s / theirs_s,
        1000.0 / LSODA_TIMES,
        "‰ of LSODA",
        f"{theirs_s / ours_s:.0f} times as fast as {LAYERS} layers per column, {BALL_COLUMNS} columns, {BALL_HOURS} h",
    )


def evapotranspiration() -> Iterator[Measured]:
    """
    Time of the hourly reference evapotranspiration over that of refet on the same hours.

    First from weather to the end, as refet does it; then as the engine calls it, whose places know their net radiation.
    """
    random = np.random.default_rng(12)
    air, wind = random.uniform(-5.0, 35.0, VECTOR), random.uniform(0.3, 10.0, VECTOR)
    vapour = saturation_vapour_pressure_kpa(air) * random.uniform(0.3, 1.0, VECTOR)
    day, hour = random.integers(1, 366, VECTOR).astype(np.float64), random.integers(0, 24, VECTOR).astype(np.float64)
    elevation, latitude, longitude = 200.0, 50.0, 9.0
    solar = 0.6 * extraterrestrial_hourly_mj(day, latitude, solar_hour_angle_rad(hour + 0.5, day, longitude))
    wind_2m, pressure = wind_to_2m_ms(wind, 10.0), pressure_at_kpa(elevation)

    def net_mj() -> NDArray[np.float64]:
        outside = extraterrestrial_hourly_mj(day, latitude, solar_hour_angle_rad(hour + 0.5, day, longitude))
        clear = clear_sky_mj(outside, elevation)
        relative = np.where(clear > 0.0, solar / np.where(clear > 0.0, clear, 1.0), 0.7)
        return net_radiation_hourly_mj(solar, air, vapour, relative, "asce")

    net = net_mj()

    def whole() -> None:
        reference_et_hourly_mm(air, vapour, wind_to_2m_ms(wind, 10.0), net_mj(), pressure, solar > 0.0, "asce")

    def called() -> None:
        reference_et_hourly_mm(air, vapour, wind_2m, net, pressure, solar > 0.0, "asce")

    def theirs() -> None:
        refet.Hourly(
            tmean=air,
            rs=solar,
            uz=wind,
            zw=10.0,
            elev=elevation,
            lat=latitude,
            lon=longitude,
            doy=day,
            time=hour,
            ea=vapour,
            method="asce",
        ).eto()

    times = [(_seconds(whole), _seconds(called), _seconds(theirs)) for _ in range(3 * REPEATS)]
    whole_s, called_s, theirs_s = (statistics.median(side) for side in zip(*times, strict=True))
    for name, ours_s in (("ET from weather", whole_s), ("ET from net radiation", called_s)):
        note = f"{theirs_s / ours_s:.1f} times as fast as refet from weather on {VECTOR} hours, {ours_s * 1e3:.1f} ms"
        yield Measured(name, ours_s / theirs_s, 1.0 / REFET_TIMES, "of refet", note)


# An exponential of so few values takes microseconds; so many of them take as long as a clock can tell.
_EXPONENTIALS = 4_000
_VALUES = np.linspace(-3.0, 3.0, CACHED)
_ANSWER = np.empty(CACHED)


def _exponential() -> None:
    for _ in range(_EXPONENTIALS):
        np.exp(_VALUES, out=_ANSWER)


def _seconds(work: Callable[[], None]) -> float:
    """Processor time of one call: other work on the machine does not count. [s]"""
    began = time.process_time()
    work()
    return time.process_time() - began


def _chain(trees: int) -> Callable[[], None]:
    """The chain from a complete forecast to the losses of one untouched column per tree, ready to run."""
    tables = load_tables()
    given = numbers(tables)
    garden, weather = grown_garden(trees, trees // 10), grown_weather(MEMBERS, HOURS)
    site, hazards, ahead = garden.site, given.hazards, weather.ahead
    zone = ZoneInfo(site.time_zone)
    today = NOW.astimezone(zone).date()
    history = daily_history(weather.past, oldest_work(garden.log, today), today, site.latitude, site.elevation_m)
    states = conditions(garden, given.works, hazards.gust_intact_ms, history, NOW)
    traits, places = traits_of(states), with_opened(tuple(garden.places.values()))
    season = season_ground_c(history)
    offered = clear_direct_kwh(site, places, naive_utc(NOW).astype("datetime64[D]"), False)
    habit = sun_habit_kwh(garden, states, places, given.measures, offered, NOW, noons_before(NOW, zone))
    limits = tolerances(states, habit, hazards, today, site.latitude)
    columns: Columns = columns_of(range(trees), [()] * trees, states, places, HOURS)
    first = weather.past if len(weather.past) else ahead

    def work() -> None:
        ground = start_state(places, first, season)
        ground = ground if first is ahead else spread_state(ground, MEMBERS)
        sun = sun_position(mid_hour(ahead.times), site.latitude, site.longitude, site.elevation_m)
        micro, _ = microclimate(ahead, sun, site, places, False, ground, season)
        soil = micro.soil_c[0][:1, columns.place[0]]
        grounds = Grounds(
            ahead.times,
            local_times(ahead.times, zone),
            micro,
            places,
            traits,
            limits,
            start_roots(shape_of(traits), traits, soil),
            hazards,
        )
        for _, _, judged in run_blocks(grounds, columns):
            judged.total()

    return work
