"""Two measures together: a short declared list, tried only where no single one suffices, both laid over the tree."""

from dataclasses import replace

import numpy as np
import pytest

from carewatch.assess import Assessment
from carewatch.care.garden import Stock
from carewatch.care.log import Entry
from carewatch.measures.apply import Laid, columns_of, lay_over
from carewatch.measures.catalogue import parts_of, row_name
from carewatch.outcome import calls
from tests.condition.grown import TABLES, noon, on, tree, year_like
from tests.measures.gardens import assessed, cold_night, garden, two_colds

MEASURES = TABLES.measures
YEARS = year_like("2024-09-01", "2027-12-31")


def _layer_log(*begun: str) -> list[Entry]:
    return [
        Entry("layer", "sever-layer", noon("2026-04-20"), roots="sparse", tied=True),
        Entry("layer", "observe", noon("2026-05-03"), seen="leaf-out"),
        *(Entry("layer", "begin", noon("2026-05-05"), measure=name) for name in begun),
    ]


def _threatened(*begun: str) -> Assessment:
    """
    A fresh layer in flush that cannot be moved: frost by night and more sun than it may have by day.

    Not so cold a night that its few roots freeze under the cloth: nothing over the crown saves it from that.
    """
    return assessed(garden([tree("layer", place="lawn", worth=3.0, fixed=True)], _layer_log(*begun)), cold_night())


@pytest.fixture(scope="module")
def threatened() -> Assessment:
    """Once for all."""
    return _threatened()


def test_names_of_pairs_are_read_back() -> None:
    """The one place that knows how they are written."""
    assert parts_of("fleece+plunge") == ("fleece", "plunge")
    assert parts_of("move:shed") == ("move:shed",)
    assert parts_of("") == ()
    assert [row_name(part) for part in parts_of("move:shed+fleece")] == ["move", "fleece"]


def test_every_declared_pair_is_of_known_measures_and_stands_once() -> None:
    """No pair with itself, none declared from both sides."""
    declared = [frozenset((row.name, other)) for row in MEASURES.values() for other in row.goes_with]
    assert all(len(pair) == 2 and pair <= set(MEASURES) for pair in declared)
    assert len(set(declared)) == len(declared)
    assert 10 <= len(declared) <= 25


def test_where_no_single_measure_suffices_a_pair_is_taken(threatened: Assessment) -> None:
    """Leaves that are saved from frost burn, and the other way round: only both together save any."""
    (outlook,) = threatened.trees
    chosen = outlook.chosen
    assert chosen is not None
    assert parts_of(chosen.name) == ("fleece-double", "shade-cloth")
    left = {option.name: option.loss for option in outlook.options}
    assert chosen.loss < min(left["fleece-double"], left["shade-cloth"]) - 0.1
    saved = {name: outlook.standing_loss - loss for name, loss in left.items()}
    assert saved[chosen.name] > 1.2 * (saved["fleece-double"] + saved["shade-cloth"])
    minutes = {option.name: option.minutes for option in outlook.options}
    assert chosen.minutes == pytest.approx(minutes["fleece-double"] + minutes["shade-cloth"])


def test_a_call_for_a_pair_carries_the_cautions_of_both(threatened: Assessment) -> None:
    """And is in force only when both are."""
    (call,) = calls(threatened)
    for part in parts_of(call.measure):
        assert MEASURES[part].caution in call.caution
        assert MEASURES[part].harm in call.harm
    assert not call.in_force
    assert not {part.partition("-")[0] for part in parts_of(call.rejected)} & {"fleece", "shade"}
    assert call.gain > call.factor * call.cost > 0.0
    (half,) = calls(_threatened("fleece-double"))
    assert (half.measure, half.in_force) == ("fleece-double+shade-cloth", False)
    assert half.minutes < 0.5 * call.minutes
    for begun in (("fleece-double", "shade-cloth"), ("fleece-double+shade-cloth",)):
        (both,) = calls(_threatened(*begun))
        assert (both.measure, both.in_force, both.minutes) == ("fleece-double+shade-cloth", True, 0.0)


def test_no_pair_is_tried_where_one_suffices_but_what_was_asked_for_together() -> None:
    """An old maple on the shady side in the same nights."""
    log = [Entry("old", "observe", noon("2026-05-03"), seen="leaf-out")]
    for told in ("", "move:frame+ventilate"):
        (outlook,) = assessed(garden([tree("old", place="north")], log), told={"old": told}).trees
        assert outlook.chosen is not None
        assert outlook.chosen.loss < 0.02
        assert [option.name for option in outlook.options if len(parts_of(option.name)) > 1] == ([told] if told else [])


def test_a_pair_that_was_asked_for_is_tried_again_among_others() -> None:
    """Not one of the most promising, and tried all the same; what cannot be taken any more is not."""
    for told, tried in (("windbreak+shade-cloth", True), ("plunge+tie-down", False)):
        trees = [tree("layer", place="lawn", worth=3.0, fixed=True)]
        (outlook,) = assessed(garden(trees, _layer_log()), cold_night(-2.0), told={"layer": told}).trees
        assert (told in [option.name for option in outlook.options]) is tried


def test_both_are_laid_over_the_column() -> None:
    """Shares multiply, covers of the sky close over each other, each in its own hours."""
    state = on("2026-07-10", [], YEARS)
    places = tuple(garden([state.tree]).places.values())
    night = np.arange(6) < 3
    day = ~night
    bare = columns_of([0], [[]], [state], places, 6)
    fleece, shade = MEASURES["fleece"], MEASURES["shade-cloth"]
    both = lay_over(bare, [[Laid(fleece, night), Laid(shade, np.ones(6, dtype=np.bool_))]], places)
    assert both.light[:, 0] == pytest.approx(np.where(day, shade.light, shade.light * fleece.light))
    assert both.wind[:, 0] == pytest.approx(np.where(day, shade.wind, shade.wind * fleece.wind))
    open_sky = np.where(day, 1 - shade.sky_cover, (1 - shade.sky_cover) * (1 - fleece.sky_cover))
    assert 1 - both.sky_cover[:, 0] == pytest.approx(open_sky)
    assert both.air_lift_c[:, 0] == pytest.approx(np.where(day, 0.0, fleece.air_lift_c))
    assert np.all(bare.light == 1.0)


def _move(apart_days: int, log: list[Entry]) -> tuple[int, float]:
    """Handlings and minutes of the move into the frame, for two cold nights so many days apart."""
    (outlook,) = assessed(garden([tree("layer", place="north")], log), two_colds(apart_days)).trees
    move = next(option for option in outlook.options if option.name == "move:frame")
    return move.carries, move.minutes


def test_a_tree_stays_in_between_two_colds_that_follow_soon() -> None:
    """Three nights of rest bring it out and in again; a layer in its first year is carried once for all of it."""
    grown = [Entry("layer", "observe", noon("2026-05-03"), seen="leaf-out")]
    (near, once), (far, twice) = _move(2, grown), _move(6, grown)
    assert (near, far) == (2, 4)
    assert twice == pytest.approx(2.0 * once)
    assert [_move(apart, _layer_log())[0] for apart in (2, 6)] == [2, 2]


def test_leaves_are_in_the_dark_only_while_they_are_inside() -> None:
    """Two nights in the shed six days apart are no week of dark; three days apart it stays in for more than three."""
    grown = [Entry("layer", "observe", noon("2026-05-03"), seen="leaf-out")]
    losses = []
    for apart in (6, 3):
        (outlook,) = assessed(garden([tree("layer", place="north")], grown), two_colds(apart)).trees
        losses.append(next(option.loss for option in outlook.options if option.name == "move:shed"))
    assert losses[1] > losses[0] + 0.02


NO_CLOTH = Stock(0.0, 0.0, 0, mulch=False)


def _in_the_frame(second_k: float) -> Assessment:
    """A precious maple with a frame and nothing else, a cold night tomorrow and a night of its own two days later."""
    log = [Entry("one", "observe", noon("2026-05-03"), seen="leaf-out")]
    grown = garden([tree("one", place="north", worth=3.0)], log, stock=NO_CLOTH, shed_room=0)
    return assessed(grown, two_colds(2, second_k))


def test_a_tree_that_was_moved_comes_back_in_the_evening_when_three_nights_are_well_above_its_limit() -> None:
    """A night that comes near the limit without passing it keeps it in; a mild one does not."""
    mild, near = (_in_the_frame(second_k) for second_k in (8.0, -1.0))
    undo = []
    for judged in (mild, near):
        (call,) = calls(judged)
        assert call.measure.startswith("move:frame")
        assert len([spell for spell in call.spells if spell.hazard == "frost"]) == 1
        assert call.undo_at is not None
        assert call.undo_at.hour == 16
        undo.append(call.undo_at.date().isoformat())
    assert undo == ["2026-05-07", "2026-05-09"]


def test_a_frame_that_holds_a_tree_by_day_is_opened_by_nine() -> None:
    """Shut, its noon takes what its night saved; the move is told together with the opening."""
    judged = _in_the_frame(2.0)
    (call,) = calls(judged)
    assert call.measure == "move:frame+ventilate"
    options = {option.name: option for option in judged.trees[0].options}
    shut, aired = options["move:frame"], options["move:frame+ventilate"]
    assert shut.hazard_loss["heat"] > 0.02
    assert aired.hazard_loss["heat"] < 0.005
    assert aired.loss < shut.loss
    assert aired.minutes > shut.minutes


def test_two_are_tried_where_what_one_alone_would_do_went_to_another() -> None:
    """Frost by night and sun by day on two trees that a shed would save from both, and room in it for one."""
    names = ("dear", "cheap")
    log = [replace(entry, tree=name) for name in names for entry in _layer_log()]
    trees = [tree("dear", place="lawn", worth=6.0), tree("cheap", place="lawn", worth=3.0)]
    by_room = {}
    for room in (2, 1):
        judged = assessed(garden(trees, log, shed_room=room, frame_room=0), cold_night())
        by_room[room] = {name: outlook.chosen for name, outlook in zip(names, judged.trees, strict=True)}
    both = [chosen.name for chosen in by_room[2].values() if chosen]
    assert both == ["move:shed", "move:shed"]
    left = by_room[1]["cheap"]
    assert by_room[1]["dear"] is not None
    assert by_room[1]["dear"].name == "move:shed"
    assert left is not None
    assert len(parts_of(left.name)) == 2


def _in_frost_and_gale(*, tied: bool) -> Assessment:
    """A new layer on the lawn that nobody may carry: frost and sun, and a gale in the afternoon after the nights."""
    answer = cold_night()
    frame = answer.single.copy()
    for name, speed_ms in (("wind_10m_ms", 9.0), ("gust_10m_ms", 18.0)):
        frame.loc[frame.index[178:184], name] = speed_ms
    log = [replace(entry, tied=tied) if entry.work == "sever-layer" else entry for entry in _layer_log()]
    return assessed(garden([tree("layer", place="lawn", worth=3.0, fixed=True)], log), replace(answer, single=frame))


def test_what_helps_against_cold_and_sun_goes_with_ties_where_wind_would_take_the_rest() -> None:
    """A layer that is not tied rocks loose under its covers: three things are asked for, in one line."""
    assessment = _in_frost_and_gale(tied=False)
    (outlook,) = assessment.trees
    assert outlook.chosen is not None
    assert parts_of(outlook.chosen.name) == ("fleece-double", "shade-cloth", "tie-down")
    left = {option.name: option.loss for option in outlook.options}
    assert outlook.chosen.loss < min(left["fleece-double+shade-cloth"], left["tie-down"]) - 0.1
    (call,) = calls(assessment)
    assert MEASURES["tie-down"].caution in call.caution


def test_who_is_tied_already_is_not_asked_for_ties() -> None:
    """The same layer, tied on the day it was severed."""
    (outlook,) = _in_frost_and_gale(tied=True).trees
    assert outlook.chosen is not None
    assert "tie-down" not in parts_of(outlook.chosen.name)
