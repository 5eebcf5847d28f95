"""The record of past weather filled from the archive: chunk by chunk, each stored whole or not at all."""

import logging
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta

from carewatch.care.garden import Garden
from carewatch.daemon.job import PastRead, PastTask
from carewatch.daemon.state import (
    EVALUATED_AT,
    HISTORY_AFTER,
    HISTORY_FAILED,
    HISTORY_NEXT_AT,
    HISTORY_REFUSALS,
    POLL_FAILED,
    moment,
)
from carewatch.forecast.record import DayState, Span, next_chunk, record_begins
from carewatch.sqlite.care_log import entries
from carewatch.sqlite.database import Database, Snapshot
from carewatch.sqlite.facts import all_facts, put_facts
from carewatch.sqlite.past_days import day_states, save_past_days, site_key
from carewatch.weather_api.http import HttpClient
from carewatch.weather_api.open_meteo import ARCHIVE_URL, ARCHIVE_VARIABLES, SourceOptions, archive_request, call_weight
from carewatch.weather_api.refused import SourceRefused
from carewatch.worker.host import TaskFailed

LOG = logging.getLogger(__name__)

# After a refusal: doubled from the one to the other; the past does not run away. Judged.
FIRST_WAIT, LONGEST_WAIT = timedelta(hours=1), timedelta(hours=24)
# Of the 600 calls that the public service counts per minute, a tenth: others may share the address. Judged.
CALLS_PER_MINUTE = 60.0


@dataclass(frozen=True)
class Filled:
    """
    One chunk that was asked for.

    span: its days. known: of them, those of which the archive knows all hours. refused: why there is nothing, or "".
    """

    span: Span
    known: int
    refused: str = ""


class History:
    """
    Fills the record of one site.

    garden: of the files alone. options: with the key. reader: reads an answer, in the worker's process or in this one.
    redact: a text without secrets.
    """

    def __init__(
        self,
        garden: Garden,
        options: SourceOptions,
        client: HttpClient,
        reader: Callable[[PastTask], PastRead],
        redact: Callable[[str], str],
    ) -> None:
        self._garden = garden
        self._options = options
        self._client = client
        self._reader = reader
        self._redact = redact

    @property
    def site(self) -> str:
        """Under which the record of this site is stored."""
        return site_key(self._options.latitude, self._options.longitude, self._options.elevation_m)

    def begins(self, snapshot: Snapshot) -> date:
        """The first day that is wanted: of the works in the files and in the database."""
        found = (*self._garden.log, *entries(snapshot))
        return record_begins((entry.at.date() for entry in found), snapshot.now.date())

    def states(self, snapshot: Snapshot) -> tuple[DayState, ...]:
        """What is stored of every day and origin."""
        return day_states(snapshot, self.site)

    def next_chunk(self, database: Database, now: datetime) -> Span | None:
        """The days to ask for next, or None."""
        with database.snapshot(now) as snapshot:
            return next_chunk(self.states(snapshot), self.begins(snapshot), now, now.astimezone(UTC).date())

    def weight(self, spans: Iterable[Span]) -> float:
        """Calls as which asking for these days counts against the free quota."""
        return sum(call_weight(len(ARCHIVE_VARIABLES), span.days) for span in spans)

    def pause_s(self, span: Span) -> float:
        """How long to wait after a chunk: the public service is shared, a server of one's own is not. [s]"""
        if not self._options.archive_url.startswith(ARCHIVE_URL.rpartition("/v1/")[0]):
            return 0.0
        return 60.0 * self.weight([span]) / CALLS_PER_MINUTE

    def fill(self, database: Database, span: Span, now: datetime) -> Filled:
        """
        One chunk asked for, read and stored; a refusal is remembered with when to ask again.

        now: aware. Raises StoreRefused.
        """
        days: PastRead
        wait_s: float | None = None
        try:
            document = self._client.get_json(archive_request(self._options, span.first, span.last))
            days = self._reader(PastTask(document, _without_key(self._options), span.first, span.last, now))
        except SourceRefused as refused:
            days, wait_s = PastRead(refused=refused.reason), refused.wait_s
        except TaskFailed as failed:
            days = PastRead(refused=f"the answer could not be read: {failed.reason}")
        why = self._redact(days.refused)
        with database.transaction(now) as transaction:
            if why:
                refusals = int(all_facts(transaction).get(HISTORY_REFUSALS, "0")) + 1
                wait = min(FIRST_WAIT * 2 ** min(refusals - 1, 10), LONGEST_WAIT)
                wait = max(wait, timedelta(seconds=wait_s or 0.0))
                put_facts(
                    transaction,
                    {HISTORY_FAILED: why, HISTORY_REFUSALS: str(refusals), HISTORY_NEXT_AT: now + wait},
                )
            else:
                save_past_days(transaction, self.site, days.days)
                put_facts(transaction, {HISTORY_FAILED: None, HISTORY_REFUSALS: None, HISTORY_NEXT_AT: None})
        return Filled(span, sum(day.hours == 24 for day in days.days), why)

    def fill_after_a_cycle(self, database: Database, now: datetime) -> Filled | None:
        """
        One chunk, if the garden was judged on what was fetched since the last one; what came of it.

        Raises StoreRefused.
        """
        with database.snapshot(now) as snapshot:
            facts = all_facts(snapshot)
        evaluated = facts.get(EVALUATED_AT)
        # A service that fails with the weather to come is not asked for the past as well.
        if evaluated is None or evaluated == facts.get(HISTORY_AFTER) or POLL_FAILED in facts:
            return None
        wait_until = moment(facts, HISTORY_NEXT_AT)
        # A time that lies further ahead was written by a wrong clock.
        if wait_until is not None and timedelta() < wait_until - now <= 31 * LONGEST_WAIT:
            return None
        with database.transaction(now) as transaction:
            put_facts(transaction, {HISTORY_AFTER: evaluated})
        span = self.next_chunk(database, now)
        if span is None:
            return None
        filled = self.fill(database, span, now)
        if filled.refused:
            LOG.warning("No past weather of %s to %s: %s", span.first, span.last, filled.refused)
        else:
            LOG.info("Past weather of %s to %s: %d of %d days.", span.first, span.last, filled.known, span.days)
        return filled


def _without_key(options: SourceOptions) -> SourceOptions:
    return replace(options, api_key="")
