"""Shelter and cloth that do not suffice for all, tried on a whole garden on a cold night in May."""

from dataclasses import replace

import numpy as np
import pytest

from carewatch.assess import Assessment
from carewatch.care.garden import Stock
from carewatch.care.log import Entry
from carewatch.care.tree import Tree
from carewatch.measures.candidates import fleece_m2
from carewatch.measures.choice import cost_of
from tests.condition.grown import noon, severed, tree
from tests.measures.gardens import PLENTY, assessed, cold_night, garden

LEAFED = "2026-05-03"


def _flush(*names: str) -> list[Entry]:
    return [Entry(name, "observe", noon(LEAFED), seen="leaf-out") for name in names]


def _maple(name: str, *, worth: float = 1.0, fixed: bool = True, place: str = "lawn") -> Tree:
    return tree(name, worth=worth, place=place, fixed=fixed)


def _taken(judged: Assessment) -> dict[str, str]:
    return {outlook.condition.tree.id: outlook.chosen.name if outlook.chosen else "" for outlook in judged.trees}


def _against(judged: Assessment, name: str) -> dict[str, str]:
    return dict(next(outlook.against for outlook in judged.trees if outlook.condition.tree.id == name))


@pytest.fixture(scope="module")
def plenty() -> Assessment:
    """Two maples in flush that cannot be moved, and cloth enough."""
    return assessed(garden([_maple("one"), _maple("other", worth=3.0)], _flush("one", "other")))


def test_with_cloth_enough_every_tree_is_covered(plenty: Assessment) -> None:
    """Both lose more than a cover costs."""
    assert all(name.startswith("fleece") for name in _taken(plenty).values())
    assert all(outlook.spells for outlook in plenty.trees)


def test_a_cover_does_what_it_says(plenty: Assessment) -> None:
    """The loss told for the chosen measure is below the loss as things stand, and gain and cost are by the rule."""
    for outlook in plenty.trees:
        option = outlook.chosen
        assert option is not None
        assert option.loss < 0.6 * outlook.standing_loss
        worth = outlook.condition.tree.worth
        assert option.gain == pytest.approx(worth * (outlook.standing_loss - option.loss), abs=1e-6)
        assert option.cost == pytest.approx(cost_of(option.minutes, 0.5))
        assert option.gain > option.cost
        assert outlook.act_by is not None
        assert outlook.act_by < outlook.spells[0].starts


def test_short_cloth_goes_to_the_tree_with_more_at_stake() -> None:
    """The other is told why it gets none."""
    one = assessed(garden([_maple("one"), _maple("other", worth=3.0)], _flush("one", "other"))).trees[0].condition
    stock = replace(PLENTY, fleece_m2=1.5 * fleece_m2(one))
    judged = assessed(garden([_maple("one"), _maple("other", worth=3.0)], _flush("one", "other"), stock=stock))
    taken = _taken(judged)
    assert taken["other"].startswith("fleece")
    assert not taken["one"].startswith("fleece")
    assert _against(judged, "one")[taken["other"]] == "the fleece goes to a tree with more to lose"


def test_short_room_goes_to_the_tree_with_more_at_stake() -> None:
    """One place in the shed, none in the frame, no cloth."""
    nothing = Stock(0.0, 0.0, 0, mulch=False)
    trees = [_maple("one", fixed=False), _maple("other", worth=3.0, fixed=False)]
    judged = assessed(garden(trees, _flush("one", "other"), stock=nothing, shed_room=1, frame_room=0))
    taken = _taken(judged)
    assert taken["other"] == "move:shed"
    assert taken["one"] != "move:shed"
    assert _against(judged, "one")["move:shed"] == "the room there goes to a tree with more to lose"


def test_room_that_is_taken_already_is_not_given_away() -> None:
    """A pine stands in the shed."""
    nothing = Stock(0.0, 0.0, 0, mulch=False)
    trees = [_maple("one", fixed=False), tree("pine", "Pinus sylvestris", place="shed")]
    judged = assessed(garden(trees, _flush("one"), stock=nothing, shed_room=1))
    assert _taken(judged)["one"] != "move:shed"
    assert _against(judged, "one")["move:shed"] == "no room is left there"


def test_fetching_cloth_once_is_shared_by_the_trees_that_get_it(plenty: Assessment) -> None:
    """The round's minutes are fewer per tree than for one tree alone."""
    alone = assessed(garden([_maple("one")], _flush("one"))).trees[0]
    together = plenty.trees[0]
    name = _taken(plenty)["one"]
    minutes = {
        id(outlook): next(option.minutes for option in outlook.options if option.name == name)
        for outlook in (alone, together)
    }
    assert minutes[id(together)] < minutes[id(alone)]


def test_a_fresh_layer_is_covered_where_it_stands_and_an_old_tree_may_be_carried() -> None:
    """The same night, the same place, where no sun burns either."""
    trees = [_maple("maple", fixed=False, place="north"), _maple("old", fixed=False, place="north")]
    log = [severed("2026-04-20", tied=True), *_flush("maple", "old")]
    judged = assessed(garden(trees, log, shed_room=None), cold_night(0.5))
    taken = _taken(judged)
    assert judged.trees[0].condition.layer
    assert taken["maple"].startswith("fleece")
    assert taken["old"].startswith("move:")


def test_a_mild_night_asks_for_nothing() -> None:
    """Six degrees warmer: no frost, no measure, no trial."""
    judged = assessed(garden([_maple("one")], _flush("one")), cold_night(warmer_k=6.0))
    (outlook,) = judged.trees
    assert not [spell for spell in outlook.spells if spell.hazard == "frost" and spell.probability > 0.1]
    assert outlook.standing_loss < 0.02


def test_a_pot_that_froze_before_it_was_watered_is_watered_when_it_has_thawed() -> None:
    """Cold mornings must not leave a pot dry for the day: no drying is foreseen for a well rooted tree in flush."""
    judged = assessed(garden([tree("one", place="lawn")], _flush("one")))
    assert [spell.hazard for spell in judged.trees[0].spells] == ["frost"]
    assert np.isfinite(judged.trees[0].standing_loss)
