"""What is said, when, and how often: the plan as a function of calls and of what stands."""

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from carewatch.alerts.budget import may_say, said_today
from carewatch.alerts.call import TreeCall
from carewatch.alerts.plan import Plan
from carewatch.alerts.rounds import rounds_message, rounds_notice, rounds_of
from carewatch.alerts.saying import LAST_TODAY
from carewatch.alerts.timing import is_quiet, speak_from
from carewatch.daemon.season import TOLD, SeasonKnown, with_season
from tests.alerts.made import ACT_BY, NIGHT, RULES, Watch, at, call, kinds
from tests.alerts.test_seasons import task


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


def faded(share: float) -> TreeCall:
    """The night, still seen, with nothing chosen: the best gain is this share of what would call for it."""
    return replace(call(measure=""), minutes=0.0, gain=share * 0.08, cost=0.08, factor=1.0)


def test_a_gain_a_little_under_its_cost_is_no_reason_to_call_off() -> None:
    """Hysteresis: what was asked for stands down to six tenths of what would call for it."""
    watch = Watch()
    watch.look(at(10), call(act_by=at(12)))
    for minute in (10, 20, 30):
        watch.look(at(10, minute), faded(0.65))
    assert kinds(watch.spoken) == ["call"]


def test_a_danger_not_worth_its_work_by_two_runs_is_called_off_and_told_anew_if_it_firms_up() -> None:
    """One run may err; called off, it is news again when it comes back."""
    watch = Watch()
    watch.look(at(13), call())
    watch.look(at(13, 10), faded(0.5))
    watch.look(at(13, 20), faded(0.5), new_run=False)
    assert kinds(watch.spoken) == ["call"]
    watch.look(at(13, 30), faded(0.5))
    assert kinds(watch.spoken) == ["call", "stand-down"]
    assert watch.spoken[1].title == "No need any more to put fleece over layer."
    watch.look(at(14), faded(0.5))
    assert kinds(watch.spoken) == ["call", "stand-down"]
    watch.look(at(14, 30), call())
    assert kinds(watch.spoken) == ["call", "stand-down", "call"]


def test_a_run_in_between_that_sees_it_again_starts_the_count_anew() -> None:
    """Two runs in a row."""
    watch = Watch()
    watch.look(at(13), call())
    watch.look(at(13, 10), faded(0.5))
    watch.look(at(13, 20), call())
    watch.look(at(13, 30), faded(0.5))
    assert kinds(watch.spoken) == ["call"]


def test_what_cannot_be_done_any_more_is_no_relief() -> None:
    """After the hour at which the work had to begin, nothing to choose is not nothing to fear."""
    watch = Watch()
    watch.look(at(13), call())
    for hour in (16, 17, 18):
        watch.look(at(hour), faded(0.0))
    assert "stand-down" not in kinds(watch.spoken)


def test_whoever_refused_hears_no_all_clear() -> None:
    """Not this time: then there is nothing to call off."""
    watch = Watch()
    watch.look(at(13), call())
    watch.answer("skip")
    watch.look(at(14))
    watch.look(at(15))
    assert kinds(watch.spoken) == ["call"]


def test_later_is_asked_again_an_hour_before_the_work_must_begin() -> None:
    """Not at once, and not never."""
    watch = Watch()
    watch.look(at(12, 45), call())
    watch.answer("later")
    for hour, minute in ((13, 50), (14, 30), (14, 40)):
        watch.look(at(hour, minute), call())
    assert kinds(watch.spoken) == ["call"]
    planned = watch.look(at(14, 45), call())
    assert kinds(planned.notices) == ["repeat"]
    assert planned.notices[0].title.startswith("Still open: Put fleece over layer (lawn) before 15:45")
    watch.look(at(15), call())
    assert kinds(watch.spoken) == ["call", "repeat"]


def test_the_plan_knows_when_it_will_have_to_speak_next() -> None:
    """So that what is due at 12:45 is not said at 13:30: the call, then the repeat, then the undoing."""
    watch = Watch()
    assert watch.look(at(9), call()).look_again == at(12, 45)
    assert watch.look(at(12, 45), call()).look_again == at(13, 45)
    watch.answer("done")
    assert watch.look(at(13), call(in_force=True)).look_again == at(9, day=6)
    assert Watch().look(at(9)).look_again is None


def test_the_work_of_all_trees_of_a_message_is_reckoned_with() -> None:
    """Thirty trees of five minutes are two and a half hours of work before the same dusk."""
    watch = Watch()
    many = [call(f"tree-{number:02d}") for number in range(30)]
    planned = watch.look(at(10, 15), *many)
    assert kinds(planned.notices) == []
    # The last must begin at 15:45, the first 29 times five minutes earlier: 13:20, told three hours before.
    assert planned.look_again == at(10, 20)
    planned = watch.look(at(10, 20), *many)
    assert kinds(planned.notices) == ["call"]
    assert "before 13:20" in planned.notices[0].title
    assert "The whole round takes about 2½ hours." in planned.notices[0].body
    assert len(planned.notices[0].lines) == 30


def test_what_would_be_told_within_two_hours_is_told_along() -> None:
    """One buzz for one round; what is for the evening waits for its own time."""
    watch = Watch()
    watch.look(at(12, 45), call("one"), call("two", act_by=at(17)), call("three", act_by=at(19)))
    assert [line.tree for notice in watch.spoken for line in notice.lines] == ["one", "two"]


def test_a_danger_that_comes_up_late_is_told_at_once_with_what_can_yet_be_done() -> None:
    """After dusk, and a severe one also at night; it says that it was not in sight."""
    watch = Watch()
    planned = watch.look(at(19), call(act_by=at(19)))
    assert kinds(planned.notices) == ["call"]
    assert planned.notices[0].title == "Put fleece over layer (lawn) now."
    assert "This was not in sight before" in planned.notices[0].body
    in_time = Watch().look(at(13), call())
    assert "not in sight" not in in_time.notices[0].body


def test_nothing_is_told_of_twice_after_its_act_by() -> None:
    """Unanswered, the hour past: no repeat, no other measure, no class more; only that it became severe is news."""
    watch = Watch()
    watch.look(at(13), call(severity="Minor"))
    for hour in (16, 17, 20):
        watch.look(at(hour), call(act_by=at(hour), measure="fleece-heavy"))
    assert kinds(watch.spoken) == ["call"]
    watch.look(at(21), call(act_by=at(21), severity="Severe"))
    assert kinds(watch.spoken) == ["call", "worse"]


def test_beyond_a_day_and_a_half_only_the_rounds_speak() -> None:
    """Unless it is likely and the work takes so long that it must begin before."""
    watch = Watch()
    huge = [call(f"tree-{number:03d}", act_by=at(15, 45, day=7), night=at(2, day=8)) for number in range(250)]
    assert kinds(watch.look(at(20), call(act_by=at(15, 45, day=7), night=at(2, day=8))).notices) == []
    # 250 trees are almost 21 hours of work: over two days of it before dusk of the 7th.
    assert kinds(watch.look(at(19), *huge).notices) == ["call"]
    unlikely = [replace(each, spells=(replace(each.spells[0], probability=0.4),)) for each in huge]
    assert kinds(Watch().look(at(19), *unlikely).notices) == []


def test_the_third_message_of_a_day_takes_all_along_and_says_so() -> None:
    """What would have to be told until night goes with it; repeats wait; a fourth is held back and named."""
    watch = Watch()
    for index, hour in enumerate((7, 8)):
        watch.look(at(hour), call(f"early-{index}", act_by=at(hour, 40)))
        watch.answer("done")
    third = watch.look(at(9), call("noon", act_by=at(9, 40)), call("evening", act_by=at(21)))
    assert [line.tree for line in third.notices[0].lines] == ["noon", "evening"]
    assert third.notices[0].body.endswith(f"{LAST_TODAY}\nDo not hold covers in a gale.")
    watch.answer("done")
    held = watch.look(at(13), call("new"))
    assert (kinds(held.notices), held.held) == ([], ("new",))
    severe = watch.look(at(14), call("new"), call("great", severity="Severe", measure="fleece-heavy"))
    assert kinds(severe.notices) == ["call"]
    assert {line.tree for line in severe.notices[0].lines} == {"new", "great"}
    rounds = rounds_of([call("new")], (), (), RULES, at(13), held=held.held)
    assert "There is more on new today: see `carewatch rounds`." in rounds_message(rounds).body


def test_a_farewell_that_is_one_too_many_waits_until_the_morning_and_is_not_lost() -> None:
    """Held back, the danger stands as it stood."""
    watch = Watch()
    for index, hour in enumerate((7, 8, 9)):
        watch.look(at(hour), call(f"tree-{index}", act_by=at(hour, 40), night=at(23)))
    watch.answer("done")
    for hour in (10, 11, 12):
        watch.look(at(hour))
    assert kinds(watch.spoken) == ["call", "call", "call"]
    for hour in (9, 10):
        watch.look(at(hour, day=6))
    assert kinds(watch.spoken) == ["call", "call", "call", "bring-back"]
    assert len(watch.spoken[-1].lines) == 3


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
    assert speak_from(act_by, RULES) == at(6, 30, day=6)
    assert speak_from(at(7, day=6), RULES) == at(21)


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
    assert notice.title == "Nothing to carry today. Ahead: frost Mon 9 Nov."
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


def test_the_last_message_of_a_day_is_kept_for_what_spoils() -> None:
    """After two a repeat and a season's plan wait; a call, and what has to come off, do not."""
    watch = Watch()
    watch.look(at(8), call(act_by=at(10)))
    said = watch.spoken * 2
    assert kinds(said) == ["call", "call"]
    for kind, expected in (("repeat", False), ("season", False), ("question", False), ("call", True)):
        assert may_say(kind, "Moderate", said_today(said, at(9))) is expected
    assert may_say("bring-back", "Minor", 2)
    assert not may_say("bring-back", "Minor", 3)
    assert may_say("repeat", "Severe", 7)
    assert may_say("rounds", "Minor", 7)
    tasks = [task("elm", about="shed", last=date(2026, 11, 6))]
    nothing, facts = with_season(Plan((), ()), tasks, SeasonKnown((), {}), 50.0, RULES, at(9), said)
    assert (nothing.notices, TOLD in facts) == ((), False)
    planned, facts = with_season(Plan((), ()), tasks, SeasonKnown((), {}), 50.0, RULES, at(9), said[:1])
    assert kinds(planned.notices) == ["season"]
    assert facts[TOLD] == '["winter-place:2026"]'
