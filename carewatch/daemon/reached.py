"""What became of messages, read from the outbox."""

from collections.abc import Iterable, Sequence

from carewatch.alerts.danger import Notice
from carewatch.alerts.reached import TELLS, Arrival, Reached, reached
from carewatch.sqlite.database import Snapshot
from carewatch.sqlite.outbox import OutboxRow, rows_of


def reached_by(snapshot: Snapshot, notices: Sequence[Notice]) -> Reached:
    """What became of the messages on each danger. notices: as they stand."""
    told = [notice for notice in notices if notice.kind in TELLS and notice.lines]
    return reached(told, arrivals_of(snapshot, (notice.id for notice in told)))


def arrivals_of(snapshot: Snapshot, notices: Iterable[str]) -> dict[str, Arrival]:
    """What became of messages. notices: ids; one that went to no channel is left out."""
    rows = {notice: rows_of(snapshot, notice) for notice in notices}
    return {notice: _arrival(found) for notice, found in rows.items() if found}


def _arrival(rows: Sequence[OutboxRow]) -> Arrival:
    """
    Of one message.

    One that is being sent, or whose sender died over it, may have arrived: it counts from the end of that claim on.
    """
    sent = [row.sent_at for row in rows if row.sent_at is not None]
    maybe = [row.lease_until for row in rows if row.lease_until is not None]
    still_open = any(row.sent_at is None and row.failed_at is None for row in rows)
    return Arrival(min(sent or maybe, default=None), still_open)
