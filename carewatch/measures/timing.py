"""By when a person must act, when it may be undone, and the hours between in which a measure is in place."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from carewatch.care.garden import NoticeRules
from carewatch.forecast.weather import Times
from carewatch.measures.catalogue import Measure
from carewatch.physics.sun import sun_times_utc

HOUR = np.timedelta64(3600, "s")
MINUTE = np.timedelta64(60, "s")
# Shade goes up before ten on the first hot day (common practice). Local hour.
SHADE_BY_H = 10
# Water for a frost night goes on until two in the afternoon, so that leaves are dry at dusk (common practice). Local
# hour.
WATER_BY_H = 14
# Covers go on before the sun is gone, to keep the floor's warmth: two hours before sunset (common practice). [h]
COVER_BEFORE_SUNSET_H = 2
# In the morning day measures are up by nine (common practice). Local hour.
DAY_FROM_H = 9
# A spell that lasts into the last day of the forecast has no end in sight.
END_IN_SIGHT = np.timedelta64(24 * 3600, "s")
DAY_HAZARDS = ("heat", "root-heat", "sun", "drying")


@dataclass(frozen=True)
class Clock:
    """
    The site's time for the hours ahead.

    utc, local: stamps, datetime64[s], (hour,); now, now_local: the moment of asking.
    sunrise, sunset: UTC per local date from `first_day` on; NaT in polar seasons.
    sunset_local: of each hour's own date, on the clock, (hour,).
    """

    utc: Times
    local: Times
    now: np.datetime64
    now_local: np.datetime64
    first_day: np.datetime64
    sunrise: Times
    sunset: Times
    sunset_local: Times

    def to_local(self, moment: np.datetime64) -> np.datetime64:
        """The site's wall clock at a UTC moment, by the offset of the last hour before it."""
        index = int(np.clip(np.searchsorted(self.utc, moment, side="right") - 1, 0, self.utc.size - 1))
        result: np.datetime64 = moment + (self.local[index] - self.utc[index])
        return result

    def to_utc(self, wall: np.datetime64) -> np.datetime64:
        """The UTC moment of a wall-clock time, by the offset of the last hour before it."""
        index = int(np.clip(np.searchsorted(self.local, wall, side="right") - 1, 0, self.utc.size - 1))
        result: np.datetime64 = wall - (self.local[index] - self.utc[index])
        return result

    def sunset_of(self, day: np.datetime64) -> np.datetime64:
        """Sunset of a local date, UTC; 18:00 on the clock where the sun does not set."""
        return self._of(self.sunset, day, 18)

    def sunrise_of(self, day: np.datetime64) -> np.datetime64:
        """Sunrise of a local date, UTC; 6:00 on the clock where the sun does not rise."""
        return self._of(self.sunrise, day, 6)

    def _of(self, table: Times, day: np.datetime64, otherwise_h: int) -> np.datetime64:
        index = int((day.astype("datetime64[D]") - self.first_day) / np.timedelta64(1, "D"))
        if 0 <= index < table.size and not np.isnat(table[index]):
            result: np.datetime64 = table[index]
            return result
        return self.to_utc(day.astype("datetime64[s]") + otherwise_h * HOUR)


def local_times(times: Times, zone: ZoneInfo) -> Times:
    """Wall-clock times of UTC stamps, datetime64[s]; an hour that the clock repeats appears twice."""
    seconds = times.astype("datetime64[s]").astype(np.int64)
    offsets = [
        (datetime.fromtimestamp(int(second), UTC).astimezone(zone).utcoffset() or timedelta(0)).total_seconds()
        for second in seconds
    ]
    return (seconds + np.array(offsets, dtype=np.int64)).astype("datetime64[s]")


def clock_of(times: Times, now: np.datetime64, zone: ZoneInfo, latitude: float, longitude: float) -> Clock:
    """Clock of a site for the hours ahead; now: UTC stamp."""
    local = local_times(times, zone)
    now_local = local_times(np.array([now]), zone)[0]
    first = now_local.astype("datetime64[D]") - 2
    days = np.arange(first, local[-1].astype("datetime64[D]") + 4, dtype="datetime64[D]")
    sunrise, sunset = sun_times_utc(days, latitude, longitude)
    bare = Clock(times, local, now, now_local, first, sunrise, sunset, local)
    dates = local.astype("datetime64[D]")
    evening = {day: bare.to_local(bare.sunset_of(day)) for day in np.unique(dates)}
    return replace(bare, sunset_local=np.array([evening[day] for day in dates], dtype="datetime64[s]"))


def act_by(clock: Clock, hazard: str, starts: np.datetime64, minutes: float, rules: NoticeRules) -> np.datetime64:
    """
    Latest moment, UTC, to begin with `minutes` of work so that it is done before a spell starts.

    Before the first credible hour; by daylight in an unlit garden; not in quiet hours; shade by ten o'clock.
    Never before now: what is too late already is "at once".
    """
    work = np.timedelta64(round(minutes * 60), "s")
    latest = starts - work
    day = clock.to_local(starts).astype("datetime64[D]")
    if hazard in DAY_HAZARDS:
        morning = clock.to_utc(day.astype("datetime64[s]") + SHADE_BY_H * HOUR)
        latest = min(latest, morning)
    latest = _by_light_and_awake(clock, latest, work, rules)
    return max(latest, clock.now)


def _by_light_and_awake(clock: Clock, moment: np.datetime64, work: np.timedelta64, rules: NoticeRules) -> np.datetime64:
    """The last moment up to `moment` at which a person is awake and can see."""
    wall = clock.to_local(moment)
    for back in range(3):
        day = wall.astype("datetime64[D]") - back
        midnight = day.astype("datetime64[s]")
        quiet_from = midnight + _since_midnight(rules.quiet_from)
        quiet_to = midnight + _since_midnight(rules.quiet_to)
        if quiet_from < quiet_to:
            quiet_from += np.timedelta64(1, "D")
        opens, closes = quiet_to, quiet_from - work
        if rules.unlit_garden:
            opens = max(opens, clock.to_local(clock.sunrise_of(day)))
            closes = min(closes, clock.to_local(clock.sunset_of(day)) - work)
        if wall >= opens and closes >= opens:
            return clock.to_utc(min(wall, closes))
    return moment


def _since_midnight(moment: time) -> np.timedelta64:
    return np.timedelta64(moment.hour * 3600 + moment.minute * 60, "s")


def undo_at(clock: Clock, measure: Measure, ends: np.datetime64, rules: NoticeRules) -> np.datetime64 | None:
    """
    When a measure may be undone, UTC, or None when the spell lasts to the end of what is known.

    Night covers: the first morning hour of theirs after the end. Others: an hour after the end, in waking daylight.
    """
    if ends >= clock.utc[-1] - END_IN_SIGHT:
        return None
    wall = clock.to_local(ends)
    day = wall.astype("datetime64[D]")
    if measure.hours == "night":
        moment = day.astype("datetime64[s]") + np.timedelta64(round(measure.off_at_h * 3600), "s")
        if moment < wall:
            moment += np.timedelta64(1, "D")
        return clock.to_utc(moment)
    earliest = wall + HOUR
    for ahead in range(3):
        date = (earliest.astype("datetime64[D]") + ahead).astype("datetime64[D]")
        opens = date.astype("datetime64[s]") + _since_midnight(rules.quiet_to)
        closes = date.astype("datetime64[s]") + _since_midnight(rules.quiet_from)
        if closes <= opens:
            closes += np.timedelta64(1, "D")
        if rules.unlit_garden:
            opens = max(opens, clock.to_local(clock.sunrise_of(date)))
            closes = min(closes, clock.to_local(clock.sunset_of(date)))
        if earliest <= closes:
            return clock.to_utc(max(earliest, opens))
    return clock.to_utc(earliest)


def acting_hours(
    clock: Clock, measure: Measure, begins: np.datetime64, until: np.datetime64 | None
) -> NDArray[np.bool_]:
    """Hours, (hour,), in which a measure taken at `begins` and undone at `until` is in place."""
    inside = clock.utc > begins
    if until is not None:
        inside &= clock.utc <= until
    if measure.hours == "spell":
        return inside
    hour = ((clock.local - clock.local.astype("datetime64[D]")) / HOUR).astype(np.float64)
    by_day: NDArray[np.bool_] = inside & (hour >= DAY_FROM_H) & (clock.local <= clock.sunset_local)
    if measure.hours == "day":
        return by_day
    evening = clock.local >= (clock.sunset_local - COVER_BEFORE_SUNSET_H * HOUR)
    by_night: NDArray[np.bool_] = inside & (evening | (hour <= measure.off_at_h))
    return by_night


def rounds_needed(acts: NDArray[np.bool_]) -> int:
    """How often a measure is put in place: runs of acting hours, at least one."""
    return max(1, int(np.count_nonzero(np.diff(np.concatenate([[0], acts.astype(np.int8)])) == 1)))
