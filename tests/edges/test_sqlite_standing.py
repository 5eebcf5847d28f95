"""What stands between assessments: dangers, notices, rows to send, answers, all saved together or not at all."""

import math
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from carewatch.alerts.danger import Answer, Danger, Notice, NoticeLine
from carewatch.care.log import Entry
from carewatch.sqlite.answers import (
    Recorded,
    answers_to,
    record_answer,
)
from carewatch.sqlite.care_log import add
from carewatch.sqlite.database import Database
from carewatch.sqlite.outbox import rows_of
from carewatch.sqlite.refused import LogMoved, StoreRefused
from carewatch.sqlite.standing import Change, Queued, danger, dangers_since, notice, save, standing

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 11, 5, 11, tzinfo=UTC)
HOUR = timedelta(hours=1)
FROST = Danger(
    id="00000000000000a1",
    tree="oak-3",
    hazard="frost",
    starts=NOW + 8 * HOUR,
    ends=NOW + 20 * HOUR,
    severity="Severe",
    probability=0.7,
    loss=0.35,
    peak=-7.25,
    limit=-4.0,
    unit="°C",
    measure="move:shed",
    act_by=NOW + 5 * HOUR,
    undo_at=None,
    revision=1,
    state="raised",
    first_seen_at=NOW - 30 * HOUR,
    raised_at=NOW,
    spoken_severity="Severe",
    spoken_measure="move:shed",
    spoken_act_by=NOW + 5 * HOUR,
    spoken_at=NOW,
)
WIND = replace(FROST, id="00000000000000a2", tree="elm", hazard="wind", unit="m/s", measure="", undo_at=NOW + 21 * HOUR)
CALL = Notice(
    id="00000000000000b1",
    kind="call",
    severity="Severe",
    title="Tonight −7 °C: 2 trees",
    body="Move oak-3 into the shed by 17:00.",
    created_at=NOW,
    due_at=NOW + HOUR,
    useless_after=NOW + 20 * HOUR,
    dedup="call:00000000000000a1:1",
    lines=(NoticeLine(FROST.id, "oak-3", "move:shed"), NoticeLine(WIND.id, "elm", "")),
)
PHONE, POST = Queued(CALL.id, "phone", 1), Queued(CALL.id, "post", 2, NOW + 3 * HOUR)
PLAN = Change((FROST, WIND), (CALL,), (PHONE, POST), {"rounds-of": "2026-11-05", "cycle:complete": NOW})


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    with Database.open(tmp_path / "a.sqlite", NOW) as opened:
        yield opened


def saved(database: Database, change: Change, now: datetime = NOW) -> tuple[str, ...]:
    with database.transaction(now) as transaction:
        return save(transaction, change)


def answered(
    database: Database, answer: str, danger_id: str = FROST.id, at: datetime = NOW, tree: str = ""
) -> Recorded:
    with database.transaction(at) as transaction:
        return record_answer(transaction, Answer(CALL.id, danger_id, answer, at, "page"), tree)


def answer_refused(database: Database, answer: Answer, tree: str = "") -> str:
    with pytest.raises(StoreRefused) as refusal, database.transaction(NOW) as transaction:
        record_answer(transaction, answer, tree)
    return refusal.value.reason


def test_a_plan_is_read_back_as_it_was_saved(database: Database) -> None:
    assert saved(database, PLAN) == (CALL.id,)

    with database.snapshot(NOW) as snapshot:
        found = standing(snapshot, NOW - HOUR)
        assert found.dangers == (FROST, WIND)
        assert found.notices == (CALL,)
        assert found.answers == ()
        assert found.facts == {"cycle:complete": "2026-11-05T11:00:00Z", "rounds-of": "2026-11-05"}
        assert standing(snapshot, NOW + HOUR).notices == ()
        assert notice(snapshot, CALL.id) == CALL
        assert [(row.channel, row.due_at) for row in rows_of(snapshot, CALL.id)] == [
            ("phone", CALL.due_at),
            ("post", NOW + 3 * HOUR),
        ]


def test_a_danger_that_is_over_stands_no_more_and_is_still_known(database: Database) -> None:
    saved(database, PLAN)
    over = replace(FROST, state="over", revision=2, answer="done", below_runs=2, in_force=True, shade_days=3)
    saved(database, Change((over,)))

    with database.snapshot(NOW) as snapshot:
        assert standing(snapshot, NOW).dangers == (WIND,)
        assert danger(snapshot, FROST.id) == over
        assert dangers_since(snapshot, NOW) == (over, WIND)
        assert dangers_since(snapshot, NOW + 21 * HOUR) == ()


def test_the_same_plan_made_twice_speaks_once(database: Database) -> None:
    """After a crash the plan is made again, with another id and the same meaning."""
    saved(database, PLAN)
    twin = replace(CALL, id="00000000000000b2")

    again = saved(database, replace(PLAN, notices=(twin,), queued=(replace(PHONE, notice=twin.id), PHONE, POST)))

    assert again == ()
    with database.snapshot(NOW) as snapshot:
        assert standing(snapshot, NOW).notices == (CALL,)
        assert snapshot.number("SELECT count(*) FROM outbox") == 2


def test_a_plan_made_on_an_older_log_is_not_saved(database: Database) -> None:
    with database.snapshot(NOW) as snapshot:
        assessed_on = standing(snapshot, NOW).log_version
    with database.transaction(NOW) as transaction:
        add(transaction, Entry("oak-3", "begin", NOW, measure="fleece"), BERLIN)

    with pytest.raises(LogMoved, match="assess again"), database.transaction(NOW) as transaction:
        save(transaction, PLAN, assessed_on)

    with database.transaction(NOW) as transaction:
        assert standing(transaction, NOW).dangers == ()
        save(transaction, PLAN, standing(transaction, NOW).log_version)
        assert standing(transaction, NOW).dangers == (FROST, WIND)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (replace(PLAN, dangers=(FROST, replace(WIND, severity="Terrible"))), "severity"),
        (replace(PLAN, dangers=(FROST,)), "FOREIGN KEY"),
        (replace(PLAN, notices=(replace(CALL, body="x" * 1001),)), "body_is_short"),
        (replace(PLAN, notices=(replace(CALL, kind="shout"),)), "kind"),
        (replace(PLAN, queued=(PHONE, replace(POST, notice="00000000000000ff"))), "no notice 00000000000000ff"),
        (replace(PLAN, dangers=(FROST, WIND, replace(FROST, tree="ash"))), "would become that of another tree"),
        (replace(PLAN, dangers=(FROST, replace(WIND, id="A2"))), "danger_has_an_id"),
        (replace(PLAN, dangers=(FROST, replace(WIND, loss=math.nan))), "NOT NULL"),
    ],
)
def test_one_part_that_is_refused_refuses_the_whole_plan(database: Database, change: Change, said: str) -> None:
    with pytest.raises(StoreRefused, match=said):
        saved(database, change)

    with database.snapshot(NOW) as snapshot:
        found = standing(snapshot, NOW - HOUR)
        assert (found.dangers, found.notices, found.facts) == ((), (), {})


def test_numbers_as_arrays_give_them_are_stored_as_numbers(database: Database) -> None:
    computed = replace(
        FROST,
        probability=float(np.float64(1.0)) + 1e-12,
        loss=np.float32(0.25),  # type: ignore[arg-type]  # what slips through from an array
        below_runs=np.int64(2),  # type: ignore[arg-type]
        in_force=np.bool_(True),  # type: ignore[arg-type]
        peak=math.nan,
    )
    saved(database, Change((computed,)))

    with database.snapshot(NOW) as snapshot:
        (found,) = standing(snapshot, NOW).dangers
    assert (found.loss, found.below_runs, found.in_force) == (0.25, 2, True)
    assert math.isnan(found.peak)


def test_times_at_the_site_are_kept_as_the_same_moments(database: Database) -> None:
    saved(database, Change((replace(FROST, starts=FROST.starts.astimezone(BERLIN)),)))

    with database.snapshot(NOW) as snapshot:
        assert standing(snapshot, NOW).dangers == (FROST,)


def test_each_line_has_one_answer_that_stands(database: Database) -> None:
    saved(database, PLAN)
    line = CALL.lines[0]

    assert answered(database, "later") == Recorded("new", "", late=False, line=line)
    assert answered(database, "done") == Recorded("changed", "later", late=False, line=line)
    assert answered(database, "done") == Recorded("same", "done", late=False, line=line)
    assert answered(database, "skip", WIND.id) == Recorded("new", "", late=False, line=CALL.lines[1])

    with database.snapshot(NOW) as snapshot:
        stand = (Answer(CALL.id, FROST.id, "done", NOW, "page"), Answer(CALL.id, WIND.id, "skip", NOW, "page"))
        assert answers_to(snapshot, CALL.id) == stand
        assert standing(snapshot, NOW).answers == stand
        assert snapshot.number("SELECT count(*) FROM answer") == 3


def test_an_answer_that_comes_late_is_kept_and_called_late(database: Database) -> None:
    saved(database, PLAN)

    assert not answered(database, "later", at=CALL.useless_after).late
    assert answered(database, "done", at=CALL.useless_after + timedelta(seconds=1)).late


def test_an_answer_moves_the_log_and_a_repeated_one_does_not(database: Database) -> None:
    saved(database, PLAN)
    seen = []
    for _ in range(2):
        answered(database, "done")
        with database.snapshot(NOW) as snapshot:
            seen.append(standing(snapshot, NOW).log_version)

    assert seen == [1, 1]


def test_an_answer_to_nothing_is_refused_in_words(database: Database) -> None:
    saved(database, PLAN)
    done = Answer(CALL.id, FROST.id, "done", NOW, "command")

    assert answer_refused(database, replace(done, notice="00000000000000ff")) == "there is no notice 00000000000000ff"
    assert "no line about danger 00000000000000ff" in answer_refused(database, replace(done, danger="00000000000000ff"))
    assert "about ash" in answer_refused(database, done, "ash")
    assert "one of done, skip, later" in answer_refused(database, replace(done, answer="maybe"))
    assert "is no question" in answer_refused(database, replace(done, answer="hang"))


def test_a_question_about_trees_is_answered_tree_by_tree(database: Database) -> None:
    lines = (NoticeLine("", "oak-3", ""), NoticeLine("", "elm", ""))
    saved(database, Change((), (replace(CALL, kind="question", lines=lines),)))

    with pytest.raises(StoreRefused, match=r"several trees \(oak-3, elm\)"):
        answered(database, "hang", "")
    assert answered(database, "hang", "", tree="elm").line == lines[1]
    assert answered(database, "firm", "", tree="oak-3").line == lines[0]
