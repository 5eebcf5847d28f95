"""Secrets: written in place, or as "env:NAME" or "file:PATH", and read only at the moment of use."""

import re
from collections.abc import Mapping
from pathlib import Path

from pydantic import SecretStr

# Values that no message may ever show.
SECRET_KEYS = frozenset({"url", "api_key", "password", "token", "calendar_token", "heartbeat_url"})
CREDENTIALS = "$CREDENTIALS_DIRECTORY/"

_VARIABLE = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")


class SecretMissing(Exception):
    """A secret that is kept elsewhere cannot be read there; the text says where, never what."""


def is_reference(value: str) -> bool:
    """Whether `value` says where the secret is kept and is not the secret itself."""
    return value.startswith(("env:", "file:"))


def resolve_secret(given: SecretStr | None, environ: Mapping[str, str], folder: Path) -> SecretStr | None:
    """
    The secret itself, or None when none is given.

    given: as it stands in the settings.
    folder: where the configuration file lies; a relative PATH of "file:PATH" starts there. A PATH that begins with
    $CREDENTIALS_DIRECTORY/ is one of systemd's credentials.

    Raises SecretMissing when the variable is not set, or the file is missing, unreadable or empty.
    """
    if given is None:
        return None
    value = given.get_secret_value()
    if value.startswith("env:"):
        return _from_environment(value.removeprefix("env:").strip(), environ)
    if value.startswith("file:"):
        return _from_file(value.removeprefix("file:").strip(), environ, folder)
    return given


def secret_file(given: SecretStr | None, environ: Mapping[str, str], folder: Path) -> Path | None:
    """The file that holds the secret, or None when it stands elsewhere. Arguments as for `resolve_secret`."""
    value = "" if given is None else given.get_secret_value()
    if not value.startswith("file:"):
        return None
    return _file(value.removeprefix("file:").strip(), environ, folder)


def _file(path: str, environ: Mapping[str, str], folder: Path) -> Path | None:
    """The file that PATH means; None for a credential where the service manager hands over none."""
    if not path.startswith(CREDENTIALS):
        return folder / Path(path).expanduser()
    credentials = environ.get("CREDENTIALS_DIRECTORY")
    return Path(credentials) / path.removeprefix(CREDENTIALS) if credentials else None


def _from_environment(name: str, environ: Mapping[str, str]) -> SecretStr:
    if not _VARIABLE.fullmatch(name):
        raise SecretMissing('after "env:" the name of an environment variable must stand')
    if not environ.get(name):
        raise SecretMissing(f"the environment variable {name} is not set, or is empty")
    return SecretStr(environ[name])


def _from_file(path: str, environ: Mapping[str, str], folder: Path) -> SecretStr:
    file = _file(path, environ, folder)
    if file is None:
        raise SecretMissing("$CREDENTIALS_DIRECTORY is not set: the service manager hands over no credentials")
    reason = ""
    text = ""
    try:
        # Files that people or secret stores write end in a line feed that is no part of the secret.
        text = file.read_text(encoding="utf-8").strip()
    except UnicodeDecodeError:
        reason = "it is not UTF-8 text"
    except OSError as error:
        reason = error.strerror or "it cannot be read"
    if reason:
        raise SecretMissing(f"the secret's file {file} cannot be read: {reason}")
    if not text:
        raise SecretMissing(f"the secret's file {file} is empty")
    return SecretStr(text)
