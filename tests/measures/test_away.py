"""Days on which nobody is there: what needs hands then gives way to what is done before leaving."""

from dataclasses import replace
from datetime import date

import numpy as np

from carewatch.assess import Assessment
from carewatch.care.log import Entry
from carewatch.measures.choice import ENOUGH, Option
from tests.condition.grown import noon, severed, tree
from tests.measures.gardens import assessed, cold_night, garden

EVE = date(2026, 5, 6)
TREES = [tree("layer", place="north"), tree("fixed", place="north", fixed=True, worth=3.0)]
LOG = [
    replace(severed("2026-04-20", tied=True), tree="layer"),
    *(Entry(name, "observe", noon("2026-05-03"), seen="leaf-out") for name in ("layer", "fixed")),
]


def _judged(first: date, last: date) -> Assessment:
    grown = garden(TREES, LOG, shed_room=None)
    return assessed(replace(grown, notices=replace(grown.notices, away=((first, last),))), cold_night(2.0))


def _taken(judged: Assessment) -> tuple[Option, Option]:
    layer, fixed = (outlook.chosen for outlook in judged.trees)
    assert layer is not None
    assert fixed is not None
    return layer, fixed


def test_what_needs_hands_every_day_gives_way_on_the_eve_of_leaving() -> None:
    """
    Two cold nights from this evening on, for which cloth is enough.

    At home the layer is covered where it stands; left alone from tomorrow on it is carried once, today. What cannot be
    carried is still covered, by others, and that is said.
    """
    layer, fixed = _taken(_judged(date(2026, 5, 20), date(2026, 5, 30)))
    assert layer.name.startswith("fleece")
    assert layer.hands == fixed.hands == 0
    left = _judged(date(2026, 5, 7), date(2026, 5, 20))
    carried, covered = _taken(left)
    assert carried.name == "move:shed"
    assert carried.hands == 0
    assert carried.loss < ENOUGH
    act_by = left.trees[0].act_by
    assert act_by is not None
    assert act_by.astype("datetime64[D]") == np.datetime64(EVE)
    cover = next(option for option in left.trees[0].options if option.name == layer.name)
    assert cover.minutes >= layer.minutes
    assert "nobody is there" in cover.why
    assert covered.name.startswith("fleece")
    assert covered.hands >= 2
    assert covered.why.endswith(f"it needs hands on {covered.hands} days on which nobody is there")


def test_who_is_away_already_has_others_do_it() -> None:
    """No danger is borne for it: what is chosen, and when, is what would be chosen at home."""
    home, gone = _judged(date(2026, 5, 20), date(2026, 5, 30)), _judged(EVE, date(2026, 5, 20))
    assert [option.name for option in _taken(gone)] == [option.name for option in _taken(home)]
    assert [outlook.act_by for outlook in gone.trees] == [outlook.act_by for outlook in home.trees]
    assert not any(option.hands for outlook in gone.trees for option in outlook.options)
