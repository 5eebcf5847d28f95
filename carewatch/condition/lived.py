"""The air that each tree lived in: the daily past of its site, carried to the places where it stood."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from carewatch.care.log import Entry
from carewatch.condition.chill import DAILY_RANGE_K, daily_portions
from carewatch.condition.season import Season, season_of
from carewatch.forecast.history import DailyHistory
from carewatch.forecast.weather import Array, Times
from carewatch.physics.evaporation import extraterrestrial_daily_mj
from carewatch.place.spot import Place

# The root zone lags the air's daily mean by about two days (estimate, until pots have histories of their own). [d]
ROOT_LAG_DAYS = 2.0
# Soil under an enclosure follows the daily air by about ten days (damping of the annual wave at 30 cm, Campbell &
# Norman 1998, order). [d]
SOIL_LAG_DAYS = 10.0
# Of the light outside the atmosphere about this much arrives on a day of middling cloud (estimate: Angström's a + b/2
# of FAO-56 eq. 35 is 0.5, less in winter). [-]
MIDDLING_LIGHT = 0.42
# Frames are opened when they get warm (common practice): the mean of a day gains no more than this by sun. [K]
MOST_SUN_LIFT_K = 4.0
WM2_PER_MJ_DAY = 1e6 / 86400.0
MOVE = "move:"
YEAR_DAYS = 365
# Days ahead for which trees earlier than the model are looked at; they get the warmth of the last ten days.
AHEAD_DAYS, RECENT_DAYS = 25, 10


@dataclass(frozen=True)
class Lived:
    """
    The past of one tree, a row per day up to today.

    days: datetime64[D]; season: of the same days. mean_c: air. [°C]; root_c: root zone. [°C]
    portions: chill portions that each day completed. [-]
    latitude: north positive. [°]
    before: days of the year before the record that the record itself stands in for, one year later; 0 for a short one.
    around: season of those days, of the record, and of AHEAD_DAYS after it.
    """

    days: Times
    season: Season
    mean_c: Array
    root_c: Array
    portions: Array
    latitude: float
    before: int
    around: Season

    @property
    def today(self) -> date:
        """The last day."""
        last: date = self.days[-1].astype(date)
        return last

    def index(self, day: date) -> int:
        """Position of a day, or of the nearest one that is known."""
        return int(np.clip((np.datetime64(day) - self.days[0]).astype(int), 0, self.days.size - 1))

    def extended(self, values: Array) -> Array:
        """
        A daily course of the record, with the year before it and some days after it.

        What is guessed about a first day is forgotten within a year; the days ahead are like the last ten.
        """
        recent = float(values[-RECENT_DAYS:].mean())
        return np.concatenate([values[: self.before], values, np.full(AHEAD_DAYS, recent)])


class Past:
    """Daily pasts of one site, each place carried once however many trees stood there."""

    def __init__(self, history: DailyHistory, places: Mapping[str, Place], latitude: float) -> None:
        """history: of the open air; places: by id, those unknown are open air; latitude: north positive. [°]"""
        self.history = history
        self.places = places
        self.latitude = latitude
        self.season = season_of(history.days, latitude)
        self.before = YEAR_DAYS if history.days.size > YEAR_DAYS else 0
        first, last = history.days[0] - self.before, history.days[-1] + AHEAD_DAYS
        self.around = season_of(np.arange(first, last + 1, dtype="datetime64[D]"), latitude)
        self._days: dict[str, tuple[Array, Array]] = {}
        self._lived: dict[tuple[object, ...], Lived] = {}

    def lived_by(self, home: str, log: Sequence[Entry]) -> Lived:
        """The past of a tree that lives at `home`, moved as its log tells, oldest entry first."""
        path = _path(home, log)
        key = tuple(path)
        if key not in self._lived:
            self._lived[key] = self._composed(path)
        return self._lived[key]

    def _composed(self, path: Sequence[tuple[date | None, str]]) -> Lived:
        days = self.history.days
        mean_c, portions = (values.copy() for values in self._at(path[0][1]))
        for since, place in path[1:]:
            stood: NDArray[np.bool_] = days > np.datetime64(since)
            air, chill = self._at(place)
            # What was under way to a portion on the day of a move is not carried over: at most one is lost.
            mean_c[stood], portions[stood] = air[stood], chill[stood]
        return Lived(
            days=days,
            season=self.season,
            mean_c=mean_c,
            root_c=_lagged(mean_c, ROOT_LAG_DAYS),
            portions=portions,
            latitude=self.latitude,
            before=self.before,
            around=self.around,
        )

    def _at(self, name: str) -> tuple[Array, Array]:
        """Daily mean and chill portions at a place."""
        place = self.places.get(name)
        key = name if place is not None and place.enclosed else ""
        if key not in self._days:
            mean_c, range_k = self.history.mean_c, DAILY_RANGE_K
            if key and place is not None:
                mean_c = enclosed_mean_c(mean_c, self.history.days, place, self.latitude)
                range_k = DAILY_RANGE_K / float(np.hypot(1.0, 2.0 * np.pi * place.damping_h / 24.0))
            self._days[key] = mean_c, daily_portions(mean_c, range_k)
        return self._days[key]


def enclosed_mean_c(mean_c: Array, days: Times, place: Place, latitude: float) -> Array:
    """
    Daily mean of the air of a frame, tunnel, shed or room. [°C]

    mean_c: outside. [°C]; days: datetime64[D]; latitude: north positive. [°]

    Leans on the soil as the hourly place does, gains by middling sun what opening leaves of it, and follows with the
    place's own lag; a heater holds its least. Days only: nights are the business of place.microclimate.
    """
    year_day = (days - days.astype("datetime64[Y]")).astype(np.float64) + 1.0
    light = MIDDLING_LIGHT * extraterrestrial_daily_mj(year_day, latitude) * WM2_PER_MJ_DAY
    lift = np.minimum(place.solar_gain_k_per_100wm2 * light / 100.0, MOST_SUN_LIFT_K)
    soil = _lagged(mean_c, SOIL_LAG_DAYS)
    goal = (1.0 - place.ground_share) * (mean_c + lift) + place.ground_share * soil
    inside = _lagged(goal, place.damping_h / 24.0) if place.damping_h > 0.0 else goal
    return inside if place.heated_to_c is None else np.maximum(inside, place.heated_to_c)


def _lagged(values: Array, lag_days: float) -> Array:
    """The values with a first-order lag, from their first one on."""
    follow = 1.0 - float(np.exp(-1.0 / lag_days))
    state = float(values[0])
    result = []
    for value in values.tolist():
        state += follow * (value - state)
        result.append(state)
    return np.array(result)


def _path(home: str, log: Sequence[Entry]) -> list[tuple[date | None, str]]:
    """(since, place): where the tree stood; the last place of a day counts from the next day on."""
    path: list[tuple[date | None, str]] = [(None, home)]
    resting = home
    for entry in log:
        if entry.work == "move" and entry.to:
            resting = entry.to
            path.append((entry.at.date(), resting))
        elif entry.measure and entry.measure.startswith(MOVE):
            place = entry.measure.removeprefix(MOVE) if entry.work == "begin" else resting
            path.append((entry.at.date(), place))
    return path
