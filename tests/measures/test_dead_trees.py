"""A tree that was seen dead: nothing can be lost of it, so that it asks for no measure and takes no room."""

from datetime import datetime, timedelta

import pytest

from carewatch.care.log import Entry
from carewatch.care.whole_log import seen_dead
from carewatch.outcome import calls
from tests.condition.grown import tree
from tests.measures.gardens import NOW, assessed, cold_night, garden

TREES = [tree("one", place="bench"), tree("two", place="bench")]
LONG_AGO = NOW - timedelta(days=20)


def seen(what: str, at: datetime, name: str = "one") -> Entry:
    return Entry(name, "observe", at, seen=what)


@pytest.mark.parametrize(
    ("observed", "dead"),
    [
        ([], False),
        (["leaf-fall"], False),
        (["dead"], True),
        (["wilting", "dead"], True),
        (["dead", "new-growth"], False),
        (["dead", "new-growth", "dead"], True),
    ],
)
def test_a_tree_is_dead_until_anything_else_is_seen_on_it(observed: list[str], dead: bool) -> None:
    """Roots often send up a shoot in May; a watering or a move shows nothing of life."""
    log = [seen(what, LONG_AGO + timedelta(days=day)) for day, what in enumerate(observed)]
    log.append(Entry("one", "water", NOW))
    found = seen_dead(log)
    assert (found is not None) == dead
    assert found is None or found.seen == "dead"


def test_nobody_is_called_for_a_dead_tree_and_its_neighbour_is_called_as_before() -> None:
    """The same night, the same places; only the dead one's call is gone."""
    both = assessed(garden(TREES))
    one_dead = assessed(garden(TREES, [seen("dead", LONG_AGO)]))

    assert [call.tree for call in calls(both) if call.spells] == ["one", "two"]
    dead, living = one_dead.trees
    assert dead.condition.dead
    assert (dead.spells, dead.chosen) == ((), None)
    assert dead.condition.stage_basis == f"of a living one; seen dead on {LONG_AGO.date()}"
    assert not living.condition.dead
    assert living.spells == both.trees[1].spells
    assert [call.tree for call in calls(one_dead) if call.spells] == ["two"]


def test_a_dead_tree_takes_no_room_from_the_living() -> None:
    """One place in the shed: it goes to the tree that can still be saved, though the dead one was worth more."""
    prized, night = tree("one", place="bench", worth=5.0), cold_night(-2.0)
    alive = assessed(garden([prized, TREES[1]], shed_room=1), night)
    dead = assessed(garden([prized, TREES[1]], [seen("dead", LONG_AGO)], shed_room=1), night)

    assert [found.chosen.name if found.chosen else "" for found in alive.trees] == ["move:shed", ""]
    assert [found.chosen.name if found.chosen else "" for found in dead.trees] == ["", "move:shed"]
