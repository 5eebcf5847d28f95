"""When to begin and when to speak: one round of many trees, nights left out, real time over changes of the clock."""

import itertools
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from carewatch.alerts.timing import (
    ask_again_from,
    begins_of,
    between,
    is_quiet,
    quiet_begins,
    rounds_of_work,
    shifted,
    speak_from,
)
from tests.alerts.made import RULES, Watch, at, call, kinds

# Nights in which the clock changes, 2026 (IANA time zone database): spring, then autumn.
CHANGES = [
    ("Europe/Berlin", (2026, 3, 29), (2026, 10, 25)),
    ("America/New_York", (2026, 3, 8), (2026, 11, 1)),
    ("Australia/Melbourne", (2026, 10, 4), (2026, 4, 5)),
]


def test_no_order_of_the_work_can_begin_later() -> None:
    """Against every order of five jobs, simulated: begun when told all are in time, a minute later none can be."""
    jobs = [
        call(f"tree-{index}", act_by=at(hour, minute), minutes=minutes)
        for index, (hour, minute, minutes) in enumerate(
            [(15, 0, 40.0), (15, 20, 25.0), (14, 50, 10.0), (15, 45, 60.0), (15, 45, 5.0)]
        )
    ]
    ends = {job.tree: job.act_by + timedelta(minutes=job.minutes) for job in jobs}
    (found,) = rounds_of_work(jobs, RULES)

    def in_time(begun: datetime) -> bool:
        for order in itertools.permutations(jobs):
            done = begun
            for job in order:
                done += timedelta(minutes=job.minutes)
                if done > ends[job.tree]:
                    break
            else:
                return True
        return False

    assert found.minutes == 140.0
    assert in_time(found.begins)
    assert not in_time(found.begins + timedelta(minutes=1))


def test_work_that_does_not_press_on_other_work_begins_at_its_own_time() -> None:
    """Shade by ten and fleece before dusk are two rounds."""
    shade, fleece = call("a", act_by=at(10)), call("b", act_by=at(15, 45))

    assert begins_of([fleece, shade], RULES) == {"a": at(10), "b": at(15, 45)}
    assert [found.trees for found in rounds_of_work([fleece, shade], RULES)] == [("a",), ("b",)]


def test_work_that_is_longer_than_a_day_begins_on_the_day_before() -> None:
    """Nobody works from 6:30 back into the night: what is left is done before the same hour of the day before."""
    long = [call(f"tree-{index}", act_by=at(15, day=6), minutes=300.0) for index in range(3)]
    begins = min(begins_of(long, RULES).values())

    # Fifteen hours of work before 20:00 (15:00 and five hours): 13½ h on the 6th, 1½ h before 20:00 on the 5th.
    assert begins == at(18, 30)
    assert not is_quiet(begins, RULES)


def test_a_call_leaves_three_hours_in_waking_time() -> None:
    """At 6:30 if an hour is left then, else an hour before the night rest."""
    assert speak_from(at(15, 45), RULES) == at(12, 45)
    assert speak_from(at(8, day=6), RULES) == at(6, 30, day=6)
    assert speak_from(at(7, day=6), RULES) == at(21)
    assert speak_from(at(23), RULES) == at(20)


@pytest.mark.parametrize("change", CHANGES)
def test_three_hours_are_three_hours_in_nights_that_change_the_clock(
    change: tuple[str, tuple[int, int, int], tuple[int, int, int]],
) -> None:
    """Work at 4:30 by the clock in such a night is told of three real hours before, not two or four."""
    awake = replace(RULES, quiet_from=time(12), quiet_to=time(13))
    zone = ZoneInfo(change[0])
    # In spring 4:30 is half past three of the old time; in autumn the hour that comes twice lies before three.
    autumn = 1.5 if change[0] == "America/New_York" else 2.5
    for day, wall in ((change[1], 0.5), (change[2], autumn)):
        begins = datetime(*day, 4, 30, tzinfo=zone)
        said = speak_from(begins, awake)
        assert between(said, begins) == timedelta(hours=3)
        assert begins.astimezone(UTC) - said.astimezone(UTC) == timedelta(hours=3)
        assert said.hour + said.minute / 60 == wall
        assert shifted(said, timedelta(hours=3)) == begins


@pytest.mark.parametrize("change", CHANGES)
def test_quiet_hours_are_kept_and_a_severe_repeat_comes_after_an_hour_in_such_nights(
    change: tuple[str, tuple[int, int, int], tuple[int, int, int]],
) -> None:
    """Planned every quarter of an hour through the night: nothing ordinary, and the severe one an hour apart."""
    zone = ZoneInfo(change[0])
    for day in change[1:]:
        start = datetime(*day, 0, 15, tzinfo=zone) - timedelta(hours=2)
        moments = [shifted(start, timedelta(minutes=15 * step)) for step in range(28)]
        ends = datetime(*day, 9, tzinfo=zone)
        ordinary, severe = Watch(), Watch()
        for now in moments:
            act_by = shifted(now, timedelta(minutes=30))
            ordinary.look(now, call(act_by=act_by, night=ends))
            severe.look(now, call(act_by=act_by, night=ends, severity="Severe"))
        assert all(not is_quiet(notice.created_at, RULES) for notice in ordinary.spoken)
        assert kinds(severe.spoken) == ["call", "repeat"]
        first, again = severe.spoken
        assert between(first.created_at, again.created_at) == timedelta(hours=1)


def test_later_is_an_hour_before_or_half_of_what_is_left() -> None:
    """And in waking hours."""
    assert ask_again_from(at(12), at(15, 45), RULES) == at(14, 45)
    assert ask_again_from(at(15), at(15, 40), RULES) == at(15, 20)
    assert ask_again_from(at(20), at(6, 45, day=6), RULES) == at(21)


def test_the_next_night_rest_begins_today_or_tomorrow() -> None:
    """By the wall clock."""
    assert quiet_begins(at(12), RULES) == at(22)
    assert quiet_begins(at(23), RULES) == at(22, day=6)


@pytest.mark.parametrize(
    "hours",
    [(time(0), time(23, 59)), (time(6, 30), time(6, 29)), (time(22), time(22)), (time(12), time(11, 55))],
)
def test_quiet_hours_that_leave_no_day_silence_nothing_severe_and_break_nothing(hours: tuple[time, time]) -> None:
    """An ordinary call is made in the minutes that are left; a severe one at its time; every moment can be planned."""
    rules = replace(RULES, quiet_from=hours[0], quiet_to=hours[1])
    ordinary, severe = Watch(rules), Watch(rules)
    for minute in range(0, 1440, 5):
        now = shifted(at(0), timedelta(minutes=minute))
        ordinary.look(now, call())
        severe.look(now, call(severity="Severe"))
    assert kinds(severe.spoken)[:1] == ["call"]
    assert all(not is_quiet(notice.created_at, rules) for notice in ordinary.spoken)
