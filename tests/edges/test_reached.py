"""What became of a message, read from the outbox: arrived, on its way, given up, or perhaps arrived."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from carewatch.alerts.danger import Notice
from carewatch.daemon.reached import reached_by
from carewatch.sqlite.database import Database, Transaction
from carewatch.sqlite.outbox import OutboxRow, claim_due, mark_permanent, mark_sent, mark_transient
from carewatch.sqlite.standing import Change, Queued, save, standing
from tests.alerts.made import Watch, at, call

NOW = datetime(2026, 11, 5, 12, tzinfo=UTC)
LATER = NOW + timedelta(minutes=20)
LEASE = timedelta(minutes=2)
Mark = Callable[[Transaction, OutboxRow], object]


def failed(transaction: Transaction, row: OutboxRow) -> None:
    """To be tried again."""
    mark_transient(transaction, row, "down", LATER)


def given_up(transaction: Transaction, row: OutboxRow) -> None:
    """Never to be tried again."""
    mark_permanent(transaction, row, "no such address")


def died(_: Transaction, __: OutboxRow) -> None:
    """The sender never said how it ended."""


@pytest.mark.parametrize(
    ("marks", "arrived", "waits", "unheard"),
    [
        ((mark_sent,), LATER, False, False),
        ((failed,), None, True, True),
        ((given_up,), None, False, True),
        ((given_up, mark_sent), LATER, False, False),
        ((given_up, failed), None, True, True),
        ((died,), LATER + LEASE, False, False),
        ((), None, False, False),
    ],
)
def test_what_became_of_a_call(
    tmp_path: Path, marks: tuple[Mark, ...], arrived: datetime | None, waits: bool, unheard: bool
) -> None:
    """By what its channels said, the first one to take it counting; without any channel nothing is known."""
    planned = Watch().look(at(13), call())
    (notice,) = (replace(notice, created_at=NOW, due_at=NOW) for notice in planned.notices)
    with Database.open(tmp_path / "a.sqlite", NOW) as database:
        with database.transaction(NOW) as transaction:
            queued = [Queued(notice.id, f"channel-{number}", number) for number in range(len(marks))]
            save(transaction, Change(planned.dangers, (notice,), queued))
        for mark in marks:
            with database.transaction(LATER) as transaction:
                row = claim_due(transaction, LEASE)
                assert row is not None
                mark(transaction, row)
        with database.snapshot(LATER) as snapshot:
            kept: tuple[Notice, ...] = standing(snapshot, NOW).notices
            found = reached_by(snapshot, kept)
    danger = planned.dangers[0]
    assert found.at.get(danger.id) == arrived
    assert (danger.id in found.waiting, danger.id in found.unheard) == (waits, unheard)
    assert found.said_at(danger) == (arrived or danger.spoken_at)
