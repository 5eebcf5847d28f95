"""The outbox: claimed by one, sent at least once, never after it is useless, and never silently lost."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from carewatch.alerts.danger import Notice
from carewatch.sqlite.database import Database
from carewatch.sqlite.outbox import (
    OutboxRow,
    claim_due,
    expire,
    mark_permanent,
    mark_sent,
    mark_transient,
    next_due,
    outbox_row,
    queue,
    rows_of,
    undelivered,
    waiting,
    withdraw,
)
from carewatch.sqlite.standing import Change, Queued, save

NOW = datetime(2026, 11, 5, 11, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
LEASE = 2 * MINUTE
NOTICE = Notice(
    id="00000000000000b1",
    kind="blind",
    severity="Severe",
    title="The watch is blind",
    body="No forecast for 12 hours.",
    created_at=NOW,
    due_at=NOW,
    useless_after=NOW + 60 * MINUTE,
    dedup="blind:1",
)


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    with Database.open(tmp_path / "a.sqlite", NOW) as opened:
        with opened.transaction(NOW) as transaction:
            save(transaction, Change(notices=(NOTICE,)))
        yield opened


def queued(database: Database, *rows: Queued) -> None:
    with database.transaction(NOW) as transaction:
        save(transaction, Change(queued=rows))


def claimed(database: Database, now: datetime = NOW) -> OutboxRow | None:
    with database.transaction(now) as transaction:
        return claim_due(transaction, LEASE)


def claimed_surely(database: Database, now: datetime = NOW) -> OutboxRow:
    row = claimed(database, now)
    assert row is not None
    return row


def now_in(database: Database, row: OutboxRow) -> OutboxRow:
    with database.snapshot(NOW) as snapshot:
        return outbox_row(snapshot, row.id)


def test_what_is_due_first_is_claimed_first_and_channels_in_their_order(database: Database) -> None:
    queued(
        database,
        Queued(NOTICE.id, "third", 3),
        Queued(NOTICE.id, "late", 1, NOW + MINUTE),
        Queued(NOTICE.id, "second", 2),
        Queued(NOTICE.id, "early", 9, NOW - MINUTE),
    )

    assert [claimed_surely(database).channel for _ in range(3)] == ["early", "second", "third"]
    assert claimed(database) is None
    assert claimed_surely(database, NOW + MINUTE).channel == "late"
    with database.snapshot(NOW) as snapshot:
        assert [row.channel for row in rows_of(snapshot, NOTICE.id)] == ["late", "second", "third", "early"]


def test_a_row_has_one_owner_until_its_lease_ends(database: Database) -> None:
    """Who died in between gives the row back by not coming back; the count of attempts says that it may be a second."""
    queued(database, Queued(NOTICE.id, "phone", 1))
    assert database.path is not None
    with Database.open(database.path, NOW) as other:
        first = claimed_surely(database)
        assert first.attempts == 1
        assert first.lease_until == NOW + LEASE
        assert claimed(other) is None
        assert claimed(other, NOW + LEASE - timedelta(seconds=1)) is None
        second = claimed_surely(other, NOW + LEASE)
    assert (second.id, second.attempts) == (first.id, 2)


def test_a_notice_has_one_row_per_channel(database: Database) -> None:
    with database.transaction(NOW) as transaction:
        assert queue(transaction, NOTICE.id, "phone", 1)
        assert not queue(transaction, NOTICE.id, "phone", 1)
        assert queue(transaction, NOTICE.id, "post", 2)
    mark = claimed_surely(database)
    with database.transaction(NOW) as transaction:
        mark_sent(transaction, mark)
        assert not queue(transaction, NOTICE.id, "phone", 1)


def test_what_was_sent_is_never_claimed_again(database: Database) -> None:
    queued(database, Queued(NOTICE.id, "phone", 1))
    row = claimed_surely(database)
    with database.transaction(NOW + MINUTE) as transaction:
        mark_sent(transaction, row)
        assert waiting(transaction) == 0

    assert now_in(database, row).sent_at == NOW + MINUTE
    assert claimed(database, NOW + 10 * MINUTE) is None


def test_a_transient_failure_waits_for_its_time_and_keeps_the_reason(database: Database) -> None:
    queued(database, Queued(NOTICE.id, "phone", 1))
    row = claimed_surely(database)
    with database.transaction(NOW) as transaction:
        assert mark_transient(transaction, row, "timed\nout " * 99, NOW + 5 * MINUTE)
        assert next_due(transaction) == NOW + 5 * MINUTE

    assert claimed(database, NOW + 5 * MINUTE - timedelta(seconds=1)) is None
    again = claimed_surely(database, NOW + 5 * MINUTE)
    assert again.attempts == 2
    assert again.last_error.startswith("timed out timed out")
    assert len(again.last_error) <= 300


def test_a_permanent_failure_ends_the_row_and_counts_as_undelivered(database: Database) -> None:
    queued(database, Queued(NOTICE.id, "phone", 1))
    row = claimed_surely(database)
    with database.transaction(NOW) as transaction:
        assert mark_permanent(transaction, row, "the address is gone")
        assert undelivered(transaction, NOW) == 1
        assert undelivered(transaction, NOW + MINUTE) == 0

    ended = now_in(database, row)
    assert (ended.failure, ended.failed_at, ended.last_error) == ("permanent", NOW, "the address is gone")
    assert claimed(database, NOW + 10 * MINUTE) is None


def test_a_notice_that_reached_one_channel_is_delivered(database: Database) -> None:
    queued(database, Queued(NOTICE.id, "phone", 1), Queued(NOTICE.id, "post", 2))
    with database.transaction(NOW) as transaction:
        for mark in (lambda row: mark_permanent(transaction, row, "gone"), lambda row: mark_sent(transaction, row)):
            row = claim_due(transaction, LEASE)
            assert row is not None
            assert undelivered(transaction, NOW) == 0
            mark(row)
        assert undelivered(transaction, NOW) == 0


def test_nothing_is_sent_after_it_is_of_no_use(database: Database) -> None:
    queued(database, Queued(NOTICE.id, "phone", 1))
    after = NOTICE.useless_after + timedelta(seconds=1)

    assert claimed(database, after) is None
    with database.transaction(NOTICE.useless_after) as transaction:
        assert expire(transaction) == ()
    with database.transaction(after) as transaction:
        (row,) = expire(transaction)
        assert row.failure == "too-late"
        assert undelivered(transaction, NOW) == 1
        assert next_due(transaction) is None
        assert expire(transaction) == ()


def test_a_row_that_is_being_sent_at_the_end_is_let_finish(database: Database) -> None:
    queued(database, Queued(NOTICE.id, "phone", 1))
    row = claimed_surely(database, NOTICE.useless_after)
    with database.transaction(NOTICE.useless_after + MINUTE) as transaction:
        assert expire(transaction) == ()
        assert withdraw(transaction, NOTICE.id) == 0
        mark_sent(transaction, row)
        assert undelivered(transaction, NOW) == 0


def test_a_late_word_from_a_lost_claim_changes_nothing_but_a_delivery_is_true(database: Database) -> None:
    queued(database, Queued(NOTICE.id, "phone", 1))
    slow = claimed_surely(database)
    quick = claimed_surely(database, NOW + LEASE)
    with database.transaction(NOW + LEASE) as transaction:
        assert not mark_transient(transaction, slow, "timed out", NOW)
        assert not mark_permanent(transaction, slow, "gone")
        assert mark_permanent(transaction, quick, "gone")
        mark_sent(transaction, slow)

    end = now_in(database, slow)
    assert (end.sent_at, end.failure) == (NOW + LEASE, "")


def test_what_is_not_needed_any_more_is_taken_back_and_not_counted(database: Database) -> None:
    queued(database, Queued(NOTICE.id, "phone", 1), Queued(NOTICE.id, "post", 2))
    with database.transaction(NOW) as transaction:
        assert waiting(transaction) == 2
        assert withdraw(transaction, NOTICE.id) == 2
        assert undelivered(transaction, NOW) == 0
        assert waiting(transaction) == 0
    assert claimed(database, NOW + MINUTE) is None


def test_the_next_due_time_is_that_of_the_row_that_can_be_claimed_first(database: Database) -> None:
    with database.transaction(NOW) as transaction:
        assert next_due(transaction) is None
        later = replace(NOTICE, id="00000000000000b2", dedup="blind:2", due_at=NOW + 7 * MINUTE)
        save(
            transaction,
            Change(notices=(later,), queued=(Queued(NOTICE.id, "phone", 1), Queued(later.id, "phone", 1))),
        )
        assert next_due(transaction) == NOW
    claimed_surely(database)
    with database.snapshot(NOW) as snapshot:
        assert next_due(snapshot) == NOW + LEASE
