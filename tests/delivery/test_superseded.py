"""Messages that wait for a channel and are overtaken: what must not arrive late, and what must arrive all the same."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from carewatch.alerts.danger import Danger, Notice, NoticeLine
from carewatch.delivery.superseded import superseded

NOW = datetime(2026, 11, 5, 17, tzinfo=UTC)
HOUR = timedelta(hours=1)
FROST = Danger(
    id="00000000000000a1",
    tree="elm",
    hazard="frost",
    starts=NOW + 5 * HOUR,
    ends=NOW + 14 * HOUR,
    severity="Moderate",
    probability=0.8,
    loss=0.2,
    peak=-5.0,
    limit=-2.5,
    unit="°C",
    measure="fleece",
    act_by=NOW + HOUR,
    undo_at=None,
    revision=1,
    state="raised",
    first_seen_at=NOW - 9 * HOUR,
)
OTHER = replace(FROST, id="00000000000000a2", tree="oak-3")
CALL = Notice(
    id="00000000000000b1",
    kind="call",
    severity="Moderate",
    title="Put fleece over elm before 16:00.",
    body="Put fleece over elm before 16:00.",
    created_at=NOW - 3 * HOUR,
    due_at=NOW - 3 * HOUR,
    useless_after=FROST.ends,
    dedup="call",
    lines=(NoticeLine(FROST.id, "elm", "fleece"),),
)
BOTH = replace(CALL, lines=(*CALL.lines, NoticeLine(OTHER.id, "oak-3", "fleece")))
NEW = replace(CALL, id="00000000000000b2", created_at=NOW, dedup="new")


def old(earlier: Notice, new: Notice | None, *dangers: Danger) -> bool:
    """Whether the earlier notice is superseded."""
    found = superseded([earlier], [new] if new else [], {danger.id: danger for danger in dangers}, NOW)
    assert set(found) <= {earlier.id}
    return bool(found)


@pytest.mark.parametrize("kind", ["worse", "repeat", "stand-down", "bring-back"])
def test_a_newer_word_on_the_same_danger_takes_its_place(kind: str) -> None:
    assert old(CALL, replace(NEW, kind=kind), FROST)


@pytest.mark.parametrize("kind", ["rounds", "season", "blind", "question"])
def test_what_is_no_word_on_the_danger_leaves_it(kind: str) -> None:
    assert not old(CALL, replace(NEW, kind=kind), FROST)


def test_a_call_that_waits_and_still_holds_is_left() -> None:
    assert not old(CALL, None, FROST)
    assert not old(CALL, replace(NEW, lines=(NoticeLine(OTHER.id, "oak-3", "fleece"),)), FROST, OTHER)


@pytest.mark.parametrize("state", ["answered", "over"])
def test_what_is_settled_is_not_asked_for_any_more(state: str) -> None:
    assert old(CALL, None, replace(FROST, state=state))
    # One that is over is not listed among those that stand.
    assert old(CALL, None)


@pytest.mark.parametrize("state", ["foreseen", "raised", "lapsed"])
def test_what_is_open_is_asked_for_however_late(state: str) -> None:
    """A danger that lapsed is still told, with what can yet be done."""
    assert not old(CALL, None, replace(FROST, state=state))


def test_of_several_lines_one_that_holds_is_enough() -> None:
    assert not old(BOTH, None, replace(FROST, state="answered"), OTHER)
    assert old(BOTH, None, replace(FROST, state="answered"), replace(OTHER, state="answered"))


def test_only_what_asks_for_work_is_taken_back() -> None:
    for kind in ("stand-down", "bring-back", "rounds", "blind"):
        assert not old(replace(CALL, kind=kind), NEW, replace(FROST, state="over"))


def test_a_notice_never_supersedes_itself() -> None:
    assert not old(CALL, CALL, FROST)
