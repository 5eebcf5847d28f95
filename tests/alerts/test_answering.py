"""What follows from an answer: pairs begin and end together, "later" is asked again, what is over changes nothing."""

from dataclasses import replace

import pytest

from carewatch.alerts.answering import consequence
from carewatch.alerts.danger import Danger, NoticeLine
from tests.alerts.made import Watch, at, call, kinds
from tests.condition.grown import TABLES

LEAVES = TABLES.condition.leaves


def told(measure: str = "fleece") -> tuple[Watch, Danger, NoticeLine]:
    """A danger that was told of at 12:45."""
    watch = Watch()
    planned = watch.look(at(12, 45), call(measure=measure))
    return watch, planned.dangers[0], planned.notices[0].lines[0]


def test_both_of_a_pair_are_begun_and_what_is_done_at_once_ends_by_itself() -> None:
    """Entries of the log, one for each."""
    _, danger, line = told("fleece+water")
    follows = consequence("call", line, "done", danger, (), {"water"}, "note", at(14), LEAVES)
    assert [(entry.work, entry.measure, entry.at) for entry in follows.entries] == [
        ("begin", "fleece", at(14)),
        ("begin", "water", at(14)),
        ("end", "water", at(15)),
    ]
    assert follows.danger is not None
    assert (follows.danger.answer, follows.danger.in_force) == ("done", True)
    assert (
        follows.said
        == "noted at 14:00: it is under fleece by night and has been watered; you will hear when that may end."
    )


def test_what_is_on_already_is_not_begun_twice_and_another_cover_takes_its_place() -> None:
    """One cover at a time."""
    _, danger, line = told("fleece-heavy+plunge")
    follows = consequence("worse", line, "done", danger, ("fleece", "plunge"), (), "note", at(14), LEAVES)
    assert [(entry.work, entry.measure) for entry in follows.entries] == [("end", "fleece"), ("begin", "fleece-heavy")]


def test_who_is_carried_leaves_fleece_and_bank_behind_and_keeps_mulch_and_ties() -> None:
    """Unless the cover is part of what was asked for."""
    standing = ("fleece", "plunge", "mulch", "tie-down", "move:bench")
    _, danger, line = told("move:shed")
    follows = consequence("worse", line, "done", danger, standing, (), "note", at(14), LEAVES)
    assert [entry.measure for entry in follows.entries if entry.work == "end"] == ["fleece", "plunge", "move:bench"]
    _, danger, line = told("move:shed+fleece")
    both = consequence("worse", line, "done", danger, standing, (), "note", at(14), LEAVES)
    assert [entry.measure for entry in both.entries if entry.work == "end"] == ["plunge", "move:bench"]
    assert [entry.measure for entry in both.entries if entry.work == "begin"] == ["move:shed"]


def test_who_is_carried_out_of_the_dark_stands_there_for_good() -> None:
    """Its own place harms it: no way back is told, when it is asked for or when the danger is gone."""
    watch = Watch()
    dark = call(measure="move:shade", hazard="dark")
    planned = watch.look(at(13), replace(dark, spells=(replace(dark.spells[0], unit="d"),), undo_at=None))
    danger, line = planned.dangers[0], planned.notices[0].lines[0]
    assert "\nLeave it there.\n" in planned.notices[0].body
    follows = consequence("call", line, "done", danger, ("fleece", "move:shed"), (), "note", at(14), LEAVES)
    assert [(entry.work, entry.measure or entry.to) for entry in follows.entries] == [
        ("end", "fleece"),
        ("end", "move:shed"),
        ("move", "shade"),
    ]
    assert follows.said == "it stands in shade from now on."
    assert follows.danger is not None
    watch.standing[danger.id] = follows.danger
    for hour in (9, 12, 17):
        watch.look(at(hour, day=8))
    assert kinds(watch.spoken) == ["call"]
    assert watch.standing[danger.id].state == "over"
    frost = consequence("call", line, "done", replace(danger, hazard="frost"), (), (), "note", at(14), LEAVES)
    assert [entry.work for entry in frost.entries] == ["begin"]


def test_both_of_a_pair_are_ended_by_bringing_back() -> None:
    """Those that are still on."""
    _, danger, line = told("fleece+plunge")
    both = consequence("bring-back", line, "done", danger, ("fleece", "plunge"), (), "note", at(14), LEAVES)
    assert [(entry.work, entry.measure) for entry in both.entries] == [("end", "fleece"), ("end", "plunge")]
    assert both.said == "noted: over now: fleece and banking to the rim."
    one = consequence("bring-back", line, "done", danger, ("plunge",), (), "note", at(14), LEAVES)
    assert [(entry.work, entry.measure) for entry in one.entries] == [("end", "plunge")]


def test_whoever_says_later_twice_is_asked_twice_and_after_the_hour_not_at_all() -> None:
    """An answer to the repeat counts like the first; what is past does not come back."""
    watch, danger, line = told()
    follows = consequence("call", line, "later", danger, (), (), "note", at(13), LEAVES)
    assert follows.said == "it stays open in the rounds; you will be asked again before 15:45."
    assert follows.danger is not None
    watch.standing[danger.id] = follows.danger
    watch.look(at(14, 45), call())
    assert kinds(watch.spoken) == ["call", "repeat"]
    again = consequence("repeat", line, "later", watch.standing[danger.id], (), (), "note", at(14, 50), LEAVES)
    assert again.danger is not None
    watch.standing[danger.id] = again.danger
    watch.look(at(15), call())
    assert kinds(watch.spoken) == ["call", "repeat"]
    watch.look(at(15, 15), call())
    assert kinds(watch.spoken) == ["call", "repeat", "repeat"]
    past = consequence("repeat", line, "later", watch.standing[danger.id], (), (), "note", at(16), LEAVES)
    assert past.danger is not None
    assert past.danger.state == watch.standing[danger.id].state
    assert "you will hear if it gets worse" in past.said


@pytest.mark.parametrize("answer", ["done", "skip", "later"])
def test_an_answer_to_what_is_over_puts_nothing_in_force(answer: str) -> None:
    """Kept, and harmless; also when the danger is unknown."""
    _, danger, line = told()
    over = consequence("call", line, answer, replace(danger, state="over"), (), (), "note", at(14, day=8), LEAVES)
    assert (over.entries, over.danger) == ((), replace(danger, state="over", answer=answer))
    assert over.said == "that danger is over: your answer is kept and changes nothing."
    assert consequence("call", line, answer, None, (), (), "note", at(14), LEAVES).danger is None


@pytest.mark.parametrize(
    ("measure", "done", "ended"),
    [
        ("move:shed", "noted at 14:00: it stands in shed; you will hear when it may go back.", "it is back from shed."),
        ("tie-down", "noted at 14:00: it is tied down.", "over now: ties."),
        ("set-down", "noted at 14:00: it stands on the ground; you will hear", "over now: setting it on the ground."),
        ("move:shed+fleece", "it stands in shed and is under fleece by night;", "back from shed; over now: fleece."),
    ],
)
def test_what_an_answer_changed_is_told_as_how_the_tree_stands(measure: str, done: str, ended: str) -> None:
    _, danger, line = told(measure)
    parts = measure.split("+")
    begun = consequence("call", line, "done", danger, (), (), "note", at(14), LEAVES)
    again = consequence("call", line, "done", danger, parts, (), "note", at(14), LEAVES)
    over = consequence("bring-back", line, "done", danger, parts, (), "note", at(14), LEAVES)
    assert done in begun.said
    assert again.said.startswith("that was noted already: it ")
    assert over.said.endswith(ended)
    for said in (begun.said, again.said, over.said):
        assert "in force" not in said


def test_every_measure_that_can_be_asked_for_has_words_for_its_answer() -> None:
    for measure in TABLES.measures:
        _, danger, line = told("move:shed" if measure == "move" else measure)
        assert consequence("call", line, "done", danger, (), (), "note", at(14), LEAVES).said
