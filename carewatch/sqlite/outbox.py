"""
What is to be sent, and what became of it: one row per notice and channel.

A row is claimed in one transaction, sent outside of any, and marked in another. Whoever dies in between leaves a claim
that ends by itself, so that the row is sent again: at least once, and `attempts` above 1 says that it may be a second
time. The claim must last longer than the longest time-out of a channel.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from sqlite3 import Row

from carewatch.sqlite.database import Snapshot, Transaction
from carewatch.sqlite.refused import StoreRefused
from carewatch.sqlite.text_time import optional_time, time_of, time_text

LONGEST_ERROR = 300


@dataclass(frozen=True)
class OutboxRow:
    """
    One notice for one channel.

    channel_order: lower is asked first. attempts: claims so far, with this one. due_at: of the next attempt.
    useless_after: of the notice. lease_until: while it is claimed. All UTC.
    failure: "permanent", "too-late" or "withdrawn" once failed_at is set, "" before. last_error: of any attempt, or "".
    """

    id: int
    notice: str
    channel: str
    channel_order: int
    attempts: int
    due_at: datetime
    useless_after: datetime
    lease_until: datetime | None
    sent_at: datetime | None
    failed_at: datetime | None
    failure: str
    last_error: str


def queue(
    transaction: Transaction, notice_id: str, channel: str, channel_order: int, due_at: datetime | None = None
) -> bool:
    """
    True when the row is new, False when the notice has one for this channel already, whatever became of it.

    due_at: aware; None: as the notice says.

    Raises StoreRefused when there is no such notice.
    """
    found = transaction.execute("SELECT due_at FROM notice WHERE id = ?", (notice_id,)).fetchone()
    if found is None:
        raise StoreRefused(f"there is no notice {notice_id}")
    due = found["due_at"] if due_at is None else time_text(due_at)
    added = transaction.execute(
        "INSERT INTO outbox (notice, channel, channel_order, due_at) VALUES (?, ?, ?, ?) "
        "ON CONFLICT (notice, channel) DO NOTHING",
        (notice_id, channel, channel_order, due),
    )
    return added.rowcount == 1


def claim_due(transaction: Transaction, lease: timedelta) -> OutboxRow | None:
    """The row that is due first, now claimed for the time of the lease; None when there is none."""
    claimed = transaction.execute(
        "UPDATE outbox SET lease_until = :until, attempts = attempts + 1 WHERE id = (SELECT outbox.id FROM outbox "
        "JOIN notice ON notice.id = outbox.notice WHERE sent_at IS NULL AND failed_at IS NULL "
        "AND outbox.due_at <= :now AND useless_after >= :now AND (lease_until IS NULL OR lease_until <= :now) "
        "ORDER BY outbox.due_at, channel_order, outbox.id LIMIT 1) RETURNING id",
        {"until": time_text(transaction.now + lease), "now": time_text(transaction.now)},
    ).fetchall()
    return outbox_row(transaction, claimed[0]["id"]) if claimed else None


def lease_ended(snapshot: Snapshot) -> frozenset[int]:
    """The ids of open rows whose taker never said how it ended: it may have died between sending and marking."""
    rows = snapshot.execute(
        "SELECT id FROM outbox WHERE sent_at IS NULL AND failed_at IS NULL AND lease_until <= ?",
        (time_text(snapshot.now),),
    )
    return frozenset(row["id"] for row in rows)


def claims_standing(snapshot: Snapshot) -> int:
    """How many open rows are claimed at this moment."""
    found = snapshot.execute(
        "SELECT COUNT(*) AS standing FROM outbox WHERE sent_at IS NULL AND failed_at IS NULL AND lease_until > ?",
        (time_text(snapshot.now),),
    ).fetchone()
    return int(found["standing"])


def end_claims(transaction: Transaction) -> None:
    """
    End every claim now, as if its time had run out: for the one that has just become the only service on the database.

    Whoever held them is dead; waiting for its time to run out could make a warning late.
    """
    transaction.execute(
        "UPDATE outbox SET lease_until = :now WHERE sent_at IS NULL AND failed_at IS NULL AND lease_until > :now",
        {"now": time_text(transaction.now)},
    )


def bring_forward(transaction: Transaction, lease: timedelta) -> int:
    """
    How many open rows wait no longer: after a clock was set back, what it had put off would come late by as much.

    lease: the longest that a claim can rightly last. What waits for the morning is put off again when claimed.
    """
    now = time_text(transaction.now)
    transaction.execute("UPDATE notice SET due_at = :now WHERE created_at > :now AND due_at > :now", {"now": now})
    transaction.execute(
        "UPDATE outbox SET lease_until = :now WHERE sent_at IS NULL AND failed_at IS NULL AND lease_until > :longest",
        {"now": now, "longest": time_text(transaction.now + lease)},
    )
    return transaction.execute(
        "UPDATE outbox SET due_at = :now WHERE sent_at IS NULL AND failed_at IS NULL AND due_at > :now", {"now": now}
    ).rowcount


def mark_sent(transaction: Transaction, row: OutboxRow) -> None:
    """The channel took it. This holds also when the claim ended before, or the row was given up meanwhile."""
    transaction.execute(
        "UPDATE outbox SET sent_at = ?, failed_at = NULL, failure = NULL, lease_until = NULL "
        "WHERE id = ? AND sent_at IS NULL",
        (time_text(transaction.now), row.id),
    )


def mark_transient(transaction: Transaction, row: OutboxRow, error: str, due_at: datetime) -> bool:
    """
    True when the row waits for its next attempt, False when the claim was lost to another and nothing was changed.

    error: free of keys and passwords; cut to one line. due_at: of the next attempt, aware.
    """
    changed = transaction.execute(
        "UPDATE outbox SET lease_until = NULL, due_at = ?, last_error = ? "
        "WHERE id = ? AND attempts = ? AND sent_at IS NULL AND failed_at IS NULL",
        (time_text(due_at), _one_line(error), row.id, row.attempts),
    )
    return changed.rowcount == 1


def mark_permanent(transaction: Transaction, row: OutboxRow, error: str) -> bool:
    """
    True when the row is given up, False when the claim was lost to another and nothing was changed.

    error: free of keys and passwords; cut to one line.
    """
    changed = transaction.execute(
        "UPDATE outbox SET lease_until = NULL, failed_at = ?, failure = 'permanent', last_error = ? "
        "WHERE id = ? AND attempts = ? AND sent_at IS NULL AND failed_at IS NULL",
        (time_text(transaction.now), _one_line(error), row.id, row.attempts),
    )
    return changed.rowcount == 1


def expire(transaction: Transaction) -> tuple[OutboxRow, ...]:
    """The rows that were given up because their notice is of no use any more; one that is being sent is left alone."""
    ended = transaction.execute(
        "UPDATE outbox SET lease_until = NULL, failed_at = :now, failure = 'too-late' WHERE sent_at IS NULL "
        "AND failed_at IS NULL AND (lease_until IS NULL OR lease_until <= :now) "
        "AND notice IN (SELECT id FROM notice WHERE useless_after < :now) RETURNING id",
        {"now": time_text(transaction.now)},
    ).fetchall()
    return tuple(outbox_row(transaction, number) for number in sorted(row["id"] for row in ended))


def withdraw(transaction: Transaction, notice_id: str) -> int:
    """How many rows of a notice that is not needed any more were taken back; one that is being sent is left alone."""
    return transaction.execute(
        "UPDATE outbox SET lease_until = NULL, failed_at = :now, failure = 'withdrawn' WHERE notice = :notice "
        "AND sent_at IS NULL AND failed_at IS NULL AND (lease_until IS NULL OR lease_until <= :now)",
        {"now": time_text(transaction.now), "notice": notice_id},
    ).rowcount


def undelivered(snapshot: Snapshot, since: datetime) -> int:
    """
    How many notices reached nobody.

    since: aware; counted when the last of their rows was given up at this time or later. A withdrawn one never counts.
    """
    return snapshot.number(
        "SELECT count(*) FROM (SELECT notice FROM outbox GROUP BY notice HAVING count(sent_at) = 0 "
        "AND count(failed_at) = count(*) AND max(failed_at) >= ? AND max(failure = 'withdrawn') = 0)",
        (time_text(since),),
    )


def waiting(snapshot: Snapshot) -> int:
    """How many rows are neither sent nor given up, due or not."""
    return snapshot.number("SELECT count(*) FROM outbox WHERE sent_at IS NULL AND failed_at IS NULL")


def next_due(snapshot: Snapshot) -> datetime | None:
    """When a row can next be claimed, UTC; None when none is open."""
    row = snapshot.execute(
        "SELECT min(max(due_at, coalesce(lease_until, ''))) AS due FROM outbox "
        "WHERE sent_at IS NULL AND failed_at IS NULL"
    ).fetchone()
    return optional_time(row["due"])


def rows_of(snapshot: Snapshot, notice_id: str) -> tuple[OutboxRow, ...]:
    """Every row of a notice, in the order of its channels."""
    rows = snapshot.execute(
        "SELECT outbox.*, useless_after FROM outbox JOIN notice ON notice.id = outbox.notice WHERE notice = ? "
        "ORDER BY channel_order, outbox.id",
        (notice_id,),
    )
    return tuple(_from_row(row) for row in rows)


def outbox_row(snapshot: Snapshot, row_id: int) -> OutboxRow:
    """
    The row with this id.

    Raises StoreRefused when there is none.
    """
    row = snapshot.execute(
        "SELECT outbox.*, useless_after FROM outbox JOIN notice ON notice.id = outbox.notice WHERE outbox.id = ?",
        (row_id,),
    ).fetchone()
    if row is None:
        raise StoreRefused(f"the outbox has no row {row_id}")
    return _from_row(row)


def _one_line(text: str) -> str:
    return " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())[:LONGEST_ERROR]


def _from_row(row: Row) -> OutboxRow:
    return OutboxRow(
        id=row["id"],
        notice=row["notice"],
        channel=row["channel"],
        channel_order=row["channel_order"],
        attempts=row["attempts"],
        due_at=time_of(row["due_at"]),
        useless_after=time_of(row["useless_after"]),
        lease_until=optional_time(row["lease_until"]),
        sent_at=optional_time(row["sent_at"]),
        failed_at=optional_time(row["failed_at"]),
        failure=row["failure"] or "",
        last_error=row["last_error"] or "",
    )
