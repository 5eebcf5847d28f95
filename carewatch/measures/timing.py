"""By when a person must act, when it may be undone, and the hours between in which a measure is in place."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from carewatch.care.garden import NoticeRules
from carewatch.forecast.weather import Times
from carewatch.measures.catalogue import Measure
from carewatch.physics.sun import sun_times_utc
from carewatch.place.spot import Place

HOUR = np.timedelta64(3600, "s")
MINUTE = np.timedelta64(60, "s")
# Shade goes up before ten on the first hot day (common practice). Local hour.
SHADE_BY_H = 10
# Water for a frost night goes on until two in the afternoon, so that leaves are dry at dusk (common practice). Local
# hour.
WATER_BY_H = 14
# Covers go on before the sun is gone, to keep the floor's warmth: two hours before sunset (common practice). [h]
COVER_BEFORE_SUNSET_H = 2
# In the morning day measures are up by nine; frames are shut two hours before sunset, to keep the day's warmth (common
# practice). Local hour, [h]
DAY_FROM_H = 9
SHUT_BEFORE_SUNSET_H = 2
# What was taken for one spell stays when the next begins within a day and a half; what moves the tree, when it begins
# within three nights (common practice: out again not before three nights are well above the limit). [h]
STAYS_H = 36
MOVED_STAYS_H = 72
# A spell that lasts into the last day of the forecast has no end in sight.
END_IN_SIGHT = np.timedelta64(24 * 3600, "s")
# What keeps the rain off comes off a day after the last rain (common practice), the hours in which most members have
# so much. [h], [mm]
DRY_FIRST_H, WET_MM = 24, 0.1
# So long before sunset a level leaf has less than a tenth of its day's direct sun still to come (clear days of the
# lighter half of the year at 50°, by physics.sun). [h]
LOW_SUN_H = 2
# Leaves that came from the dark or from under glass scorch: after so long a stay they stand in shade first (common
# practice: three days of dark, seven under glass; shade for three days). [d]
DARK_STAY_DAYS = 3
GLASS_STAY_DAYS = 7
SHADE_FIRST_DAYS = 3
DARK_GLAZING = 0.15
DAY_HAZARDS = ("heat", "root-heat", "sun", "drying", "bark-scald")


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
    """The last moment up to `moment` at which a person is awake, there, and can see."""
    wall = clock.to_local(moment)
    today = clock.now_local.astype("datetime64[D]")
    last = wall.astype("datetime64[D]")
    # Before leaving, if nobody is there then; who is away already has others do it.
    there = last_day_there(last, rules)
    for day in dict.fromkeys((*((there, there - 1) if there >= today else ()), last, last - 1, last - 2)):
        opens, closes = _hands_between(clock, day, rules)
        if wall >= opens and closes - work >= opens:
            return clock.to_utc(min(wall, closes - work))
    return moment


def _hands_between(clock: Clock, day: np.datetime64, rules: NoticeRules) -> tuple[np.datetime64, np.datetime64]:
    """From when to when on a local date a person is awake and can see, on the clock on the wall."""
    midnight = day.astype("datetime64[s]")
    opens, closes = midnight + _since_midnight(rules.quiet_to), midnight + _since_midnight(rules.quiet_from)
    if closes < opens:
        closes += np.timedelta64(1, "D")
    if rules.unlit_garden:
        opens = max(opens, clock.to_local(clock.sunrise_of(day)))
        closes = min(closes, clock.to_local(clock.sunset_of(day)))
    return opens, closes


def is_away(day: np.datetime64, rules: NoticeRules) -> bool:
    """Nobody is there on this local date."""
    return any(np.datetime64(first) <= day <= np.datetime64(last) for first, last in rules.away)


def last_day_there(day: np.datetime64, rules: NoticeRules) -> np.datetime64:
    """The last local date up to this one on which somebody is there."""
    while is_away(day, rules):
        day = day - 1
    return day


def first_day_there(day: np.datetime64, rules: NoticeRules) -> np.datetime64:
    """The first local date from this one on on which somebody is there."""
    while is_away(day, rules):
        day = day + 1
    return day


def chances_left(clock: Clock, begins: np.datetime64, rules: NoticeRules) -> int:
    """
    Days on which the work that must begin by then can still be done, waking and by daylight: 1 at the last chance.

    0 when the last is past and it would be done at once, in the dark. Days on which nobody is there do not count, but
    for who is away already: others do it.
    """
    until = clock.to_local(begins)
    today = clock.now_local.astype("datetime64[D]")
    found = 0
    for day in np.arange(today - 1, until.astype("datetime64[D]") + 1, dtype="datetime64[D]"):
        if is_away(day, rules) and not is_away(today, rules):
            continue
        opens, closes = _hands_between(clock, day, rules)
        found += bool(opens <= until and closes > clock.now_local and opens < closes)
    return found


def _since_midnight(moment: time) -> np.timedelta64:
    return np.timedelta64(moment.hour * 3600 + moment.minute * 60, "s")


def undo_at(clock: Clock, measure: Measure, ends: np.datetime64, rules: NoticeRules) -> np.datetime64 | None:
    """
    When a measure may be undone, UTC, or None when the spell lasts to the end of what is known.

    Night covers: the first morning hour of theirs after the end. Others: an hour after the end, in waking daylight of a
    day on which somebody is there; what keeps the sun off not before the evening, or an hour before dark.
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
    there = first_day_there(earliest.astype("datetime64[D]"), rules)
    for date in (there, there + 1, there + 2):
        opens, closes = _hands_between(clock, date, rules)
        evening = date.astype("datetime64[s]") + np.timedelta64(round(measure.off_from_h * 3600), "s")
        opens = max(opens, min(evening, closes - HOUR))
        if earliest <= closes:
            return clock.to_utc(max(earliest, opens))
    return clock.to_utc(earliest)


def together(spans: Sequence[tuple[np.datetime64, np.datetime64]], gap_h: float | None) -> list[tuple[int, ...]]:
    """
    Positions of the spans that one stay serves, in the order of their starts.

    spans: start and end of each; gap_h: the stay goes on when the next begins within so many hours; None: always. [h]
    """
    groups: list[list[int]] = []
    until: np.datetime64 | None = None
    for position in sorted(range(len(spans)), key=lambda at: (spans[at][0], spans[at][1])):
        starts, ends = spans[position]
        goes_on = until is not None and (gap_h is None or starts - until < gap_h * HOUR)
        if goes_on:
            groups[-1].append(position)
        else:
            groups.append([position])
        until = ends if until is None or not goes_on else max(until, ends)
    return [tuple(group) for group in groups]


def moved_gap_h(layer: bool) -> float | None:
    """
    How long after one spell the next may begin for a tree that was moved to stay away in between; None: for all. [h]

    layer: a layer in its first year is carried once, for all that is in sight.
    """
    return None if layer else MOVED_STAYS_H


def well_over(
    clock: Clock, ends: np.datetime64, near: NDArray[np.bool_], gap_h: float = MOVED_STAYS_H
) -> np.datetime64:
    """
    The end of a cold spell for a tree that was moved away from it: three nights after it must keep off the limit.

    near: hours, (hour,), in which the cold comes near the limit where it lives. Returns the last such hour that follows
    another, or the end, within gap_h. [h]
    """
    for stamp in clock.utc[near & (clock.utc > ends)]:
        if stamp - ends > gap_h * HOUR:
            break
        ends = stamp
    return ends


def sun_is_low(clock: Clock, ends: np.datetime64) -> np.datetime64:
    """The end of a danger by the day's direct sun for taking a shade off: in the evening what is to come is little."""
    low: np.datetime64 = clock.sunset_of(clock.to_local(ends).astype("datetime64[D]")) - LOW_SUN_H * HOUR
    return min(ends, low)


def shade_days(in_leaf: bool, place: Place, since: np.datetime64, until: np.datetime64) -> int:
    """Days in shade that a tree needs when it comes back from a place where it stood since then, or 0."""
    if not in_leaf or not place.enclosed:
        return 0
    bears = DARK_STAY_DAYS if place.glazing < DARK_GLAZING else GLASS_STAY_DAYS
    return SHADE_FIRST_DAYS if until - since >= np.timedelta64(bears * 24, "h") else 0


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
    shut = clock.sunset_local - SHUT_BEFORE_SUNSET_H * HOUR
    by_day: NDArray[np.bool_] = inside & (hour >= DAY_FROM_H) & (clock.local <= shut)
    if measure.hours == "day":
        return by_day
    evening = clock.local >= (clock.sunset_local - COVER_BEFORE_SUNSET_H * HOUR)
    by_night: NDArray[np.bool_] = inside & (evening | (hour <= measure.off_at_h))
    return by_night


def rounds_needed(acts: NDArray[np.bool_]) -> int:
    """How often a measure is put in place: runs of acting hours, at least one."""
    return max(1, int(np.count_nonzero(np.diff(np.concatenate([[0], acts.astype(np.int8)])) == 1)))
