"""Undoing: for good and not between two nights, by stages, level and tied, and never against the winter plan."""

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from carewatch.alerts.call import TreeCall
from carewatch.alerts.farewell import Known
from tests.alerts.made import ACT_BY, Watch, at, call, kinds


def done(measure: str = "fleece") -> Watch:
    """A watch whose grower did what was asked."""
    watch = Watch()
    watch.look(at(13), call(measure=measure))
    watch.answer("done")
    watch.look(at(14), call(measure=measure, in_force=True))
    return watch


def hours(day: int, first: int, last: int) -> list[datetime]:
    """Full hours of a day."""
    return [at(hour, day=day) for hour in range(first, last)]


def test_nothing_is_taken_off_between_two_nights() -> None:
    """The next frost is in two days: the fleece stays, and comes off after it, once."""
    watch = done()
    second = at(2, day=8)
    for now in [*hours(6, 7, 22), *hours(7, 7, 22)]:
        watch.look(now, call(night=second, act_by=at(15, 45, day=7), measure=""))
    assert kinds(watch.spoken) == ["call"]
    for now in hours(8, 9, 14):
        watch.look(now)
    assert kinds(watch.spoken) == ["call", "bring-back"]


def test_a_night_that_is_far_off_is_no_reason_to_leave_it_on() -> None:
    """Three nights without are for good (common practice)."""
    watch = done()
    far = call(night=at(2, day=11), act_by=at(15, 45, day=10), measure="")
    for now in hours(6, 7, 14):
        watch.look(now, far)
    assert kinds(watch.spoken) == ["call", "bring-back"]


def test_wind_ahead_is_no_reason_to_leave_fleece_on() -> None:
    """Another kind of danger asks for another measure."""
    watch = done()
    gale = call(night=at(2, day=8), act_by=at(15, day=7), measure="", hazard="wind")
    for now in hours(6, 7, 14):
        watch.look(now, gale)
    assert kinds(watch.spoken) == ["call", "bring-back"]


def test_out_of_a_shed_in_the_evening_and_after_days_inside_by_stages() -> None:
    """One dark night needs no stages; four days do (common practice: three in shade, four in half sun)."""
    short = done("move:shed")
    for now in hours(6, 7, 14):
        short.look(now)
    body = short.spoken[-1].body
    assert body == "The frost is over: layer may come back from shed, late in the day or under cloud."

    long = done("move:shed")
    cold = call(measure="move:shed", in_force=True, night=at(2, day=9))
    for day in (6, 7, 8):
        long.look(at(12, day=day), cold)
    for now in hours(9, 7, 14):
        long.look(now)
    assert long.spoken[-1].body.endswith("\nThree days in shade, four in half sun, then the old place.")


def test_a_first_year_layer_is_carried_back_once_level_and_tied() -> None:
    """It is never told to be moved in other words."""
    watch = done("move:shed")
    for now in hours(6, 7, 14):
        watch.look(now, known=Known(layers=frozenset({"layer"})))
    assert "may come back from shed, once, level and tied, late in the day" in watch.spoken[-1].body


def test_a_layer_that_was_carried_waits_until_the_long_clock_has_spoken() -> None:
    """Whether it winters where it stands by now is said with the rounds: it is carried once, not out and in again."""
    layer = Known(layers=frozenset({"layer"}))
    early, late = done("move:shed"), done("move:shed")
    for now in hours(6, 7, 13):
        early.look(now, known=layer)
    assert kinds(early.spoken) == ["call"]
    for now in hours(6, 7, 22):
        late.look(now, known=replace(layer, quarters={"layer": "shed"} if now.hour >= 9 else {}))
    assert kinds(late.spoken) == ["call"]
    wintering = replace(layer, quarters={"layer": "shed"}, in_rounds=True)
    assert "stay in shed for the winter" in late.look(at(7, day=7), known=wintering).stays[0]


@pytest.mark.parametrize(
    ("measure", "place", "said"),
    [
        ("move:shed", "shed", "The frost is over: nothing to do, let layer stay in shed for the winter."),
        ("plunge", "plunge", "The frost is over: nothing to do, let layer stay banked to the rim for the winter."),
        (
            "insulate-pot",
            "insulate-pot",
            "The frost is over: nothing to do, let layer stay in the jacket of its pot for the winter.",
        ),
    ],
)
def test_what_the_winter_plan_wants_is_not_brought_back_and_that_is_said(measure: str, place: str, said: str) -> None:
    """It was carried into its quarters on a cold evening: there it stays, and the next rounds say so, once."""
    watch = done(measure)
    known = Known(quarters={"layer": place})
    plans = [watch.look(now, known=known) for now in hours(6, 7, 22)]
    assert [plan.stays for plan in plans] == [()] * len(plans)
    assert all(danger.state != "over" for danger in watch.standing.values())
    rounds = watch.look(at(7, day=7), known=replace(known, in_rounds=True))
    assert rounds.stays == (f"{said} You will hear when spring brings it out.",)
    assert kinds(watch.spoken) == ["call"]
    assert all(danger.state == "over" for danger in watch.standing.values())
    assert watch.look(at(7, day=8), known=replace(known, in_rounds=True)).stays == ()


def test_an_end_without_a_word_does_not_wait_for_rounds_that_never_come() -> None:
    """Two days on it is over all the same."""
    watch = done("move:shed")
    for day in (6, 7, 8, 9):
        watch.look(at(12, day=day), known=Known(quarters={"layer": "shed"}))
    assert kinds(watch.spoken) == ["call"]
    assert all(danger.state == "over" for danger in watch.standing.values())


def test_an_old_end_takes_no_younger_one_along_without_a_word() -> None:
    """The elm's frost was over days before the layer's: the layer's end is told with the next rounds all the same."""
    watch = Watch()
    both = [call(name, measure="move:shed") for name in ("elm", "layer")]
    watch.look(at(13), *both)
    watch.answer("done")
    watch.look(at(14), *(replace(each, in_force=True) for each in both))
    known = Known(quarters={"elm": "shed", "layer": "shed"})
    lasting = call("layer", measure="move:shed", in_force=True, night=at(2, day=8))
    spells = (replace(lasting.spells[0], starts=at(2, day=6)),)
    for day in (6, 7):
        watch.look(at(20, day=day), replace(lasting, spells=spells), known=known)
    watch.look(at(14, day=8), known=known)
    assert {danger.tree for danger in watch.standing.values() if danger.state != "over"} == {"layer"}
    (said,) = watch.look(at(7, day=9), known=replace(known, in_rounds=True)).stays
    assert "layer stay in shed" in said


def test_what_was_put_on_besides_its_winter_place_comes_off() -> None:
    """Banked for the winter and covered for a night: the fleece is taken off, the bank stays."""
    watch = done("fleece+plunge")
    for now in hours(6, 7, 14):
        watch.look(now, known=Known(quarters={"layer": "plunge"}))
    assert kinds(watch.spoken) == ["call", "bring-back"]
    first, second = watch.spoken[-1].body.splitlines()
    assert first == "The frost is over: take the fleece off layer today."
    assert second.startswith("Let layer stay banked to the rim for the winter")
    assert [line.measure for line in watch.spoken[-1].lines] == ["fleece"]


def test_a_winter_place_elsewhere_does_not_keep_it_inside() -> None:
    """It was carried to another place than the plan has for it."""
    elsewhere = done("move:frame")
    for now in hours(6, 7, 22):
        elsewhere.look(now, known=Known(quarters={"layer": "shed"}))
    assert kinds(elsewhere.spoken) == ["call", "bring-back"]


def test_a_call_into_the_winter_place_says_that_it_may_stay_there() -> None:
    """So that it is not carried to and fro."""
    known = Known(quarters={"layer": "shed"})
    told = Watch().look(at(13), call(measure="move:shed"), known=known).notices[0]
    other = Watch().look(at(13), call(measure="move:frame"), known=known).notices[0]
    assert "That is the winter place of layer: leave it there." in told.body
    assert "winter place" not in other.body


def test_a_pair_is_taken_off_as_two_things() -> None:
    """Each in its own words, in one message."""
    watch = done("fleece+plunge")
    for now in hours(6, 7, 14):
        watch.look(now)
    body = watch.spoken[-1].body
    assert body.splitlines() == [
        "The frost is over: take the fleece off layer today.",
        "Take layer out of the bank when the top has thawed.",
    ]
    assert [line.measure for line in watch.spoken[-1].lines] == ["fleece+plunge"]


def test_a_farewell_keeps_its_day() -> None:
    """It is useless after a day, and made in waking hours."""
    watch = done()
    for now in [*hours(6, 0, 24)]:
        watch.look(now)
    notice = watch.spoken[-1]
    assert (notice.kind, notice.created_at) == ("bring-back", at(9, day=6))
    assert notice.useless_after - notice.created_at == timedelta(hours=24)


def nights(*spells: tuple[datetime, datetime], act_by: datetime = ACT_BY) -> TreeCall:
    """One call with these spells of frost."""
    made = call("maple", act_by=act_by)
    spell = made.spells[0]
    return replace(
        made, spells=tuple(replace(spell, starts=starts, ends=ends, peak_at=starts) for starts, ends in spells)
    )


def test_two_nights_that_grow_together_are_not_called_off() -> None:
    """The night seen first, another one before it, and then one long spell: both go on, and the tree is still asked."""
    watch = Watch()
    first, second = (at(2, day=6), at(8, day=6)), (at(8, day=8), at(16, day=8))
    watch.look(at(12), nights(second))
    watch.look(at(13), nights(first, second))
    for minute in (0, 20, 40):
        watch.look(at(14, minute), nights((first[0], second[1])))
    assert kinds(watch.spoken) == ["call", "repeat"]
    assert [danger.below_runs for danger in watch.standing.values()] == [0, 0]
    # What is over then is over for both, and called off once.
    watch.look(at(15, 0))
    watch.look(at(15, 20))
    assert kinds(watch.spoken) == ["call", "repeat", "stand-down"]


def test_a_spell_that_falls_apart_again_leaves_no_danger_behind() -> None:
    """Each night is one of those that stood, with its own start."""
    watch = Watch()
    first, second = (at(2, day=6), at(8, day=6)), (at(8, day=8), at(16, day=8))
    watch.look(at(11), nights(first, second))
    watch.look(at(11, 20), nights((first[0], second[1])))
    watch.look(at(11, 40), nights(first, second))
    assert sorted(danger.starts for danger in watch.standing.values()) == [first[0], second[0]]


def test_nothing_is_called_off_for_a_tree_that_is_still_asked_for() -> None:
    """The frost is gone and the wind is not: "leave it as it is" would be wrong."""
    watch = Watch()
    frost, wind = call("maple"), call("maple", measure="tie-down", hazard="wind", act_by=at(17))
    both = replace(frost, spells=(*frost.spells, *wind.spells))
    watch.look(at(13), both)
    for minute in (10, 20, 30):
        watch.look(at(13, minute), wind)
    assert "stand-down" not in kinds(watch.spoken)
    watch.look(at(13, 40))
    watch.look(at(13, 50))
    assert kinds(watch.spoken)[-1] == "stand-down"


def test_two_nights_seen_in_one_look_are_two_dangers() -> None:
    """Each with an id of its own; the same look gives the same ids."""
    both = nights((at(2, day=6), at(8, day=6)), (at(8, day=8), at(16, day=8)))
    watch, again = Watch(), Watch()
    watch.look(at(11), both)
    again.look(at(11), both)
    assert len(watch.standing) == 2
    assert watch.standing == again.standing


@pytest.mark.parametrize(
    ("severity", "later", "said"),
    [
        ("Moderate", "Moderate", ["call", "repeat", "call"]),
        ("Severe", "Severe", ["call", "repeat", "call"]),
        ("Extreme", "Severe", ["call", "repeat", "call"]),
        # What has become worse is news, and as such it is repeated.
        ("Severe", "Extreme", ["call", "repeat", "call", "repeat"]),
    ],
)
def test_a_cold_spell_that_nobody_answered_is_called_for_again_on_the_next_evening(
    severity: str, later: str, said: list[str]
) -> None:
    """
    One spell of two nights: the hour of the first passes without an answer, the second has its own.

    Where nothing new is known its call is itself the reminder, and goes where that would go.
    """
    watch = Watch()
    spell = (at(20), at(8, day=7))

    def seen(act_by: datetime, rank: str) -> TreeCall:
        made = nights(spell, act_by=act_by)
        return replace(made, spells=tuple(replace(each, severity=rank) for each in made.spells))

    for hour in range(12, 24):
        watch.look(at(hour), seen(at(15, 45) if hour < 16 else at(15, 45, day=6), severity))
    for hour in range(7, 20):
        watch.look(at(hour, day=6), seen(at(15, 45, day=6), later))
    assert kinds(watch.spoken) == said
    second = watch.spoken[2]
    assert second.repeats == (watch.spoken[1].id if len(said) == 3 else "")
    assert second.title == "Put fleece over maple (lawn) before 15:45."
    assert second.created_at == at(13, day=6)
    assert "The last call is still open: if this is done already, answer done." in second.body
    # One call per danger: what was told anew is a danger of its own, and the old one is over.
    assert {line.danger for line in watch.spoken[0].lines}.isdisjoint({line.danger for line in second.lines})
    assert sorted(danger.state for danger in watch.standing.values()) == ["lapsed", "over"]


def test_in_a_long_spell_that_nobody_answers_each_night_is_called_for_once() -> None:
    """Five nights, no answer: not a day without a word, and no day with two after the first."""
    watch = Watch()
    spell = (at(20), at(8, day=10))
    for day in range(5, 10):
        for hour in range(12, 21):
            act_by = at(15, 45, day=day if hour < 16 else day + 1)
            made = replace(nights(spell, act_by=act_by))
            severe = tuple(replace(each, severity="Extreme") for each in made.spells)
            watch.look(at(hour, day=day), replace(made, spells=severe))
    days = [notice.created_at.day for notice in watch.spoken]
    assert days == [5, 5, 6, 7, 8, 9]
    assert [bool(notice.repeats) for notice in watch.spoken] == [False, False, True, True, True, True]


@pytest.mark.parametrize("word", ["done", "skip"])
def test_who_answered_is_not_called_again_for_the_same_spell(word: str) -> None:
    """Done is done, and "not this time" holds for the spell."""
    watch = Watch()
    spell = (at(20), at(8, day=7))
    watch.look(at(13), nights(spell))
    watch.answer(word)
    tomorrow = replace(nights(spell, act_by=at(15, 45, day=6)), in_force=word == "done")
    for day, hour in ((5, 14), (5, 20), (6, 8), (6, 13), (6, 15)):
        watch.look(at(hour, day=day), tomorrow)
    assert kinds(watch.spoken) == ["call"]


def test_a_tree_that_comes_out_has_its_winter_place_named_and_one_that_is_banked_stays_so() -> None:
    """On the way back is the time for it; and once banked is banked for the winter, wherever the plan had it."""
    shed = done("move:shed")
    banked = done("plunge")
    for now in hours(6, 7, 22):
        shed.look(now, known=Known(quarters={"layer": "plunge"}))
        banked.look(now, known=Known(quarters={"layer": "shed"}))
    assert shed.spoken[-1].body.splitlines() == [
        "The frost is over: layer may come back from shed, late in the day or under cloud.",
        "Then bank layer to the rim with bark or soil: that is its winter place.",
    ]
    wrapped = done("move:shed")
    for now in hours(6, 7, 22):
        wrapped.look(now, known=Known(quarters={"layer": "insulate-pot"}))
    assert wrapped.spoken[-1].body.endswith("\nThen wrap the pot of layer: that is its winter place.")
    stays = "The frost is over: nothing to do, let layer stay banked to the rim for the winter."
    rounds = banked.look(at(7, day=7), known=Known(quarters={"layer": "shed"}, in_rounds=True))
    assert rounds.stays[0].startswith(stays)


def test_a_move_waits_for_the_end_that_is_in_sight() -> None:
    """What threatens is hardly worth a word any more, and the shed still serves until tomorrow evening."""
    watch = done("move:shed")
    made = call(measure="move:shed", in_force=True, night=at(2, day=7))
    thin = replace(made, spells=(replace(made.spells[0], loss=0.01),), undo_at=at(16, day=7))
    for now in [*hours(6, 7, 22), *hours(7, 7, 15)]:
        watch.look(now, thin)
    assert kinds(watch.spoken) == ["call"]
    for now in hours(7, 15, 18):
        watch.look(now, thin)
    assert watch.spoken[-1].created_at == at(16, day=7)


def test_who_was_told_that_it_is_the_winter_place_hears_nothing_more() -> None:
    """Said with the call: leave it there."""
    known = Known(quarters={"layer": "shed"})
    watch = Watch()
    watch.look(at(13), call(measure="move:shed"), known=known)
    watch.answer("done")
    watch.look(at(14), call(measure="move:shed", in_force=True), known=known)
    for now in hours(6, 7, 22):
        watch.look(now, known=known)
    assert kinds(watch.spoken) == ["call"]
    assert all(danger.state == "over" for danger in watch.standing.values())


def test_water_lasts_for_the_hours_that_it_buys() -> None:
    """Poured on the first day of a drought of three; on the next morning it is asked for anew, without reproach."""
    spell = (at(12), at(18, day=8))
    dry = replace(nights(spell, act_by=at(15, 45)), measure="water")
    watch = Watch()
    watch.look(at(13), dry)
    watch.answer("done")
    for day, hour in ((5, 14), (5, 20), (6, 8), (6, 13)):
        watch.look(at(hour, day=day), replace(dry, act_by=at(15, 45, day=6)))
    assert kinds(watch.spoken) == ["call", "call"]
    assert "still open" not in watch.spoken[1].body


def test_a_rain_cover_stays_while_the_wet_spell_goes_on() -> None:
    """Under the cover no harm is left to be seen; it still comes off a day after the last rain (common practice)."""
    watch = done("rain-cover")
    for now in hours(6, 7, 22):
        watch.look(now, known=Known(dry_from=at(12, day=8)))
    assert kinds(watch.spoken) == ["call"]
    for now in hours(7, 7, 22):
        watch.look(now, known=Known())
    assert kinds(watch.spoken) == ["call", "bring-back"]


def test_what_nobody_did_half_a_day_ago_is_not_called_off() -> None:
    """The call's hour passed without an answer, then a night of it that lay days ahead went away: that is no news."""
    watch = Watch()
    far = call(night=at(2, day=9))
    watch.look(at(13), far)
    watch.look(at(14), far)
    for now in [*hours(6, 7, 12)]:
        watch.look(now)
    assert kinds(watch.spoken) == ["call", "repeat"]
    assert all(danger.state == "over" for danger in watch.standing.values())


def test_nobody_carries_pots_out_in_the_dark() -> None:
    """Over at seven in the evening, after sunset: the word comes in the morning, unless the garden has lights."""
    dusk = Known(dark_from=at(16, 40, day=6))
    unlit, lit = done("move:shed"), done("move:shed")
    lit.rules = replace(lit.rules, unlit_garden=False)
    cold = call(measure="move:shed", in_force=True)
    for watch in (unlit, lit):
        for now in hours(6, 7, 17):
            watch.look(now, cold, known=dusk)
        for now in hours(6, 17, 22):
            watch.look(now, known=dusk)
    assert kinds(unlit.spoken) == ["call"]
    assert kinds(lit.spoken) == ["call", "bring-back"]
    unlit.look(at(7, day=7), known=Known(dark_from=at(16, 39, day=7)))
    assert kinds(unlit.spoken) == ["call", "bring-back"]
