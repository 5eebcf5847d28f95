"""What is asked for besides what is in force: its numbers are those that remain; a cloth of the long clock stays up."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from types import SimpleNamespace
from typing import Any, cast
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from carewatch.alerts.call import TreeCall
from carewatch.alerts.farewell import Known
from carewatch.alerts.messages import bring_back_message, call_message
from carewatch.alerts.plan import Plan
from carewatch.alerts.reasons import reason
from carewatch.alerts.rounds import rounds_message, rounds_of
from carewatch.alerts.wording import undo
from carewatch.daemon.basis import with_age
from carewatch.daemon.season import SHADED, SeasonKnown, season_known, with_season
from carewatch.hazard.spells import Spell
from carewatch.outcome import _facts, _stands_under
from carewatch.tasks.task import SHADE_CROWN
from tests.alerts.made import NIGHT, RULES, Watch, at, call, kinds
from tests.alerts.test_seasons import task

# A root ball of a layer: bare, banked, and banked with mulch; from an invented night of −15 °C.
BARE, BANKED, MULCHED = 0.9, 0.11, 0.02


def option(name: str, loss: float, chosen: bool = False, begun: bool = False) -> SimpleNamespace:
    """One measure as it was tried."""
    return SimpleNamespace(
        name=name,
        loss=loss,
        chosen=chosen,
        begun=begun,
        hazard_loss={"root-freeze": loss},
        hazard_probability={"root-freeze": 0.4},
    )


def banked(chosen: str, begun: tuple[str, ...] = ("plunge",)) -> Any:
    """A tree in such a night, banked already."""
    losses = {"plunge": BANKED, "plunge+mulch": MULCHED, "insulate-pot": 0.8}
    options = tuple(option(name, loss, name == chosen, name in begun) for name, loss in losses.items())
    return cast(
        "Any",
        SimpleNamespace(
            condition=SimpleNamespace(begun=begun, in_leaf=False, place="lawn", sun_limit_kwh=None),
            options=options,
            chosen=next(found for found in options if found.chosen),
            standing_loss=BARE,
            spells=(spell(),),
        ),
    )


def spell() -> Spell:
    """The night."""
    stamp = np.datetime64("2026-11-06T02:00:00", "s")
    return Spell(
        "root-freeze", 0, 9, stamp, stamp, stamp, -11.0, -3.0, "°C", 0.99, 1.0, BARE, 0.91, "Extreme", "Likely", "roots"
    )


def test_what_is_in_force_is_taken_from_the_numbers_of_what_is_added() -> None:
    """Of 90 % banking leaves 11 %: that is the loss, its class, and what mulch has to save of."""
    tree = banked("plunge+mulch")
    under = _stands_under(tree)
    assert under is not None
    facts = _facts(tree, spell(), ZoneInfo("UTC"), under)
    assert facts.loss == pytest.approx(BANKED)
    assert facts.loss_if == pytest.approx(0.91 * BANKED / BARE)
    assert (facts.severity, facts.probability) == ("Moderate", 0.4)
    assert facts.eased == pytest.approx(1.0 - MULCHED / BANKED)
    # Undone now, banking would cost what it saves of the bare ball.
    assert facts.spared == pytest.approx(BARE - BANKED)


def test_where_all_is_in_force_or_it_helps_little_the_numbers_are_the_bare_ones() -> None:
    """What is wholly in place is judged by what would be lost without it."""
    assert _stands_under(banked("plunge")) is None
    assert _stands_under(banked("plunge+mulch", begun=())) is None
    assert _stands_under(banked("plunge+mulch", begun=("insulate-pot",))) is None
    assert _facts(banked("plunge"), spell(), ZoneInfo("UTC")).severity == "Extreme"
    assert _facts(banked("plunge", begun=()), spell(), ZoneInfo("UTC")).spared == 0.0


@pytest.mark.parametrize(("allowed", "unused"), [(None, True), (6.0, True), (0.5, False)])
def test_sun_is_a_matter_of_habit_unless_few_roots_set_the_limit(allowed: float | None, unused: bool) -> None:
    """The limit that counts is the lower one."""
    tree = banked("plunge")
    tree.condition.sun_limit_kwh = allowed
    limit = 5.4 if allowed is None else min(5.4, allowed)
    tree.spells = (replace(spell(), hazard="sun", limit=limit),)
    assert _facts(tree, tree.spells[0], ZoneInfo("UTC")).unused == unused
    assert not _facts(banked("plunge"), spell(), ZoneInfo("UTC")).unused


def test_the_reason_names_what_is_in_place_and_what_it_leaves() -> None:
    """The root ball does not reach what the bare one would; undone is spoken of what is added alone."""
    made = call(measure="plunge+mulch", hazard="root-freeze")
    added = replace(made, begun=("plunge",), stands_under="plunge")
    body = call_message([added], at(13), changed={"layer"}).body
    assert body.startswith("Changed: Mulch the pot of layer (lawn)")
    assert "With banking to the rim alone frozen roots may still cost about 15 % of the tree; unprotected " in body
    assert "unprotected its root ball would reach about −4 °C tomorrow about 6:00, limit −2.5 °C." in body
    assert "reaches about" not in body
    assert "Out of the bank" not in body
    assert "winter place" not in told(added, Known(quarters={"layer": "plunge"}))
    assert "winter place" in told(made, Known(quarters={"layer": "plunge"}))


def told(made: TreeCall, known: Known) -> str:
    """The message that this call makes."""
    return Watch().look(at(13), made, known=known).notices[0].body


CLOTH = replace(call(measure="shade-cloth", hazard="sun"), undo_at=at(16))


def test_a_cloth_that_the_long_clock_wants_stays_up_without_another_word() -> None:
    """Told when it is asked for; elsewhere it comes off when the sun is over."""
    shaded = Known(shaded={"layer"})
    assert "Leave the shade cloth over layer. `carewatch tasks` says when it comes off." in told(CLOTH, shaded)
    assert "until" not in told(CLOTH, shaded)
    for known, said in ((shaded, ["call"]), (Known(), ["call", "bring-back"])):
        watch = Watch()
        watch.look(at(13), CLOTH, known=known)
        watch.answer("done")
        plans = [watch.look(at(hour, day=8), known=replace(known, in_rounds=hour == 9)) for hour in (7, 9, 12, 16)]
        assert kinds(watch.spoken) == said
        assert all(plan.stays == () for plan in plans)
    danger = next(iter(watch.standing.values()))
    body = bring_back_message([danger], stays={"layer": "shade-cloth"}).body
    assert body == "The strong sun is over: leave the shade cloth over layer. `carewatch tasks` says when it comes off."


def test_an_end_that_was_told_and_does_not_come_is_taken_back_with_the_rounds() -> None:
    """Its end was told before the long clock wanted shade: by then it stays, and that is said."""
    watch = Watch()
    assert (
        "Cloth off again tomorrow 16:00." in watch.look(at(13), replace(CLOTH, undo_at=at(16, day=6))).notices[0].body
    )
    watch.answer("done")
    shaded = Known(shaded={"layer"})
    for hour in (9, 15, 16, 17):
        watch.look(at(hour, day=7), known=shaded)
    assert kinds(watch.spoken) == ["call"]
    (said,) = watch.look(at(7, day=8), known=replace(shaded, in_rounds=True)).stays
    assert said == "The strong sun is over: leave the shade cloth over layer. `carewatch tasks` says when it comes off."
    assert all(danger.state == "over" for danger in watch.standing.values())


def test_who_comes_out_to_a_winter_place_is_not_sent_to_the_old_one() -> None:
    """After days in the shed, by stages; one destination."""
    watch = Watch()
    watch.look(at(13), call(measure="move:shed"))
    danger = next(iter(watch.standing.values()))
    planned = bring_back_message([danger], (), {"layer"}, quarters={"layer": "plunge"}).body
    winter = "Then bank layer to the rim with bark or soil: that is its winter place."
    assert f"Three days in shade, four in half sun.\n{winter}" in planned
    assert "four in half sun, then the old place." in bring_back_message([danger], (), {"layer"}).body


@pytest.mark.parametrize(("loss", "said"), [(0.03, ["call", "bring-back"]), (0.2, ["call"])])
def test_a_cloth_comes_off_at_the_end_that_was_told_unless_the_sun_would_cost_much(
    loss: float, said: list[str]
) -> None:
    """The heat is over; leaves that grew used to the cloth would lose a little in the sun, and more with each day."""
    watch = Watch()
    heat = replace(CLOTH, spells=(replace(CLOTH.spells[0], hazard="heat"),), undo_at=at(16, day=6))
    watch.look(at(13), heat)
    watch.answer("done")
    sun = replace(CLOTH.spells[0], loss=loss, starts=at(12, day=7), ends=at(12, day=9))
    after = replace(heat, in_force=True, spells=(sun,), undo_at=at(16, day=9))
    for hour in (9, 12, 15, 16, 17):
        watch.look(at(hour, day=6), after)
    assert kinds(watch.spoken) == said


def test_the_shade_of_the_long_clock_is_remembered_until_its_last_day() -> None:
    """Tasks come in the hours of the rounds; what is wanted is known all day."""
    tasks = [
        task("flush", "second-shade", "", date(2026, 11, 20), "done"),
        task("overdue", "second-shade", "", date(2026, 11, 2), "overdue"),
        task("later", "second-shade", "", date(2026, 11, 20), "later"),
    ]
    _, facts = with_season(Plan((), ()), tasks, season_known({}, tasks), 50.0, RULES, at(9), ())
    known = season_known({SHADED: str(facts[SHADED])}, ())
    # By when a cloth was to hang is not until when it hangs: hung late, it stays.
    assert known.in_shade(date(2026, 11, 20)) == {"flush", "overdue"}
    assert known.in_shade(date(2026, 11, 21)) == {"overdue"}
    assert season_known({SHADED: "[7"}, ()) == SeasonKnown((), {})
    # Done late, and to stay until the long clock ends it; nothing is to stay once that is due.
    done = replace(tasks[0], state="done")
    until = task("flush", "end-shade", "", date(2026, 12, 20), "later")
    assert season_known({}, [done, until]).in_shade(until.first) == {"flush"}
    assert season_known({}, [done, replace(until, state="due")]).shaded == {}


@pytest.mark.parametrize(("kind", "about"), [("second-shade", ""), ("summer-place", SHADE_CROWN)])
def test_of_one_cloth_only_one_speaks(kind: str, about: str) -> None:
    """A task that is due speaks for a danger of another day; a call of today speaks for the task."""
    due = [task("layer", kind, about, date(2026, 11, 4), "overdue")]
    far = replace(CLOTH, act_by=at(9, day=8), spells=(replace(CLOTH.spells[0], starts=at(12, day=8)),))
    ahead = rounds_message(rounds_of([far], (), (), RULES, at(7), tasks=due)).body
    assert "you will be asked" not in ahead
    assert "overdue since 4 Nov" in ahead
    today = rounds_message(rounds_of([CLOTH], (), (), RULES, at(7), tasks=due)).body
    assert "overdue" not in today
    assert "Hang shade cloth over layer" in today


def test_a_cloth_without_an_end_in_sight_comes_off_by_stages() -> None:
    """Its leaves grow used to shade: waiting makes the end no nearer."""
    assert undo("shade-cloth", None, at(13)) == (
        "To wean the leaves: off on a dull day, or for four days up from 11:00 to 16:00 only, then off."
    )
    assert undo("move:shade", None, at(13)) == "No end in sight yet; you will hear when."


def test_a_decision_names_what_is_added_and_never_lies_in_the_past() -> None:
    """Ties hold since yesterday; the net's hour was last night."""
    gale = replace(call(measure="windbreak+tie-down", hazard="wind"), begun=("tie-down",))
    gale = replace(gale, spells=(replace(gale.spells[0], unit="m/s", starts=at(9, day=9)),), act_by=at(15, day=8))
    body = rounds_message(rounds_of([gale], (), (), RULES, at(7))).body
    assert "If it stays so, you will be asked Sun 8 Nov about 12:00 to put a wind net round it." in body
    assert (
        "you will be asked" not in rounds_message(rounds_of([replace(gale, act_by=at(1))], (), (), RULES, at(7))).body
    )


def test_a_dry_pot_is_called_one() -> None:
    """Where water helps the roots are not at fault."""
    dry = replace(call(hazard="drying").spells[0], unit="share of leaf water", peak=1.0, limit=0.3)
    assert reason(dry, at(7), layer=False, measure="water").startswith("Its pot dries out: its leaves lose 100 %")
    assert reason(dry, at(7), layer=False, measure="humid-tent").startswith("Its leaves ask for more than the roots")


def test_midnight_belongs_to_the_evening_before_it() -> None:
    """Nobody reckons with nought o'clock of Saturday."""
    cold = call().spells[0]
    assert "tomorrow about midnight" in reason(replace(cold, peak_at=at(0, day=7)), at(7), layer=False)
    assert "Sat 7 Nov about 1:00" in reason(replace(cold, peak_at=at(1, day=7)), at(7), layer=False)


@pytest.mark.parametrize(
    ("age", "failing", "said"),
    [
        (timedelta(hours=5), "Open-Meteo", ""),
        (timedelta(hours=12), "Open-Meteo", "\nFrom a forecast of today 1:00, as Open-Meteo does not answer."),
        (timedelta(hours=16), "Open-Meteo", "\nFrom a forecast of yesterday 21:00, as Open-Meteo does not answer."),
        (timedelta(hours=11), "", ""),
        (timedelta(hours=38), "", "\nFrom a forecast of Tue 3 Nov 23:00."),
    ],
)
def test_the_age_of_an_old_forecast_is_the_last_line(age: timedelta, failing: str, said: str) -> None:
    now: datetime = at(13)
    planned = Watch().look(now, call(night=NIGHT))
    aged = with_age(planned, now - age, now, failing)
    assert aged.notices[0].body == planned.notices[0].body + said


@pytest.mark.parametrize(("endangered", "told"), [(True, False), (False, True)])
def test_a_tree_in_danger_is_not_fed(endangered: bool, told: bool) -> None:
    """Feeding has weeks; the eve of a heatwave is none of its days (common practice)."""
    feed = task("layer", "resume-feeding", "", date(2026, 11, 20), "due")
    calls = [call(hazard="heat", measure="shade-cloth")] if endangered else []
    body = rounds_message(rounds_of(calls, (), (), RULES, at(7), tasks=[feed])).body
    assert ("feed" in body) == told
