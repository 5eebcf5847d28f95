"""A severe danger for which nothing at hand helps is said once, by day; one that can be met is not."""

from dataclasses import replace

import pytest

from carewatch.alerts.call import TreeCall
from tests.alerts.made import Watch, at, call, kinds


def helpless(severity: str = "Severe") -> TreeCall:
    """A frost night against which nothing is to be had."""
    return replace(call("tub", severity=severity, measure=""), gain=0.0, cost=0.0, standing_loss=0.31)


def test_a_severe_danger_without_a_measure_is_said_once_and_not_repeated() -> None:
    """It comes up at noon, after the day's rounds: a word by day is all that is left to give."""
    watch = Watch()
    for hour in range(12, 24):
        watch.look(at(hour), helpless())
    assert kinds(watch.spoken) == ["call"]
    (notice,) = watch.spoken
    assert notice.title == "Nothing at hand protects tub."
    assert "its leaves reach about −4" in notice.body
    assert "do it by daylight" in notice.body
    assert {line.measure for line in notice.lines} == {""}


def test_it_waits_for_the_day_on_which_it_matters() -> None:
    """Three days ahead it is a matter of the rounds."""
    watch = Watch()
    watch.look(
        at(12), replace(helpless(), spells=(replace(helpless().spells[0], starts=at(2, day=8), ends=at(8, day=8)),))
    )
    assert watch.spoken == []


@pytest.mark.parametrize(
    "other",
    [
        replace(helpless(), gain=0.05, cost=0.2),
        replace(helpless(), displaced_measure="move:shed", displaced_by=("olive",)),
        replace(helpless(), standing_loss=0.05),
    ],
    ids=["not worth its work", "told with who gets it instead", "a small loss"],
)
def test_what_is_told_elsewhere_is_not_told_here(other: TreeCall) -> None:
    """The rounds have it, or the call for the trees that got the room."""
    watch = Watch()
    watch.look(at(12), other)
    assert watch.spoken == []


def test_a_moderate_danger_without_a_measure_stays_in_the_rounds() -> None:
    """No message for what is minor and cannot be helped."""
    watch = Watch()
    watch.look(at(12), helpless("Moderate"))
    assert watch.spoken == []


def test_nobody_is_woken_for_what_cannot_be_helped() -> None:
    """At night nothing can be done about it: it is said in the morning, if it lies ahead still."""
    watch = Watch()
    watch.look(at(23), helpless())
    assert watch.spoken == []


def test_what_turns_up_later_is_asked_for() -> None:
    """Cloth was bought at noon: then there is something to do, and it is told as a change."""
    watch = Watch()
    watch.look(at(12), helpless())
    watch.look(at(13), call("tub", severity="Severe"))
    assert kinds(watch.spoken) == ["call", "worse"]


def test_it_is_called_off_when_it_fades() -> None:
    """Who was told to think of something is told that there is no need."""
    watch = Watch()
    watch.look(at(12), helpless())
    watch.look(at(13), helpless())
    assert kinds(watch.spoken) == ["call"]
    for hour in (14, 15, 16):
        watch.look(at(hour))
    assert kinds(watch.spoken) == ["call", "stand-down"]


def test_who_was_told_of_a_gale_is_told_of_the_frost_and_the_gale_stands_as_it_was() -> None:
    """Tied against the wind of the evening, it stands open to a night that nothing eases: that is news."""
    watch = Watch()
    evening = at(20)
    gale = call("tub", measure="tie-down", hazard="wind", night=evening, act_by=at(15))
    watch.look(at(12), gale)
    watch.answer("done")
    (before,) = watch.standing.values()
    both = replace(helpless("Extreme"), spells=(*helpless("Extreme").spells, *gale.spells))
    for hour in (13, 14, 15):
        watch.look(at(hour), both)
    assert [notice.title for notice in watch.spoken[1:]] == ["Nothing at hand protects tub."]
    assert {line.danger for line in watch.spoken[-1].lines} == set(watch.standing) - {before.id}
    after = watch.standing[before.id]
    assert (after.spoken_measure, after.answer, after.spoken_at) == ("tie-down", "done", before.spoken_at)


def test_who_was_told_of_the_frost_does_not_hear_that_nothing_helps_against_it() -> None:
    """The hour for the fleece is past: what the roots fear of the same night is no other story."""
    watch = Watch()
    watch.look(at(13), call("tub", severity="Severe"))
    assert kinds(watch.spoken) == ["call"]
    roots = replace(helpless("Extreme").spells[0], hazard="root-freeze", loss=0.3)
    watch.look(at(17), replace(helpless(), spells=(roots, *helpless().spells)))
    assert [notice.title for notice in watch.spoken if "Nothing" in notice.title] == []
