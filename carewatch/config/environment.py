"""Environment variables that stand over the file: CAREWATCH_SECTION__KEY, lists as JSON."""

import difflib
from collections.abc import Mapping
from copy import deepcopy
from typing import Any

from pydantic_settings import BaseSettings, EnvSettingsSource, SettingsConfigDict
from pydantic_settings.exceptions import SettingsError

from carewatch.config.positions import Location
from carewatch.config.problems import ConfigProblem
from carewatch.config.settings import (
    NoticesSettings,
    PageSettings,
    SiteSettings,
    StockSettings,
    StorageSettings,
    WeatherSettings,
)

PREFIX = "CAREWATCH_"
DELIMITER = "__"
# Read elsewhere: which file to read, a fake clock and faults for tests.
RESERVED = ("CAREWATCH_CONFIG", "CAREWATCH_CLOCK")
RESERVED_PREFIX = "CAREWATCH_FAULT"
# How alike a name without a delimiter must be to count as a slip and not as somebody else's variable.
SLIP_RATIO = 0.8


class _Sections(BaseSettings):
    """The sections that variables may reach into; only read by the source below, never built."""

    model_config = SettingsConfigDict(env_prefix=PREFIX, env_nested_delimiter=DELIMITER, env_ignore_empty=True)

    site: SiteSettings
    weather: WeatherSettings
    notices: NoticesSettings
    stock: StockSettings
    page: PageSettings
    storage: StorageSettings


class _GivenEnvironment(EnvSettingsSource):
    """The library's reading of variables, from a mapping that is passed in."""

    def __init__(self, environ: Mapping[str, str]) -> None:
        super().__init__(_Sections)
        self.env_vars = {name.lower(): value for name, value in environ.items()}


def known_variables() -> dict[str, Location]:
    """Every variable that sets a key, with the path of that key."""
    return {
        f"{PREFIX}{section}{DELIMITER}{key}".upper(): (section, key)
        for section, field in _Sections.model_fields.items()
        for key in (field.annotation.model_fields if field.annotation is not None else ())
    }


def override(
    content: Mapping[str, Any], environ: Mapping[str, str]
) -> tuple[dict[str, Any], dict[Location, str], list[ConfigProblem], list[str]]:
    """
    The content with the environment's values in place of its own; which paths they set; problems; warnings.

    An empty variable counts as not set: container files make such ones. A misspelt one is a problem, since it would
    silently be without effect; one without the double underscore may be another program's and is a warning.
    """
    known = known_variables()
    merged = deepcopy(dict(content))
    overrides: dict[Location, str] = {}
    problems: list[ConfigProblem] = []
    warnings: list[str] = []
    for name in sorted(environ):
        if not name.upper().startswith(PREFIX) or _reserved(name) or not environ[name]:
            continue
        location = known.get(name.upper())
        if location is None:
            problem = _unknown(name, known)
            if problem is not None:
                problems.append(problem)
            else:
                warnings.append(f"environment variable {name} has no meaning to carewatch and is ignored")
            continue
        section, key = str(location[0]), str(location[1])
        table = merged.setdefault(section, {})
        value = _value(name, environ[name], section, key)
        if value is _NO_JSON:
            variable, accepted = f"environment variable {name}", 'JSON for a list, such as ["a", "b"]'
            problems.append(ConfigProblem(variable, None, f"{section}.{key}", None, accepted, (), "is no JSON"))
        elif isinstance(table, dict):
            table[key] = value
            overrides[location] = name
    return merged, overrides, problems, warnings


_NO_JSON = object()


def _value(name: str, text: str, section: str, key: str) -> Any:
    try:
        return _GivenEnvironment({name: text})()[section][key]
    except SettingsError:
        return _NO_JSON


def _reserved(name: str) -> bool:
    return name in RESERVED or name.startswith(RESERVED_PREFIX)


def _unknown(name: str, known: Mapping[str, Location]) -> ConfigProblem | None:
    """The problem with a variable that sets nothing, or None when it is probably another program's."""
    by_ending = {variable.removeprefix(PREFIX): variable for variable in known}
    ending = name.upper().removeprefix(PREFIX)
    meant = DELIMITER in ending
    close = difflib.get_close_matches(ending, by_ending, n=3, cutoff=0.6 if meant else SLIP_RATIO)
    if not meant and not close:
        return None
    nearest = tuple(by_ending[match] for match in close)
    accepted = f"{PREFIX}SECTION{DELIMITER}KEY with a section and a key of the configuration file"
    return ConfigProblem(f"environment variable {name}", None, "the name", None, accepted, nearest, "is not known")
