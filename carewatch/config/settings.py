"""
The sections of config.toml that say how the service works; garden_settings.py has what stands in the garden.

Every field's description says what is accepted: error messages quote it. The comment beside a default says where the
default comes from.
"""

from datetime import time
from typing import Any, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from carewatch.config.garden_settings import PlaceSettings, TreeSettings
from carewatch.config.problems import refused
from carewatch.config.values import (
    BasePath,
    ChannelAddress,
    ClockTime,
    Days,
    Identifier,
    ListenAddress,
    Number,
    Secret,
    SecretWebAddress,
    Section,
    Share,
    Text,
    WebAddress,
    Whole,
    Zone,
)

CONFIG_VERSION: Literal[1] = 1


class SiteSettings(Section):
    """[site]: where the garden is."""

    # Only for headings of messages.
    name: Text = Field("garden", description="a text")
    latitude: Number = Field(ge=-90, le=90, description="degrees, north positive, -90 to 90")
    longitude: Number = Field(ge=-180, le=180, description="degrees, east positive, -180 to 180")
    # None: the weather source's own terrain model decides.
    elevation_m: Number | None = Field(
        None, ge=-450, le=6000, description="metres above sea level, -450 to 6000 (leave it out if unknown)"
    )
    time_zone: Zone = Field(description='a name of the IANA time zone database, such as "Europe/Berlin"')
    # Most gardens lie among houses (estimate).
    surroundings: Literal["open", "suburban", "sheltered"] = Field(
        "suburban", description='"open", "suburban" or "sheltered"'
    )


# The source that stands in when none is named: the other one of the two that need no key; a recording needs none.
OTHER_SOURCE = {"open-meteo": "met-norway", "met-norway": "open-meteo"}


class WeatherSettings(Section):
    """[weather]: where the forecast comes from."""

    # The source that needs no key and gives radiation, an ensemble and an archive.
    source: Literal["open-meteo", "met-norway", "recorded"] = Field(
        "open-meteo", description='"open-meteo", "met-norway" or "recorded"'
    )
    fallback: Literal["open-meteo", "met-norway", "none"] = Field(
        "met-norway", description='another source than `source`: "open-meteo", "met-norway" or "none"'
    )
    file: Text | None = Field(
        None, description='the path of a saved forecast, needed with source = "recorded"; it starts at this file'
    )
    # The public addresses of Open-Meteo and MET Norway, from their documentation.
    forecast_url: WebAddress = Field("https://api.open-meteo.com/v1/forecast", description="an http(s) address")
    ensemble_url: WebAddress = Field(
        "https://ensemble-api.open-meteo.com/v1/ensemble", description="an http(s) address"
    )
    archive_url: WebAddress = Field("https://archive-api.open-meteo.com/v1/archive", description="an http(s) address")
    met_norway_url: WebAddress = Field(
        "https://api.met.no/weatherapi/locationforecast/2.0/complete", description="an http(s) address"
    )
    # MET Norway's terms ask for a way to reach whoever runs the program; empty means that it is not asked.
    contact: str = Field("", max_length=200, description="an e-mail or web address of yours, or an empty text")
    members: Literal["ensemble", "single"] = Field("ensemble", description='"ensemble" or "single"')
    # World-wide, with the most members (51); the name is Open-Meteo's.
    ensemble_model: Text = Field("ecmwf_ifs025_ensemble", description="the name of an ensemble model of the source")
    api_key: Secret | None = Field(None, description='a key, or "env:NAME", or "file:PATH"')
    # Hourly: the resolution of the forecast. Less than 10 minutes would burden free services.
    refresh_minutes: Whole = Field(60, ge=10, le=1440, description="minutes, 10 to 1440")
    # Estimate: two missed updates of the global models, which run every six hours.
    blind_after_hours: Number = Field(12, ge=1, le=168, description="hours, 1 to 168")

    @model_validator(mode="before")
    @classmethod
    def _fallback_follows_the_source(cls, values: Any) -> Any:
        if isinstance(values, dict) and "fallback" not in values:
            return {**values, "fallback": OTHER_SOURCE.get(str(values.get("source", "open-meteo")), "none")}
        return values

    @field_validator("fallback")
    @classmethod
    def _fallback_is_another(cls, value: str, info: ValidationInfo) -> str:
        if value != "none" and value == info.data.get("source"):
            raise refused("is the same as weather.source")
        return value

    @field_validator("contact")
    @classmethod
    def _met_norway_needs_a_contact(cls, value: str, info: ValidationInfo) -> str:
        if info.data.get("source") == "met-norway" and not value.strip():
            raise refused("is missing: MET Norway's terms of service ask for it", "an e-mail or web address of yours")
        return value

    @field_validator("file")
    @classmethod
    def _recorded_needs_a_file(cls, value: str | None, info: ValidationInfo) -> str | None:
        if value is None and info.data.get("source") == "recorded":
            raise refused("is missing")
        return value


class ChannelSettings(Section):
    """[[notices.channel]]: one way to reach the person."""

    name: Identifier = Field(description="1 to 40 of the signs a-z, 0-9 and -")
    url: ChannelAddress = Field(
        description='an address for apprise, such as "mailto://…", or "env:NAME", or "file:PATH" (never shown)'
    )
    from_severity: Literal["minor", "moderate", "severe", "extreme"] = Field(
        "minor", description='"minor", "moderate", "severe" or "extreme"'
    )
    # All channels together, unless the grower ranks them.
    order: Whole = Field(1, ge=1, le=99, description="a whole number, 1 to 99; 1 is tried first")


class NoticesSettings(Section):
    """[notices]: when to speak, and how carefully."""

    # Usual hours of rest (common practice).
    quiet_from: ClockTime = Field(time(22, 0), description='a local time, such as "22:00"')
    quiet_to: ClockTime = Field(time(6, 30), description='a local time, such as "06:30"; not the same as quiet_from')
    # After the night rest, early enough for work before a hot day (estimate).
    rounds_at: ClockTime = Field(time(7, 0), description='a local time, such as "07:00"')
    # The middle of the scale.
    caution: Share = Field(0.5, description="0 (easy-going) to 1 (anxious)")
    # Estimate: few gardens have light to work by; assuming none only makes a call earlier.
    unlit_garden: bool = Field(True, description="true or false")
    # What a man lifts close to the body at knuckle height: HSE, Manual handling at work (INDG143), figure 1 (from
    # memory; the same figure has 13 kg for women).
    lift_kg: Number = Field(20, gt=0, le=200, description="kilograms that one person lifts, over 0 and up to 200")
    away: tuple[Days, ...] = Field(
        (), description='a list of pairs of dates, [["2026-07-01", "2026-07-14"]], the first day before the last'
    )
    heartbeat_url: SecretWebAddress | None = Field(
        None, description='an http(s) address, or "env:NAME", or "file:PATH" (never shown)'
    )
    # Estimate: time to come home and look at the phone.
    repeat_after_minutes: Whole = Field(120, ge=5, le=1440, description="minutes, 5 to 1440")
    channel: tuple[ChannelSettings, ...] = Field((), description="tables headed [[notices.channel]]")

    @field_validator("quiet_to")
    @classmethod
    def _night_has_a_length(cls, value: time, info: ValidationInfo) -> time:
        if value == info.data.get("quiet_from"):
            raise refused("is the same as notices.quiet_from")
        return value


class StockSettings(Section):
    """[stock]: what there is to protect with. The defaults are estimates of what a small garden's shelf holds."""

    fleece_m2: Number = Field(10, ge=0, le=10000, description="square metres, 0 to 10000")
    net_m2: Number = Field(6, ge=0, le=10000, description="square metres, 0 to 10000")
    tents: Whole = Field(1, ge=0, le=1000, description="a whole number, 0 to 1000")
    mulch: bool = Field(True, description="true or false")


class PageSettings(Section):
    """[page]: the page on the home network."""

    # Only this machine, until the grower opens it.
    listen: ListenAddress = Field("127.0.0.1:8737", description='"HOST:PORT", with a port from 0 to 65535')
    public_url: WebAddress | None = Field(None, description="the http(s) address at which a phone finds the page")
    base_path: BasePath = Field("", description='empty, or a path such as "/carewatch" with no slash at its end')
    trusted_hosts: tuple[Text, ...] = Field((), description="a list of host names")
    password: Secret | None = Field(None, description='the hash of a password, or "env:NAME", or "file:PATH"')
    token: Secret | None = Field(None, description='a token, or "env:NAME", or "file:PATH"')
    calendar_token: Secret | None = Field(None, description='a token, or "env:NAME", or "file:PATH"')


class StorageSettings(Section):
    """[storage]: files. Relative paths start at the folder of config.toml."""

    path: Text = Field("carewatch.sqlite", description="the path of the database")
    garden: Text = Field("garden.toml", description="the path of the file to which commands and forms add")


class Settings(Section):
    """config.toml (and the [[place]] and [[tree]] of garden.toml) with every default of the file's own."""

    config_version: Literal[1] = Field(CONFIG_VERSION, description=str(CONFIG_VERSION))
    site: SiteSettings = Field(description="a table headed [site]")
    weather: WeatherSettings = Field(default_factory=WeatherSettings, description="a table headed [weather]")
    notices: NoticesSettings = Field(default_factory=NoticesSettings, description="a table headed [notices]")
    stock: StockSettings = Field(default_factory=StockSettings, description="a table headed [stock]")
    page: PageSettings = Field(default_factory=PageSettings, description="a table headed [page]")
    storage: StorageSettings = Field(default_factory=StorageSettings, description="a table headed [storage]")
    place: tuple[PlaceSettings, ...] = Field((), description="tables headed [[place]]")
    tree: tuple[TreeSettings, ...] = Field((), description="tables headed [[tree]]")
