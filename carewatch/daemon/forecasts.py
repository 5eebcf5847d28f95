"""Where forecasts come from: two weather services, a recorded file, or the newest one in the archive that served."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from hashlib import sha256
from pathlib import Path

from carewatch.daemon.job import Candidate
from carewatch.daemon.state import MET_NORWAY_TERMS
from carewatch.forecast.credits import NAMES, standing_in
from carewatch.forecast.record import MET_NORWAY, OPEN_METEO
from carewatch.sqlite.database import Database, Snapshot, Transaction
from carewatch.sqlite.facts import fact, put_facts
from carewatch.sqlite.forecasts import Asked, StoredForecast, newest_forecast, save_forecast
from carewatch.sqlite.refused import StoreRefused
from carewatch.weather_api.http import HttpClient
from carewatch.weather_api.met_norway import ask_met_norway, terms_of, terms_text
from carewatch.weather_api.open_meteo import ForecastDocuments, SourceOptions, fetch_documents
from carewatch.weather_api.refused import SourceRefused

# How the key of a candidate begins that lies in the archive.
ARCHIVED = "archived "
# A forecast of the first source that is younger serves on, with its members and its light; global models are run every
# six hours, so until then another source knows nothing that is newer.
FALLBACK_AFTER = timedelta(hours=6)
NONE = "none"


@dataclass(frozen=True)
class Fetched:
    """
    What a poll gave: a candidate, or why there is none and for how long the source asks to be left alone. [s]

    second: the candidate is not of the source that is asked first; reason: then why not.
    """

    candidate: Candidate | None
    reason: str = ""
    wait_s: float | None = None
    second: bool = False


class Forecasts:
    """
    The forecasts of one site.

    options: of the weather services, with their key. recorded: path of a recorded forecast that is used instead, or
    None. first: the source that is asked; fallback: the one that stands in for it, or "none".
    """

    def __init__(
        self, options: SourceOptions, recorded: Path | None, first: str = OPEN_METEO, fallback: str = NONE
    ) -> None:
        self._options = options
        self._recorded = recorded
        self._first = first
        self._fallback = NONE if recorded is not None else fallback
        self._client = HttpClient(options.contact)
        self._last_modified = ""

    @property
    def options(self) -> SourceOptions:
        """What the reading of documents needs to know; the key stays here."""
        return replace(self._options, api_key="")

    @property
    def client(self) -> HttpClient:
        """The one session, so that services are asked one thing at a time."""
        return self._client

    @property
    def recorded(self) -> bool:
        """Whether a file stands in for the weather services."""
        return self._recorded is not None

    def close(self) -> None:
        """Close the connections that are kept open."""
        self._client.close()

    def fetch(self, database: Database, now: datetime, dry_run: bool = False) -> Fetched:
        """
        A forecast asked for now, or the recorded one; of the second source only when the first has none that is young.

        now: aware. dry_run: nothing is written, not even when MET Norway may be asked again.

        Raises StoreRefused when the database cannot be used.
        """
        if self._recorded is not None:
            return self._from_file(self._recorded)
        found = self._ask(self._first, database, now, dry_run)
        return found if found.candidate is not None else self.instead(database, now, found, dry_run)

    def instead(self, database: Database, now: datetime, failed: Fetched, dry_run: bool = False) -> Fetched:
        """
        What the second source gives when the first has failed, or the failure itself while its last one is young.

        failed: what came of asking the first; of use only for its reason and its wait. Raises StoreRefused.
        """
        if self._fallback == NONE:
            return replace(failed, candidate=None)
        with database.snapshot(now) as snapshot:
            good = self._stored(snapshot, self._first)
        if good is not None and now - good.fetched_at <= FALLBACK_AFTER:
            return replace(failed, candidate=None)
        found = self._ask(self._fallback, database, now, dry_run)
        names = NAMES[self._first], NAMES[self._fallback]
        if found.candidate is None:
            both = f"{names[0]} gave none ({failed.reason}), nor did {names[1]} ({found.reason})"
            waits = [wait for wait in (failed.wait_s, found.wait_s) if wait is not None]
            return Fetched(None, both, min(waits) if len(waits) == 2 else None)
        reason = f"{names[0]} gave none ({failed.reason}), that of {names[1]} serves"
        return Fetched(found.candidate, reason, failed.wait_s, second=True)

    def _ask(self, source: str, database: Database, now: datetime, dry_run: bool) -> Fetched:
        if source == MET_NORWAY:
            return self._ask_met_norway(database, now, dry_run)
        try:
            documents = fetch_documents(self._options, self._client)
        except SourceRefused as refused:
            return Fetched(None, refused.reason, refused.wait_s)
        return Fetched(Candidate(f"fetched {now.isoformat()}", documents, now))

    def _ask_met_norway(self, database: Database, now: datetime, dry_run: bool) -> Fetched:
        """A forecast by the terms: what it said before serves as long as it is said to hold."""
        with database.snapshot(now) as snapshot:
            terms = terms_of(fact(snapshot, MET_NORWAY_TERMS))
            kept = self._stored(snapshot, MET_NORWAY)
        asked = ask_met_norway(self._options, self._client, terms, str(kept.id) if kept else "", now)
        if asked.terms != terms and not dry_run:
            # At once: a cycle that breaks off must not ask again either.
            with database.transaction(now) as transaction:
                put_facts(transaction, {MET_NORWAY_TERMS: terms_text(asked.terms)})
        if asked.document is not None:
            self._last_modified = asked.last_modified
            documents = ForecastDocuments(asked.document, None, asked.notes, MET_NORWAY)
            return Fetched(Candidate(f"fetched {now.isoformat()}", documents, now), wait_s=asked.wait_s)
        if kept is None or not asked.current:
            return Fetched(None, asked.refused, asked.wait_s)
        documents = ForecastDocuments(kept.document, None, asked.notes, MET_NORWAY)
        if asked.asked:
            self._last_modified = asked.terms.last_modified
            return Fetched(Candidate(f"fetched {now.isoformat()}", documents, now), wait_s=asked.wait_s)
        return Fetched(Candidate(_key(kept.id, None), documents, kept.fetched_at), wait_s=asked.wait_s)

    def archive(self, transaction: Transaction, candidate: Candidate) -> str:
        """
        The key of the candidate's content, after it was stored.

        Raises StoreRefused for content that is no JSON.
        """
        documents = candidate.documents
        if documents is None or candidate.fetched_at is None:
            return candidate.key
        single, _ = save_forecast(
            transaction, self._asked("single", documents.source), documents.single, candidate.fetched_at
        )
        if documents.source == MET_NORWAY:
            terms = terms_of(fact(transaction, MET_NORWAY_TERMS))
            terms = replace(terms, kept=str(single), last_modified=self._last_modified)
            put_facts(transaction, {MET_NORWAY_TERMS: terms_text(terms)})
        if documents.ensemble is None:
            return _key(single, None)
        ensemble, _ = save_forecast(transaction, self._asked("ensemble"), documents.ensemble, candidate.fetched_at)
        return _key(single, ensemble)

    def last_good(self, snapshot: Snapshot) -> Candidate | None:
        """
        The newest archived forecast, with the ensemble that was fetched with it; a recorded one archives itself.

        While the first source's own is young, it serves before a newer one of the second.
        """
        if self._recorded is not None:
            return self._from_file(self._recorded).candidate
        stored = self._stored(snapshot, self._first)
        if stored is None or snapshot.now - stored.fetched_at > FALLBACK_AFTER:
            second = None if self._fallback == NONE else self._stored(snapshot, self._fallback)
            if second is not None and (stored is None or second.fetched_at > stored.fetched_at):
                stored = second
        if stored is None:
            return None
        source = stored.asked.source
        found = None
        if source == OPEN_METEO:
            try:
                found = newest_forecast(snapshot, self._asked("ensemble"), stored.fetched_at)
            except StoreRefused:
                found = None
        ensemble = found if found is not None and found.fetched_at == stored.fetched_at else None
        documents = ForecastDocuments(stored.document, ensemble.document if ensemble else None, source=source)
        return Candidate(_key(stored.id, ensemble.id if ensemble else None), documents, stored.fetched_at)

    @property
    def first_name(self) -> str:
        """What the service is called that is asked first."""
        return NAMES.get(self._first, self._first)

    def standing_in(self, source: str, estimated: Sequence[str]) -> str:
        """One sentence on whose forecast stands in for the first source's, or ""."""
        return standing_in(source, self._first, estimated)

    def _stored(self, snapshot: Snapshot, source: str) -> StoredForecast | None:
        try:
            return newest_forecast(snapshot, self._asked("single", source))
        except StoreRefused:
            return None

    def _asked(self, kind: str, source: str = OPEN_METEO) -> Asked:
        model = self._options.ensemble_model or "" if kind == "ensemble" else ""
        return Asked(source, kind, self._options.latitude, self._options.longitude, model)

    def _from_file(self, path: Path) -> Fetched:
        try:
            content = path.read_bytes()
        except OSError as error:
            return Fetched(None, f"the file {path} cannot be read: {(error.strerror or str(error)).lower()}")
        return Fetched(Candidate(f"recorded {sha256(content).hexdigest()[:16]}", recorded=str(path)))


def _key(single: int, ensemble: int | None) -> str:
    return f"{ARCHIVED}{single}" + ("" if ensemble is None else f" with {ensemble}")
