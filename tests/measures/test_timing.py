"""By when to act and when to undo: awake, by daylight, in time, and by the clock on the wall, changed or not."""

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from numpy.typing import NDArray

from carewatch.care.garden import NoticeRules
from carewatch.measures.timing import (
    Clock,
    act_by,
    acting_hours,
    chances_left,
    clock_of,
    rounds_needed,
    shade_days,
    together,
    undo_at,
    well_over,
)
from tests.condition.grown import TABLES

RULES = NoticeRules(time(22), time(6, 30), time(7), 0.5, True, 20.0, (), 60)
LIT = replace(RULES, unlit_garden=False)
FLEECE = TABLES.measures["fleece"]
SHADE = TABLES.measures["shade-cloth"]
VENTILATE = TABLES.measures["ventilate"]
HOUR = np.timedelta64(3600, "s")


@dataclass(frozen=True)
class Spot:
    """A garden somewhere, and a date at noon of which the service asks."""

    zone: str
    latitude: float
    longitude: float
    day: str

    @property
    def tz(self) -> ZoneInfo:
        """Its time zone."""
        return ZoneInfo(self.zone)

    def clock(self, hours: int = 120) -> Clock:
        """Its clock from noon on."""
        now = _utc(datetime.fromisoformat(f"{self.day}T12:00").replace(tzinfo=self.tz))
        times = now + np.arange(1, hours + 1) * HOUR
        return clock_of(times, now, self.tz, self.latitude, self.longitude)


# Nights on which the clock is changed, or that follow one; and an ordinary one.
SPOTS = (
    Spot("Europe/Berlin", 52.4, 13.1, "2026-10-24"),
    Spot("Europe/Berlin", 52.4, 13.1, "2027-03-27"),
    Spot("America/New_York", 40.6, -74.4, "2026-10-31"),
    Spot("America/New_York", 40.6, -74.4, "2027-03-13"),
    Spot("Australia/Melbourne", -37.8, 145.0, "2026-10-03"),
    Spot("Australia/Melbourne", -37.8, 145.0, "2027-04-03"),
    Spot("Europe/Berlin", 52.4, 13.1, "2026-11-05"),
)


def _utc(moment: datetime) -> np.datetime64:
    return np.datetime64(moment.astimezone(UTC).replace(tzinfo=None), "s")


def _on_the_wall(moment: np.datetime64, spot: Spot) -> datetime:
    """Independent of the clock under test."""
    seconds = int(moment.astype("datetime64[s]").astype(np.int64))
    return datetime.fromtimestamp(seconds, UTC).astimezone(spot.tz)


def _at(clock: Clock, spot: Spot, days: int, hour: float) -> np.datetime64:
    day = datetime.fromisoformat(spot.day).date() + timedelta(days=days)
    minutes = round(hour * 60)
    local = datetime.combine(day, time(minutes // 60, minutes % 60), spot.tz)
    assert clock.utc[0] <= _utc(local) + HOUR
    return _utc(local)


@pytest.mark.parametrize("spot", SPOTS)
def test_the_clock_agrees_with_the_zone_at_every_quarter_of_an_hour(spot: Spot) -> None:
    """Through the night of the change as well, both ways."""
    clock = spot.clock()
    for moment in clock.utc[0] + np.arange(0, 96 * 4) * np.timedelta64(15, "m"):
        wall = _on_the_wall(moment, spot)
        assert clock.to_local(moment) == np.datetime64(wall.replace(tzinfo=None), "s"), wall
        # A wall-clock hour that comes twice may be read as either.
        back = _on_the_wall(clock.to_utc(clock.to_local(moment)), spot)
        assert back.replace(tzinfo=None) == wall.replace(tzinfo=None)


@pytest.mark.parametrize("spot", SPOTS)
@pytest.mark.parametrize("hour", [0.0, 2.5, 5.0, 19.0, 23.0])
@pytest.mark.parametrize("minutes", [4.0, 30.0, 90.0])
def test_work_for_a_frost_night_is_done_by_daylight_awake_and_in_time(spot: Spot, hour: float, minutes: float) -> None:
    """In an unlit garden; the evening before for a frost after midnight."""
    clock = spot.clock()
    for days in (1, 2):
        starts = _at(clock, spot, days, hour)
        begin = act_by(clock, "frost", starts, minutes, RULES)
        end = begin + np.timedelta64(round(minutes * 60), "s")
        assert end <= starts
        for moment in (begin, end):
            wall = _on_the_wall(moment, spot)
            assert time(6, 30) <= wall.time() <= time(22)
            day = np.datetime64(wall.date(), "D")
            tolerance = np.timedelta64(1, "s")
            assert clock.sunrise_of(day) - tolerance <= moment <= clock.sunset_of(day) + tolerance


def test_a_lit_garden_gives_the_evening_too() -> None:
    """Until quiet hours begin."""
    spot = SPOTS[-1]
    clock = spot.clock()
    starts = _at(clock, spot, 1, 2.0)
    dark, lit = (_on_the_wall(act_by(clock, "frost", starts, 30.0, rules), spot) for rules in (RULES, LIT))
    assert dark.time() < time(17)
    assert (lit.date(), lit.time()) == (datetime.fromisoformat(spot.day).date(), time(21, 30))


def test_quiet_hours_may_begin_after_midnight() -> None:
    """Half past midnight until eight."""
    spot = SPOTS[-1]
    clock = spot.clock()
    late = replace(LIT, quiet_from=time(0, 30), quiet_to=time(8))
    begin = _on_the_wall(act_by(clock, "frost", _at(clock, spot, 1, 4.0), 30.0, late), spot)
    assert begin.time() == time(0, 0)


def test_what_is_too_late_is_at_once() -> None:
    """Never before now."""
    spot = SPOTS[-1]
    clock = spot.clock()
    assert act_by(clock, "frost", clock.now + HOUR, 300.0, RULES) == clock.now
    assert act_by(clock, "heat", clock.now + HOUR, 10.0, RULES) == clock.now


@pytest.mark.parametrize("hazard", ["heat", "root-heat", "sun", "drying"])
def test_shade_is_for_the_morning_of_the_hot_day(hazard: str) -> None:
    """Before ten (common practice), whenever in the day it gets too hot."""
    spot = Spot("Europe/Berlin", 52.4, 13.1, "2026-06-20")
    clock = spot.clock()
    for hour in (11.0, 13.0, 16.0):
        begin = _on_the_wall(act_by(clock, hazard, _at(clock, spot, 1, hour), 20.0, RULES), spot)
        assert begin.date() == datetime.fromisoformat("2026-06-21").date()
        assert begin.time() <= time(10)
    early = act_by(clock, hazard, _at(clock, spot, 1, 8.0), 20.0, RULES)
    assert early == _at(clock, spot, 1, 8.0) - np.timedelta64(20, "m")


@pytest.mark.parametrize("spot", SPOTS)
def test_covers_come_off_at_half_past_nine(spot: Spot) -> None:
    """Of the morning after the last frost hour, by the clock on the wall."""
    clock = spot.clock()
    for hour in (3.0, 8.0, 9.0):
        undo = undo_at(clock, FLEECE, _at(clock, spot, 1, hour), RULES)
        assert undo is not None
        wall = _on_the_wall(undo, spot)
        assert wall.time() == time(9, 30)
        assert wall.date() == datetime.fromisoformat(spot.day).date() + timedelta(days=1)
    late = undo_at(clock, FLEECE, _at(clock, spot, 1, 23.0), RULES)
    assert late is not None
    assert _on_the_wall(late, spot).date() == datetime.fromisoformat(spot.day).date() + timedelta(days=2)


def test_other_measures_end_in_waking_daylight_after_the_spell() -> None:
    """An hour later, or the next morning."""
    spot = SPOTS[-1]
    clock = spot.clock()
    for hour in (1.0, 12.0, 16.5, 23.0):
        ends = _at(clock, spot, 1, hour)
        undo = undo_at(clock, SHADE, ends, RULES)
        assert undo is not None
        assert undo >= ends + HOUR
        wall = _on_the_wall(undo, spot)
        day = np.datetime64(wall.date(), "D")
        assert clock.sunrise_of(day) <= undo <= clock.sunset_of(day)
        assert time(6, 30) <= wall.time() <= time(22)


def test_shade_comes_off_in_the_evening_never_at_noon() -> None:
    """Not before four in the afternoon, or an hour before dark (common practice); what keeps no sun off at any hour."""
    for spot, latest in ((Spot("Europe/Berlin", 52.4, 13.1, "2026-06-20"), 21), (SPOTS[-1], 17)):
        clock = spot.clock()
        for hour in (8.0, 11.0, 13.0):
            for measure in (SHADE, TABLES.measures["move"]):
                undo = undo_at(clock, measure, _at(clock, spot, 1, hour), RULES)
                assert undo is not None
                assert 15 <= _on_the_wall(undo, spot).hour <= latest
            ties = undo_at(clock, TABLES.measures["tie-down"], _at(clock, spot, 1, hour), RULES)
            assert ties is not None
            assert _on_the_wall(ties, spot).hour == int(hour) + 1


def test_one_stay_serves_spells_that_follow_soon() -> None:
    """Up to the gap, from the latest end so far; a longer pause ends it, and with no bound it never ends."""
    day = np.timedelta64(86400, "s")
    noon = np.datetime64("2026-05-01T12:00:00", "s")
    spans = [(noon + start * day // 4, noon + end * day // 4) for start, end in ((20, 21), (0, 1), (3, 4), (0, 9))]
    assert together(spans, 36.0) == [(1, 3, 2), (0,)]
    assert together(spans, 72.0) == [(1, 3, 2, 0)]
    assert together(spans[:3], 1.0) == [(1,), (2,), (0,)]
    assert together(spans, None) == [(1, 3, 2, 0)]
    assert together([], 36.0) == []


def test_a_tree_comes_out_when_three_nights_keep_off_its_limit() -> None:
    """Each night near it puts that off; one after a longer pause does not."""
    clock = SPOTS[-1].clock(240)
    ends = clock.utc[10]
    near = np.zeros(240, dtype=np.bool_)
    assert well_over(clock, ends, near) == ends
    near[[2, 60, 120, 121, 200]] = True
    assert well_over(clock, ends, near) == clock.utc[121]
    near[60] = False
    assert well_over(clock, ends, near) == ends


def test_leaves_that_stood_in_the_dark_come_out_into_shade() -> None:
    """Three days of dark or seven under glass (common practice); bare trees and short stays go straight back."""
    since = np.datetime64("2026-05-01T12:00:00", "s")
    for kind, days, leafy, shade in (
        ("shed", 4, True, 3),
        ("shed", 2, True, 0),
        ("shed", 4, False, 0),
        ("cold-frame", 4, True, 0),
        ("cold-frame", 8, True, 3),
        ("under-tree", 30, True, 0),
    ):
        place = TABLES.place_kinds[kind]
        assert shade_days(leafy, place, since, since + days * 24 * HOUR) == shade, (kind, days)


def test_a_spell_that_lasts_to_the_end_of_the_forecast_has_no_end() -> None:
    """Within its last day."""
    clock = SPOTS[-1].clock(72)
    assert undo_at(clock, FLEECE, clock.utc[-1], RULES) is None
    assert undo_at(clock, FLEECE, clock.utc[-1] - 25 * HOUR, RULES) is not None


def _hours_of_day(clock: Clock, acts: NDArray[np.bool_]) -> set[int]:
    hours = (clock.local - clock.local.astype("datetime64[D]")).astype("timedelta64[h]").astype(int)
    return {int(hour) for hour in hours[acts]}


@pytest.mark.parametrize("spot", SPOTS)
def test_night_covers_act_at_night_and_day_measures_by_day(spot: Spot) -> None:
    """Fleece from two hours before sunset to half past nine; an open frame from nine to two hours before sunset."""
    clock = spot.clock(72)
    begins = clock.now
    night = acting_hours(clock, FLEECE, begins, None)
    day = acting_hours(clock, VENTILATE, begins, None)
    assert {0, 3, 8} <= _hours_of_day(clock, night)
    assert not _hours_of_day(clock, night) & {10, 11, 12, 13}
    assert {10, 12, 14} <= _hours_of_day(clock, day)
    assert not _hours_of_day(clock, day) & {22, 0, 3, 6, 8}
    for moment, covered in zip(clock.utc, night, strict=True):
        before_sunset = clock.sunset_of(clock.to_local(moment).astype("datetime64[D]")) - moment
        if np.timedelta64(0, "s") <= before_sunset <= 2 * HOUR - np.timedelta64(1, "s"):
            assert covered
            assert not day[clock.utc == moment].any()


def test_a_measure_acts_from_when_it_is_taken_until_it_is_undone() -> None:
    """Shade stays up for the whole spell, at night as well: it is one round."""
    clock = SPOTS[-1].clock(72)
    begins, until = clock.utc[9], clock.utc[59]
    acts = acting_hours(clock, SHADE, begins, until)
    assert acts.tolist() == [9 < hour <= 59 for hour in range(72)]
    assert rounds_needed(acts) == 1


def test_each_night_under_fleece_is_a_round() -> None:
    """Three nights, three times out and off."""
    clock = SPOTS[-1].clock(72)
    assert rounds_needed(acting_hours(clock, FLEECE, clock.now, None)) == 3
    assert rounds_needed(np.zeros(10, dtype=np.bool_)) == 1


def test_where_the_sun_does_not_rise_the_clock_serves() -> None:
    """Tromsø in December: an unlit garden is worked in from six to six."""
    spot = Spot("Europe/Oslo", 69.6, 18.9, "2026-12-20")
    clock = spot.clock()
    begin = _on_the_wall(act_by(clock, "frost", _at(clock, spot, 1, 23.0), 10.0, RULES), spot)
    assert begin.time() == time(17, 50)


def _berlin(now: str, days: int = 12) -> Clock:
    moment = _utc(datetime.fromisoformat(now).replace(tzinfo=ZoneInfo("Europe/Berlin")))
    times = moment + np.arange(1, days * 24 + 1) * HOUR
    return clock_of(times, moment, ZoneInfo("Europe/Berlin"), 52.4, 13.1)


def _wall(text: str) -> np.datetime64:
    """UTC of a wall-clock time in Berlin in winter."""
    return np.datetime64(text, "s") - HOUR


@pytest.mark.parametrize(
    ("now", "begins", "chances"),
    [
        ("2026-11-03T09:00", "2026-11-04T16:00", 2),
        ("2026-11-03T19:00", "2026-11-04T16:00", 1),
        ("2026-11-04T06:00", "2026-11-04T16:00", 1),
        ("2026-11-04T15:59", "2026-11-04T16:00", 1),
        ("2026-11-04T19:00", "2026-11-04T19:00", 0),
        ("2026-11-04T05:00", "2026-11-04T05:00", 0),
        # Shade by ten: noon of the day before is a chance, and so is the morning itself; in between only the morning.
        ("2026-11-03T12:00", "2026-11-04T10:00", 2),
        ("2026-11-03T20:00", "2026-11-04T10:00", 1),
    ],
)
def test_chances_are_days_with_waking_daylight(now: str, begins: str, chances: int) -> None:
    """Sunset is half past four, sunrise about seven in Potsdam in the first days of November."""
    assert chances_left(_berlin(now), _wall(begins), RULES) == chances


def test_work_is_done_before_leaving_and_undone_after_coming_home() -> None:
    """A cold spell from the night of the 7th to the 9th, and nobody there from the 6th to the 12th."""
    away = replace(RULES, away=((date(2026, 11, 6), date(2026, 11, 12)),))
    clock = _berlin("2026-11-03T12:00")
    starts, ends = _wall("2026-11-07T20:00"), _wall("2026-11-09T08:00")
    leaving = act_by(clock, "frost", starts, 20.0, away)
    assert act_by(clock, "frost", starts, 20.0, RULES) > _wall("2026-11-07T15:30")
    assert _wall("2026-11-05T15:30") < leaving < _wall("2026-11-05T16:30")
    assert chances_left(clock, leaving, away) == 3
    home = undo_at(clock, TABLES.measures["mulch"], ends, away)
    assert home is not None
    assert _wall("2026-11-13T06:00") < home < _wall("2026-11-13T09:00")
    # Who is away already has others do it on the day.
    gone = _berlin("2026-11-06T12:00")
    assert act_by(gone, "frost", starts, 20.0, away) == act_by(clock, "frost", starts, 20.0, RULES)
    assert chances_left(gone, act_by(gone, "frost", starts, 20.0, away), away) == 2
