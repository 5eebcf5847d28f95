"""Ends: none too early, over frozen roots or by another danger; none never, by sun or by a log that says otherwise."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from carewatch.alerts.call import SpellFacts, TreeCall
from carewatch.alerts.danger import Danger
from carewatch.alerts.farewell import Known
from carewatch.alerts.rounds import rounds_message, rounds_of
from tests.alerts.made import RULES, Watch, at, call, kinds

SHED = {"layer": {"move:shed": at(14)}}
COLD = call(measure="move:shed", hazard="root-freeze")


def spell(hazard: str, day: int, loss: float = 0.15, spared: float = 0.0, frozen: bool = False) -> SpellFacts:
    """A danger from the morning of a day to the next evening."""
    starts = at(7, day=day)
    ends = starts + timedelta(hours=36)
    made = call(hazard=hazard).spells[0]
    return replace(made, starts=starts, ends=ends, peak_at=starts, loss=loss, spared=spared, frozen=frozen, eased=0.05)


def seen(*spells: SpellFacts, measure: str = "", in_force: bool = False) -> TreeCall:
    """What is judged of the tree by then."""
    return replace(COLD, spells=spells, measure=measure, in_force=in_force, undo_at=None)


def carried(*others: SpellFacts, known: Known = Known()) -> Watch:  # noqa: B008 - frozen and empty
    """A watch whose grower carried a tree into the shed because of frozen roots, and of these."""
    watch = Watch()
    asked = replace(COLD, spells=(*COLD.spells, *others))
    watch.look(at(13), asked, known=known)
    watch.answer("done")
    watch.look(at(14), replace(asked, in_force=True), known=replace(known, logged=SHED))
    return watch


def days(
    watch: Watch, first: int, last: int, *calls: TreeCall, logged: Mapping[str, Mapping[str, datetime]] = SHED
) -> None:
    """Three looks a day on the same calls."""
    for day in range(first, last):
        for hour in (9, 14, 19):
            watch.look(at(hour, day=day), *calls, known=Known(logged=logged))


def open_of(watch: Watch) -> dict[str, Danger]:
    """The dangers that are not over, by hazard."""
    return {danger.hazard: danger for danger in watch.standing.values() if danger.state != "over"}


def test_what_was_done_for_two_dangers_ends_with_the_last_of_them() -> None:
    """The frost is over, leaves dry on over the frozen ball: the shed eases that by little, and the tree stays."""
    drying = replace(spell("drying", 6, frozen=True), eased=0.4)
    watch = carried(drying)
    days(watch, 7, 9, seen(spell("drying", 8, spared=0.001, frozen=True)))
    assert kinds(watch.spoken) == ["call"]
    days(watch, 9, 11)
    assert kinds(watch.spoken) == ["call", "bring-back"]
    assert "frost" in watch.spoken[-1].title
    assert "dry weather" in watch.spoken[-1].title
    assert open_of(watch) == {}


def test_a_second_night_that_was_told_with_the_first_holds_nothing_while_it_is_far_off() -> None:
    """One call named both; between them lie more than three nights without."""
    watch = Watch()
    first, second = call().spells[0], replace(call().spells[0], starts=at(2, day=11), ends=at(8, day=11))
    watch.look(at(13), replace(call(), spells=(first, second)))
    watch.answer("done")
    for day in (6, 7):
        for hour in (9, 14):
            known = Known(logged={"layer": {"fleece": at(14)}})
            watch.look(at(hour, day=day), replace(call(measure=""), spells=(second,)), known=known)
    assert kinds(watch.spoken) == ["call", "bring-back"]


def test_it_ends_while_the_other_lasts_where_it_does_harm_by_then() -> None:
    """The ball stays frozen in the shed and would thaw outside: there it drinks sooner."""
    watch = carried(replace(spell("drying", 6, frozen=True), eased=0.4))
    days(watch, 7, 9, seen(spell("drying", 8, spared=-0.03, frozen=True)))
    assert kinds(watch.spoken) == ["call", "bring-back"]


@pytest.mark.parametrize(
    ("frozen", "spared", "said"),
    [(True, 0.007, ["call"]), (True, 0.0, ["call", "bring-back"]), (False, 0.007, ["call", "bring-back"])],
    ids=["it would dry", "it would drink", "dry weather"],
)
def test_nothing_comes_out_to_dry_over_frozen_roots(frozen: bool, spared: float, said: list[str]) -> None:
    """Only the frost was told; that leaves dry over the ball came up while the tree stood in the shed."""
    watch = carried()
    days(watch, 7, 9, seen(spell("drying", 8, spared=spared, frozen=frozen)))
    assert kinds(watch.spoken) == said
    # And once it would drink where it belongs, it comes back.
    days(watch, 9, 11)
    assert kinds(watch.spoken) == ["call", "bring-back"]


@pytest.mark.parametrize(
    ("measure", "spared", "said"),
    [
        ("move:shed", 0.01, ["call"]),
        ("windbreak", 0.01, ["call"]),
        ("move:shed", 0.0, ["call", "bring-back"]),
        ("shade-cloth", 0.01, ["call", "bring-back"]),
    ],
)
def test_what_was_done_against_drying_stays_for_frozen_roots_two_days_on(
    measure: str, spared: float, said: list[str]
) -> None:
    """Out for two days and in again is no use to anybody; a cloth softens leaves, and is no help in frost."""
    watch = Watch()
    dry = replace(call(measure=measure, hazard="drying"), undo_at=None)
    watch.look(at(13), dry)
    watch.answer("done")
    watch.look(at(14), replace(dry, in_force=True))
    on = {"layer": {measure: at(14)}}
    days(watch, 6, 8, seen(spell("root-freeze", 9, spared=spared)), logged=on)
    assert kinds(watch.spoken) == said


def test_a_tree_that_was_brought_back_by_hand_is_not_brought_back_again() -> None:
    """The log ended it before the danger was over; when that is over nothing is left to be said."""
    watch = carried()
    home: dict[str, dict[str, datetime]] = {"layer": {}}
    watch.look(at(8, day=6), seen(*COLD.spells), known=Known(logged=home))
    assert not any(danger.answer for danger in watch.standing.values())
    days(watch, 7, 9, logged=home)
    assert kinds(watch.spoken) == ["call"]
    assert open_of(watch) == {}


def test_what_was_undone_by_hand_is_asked_for_again_on_the_next_evening() -> None:
    """Fleece was taken off, and that was logged: in the second night of the spell the tree would stand bare."""
    night = replace(call(), spells=(replace(call().spells[0], ends=at(8, day=8)),))
    watch = Watch()
    watch.look(at(13), night)
    watch.answer("done")
    watch.look(at(14), replace(night, in_force=True), known=Known(logged={"layer": {"fleece": at(14)}}))
    later = replace(night, act_by=at(15, 45, day=6))
    for hour in (9, 13):
        watch.look(at(hour, day=6), later, known=Known(logged={"layer": {}}))
    assert kinds(watch.spoken) == ["call", "call"]
    assert "The last call is still open" not in watch.spoken[-1].body


def test_what_was_logged_and_not_answered_is_brought_back_though_it_eases_little_by_then() -> None:
    """Begun by the log, not by an answer: the end is told all the same."""
    watch = Watch()
    watch.look(at(13), COLD)
    watch.look(at(14), replace(COLD, in_force=True), known=Known(logged=SHED))
    days(watch, 6, 7, seen(*COLD.spells))
    days(watch, 7, 9)
    assert kinds(watch.spoken) == ["call", "bring-back"]


@pytest.mark.parametrize(("since", "said"), [(at(9), ["bring-back"]), (at(9, day=2), [])])
def test_who_acts_before_being_asked_hears_of_the_end_too(since: datetime, said: list[str]) -> None:
    """Foreseen in the rounds, carried and logged at once; what stood there before for reasons of its own is left."""
    watch = Watch()
    watch.look(at(8), COLD, known=Known(logged={"layer": {}}))
    on = {"layer": {"move:shed": since}}
    watch.look(at(10), replace(COLD, in_force=True), known=Known(logged=on))
    days(watch, 6, 8, logged=on)
    assert kinds(watch.spoken) == said
    assert open_of(watch) == {}


def test_a_cover_that_was_forgotten_in_the_log_answers_no_call() -> None:
    """Fleece of last spring, never ended, is not relied on: the call for it is repeated like any other."""
    watch = Watch()
    stale = Known(logged={"layer": {"fleece": at(9) - timedelta(days=200)}})
    watch.look(at(13), call(), known=stale)
    watch.look(at(14, 10), call(), known=stale)
    assert kinds(watch.spoken) == ["call", "repeat"]


def test_only_what_stands_yet_is_undone() -> None:
    """Fleece and bank were asked for; the fleece went long ago, by hand."""
    watch = Watch()
    both = call(measure="fleece+plunge")
    watch.look(at(13), both)
    watch.answer("done")
    banked = {"layer": {"plunge": at(14)}}
    days(watch, 6, 8, logged=banked)
    assert watch.spoken[-1].title == "The frost is over: take layer out of the bank when the top has thawed."


SUNNY = replace(spell("sun", 7, loss=0.06, spared=0.06), ends=at(20, day=20), eased=1.0, unused=True)
SHADE = {"layer": {"move:shade": at(14)}}
HEAT = replace(call(measure="move:shade", hazard="heat"), undo_at=at(16, day=6))


def in_shade(*spells: SpellFacts) -> Watch:
    """A watch whose grower carried a tree into shade because of heat, and of these."""
    watch = Watch()
    asked = replace(HEAT, spells=(*HEAT.spells, *spells))
    watch.look(at(13), asked)
    watch.answer("done")
    watch.look(at(14), replace(asked, in_force=True), known=Known(logged=SHADE))
    return watch


def test_a_tree_that_grew_unused_to_the_sun_in_shade_comes_back_by_stages() -> None:
    """The heat is over; each day in shade would make the sun of its place worse, and the end would never come."""
    watch = in_shade()
    sunny = replace(HEAT, spells=(SUNNY,), in_force=True, undo_at=None)
    days(watch, 7, 8, sunny, logged=SHADE)
    assert kinds(watch.spoken) == ["call", "bring-back"]
    assert watch.spoken[-1].body.endswith("Three days in shade, four in half sun, then the old place.")
    # It stands in half sun by what was said: nobody is asked to carry it into shade in those days; later they are.
    back = replace(sunny, in_force=False, act_by=at(15, day=9))
    days(watch, 8, 10, back, logged={"layer": {}})
    assert kinds(watch.spoken) == ["call", "bring-back"]
    days(watch, 15, 16, replace(back, act_by=at(15, day=15)), logged={"layer": {}})
    assert kinds(watch.spoken) == ["call", "bring-back", "call"]


@pytest.mark.parametrize("why", ["told", "shaded", "few roots"])
def test_sun_that_is_no_matter_of_habit_keeps_a_tree_in_shade(why: str) -> None:
    """Soft leaves were carried away from the sun itself; the long clock wants shade; few roots bear none."""
    watch = in_shade(SUNNY) if why == "told" else in_shade()
    sunny = replace(HEAT, spells=(replace(SUNNY, unused=why != "few roots"),), in_force=True, undo_at=None)
    for day in (7, 8, 9):
        watch.look(at(14, day=day), sunny, known=Known(logged=SHADE, shaded={"layer"} if why == "shaded" else ()))
    assert kinds(watch.spoken) == ["call"]


@pytest.mark.parametrize(("unused", "said"), [(True, ["call", "bring-back"]), (False, ["call"])])
def test_after_a_fortnight_in_shade_waiting_makes_no_end_nearer(unused: bool, said: list[str]) -> None:
    """Nothing is left of what leaves were used to: it comes back by stages, unless few roots bear no sun at all."""
    watch = in_shade(replace(SUNNY, unused=unused))
    sunny = replace(HEAT, spells=(replace(SUNNY, unused=unused),), in_force=True, undo_at=None)
    days(watch, 20, 21, sunny, logged=SHADE)
    assert kinds(watch.spoken) == said


def test_the_rounds_say_that_it_stays_where_it_was_brought() -> None:
    """Not that nothing helps, or that it is too dark for it: it was helped."""
    dry = seen(spell("drying", 8, frozen=True))
    watch = carried(replace(spell("drying", 6, frozen=True), eased=0.4))
    watch.look(at(7, day=8), dry, known=Known(logged=SHED))
    said = rounds_message(rounds_of([dry], (), list(open_of(watch).values()), RULES, at(7, day=8))).body
    assert "Leave it as it stands; nothing more is worth its work so far." in said
    assert "Leave it" not in rounds_message(rounds_of([dry], (), (), RULES, at(7, day=8))).body
