"""A tree's own year, gone and to come: its stages, nights and root zone day by day, and when works are right in it."""

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from carewatch.care.work_rules import Bound, SeasonRule, Window
from carewatch.condition.chill import DAILY_RANGE_K
from carewatch.condition.lived import Lived
from carewatch.condition.season import TROPICS, Season
from carewatch.condition.stage import COLOURING, DORMANT, FLUSHING, MATURE, SWELLING, Stage
from carewatch.forecast.weather import Array, Times

# Nights and root zones are judged by the mean of a week. [d]
WEEK_DAYS = 7
# Daily means lie this far around what is usual on their date (standard deviation, computed from the fifteen test
# reference years 2010 of the German weather service, 2.6 to 3.7 K): one night in six is that much colder. [K]
DAY_SPREAD_K = 3.3
# Southern dates are the northern ones, half a year later. [d]
HALF_YEAR_DAYS = 182
EVENTS = {
    "bud-swell": SWELLING,
    "leaf-out": FLUSHING,
    "mature": MATURE,
    "colouring": COLOURING,
    "leaf-fall": DORMANT,
}

Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Almanac:
    """
    Days gone and to come, arrays (day,).

    days: datetime64[D]; today: index of today. phases: index into condition.stage.PHASES.
    night_c, root_c: usual coldest of a night and root zone, means of a week. [°C]
    """

    days: Times
    today: int
    phases: NDArray[np.int64]
    night_c: Array
    root_c: Array
    season: Season
    latitude: float

    def index(self, day: date) -> int:
        """Position of a day. Raises IndexError outside of the days."""
        at = int((np.datetime64(day) - self.days[0]).astype(int))
        if not 0 <= at < self.days.size:
            raise IndexError(day)
        return at

    def day(self, index: int) -> date:
        """The day at a position."""
        found: date = self.days[index].astype(date)
        return found

    def frosty(self) -> Flags:
        """Days on which a night frost is nothing unusual."""
        result: Flags = self.night_c - DAY_SPREAD_K < 0.0
        return result

    def within(self, window: Window) -> Flags:
        """Days inside a window; within the tropics dates of the year bound nothing."""
        if abs(self.latitude) < TROPICS and {window.opens.at, window.closes.at} - EVENTS.keys():
            return np.ones(self.days.size, dtype=np.bool_)
        opens, closes = self._bounds(window.opens), self._bounds(window.closes)
        inside = np.zeros(self.days.size, dtype=np.bool_)
        for start in opens:
            later = closes[closes > start]
            inside[max(int(start), 0) : max(int(later[0]) if later.size else self.days.size, 0)] = True
        return inside

    def _bounds(self, bound: Bound) -> NDArray[np.int64]:
        """Positions of a bound in every year, rising; some may lie outside of the days."""
        if bound.at in EVENTS:
            phase = EVENTS[bound.at]
            turned = (self.phases[1:] == phase) & (self.phases[:-1] != phase)
            found: NDArray[np.int64] = np.nonzero(turned)[0] + 1 + bound.days
            return found
        years = range(self.day(0).year - 1, self.day(-1).year + 2)
        shift = 0 if self.latitude >= 0 else HALF_YEAR_DAYS
        dates = np.array([f"{year}-{bound.at}" for year in years], dtype="datetime64[D]")
        result: NDArray[np.int64] = (dates - self.days[0]).astype(np.int64) + shift + bound.days
        return result

    def window_days(self, rule: SeasonRule) -> Flags:
        """Days inside any window of a rule."""
        inside = np.zeros(self.days.size, dtype=np.bool_)
        for window in rule.windows:
            inside |= self.within(window)
        return inside

    def warm_nights(self, above_c: float) -> Flags:
        """Days whose usual nights are that warm."""
        result: Flags = self.night_c > above_c
        return result

    def clear_of_frost(self, weeks: int) -> Flags:
        """Days with so many weeks to the first usual frost of the coming winter; in spring that is far away."""
        frosty = self.frosty()
        clear = self.season.rising | (self.days_until(frosty) >= weeks * WEEK_DAYS)
        result: Flags = clear
        return result

    def warm_roots(self, weeks: int, above_c: float) -> Flags:
        """Days after which the root zone stays so warm for so many weeks."""
        cool = self.root_c <= above_c
        result: Flags = self.days_until(cool) >= weeks * WEEK_DAYS
        return result

    def days_until(self, flags: Flags) -> NDArray[np.int64]:
        """Days from each day to the next one of these, 0 on one of them."""
        positions = np.where(flags, np.arange(flags.size), 2 * flags.size)
        following: NDArray[np.int64] = np.minimum.accumulate(positions[::-1])[::-1]
        return following - np.arange(flags.size)

    def first(self, allowed: Flags, start: int) -> date | None:
        """First allowed day from a position on, or None."""
        found = np.nonzero(allowed[start:])[0]
        return self.day(start + int(found[0])) if found.size else None

    def season_days(self, rule: SeasonRule) -> "SeasonDays":
        """What a rule asks of each day."""
        every = np.ones(self.days.size, dtype=np.bool_)
        weeks, above_c = rule.root_weeks, rule.root_above_c
        return SeasonDays(
            inside=self.window_days(rule),
            nights=every if rule.nights_above_c is None else self.warm_nights(rule.nights_above_c),
            frost=every if rule.weeks_before_frost is None else self.clear_of_frost(rule.weeks_before_frost),
            roots=every if weeks is None or above_c is None else self.warm_roots(weeks, above_c),
        )


@dataclass(frozen=True)
class SeasonDays:
    """Days that keep each condition of a season's rule, arrays (day,): its windows, nights, frost and root zone."""

    inside: Flags
    nights: Flags
    frost: Flags
    roots: Flags

    def right(self, frost_free_winter: bool) -> Flags:
        """Days that keep all of them; a frost-free place for the winter lets off the warm weeks of the root zone."""
        found: Flags = self.inside & self.nights & self.frost
        return found if frost_free_winter else found & self.roots


def almanac_from(lived: Lived, stage: Stage, today: date) -> Almanac:
    """
    The almanac of a tree that lived through these days.

    lived: days gone and to come; stage: of the same days; today: one of them.
    """
    return Almanac(
        days=lived.days,
        today=int((np.datetime64(today) - lived.days[0]).astype(int)),
        phases=stage.phases,
        night_c=_weekly(lived.mean_c) - DAILY_RANGE_K / 2.0,
        root_c=_weekly(lived.root_c),
        season=lived.season,
        latitude=lived.latitude,
    )


def _weekly(values: Array) -> Array:
    """Means of the week around each day."""
    padded = np.pad(values, WEEK_DAYS // 2, mode="edge")
    result: Array = np.convolve(padded, np.full(WEEK_DAYS, 1.0 / WEEK_DAYS), mode="valid")
    return result
