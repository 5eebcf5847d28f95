"""Days on which nobody is there: what is done before, what is asked of a helper, and the page for them."""

from dataclasses import replace
from datetime import date

import pytest

from carewatch.alerts.away import NEEDS_HANDS, PAGE, absence_of, before_leaving, needs_hands
from carewatch.alerts.helper import NOTHING, helper_page, page_lines
from carewatch.alerts.rounds import Begun, rounds_message, rounds_notice, rounds_of
from carewatch.alerts.wording import LONGEST
from tests.alerts.made import RULES, Watch, at, away, call, kinds
from tests.condition.grown import TABLES

TRIP = away(6, 8)
COLD = call("elm", measure="move:shed", act_by=at(15, 45, day=7), night=at(2, day=8))


def test_what_acts_by_night_or_is_poured_or_opened_needs_hands() -> None:
    """The table of measures says in which hours each acts."""
    again = {name for name, row in TABLES.measures.items() if row.hours == "night" or row.refill}
    assert again <= NEEDS_HANDS
    assert needs_hands("fleece+plunge")
    assert not needs_hands("plunge+move:shed")


def test_the_absence_that_lasts_or_comes_next_and_dates_that_touch_are_one() -> None:
    """Past ones are over."""
    rules = replace(
        RULES,
        away=(
            (date(2026, 11, 9), date(2026, 11, 10)),
            (date(2026, 11, 6), date(2026, 11, 8)),
            (date(2026, 1, 1), date(2026, 1, 5)),
        ),
    )
    found = absence_of(at(12), rules)
    assert found is not None
    assert (found.first, found.last, found.told_from) == (date(2026, 11, 6), date(2026, 11, 10), at(7))
    assert absence_of(at(12, day=11), rules) is None
    assert absence_of(at(12), RULES) is None


def test_what_needs_no_hands_is_to_be_done_before_leaving_by_the_same_daylight() -> None:
    """And what needs them is left to its own day."""
    found = absence_of(at(12, day=4), TRIP)
    assert before_leaving(COLD, found, at(12, day=4)).act_by == at(15, 45)
    fleece = replace(COLD, measure="fleece")
    assert before_leaving(fleece, found, at(12, day=4)) == fleece
    assert before_leaving(call(), found, at(12, day=4)).act_by == at(15, 45)
    assert before_leaving(COLD, found, at(12, day=6)) == COLD


def test_before_leaving_it_is_called_once_at_the_rounds_of_the_last_day() -> None:
    """Not two days before, not again later; it says why so early."""
    watch = Watch(TRIP)
    for day, hour in ((4, 7), (4, 20), (5, 6), (5, 7), (5, 8), (5, 13)):
        watch.look(at(hour, day=day), COLD)
        if watch.spoken:
            watch.answer("done")
    assert kinds(watch.spoken) == ["call"]
    assert watch.spoken[0].created_at == at(7)
    assert watch.spoken[0].title == "Carry elm (lawn), once, level and tied, to shed before 15:45."
    assert "You are away tomorrow to Sun 8 Nov: this is for before you leave." in watch.spoken[0].body


def test_while_nobody_is_there_calls_still_come_and_say_whom_to_ask() -> None:
    """At their own time."""
    watch = Watch(TRIP)
    watch.look(at(12, 45, day=7), COLD)
    assert kinds(watch.spoken) == ["call"]
    assert "ask your helper" in watch.spoken[0].body
    assert "ask your helper" not in Watch().look(at(12, 45, day=7), COLD).notices[0].body


def test_the_rounds_of_the_last_day_tell_of_the_absence_even_if_nothing_else_is_to_be_said() -> None:
    """Once: on the day before, and on no other."""
    quiet = rounds_notice(rounds_of([], (), (), TRIP, at(7)), TRIP)
    assert quiet is not None
    assert quiet.title == "You are away tomorrow to Sun 8 Nov."
    assert quiet.body.endswith(PAGE)
    assert "nothing has to be done before or in those days" in quiet.body
    for day in (4, 6, 7):
        assert rounds_notice(rounds_of([], (), (), TRIP, at(7, day=day)), TRIP) is None
    fleece = replace(COLD, tree="fig", measure="fleece")
    body = rounds_message(rounds_of([COLD, fleece], (), (), TRIP, at(7))).body
    assert "Before you leave: carry elm (lawn), once, level and tied, to shed." in body
    assert "For your helper: put fleece over fig (lawn) before 15:45 Sat 7 Nov." in body


def test_fleece_that_has_to_come_off_while_nobody_is_there_is_for_the_helper() -> None:
    """Put on the evening before, it would cook the leaves: said in the call, in the rounds and on the page."""
    night = replace(call("fig", act_by=at(15, 45)), layer=False)
    told = Watch(TRIP).look(at(7), night).notices[0]
    assert "Taking it off fig falls into those days: ask your helper." in told.body
    body = rounds_message(rounds_of([night], (), (), TRIP, at(7))).body
    assert "For your helper: fig, off again tomorrow 9:30." in body
    assert "nothing has to be done" not in body
    page = helper_page([night], [], (), TRIP, at(7))
    assert page.places[0].lines == ("fig (fleece): Off again Fri 6 Nov 9:30.",)
    assert NOTHING not in page.ends


@pytest.mark.parametrize("count", [1, 10, 60])
def test_the_rounds_fit_a_message_with_all_that(count: int) -> None:
    """However many trees."""
    calls = [replace(COLD, tree=f"tree-with-a-long-name-{index}", place=f"place-{index}") for index in range(count)]
    body = rounds_message(rounds_of(calls, (), (), TRIP, at(7))).body
    assert len(body) <= LONGEST
    assert PAGE in body


def test_the_page_for_the_helper_says_all_of_the_days_by_their_names_with_the_cautions() -> None:
    """Read two days later, "tomorrow" would be another day."""
    fleece = replace(COLD, tree="fig", place="bench", measure="fleece", layer=False)
    on = Begun("pine", "bench", "mulch", at(9))
    page = helper_page([COLD, fleece], [on], (), TRIP, at(7))
    text = "\n".join(page_lines(page, "Garden"))
    assert text.startswith("For whoever looks after the trees, Fri 6 Nov to Sun 8 Nov\nGarden\n")
    assert "Sat 7 Nov, before 15:45: put fleece over fig (bench)." in text
    assert "carry elm (lawn), once, level and tied, to shed." in text
    assert "pine has mulch on its pot, on purpose: leave it so." in text
    assert "Off again Sun 8 Nov 9:30." in text
    assert "Do not hold covers in a gale." in text
    assert [place.place for place in page.places] == ["bench", "lawn"]
    assert not {"today", "tomorrow"} & set(text.replace(".", " ").replace(",", " ").split())


def test_the_page_for_the_helper_knows_every_measure_that_can_be_in_force() -> None:
    """What is poured counts as in force for an hour, or until its end is logged: the page comes all the same."""
    names = [name for name in TABLES.measures if name != "move"]
    assert "water" in names
    page = helper_page([], [Begun("pine", "bench", name, at(6)) for name in names], (), TRIP, at(7))
    (bench,) = page.places
    assert len(bench.lines) == len(names)
    assert "pine has been watered, on purpose: leave it so." in bench.lines


def test_a_page_without_anything_to_do_says_so_and_promises_nothing() -> None:
    """For the next week where no absence is known."""
    page = helper_page([], [], (), RULES, at(7))
    assert (page.first, page.last) == (date(2026, 11, 5), date(2026, 11, 12))
    assert page.ends[0] == NOTHING
    assert "As far as the forecast reaches" in NOTHING
