"""What is accepted and yet probably not meant: warnings, as plain sentences."""

import math
import re
import zoneinfo
from collections.abc import Collection, Mapping
from importlib.resources import files
from ipaddress import ip_address
from pathlib import Path

from pydantic import SecretStr

from carewatch.config.positions import Location
from carewatch.config.secrets import CREDENTIALS, SecretMissing, is_reference, resolve_secret
from carewatch.config.settings import NoticesSettings, PageSettings, Settings
from carewatch.config.starter import PLACEHOLDER

# A zone's reference town lies within this of nearly every garden in it; beyond, a slip is looked for. [°]
FAR_DEG = 20.0
# People are awake for longer than this; quiet hours that leave less are probably swapped (judged). [h]
LEAST_WAKING_H = 10.0
# So near the reference town must the corrected coordinates be, compared with those given. [-]
NEARER = 0.5

_ZONE_ROW = re.compile(r"[A-Z,]+\t([+-]\d{4,7})([+-]\d{5,8})\t(\S+)")


def misleading(settings: Settings) -> list[str]:
    """What makes every answer wrong: it is said before each of them, and by warnings_for as well."""
    site = settings.site
    if (site.latitude, site.longitude) == PLACEHOLDER:
        return ["site.latitude and site.longitude are those of the example, and so is all weather: put in your own"]
    return [*filter(None, [coordinate_slip(site.latitude, site.longitude, site.time_zone)])]


def warnings_for(settings: Settings) -> list[str]:
    """Everything that should be said about valid settings."""
    site, weather = settings.site, settings.weather
    said = misleading(settings)
    if site.elevation_m is None:
        said.append("site.elevation_m is not given: the weather source's own terrain model decides")
    if "met-norway" in (weather.source, weather.fallback) and not weather.contact:
        said.append("weather.contact is empty: MET Norway's terms ask for one, so that source is not asked")
    waking = _waking_hours(settings.notices)
    if waking < LEAST_WAKING_H:
        said.append(
            f"notices.quiet_from and notices.quiet_to leave only {waking:.1f} hours of the day in which you may be "
            "told anything: were they meant the other way round?"
        )
    if not settings.notices.channel:
        said.append("there is no [[notices.channel]]: nobody will be told of a danger")
    if not settings.tree:
        said.append("there is no [[tree]]: nothing is watched")
    if settings.tree and "stock" not in settings.model_fields_set:
        stock = settings.stock
        said.append(
            f"[stock] is not given: {stock.fleece_m2:g} m² of fleece, {stock.net_m2:g} m² of net and "
            f"{stock.tents} tent are assumed"
        )
    said += [
        f"tree[{tree.id}].pot is not given: {tree.pot.volume_l:g} litres, {tree.pot.material}, are assumed"
        for tree in settings.tree
        if "pot" not in tree.model_fields_set
    ]
    said += [
        f"place[{place.id}].room is {place.room}, and {living} trees live there"
        for place in settings.place
        if place.room is not None and (living := sum(tree.place == place.id for tree in settings.tree)) > place.room
    ]
    if not _loopback(settings.page) and settings.page.password is None and settings.page.token is None:
        said.append("page.listen is open to the network while page.password and page.token are not set")
    return said


def readable_secrets(settings: Settings, file: Path, elsewhere: Collection[Location]) -> list[str]:
    """
    A warning when `file` holds a secret and everybody on the machine may read it.

    elsewhere: paths whose values do not come from the file.
    """
    in_place = any(
        secret is not None and location not in elsewhere and not is_reference(secret.get_secret_value())
        for location, _, secret in _secrets_of(settings)
    )
    if in_place and file.stat().st_mode & 0o004:
        return [f'{file} holds a secret and everybody on this machine may read it: chmod 600, or use "file:PATH"']
    return []


def missing_secrets(settings: Settings, environ: Mapping[str, str], folder: Path) -> list[str]:
    """
    A warning for each secret that cannot be read from where it is said to be; the service does not start then.

    environ, folder: as for resolve_secret. A credential that only the service is handed is not looked for elsewhere.
    """
    said = []
    for _, key, secret in _secrets_of(settings):
        if secret is None or (CREDENTIALS in secret.get_secret_value() and "CREDENTIALS_DIRECTORY" not in environ):
            continue
        try:
            resolve_secret(secret, environ, folder)
        except SecretMissing as missing:
            said.append(f"{key}: {missing}; the service does not start without it")
    return said


def _secrets_of(settings: Settings) -> list[tuple[Location, str, SecretStr | None]]:
    """Every value that is a secret, with its path and its key as one writes it."""
    weather, page, notices = settings.weather, settings.page, settings.notices
    return [
        (("weather", "api_key"), "weather.api_key", weather.api_key),
        (("page", "password"), "page.password", page.password),
        (("page", "token"), "page.token", page.token),
        (("page", "calendar_token"), "page.calendar_token", page.calendar_token),
        (("notices", "heartbeat_url"), "notices.heartbeat_url", notices.heartbeat_url),
        *((("notices", "channel"), f"notices.channel[{channel.name}].url", channel.url) for channel in notices.channel),
    ]


def coordinate_slip(latitude: float, longitude: float, time_zone: str) -> str:
    """
    What was probably meant, when the coordinates are far from the time zone and a usual slip explains it; or "".

    Source of the zones' reference towns: zone.tab of the IANA time zone database.
    """
    town = zone_town(time_zone)
    if town is None:
        return ""
    distance = _distance_deg((latitude, longitude), town)
    if distance < FAR_DEG:
        return ""
    slips = {
        "site.latitude and site.longitude look swapped": (longitude, latitude),
        "site.longitude looks as if its sign were wrong (west is negative)": (latitude, -longitude),
        "site.latitude looks as if its sign were wrong (south is negative)": (-latitude, longitude),
    }
    for sentence, meant in slips.items():
        if abs(meant[0]) <= 90 and _distance_deg(meant, town) < NEARER * distance:
            return f"{sentence}: the garden would lie {distance * 111:.0f} km from the town of {time_zone}"
    return ""


def zone_town(time_zone: str) -> tuple[float, float] | None:
    """Latitude and longitude of the town that a time zone is named after, or None when that is not known. [°]"""
    for match in _ZONE_ROW.finditer(_zone_table()):
        if match.group(3) == time_zone:
            return _degrees(match.group(1), 2), _degrees(match.group(2), 3)
    return None


def _zone_table() -> str:
    """zone.tab of the system, or of the tzdata package, or nothing."""
    for folder in zoneinfo.TZPATH:
        table = Path(folder) / "zone.tab"
        if table.is_file():
            return table.read_text(encoding="utf-8")
    try:
        return (files("tzdata") / "zoneinfo" / "zone.tab").read_text(encoding="utf-8")
    except (ModuleNotFoundError, OSError):
        return ""


def _degrees(text: str, degree_digits: int) -> float:
    """±DDMM, ±DDDMM or the same with seconds, in degrees."""
    digits = text[1:].ljust(degree_digits + 4, "0")
    whole, minutes, seconds = digits[:degree_digits], digits[degree_digits:-2], digits[-2:]
    return math.copysign(int(whole) + int(minutes) / 60 + int(seconds) / 3600, -1 if text[0] == "-" else 1)


def _distance_deg(one: tuple[float, float], other: tuple[float, float]) -> float:
    """Angle between two points of the globe (haversine). [°]"""
    lat_1, lon_1, lat_2, lon_2 = map(math.radians, (*one, *other))
    half = math.sin((lat_2 - lat_1) / 2) ** 2
    half += math.cos(lat_1) * math.cos(lat_2) * math.sin((lon_2 - lon_1) / 2) ** 2
    return math.degrees(2 * math.asin(min(1.0, math.sqrt(half))))


def _waking_hours(notices: NoticesSettings) -> float:
    """Hours of a day outside of the quiet ones. [h]"""
    opens, closes = (60 * at.hour + at.minute for at in (notices.quiet_to, notices.quiet_from))
    return (closes - opens) % 1440 / 60


def _loopback(page: PageSettings) -> bool:
    host = page.listen.rsplit(":", 1)[0].strip("[]")
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"
