"""What a reading command knows of the weather: a forecast of a service, a file or the archive, and the record."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from carewatch.config.load import Loaded
from carewatch.config.secrets import resolve_secret
from carewatch.daemon.cycle import RECENT_DAYS
from carewatch.daemon.forecasts import ARCHIVED, NONE, Fetched, Forecasts
from carewatch.daemon.job import Candidate
from carewatch.forecast.raw import RawForecast
from carewatch.forecast.record import MET_NORWAY, Record
from carewatch.sqlite.database import Database
from carewatch.sqlite.past_days import past_record, site_key
from carewatch.weather_api.open_meteo import SourceOptions
from carewatch.weather_api.refused import SourceRefused
from carewatch.weather_api.sources import read_documents, read_recorded


@dataclass(frozen=True)
class KnownWeather:
    """
    A forecast, the record of the past, and whose forecast it should be.

    first: the source that is asked first. why: a sentence on why another, or an older one, serves; or "".
    """

    raw: RawForecast
    record: Record
    first: str
    why: str = ""


def known_weather(loaded: Loaded, moment: datetime, environ: Mapping[str, str], now: datetime) -> KnownWeather:
    """
    The forecast that the configuration asks for, recorded or fetched now, with what the database has of the past.

    moment: for which it is wanted, aware; now: what the clock says, aware.
    A reading command writes nothing, with one exception: MET Norway's terms ask that its answers are kept for as long
    as they hold, so what it says is stored.

    Raises SourceRefused, StoreRefused, SecretMissing.
    """
    weather, site = loaded.settings.weather, loaded.settings.site
    with Database.open_for_reading(loaded.database_file, now) as database:
        with database.snapshot(moment) as snapshot:
            key = site_key(site.latitude, site.longitude, site.elevation_m)
            record = past_record(snapshot, key, RECENT_DAYS)
        if weather.source == "recorded":
            if loaded.weather_file is None:
                raise SourceRefused('weather.source is "recorded", but weather.file names no file', transient=False)
            return KnownWeather(read_recorded(loaded.weather_file), record, weather.source)
        options = source_options(loaded, environ)
        failed = Fetched(None)
        if weather.source != MET_NORWAY:
            failed = _asked(Forecasts(options, None, weather.source), database, now)
            try:
                if failed.candidate is not None:
                    return KnownWeather(_read(options, failed.candidate), record, weather.source)
            except SourceRefused as refused:
                failed = Fetched(None, refused.reason)
    if weather.source != MET_NORWAY and not (weather.fallback == MET_NORWAY and weather.contact):
        return _last_good(loaded, options, failed, record, now)
    with Database.open(loaded.database_file, now) as database:
        forecasts = Forecasts(options, None, weather.source, weather.fallback)
        try:
            found = (
                forecasts.fetch(database, now)
                if weather.source == MET_NORWAY
                else forecasts.instead(database, now, failed)
            )
            if found.candidate is None:
                return _last_good(loaded, options, found, record, now)
            raw = _read(options, found.candidate)
            if not found.candidate.key.startswith(ARCHIVED):
                with database.transaction(now) as transaction:
                    forecasts.archive(transaction, found.candidate)
        finally:
            forecasts.close()
    why = f"{found.reason[0].upper()}{found.reason[1:]}." if found.reason else ""
    return KnownWeather(raw, record, weather.source, why)


def _asked(forecasts: Forecasts, database: Database, now: datetime) -> Fetched:
    try:
        return forecasts.fetch(database, now)
    finally:
        forecasts.close()


def _last_good(loaded: Loaded, options: SourceOptions, failed: Fetched, record: Record, now: datetime) -> KnownWeather:
    """The newest forecast in the archive. Raises SourceRefused with what came of asking when there is none."""
    weather = loaded.settings.weather
    forecasts = Forecasts(options, None, weather.source, weather.fallback or NONE)
    forecasts.close()
    with Database.open_for_reading(loaded.database_file, now) as database, database.snapshot(now) as snapshot:
        stored = forecasts.last_good(snapshot)
    if stored is None:
        raise SourceRefused(failed.reason, transient=True)
    why = f"No new forecast ({failed.reason}): the last one serves."
    return KnownWeather(_read(options, stored), record, weather.source, why)


def _read(options: SourceOptions, candidate: Candidate) -> RawForecast:
    if candidate.documents is None or candidate.fetched_at is None:
        raise ValueError("a candidate of a service has documents")
    return read_documents(options, candidate.documents, candidate.fetched_at)


def source_options(loaded: Loaded, environ: Mapping[str, str]) -> SourceOptions:
    """What weather services need to know of the configuration. Raises SecretMissing."""
    settings = loaded.settings
    key = resolve_secret(settings.weather.api_key, environ, Path(loaded.config_file).parent)
    return SourceOptions(
        latitude=settings.site.latitude,
        longitude=settings.site.longitude,
        elevation_m=settings.site.elevation_m,
        forecast_url=settings.weather.forecast_url,
        ensemble_url=settings.weather.ensemble_url,
        archive_url=settings.weather.archive_url,
        met_norway_url=settings.weather.met_norway_url,
        api_key="" if key is None else key.get_secret_value(),
        contact=settings.weather.contact,
        ensemble_model=settings.weather.ensemble_model if settings.weather.members == "ensemble" else None,
    )
