"""
What the engine costs in units of the machine itself: one exponential per hour, member and column, or another program.

Every figure is a ratio of times of one run, the two sides measured by turns, so that a slow machine slows both.
"""

import statistics
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
import refet
from numpy.typing import NDArray

from carewatch.condition.now import conditions, oldest_work
from carewatch.config.tables import load_tables
from carewatch.exposure.columns import Columns, traits_of
from carewatch.exposure.march import start_roots
from carewatch.exposure.run import Exposure, shape_of
from carewatch.forecast.history import daily_history, season_ground_c
from carewatch.limits.blocks import Grounds, run_blocks
from carewatch.limits.judge import Judgement
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
from carewatch.physics.evaporation_from_weather import reference_et_from_weather_hourly_mm
from carewatch.physics.humidity import pressure_at_kpa, saturation_vapour_pressure_kpa
from carewatch.physics.root_ball import (
    SHELLS,
    ball_hour,
    ball_shape,
    enthalpy_j,
    heat_capacities,
    outer_path_m,
    shell_conductances_w_k,
)
from carewatch.physics.sun import sun_of_hours
from carewatch.physics.wind import wind_to_2m_ms
from carewatch.place.light import canopy_leaf, clear_direct_kwh
from carewatch.place.microclimate import microclimate, spread_state, start_state
from tests.benchmarks.gardens import NOW, grown_garden, grown_weather, numbers
from tests.benchmarks.measured import Measured
from tests.reference.layered_ball import LAYERS, Pot, layered_course

COLUMNS, MEMBERS, HOURS = 200, 51, 168
ENGINE_BUDGET_EXP = 500.0
# Columns may cost this much more each when there are four times as many.
LINEAR_BUDGET = 1.25
# The layered reference may be slower by this at least; refet by this on a vector and on a grid.
LSODA_TIMES, REFET_TIMES, REFET_GRID_TIMES = 800.0, 4.0, 15.0
BALL_COLUMNS, BALL_HOURS = 1_000, 48
VECTOR, ET_COLUMNS = 20_000, 60
LATITUDE, LONGITUDE, ELEVATION_M = 50.0, 9.0, 200.0
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
            enthalpy, _ = ball_hour(enthalpy, *heat, between, through, outside[hour] * np.ones(BALL_COLUMNS))

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


def _added_up(_start: int, _felt: Exposure, judged: Judgement) -> None:
    judged.total()


def evapotranspiration() -> Iterator[Measured]:
    """
    Time of the hourly reference evapotranspiration over that of refet on the same hours.

    From raw weather to the end, on a plain vector of hours and on a grid (hour, member, column) whose sun is the same
    in every member and column; and from net radiation, as the engine calls it. refet takes days and hours only as long
    as the weather.
    Of the libraries refet is the fastest: pyet, which knows days only, takes forty times as long for them.
    """
    random = np.random.default_rng(12)
    day, hour = random.integers(1, 366, VECTOR).astype(np.float64), random.integers(0, 24, VECTOR).astype(np.float64)
    weather = _weather(random, day, hour)
    yield _against("ET from weather, vector", _ours(weather, day, hour), _refet(weather, day, hour), REFET_TIMES)
    yield _against("ET from net radiation", _from_net(weather, day, hour), _refet(weather, day, hour), REFET_TIMES)
    of_week = np.arange(HOURS, dtype=np.float64)[:, None, None]
    day, hour = 200.0 + of_week // 24.0, of_week % 24.0
    everywhere = np.ones((1, MEMBERS, ET_COLUMNS))
    weather = _weather(random, day * everywhere, hour * everywhere)
    theirs = _refet(weather, day * everywhere, hour * everywhere)
    yield _against("ET from weather, grid", _ours(weather, day, hour), theirs, REFET_GRID_TIMES)


@dataclass(frozen=True)
class _Hours:
    """Weather of so many hours, units as the evapotranspiration wants them."""

    air_c: NDArray[np.float64]
    vapour_kpa: NDArray[np.float64]
    wind_ms: NDArray[np.float64]
    solar_mj: NDArray[np.float64]


def _weather(random: np.random.Generator, day: NDArray[np.float64], hour: NDArray[np.float64]) -> _Hours:
    """Random weather under the sun of these hours."""
    air = random.uniform(-5.0, 35.0, day.shape)
    outside = extraterrestrial_hourly_mj(day, LATITUDE, solar_hour_angle_rad(hour + 0.5, day, LONGITUDE))
    return _Hours(
        air,
        saturation_vapour_pressure_kpa(air) * random.uniform(0.3, 1.0, day.shape),
        random.uniform(0.3, 10.0, day.shape),
        random.uniform(0.2, 0.75, day.shape) * outside,
    )


def _ours(weather: _Hours, day: NDArray[np.float64], hour: NDArray[np.float64]) -> Callable[[], None]:
    """The same as refet: a clear sky while the sun is low; into an array that is there already."""
    answer, middle = np.empty(weather.air_c.shape), hour + 0.5

    def work() -> None:
        reference_et_from_weather_hourly_mm(
            weather.air_c,
            weather.vapour_kpa,
            weather.wind_ms,
            weather.solar_mj,
            day,
            middle,
            LATITUDE,
            LONGITUDE,
            ELEVATION_M,
            1.0,
            standard="asce",
            out=answer,
        )

    return work


def _from_net(weather: _Hours, day: NDArray[np.float64], hour: NDArray[np.float64]) -> Callable[[], None]:
    """What is left once net radiation and wind at 2 m are known."""
    wind, pressure, by_day = wind_to_2m_ms(weather.wind_ms, 10.0), pressure_at_kpa(ELEVATION_M), weather.solar_mj > 0.0
    outside = extraterrestrial_hourly_mj(day, LATITUDE, solar_hour_angle_rad(hour + 0.5, day, LONGITUDE))
    relative = weather.solar_mj / np.maximum(clear_sky_mj(outside, ELEVATION_M), 1e-9)
    net = net_radiation_hourly_mj(weather.solar_mj, weather.air_c, weather.vapour_kpa, relative, "asce")

    def work() -> None:
        reference_et_hourly_mm(weather.air_c, weather.vapour_kpa, wind, net, pressure, by_day, "asce")

    return work


def _refet(weather: _Hours, day: NDArray[np.float64], hour: NDArray[np.float64]) -> Callable[[], None]:
    def work() -> None:
        refet.Hourly(
            tmean=weather.air_c,
            rs=weather.solar_mj,
            uz=weather.wind_ms,
            zw=10.0,
            elev=ELEVATION_M,
            lat=LATITUDE,
            lon=LONGITUDE,
            doy=day,
            time=hour,
            ea=weather.vapour_kpa,
            method="asce",
        ).eto()

    return work


def _against(name: str, ours: Callable[[], None], theirs: Callable[[], None], times: float) -> Measured:
    """Time of the one over that of the other, measured by turns."""
    turns = [(_seconds(ours), _seconds(theirs)) for _ in range(3 * REPEATS)]
    ours_s, theirs_s = (statistics.median(side) for side in zip(*turns, strict=True))
    note = f"{theirs_s / ours_s:.1f} times as fast as refet from weather, {ours_s * 1e3:.1f} ms"
    return Measured(name, 100.0 * ours_s / theirs_s, 100.0 / times, "% of refet", note)


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
    history = daily_history(weather.past, oldest_work(garden.log, today), today, *site.position)
    states = conditions(garden, given.condition, history, NOW)
    traits, places = traits_of(states), with_opened(tuple(garden.places.values()))
    season = season_ground_c(history)
    offered = clear_direct_kwh(site, places, naive_utc(NOW).astype("datetime64[D]"))
    habit = sun_habit_kwh(garden, states, places, given.measures, offered, NOW, noons_before(NOW, zone))
    limits = tolerances(states, habit, hazards, today, site.latitude)
    columns: Columns = columns_of(range(trees), [()] * trees, states, places, HOURS)
    first = weather.past if len(weather.past) else ahead

    def work() -> None:
        ground = start_state(places, first, season)
        ground = ground if first is ahead else spread_state(ground, MEMBERS)
        sun = sun_of_hours(ahead.times, *site.position)
        leaf = canopy_leaf(ahead.times, site.latitude, site.elevation_m)
        micro, _ = microclimate(ahead, sun, site, places, leaf, ground, season)
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
        run_blocks(grounds, columns, _added_up)

    return work
