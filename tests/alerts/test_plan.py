"""What is said, when, and how often: the plan as a function of calls and of what stands."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from carewatch.alerts.call import SpellFacts, TreeCall
from carewatch.alerts.danger import Danger, Notice
from carewatch.alerts.plan import Plan, is_quiet, plan, speak_from
from carewatch.alerts.rounds import rounds_notice, rounds_of
from carewatch.care.garden import NoticeRules

BERLIN = ZoneInfo("Europe/Berlin")
RULES = NoticeRules(time(22), time(6, 30), time(7), 0.5, True, 20.0, (), 60)
NIGHT = datetime(2026, 11, 6, 2, tzinfo=BERLIN)
ACT_BY = datetime(2026, 11, 5, 15, 45, tzinfo=BERLIN)


def call(
    name: str = "layer",
    severity: str = "Moderate",
    measure: str = "fleece",
    act_by: datetime = ACT_BY,
    in_force: bool = False,
    night: datetime = NIGHT,
) -> TreeCall:
    """A frost night for one tree."""
    spell = SpellFacts(
        "frost",
        "leaves",
        night,
        night + timedelta(hours=6),
        night + timedelta(hours=4),
        -4.4,
        -2.5,
        "°C",
        0.9,
        0.5,
        0.15,
        0.17,
        severity,
        "Likely",
    )
    undo = night.replace(hour=9, minute=30)
    return TreeCall(
        name,
        "lawn",
        True,
        (spell,),
        measure,
        in_force,
        "it helps",
        0.15,
        0.03,
        5.0,
        act_by,
        undo,
        "",
        "Do not hold covers in a gale.",
        "",
        "",
    )


class Watch:
    """Plans hour after hour, each on a newer forecast, and remembers what stands."""

    def __init__(self) -> None:
        self.standing: dict[str, Danger] = {}
        self.spoken: list[Notice] = []

    def look(self, now: datetime, *calls: TreeCall, new_run: bool = True) -> Plan:
        """The plan of one moment, taken over into what stands."""
        alive = [danger for danger in self.standing.values() if danger.state != "over"]
        planned = plan(calls, alive, self.spoken, RULES, now, new_run)
        self.standing |= {danger.id: danger for danger in planned.dangers}
        self.spoken += planned.notices
        return planned

    def answer(self, word: str) -> None:
        """The grower answers every line."""
        self.standing = {key: replace(danger, answer=word) for key, danger in self.standing.items()}


def kinds(notices: Sequence[Notice]) -> list[str]:
    """The kinds in order."""
    return [notice.kind for notice in notices]


def at(hour: int, minute: int = 0, day: int = 5) -> datetime:
    """A moment of early November."""
    return datetime(2026, 11, day, hour, minute, tzinfo=BERLIN)


def test_a_frost_night_is_told_once_before_dusk_and_repeated_once_if_nobody_answers() -> None:
    """From three hours and the work before the act-by; an hour later once more; then no more."""
    watch = Watch()
    for hour in range(7, 24):
        watch.look(at(hour), call())
    assert kinds(watch.spoken) == ["call", "repeat"]
    assert [notice.created_at.hour for notice in watch.spoken] == [13, 14]
    assert "16:" not in watch.spoken[0].title
    assert "before 15:45" in watch.spoken[0].title


def test_the_same_input_says_nothing_the_second_time() -> None:
    """Whatever was decided stands in the dangers that were returned."""
    watch = Watch()
    first = watch.look(at(13), call())
    again = watch.look(at(13), call(), new_run=False)
    assert kinds(first.notices) == ["call"]
    assert again.notices == ()
    assert {danger.id for danger in again.dangers} == {danger.id for danger in first.dangers}


def test_an_answer_ends_the_repeats_and_what_is_done_is_brought_back_in_the_morning() -> None:
    """Done: the measure is in force; over when the hour has come at which it may come off."""
    watch = Watch()
    watch.look(at(13), call())
    watch.answer("done")
    for hour in range(14, 24):
        watch.look(at(hour), call(in_force=True))
    for hour in range(8):
        watch.look(at(hour, day=6), call(in_force=True))
    for hour in range(8, 14):
        watch.look(at(hour, day=6))
    assert kinds(watch.spoken) == ["call", "bring-back"]
    assert watch.spoken[1].created_at == at(9, day=6)
    assert "fleece off layer" in watch.spoken[1].body
    assert all(danger.state == "over" for danger in watch.standing.values())


def test_a_night_that_fades_is_called_off_after_two_model_runs_and_not_after_two_looks_at_one() -> None:
    """One forecast looked at twice is one opinion."""
    watch = Watch()
    watch.look(at(13), call())
    for minute in (10, 20, 30):
        watch.look(at(13, minute), new_run=False)
    assert kinds(watch.spoken) == ["call"]
    watch.look(at(14))
    watch.look(at(15))
    assert kinds(watch.spoken) == ["call", "stand-down"]
    assert "No need any more" in watch.spoken[1].title


def test_a_danger_that_is_still_seen_is_not_nearer_to_being_called_off() -> None:
    """While a run sees the night, worth its work or not, it is no run that misses it."""
    watch = Watch()
    watch.look(at(13), call())
    for hour in (14, 15, 16):
        watch.look(at(hour), call(measure=""))
    watch.look(at(17))
    assert kinds(watch.spoken) == ["call"]
    watch.look(at(18))
    assert kinds(watch.spoken) == ["call", "stand-down"]


def test_a_danger_that_has_come_is_not_called_off() -> None:
    """When the night is under way there is nothing left to stand down."""
    watch = Watch()
    watch.look(at(13), call())
    for hour in range(3, 12):
        watch.look(at(hour, day=6))
    assert kinds(watch.spoken) == ["call"]


def test_a_class_worse_and_another_measure_are_told_as_changes() -> None:
    """Both, with the word that it is a change; a small shift is not told."""
    watch = Watch()
    watch.look(at(13), call())
    watch.answer("done")
    watch.look(at(14), call(severity="Severe", measure="move:shed"))
    assert kinds(watch.spoken) == ["call", "worse"]
    assert watch.spoken[1].title.startswith("Changed: ")
    watch.look(at(14, 30), call(severity="Severe", measure="move:shed", act_by=ACT_BY - timedelta(minutes=20)))
    assert kinds(watch.spoken) == ["call", "worse"]


def test_skip_holds_until_it_is_worse_by_a_class() -> None:
    """A refusal is respected, but not for what was not known then."""
    watch = Watch()
    watch.look(at(13), call())
    watch.answer("skip")
    watch.look(at(14), call(measure="move:shed"))
    assert kinds(watch.spoken) == ["call"]
    watch.look(at(15), call(severity="Severe"))
    assert kinds(watch.spoken) == ["call", "worse"]


def test_quiet_hours_hold_back_all_but_severe_dangers() -> None:
    """A moderate one waits for the morning; a severe one may wake."""
    moderate, severe = Watch(), Watch()
    act_by = at(7, 30, day=6)
    moderate.look(at(23), call(act_by=at(23), night=at(4, day=6)))
    severe.look(at(23), call(severity="Severe", act_by=at(23), night=at(4, day=6)))
    assert kinds(moderate.spoken) == []
    assert kinds(severe.spoken) == ["call"]
    assert speak_from(call(act_by=act_by), RULES) < at(22)


def test_at_most_three_ordinary_messages_a_day() -> None:
    """The fourth waits for the rounds; a severe one does not."""
    watch = Watch()
    for index, hour in enumerate((8, 9, 10, 11)):
        watch.look(at(hour), call(f"tree-{index}", act_by=at(hour, 30)))
        watch.answer("done")
    assert kinds(watch.spoken) == ["call", "call", "call"]
    watch.look(at(12), call("great", severity="Extreme", act_by=at(12, 30)))
    assert kinds(watch.spoken) == ["call", "call", "call", "call"]


def test_trees_of_one_moment_share_one_message() -> None:
    """One buzz for the round, a line for every danger."""
    watch = Watch()
    planned = watch.look(at(13), call("one"), call("two"))
    assert len(planned.notices) == 1
    assert "one and two (lawn)" in planned.notices[0].title
    assert [line.tree for line in planned.notices[0].lines] == ["one", "two"]


def test_a_danger_keeps_its_identity_when_the_night_shifts() -> None:
    """Credible intervals widened by twelve hours overlap: the same danger, not a new one."""
    watch = Watch()
    watch.look(at(8), call())
    watch.look(at(9), call(night=NIGHT - timedelta(hours=5)))
    assert len(watch.standing) == 1
    watch.look(at(10), call(), call("other"))
    assert len(watch.standing) == 2


def test_the_day_rounds_tell_of_what_lies_ahead_once_and_are_silent_otherwise() -> None:
    """Heads-ups ride in the rounds; a day without any is silent."""
    far = call(act_by=at(15, 45, day=8), night=at(2, day=9))
    ahead = rounds_of([far], (), (), RULES, at(7, 10))
    notice = rounds_notice(ahead, RULES)
    assert notice is not None
    assert notice.title == "Nothing to carry today."
    assert "layer" in notice.body
    later = rounds_notice(rounds_of([far], (), (), RULES, at(8, 10)), RULES)
    assert later is not None
    assert later.dedup == notice.dedup
    assert rounds_notice(rounds_of([], (), (), RULES, at(7, 10)), RULES) is None
    assert rounds_notice(rounds_of([far], (), (), RULES, at(6)), RULES) is None
    assert rounds_notice(rounds_of([far], (), (), RULES, at(20)), RULES) is None


@pytest.mark.parametrize(
    ("zone", "spring", "autumn"),
    [
        ("Europe/Berlin", (2026, 3, 29), (2026, 10, 25)),
        ("America/New_York", (2026, 3, 8), (2026, 11, 1)),
        ("Australia/Melbourne", (2026, 10, 4), (2026, 4, 5)),
    ],
)
def test_quiet_hours_follow_the_wall_clock_in_nights_that_change_it(
    zone: str, spring: tuple[int, int, int], autumn: tuple[int, int, int]
) -> None:
    """The published dates of clock changes in 2026 (IANA time zone database): 23 h and 25 h days."""
    site = ZoneInfo(zone)
    for day, hours in ((spring, 23), (autumn, 25)):
        start = datetime(*day, tzinfo=site)
        following = datetime(*day, tzinfo=site) + timedelta(days=1)
        length = (following.astimezone(ZoneInfo("UTC")) - start.astimezone(ZoneInfo("UTC"))) / timedelta(hours=1)
        assert length == hours
        moments = [
            (start.astimezone(ZoneInfo("UTC")) + timedelta(minutes=30 * step)).astimezone(site)
            for step in range(int(hours) * 2)
        ]
        for moment in moments:
            wall = moment.timetz().replace(tzinfo=None)
            assert is_quiet(moment, RULES) == (wall >= time(22) or wall < time(6, 30))
