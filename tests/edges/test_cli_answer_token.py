"""`answer --token`: the link of a message answers its notice, and nothing else."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from carewatch.alerts.danger import Notice
from carewatch.sqlite.tokens import issue_token
from tests.edges.answered import CALL, FROST, HOUR, OLDER, OTHER, found, kept, works
from tests.edges.own_garden import NOW, OwnGarden, own_garden


@pytest.fixture
def own(tmp_path: Path) -> OwnGarden:
    garden = own_garden(tmp_path)
    kept(garden, OLDER, CALL)
    return garden


def token_for(own: OwnGarden, notice: Notice = CALL) -> str:
    """A token as it would stand in a message."""
    with own.opened() as database, database.transaction(NOW) as transaction:
        return issue_token(transaction, notice.id, "phone")


def test_a_token_answers_its_notice_and_no_other(own: OwnGarden) -> None:
    done = own.document("answer", "--token", token_for(own), "done")

    assert done["notice"] == CALL.id
    assert [(line["tree"], line["outcome"]) for line in done["lines"]] == [
        ("maple-layer-1", "new"),
        ("maple-layer-2", "new"),
    ]
    assert works(own, "maple-layer-1") == [("begin", "fleece")]
    assert found(own).state == "answered"


def test_a_token_answers_line_by_line(own: OwnGarden) -> None:
    token = token_for(own)
    assert own.ran("answer", "--token", token, "maple-layer-2", "done").code == 0
    assert (works(own, "maple-layer-1"), found(own).answer) == ([], "")
    assert own.ran("answer", "--token", token, "maple-layer-1", "skip").code == 0
    assert (found(own).answer, found(own, OTHER.id).answer) == ("skip", "done")


def test_a_token_used_twice_changes_nothing_and_says_so(own: OwnGarden) -> None:
    token = token_for(own)
    assert own.ran("answer", "--token", token, "done").code == 0
    again = own.ran("answer", "--token", token, "done", at=NOW + HOUR)

    assert again.code == 0
    assert "maple-layer-1: you said done before; nothing changed." in again.out
    assert works(own, "maple-layer-1") == [("begin", "fleece")]


@pytest.mark.parametrize(
    ("later", "reason"),
    [
        (timedelta(hours=20, days=3, seconds=1), "This link was good until 2026-11-09 08:30. Nothing was stored"),
        (timedelta(days=400), "This link was good until 2026-11-09 08:30. Nothing was stored"),
    ],
)
def test_a_token_after_its_time_stores_nothing_and_says_until_when_it_was_good(
    own: OwnGarden, later: timedelta, reason: str
) -> None:
    token = token_for(own)
    assert reason in own.refused("answer", "--token", token, "done", code=1, at=NOW + later)
    assert (works(own, "maple-layer-1"), found(own).answer) == ([], "")


@pytest.mark.parametrize("token", ["0" * 32, "", "-", "../../etc/passwd", "' OR 1=1 --", "é" * 32, "b1"])
def test_a_token_that_was_never_given_out_stores_nothing(own: OwnGarden, token: str) -> None:
    said = own.refused("answer", f"--token={token}", "done", code=1)
    assert said == "This link is not known, or long past. Nothing was stored.\n"
    assert found(own).answer == ""


def test_a_token_for_a_danger_that_is_over_keeps_the_answer_and_puts_nothing_in_force(own: OwnGarden) -> None:
    kept(own, dangers=(replace(FROST, state="over"), replace(OTHER, state="over")))
    answer = own.document("answer", "--token", token_for(own), "maple-layer-1", "done", at=NOW + 30 * HOUR)

    (line,) = answer["lines"]
    assert (line["outcome"], line["late"], line["logged"]) == ("new", True, [])
    assert line["said"] == "that danger is over: your answer is kept and changes nothing."
    assert works(own, "maple-layer-1") == []


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("old-maple", "done"), "That notice asks nothing about old-maple. Nothing was stored."),
        (("hang",), "That notice is no question about leaves. Nothing was stored."),
    ],
)
def test_what_a_token_s_notice_does_not_ask_is_not_stored(own: OwnGarden, arguments: list[str], said: str) -> None:
    assert said in own.refused("answer", "--token", token_for(own), *arguments, code=1)
    assert found(own).answer == ""


def test_a_dry_run_with_a_token_writes_nothing(own: OwnGarden) -> None:
    said = own.ran("answer", "--dry-run", "--token", token_for(own), "done")
    assert "noted at 12:30: it" in said.out
    assert found(own).answer == ""


def test_without_notice_and_token_it_asks_which(own: OwnGarden) -> None:
    assert "Which notice?" in own.refused("answer", "done", code=2)
