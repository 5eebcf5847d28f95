"""Shelter and cloth that do not suffice for all, tried on a whole garden on a cold night in May."""

from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from carewatch.assess import Assessment
from carewatch.care.garden import Stock
from carewatch.care.log import Entry
from carewatch.care.tree import Tree
from carewatch.cli.documents import tree_document
from carewatch.measures import sharing, simulate
from carewatch.measures.allocation import allocate
from carewatch.measures.candidates import fleece_m2
from carewatch.measures.choice import ENOUGH, cost_of
from carewatch.outcome import calls
from tests.condition.grown import TABLES, noon, severed, tree
from tests.measures.gardens import PLENTY, assessed, cold_night, garden, two_colds

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
    assert _against(judged, "one")[taken["other"]] == "the fleece goes to other, which would lose more without it"


def test_short_room_goes_to_the_tree_with_more_at_stake() -> None:
    """One place in the shed, none in the frame, no cloth."""
    nothing = Stock(0.0, 0.0, 0, mulch=False)
    trees = [_maple("one", fixed=False), _maple("other", worth=3.0, fixed=False)]
    judged = assessed(garden(trees, _flush("one", "other"), stock=nothing, shed_room=1, frame_room=0))
    taken = _taken(judged)
    assert taken["other"] == "move:shed"
    assert taken["one"] != "move:shed"
    assert _against(judged, "one")["move:shed"] == "the room in shed goes to other, which would lose more without it"


NOTHING = Stock(0.0, 0.0, 0, mulch=False)
EIGHT = tuple(f"maple-{number}" for number in range(1, 9))


def _eight(*, worth: tuple[float, ...] = (1.0,) * 8) -> list[Tree]:
    return [_maple(name, worth=value, fixed=False) for name, value in zip(EIGHT, worth, strict=True)]


def _begun(name: str, measure: str) -> Entry:
    return Entry(name, "begin", noon("2026-05-05"), measure=measure)


def test_room_for_three_of_eight_goes_to_the_three_with_most_to_lose() -> None:
    """The other five are told who got it, and get the next best."""
    worth = (1.0, 2.0, 1.5, 3.0, 1.2, 2.5, 1.1, 1.4)
    judged = assessed(garden(_eight(worth=worth), _flush(*EIGHT), stock=NOTHING, shed_room=3, frame_room=0))
    three = {"maple-2", "maple-4", "maple-6"}
    assert {name for name, measure in _taken(judged).items() if measure == "move:shed"} == three
    for call in calls(judged):
        if call.tree in three:
            assert (call.displaced_measure, call.displaced_by, call.displaced_why) == ("", (), "")
        else:
            assert call.measure == "move:wall"
            assert call.displaced_measure == "move:shed"
            assert set(call.displaced_by) == three
            assert call.displaced_why == (
                "the room in shed goes to maple-2, maple-4 and maple-6, which would lose more without it"
            )
            assert call.loss_with > 0.05


def test_a_call_that_stands_down_tells_what_became_of_the_measure_that_was_asked_for() -> None:
    """Its gain and cost, by which hysteresis is applied; the best there is where nothing was asked for."""
    trees = [_maple("one", worth=0.02)]
    best, asked = (
        calls(assessed(garden(trees, _flush("one")), told=told))[0] for told in (None, {"one": "fleece-double"})
    )
    assert best.measure == asked.measure == ""
    assert asked.gain < 0.6 * asked.factor * asked.cost
    assert asked.cost > best.cost > 0.0


def test_what_was_asked_for_is_not_given_to_another_of_equal_worth() -> None:
    """Eight maples alike: the three that were told to go keep the room, whichever they are."""
    for three in (("maple-1", "maple-5", "maple-8"), ("maple-2", "maple-3", "maple-7")):
        told = dict.fromkeys(three, "move:shed")
        judged = assessed(garden(_eight(), _flush(*EIGHT), stock=NOTHING, shed_room=3, frame_room=0), told=told)
        assert {name for name, measure in _taken(judged).items() if measure == "move:shed"} == set(three)


def test_who_stands_there_already_keeps_the_room_until_another_gains_a_fifth_more() -> None:
    """One that was carried in is in danger as well, were it outside; a far more precious one takes its place."""
    for worth, keeps in ((1.1, True), (3.0, False)):
        trees = [_maple("one", fixed=False), _maple("other", worth=worth, fixed=False)]
        log = [*_flush("one", "other"), _begun("one", "move:shed")]
        judged = assessed(garden(trees, log, stock=NOTHING, shed_room=1, frame_room=0))
        assert (_taken(judged)["one"] == "move:shed") is keeps
        assert (_taken(judged)["other"] == "move:shed") is not keeps


def test_room_and_cloth_that_a_tree_out_of_danger_holds_are_not_given_away() -> None:
    """A pine that was carried into the shed and another under the only fleece."""
    one = assessed(garden([_maple("one")], _flush("one"))).trees[0].condition
    pines = [tree("carried", "Pinus sylvestris", place="lawn"), tree("covered", "Pinus sylvestris", place="lawn")]
    log = [*_flush("one"), _begun("carried", "move:shed"), _begun("covered", "fleece")]
    for held, stock in ((log, 1.2), (_flush("one"), 1.2)):
        cloth = replace(NOTHING, fleece_m2=stock * fleece_m2(one))
        judged = assessed(garden([_maple("one", fixed=False), *pines], held, stock=cloth, shed_room=1, frame_room=0))
        free = held is not log
        against = _against(judged, "one")
        assert ("move:shed" in against) is not free
        assert (_taken(judged)["one"] in ("move:shed", "fleece", "fleece-heavy")) is free


def test_a_fresh_layer_gets_the_last_cloth_and_the_firm_tree_is_carried() -> None:
    """Cloth for one and room for one, on the shady side, in a night that cloth is enough for: who may be carried is."""
    trees = [_maple(name, worth=2.0, fixed=False, place="north") for name in ("maple", "old")]
    log = [severed("2026-04-20", tied=True), *_flush("maple", "old")]
    one = assessed(garden(trees, log)).trees[0].condition
    cloth = replace(NOTHING, fleece_m2=2.2 * fleece_m2(one))
    taken = _taken(assessed(garden(trees, log, stock=cloth, shed_room=1, frame_room=0), cold_night(2.0)))
    assert taken["maple"].startswith("fleece")
    assert taken["old"] == "move:shed"


def test_what_is_told_rests_on_all_members(monkeypatch: pytest.MonkeyPatch) -> None:
    """Also where the first trial ran few, and sharing made it another than the best of its tree."""
    worth = (1.0, 2.0, 1.5, 3.0, 1.2, 2.5, 1.1, 1.4)
    grown = garden(_eight(worth=worth), _flush(*EIGHT), stock=NOTHING, shed_room=3, frame_room=0)
    whole = assessed(grown)
    monkeypatch.setattr(simulate, "SMALL_ENSEMBLE", 5)
    monkeypatch.setattr(simulate, "TRIAL_MEMBERS", 5)
    few = assessed(grown)
    assert _taken(few) == _taken(whole)
    for one, other in zip(few.trees, whole.trees, strict=True):
        assert one.chosen is not None
        assert other.chosen is not None
        assert one.chosen.loss == pytest.approx(other.chosen.loss, abs=1e-9)
    others = [
        (option.loss, next(full.loss for full in other.options if full.name == option.name))
        for one, other in zip(few.trees, whole.trees, strict=True)
        for option in one.options
        if not option.chosen
    ]
    assert any(abs(quick - full) > 1e-4 for quick, full in others)


def test_of_many_who_got_it_the_first_are_named() -> None:
    """Six of eight: four names and how many more; all of them beside the sentence."""
    judged = assessed(garden(_eight(), _flush(*EIGHT), stock=NOTHING, shed_room=6, frame_room=0))
    left = [call for call in calls(judged) if call.displaced_by]
    assert len(left) == 2
    for call in left:
        assert len(call.displaced_by) == 6
        assert call.displaced_why.endswith("and 2 more, which would lose more without it")
        assert sum(name in call.displaced_why for name in call.displaced_by) == 4


def test_sharing_out_tree_by_tree_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """With no time for the solver."""
    monkeypatch.setattr(sharing, "allocate", partial(allocate, time_limit_s=0.0))
    trees = [_maple("one", fixed=False), _maple("other", worth=3.0, fixed=False)]
    judged = assessed(garden(trees, _flush("one", "other"), stock=NOTHING, shed_room=1, frame_room=0))
    assert _taken(judged)["other"] == "move:shed"
    assert "there was no time to find the best sharing" in _against(judged, "one")["move:shed"]


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
    """
    The same night, the same place, where no sun burns either.

    A night that is colder by a kelvin and a half chills the few roots under the cloth so far that what leaves it saves
    dry out next day: cloth hardly warms a pot. More than a tenth is lost with it then, and the layer is carried too.
    """
    trees = [_maple(name, worth=2.0, fixed=False, place="north") for name in ("maple", "old")]
    log = [severed("2026-04-20", tied=True), *_flush("maple", "old")]
    judged = assessed(garden(trees, log, shed_room=None), cold_night(2.0))
    taken = _taken(judged)
    assert judged.trees[0].condition.layer
    assert taken["maple"].startswith("fleece")
    assert taken["old"].startswith("move:")
    colder = assessed(garden(trees, log, shed_room=None), cold_night(0.5)).trees[0]
    losses = {option.name: option for option in colder.options}
    assert min(losses[name].loss for name in ("fleece", "fleece-heavy", "fleece-double")) > ENOUGH
    assert losses["fleece-double"].hazard_loss["drying"] > losses["fleece-double"].hazard_loss["frost"]
    assert colder.chosen is losses["move:shed"]


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


def test_a_tree_that_gets_nothing_is_told_who_got_it() -> None:
    """One place in the shed and nothing else that helps: not "nothing helps here"."""
    trees = [_maple("one", fixed=False, place="wall"), _maple("other", worth=3.0, fixed=False, place="wall")]
    judged = assessed(garden(trees, _flush("one", "other"), stock=NOTHING, shed_room=1, frame_room=0), cold_night(-4.0))
    (one, other) = (tree_document(outlook, judged).call for outlook in judged.trees)
    assert (other.measure, other.displaced) == ("move:shed", None)
    assert one.measure is None
    assert one.displaced is not None
    assert (one.displaced.measure, one.displaced.by) == ("move:shed", ("other",))
    assert one.why == "move:shed would help, but the room in shed goes to other, which would lose more without it"


def test_a_night_next_week_does_not_keep_a_tree_from_its_cover_tonight() -> None:
    """Two nights of cover, four days apart, are more work than they save; the nearer one alone is not."""
    grown = garden([_maple("one", place="north")], _flush("one"))
    (outlook,) = assessed(grown, two_colds(4, -2.0)).trees
    assert [spell.hazard for spell in outlook.spells] == ["frost", "frost"]
    chosen = outlook.chosen
    assert chosen is not None
    assert chosen.name.startswith("fleece")
    row = TABLES.measures[chosen.name]
    assert chosen.minutes == row.minutes_round + row.minutes_pot
    assert chosen.gain < 2.0 * chosen.cost


def test_a_round_that_all_together_would_pay_for_is_walked() -> None:
    """
    Six trees of unlike worth, none of which would have cloth fetched for itself alone on three evenings.

    Each pays as it gains, and all of them pay the whole round. Shared by heads, one after the other would give up.
    Three that cannot pay it together are left alone, and each is told what it would cost for itself.
    """
    row = TABLES.measures["fleece-heavy"]
    evenings = 3
    for worths, stock, served in (
        ((0.3, 0.45, 0.5, 0.6, 0.8, 1.0), PLENTY, 5),
        ((0.3, 0.45, 0.5, 0.6, 0.8, 1.0), Stock(3.3, 0.0, 0, mulch=False), 4),
        ((0.5, 0.5, 0.5), PLENTY, 0),
    ):
        trees = [_maple(f"tree{number}", worth=worth) for number, worth in enumerate(worths)]
        judged = assessed(garden(trees, _flush(*(tree.id for tree in trees)), stock=stock), cold_night(0.8))
        taken = [outlook.chosen for outlook in judged.trees if outlook.chosen is not None]
        assert [option.name for option in taken] == ["fleece-heavy"] * served
        whole = evenings * (served * row.minutes_pot + row.minutes_round)
        assert sum(option.minutes for option in taken) == pytest.approx(whole if served else 0.0)
        assert all(option.gain > option.factor * option.cost for option in taken)
        assert all(option.gain < cost_of(evenings * (row.minutes_pot + row.minutes_round), 0.5) for option in taken)
        for outlook in judged.trees if not served else ():
            alone = next(option for option in outlook.options if option.name == "fleece-heavy")
            assert alone.minutes == pytest.approx(evenings * (row.minutes_pot + row.minutes_round))
