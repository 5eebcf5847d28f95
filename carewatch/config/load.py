"""Finding the configuration, reading it, and handing it on as frozen values, or refusing it with all its problems."""

import os
import zoneinfo
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Any

from pydantic import SecretStr, ValidationError

from carewatch.care.garden import Garden
from carewatch.config.advice import misleading, missing_secrets, readable_secrets, warnings_for
from carewatch.config.document import HOW_TO_START, Document, Source, doubles, merge, read_source
from carewatch.config.environment import override
from carewatch.config.find import FILE_NAME, named_config, platform_folder, usual_places
from carewatch.config.garden_build import build_garden
from carewatch.config.garden_settings import Known
from carewatch.config.log_check import log_problems
from carewatch.config.positions import line_of
from carewatch.config.problems import ConfigErrors, ConfigProblem, shown
from carewatch.config.refusals import problems_from
from carewatch.config.settings import CONFIG_VERSION, Settings, StorageSettings
from carewatch.config.tables import Tables
from carewatch.config.values import known_zones

__all__ = ["Loaded", "find_config", "load", "platform_folder"]


@dataclass(frozen=True)
class Loaded:
    """
    A configuration that can be used.

    warnings: what was accepted and is probably not meant; misleading: those of them that make answers wrong.
    garden_file: to which commands and forms add; it need not exist yet.
    weather_file: the recorded forecast, or None.
    digests: of the two files, the hash of the bytes that were read, "" where there was no file.
    """

    settings: Settings
    garden: Garden
    warnings: tuple[str, ...]
    config_file: Path
    garden_file: Path
    database_file: Path
    weather_file: Path | None
    digests: Mapping[Path, str]
    misleading: tuple[str, ...] = ()

    def secrets(self) -> dict[str, SecretStr | None]:
        """Every secret as it is given, by what it is for; `secrets.resolve_secret` reads it."""
        settings = self.settings
        return {
            "weather.api_key": settings.weather.api_key,
            "notices.heartbeat_url": settings.notices.heartbeat_url,
            "page.password": settings.page.password,
            "page.token": settings.page.token,
            "page.calendar_token": settings.page.calendar_token,
            **{f"channel {channel.name}": channel.url for channel in settings.notices.channel},
        }


def find_config(explicit: str | None, environ: Mapping[str, str]) -> Path:
    """
    The configuration file to read: the named one, $CAREWATCH_CONFIG, ./config.toml, or the platform's own.

    explicit: what the person named on the command line; a file that is named is not looked for elsewhere.

    Raises ConfigErrors when none is named and none is found.
    """
    named = named_config(explicit, environ)
    if named is not None:
        return named
    candidates = usual_places(environ)
    for candidate in candidates:
        if candidate.is_file():
            return candidate
    looked = " and ".join(str(candidate) for candidate in candidates)
    problem = ConfigProblem(FILE_NAME, None, "", None, HOW_TO_START, (), f"was not found (looked at {looked})")
    raise ConfigErrors([problem])


def load(path: Path, environ: Mapping[str, str], now: datetime, tables: Tables) -> Loaded:
    """
    The configuration in `path`, with garden.toml and the environment's values in it.

    now: aware; works that lie after it are refused.

    Raises ConfigErrors with everything that is wrong, in all files and variables at once.
    """
    folder = path.absolute().parent
    config = read_source(path)
    _refuse_newer(config)
    overridden, overrides, problems, warnings = override(config.content, environ)
    garden_file = _garden_file(overridden, folder)
    added = _garden_source(garden_file)
    document, misplaced = merge(config, added, overridden, overrides)
    problems += [*misplaced, *doubles(document), *_missing_recording(document, folder)]
    settings = _validated(document, now, tables, problems)
    if settings is None or problems:
        raise ConfigErrors(problems, warnings)
    garden = build_garden(settings, tables, document.origin)
    impossible, doubtful = log_problems(garden, document)
    if impossible:
        raise ConfigErrors(impossible, warnings)
    warnings += [*doubtful, *warnings_for(settings), *readable_secrets(settings, path, overrides)]
    warnings += missing_secrets(settings, environ, folder)
    recording = settings.weather.file
    return Loaded(
        settings=settings,
        garden=garden,
        warnings=tuple(warnings),
        config_file=path,
        garden_file=garden_file,
        database_file=_path(settings.storage.path, folder),
        weather_file=None if recording is None else _path(recording, folder),
        digests={path: config.digest, garden_file: added.digest if added else ""},
        misleading=(*doubtful, *misleading(settings)),
    )


def _refuse_newer(config: Source) -> None:
    """A newer file is refused before anything else: what it means by its other keys is not known here."""
    version = config.content.get("config_version")
    if isinstance(version, int) and not isinstance(version, bool) and version > CONFIG_VERSION:
        raise ConfigErrors(
            [
                ConfigProblem(
                    str(config.path),
                    line_of(config.lines, ("config_version",)),
                    "config_version",
                    str(version),
                    f"{CONFIG_VERSION}, or a newer carewatch",
                    (),
                    "is newer than this program",
                )
            ]
        )


def _garden_file(content: Mapping[str, Any], folder: Path) -> Path:
    storage = content.get("storage")
    given = storage.get("garden") if isinstance(storage, Mapping) else None
    usual = str(StorageSettings.model_fields["garden"].default)
    return _path(given if isinstance(given, str) and given.strip() else usual, folder)


def _garden_source(garden_file: Path) -> Source | None:
    """
    The garden file when there is one.

    One that cannot be read is refused alone: without its places half of the garden would look wrong.
    """
    return read_source(garden_file) if os.path.exists(garden_file) else None  # noqa: PTH110  pathlib raises on odd names


def _missing_recording(document: Document, folder: Path) -> list[ConfigProblem]:
    weather = document.content.get("weather")
    if not isinstance(weather, Mapping) or weather.get("source") != "recorded":
        return []
    file = weather.get("file")
    if not isinstance(file, str) or not file.strip() or os.path.isfile(_path(file, folder)):  # noqa: PTH113  as above
        return []
    return [document.problem(("weather", "file"), "does not exist", "the path of a saved forecast", shown(file))]


def _validated(document: Document, now: datetime, tables: Tables, problems: list[ConfigProblem]) -> Settings | None:
    """The settings, or None with the reasons added to `problems`."""
    known = Known(tables=tables, now=now, zone=_zone(document.content), places=_place_ids(document.content))
    errors: list[Any] = []
    try:
        return Settings.model_validate(document.content, context=known)
    except ValidationError as refusal:
        errors += refusal.errors(include_url=False)
    # Outside of the handler: a chained error would carry the values that it complains about, secrets among them.
    problems += problems_from(errors, document)
    return None


def _zone(content: Mapping[str, Any]) -> tzinfo | None:
    site = content.get("site")
    name = site.get("time_zone") if isinstance(site, Mapping) else None
    return zoneinfo.ZoneInfo(name) if isinstance(name, str) and name in known_zones() else None


def _place_ids(content: Mapping[str, Any]) -> tuple[str, ...]:
    places = content.get("place")
    ids = (place.get("id") for place in (places if isinstance(places, list) else []) if isinstance(place, Mapping))
    return tuple(identifier for identifier in ids if isinstance(identifier, str))


def _path(given: str, folder: Path) -> Path:
    """A path from the configuration: it starts at the folder of the configuration file."""
    return folder / Path(given).expanduser()
