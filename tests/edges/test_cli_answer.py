"""`answer`: one word from the grower, kept with everything that follows from it, in one transaction."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from carewatch.alerts.call import SpellFacts, TreeCall
from carewatch.alerts.danger import NoticeLine
from carewatch.alerts.plan import plan
from carewatch.config.load import load
from carewatch.config.tables import load_tables
from carewatch.sqlite.standing import standing
from tests.edges.answered import BACK, BERLIN, CALL, FROST, HOUR, OLDER, OTHER, found, kept, works
from tests.edges.own_garden import NOW, OwnGarden, own_garden


@pytest.fixture
def own(tmp_path: Path) -> OwnGarden:
    garden = own_garden(tmp_path)
    kept(garden, OLDER, CALL)
    return garden


def test_done_puts_every_line_in_force(own: OwnGarden) -> None:
    done = own.document("answer", "last", "done")

    assert (done["notice"], done["kind"]) == (CALL.id, "call")
    assert [(line["tree"], line["outcome"], line["late"]) for line in done["lines"]] == [
        ("maple-layer-1", "new", False),
        ("maple-layer-2", "new", False),
    ]
    assert works(own, "maple-layer-1") == [("begin", "fleece")]
    assert works(own, "maple-layer-2") == [("begin", "move:shed")]
    for danger_id in (FROST.id, OTHER.id):
        known = found(own, danger_id)
        assert (known.answer, known.state, known.in_force) == ("done", "answered", True)


def test_the_rounds_know_what_was_answered(own: OwnGarden) -> None:
    """What was put on is not asked for again; it is listed with when it comes off."""
    assert own.ran("answer", "last", "maple-layer-1", "done").code == 0

    rounds = own.document("rounds")

    (on,) = rounds["in_force"]
    assert (on["tree"], on["measure"], on["since"]) == ("maple-layer-1", "fleece", "2026-11-05T12:30+01:00")
    assert on["threatened"]
    assert on["undo_at"].startswith("2026-11-06T")
    assert "maple-layer-2" in [tree for errand in rounds["today"] for tree in errand["trees"]]


def test_only_the_named_trees_are_answered(own: OwnGarden) -> None:
    said = own.ran("answer", CALL.id, "maple-layer-2", "done").out

    assert "maple-layer-2: noted at 12:30: it stands in shed; you will hear when it may go back." in said
    assert "maple-layer-1:" not in said
    assert works(own, "maple-layer-1") == []
    assert found(own).answer == ""
    assert found(own, OTHER.id).answer == "done"


def test_the_same_answer_twice_changes_nothing(own: OwnGarden) -> None:
    assert own.ran("answer", "b1", "done").code == 0
    again = own.ran("answer", "b1", "done", at=NOW + HOUR)

    assert again.code == 0
    assert "maple-layer-1: you said done before; nothing changed." in again.out
    assert works(own, "maple-layer-1") == [("begin", "fleece")]


def test_an_answer_that_is_taken_back_takes_its_entry_along(own: OwnGarden) -> None:
    """A cover that was not put on after all must not be reckoned with for another hour."""
    assert own.ran("answer", "b1", "done").code == 0
    changed = own.document("answer", "b1", "skip", at=NOW + HOUR)

    assert [line["outcome"] for line in changed["lines"]] == ["changed", "changed"]
    assert "Before, you said done." in changed["lines"][0]["said"]
    assert works(own, "maple-layer-1") == []
    assert len(own.log("maple-layer-1", "--all")) == 1
    assert (found(own).answer, found(own).in_force) == ("skip", False)

    assert own.ran("answer", "b1", "done", at=NOW + 2 * HOUR).code == 0
    assert works(own, "maple-layer-1") == [("begin", "fleece")]
    assert found(own).in_force


def called(severity: str, at: datetime) -> TreeCall:
    """The call of the frost as a later assessment would make it."""
    spell = SpellFacts(
        hazard="frost",
        organ="leaves",
        starts=FROST.starts.astimezone(BERLIN),
        ends=FROST.ends.astimezone(BERLIN),
        peak_at=(FROST.starts + 8 * HOUR).astimezone(BERLIN),
        peak=-5.0,
        limit=-2.5,
        unit="°C",
        probability=0.9,
        damage=0.5,
        loss=0.2,
        loss_if=0.25,
        severity=severity,
        certainty="Likely",
    )
    return TreeCall(
        tree="maple-layer-1",
        place="lawn",
        layer=True,
        spells=(spell,),
        measure="fleece",
        in_force=False,
        why="",
        standing_loss=0.2,
        loss_with=0.01,
        minutes=3.0,
        act_by=(at + 2 * HOUR).astimezone(BERLIN),
        undo_at=None,
        harm="",
        caution="",
        rejected="",
        rejected_why="",
    )


@pytest.mark.parametrize(("severity", "kinds"), [("Moderate", []), ("Severe", ["worse"])])
def test_not_this_time_holds_until_it_is_worse_by_a_class(own: OwnGarden, severity: str, kinds: list[str]) -> None:
    said = own.ran("answer", "last", "maple-layer-1", "skip").out
    assert "you will hear of it again only if it becomes clearly graver" in said
    later = (NOW + 3 * HOUR).astimezone(BERLIN)
    rules = load(own.config, {}, NOW, load_tables()).garden.notices
    with own.opened() as database, database.snapshot(NOW) as snapshot:
        known = standing(snapshot, NOW - 48 * HOUR)

    decided = plan([called(severity, later)], known.dangers, known.notices, rules, later)

    assert [notice.kind for notice in decided.notices] == kinds


def test_later_keeps_it_open(own: OwnGarden) -> None:
    assert "it stays open in the rounds" in own.ran("answer", "last", "later").out
    assert (found(own).answer, found(own).state, found(own).in_force) == ("later", "raised", False)
    assert works(own, "maple-layer-1") == []


def test_a_danger_that_is_over_takes_an_answer_harmlessly(own: OwnGarden) -> None:
    kept(own, dangers=(replace(FROST, state="over"), replace(OTHER, state="over")))

    done = own.ran("answer", "last", "done", at=NOW + 40 * HOUR)

    assert done.code == 0
    assert "that danger is over: your answer is kept" in done.out
    assert works(own, "maple-layer-1") == []
    assert (found(own).state, found(own).answer, found(own).in_force) == ("over", "done", False)


def test_bringing_back_ends_what_was_in_force(own: OwnGarden) -> None:
    morning = BACK.created_at + HOUR
    assert own.ran("answer", "last", "maple-layer-1", "done").code == 0
    kept(own, BACK, dangers=(replace(found(own), state="over"),), at=BACK.created_at)

    assert "it is under fleece by night still; say done when not." in own.ran("answer", "last", "later", at=morning).out
    done = own.ran("answer", "last", "done", at=morning + HOUR)

    assert "noted: over now: fleece." in done.out
    assert works(own, "maple-layer-1") == [("begin", "fleece"), ("end", "fleece")]
    assert (found(own).state, found(own).in_force) == ("over", False)
    assert "you said done before" in own.ran("answer", "last", "done", at=morning + 2 * HOUR).out


def test_what_is_done_at_once_does_not_stay_on(own: OwnGarden) -> None:
    """Watering fills the pot for now; if it counted as in force for good, it would never be asked for again."""
    watering = replace(
        CALL,
        id="d100000000000001",
        dedup="call:water",
        created_at=NOW,
        lines=(NoticeLine(FROST.id, FROST.tree, "water"),),
    )
    kept(own, watering)

    assert "water noted as done at 12:30" in own.ran("answer", "last", "done").out
    entries = own.log("maple-layer-1")
    assert [(entry["work"], entry["at"][11:16]) for entry in entries] == [("begin", "12:30"), ("end", "13:30")]


@pytest.mark.parametrize("hours", [1, 20], ids=["the same evening", "the evening after"])
@pytest.mark.parametrize("other", ["fleece-double", "move:shed"])
def test_a_heavier_cover_or_a_shed_takes_the_place_of_a_cover(own: OwnGarden, hours: int, other: str) -> None:
    """However long it is on: it does not lie over the tree in the shed, nor under the heavier one."""
    assert own.ran("answer", "last", "maple-layer-1", "done").code == 0
    worse = replace(
        CALL,
        id="d200000000000001",
        kind="worse",
        dedup="worse:a1:2",
        created_at=NOW + hours * HOUR,
        lines=(NoticeLine(FROST.id, FROST.tree, other),),
    )
    kept(own, worse, dangers=(), at=NOW + hours * HOUR)

    assert own.ran("answer", "last", "done", at=NOW + (hours + 1) * HOUR).code == 0

    assert works(own, "maple-layer-1") == [("begin", "fleece"), ("end", "fleece"), ("begin", other)]


def test_a_cover_of_the_night_before_is_put_on_anew(own: OwnGarden) -> None:
    """It came off in the morning without a word in the log: whether it is relied on counts from the newest begin."""
    assert own.ran("answer", "last", "maple-layer-1", "done").code == 0
    again = replace(CALL, id="d300000000000001", dedup="call:a1:3", created_at=NOW + 20 * HOUR, lines=CALL.lines[:1])
    kept(own, again, dangers=(), at=NOW + 20 * HOUR)

    assert own.ran("answer", "last", "done", at=NOW + 21 * HOUR).code == 0

    assert works(own, "maple-layer-1") == [("begin", "fleece"), ("begin", "fleece")]


def test_a_question_is_answered_by_what_the_leaves_do(own: OwnGarden) -> None:
    question = replace(
        CALL,
        id="e100000000000001",
        kind="question",
        dedup="question:elm",
        created_at=NOW,
        lines=(NoticeLine("", "elm", ""), NoticeLine("", "pine", "")),
    )
    kept(own, question, dangers=())

    lines = own.document("answer", "last", "elm", "hang")["lines"]

    assert [(line["tree"], line["answer"], line["outcome"]) for line in lines] == [("elm", "hang", "new")]


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (("ffff", "done"), 2, f"There is no notice 'ffff'. The newest: {CALL.id} (Put fleece"),
        (("b", "done"), 2, "Several notices may be meant by 'b'."),
        (("last", "maple-layer-9", "done"), 1, "No notice asks about maple-layer-9."),
        ((CALL.id, "maple-layer", "done"), 2, "Did you mean maple-layer-"),
        (("last", "hang"), 1, "is no question; answer it with done, skip or later"),
        (("last", "perhaps"), 2, "'perhaps' is no answer. Say at the end what it is: done, skip, later, hang or firm."),
        (("done",), 2, "Which notice?"),
        (("--token", "x"), 2, "Say at the end what it is"),
    ],
)
def test_an_answer_that_cannot_be_meant_changes_nothing(
    own: OwnGarden, arguments: tuple[str, ...], code: int, said: str
) -> None:
    assert said in own.refused("answer", *arguments, code=code)
    assert (found(own), found(own, OTHER.id)) == (FROST, OTHER)


def test_without_a_word_it_shows_what_can_be_answered_newest_first_and_writes_nothing(own: OwnGarden) -> None:
    kept(own, replace(BACK, created_at=NOW, lines=()))
    before = own.database.read_bytes()

    shown = own.ran("answer", at=NOW + 21 * HOUR).out.splitlines()
    listed = own.document("answer")["notices"]

    head, title, *older = shown
    assert head == "b1000000  2026-11-05 11:30  maple-layer-1, maple-layer-2 (over)"
    assert title == "  Put fleece over maple-layer-1 before 16:45."
    assert older[0].startswith("b2000000  2026-11-04 06:30  maple-layer-1")
    assert [(each["id"], each["over"], each["made"]) for each in listed] == [
        (CALL.id, False, "2026-11-05T11:30+01:00"),
        (OLDER.id, False, "2026-11-04T06:30+01:00"),
    ]
    assert own.database.read_bytes() == before
    assert own.ran("answer", "b1000000", "done").code == 0


def test_nothing_to_answer_is_said_plainly(tmp_path: Path) -> None:
    own = own_garden(tmp_path)

    assert own.ran("answer").out == "There is no notice yet that can be answered.\n"
    assert "There is no notice yet that can be answered." in own.refused("answer", "last", "done", code=1)


def test_a_dry_run_of_an_answer_writes_nothing(own: OwnGarden) -> None:
    before = own.database.read_bytes()

    rehearsed = own.ran("answer", "last", "done", "--dry-run")

    assert "noted at 12:30: it stands in shed" in rehearsed.out
    assert "Dry run: nothing was written." in rehearsed.out
    assert own.database.read_bytes() == before


def test_a_tree_that_left_the_garden_keeps_its_answer_and_gets_no_entry(own: OwnGarden) -> None:
    text = own.config.read_text(encoding="utf-8").replace('id = "maple-layer-1"', 'id = "renamed"')
    own.config.write_text(text, encoding="utf-8")

    done = own.document("answer", "last", "done", at=datetime(2026, 11, 5, 12, tzinfo=UTC))

    assert "not in the garden any more" in done["lines"][0]["said"]
    assert done["lines"][0]["logged"] == []
    assert done["lines"][1]["logged"] != []
