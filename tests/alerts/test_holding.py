"""What a measure is for: only that is told with it, holds it on, and ends it at the hour that was told."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from types import SimpleNamespace
from typing import Any, cast

import pytest

from carewatch.alerts.call import LEAST_LOSS, TreeCall
from carewatch.alerts.messages import call_message
from carewatch.alerts.plan import Plan
from carewatch.alerts.rounds import rounds_message, rounds_notice, rounds_of
from carewatch.alerts.wording import NIGHT_COVERS, OFF_BY_DAY, task_of, unbroken, undo
from carewatch.daemon.season import SeasonKnown, with_season
from carewatch.hazard import spells
from carewatch.outcome import _eased, _stands_at
from tests.alerts.made import NIGHT, RULES, Watch, at, away, call, kinds
from tests.alerts.test_seasons import task
from tests.condition.grown import TABLES


def with_sun(measure: str = "fleece", frost: float = 0.9, sun: float = 0.0, in_force: bool = False) -> TreeCall:
    """A frost night and days of sun that would cost more; how much of each the measure saves."""
    made = call(measure=measure, in_force=in_force)
    cold = replace(made.spells[0], eased=frost)
    burnt = replace(
        cold,
        hazard="sun",
        unit="kWh/m²·d",
        peak=5.0,
        limit=1.0,
        loss=0.3,
        severity="Severe",
        eased=sun,
        ends=at(20, day=9),
    )
    return replace(made, spells=(cold, burnt))


def test_the_reason_and_the_severity_are_those_of_what_the_measure_is_for() -> None:
    """Sun would cost more, and fleece does nothing for it."""
    told = Watch().look(at(13), with_sun()).notices[0]
    assert "Its leaves reach about" in told.body
    assert "kWh" not in told.body
    assert told.severity == "Moderate"
    assert len(told.lines) == 1
    both = Watch().look(at(13), with_sun("move:shed", sun=0.9)).notices[0]
    assert "kWh" in both.body
    assert (both.severity, len(both.lines)) == ("Severe", 2)


def test_a_first_word_on_another_hazard_is_a_call_and_no_change() -> None:
    """The sun was not spoken of with the fleece."""
    watch = Watch()
    watch.look(at(13), with_sun())
    watch.answer("done")
    shade = replace(with_sun("shade-cloth", frost=0.0, sun=0.9), act_by=at(16, 30))
    told = watch.look(at(13, 40), shade).notices
    assert kinds(told) == ["call"]
    assert "Changed" not in told[0].body


def done(made: TreeCall) -> Watch:
    """A watch whose grower did what was asked."""
    watch = Watch()
    watch.look(at(13), made)
    watch.answer("done")
    watch.look(at(14), replace(made, in_force=True))
    return watch


def morning(watch: Watch, made: TreeCall, first: int = 7, last: int = 14) -> list[datetime]:
    """When farewells are said on the next day."""
    for hour in range(first, last):
        watch.look(at(hour, day=6), made)
    return [notice.created_at for notice in watch.spoken if notice.kind == "bring-back"]


def test_a_night_cover_comes_off_at_its_hour_whatever_else_goes_on() -> None:
    """The sun that goes on is no reason to leave fleece on a tree by day."""
    sunny = with_sun(in_force=True)
    sun_only = replace(sunny, spells=sunny.spells[1:], measure="", in_force=False)
    assert morning(done(with_sun()), sun_only) == [at(9, day=6)]


def test_a_remnant_of_the_night_for_which_nothing_is_chosen_holds_no_cover() -> None:
    """At nine a tenth of a chance of frost for another hour; the fleece was told off for half past."""
    made = call(measure="")
    rest = replace(made, spells=(replace(made.spells[0], loss=0.003, ends=at(11, day=6)),))
    watch = done(call())
    watch.look(at(8, day=6), call(in_force=True))
    assert morning(watch, rest, 9, 10) == [at(9, day=6)]


@pytest.mark.parametrize(("loss", "comes_off"), [(0.005, True), (0.15, False)])
def test_what_would_not_have_called_for_it_does_not_hold_it(loss: float, comes_off: bool) -> None:
    """A small chance for the next night moves the end; the fleece comes off at the hour that was told."""
    next_night = call(in_force=True, night=NIGHT + timedelta(days=1))
    thin = replace(next_night, spells=(replace(next_night.spells[0], loss=loss),))
    assert morning(done(call()), thin) == ([at(9, day=6)] if comes_off else [])


def test_an_end_that_was_told_is_not_brought_forward_by_the_forecast() -> None:
    """Told for half past nine; the spell ends in the evening before, and nobody is sent out in the night."""
    watch = done(call())
    for hour in range(15, 24):
        watch.look(at(hour), replace(call(in_force=True), undo_at=at(18)))
    assert morning(watch, replace(call(in_force=True), spells=()), 7, 7) == []
    for hour in range(7, 12):
        watch.look(at(hour, day=6))
    assert [n.created_at for n in watch.spoken if n.kind == "bring-back"] == [at(9, day=6)]


@pytest.mark.parametrize("measure", ["water", "tie-down", "mulch", "shade-pot", "shake-off"])
def test_what_needs_no_undoing_ends_without_a_word(measure: str) -> None:
    """Ties, mulch and shade at the pot stay; what was poured is gone."""
    watch = done(call(measure=measure))
    assert morning(watch, replace(call("other", measure=""), gain=0.0)) == []
    assert [d.state for d in watch.standing.values() if d.tree == "layer"] == ["over"]
    assert "you will hear" not in watch.spoken[0].body


def test_a_night_cover_that_goes_on_is_in_the_rounds_of_each_morning() -> None:
    """Off by day, on again before dusk: that is work, and the day's list says it."""
    watch = done(call())
    goes_on = replace(call(in_force=True, night=NIGHT + timedelta(days=1)), undo_at=at(9, 30, day=7))
    notice = rounds_notice(rounds_of([goes_on], (), list(watch.standing.values()), RULES, at(7, day=6)), RULES)
    assert notice is not None
    assert notice.title == (
        "layer (lawn): fleece off by day from 9:30, on again before dusk; off for good tomorrow 9:30."
    )
    last = replace(goes_on, undo_at=at(9, 30, day=6))
    assert rounds_of([last], (), list(watch.standing.values()), RULES, at(7, day=6)).stays == ()


def test_what_stays_longer_than_was_told_is_said_on_the_day_on_which_it_would_end() -> None:
    """Once, in the rounds of that morning, with the hazard that goes on."""
    shed = call(measure="move:shed")
    watch = done(shed)
    longer = replace(shed, in_force=True, undo_at=at(16, day=8))
    watch.look(at(20), longer)
    said = {
        day: rounds_message(rounds_of([longer], (), list(watch.standing.values()), RULES, at(7, day=day))).body
        for day in (6, 7)
    }
    assert "layer (lawn): it stays where it is, the frost goes on. It may come back from Sun 8 Nov 16:00 on" in said[6]
    assert "goes on" not in said[7]


def test_several_nights_are_said_as_nights() -> None:
    """Under fleece the sun of the day between cooks leaves."""
    assert undo("fleece", at(9, 30, day=6), at(13)) == "Off again tomorrow 9:30."
    assert undo("fleece-double", at(9, 30, day=7), at(13)) == (
        "Off by day from 9:30, on again before dusk; off for good Sat 7 Nov 9:30."
    )
    for hour, off in ((11, "9:30"), (16, "9:30"), (7, "7:00"), (20, "20:00")):
        # Off by day: what ends by day need not go on again, and no cover stays on into the sun.
        assert undo("fleece", at(hour, day=7), at(13)).endswith(f"; off for good Sat 7 Nov {off}.")
    assert undo("fleece", None, at(13)) == (
        "Off by day from 9:30, on again before dusk. No end in sight yet; you will hear when."
    )


def test_the_table_knows_the_same_night_covers_and_the_same_morning() -> None:
    """Wording names rows of the table; a row that is added is seen."""
    assert set(NIGHT_COVERS) == {name for name, row in TABLES.measures.items() if row.hours == "night"}
    assert {TABLES.measures[name].off_at_h for name in NIGHT_COVERS} == {9.5}
    assert OFF_BY_DAY == "9:30"
    assert LEAST_LOSS == spells.LEAST_LOSS


def test_a_frame_is_opened_in_the_morning_and_not_at_the_hour_of_the_carry() -> None:
    """Each of the two has its own time."""
    assert task_of("move:frame+ventilate", ["ficus"], "balcony", False, at(20, 45), at(13)) == (
        "Carry ficus (balcony) to frame before 20:45, and open it by 9:00 each day."
    )
    assert task_of("ventilate", ["ficus"], "frame", False, at(8, 30), at(7)) == (
        "Open the lid over ficus (frame) by 9:00 each day."
    )


def test_numbers_and_their_units_stay_together() -> None:
    """At 46 columns a line may end anywhere else."""
    said = unbroken("−4 °C, 90 %, 12 m/s, 1.5 kWh/m², 60 °C·h, 3 hours; 2 trees in 3 places")
    assert said.split(" ") == [
        "−4\u00a0°C,",
        "90\u00a0%,",
        "12\u00a0m/s,",
        "1.5\u00a0kWh/m²,",
        "60\u00a0°C·h,",
        "3\u00a0hours;",
        "2",
        "trees",
        "in",
        "3",
        "places",
    ]
    body = Watch().look(at(13), call()).notices[0].body
    assert "−4\u00a0°C" in body
    assert "90\u00a0%" in body


def test_a_danger_that_stood_in_the_rounds_is_not_called_a_surprise() -> None:
    """Not in sight before: only if it was not."""
    watch = Watch()
    watch.look(at(7), call(act_by=at(20)))
    late = watch.look(at(15, 40), call()).notices[0]
    assert "not in sight before" not in late.body
    assert "not in sight before" in Watch().look(at(15, 40), call()).notices[0].body


def test_what_to_do_stands_for_every_tree_and_the_reasons_give_way() -> None:
    """Ten places with long reasons: ten first lines."""
    calls = [
        replace(
            call(f"tree-{number}", measure="move:shed"),
            place=f"place-{number}",
            rejected="plunge",
            rejected_why="protects less: 40 % would still be lost",
        )
        for number in range(10)
    ]
    body = call_message(calls, at(13)).body
    assert all(f"Carry tree-{number} (place-{number})" in body for number in range(10))
    assert "carewatch rounds" not in body


def test_what_may_still_be_lost_is_said_from_a_tenth_on() -> None:
    """The best there is may not suffice."""
    said = "Even so about 21 % of it may still be lost; nothing worth its work does better."
    assert said in call_message([replace(call(), loss_with=0.21)], at(13)).body
    assert "still be lost" not in call_message([replace(call(), loss_with=0.09)], at(13)).body
    several = [replace(call(tree), loss_with=loss) for tree, loss in (("olive", 0.45), ("fig", 0.25), ("elm", 0.05))]
    assert "Even so about 45 % of olive and 25 % of fig may still be lost" in call_message(several, at(13)).body


def test_a_spell_of_two_nights_says_when_it_begins() -> None:
    """Its worst is the day after tomorrow: nobody should wait for that."""
    made = call()
    two = replace(made, spells=(replace(made.spells[0], starts=at(20), peak_at=at(6, day=7)),))
    assert "From today 20:00 on." in call_message([two], at(13)).body
    assert "From today" not in call_message([made], at(13)).body


def test_what_is_in_force_is_not_asked_for_again() -> None:
    """Banked already: only the mulch is added, and the layer is not told to stand still where it is shifted."""
    body = call_message([replace(call(measure="plunge+mulch"), begun=("plunge",))], at(13)).body
    assert body.startswith("Mulch the pot of layer (lawn) 3 to 5 cm deep before 15:45.")
    assert "Leave the pot where it stands" not in call_message([call(measure="lay-down")], at(13)).body


def test_a_grave_danger_that_nothing_saves_from_is_told_when_it_is_near() -> None:
    """One line in the rounds; a small one, or a far one, is no message of its own."""
    helpless = replace(call(measure=""), gain=0.01, cost=0.05)
    assert rounds_notice(rounds_of([helpless], (), (), RULES, at(7)), RULES) is not None
    small = replace(helpless, spells=(replace(helpless.spells[0], loss=0.05),))
    assert rounds_notice(rounds_of([small], (), (), RULES, at(7)), RULES) is None
    far = call(measure="", night=NIGHT + timedelta(days=3))
    assert rounds_notice(rounds_of([far], (), (), RULES, at(7)), RULES) is None
    undecided = rounds_message(rounds_of([replace(call(measure=""), factor=2.0)], (), (), RULES, at(7))).body
    assert "It is too early to say whether anything is worth its work." in undecided
    dark = rounds_message(rounds_of([replace(call(measure=""), factor=1.5)], (), (), RULES, at(17))).body
    assert "Nothing that could be done in the dark is worth its work." in dark
    assert "asked" not in dark


def test_the_plan_for_spring_sends_nobody_out_into_a_danger_and_no_plan_is_told_to_who_is_away() -> None:
    """It is told when the frost has passed, and on coming back."""
    out = [task(kind="spring-out", about="lawn", last=date(2026, 11, 9))]
    known = SeasonKnown((), {})
    held, _ = with_season(Plan((), ()), out, known, 50.0, RULES, at(9), (), {"maple"})
    told, _ = with_season(Plan((), ()), out, known, 50.0, RULES, at(9), (), {"other"})
    gone, _ = with_season(Plan((), ()), out, known, 50.0, away(4, 8), at(9), ())
    assert (kinds(held.notices), kinds(told.notices), kinds(gone.notices)) == ([], ["season"], [])


def outlook(loss: float, hazard_loss: dict[str, float], begun: tuple[str, ...] = ()) -> Any:
    """As much of a judgement as the share and the place are read from."""
    spell = SimpleNamespace(hazard="frost", loss=loss)
    chosen = SimpleNamespace(hazard_loss=hazard_loss)
    return cast(
        "Any", SimpleNamespace(spells=(spell,), chosen=chosen, condition=SimpleNamespace(place="lawn", begun=begun))
    )


def test_the_share_that_is_saved_is_that_of_the_hazard_and_the_place_is_where_it_stands() -> None:
    """A quarter of what frost would cost is left: three quarters are saved; worse than nothing saves nothing."""
    assert _eased(outlook(0.2, {"frost": 0.05}), "frost") == pytest.approx(0.75)
    assert _eased(outlook(0.2, {"frost": 0.3}), "frost") == 0.0
    assert _stands_at(outlook(0.2, {}, ("fleece", "move:shed"))) == "shed"
    assert _stands_at(outlook(0.2, {}, ("plunge",))) == "lawn"


def test_a_cover_that_went_on_a_night_longer_comes_off_at_nine_and_that_moment_is_looked_at() -> None:
    """Told for yesterday, still needed for a night, and by morning hardly a danger any more."""
    watch = done(call())
    second = call(in_force=True, night=NIGHT + timedelta(days=1))
    for hour in (7, 12, 20):
        watch.look(at(hour, day=6), replace(second, undo_at=at(9, 30, day=7)))
    thin = replace(second, spells=(replace(second.spells[0], loss=0.006),), undo_at=at(9, 30, day=7))
    assert watch.look(at(7, day=7), thin).look_again == at(9, day=7)
    watch.look(at(8, 30, day=7), thin)
    assert kinds(watch.spoken) == ["call"]
    watch.look(at(9, day=7), thin)
    assert kinds(watch.spoken) == ["call", "bring-back"]
