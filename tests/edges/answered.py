"""Notices, dangers and a garden in which they are answered."""

from dataclasses import replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from carewatch.alerts.danger import Danger, Notice, NoticeLine
from carewatch.sqlite.standing import Change, danger, save
from tests.edges.own_garden import NOW, OwnGarden

BERLIN = ZoneInfo("Europe/Berlin")
HOUR = timedelta(hours=1)
FROST = Danger(
    id="00000000000000a1",
    tree="maple-layer-1",
    hazard="frost",
    starts=NOW + 8 * HOUR,
    ends=NOW + 20 * HOUR,
    severity="Moderate",
    probability=0.9,
    loss=0.2,
    peak=-5.0,
    limit=-2.5,
    unit="°C",
    measure="fleece",
    act_by=NOW + 5 * HOUR,
    undo_at=NOW + 21 * HOUR,
    revision=1,
    state="raised",
    first_seen_at=NOW - HOUR,
    raised_at=NOW - HOUR,
    spoken_severity="Moderate",
    spoken_measure="fleece",
    spoken_act_by=NOW + 5 * HOUR,
    spoken_at=NOW - HOUR,
)
OTHER = replace(FROST, id="00000000000000a2", tree="maple-layer-2", measure="move:shed", spoken_measure="move:shed")
CALL = Notice(
    id="b100000000000001",
    kind="call",
    severity="Moderate",
    title="Put fleece over maple-layer-1 before 16:45.",
    body="Put fleece over maple-layer-1 before 16:45.",
    created_at=NOW - HOUR,
    due_at=NOW - HOUR,
    useless_after=NOW + 20 * HOUR,
    dedup="call:a1:1",
    lines=(
        NoticeLine(FROST.id, "maple-layer-1", "fleece"),
        NoticeLine(OTHER.id, "maple-layer-2", "move:shed"),
    ),
)
OLDER = replace(
    CALL,
    id="b200000000000001",
    title="An older one",
    created_at=NOW - 30 * HOUR,
    due_at=NOW - 30 * HOUR,
    dedup="call:a1:0",
    lines=CALL.lines[:1],
)
BACK = replace(
    CALL,
    id="c100000000000001",
    kind="bring-back",
    title="Over: fleece off maple-layer-1 today.",
    created_at=NOW + 21 * HOUR,
    due_at=NOW + 21 * HOUR,
    useless_after=NOW + 45 * HOUR,
    dedup="bring-back:a1",
    lines=CALL.lines[:1],
)


def kept(own: OwnGarden, *notices: Notice, dangers: tuple[Danger, ...] = (FROST, OTHER), at: datetime = NOW) -> None:
    with own.opened() as database, database.transaction(at) as transaction:
        save(transaction, Change(dangers=dangers, notices=notices))


def found(own: OwnGarden, danger_id: str = FROST.id) -> Danger:
    with own.opened() as database, database.snapshot(NOW) as snapshot:
        known = danger(snapshot, danger_id)
    assert known is not None
    return known


def works(own: OwnGarden, tree: str) -> list[tuple[str, str]]:
    return [(entry["work"], entry["measure"]) for entry in own.log(tree)]
