"""What is asked of Open-Meteo: which address, which variables, which units. Answers stay undecoded documents here."""

from dataclasses import dataclass, field
from datetime import date

from carewatch.weather_api.http import HttpClient, Request
from carewatch.weather_api.refused import SourceRefused

SOURCE = "open-meteo"
FORECAST_URL = "https://api.open-meteo.com/v1/forecast"
ENSEMBLE_URL = "https://ensemble-api.open-meteo.com/v1/ensemble"
ARCHIVE_URL = "https://archive-api.open-meteo.com/v1/archive"
MET_NORWAY_URL = "https://api.met.no/weatherapi/locationforecast/2.0/complete"

_EVERYWHERE = (
    "temperature_2m",
    "dew_point_2m",
    "relative_humidity_2m",
    "wind_speed_10m",
    "wind_gusts_10m",
    "shortwave_radiation",
    "direct_normal_irradiance",
    "diffuse_radiation",
    "cloud_cover",
    "precipitation",
    "rain",
    "snowfall",
    "snow_depth",
    "surface_pressure",
)
# Liquid water is rain + showers where both are forecast; precipitation stands in where a model has no such split.
FORECAST_VARIABLES = (*_EVERYWHERE, "showers", "soil_temperature_6cm")
# The reanalysis has no showers of its own (its rain holds them) and names its top soil layer 0–7 cm.
ARCHIVE_VARIABLES = (*_EVERYWHERE, "soil_temperature_0_to_7cm")
# A call weighs variables × members / 10, so only what differs most between members: 6 × 51 members weigh 31 calls.
ENSEMBLE_VARIABLES = (
    "temperature_2m",
    "dew_point_2m",
    "wind_gusts_10m",
    "cloud_cover",
    "precipitation",
    "snowfall",
)


@dataclass(frozen=True)
class SourceOptions:
    """
    Where the site is and how weather services are asked about it.

    latitude, longitude: of the site. [°]
    elevation_m: of the site, to which temperatures are brought; None leaves it to the server's terrain model. [m]
    forecast_url, ensemble_url, archive_url: addresses of the three services, of the public or of an own server.
    met_norway_url: address of MET Norway's Locationforecast.
    api_key: for paid access; empty for none. Never shown.
    contact: e-mail or web address for the User-Agent.
    ensemble_model: name of the ensemble model, or None to ask for the single run alone.
    ensemble_variables: what is asked per member.
    past_days, forecast_days: whole UTC days before today, and from today on. [d]
    """

    latitude: float
    longitude: float
    elevation_m: float | None = None
    forecast_url: str = FORECAST_URL
    ensemble_url: str = ENSEMBLE_URL
    archive_url: str = ARCHIVE_URL
    met_norway_url: str = MET_NORWAY_URL
    api_key: str = field(default="", repr=False)
    contact: str = ""
    ensemble_model: str | None = "ecmwf_ifs025_ensemble"
    ensemble_variables: tuple[str, ...] = ENSEMBLE_VARIABLES
    past_days: int = 14
    forecast_days: int = 8


@dataclass(frozen=True)
class ForecastDocuments:
    """
    The decoded answers behind one forecast: plain values, fit to be archived or handed to another process.

    single: the document of the single run.
    ensemble: the document of the ensemble, or None.
    notes: why a part is missing, and what else there is to know.
    source: whose form they have, "open-meteo" or "met-norway".
    """

    single: object
    ensemble: object | None
    notes: tuple[str, ...] = ()
    source: str = SOURCE


def forecast_request(options: SourceOptions) -> Request:
    """The request for the single run, in UTC, with the past days that the engine spins up on."""
    days = {"past_days": str(options.past_days), "forecast_days": str(options.forecast_days)}
    return _request(options.forecast_url, options, FORECAST_VARIABLES, days)


def ensemble_request(options: SourceOptions, model: str) -> Request:
    """The request for the members of one ensemble model, from today on."""
    days = {"past_days": "0", "forecast_days": str(options.forecast_days), "models": model}
    return _request(options.ensemble_url, options, options.ensemble_variables, days)


def archive_request(options: SourceOptions, start: date, end: date) -> Request:
    """The request for past weather. start, end: first and last UTC day. Raises ValueError when end is before start."""
    if end < start:
        raise ValueError(f"the archive is asked from {start} to {end}: the end is before the start")
    days = {"start_date": start.isoformat(), "end_date": end.isoformat()}
    return _request(options.archive_url, options, ARCHIVE_VARIABLES, days)


def call_weight(variables: int, days: int) -> float:
    """
    Calls as which one request for a single run counts against the free quota.

    At least one; a tenth of the variables; beyond 14 days that by 14 days.
    Source: Open-Meteo server, ForecastApiResult.swift.
    """
    return max(1.0, variables / 10.0, variables / 10.0 * days / 14.0)


def _request(url: str, options: SourceOptions, variables: tuple[str, ...], extra: dict[str, str]) -> Request:
    """
    A request for hourly values.

    The time zone is always GMT with epoch seconds: any other zone is applied with today's offset to the whole answer,
    which is an hour wrong beyond a change to or from summer time.
    """
    parameters = {
        "latitude": f"{options.latitude:.4f}",
        "longitude": f"{options.longitude:.4f}",
        "hourly": ",".join(variables),
        "timezone": "GMT",
        "timeformat": "unixtime",
        "wind_speed_unit": "ms",
        **extra,
    }
    if options.elevation_m is not None:
        parameters["elevation"] = f"{options.elevation_m:g}"
    secret = {"apikey": options.api_key} if options.api_key else {}
    return Request(url, parameters, secret)


def fetch_documents(options: SourceOptions, client: HttpClient) -> ForecastDocuments:
    """
    The answers for the single run and, where wanted, for the ensemble; needs no pandas.

    Raises SourceRefused when the single run is refused. A refused ensemble is a note: a name that the service no longer
    knows must not blind the watch.
    """
    single = client.get_json(forecast_request(options))
    if not options.ensemble_model:
        return ForecastDocuments(single, None)
    try:
        return ForecastDocuments(single, client.get_json(ensemble_request(options, options.ensemble_model)))
    except SourceRefused as refused:
        return ForecastDocuments(single, None, (ensemble_missing(options.ensemble_model, refused.reason),))


def ensemble_missing(model: str, reason: str) -> str:
    """The note that says why the single run stands alone."""
    return f"The ensemble {model} was not used: {reason}. The single run stands alone."
