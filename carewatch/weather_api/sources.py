"""The door of this edge: a forecast or an archive for one site, with its ensemble where there is one."""

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date, datetime

import pandas as pd

from carewatch.forecast.raw import RawForecast
from carewatch.weather_api.http import HttpClient
from carewatch.weather_api.met_norway import SOURCE as MET_NORWAY
from carewatch.weather_api.met_norway_parse import parse_met_norway
from carewatch.weather_api.open_meteo import (
    ForecastDocuments,
    SourceOptions,
    archive_request,
    ensemble_missing,
    fetch_documents,
)
from carewatch.weather_api.parse import parse_open_meteo
from carewatch.weather_api.recorded import read_recorded
from carewatch.weather_api.refused import SourceRefused

__all__ = [
    "SourceOptions",
    "SourceRefused",
    "fetch_archive",
    "fetch_forecast",
    "read_archive",
    "read_documents",
    "read_recorded",
]

# Cells of the coarsest global model are about a quarter of a degree wide.
_FAR_DEGREES = 0.5


def fetch_forecast(options: SourceOptions, now: datetime, client: HttpClient | None = None) -> RawForecast:
    """
    The single run of Open-Meteo with the members of its ensemble, asked for now.

    now: aware; becomes issued_at.
    client: the session to use; without one, one is opened and closed.

    Raises SourceRefused when the single run cannot be had. A refused ensemble is a note.
    """
    _need_zone(now)
    with _session(options, client) as session:
        documents = fetch_documents(options, session)
    return read_documents(options, documents, now)


def read_documents(options: SourceOptions, documents: ForecastDocuments, issued_at: datetime) -> RawForecast:
    """
    The forecast in answers that were fetched before, by this or another process.

    issued_at: when they were fetched, aware.

    Raises SourceRefused when the single run cannot be used. An unusable ensemble is a note.
    """
    _need_zone(issued_at)
    if documents.source == MET_NORWAY:
        found = parse_met_norway(
            documents.single, latitude=options.latitude, longitude=options.longitude, fetched_at=issued_at
        )
        return replace(found, notes=(*found.notes, *documents.notes, *_place_notes(options, found)))
    single = parse_open_meteo(documents.single, issued_at=issued_at)
    single = replace(single, notes=(*single.notes, *documents.notes, *_place_notes(options, single)))
    if documents.ensemble is None:
        return single
    model = options.ensemble_model or "of unknown name"
    try:
        ensemble = parse_open_meteo(documents.ensemble, issued_at=issued_at, origin="its answer")
    except SourceRefused as refused:
        return replace(single, notes=(*single.notes, ensemble_missing(model, refused.reason)))
    return _with_members(single, ensemble, model)


def fetch_archive(
    options: SourceOptions, now: datetime, start: date, end: date, client: HttpClient | None = None
) -> RawForecast:
    """
    Past weather from the reanalysis, without members. Its last days are missing: it runs two to five days behind.

    now: aware; becomes issued_at.
    start, end: first and last UTC day.
    client: the session to use; without one, one is opened and closed.

    Raises SourceRefused when it cannot be had; ValueError when end is before start.
    """
    request = archive_request(options, start, end)
    with _session(options, client) as session:
        document = session.get_json(request)
    return read_archive(options, document, now)


def read_archive(options: SourceOptions, document: object, now: datetime) -> RawForecast:
    """
    Past weather in an answer of the archive that was fetched before, by this or another process.

    now: aware; becomes issued_at.

    Raises SourceRefused when it cannot be used.
    """
    _need_zone(now)
    archive = parse_open_meteo(document, issued_at=now, origin="the archive of Open-Meteo")
    return replace(archive, notes=(*archive.notes, *_place_notes(options, archive)))


@contextmanager
def _session(options: SourceOptions, client: HttpClient | None) -> Iterator[HttpClient]:
    """The given session, left open; or a new one, closed afterwards."""
    if client is not None:
        yield client
        return
    with HttpClient(options.contact) as own:
        yield own


def _need_zone(moment: datetime) -> None:
    if moment.tzinfo is None:
        raise ValueError("a time with its zone is needed")


def _with_members(single: RawForecast, ensemble: RawForecast, model: str) -> RawForecast:
    """The single run with the members on its index: hours that the ensemble lacks are NaN."""
    heard = tuple(f"Ensemble {model}: {note}" for note in ensemble.notes if not note.startswith("Not in this answer"))
    notes = (*single.notes, *heard)
    aligned = {name: frame.reindex(single.single.index) for name, frame in ensemble.members.items()}
    air = aligned.get("air_temp_c", pd.DataFrame())
    if air.empty or bool(air.isna().to_numpy().all()):
        reason = "it holds fewer than two members" if air.empty else "its hours are others than those of the single run"
        return replace(single, notes=(*notes, ensemble_missing(model, reason)))
    from_single = [name for name in single.single.columns if name not in aligned]
    said = f"{air.shape[1]} members of {model} give {', '.join(aligned)}"
    said += f"; the single run serves for {', '.join(from_single)}." if from_single else "."
    return replace(single, members=aligned, notes=(*notes, said))


def _place_notes(options: SourceOptions, answer: RawForecast) -> tuple[str, ...]:
    """A note when the answer is for somewhere else than was asked for."""
    if math.isnan(answer.latitude) or math.isnan(answer.longitude):
        return ()
    turned = abs((answer.longitude - options.longitude + 180.0) % 360.0 - 180.0)
    eastward = turned * math.cos(math.radians(options.latitude))
    if max(abs(answer.latitude - options.latitude), eastward) <= _FAR_DEGREES:
        return ()
    answered = f"{answer.latitude:.2f}, {answer.longitude:.2f}"
    return (f"The answer is for {answered}, far from the site at {options.latitude:.2f}, {options.longitude:.2f}.",)
