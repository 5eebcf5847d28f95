"""The files of the configuration while the service runs: taken in when they change, or refused aloud."""

import logging
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from carewatch.alerts.danger import Danger, Notice
from carewatch.alerts.files_wording import mended_message, needs_start_message, refused_message
from carewatch.alerts.notices import identity
from carewatch.alerts.wording import Message
from carewatch.config.files import digests, lost
from carewatch.config.load import Loaded
from carewatch.config.problems import ConfigErrors
from carewatch.daemon.deliver import LOOK_BACK
from carewatch.daemon.state import (
    FILES_REFUSED,
    FILES_REFUSED_AT,
    FILES_WAIT,
    POLL_NEXT_AT,
    REFRESH_MINUTES,
    STARTED_AT,
)
from carewatch.daemon.wiring import Built, ServiceRefused
from carewatch.delivery.channels import channels_for
from carewatch.sqlite.database import Database, Transaction
from carewatch.sqlite.facts import Fact, all_facts, put_facts
from carewatch.sqlite.outbox import rows_of, withdraw
from carewatch.sqlite.refused import StoreRefused
from carewatch.sqlite.standing import Change, Queued, Standing, save, standing
from carewatch.sqlite.text_time import time_text

LOG = logging.getLogger(__name__)

# Whoever writes a file in place empties it first: what is seen then is looked at again after this. Estimate. [s]
SETTLE_S = 0.5
# A mistake stays news until it is mended; that it is, for a day. As for a blind watch (daemon.blind).
REFUSED_USEFUL = timedelta(days=14)
MENDED_USEFUL = timedelta(hours=24)
LONGEST_FACT = 500


class _Unusable(Exception):
    """The files cannot be used; the text has a line for each problem."""


class Renewal:
    """
    The program as the files say that it should be, or as they said last before they were spoilt. For one thread.

    first: built from the files as they were read at the start. read: the configuration as it is now; raises
    ConfigErrors. settle: waits, so that a file that is being written can be told from one that is whole. [s]
    """

    def __init__(self, first: Built, read: Callable[[datetime], Loaded], settle: Callable[[float], object]) -> None:
        self.program = first
        self._read = read
        self._settle = settle
        self._in_force = {**first.loaded.digests, **digests(first.secret_files)}
        # What is wrong with the newest files, and what of those in force waits for a start.
        self._refused: tuple[str, ...] = ()
        self._waits: tuple[str, ...] = ()
        # What the database should know of the change is put there until it does.
        self._unsaved = True
        self._poll_anew = False

    def look(self, database: Database, now: datetime) -> bool:
        """
        Whether another configuration is in force than at the look before.

        now: aware. Never raises: whatever is wrong with the files or with storing what they changed, which is tried
        again at the next look, the garden that is in force must be watched.
        """
        renewed = False
        try:
            renewed = self._newer(database, now)
            if self._unsaved:
                self._save(database, now)
        except StoreRefused as refused:
            LOG.error("What the files changed could not be stored: %s", refused.reason)  # noqa: TRY400 - says it all
        except Exception:
            LOG.exception("What the files changed could not be stored")
        return renewed

    def _newer(self, database: Database, now: datetime) -> bool:
        found = self._digests()
        if found == self._in_force and not self._refused:
            return False
        # A refusal may end without a change of the files: a work that was dated tomorrow is one of today by then.
        if found != self._in_force:
            self._settle(SETTLE_S)
            if self._digests() != found:
                return False
        before = self.program.loaded
        try:
            loaded = self._loaded(now)
            # Between two passes: nothing may be on its way to a channel that is about to change.
            if not self.program.one_at_a_time.acquire(blocking=False):
                return False
            try:
                self.program = self.program.renewed(loaded)
            finally:
                self.program.one_at_a_time.release()
        except (_Unusable, ServiceRefused) as refused:
            self._refuse(database, now, str(refused).splitlines())
            return False
        except Exception as error:
            # Whatever the new files break, the old garden is watched on.
            LOG.exception("The files cannot be taken in")
            self._refuse(database, now, [f"the files: the program fails on them ({type(error).__name__})"])
            return False
        self._accept(before, loaded)
        return True

    def _loaded(self, now: datetime) -> Loaded:
        """What the files say now. Raises _Unusable."""
        try:
            loaded = self._read(now)
            problems = lost(self.program.loaded, loaded)
        except ConfigErrors as refused:
            problems = list(refused.problems)
        if problems:
            raise _Unusable("\n".join(map(str, problems)))
        return loaded

    def _digests(self) -> dict[Path, str]:
        return digests(self._in_force)

    def _accept(self, before: Loaded, loaded: Loaded) -> None:
        self._in_force = {**loaded.digests, **digests(self.program.secret_files)}
        self._refused, self._unsaved = (), True
        self._poll_anew = self._poll_anew or loaded.settings.weather != before.settings.weather
        _tell(before, loaded)
        written = self.program.database.path
        elsewhere = written is not None and loaded.database_file.expanduser().resolve() != written
        said = f"{loaded.config_file.name}: storage.path is read at a start only; until then the service uses {written}"
        self._waits = (said,) if elsewhere else ()
        for wait in self._waits:
            LOG.warning("%s.", wait)

    def _refuse(self, database: Database, now: datetime, problems: Sequence[str]) -> None:
        """Say it where it is new: in the log, in what the service remembers, and once to the person."""
        folder = f"{self.program.loaded.config_file.absolute().parent}/"
        told = tuple(self.program.parts.redact(problem.replace(folder, "")) for problem in problems)
        if told == self._refused:
            return
        for line in told:
            LOG.error("The change of the files is not in force: %s", line)
        with database.transaction(now) as transaction:
            since = all_facts(transaction).get(FILES_REFUSED_AT, time_text(now))
            put_facts(transaction, {FILES_REFUSED: "; ".join(told)[:LONGEST_FACT], FILES_REFUSED_AT: since})
            files = list(dict.fromkeys(line.partition(":")[0].partition(",")[0] for line in told))
            message = refused_message(told, files, len(self.program.loaded.garden.trees))
            self._queue(transaction, "blind", "Moderate", message, REFUSED_USEFUL, since)
        self._refused = told

    def _save(self, database: Database, now: datetime) -> None:
        """What changes in the database with what is in force: the end of dangers of trees that are gone, and facts."""
        loaded = self.program.loaded
        trees = {tree.id for tree in loaded.garden.trees}
        facts: dict[str, Fact] = {
            REFRESH_MINUTES: str(loaded.settings.weather.refresh_minutes),
            FILES_WAIT: "; ".join(self._waits)[:LONGEST_FACT] or None,
            FILES_REFUSED: None,
            FILES_REFUSED_AT: None,
        }
        if self._poll_anew:
            facts[POLL_NEXT_AT] = now
        with database.transaction(now) as transaction:
            before = standing(transaction, now - LOOK_BACK)
            save(transaction, Change(dangers=ended_quietly(before.dangers, trees), facts=facts))
            for notice in only_about_others(before, trees):
                withdraw(transaction, notice.id)
            if FILES_REFUSED_AT in before.facts:
                self._mended(transaction, before.facts[FILES_REFUSED_AT], len(trees))
            if self._waits:
                message = needs_start_message(self._waits, len(trees))
                once = f"{before.facts.get(STARTED_AT, '')}:{self._waits}"
                self._queue(transaction, "blind", "Moderate", message, REFUSED_USEFUL, once)
        self._unsaved = self._poll_anew = False

    def _mended(self, transaction: Transaction, since: str, trees: int) -> None:
        """Said to who heard of the mistake; others need not hear that it is mended."""
        refusal = _id("blind", since)
        withdraw(transaction, refusal)
        if any(row.sent_at is not None or row.lease_until is not None for row in rows_of(transaction, refusal)):
            self._queue(transaction, "sees-again", "Minor", mended_message(trees), MENDED_USEFUL, since)

    def _queue(
        self, transaction: Transaction, kind: str, severity: str, message: Message, useful: timedelta, since: str
    ) -> None:
        """The notice and its rows, unless it was made before."""
        now = transaction.now
        notice = Notice(
            id=_id(kind, since),
            kind=kind,
            severity=severity,
            title=message.title,
            body=message.body,
            created_at=now,
            due_at=now,
            useless_after=now + useful,
            dedup=f"files:{kind}:{since}",
        )
        channels = channels_for(notice, self.program.parts.channels)
        queued = tuple(Queued(notice.id, channel.name, channel.order) for channel in channels)
        save(transaction, Change(notices=(notice,), queued=queued))


def ended_quietly(dangers: Sequence[Danger], trees: set[str]) -> tuple[Danger, ...]:
    """The dangers of trees that are not in the garden any more, as over. trees: ids of those that are."""
    return tuple(replace(danger, state="over") for danger in dangers if danger.tree not in trees)


def only_about_others(before: Standing, trees: set[str]) -> tuple[Notice, ...]:
    """The notices that are about trees and about none of the garden. trees: ids of those that are in it."""
    return tuple(
        notice for notice in before.notices if notice.lines and not any(line.tree in trees for line in notice.lines)
    )


def _tell(before: Loaded, loaded: Loaded) -> None:
    """What is in force now, in the log."""
    old, new = ({tree.id for tree in each.garden.trees} for each in (before, loaded))
    parts = [f"{len(new)} trees"]
    parts += [f"new: {', '.join(sorted(new - old))}"] if new - old else []
    parts += [f"gone: {', '.join(sorted(old - new))}"] if old - new else []
    LOG.info("The files changed and are in force: %s.", "; ".join(parts))
    for warning in loaded.warnings:
        LOG.warning("%s", warning)


def _id(kind: str, since: str) -> str:
    return identity("notice", "files", kind, since)
