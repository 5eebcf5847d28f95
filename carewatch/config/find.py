"""Where a configuration may lie; standard library alone, for commands that must answer at once."""

import sys
from collections.abc import Mapping
from pathlib import Path

FILE_NAME = "config.toml"
FOLDER_NAME = "carewatch"


def named_config(explicit: str | None, environ: Mapping[str, str]) -> Path | None:
    """
    The file that somebody named, or None. One that is named is not looked for elsewhere.

    explicit: what the person named on the command line.
    """
    named = explicit or environ.get("CAREWATCH_CONFIG")
    return Path(named).expanduser() if named else None


def usual_places(environ: Mapping[str, str]) -> tuple[Path, ...]:
    """Where a file lies that nobody named, the first that is there counting: this folder, the platform's own."""
    return Path(FILE_NAME), platform_folder(environ) / FILE_NAME


def platform_folder(environ: Mapping[str, str], platform: str = sys.platform) -> Path:
    """The folder in which this platform keeps a user's configuration of carewatch."""
    home = Path(environ["HOME"]) if environ.get("HOME") else Path.home()
    if platform == "win32":
        return Path(environ.get("APPDATA") or home / "AppData" / "Roaming") / FOLDER_NAME
    if platform == "darwin":
        return home / "Library" / "Application Support" / FOLDER_NAME
    return Path(environ.get("XDG_CONFIG_HOME") or home / ".config") / FOLDER_NAME
