"""Sending what is due, row by row: claimed in one transaction, sent outside of any, marked in another."""

import logging
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from carewatch.alerts.danger import Notice
from carewatch.alerts.wording import Message
from carewatch.daemon.clock import Clock
from carewatch.daemon.state import QUEUED_LATER, SENT_AT, moment
from carewatch.delivery.channels import Channel, Standing, next_channels
from carewatch.delivery.port import Attachment, Outcome, Sender, transient
from carewatch.delivery.timing import LEASE, PICTURE_TRIES, SEND_LIMIT, QuietHours, may_send, next_try
from carewatch.delivery.wording import repeat_text, with_link, with_undelivered
from carewatch.sqlite.database import Database, Transaction
from carewatch.sqlite.facts import all_facts, fact_time, put_facts
from carewatch.sqlite.outbox import (
    OutboxRow,
    claim_due,
    expire,
    lease_ended,
    mark_permanent,
    mark_sent,
    mark_transient,
    queue,
    rows_of,
    undelivered,
)
from carewatch.sqlite.pictures import picture_of_notice
from carewatch.sqlite.standing import notice as notice_of
from carewatch.sqlite.standing import notices_since
from carewatch.sqlite.tokens import issue_token

LOG = logging.getLogger(__name__)

# What is sent past the outbox holds up the pulse for which the watchdog waits (five minutes in deploy/): after so long
# no further channel is tried. [s]
PAST_THE_OUTBOX_S = 150.0
# Opens the stored error of a try whose answer was lost, so that the next one can say that it may be a second.
MAYBE = "may have arrived: "
# As phones show it.
PICTURE_NAME = "forecast.png"
HELD = "waits for the end of the quiet hours"
# Notices live shorter than this.
LOOK_BACK = timedelta(days=21)


@dataclass(frozen=True)
class Sent:
    """One attempt: which notice, on which channel, and how it ended."""

    notice: Notice
    channel: str
    outcome: Outcome


@dataclass
class Delivered:
    """
    What one pass did.

    attempts: in their order. too_late: rows that were given up because nobody needs them any more.
    busy: another thread was already at it, and nothing was done.
    """

    attempts: list[Sent] = field(default_factory=list)
    too_late: int = 0
    busy: bool = False

    @property
    def failed(self) -> int:
        """How many attempts did not get through."""
        return sum(not attempt.outcome.delivered for attempt in self.attempts)


@dataclass(frozen=True)
class _Claimed:
    """A row that is to be sent now, and its message."""

    row: OutboxRow
    notice: Notice
    title: str
    body: str
    picture: Attachment | None


class Delivery:
    """
    The way from the outbox to the person. Safe to share between threads: one pass at a time.

    quiet: night rest. fault: called before each send, and between sending and marking. stopping: True ends a pass after
    the send that is under way. chance: a new number each time. [0-1]
    one_at_a_time: held during a pass; shared with the delivery that this one follows.
    answer_link: from a token to the address at which a notice is answered; None where there is none: then messages
    carry no link, and no token is made.
    """

    def __init__(
        self,
        sender: Sender,
        channels: Sequence[Channel],
        quiet: QuietHours,
        clock: Clock,
        fault: Callable[[str], None],
        stopping: Callable[[], bool],
        chance: Callable[[], float],
        one_at_a_time: "threading.Lock | None" = None,
        answer_link: Callable[[str], str] | None = None,
    ) -> None:
        self._sender = sender
        self._channels = tuple(channels)
        self._quiet = quiet
        self._clock = clock
        self._fault = fault
        self._stopping = stopping
        self._chance = chance
        self._answer_link = answer_link
        self._one_at_a_time = one_at_a_time or threading.Lock()

    @property
    def sending(self) -> bool:
        """Whether a pass is under way."""
        return self._one_at_a_time.locked()

    def deliver_due(self, database: Database) -> Delivered:
        """
        What became of everything that is due.

        Raises StoreRefused when the database cannot be used; what was being sent then is sent again later.
        """
        done = Delivered()
        if not self._one_at_a_time.acquire(blocking=False):
            done.busy = True
            return done
        try:
            self._pass(database, done)
        finally:
            self._one_at_a_time.release()
        return done

    def said_past_the_outbox(self, message: Message, severity: str) -> bool:
        """
        Whether some channel took a message of which the database knows nothing, because it cannot be written.

        message: about the watch itself, so that every channel carries it; first lowest order first. Never at night.
        """
        if self._quiet.hold(self._clock.now()) or not self._one_at_a_time.acquire(timeout=SEND_LIMIT.total_seconds()):
            return False
        began_s = time.monotonic()
        try:
            for channel in sorted(self._channels, key=lambda each: each.order):
                if time.monotonic() - began_s > PAST_THE_OUTBOX_S:
                    LOG.warning("No time is left for %s and those after it", channel.name)
                    break
                try:
                    outcome = self._sender.send(channel.name, message.title, message.body, severity)
                except Exception:
                    LOG.exception("Channel %s broke", channel.name)
                    continue
                if outcome.delivered:
                    LOG.warning("Sent to %s past the outbox: %s", channel.name, message.title)
                    return True
                LOG.warning("%s did not take %r: %s", channel.name, message.title, outcome.reason)
        finally:
            self._one_at_a_time.release()
        return False

    def _pass(self, database: Database, done: Delivered) -> None:
        now = self._clock.now()
        with database.transaction(now) as transaction:
            for row in expire(transaction):
                done.too_late += 1
                LOG.warning("Notice %s became useless before %s took it: %s", row.notice, row.channel, row.last_error)
        while not self._stopping():
            claimed = self._claimed(database)
            if claimed is None:
                # What hangs on an earlier channel goes on to the next one when its time has come.
                if self._sent_on(database):
                    continue
                return
            if isinstance(claimed, OutboxRow):
                continue
            done.attempts.append(self._attempted(database, claimed))

    def _claimed(self, database: Database) -> _Claimed | OutboxRow | None:
        """The next message; a row alone when it must wait for the morning; None when nothing is due."""
        now = self._clock.now()
        with database.transaction(now) as transaction:
            doubtful = lease_ended(transaction)
            row = claim_due(transaction, LEASE)
            if row is None:
                return None
            notice = notice_of(transaction, row.notice)
            if notice is None or not may_send(notice, now, self._quiet):
                held = min(self._morning(now), row.useless_after + timedelta(seconds=1))
                mark_transient(transaction, row, row.last_error or HELD, held)
                return row
            lost = undelivered(transaction, _just_after(fact_time(transaction, SENT_AT)))
            kept = picture_of_notice(transaction, notice.id) if row.attempts <= PICTURE_TRIES else None
            link = ""
            if self._answer_link is not None and notice.lines:
                # Only its hash is kept: it is made here, where the message is put together, for each try anew.
                link = self._answer_link(issue_token(transaction, notice.id, row.channel))
        maybe = row.last_error.startswith(MAYBE)
        title, body = _split(notice)
        first = repeat_text(title or body, row.attempts - 1, row.id in doubtful, maybe)
        title, body = (first, body) if title else ("", first)
        picture = None if kept is None else Attachment(PICTURE_NAME, kept.png)
        return _Claimed(row, notice, title, with_link(with_undelivered(body, lost), link), picture)

    def _morning(self, now: datetime) -> datetime:
        """The end of the night rest that holds now."""
        local = now.astimezone(self._quiet.zone)
        ends = datetime.combine(local.date(), self._quiet.ends, tzinfo=self._quiet.zone)
        return ends if ends > local else ends + timedelta(days=1)

    def _attempted(self, database: Database, claimed: _Claimed) -> Sent:
        row, notice = claimed.row, claimed.notice
        self._fault("before-send")
        try:
            outcome = self._sender.send(row.channel, claimed.title, claimed.body, notice.severity, claimed.picture)
        except Exception as error:
            # One broken channel must not stop the others.
            LOG.exception("Channel %s broke", row.channel)
            outcome = transient(f"the sender broke: {type(error).__name__}")
        self._fault("between-send-and-mark")
        now = self._clock.now()
        with database.transaction(now) as transaction:
            self._mark(transaction, row, outcome, now)
            self._queue_next(transaction, notice, now)
        self._tell(row, notice, outcome)
        return Sent(notice, row.channel, outcome)

    def _mark(self, transaction: Transaction, row: OutboxRow, outcome: Outcome, now: datetime) -> None:
        if outcome.delivered:
            mark_sent(transaction, row)
            put_facts(transaction, {SENT_AT: now})
        elif outcome.ending == "permanent":
            mark_permanent(transaction, row, outcome.reason)
        else:
            again = next_try(row.attempts, now, row.useless_after, self._chance())
            reason = f"{MAYBE}{outcome.reason}" if outcome.may_have_arrived else outcome.reason
            # Without a further try it is left to be given up when it is useless.
            mark_transient(transaction, row, reason, again or row.useless_after + timedelta(seconds=1))

    def _tell(self, row: OutboxRow, notice: Notice, outcome: Outcome) -> None:
        if outcome.delivered:
            LOG.info("Sent to %s: %s (%s)", row.channel, notice.title, notice.kind)
        else:
            LOG.warning("%s did not take %r (%s): %s", row.channel, notice.title, outcome.ending, outcome.reason)

    def _sent_on(self, database: Database) -> bool:
        """Whether a notice that nobody took got further channels."""
        now = self._clock.now()
        with database.snapshot(now) as snapshot:
            late = [
                notice
                for notice in notices_since(snapshot, now - LOOK_BACK)
                if notice.useless_after >= now
                and notice.due_at <= now
                and not any(row.sent_at for row in rows_of(snapshot, notice.id))
            ]
        if not late:
            return False
        with database.transaction(now) as transaction:
            added = [self._queue_next(transaction, notice, now) for notice in late]
        return any(added)

    def _queue_next(self, transaction: Transaction, notice: Notice, now: datetime) -> bool:
        """Whether the notice got further channels."""
        rows = rows_of(transaction, notice.id)
        if not rows:
            # Nobody carries it.
            return False
        if any(row.failure == "withdrawn" for row in rows):
            # It is not needed any more, on any channel.
            return False
        facts = all_facts(transaction)
        standings = [_standing(row, notice, facts) for row in rows]
        added = False
        for channel in next_channels(notice, self._channels, standings, now):
            if queue(transaction, notice.id, channel.name, channel.order, now):
                added = True
                put_facts(transaction, {_later(notice.id, channel.name): now})
                LOG.warning("Notice %s goes to %s too: nobody has taken it yet", notice.id, channel.name)
        return added


def _later(notice_id: str, channel: str) -> str:
    return f"{QUEUED_LATER}{notice_id}.{channel}"


def _standing(row: OutboxRow, notice: Notice, facts: dict[str, str]) -> Standing:
    since = moment(facts, _later(notice.id, row.channel)) or notice.due_at
    if row.sent_at is not None:
        return Standing(row.channel, "sent", since)
    return Standing(row.channel, "waiting" if row.failed_at is None else "failed", since)


def _split(notice: Notice) -> tuple[str, str]:
    """Title and body for a channel, which shows both: the first line is not said twice."""
    first, _, rest = notice.body.partition("\n")
    if first != notice.title:
        return notice.title, notice.body
    return (first, rest.strip()) if rest.strip() else ("", first)


def _just_after(sent_at: datetime | None) -> datetime:
    """From when on lost messages count: those before the last one that got through were told with it."""
    return datetime(1970, 1, 1, tzinfo=UTC) if sent_at is None else sent_at + timedelta(seconds=1)
