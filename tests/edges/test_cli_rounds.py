"""`rounds`: the day's list says what to do where, what may come, what is on and when it comes off."""

import json
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from jsonschema import Draft202012Validator

from carewatch.alerts.call import SpellFacts, TreeCall
from carewatch.alerts.rounds import Begun, Rounds, heads_up_line, in_force_line, rounds_message, rounds_of
from carewatch.alerts.wording import LONGEST
from carewatch.care.garden import NoticeRules
from carewatch.config.load import load
from carewatch.config.tables import load_tables
from carewatch.daemon.left_over import LEFT_OVER
from carewatch.sqlite.facts import put_facts
from carewatch.sqlite.outbox import claim_due, mark_permanent
from carewatch.sqlite.standing import Change, Queued, save
from tests.edges.answered import CALL, FROST, OTHER
from tests.edges.own_garden import NOW, OwnGarden, own_garden
from tests.outlook.gardens import Document, schema

BERLIN = ZoneInfo("Europe/Berlin")
HERE = NOW.astimezone(BERLIN)
HOUR = timedelta(hours=1)
SPELL = SpellFacts(
    hazard="frost",
    organ="leaves",
    starts=HERE + 40 * HOUR,
    ends=HERE + 46 * HOUR,
    peak_at=HERE + 44 * HOUR,
    peak=-5.0,
    limit=-2.5,
    unit="°C",
    probability=0.7,
    damage=0.5,
    loss=0.2,
    loss_if=0.28,
    severity="Moderate",
    certainty="Likely",
)
COLD = TreeCall(
    tree="elm",
    place="shade-bench",
    layer=False,
    spells=(SPELL,),
    measure="fleece",
    in_force=False,
    why="",
    standing_loss=0.2,
    loss_with=0.02,
    minutes=3.0,
    act_by=HERE + 28 * HOUR,
    undo_at=HERE + 46 * HOUR,
    harm="",
    caution="",
    rejected="",
    rejected_why="",
)


@pytest.fixture(scope="module")
def rules(tmp_path_factory: pytest.TempPathFactory) -> NoticeRules:
    """Of the demo's garden: quiet from 22:00 to 6:30."""
    own = own_garden(tmp_path_factory.mktemp("rules"))
    return load(own.config, {}, NOW, load_tables()).garden.notices


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> OwnGarden:
    """A garden in which a notice reached nobody and fleece lies on the pine."""
    garden = own_garden(tmp_path_factory.mktemp("rounds"))
    lost = replace(CALL, useless_after=NOW + HOUR)
    with garden.opened() as database:
        with database.transaction(NOW - HOUR) as transaction:
            save(transaction, Change((FROST, OTHER), (lost,), (Queued(CALL.id, "phone", 1),)))
        with database.transaction(NOW) as transaction:
            row = claim_due(transaction, HOUR)
            assert row is not None
            assert mark_permanent(transaction, row, "refused")
    assert garden.ran("log", "pine", "begin", "fleece", "--on", "2026-11-04T17:00").code == 0
    return garden


@pytest.fixture(scope="module")
def document(own: OwnGarden) -> Document:
    return own.document("rounds")


def test_the_document_keeps_its_schema(document: Document) -> None:
    Draft202012Validator.check_schema(schema("rounds"))
    validator = Draft202012Validator(schema("rounds"))

    assert [error.message for error in validator.iter_errors(document)] == []


def test_the_schema_shares_its_definitions_with_the_outlook() -> None:
    """What both documents hold is described once, word for word."""
    shared, own = schema("outlook")["$defs"], schema("rounds")["$defs"]

    assert {name: own[name] for name in ("moment", "hazard", "site", "forecast")} == {
        name: shared[name] for name in ("moment", "hazard", "site", "forecast")
    }


def test_what_is_due_today_is_grouped_by_place_and_measure(document: Document) -> None:
    """The demo's cold night: both young layers stand on the lawn and want the same."""
    (errand,) = document["today"]

    assert (errand["place"], errand["trees"]) == ("lawn", ["maple-layer-1", "maple-layer-2"])
    assert errand["measure"].startswith("fleece")
    assert errand["act_by"].startswith("2026-11-05T1")
    assert errand["undo_at"].startswith("2026-11-06T")
    # The sun sets at 16:56 there (within a few minutes, from memory), and the garden is unlit.
    assert HERE < datetime.fromisoformat(errand["act_by"]) < datetime(2026, 11, 5, 16, 56, tzinfo=BERLIN)
    assert "maple-layer-1 and maple-layer-2 (lawn) before 1" in errand["text"]


def test_what_lies_on_without_need_may_come_off(document: Document) -> None:
    (on,) = document["in_force"]

    assert (on["tree"], on["measure"], on["threatened"]) == ("pine", "fleece", False)
    assert on["text"] == (
        "pine (bench): fleece since yesterday 17:00. Nothing threatens it any more in this forecast; it may come off."
    )


def test_a_notice_that_reached_nobody_is_counted(document: Document) -> None:
    assert document["undelivered"] == 1


def test_the_list_for_a_person_says_the_same(own: OwnGarden, document: Document) -> None:
    said = own.ran("rounds").out

    assert "Laubenau (invented), Thu 5 Nov 2026 12:30" in said
    assert "\nlawn\n" in said
    assert "Carry" not in said
    flat = " ".join(said.split())
    for item in (*document["today"], *document["in_force"]):
        assert " ".join(item["text"].split()) in flat
    assert "1 message of the last day reached nobody" in flat


def test_a_quiet_garden_has_nothing_to_carry(tmp_path: Path) -> None:
    garden = own_garden(tmp_path)
    text = garden.config.read_text(encoding="utf-8")
    before, _, rest = text.partition("[[tree]]")
    larch = rest[rest.index('id = "larch"') :]
    garden.config.write_text(f"{before}[[tree]]\n{larch}", encoding="utf-8")

    said = garden.ran("rounds").out

    assert said.splitlines() == ["Laubenau (invented), Thu 5 Nov 2026 12:30", "Nothing to carry today."]
    assert not garden.database.exists()


def test_a_garden_that_cannot_be_judged_says_why(tmp_path: Path) -> None:
    garden = own_garden(tmp_path)
    (garden.folder / "cold-night.json").write_text(json.dumps({"no": "forecast"}), encoding="utf-8")

    assert garden.refused("rounds", code=1)
    assert "--at 'soon' is no time" in garden.refused("rounds", "--at", "soon", code=2)


def test_what_is_not_due_is_a_heads_up_with_when_it_will_be_decided(rules: NoticeRules) -> None:
    """Fleece by 16:30 tomorrow: three hours and the work before that is early enough to speak."""
    found = rounds_of([COLD], (), (), rules, HERE)

    assert found.errands == ()
    (item,) = found.heads_up
    assert item.decide_at == COLD.act_by - timedelta(hours=3)
    assert heads_up_line(item, HERE) == (
        "elm (shade-bench): frost Sat 7 Nov, likely (70 %). If it stays so, you will be asked tomorrow "
        "about 13:30 to put fleece over it."
    )


def test_what_must_be_spoken_of_before_night_is_due_today(rules: NoticeRules) -> None:
    """Work before 7 tomorrow morning is told this evening, and so stands on today's list."""
    early = replace(COLD, act_by=datetime(2026, 11, 6, 7, 0, tzinfo=BERLIN))

    assert [errand.trees for errand in rounds_of([early], (), (), rules, HERE).errands] == [("elm",)]


def test_a_danger_that_nothing_helps_against_is_still_foreseen(rules: NoticeRules) -> None:
    helpless = replace(COLD, measure="", act_by=HERE)
    (item,) = rounds_of([helpless], (), (), rules, HERE).heads_up

    assert item.decide_at is None
    assert heads_up_line(item, HERE).endswith(
        "likely (70 %). Nothing at hand helps enough to be worth its work so far."
    )


@pytest.mark.parametrize(("severity", "due"), [("Moderate", 0), ("Severe", 1)])
def test_what_was_declined_stays_off_the_list_until_it_is_worse(rules: NoticeRules, severity: str, due: int) -> None:
    now = COLD.act_by - HOUR
    declined = replace(FROST, tree="elm", answer="skip", state="answered")
    call = replace(COLD, spells=(replace(SPELL, severity=severity),))

    found = rounds_of([call], (), (declined,), rules, now)

    assert len(found.errands) == due
    assert [item.skipped for item in found.heads_up] == [True] * (1 - due)


def test_a_measure_in_force_is_not_asked_for_again_and_says_when_it_comes_off(rules: NoticeRules) -> None:
    now = COLD.act_by - HOUR
    on = Begun("elm", "shade-bench", "fleece", HERE)

    found = rounds_of([replace(COLD, in_force=True)], (on,), (), rules, now)

    assert (found.errands, found.heads_up) == ((), ())
    assert in_force_line(found.in_force[0], now) == (
        "elm (shade-bench): fleece since yesterday 12:30. Off again tomorrow 10:30."
    )
    inside = replace(found.in_force[0], begun=Begun("elm", "shade-bench", "move:shed", HERE))
    assert in_force_line(inside, now).startswith("elm (shade-bench): in shed since yesterday 12:30.")


def test_the_message_opens_with_what_to_do_and_fits(rules: NoticeRules) -> None:
    trees = [f"tree-{number}" for number in range(40)]
    calls = [replace(COLD, tree=tree, place=f"place-{tree}") for tree in trees]
    on = tuple(Begun(tree, "bench", "fleece", HERE) for tree in trees)

    quiet = rounds_message(Rounds(HERE, (), (), (), 0))
    # Forty trees of three minutes are two hours of work before 16:30, and the first must be begun by 14:33.
    full = rounds_message(rounds_of(calls, on, (), rules, COLD.act_by - 4 * HOUR, undelivered=2))
    ahead = rounds_message(rounds_of(calls, on, (), rules, HERE))

    assert (quiet.title, quiet.body) == ("Nothing to carry today.", "Nothing to carry today.")
    assert full.title.startswith("Put fleece over tree-0 (place-tree-0) before 14:30")
    assert "2 messages of the last day reached nobody" in full.body
    assert full.body.partition("\n\n")[0].endswith(" more: see `carewatch rounds`.")
    assert ahead.title == "Nothing to carry today. Ahead: frost Sat 7 Nov."
    assert "Ahead: tree-0, tree-1, tree-10 and 37 more." in ahead.body
    assert max(len(message.body) for message in (full, ahead)) <= LONGEST


def test_a_page_for_the_helper_is_for_the_days_of_the_absence(tmp_path: Path) -> None:
    """Plain text that can be printed and handed over, and the same as a document."""
    garden = own_garden(tmp_path)
    text = garden.config.read_text(encoding="utf-8")
    away = '[notices]\naway = [["2026-11-05", "2026-11-08"]]'
    garden.config.write_text(text.replace("[notices]", away), encoding="utf-8")

    said = garden.ran("rounds", "--for-helper").out
    found = garden.document("rounds", "--for-helper")

    assert said.startswith("For whoever looks after the trees, Thu 5 Nov to Sun 8 Nov\nLaubenau (invented)\n\nlawn\n")
    assert "put heavy fleece over maple-layer-1 and maple-layer-2" in said
    assert "Do not lift or shift these pots." in said
    assert "Do not put up or hold covers in a gale." in said
    assert max(len(line) for line in said.splitlines()) <= 80
    assert not list(Draft202012Validator(schema("helper")).iter_errors(found))
    assert (found["first"], found["last"]) == ("2026-11-05", "2026-11-08")
    assert " ".join(found["places"][0]["lines"][0].split()) in " ".join(said.split())
    assert not garden.database.exists()


def test_what_nobody_has_read_yet_is_in_the_rounds_by_hand(tmp_path: Path) -> None:
    """A message that had no room for it says: see `carewatch rounds`."""
    garden = own_garden(tmp_path)
    stays = "The frost is over: nothing to do, let fig stay in shed for the winter."
    rows = [[stays, "2026-11-04", ""], ["Another one, of tomorrow.", "2026-11-06", ""]]
    with garden.opened() as database, database.transaction(NOW) as transaction:
        put_facts(transaction, {LEFT_OVER: json.dumps(rows)})
    assert garden.document("rounds")["stays"] == [stays]
    said = garden.ran("rounds").out
    assert "\nStays\n" in said
    assert stays in " ".join(said.split())
