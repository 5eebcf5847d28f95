"""Kinds of values that the settings are made of; each refuses what only looks right."""

import re
import zoneinfo
from datetime import date, datetime, time
from functools import cache
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, SecretStr, StringConstraints

from carewatch.config.problems import looks_secret, nearest_names, refused
from carewatch.config.secrets import is_reference

ID_PATTERN = re.compile(r"[a-z0-9-]{1,40}")
_WEB_ADDRESS = re.compile(r"https?://[^\s/?#]+[^\s]*")
_ANY_ADDRESS = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*://\S+")
_LISTEN = re.compile(r"(\[[0-9A-Fa-f:.]+\]|[^\s:\[\]]+):(\d{1,5})")
_EARLY = re.compile(r"\d:\d\d(:\d\d)?")
HIGHEST_PORT = 65535


class Section(BaseModel):
    """A table of the file: frozen, and nothing in it that is not known."""

    model_config = ConfigDict(extra="forbid", frozen=True, hide_input_in_errors=True, validate_default=True)


def _no_truth_value(value: Any) -> Any:
    if isinstance(value, bool):
        raise refused("is no number")
    return value


def _no_bare_number(value: Any) -> Any:
    # A library would take 22 for 22 seconds past midnight, and 20260301 for a day of August 1970.
    if isinstance(value, int | float):
        raise refused("is not written as a date or time")
    return value


def _with_its_zero(value: Any) -> Any:
    """6:30 as a person writes it, as the 06:30 that the library reads."""
    return f"0{value}" if isinstance(value, str) and _EARLY.fullmatch(value) else value


@cache
def known_zones() -> frozenset[str]:
    """Every time zone of this machine; found once, since it takes a walk through many folders."""
    return frozenset(zoneinfo.available_timezones())


def _known_zone(name: str) -> str:
    zones = known_zones()
    if name in zones:
        return name
    by_city = {zone.rsplit("/", 1)[-1]: zone for zone in sorted(zones)}
    near = nearest_names(name, zones)
    cities = tuple(by_city[city] for city in nearest_names(name.rsplit("/", 1)[-1].replace(" ", "_"), by_city))
    raise refused("is not a known time zone", nearest=tuple(dict.fromkeys((*near, *cities)))[:3])


def _identifier(value: str) -> str:
    if not ID_PATTERN.fullmatch(value):
        made = re.sub(r"[^a-z0-9]+", "-", value.lower()).strip("-")[:40]
        raise refused("is not a valid id", nearest=(made,) if made and not looks_secret(value) else ())
    return value


def _web_address(value: str) -> str:
    if not _WEB_ADDRESS.fullmatch(value):
        raise refused("is not a web address")
    return value.rstrip("/")


def _secret_web_address(value: SecretStr) -> SecretStr:
    text = value.get_secret_value()
    if not is_reference(text) and not _WEB_ADDRESS.fullmatch(text):
        raise refused("is not a web address")
    return value


def _channel_address(value: SecretStr) -> SecretStr:
    text = value.get_secret_value()
    if not is_reference(text) and not _ANY_ADDRESS.fullmatch(text):
        raise refused("cannot be read as a channel's address")
    return value


def _filled(value: SecretStr) -> SecretStr:
    if not value.get_secret_value().strip():
        raise refused("is empty")
    return value


def _listen_address(value: str) -> str:
    match = _LISTEN.fullmatch(value)
    if match is None or int(match.group(2)) > HIGHEST_PORT:
        raise refused("is no address to listen on")
    return value


def _base_path(value: str) -> str:
    if value and not re.fullmatch(r"(/[A-Za-z0-9._~-]+)+", value):
        raise refused("is no base path")
    return value


def _rising_pair(value: tuple[date, date]) -> tuple[date, date]:
    if value[1] < value[0]:
        raise refused(f"ends on {value[1]}, before it begins on {value[0]}")
    return value


def _one_line(value: str) -> str:
    if not value.isprintable():
        raise refused("is more than one line")
    return value


def _moment(value: Any) -> datetime | date:
    if isinstance(value, str):
        try:
            value = date.fromisoformat(value) if len(value.strip()) == 10 else datetime.fromisoformat(value)
        except ValueError:
            value = None
    if not isinstance(value, date):
        raise refused("is no date")
    return value


def horizon_points(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    """The points by rising azimuth; refuses azimuths outside 0-360, elevations outside 0-90, and doubles. [°], [°]"""
    seen: set[float] = set()
    for index, (azimuth, elevation) in enumerate(points):
        if not 0 <= azimuth <= 360:
            raise refused(f"has an azimuth of {azimuth:g}", within=(index,))
        if not 0 <= elevation <= 90:
            raise refused(f"has an elevation of {elevation:g}", within=(index,))
        if azimuth in seen:
            raise refused(f"has the azimuth {azimuth:g} twice", within=(index,))
        seen.add(azimuth)
    return tuple(sorted(points))


Number = Annotated[float, BeforeValidator(_no_truth_value), Field(allow_inf_nan=False)]
Whole = Annotated[int, BeforeValidator(_no_truth_value)]
Share = Annotated[Number, Field(ge=0, le=1)]
ClockTime = Annotated[time, BeforeValidator(_no_bare_number), BeforeValidator(_with_its_zero)]
Day = Annotated[date, BeforeValidator(_no_bare_number)]
Days = Annotated[tuple[Day, Day], AfterValidator(_rising_pair)]
Moment = Annotated[datetime | date, BeforeValidator(_moment)]
Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]
BranchName = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1), AfterValidator(_one_line)]
Zone = Annotated[str, AfterValidator(_known_zone)]
Identifier = Annotated[str, AfterValidator(_identifier)]
WebAddress = Annotated[str, AfterValidator(_web_address)]
Secret = Annotated[SecretStr, AfterValidator(_filled)]
SecretWebAddress = Annotated[SecretStr, AfterValidator(_secret_web_address)]
ChannelAddress = Annotated[SecretStr, AfterValidator(_channel_address)]
ListenAddress = Annotated[str, AfterValidator(_listen_address)]
BasePath = Annotated[str, AfterValidator(_base_path)]
Horizon = Annotated[tuple[tuple[Number, Number], ...], AfterValidator(horizon_points)]
