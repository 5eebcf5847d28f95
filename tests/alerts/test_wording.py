"""What a grower reads: numbers as they are said, times as they are kept, and a message that begins with the deed."""

import re
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest

from carewatch.alerts.call import SpellFacts, TreeCall
from carewatch.alerts.measure_words import UNDO, VERBS
from carewatch.alerts.messages import call_message, repeat_message
from carewatch.alerts.reasons import reason
from carewatch.alerts.wording import (
    LONGEST,
    action,
    by_when,
    chance,
    clock_time,
    day_word,
    exact,
    hazard_name,
    listed,
    number,
    quantity,
    undo,
)
from carewatch.limits.judge import HAZARDS, UNITS
from tests.condition.grown import TABLES

ZONE = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 11, 5, 12, 0, tzinfo=ZONE)
# Never said: nobody knows that (the rules of speaking that the project gives itself).
NEVER_SAID = ("will die", "safe", "guarantee")


def _at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 11, day, hour, minute, tzinfo=ZONE)


def _spell(hazard: str = "frost", peak: float = -4.6, limit: float = -2.5, organ: str = "leaves") -> SpellFacts:
    return SpellFacts(
        hazard=hazard,
        organ=organ,
        starts=_at(5, 20),
        ends=_at(6, 8),
        peak_at=_at(6, 6),
        peak=peak,
        limit=limit,
        unit=UNITS[hazard],
        probability=0.95,
        damage=0.5,
        loss=0.17,
        loss_if=0.18,
        severity="Moderate",
        certainty="Likely",
    )


def _call(tree: str = "maple-1", measure: str = "fleece-double", place: str = "lawn") -> TreeCall:
    return TreeCall(
        tree=tree,
        place=place,
        layer=False,
        spells=(_spell(),),
        measure=measure,
        in_force=False,
        why="expected loss falls from 17 % to 5 % for 4 minutes",
        standing_loss=0.17,
        loss_with=0.05,
        minutes=4.0,
        act_by=_at(5, 16, 47),
        undo_at=_at(6, 9, 30),
        harm="",
        caution="",
        rejected="",
        rejected_why="",
    )


def test_numbers_have_a_real_minus_and_never_a_negative_zero() -> None:
    """U+2212, as in print."""
    assert number(-2.5, 1) == "−2.5"
    assert number(-0.04, 1) == "0.0"
    assert number(-0.4) == "0"
    assert number(3.6) == "4"
    assert "-" not in number(-12.3, 1)


def test_quantities_are_said_in_their_units() -> None:
    """Whole degrees, per cent of a leaf's water, hours."""
    assert quantity(-4.6, "°C") == "−5 °C"
    assert quantity(0.34, UNITS["drying"]) == "34 % of the leaf's water"
    assert quantity(3.14, UNITS["sun"]) == "3.1 kWh/m² of direct sun a day"
    assert quantity(30.2, UNITS["soak"]) == "30 hours"
    assert quantity(12.6, UNITS["wind"]) == "13 m/s"


def test_limits_are_said_to_half_degrees() -> None:
    """Half a degree decides a night."""
    assert [exact(limit, "°C") for limit in (-2.5, -2.0, 3.0)] == ["−2.5 °C", "−2 °C", "3 °C"]
    assert exact(0.2, UNITS["drying"]) == "20 % of the leaf's water"


def test_chances_are_words_with_whole_per_cent_and_never_certain() -> None:
    """Neither 0 nor 100 per cent; more is never said in weaker words."""
    assert chance(1.0) == "almost certain (99 %)"
    assert chance(0.0) == "a small chance (1 %)"
    assert chance(0.95) == "almost certain (95 %)"
    assert chance(0.5) == "as likely as not (50 %)"
    order = ["a small chance", "possible", "as likely as not", "likely", "almost certain"]
    words = [order.index(chance(share / 200.0).partition(" (")[0]) for share in range(201)]
    assert all(first <= later for first, later in pairwise(words))
    assert set(words) == set(range(5))


def test_times_are_rounded_down_so_that_before_stays_true() -> None:
    """To five minutes."""
    assert [clock_time(_at(5, 16, minute)) for minute in (45, 47, 49, 50)] == ["16:45", "16:45", "16:45", "16:50"]
    assert clock_time(_at(5, 7, 3)) == "7:00"


def test_days_are_today_tomorrow_or_named() -> None:
    """By the site's own calendar."""
    assert [day_word(_at(day, 1), NOW) for day in (5, 6, 7)] == ["today", "tomorrow", "Sat 7 Nov"]
    assert day_word(_at(5, 23, 59), _at(5, 0, 1)) == "today"


def test_by_when_is_now_or_before_a_time() -> None:
    """Less than twenty minutes are now; what is past is now too."""
    assert by_when(NOW + timedelta(minutes=19), NOW) == "now"
    assert by_when(NOW - timedelta(hours=3), NOW) == "now"
    assert by_when(_at(5, 16, 47), NOW) == "before 16:45"
    assert by_when(_at(6, 10), NOW) == "before 10:00 tomorrow"
    assert by_when(_at(8, 10), NOW) == "before 10:00 Sun 8 Nov"


def test_names_are_joined_as_in_speech() -> None:
    """More than four are counted."""
    names = ["a", "b", "c", "d", "e", "f"]
    assert [listed(names[:count]) for count in (0, 1, 2, 4)] == ["", "a", "a and b", "a, b, c and d"]
    assert listed(names) == "a, b, c and 3 more"


def test_every_measure_has_a_verb() -> None:
    """None would be called by its row's name, and every undo belongs to a measure."""
    assert set(VERBS) == set(TABLES.measures) - {"move"}
    assert set(UNDO) <= set(VERBS)
    assert action("move:shed", ["maple-1"], "lawn", False) == "Carry maple-1 (lawn) to shed"
    assert "once, level and tied" in action("move:shed", ["maple-1"], "lawn", True)


def test_every_hazard_has_a_name_and_a_reason() -> None:
    """With the peak, the limit and when."""
    for hazard in HAZARDS:
        spell = _spell(hazard, peak=44.0, limit=40.0)
        assert hazard_name(spell)
        sentence = reason(spell, NOW, layer=False)
        assert sentence.endswith(".")
        if hazard != "sun":
            assert "tomorrow" in sentence, hazard
        assert not re.search(r"-\d", sentence), hazard


def test_cold_above_zero_is_never_called_frost() -> None:
    """A fig is hurt at 3 °C: cold; a maple at -2.5: frost."""
    assert hazard_name(_spell(limit=3.0, peak=2.0)) == "cold"
    assert hazard_name(_spell(limit=-2.5)) == "frost"
    fig = replace(_call("fig", "fleece"), spells=(_spell(limit=3.0, peak=2.0),))
    assert "frost" not in call_message([fig], NOW).body.lower()


def test_the_first_line_says_what_which_trees_and_by_when() -> None:
    """Enough on a lock screen."""
    message = call_message([_call()], NOW)
    assert message.title == "Put two layers of fleece over maple-1 (lawn) before 16:45."
    assert message.body.startswith(message.title)
    assert "−5 °C" in message.body
    assert "−2.5 °C" in message.body
    assert "Almost certain (95 %)" in message.body
    assert "Off again tomorrow 9:30." in message.body


def test_trees_of_one_place_and_measure_are_one_paragraph() -> None:
    """The most pressing first; of a group, the one with most to lose gives the reason."""
    calls = [
        replace(_call("b"), act_by=_at(5, 16, 0)),
        replace(_call("a"), standing_loss=0.4, act_by=_at(5, 16, 30)),
        replace(_call("c", place="bench"), act_by=_at(5, 14, 0)),
    ]
    message = call_message(calls, NOW)
    assert message.title.startswith("Put two layers of fleece over c (bench) before 14:00.")
    assert message.body.count("\n\n") == 1
    second = message.body.split("\n\n")[1]
    assert second.startswith("Put two layers of fleece over b and a (lawn) before 16:00.")
    assert "a: its leaves" in second


def test_a_layer_is_told_to_stand_still() -> None:
    """Unless it is the move that is asked for."""
    assert "Leave the pot where it stands." in call_message([replace(_call(), layer=True)], NOW).body
    moved = replace(_call(measure="move:shed"), layer=True)
    body = call_message([moved], NOW).body
    assert "Leave the pot" not in body
    assert "once, level and tied" in body
    assert "a new layer loses leaf" in call_message([replace(_call(), layer=True)], NOW).body


def test_the_strongest_rejected_measure_and_the_safety_word_are_told_once() -> None:
    """One line each."""
    calls = [
        replace(_call(name), caution="Do not put up or hold covers in a gale.", rejected="move:shed", rejected_why="no")
        for name in ("a", "b")
    ]
    body = call_message(calls, NOW).body
    assert body.count("Do not put up or hold covers in a gale.") == 1
    assert body.count("Do not carry them to shed: no.") == 1


def test_an_end_that_nobody_knows_is_said() -> None:
    """One member of a group without an end leaves the group without."""
    calls = [_call("a"), replace(_call("b"), undo_at=None)]
    assert "No end in sight yet; you will hear when." in call_message(calls, NOW).body
    assert (
        undo("move:shed", _at(7, 17), NOW)
        == "It may come back from Sat 7 Nov 17:00 on, late in the day or under cloud."
    )
    assert undo("water", _at(6, 9), NOW) == ""


@pytest.mark.parametrize("count", [1, 4, 12, 40, 200])
def test_a_message_is_never_longer_than_a_thousand_characters(count: int) -> None:
    """However many trees; what is left out is counted, and the safety word stays."""
    measures = ("fleece", "fleece-heavy", "mulch", "water", "move:shed", "set-down", "shade-cloth", "tie-down")
    calls = [
        replace(
            _call(f"japanese-maple-layer-number-{index}", measures[index % 8], f"place-{index % 9}"),
            caution="Lift heavy pots with two people, and before the gale.",
            rejected="move:unheated-shed-behind-the-house",
            rejected_why="a layer in its first year stands still, and in place enough is saved",
        )
        for index in range(count)
    ]
    message = call_message(calls, NOW)
    again = repeat_message(calls, NOW)
    assert len(again.body) <= LONGEST
    assert again.title.startswith("Reminder: Put")
    assert "Lift heavy pots with two people" in again.body
    assert len(message.body) <= LONGEST == 1000
    assert message.body.startswith(message.title)
    assert "Lift heavy pots with two people" in message.body
    if count >= 40:
        assert "more: see `carewatch rounds`." in message.body
    assert not any(word in message.body.lower() for word in NEVER_SAID)


def test_a_message_holds_no_decimals_of_a_chance_and_no_stray_values() -> None:
    """Nothing that a program would say."""
    for measure in (*VERBS, "move:shed"):
        body = call_message([_call(measure=measure)], NOW).body
        assert not any(word in body for word in ("None", "nan", "inf", "  "))
        assert ".0 %" not in body
