"""Where forecasts come from: the weather service, a recorded file, or the newest one in the archive that served."""

from dataclasses import dataclass, replace
from datetime import datetime
from hashlib import sha256
from pathlib import Path

from carewatch.daemon.job import Candidate
from carewatch.sqlite.database import Snapshot, Transaction
from carewatch.sqlite.forecasts import Asked, newest_forecast, save_forecast
from carewatch.sqlite.refused import StoreRefused
from carewatch.weather_api.http import HttpClient
from carewatch.weather_api.open_meteo import ForecastDocuments, SourceOptions, fetch_documents
from carewatch.weather_api.refused import SourceRefused

SOURCE = "open-meteo"
# How the key of a candidate begins that lies in the archive.
ARCHIVED = "archived "


@dataclass(frozen=True)
class Fetched:
    """What a poll gave: a candidate, or why there is none and for how long the source asks to be left alone. [s]"""

    candidate: Candidate | None
    reason: str = ""
    wait_s: float | None = None


class Forecasts:
    """
    The forecasts of one site.

    options: of the weather service, with its key. recorded: path of a recorded forecast that is used instead, or None.
    """

    def __init__(self, options: SourceOptions, recorded: Path | None) -> None:
        self._options = options
        self._recorded = recorded
        self._client = HttpClient(options.contact)

    @property
    def options(self) -> SourceOptions:
        """What the reading of documents needs to know; the key stays here."""
        return replace(self._options, api_key="")

    def close(self) -> None:
        """Close the connections that are kept open."""
        self._client.close()

    def fetch(self, now: datetime) -> Fetched:
        """A forecast asked for now, or the recorded one; never raises."""
        if self._recorded is not None:
            return self._from_file(self._recorded)
        try:
            documents = fetch_documents(self._options, self._client)
        except SourceRefused as refused:
            return Fetched(None, refused.reason, refused.wait_s)
        return Fetched(Candidate(f"fetched {now.isoformat()}", documents, now))

    def archive(self, transaction: Transaction, candidate: Candidate) -> str:
        """
        The key of the candidate's content, after it was stored.

        Raises StoreRefused for content that is no JSON.
        """
        if candidate.documents is None or candidate.fetched_at is None:
            return candidate.key
        single, _ = save_forecast(transaction, self._asked("single"), candidate.documents.single, candidate.fetched_at)
        if candidate.documents.ensemble is None:
            return _key(single, None)
        ensemble, _ = save_forecast(
            transaction, self._asked("ensemble"), candidate.documents.ensemble, candidate.fetched_at
        )
        return _key(single, ensemble)

    def last_good(self, snapshot: Snapshot) -> Candidate | None:
        """The newest archived forecast, with the ensemble that was fetched with it; a recorded one archives itself."""
        if self._recorded is not None:
            return self._from_file(self._recorded).candidate
        try:
            single = newest_forecast(snapshot, self._asked("single"))
        except StoreRefused:
            return None
        if single is None:
            return None
        try:
            found = newest_forecast(snapshot, self._asked("ensemble"), single.fetched_at)
        except StoreRefused:
            found = None
        ensemble = found if found is not None and found.fetched_at == single.fetched_at else None
        documents = ForecastDocuments(single.document, ensemble.document if ensemble else None)
        return Candidate(_key(single.id, ensemble.id if ensemble else None), documents, single.fetched_at)

    def _asked(self, kind: str) -> Asked:
        model = self._options.ensemble_model or "" if kind == "ensemble" else ""
        return Asked(SOURCE, kind, self._options.latitude, self._options.longitude, model)

    def _from_file(self, path: Path) -> Fetched:
        try:
            content = path.read_bytes()
        except OSError as error:
            return Fetched(None, f"the file {path} cannot be read: {(error.strerror or str(error)).lower()}")
        return Fetched(Candidate(f"recorded {sha256(content).hexdigest()[:16]}", recorded=str(path)))


def _key(single: int, ensemble: int | None) -> str:
    return f"{ARCHIVED}{single}" + ("" if ensemble is None else f" with {ensemble}")
