"""Messages about several trees: pairs of measures, different reasons, what was short, and how the words read."""

from dataclasses import replace

import pytest

from carewatch.alerts.call import TreeCall
from carewatch.alerts.danger import SEVERITIES
from carewatch.alerts.measure_words import ENDS, STATES, VERBS
from carewatch.alerts.messages import call_message
from carewatch.alerts.wording import action, ended, measure_name, undo
from carewatch.hazard.spells import certainty_of, severity_of, urgency_of
from carewatch.measures.choice import Option, choose
from tests.alerts.made import Watch, at, call, kinds
from tests.condition.grown import TABLES

# OASIS Common Alerting Protocol Version 1.2 (1 July 2010), section 3.2.2: the code values of an alert's "info".
CAP_URGENCY = {"Immediate", "Expected", "Future", "Past", "Unknown"}
CAP_SEVERITY = ["Unknown", "Minor", "Moderate", "Severe", "Extreme"]
CAP_CERTAINTY = {"Observed", "Likely", "Possible", "Unlikely", "Unknown"}


def test_a_pair_names_both_measures_in_one_order() -> None:
    """Begun together, named together; the second by "it"."""
    assert action("fleece+plunge", ["maple"], "lawn", True) == (
        "Put fleece over maple (lawn) and bank it to the rim with bark or soil"
    )
    assert action("move:shed+mulch", ["a", "b"], "lawn", False) == (
        "Carry a and b (lawn) to shed and mulch their pots 3 to 5 cm deep"
    )
    assert action("plunge+move:shed", ["a"], "lawn", True).endswith("and carry it, once, level and tied, to shed")
    assert measure_name("fleece+move:shed") == "fleece and the move to shed"
    assert undo("fleece+move:shed", at(9, 30, day=6), at(13)) == (
        "Off again tomorrow 9:30. It may come back from tomorrow 9:30 on, late in the day or under cloud."
    )


def test_one_tree_has_one_pot() -> None:
    """And two have two."""
    assert action("mulch", ["a"], "lawn", False) == "Mulch the pot of a (lawn) 3 to 5 cm deep"
    assert action("mulch", ["a", "b"], "lawn", False) == "Mulch the pots of a and b (lawn) 3 to 5 cm deep"
    assert ended("rain-cover", ["a"]) == "take the rain cover off the pot of a"


def test_whatever_is_left_on_has_an_end_in_words() -> None:
    """All measures that are not done at once, and none that is not in the table."""
    left_on = {name for name, row in TABLES.measures.items() if not row.refill and name != "move"}
    assert set(ENDS) == left_on
    assert set(ENDS) <= set(VERBS)
    assert set(STATES) == set(VERBS)


def test_two_trees_with_the_same_measure_and_different_reasons_both_have_theirs() -> None:
    """One deed, two reasons with their limits; of the same reason the one with most to lose speaks."""
    leaves = call("a")
    roots = replace(call("b", hazard="root-freeze"), standing_loss=0.3)
    roots = replace(roots, spells=(replace(roots.spells[0], organ="roots", peak=-7.0, limit=-3.0),))
    same = replace(call("c"), standing_loss=0.05)
    lines = call_message([leaves, roots, same], at(13)).body.splitlines()
    assert lines[0] == "Put fleece over b, a and c (lawn) before 15:45."
    assert lines[1].startswith("b: its root ball reaches about −7 °C")
    assert lines[2].startswith("a: its leaves reach about −4 °C")
    assert sum("reach" in line for line in lines) == 2


def test_of_twins_only_the_one_that_needs_it_is_named() -> None:
    """The other bears the night: it is in no line of the message, and nothing is asked for it."""
    watch = Watch()
    told = watch.look(at(13), call("twin-1"), replace(call("twin-2", measure=""), gain=0.01)).notices
    assert kinds(told) == ["call"]
    assert "twin-1" in told[0].body
    assert "twin-2" not in told[0].body
    assert [line.tree for line in told[0].lines] == ["twin-1"]


def short(name: str, measure: str) -> TreeCall:
    """A tree that would have got the place in the shed."""
    return replace(
        call(name, measure=measure),
        layer=False,
        displaced_measure="move:shed",
        displaced_by=("oak",),
        displaced_why="the room in shed goes to oak, which would lose more without it",
    )


def test_who_stays_out_and_what_they_get_instead_is_told() -> None:
    """Who gets the place, and that a third tree goes without."""
    watch = Watch()
    oak = replace(call("oak", measure="move:shed"), layer=False)
    told = watch.look(at(13), oak, short("elm", "plunge"), replace(short("fig", ""), gain=0.01)).notices[0]
    assert "Carry oak (lawn) to shed before 15:" in told.body
    assert "Bank elm (lawn) to the rim with bark or soil before 15:" in told.body
    assert "This instead for elm: the room in shed goes to oak, which would lose more without it." in told.body
    assert "fig goes without: the room in shed goes to oak" in told.body


def test_a_message_reads_like_this() -> None:
    """The whole of one, for the eye."""
    night = replace(call("maple-1"), undo_at=at(9, 30, day=6))
    felt = "Its leaves reach about −4 °C tomorrow about 6:00; a new layer loses leaf below −2.5 °C."
    reasons = f"{felt} Almost certain (90 %)."
    assert call_message([night], at(13)).body.splitlines() == [
        "Put fleece over maple-1 (lawn) before 15:45.",
        reasons,
        "Leave the pot where it stands. Off again tomorrow 9:30.",
        "",
        "Do not hold covers in a gale.",
    ]


def test_the_words_of_severity_urgency_and_certainty_are_those_of_the_standard() -> None:
    """Every class that can come out, in the order of the standard."""
    assert list(SEVERITIES) == CAP_SEVERITY
    losses = [severity_of(share / 100) for share in range(101)]
    assert {word for word in losses if word} == {"Minor", "Moderate", "Severe", "Extreme"}
    ranks = [CAP_SEVERITY.index(word or "Unknown") for word in losses]
    assert ranks == sorted(ranks)
    assert {urgency_of(hours / 4) for hours in range(200)} <= CAP_URGENCY
    certainties = [certainty_of(share / 100) for share in range(101)]
    assert set(certainties) <= CAP_CERTAINTY
    # "Likely": p > ~50 %; "Possible": possible but not likely, p <= ~50 % (CAP 1.2).
    assert (certainty_of(0.51), certainty_of(0.5)) == ("Likely", "Possible")


def chosen(probability: float, factor: float, loss_if: float = 0.5) -> bool:
    """Whether six minutes of work are called for to halve a loss at ordinary caution."""
    standing = probability * loss_if
    option = Option(
        name="fleece",
        loss=0.0,
        handling=0.0,
        hazard_damage={},
        hazard_loss={"frost": 0.0},
        hazard_probability={},
        carries=0,
        minutes=4.0,
        gain=standing,
        cost=4.0 / 60.0,
        chosen=False,
        why="",
        factor=factor,
    )
    return choose([option], standing, False, frozenset())[0].chosen


@pytest.mark.parametrize(
    ("probability", "last", "earlier"), [(0.10, False, False), (0.15, True, False), (0.3, True, True)]
)
def test_the_probability_that_is_needed_falls_as_chances_run_out(probability: float, last: bool, earlier: bool) -> None:
    """A severe danger is called for from about 0.15 at the last daylight, and from twice that a day before."""
    assert chosen(probability, 1.0) is last
    assert chosen(probability, 2.0) is earlier
