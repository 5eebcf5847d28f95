"""Messages read aloud: what remains at stake is never dropped, frozen roots are named, and a first line suffices."""

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from carewatch.alerts.call import SpellFacts, TreeCall
from carewatch.alerts.danger import Danger
from carewatch.alerts.fitting import Rank, Said, fitted_message
from carewatch.alerts.helper import helper_page, page_lines
from carewatch.alerts.listing import task_lines
from carewatch.alerts.messages import bring_back_message, call_message, stand_down_message
from carewatch.alerts.reasons import danger_name, reason
from carewatch.alerts.rounds import Begun, rounds_message, rounds_of
from carewatch.alerts.seasons import season_notice
from carewatch.alerts.wording import LONGEST, cause, chances, protects_less, task_of, undo
from carewatch.hazard.spells import over_frozen_roots
from carewatch.limits.judge import HAZARDS, UNITS
from carewatch.outcome import _is_thought_of
from carewatch.tasks.task import KindDay, Task
from tests.alerts.made import RULES, Watch, at, away, call
from tests.alerts.test_beside import spell as invented_spell
from tests.alerts.test_seasons import task
from tests.condition.grown import TABLES

# A lock screen shows so much of a first line without cutting it on two lines; the usual call must fit. [characters]
ON_A_LOCK_SCREEN = 70


def fact(hazard: str, peak: float, limit: float, **changes: object) -> SpellFacts:
    """A spell of tomorrow morning."""
    made = replace(call().spells[0], hazard=hazard, peak=peak, limit=limit, unit=UNITS[hazard])
    return replace(made, **changes)  # type: ignore[arg-type]


def tree(name: str, measure: str, loss_with: float = 0.0, **changes: object) -> TreeCall:
    """One of eight trees in a night that freezes their roots."""
    felt = fact("root-freeze", -11.6, -4.0, organ="roots", loss=0.9)
    made = replace(call(name, measure=measure), layer=False, place="bench", spells=(felt,), standing_loss=0.9)
    return replace(made, loss_with=loss_with, minutes=11.0, **changes)  # type: ignore[arg-type]


def short(name: str, measure: str, loss_with: float) -> TreeCall:
    """One for which there was no room."""
    why = "the room in shed goes to olive-1, olive-2 and myrtle, which would lose more without it"
    by = ("olive-1", "olive-2", "myrtle")
    return tree(
        name, measure, loss_with, displaced_measure="move:shed", displaced_by=by, displaced_why=why, rejected="mulch"
    )


EIGHT = (
    tree("olive-1", "move:shed"),
    tree("olive-2", "move:shed"),
    tree("myrtle", "move:shed"),
    short("olive-3", "fleece-double+plunge", 0.24),
    short("olive-4", "plunge", 0.51),
    short("pomegranate", "plunge", 0.28),
    short("fig", "plunge", 0.32),
    replace(short("layer", "plunge", 0.01), layer=True),
)


def test_room_for_three_and_eight_in_danger() -> None:
    """The message names the three, what the others get and why, and what they may lose all the same, worst first."""
    body = call_message(EIGHT, at(13), remarks=["A remark. " * 12]).body
    assert len(body) <= LONGEST
    assert "Carry olive-1, olive-2 and myrtle (bench) to shed before 15:45." in body
    assert "Bank olive-4, pomegranate, fig and layer (bench) to the rim with bark or soil before 15:45." in body
    assert (
        "Put two layers of fleece over olive-3 (bench) and bank it to the rim with bark or soil before 15:45." in body
    )
    assert "The others make do with that: the room in shed goes to olive-1, olive-2 and myrtle" in body
    assert (
        "Even so about 51 % of olive-4, 32 % of fig, 28 % of pomegranate and 24 % of olive-3 may still be lost." in body
    )
    assert "Do not hold covers in a gale." in body


@pytest.mark.parametrize("length", range(0, 700, 35))
def test_what_may_be_lost_outlives_all_that_matters_less(length: int) -> None:
    """However much else there is to say: deeds, what remains at stake and cautions stand in every message."""
    body = call_message(EIGHT, at(13), remarks=["x" * length] if length else []).body
    assert len(body) <= LONGEST
    assert "51 % of olive-4" in body
    assert body.count("before 15:45") == 3
    assert "Do not hold covers in a gale." in body


def test_better_measures_are_not_denied_where_something_was_short() -> None:
    """The shed would have done better: only where nothing was short is it said that nothing does."""
    assert "does better" not in call_message(EIGHT, at(13)).body
    alone = call_message([replace(tree("fig", "plunge", 0.3))], at(13)).body
    assert "Even so about 30 % of it may still be lost; nothing worth its work does better." in alone


def test_what_matters_less_gives_way_first_and_what_is_kept_never() -> None:
    """By rank, the last of equals first."""
    paragraphs = [[[Said("Do it."), Said("a" * 400, Rank.END)], [Said("b" * 400, Rank.REJECTED)]]]
    ending = [[Said("c" * 300, Rank.END)], [Said("Mind it.")]]
    assert fitted_message(paragraphs, ending).body == f"Do it. {'a' * 400}\n\n{'c' * 300}\nMind it."
    longer = [[Said("c" * 700, Rank.END)], [Said("Mind it.")]]
    assert fitted_message(paragraphs, longer).body == f"Do it. {'a' * 400}\n\nMind it."


def test_more_trees_than_are_read_in_one_breath_are_all_named() -> None:
    """The first line counts, the second names: nobody can cover "3 more"."""
    names = [f"maple-{number}" for number in range(1, 8)]
    lines = call_message([call(name) for name in names], at(13)).body.splitlines()
    assert lines[0] == "Put fleece over maple-1, maple-2, maple-3 and 4 more (lawn) before 15:45."
    assert lines[1] == "The 4 more: maple-4, maple-5, maple-6 and maple-7."


def test_layers_and_others_that_want_the_same_share_a_line() -> None:
    """Only a carry has other words for a layer; which pot must not be shifted is told by name."""
    body = call_message([call("layer"), replace(call("elm"), layer=False)], at(13)).body
    assert body.splitlines()[0] == "Put fleece over layer and elm (lawn) before 15:45."
    assert "Leave layer where it stands." in body
    carried = [call("layer", measure="move:shed"), replace(call("elm", measure="move:shed"), layer=False)]
    firsts = call_message(carried, at(13)).body
    assert "Carry layer (lawn), once, level and tied, to shed before 15:45." in firsts
    assert "Carry elm (lawn) to shed before 15:45." in firsts


FROZEN = fact("drying", 0.45, 0.35, frozen=True)


def test_frozen_roots_are_named_where_leaves_dry_over_them_and_water_is_not_advised() -> None:
    """The grower would water a tree whose leaves hang."""
    said = reason(FROZEN, at(13), layer=False, measure="move:shed")
    assert said == (
        "Its roots are frozen and cannot drink: its leaves lose 45 % of their water by tomorrow about 6:00; they "
        "bear 35 %. Do not water: ice takes none."
    )
    thawed = reason(replace(FROZEN, frozen=False), at(13), layer=False, measure="move:shed")
    assert "frozen" not in thawed
    assert "Do not water" not in thawed
    assert danger_name(FROZEN) == "drying out over frozen roots"
    dry = replace(call(measure=""), spells=(FROZEN,), gain=0.01)
    assert "drying out over frozen roots tomorrow" in rounds_message(rounds_of([dry], (), (), RULES, at(7))).body


@pytest.mark.parametrize(
    ("hazard", "shell_c", "frozen"), [("drying", -0.5, True), ("drying", 0.5, False), ("sun", -5.0, False)]
)
def test_a_ball_counts_as_frozen_in_the_hours_in_which_leaves_dry(hazard: str, shell_c: float, frozen: bool) -> None:
    """By the shells of the engine, over the spell and the day before it; of another hazard it is not asked."""
    shells_c = np.full((80, 5, 3), shell_c)
    shells_c[:30] = 8.0
    spell = replace(invented_spell(), hazard=hazard, first=60, last=70)
    assert [found.frozen for found in over_frozen_roots((spell,), shells_c)] == [frozen]


def test_water_before_a_frost_says_why() -> None:
    """It sounds wrong to whoever has not heard of it."""
    spell = fact("root-freeze", -6.6, -4.5, organ="roots")
    assert "A moist ball freezes far more slowly." in reason(spell, at(9), layer=False, measure="water")
    assert "moist" not in reason(spell, at(9), layer=False, measure="plunge")


def cautions(measure: str, hazard: str) -> str:
    """The last line of a call for water."""
    made = replace(call(measure=measure, hazard=hazard), caution=TABLES.measures[measure].caution)
    return call_message([made], at(9)).body.splitlines()[-1]


def test_water_is_cautioned_about_by_the_season() -> None:
    """No ice in July, no sunburnt drops in January."""
    assert cautions("water", "drying") == "Keep the water off leaves in the sun."
    assert cautions("water", "root-freeze") == "Keep the water off paths where it freezes."


@pytest.mark.parametrize(
    ("measure", "said"),
    [
        ("move:shed", "Do not carry it to shed: a layer stands still."),
        ("lay-down", "Do not lay it down on the lee side: a layer stands still."),
        ("fleece", "Do not put fleece over it: a layer stands still."),
    ],
)
def test_what_speaks_against_a_measure_is_said_as_advice(measure: str, said: str) -> None:
    """Not "Not laying it down: …"."""
    made = replace(call(measure="tie-down"), rejected=measure, rejected_why="a layer stands still")
    assert said in call_message([made], at(13)).body


@pytest.mark.parametrize(
    ("measure", "spell", "shown"),
    [
        ("windbreak", fact("sun", 3.0, 1.5), False),
        ("shade-cloth", fact("sun", 3.0, 1.5), True),
        ("insulate-pot", fact("heat", 48.0, 39.0), False),
        ("set-down", fact("frost", -5.0, -2.5), False),
        ("fleece+mulch", fact("frost", -5.0, -2.5), True),
        ("move:shed", fact("frost", -5.0, -2.5), True),
        ("insulate-pot", fact("drying", 0.45, 0.35), False),
        ("insulate-pot", fact("drying", 0.45, 0.35, frozen=True), True),
    ],
)
def test_a_rejected_measure_is_one_that_is_thought_of_for_the_danger(
    measure: str, spell: SpellFacts, shown: bool
) -> None:
    """A wind net against the sun is missed by nobody; a jacket against frozen roots is. By the table of measures."""
    assessment = cast("Any", SimpleNamespace(measures=TABLES.measures))
    small = fact("wind", 9.0, 8.0, loss=0.01)
    assert _is_thought_of(measure, (small, replace(spell, loss=0.3)), assessment) is shown


def test_midnight_is_that_of_an_evening() -> None:
    """Not an hour of the day after it."""
    made = call()
    two = replace(made, spells=(replace(made.spells[0], starts=at(0, day=6), peak_at=at(6, day=7)),))
    assert "From midnight tonight on." in call_message([two], at(13)).body


def test_direct_sun_is_told_in_hours_of_full_sun() -> None:
    """A kilowatt hour on a square metre is an hour of it; without decimals that say nothing."""
    said = reason(fact("sun", 6.42, 2.0), at(7), layer=False)
    assert said == "It would get as much as 6.4 hours of full sun a day (6.4 kWh/m²); it bears 2 now."


@pytest.mark.parametrize(
    ("measure", "first"),
    [
        ("fleece-double", "Put two layers of fleece over layer (lawn) before 15:45."),
        ("move:shed", "Carry layer (lawn), once, level and tied, to shed before 15:45."),
        ("plunge", "Bank layer (lawn) to the rim with bark or soil before 15:45."),
        ("lay-down", "Lay down layer (lawn) on the lee side, pot wedged, before 15:45."),
        ("tie-down", "Tie down layer (lawn), pot and trunk, before 15:45."),
        ("mulch", "Mulch the pot of layer (lawn) 3 to 5 cm deep before 15:45."),
        ("humid-tent", "Put a clear tent over layer (lawn), out of the sun, before 15:45."),
        ("shake-off", "Shake the snow off layer (lawn) before 15:45, and again while it falls."),
        ("ventilate", "Open the lid over layer (lawn) by 9:00 each day."),
    ],
)
def test_first_lines(measure: str, first: str) -> None:
    """Short, with the hour set off from what comes before it."""
    assert task_of(measure, ["layer"], "lawn", True, at(15, 45), at(13)) == first
    assert call_message([call(measure=measure)], at(13)).title == first


def test_a_first_line_about_one_tree_fits_a_lock_screen() -> None:
    """Of every single measure."""
    for name in (*(row for row in TABLES.measures if row != "move"), "move:shed"):
        title = call_message([call("maple-1", measure=name)], at(13)).title
        assert len(title) <= ON_A_LOCK_SCREEN + len(", and again while it falls"), title
        if name != "shake-off":
            assert len(title) <= ON_A_LOCK_SCREEN, title


@pytest.mark.parametrize(
    ("measure", "why", "said"),
    [
        ("windbreak", "protects less: 3 % would still be lost", "A wind net protects less: 3 % would still be lost."),
        ("set-down", "protects less: 51 % would still be lost", "Setting it on the ground protects less: 51 %"),
        ("tie-down", "protects less: 9 % would still be lost", "Ties protect less: 9 % would still be lost."),
        ("fleece+mulch", "protects less: 9 % would still be lost", "Fleece and mulch protect less: 9 %"),
    ],
)
def test_a_rejected_measure_is_named_as_the_subject(measure: str, why: str, said: str) -> None:
    """Not "Not setting down: protects less"."""
    assert protects_less(measure, why).startswith(said)
    assert "them" not in protects_less(measure, why)
    several = protects_less(measure, why, 2)
    assert several.startswith(said.replace("it on", "them on"))
    body = call_message([replace(call(), rejected=measure, rejected_why=why)], at(13)).body
    assert said in body
    assert "Not " not in body


def test_a_frame_is_shut_at_an_hour_on_the_clock() -> None:
    """Where it is known; the rule alone where it is not."""
    assert undo("ventilate", None, at(7), shut_at=at(14, 38)) == (
        "Shut it at 14:35, each day. No end in sight yet; you will hear when."
    )
    assert undo("ventilate", at(17, day=8), at(7)) == "Shut two hours before sunset, each day until Sun 8 Nov 17:00."
    made = replace(call(measure="ventilate", hazard="forcing"), shut_at=at(14, 38))
    assert "Shut it at 14:35" in call_message([made], at(7)).body


def test_ends_are_said_by_the_half_hour_and_never_too_early() -> None:
    """A quarter past means from half past on."""
    for minute, said in ((0, "16:00"), (1, "16:30"), (30, "16:30"), (31, "17:00")):
        assert undo("windbreak", at(16, minute, day=6), at(13)) == f"Net off again tomorrow {said}."
    assert undo("move:shed", at(16, day=6), at(13), count=2).startswith("They may come back from tomorrow 16:00 on")


def heads(*names: str) -> Sequence[TreeCall]:
    """The same danger of the day after tomorrow for several trees."""
    return [call(name, act_by=at(15, 45, day=6), night=datetime(2026, 11, 7, 2, tzinfo=at(1).tzinfo)) for name in names]


def test_trees_of_which_the_same_lies_ahead_share_a_line_and_the_first_line_says_what_it_is() -> None:
    """And what would be asked, and when: no news is not an answer."""
    body = rounds_message(rounds_of(heads("one", "two"), (), (), RULES, at(7))).body
    assert body.splitlines()[0] == "Nothing to carry today. Ahead: frost Sat 7 Nov."
    (line,) = [line for line in body.splitlines() if line.startswith("one")]
    assert line == (
        "one and two (lawn): frost Sat 7 Nov, almost certain (90 %). If it stays so, you will be asked tomorrow about "
        "12:40 to put fleece over them."
    )


def test_of_trees_that_differ_in_their_chance_alone_the_range_is_told() -> None:
    """Four whole sentences that differ in the name are not read."""
    likely, certain = heads("olive", "pine")
    likely = replace(likely, spells=(replace(likely.spells[0], probability=0.7),))
    body = rounds_message(rounds_of([likely, certain], (), (), RULES, at(7))).body
    assert "olive and pine (lawn): frost Sat 7 Nov, likely (70 %) to almost certain (90 %). If it" in body
    assert chances([0.92, 0.95]) == "almost certain (92 to 95 %)"
    assert chances([0.7, 0.7]) == chances([0.7]) == "likely (70 %)"


def test_a_stand_down_names_what_was_asked() -> None:
    """Not a hazard that the call never spoke of."""
    fleece, wind = over("frost"), replace(over("wind"), tree="elm", spoken_measure="move:shed")
    body = stand_down_message([fleece, wind]).body
    assert body.splitlines() == [
        "No need any more to bring elm to shed or to put fleece over layer.",
        "The forecast has eased; leave them as they stand.",
    ]
    pair = stand_down_message([replace(fleece, spoken_measure="fleece+plunge")]).title
    assert pair == "No need any more to put fleece over layer and bank it to the rim with bark or soil."


def test_an_end_beside_what_stays_anyway_says_of_what_it_is() -> None:
    """Mulch stays until spring; of the bank no end is in sight."""
    assert undo("plunge+mulch", None, at(13)) == (
        "Leave the mulch on until the buds swell. No end in sight yet for banking to the rim; you will hear when."
    )


def test_a_task_whose_best_day_is_today_says_so() -> None:
    """And by when it is to be done; several trees are more than one."""
    ties = replace(task("elm", "tie-check", ""), state="due", kindest=(KindDay(at(8).date(), ""),))
    pots = [replace(task(name), state="overdue") for name in ("fig", "oak")]
    lines = task_lines([ties, *pots], at(8).date())
    assert lines == [
        "elm (lawn): look at the ties, by 20 Nov, best today.",
        "fig and oak (lawn): bank the pots to their rims for the winter, overdue since 20 Nov.",
    ]
    assert task_lines([ties], at(8, day=6).date()) == ["elm (lawn): look at the ties, by 20 Nov, best on 5 Nov."]


def test_the_winter_place_is_not_named_beside_the_carry_of_the_same_day() -> None:
    """One order at a time; of a tree for which nothing is asked it is."""
    places = [replace(task(name, about="room"), state="overdue") for name in ("ficus", "fig")]
    made = replace(call("ficus", measure="move:room"), layer=False)
    body = rounds_message(rounds_of([made], (), (), RULES, at(13), tasks=places)).body
    assert body.startswith("Carry ficus (lawn) to room before 15:45.")
    assert "ficus (lawn): into room for the winter" not in body
    assert "fig (lawn): into room for the winter" in body


def over(hazard: str, limit: float = -2.5, loss: float = 0.1) -> Danger:
    """A danger that was told of and is over."""
    made = Watch().look(at(13), call(hazard=hazard)).dangers[0]
    return replace(made, limit=limit, loss=loss)


def test_a_farewell_says_what_is_over() -> None:
    """By its cause; of more than two that it is over."""
    assert bring_back_message([over("frost")]).title == "The frost is over: take the fleece off layer today."
    assert bring_back_message([over("frost", limit=3.0)]).title.startswith("The cold is over: ")
    both = [over("frost", loss=0.3), over("wind")]
    assert bring_back_message(both).title.startswith("The frost and the wind are over: ")
    assert bring_back_message([*both, over("soak")]).title.startswith("Over: ")
    assert all(cause(over(hazard)).startswith("the ") for hazard in HAZARDS)


def test_a_farewell_that_asks_for_nothing_says_so_and_one_that_asks_does_not() -> None:
    """Banked for the winter; beside it fleece that comes off."""
    kept = [replace(over("root-freeze"), spoken_measure="plunge")]
    assert "nothing to do, let layer stay banked" in bring_back_message(kept, stays={"layer": "plunge"}).title
    both = [replace(kept[0], spoken_measure="fleece+plunge")]
    body = bring_back_message(both, stays={"layer": "plunge"}).body
    assert "othing to do" not in body
    assert body.splitlines()[1].startswith("Let layer stay banked to the rim for the winter.")


def winter(tree: str, about: str, moves: str) -> Task:
    """A move into winter quarters of today."""
    return replace(task(tree, about=about), moves=moves, last=at(8).date())


def test_only_trees_that_shed_their_leaves_wait_for_that() -> None:
    """By name; where only evergreens go in nothing is said of leaves."""
    elm = winter("elm", "shed", "The first nights move it. Carry it asleep, with a moist root ball.")
    pine = winter("pine", "shed", "The first nights move it. Carry it with a moist root ball.")
    for tasks, said in (([elm, pine], "Each with a moist root ball; elm goes when its leaves are down."), ([pine], "")):
        found = season_notice(tasks, (), 50.0, RULES, at(8))
        assert found is not None
        assert (said or "\nWith a moist root ball.\n") in found[0].body
        assert ("leaves are down" in found[0].body) == bool(said)


def test_the_page_for_the_helper_says_how_trees_stand() -> None:
    """In a sentence, not by the name of a measure."""
    begun = (Begun("elm", "bench", "lay-down", at(8)), Begun("fig", "bench", "fleece+plunge", at(8)))
    text = "\n".join(page_lines(helper_page([], begun, (), away(6, 8), at(8)), "Garden"))
    assert "elm lies on its side, on purpose: leave it so." in text
    assert "fig is under fleece by night and is banked to the rim, on purpose: leave it so." in text


def test_what_is_said_of_an_end_is_a_time_to_come() -> None:
    """Rounding never moves an end before the moment of speaking."""
    for minutes in range(0, 600, 7):
        end = at(13) + timedelta(minutes=minutes)
        found = re.search(r"(\d+):(\d\d)", undo("rain-cover", end, at(13)))
        assert found is not None
        said = at(13).replace(hour=int(found[1]), minute=int(found[2]))
        assert timedelta(0) <= said - end < timedelta(minutes=30)
