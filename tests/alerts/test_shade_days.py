"""Days in shade after a stay in the dark are kept with the danger, from the call to the bring-back."""

from dataclasses import replace
from datetime import timedelta

from carewatch.alerts.identity import dangers_of
from tests.alerts.made import at, call

INTO_SHED = replace(call(measure="move:shed"), shade_days=3)


def test_they_are_those_of_the_call_while_it_can_still_change() -> None:
    (new,) = dangers_of(INTO_SHED, (), at(8))
    assert new.shade_days == 3
    (sooner,) = dangers_of(replace(INTO_SHED, shade_days=0), (new,), at(9))
    assert sooner.shade_days == 0
    (longer,) = dangers_of(INTO_SHED, (sooner,), at(10))
    assert longer.shade_days == 3


def test_once_it_stands_there_they_are_not_forgotten() -> None:
    """What is left of a stay grows shorter with each look, and its leaves are in the dark all the same."""
    (new,) = dangers_of(INTO_SHED, (), at(8))
    for done in (replace(new, answer="done"), replace(new, in_force=True)):
        (later,) = dangers_of(replace(INTO_SHED, in_force=True, shade_days=0), (done,), at(12, day=7))
        assert later.shade_days == 3


def test_a_stay_that_turns_out_long_is_known_as_long() -> None:
    (new,) = dangers_of(replace(INTO_SHED, shade_days=0), (), at(8))
    (later,) = dangers_of(replace(INTO_SHED, in_force=True), (replace(new, answer="done"),), at(12, day=6))
    assert later.shade_days == 3


def test_a_danger_that_the_measure_is_not_for_knows_of_no_shade() -> None:
    heat = replace(INTO_SHED.spells[0], hazard="wind", eased=0.0, starts=at(20), ends=at(23) + timedelta(hours=1))
    both = replace(INTO_SHED, spells=(INTO_SHED.spells[0], heat))
    assert {danger.hazard: danger.shade_days for danger in dangers_of(both, (), at(8))} == {"frost": 3, "wind": 0}
