"""A call counts from when it arrived; whom no word reached is neither reminded nor told of a change."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from carewatch.alerts.danger import Notice
from carewatch.alerts.farewell import Known
from carewatch.alerts.reached import Arrival, Reached, reached
from tests.alerts.made import Watch, at, call, kinds


def known(watch: Watch, arrival: Arrival) -> Known:
    """What is known when all messages so far fared alike."""
    return Known(reached=reached(watch.spoken, {notice.id: arrival for notice in watch.spoken}))


def repeats(arrival: Arrival) -> list[Notice]:
    """What is said after the call of one o'clock, looked at every ten minutes."""
    watch = Watch()
    watch.look(at(13), call())
    for minute in range(10, 160, 10):
        watch.look(at(13) + timedelta(minutes=minute), call(), known=known(watch, arrival))
    return watch.spoken[1:]


@pytest.mark.parametrize(("arrived", "again"), [(at(13), at(14)), (at(14, 10), at(15, 10)), (at(15), None)])
def test_a_reminder_counts_from_when_the_call_arrived(arrived: datetime, again: datetime | None) -> None:
    """An hour after it was heard; later than the work must begin there is none."""
    said = repeats(Arrival(arrived, False))
    assert [notice.created_at for notice in said] == ([again] if again else [])
    assert all(notice.title.startswith("Reminder: ") for notice in said)


def test_a_call_that_is_still_tried_is_not_repeated_and_one_that_was_given_up_is_made_again() -> None:
    """On its way it is the news itself; given up everywhere it is made once more, in its own words."""
    assert repeats(Arrival(None, True)) == []
    said = repeats(Arrival(None, False))
    assert kinds(said) == ["repeat"]
    assert said[0].title.startswith("Put fleece over layer")


@pytest.mark.parametrize(("arrival", "words"), [(Arrival(None, True), "Carry"), (Arrival(at(13), False), "Changed: ")])
def test_nothing_has_changed_for_whom_no_word_reached(arrival: Arrival, words: str) -> None:
    watch = Watch()
    watch.look(at(13), call())
    worse = call(severity="Severe", measure="move:shed")
    told = watch.look(at(13, 30), worse, known=known(watch, arrival)).notices
    assert [notice.title.startswith(words) for notice in told] == [True]


def test_the_last_message_on_a_danger_counts_and_one_that_arrived_makes_it_heard() -> None:
    """The call arrived, the worse one is on its way; of what went to no channel nothing is known."""
    watch = Watch()
    watch.look(at(13), call())
    watch.look(at(13, 30), call(severity="Severe", measure="move:shed"))
    first, second = watch.spoken
    danger = first.lines[0].danger
    found = reached([second, first], {first.id: Arrival(at(13), False), second.id: Arrival(None, True)})
    assert (dict(found.at), found.waiting, found.unheard) == ({}, {danger}, frozenset())
    assert reached(watch.spoken, {}) == Reached({}, frozenset(), frozenset())


def test_water_is_asked_for_anew_at_its_next_hour_and_a_cover_that_is_on_is_not() -> None:
    """One dry spell of days: what was poured on Wednesday is drunk on Friday."""
    for measure, said in (("water", ["call", "call"]), ("shade-cloth", ["call"])):
        watch = Watch()
        thirst = replace(call(measure=measure, hazard="drying", act_by=at(8)), undo_at=at(20, day=8))
        long = replace(thirst, spells=(replace(thirst.spells[0], unit="share of leaf water", ends=at(20, day=8)),))
        watch.look(at(7), long)
        watch.answer("done")
        later = replace(long, act_by=at(8, day=7))
        for day, hour in ((5, 12), (6, 7), (6, 20), (7, 7)):
            watch.look(at(hour, day=day), later)
        assert kinds(watch.spoken) == said
        assert "still open" not in watch.spoken[-1].body
