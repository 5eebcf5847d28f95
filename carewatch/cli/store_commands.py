"""`backup`, `restore` and `export`: the database as one file, and the care log as plain ones."""

import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from carewatch.cli.acting import finished, garden_of, tell
from carewatch.cli.reports import FAILED, Refusal
from carewatch.config.load import Loaded
from carewatch.sqlite.backup import backup as backup_to
from carewatch.sqlite.backup import restore as restore_from
from carewatch.sqlite.database import Database
from carewatch.sqlite.transfer import export_directory

KIB, MIB = 1024, 1024 * 1024


@dataclass(frozen=True)
class WrittenFile:
    """A file and its size. [bytes]"""

    path: str
    bytes: int


@dataclass(frozen=True)
class FilesDocument:
    """`backup --json` and `export --json`."""

    version: int
    dry_run: bool
    database: str
    files: tuple[WrittenFile, ...]


@dataclass(frozen=True)
class RestoredDocument:
    """`restore --json`; kept: where the database that stood there before is now, null when there was none."""

    version: int
    dry_run: bool
    database: str
    source: str
    bytes: int
    kept: str | None


def backup(
    explicit: str | None, file: str, environ: Mapping[str, str], now: datetime, dry_run: bool, as_json: bool
) -> int:
    """Write a whole, checked, private copy of the database to a file."""

    def action() -> int:
        loaded, _ = garden_of(explicit, environ, now)
        target = Path(file).expanduser().resolve()
        with _existing(loaded, now) as database:
            if dry_run:
                _refuse_folderless(target)
                with tempfile.TemporaryDirectory(prefix="carewatch-") as folder:
                    size = backup_to(database, Path(folder) / target.name).stat().st_size
            else:
                size = backup_to(database, target).stat().st_size
        said = "would be written to" if dry_run else "is written to"
        document = FilesDocument(1, dry_run, str(loaded.database_file), (WrittenFile(str(target), size),))
        line = f"A copy of {loaded.database_file} {said} {target} ({_size(size)}, for your eyes only)."
        return tell(document, [line], as_json, dry_run)

    return finished(action)


def restore(
    explicit: str | None, file: str, environ: Mapping[str, str], now: datetime, dry_run: bool, as_json: bool
) -> int:
    """Put a backup in the place of the database; what stood there is kept under another name."""

    def action() -> int:
        loaded, _ = garden_of(explicit, environ, now)
        source, path = Path(file).expanduser().resolve(), loaded.database_file
        kept: Path | None = None
        if dry_run:
            # The same checks, on a database that nobody will see.
            with tempfile.TemporaryDirectory(prefix="carewatch-") as folder:
                passing = Path(folder) / "passing.sqlite"
                restore_from(passing, source, now)
                size = passing.stat().st_size
        else:
            kept = restore_from(path, source, now)
            size = path.stat().st_size
        document = RestoredDocument(1, dry_run, str(path), str(source), size, None if kept is None else str(kept))
        said = "would take the place of" if dry_run else "has taken the place of"
        lines = [f"The backup {source} ({_size(size)}) {said} {path}."]
        if kept is not None:
            lines.append(f"What stood there before is kept as {kept}.")
        if dry_run:
            lines.append("It would be refused while a service is running on the database.")
        return tell(document, lines, as_json, dry_run)

    return finished(action)


def export(
    explicit: str | None, directory: str, environ: Mapping[str, str], now: datetime, dry_run: bool, as_json: bool
) -> int:
    """Write the care log and the readings as plain files."""

    def action() -> int:
        loaded, _ = garden_of(explicit, environ, now)
        target = Path(directory).expanduser().resolve()
        with _existing(loaded, now) as database:
            if dry_run:
                if target.exists() and not target.is_dir():
                    raise Refusal(f"{target} is a file; a folder is wanted.", FAILED)
                with tempfile.TemporaryDirectory(prefix="carewatch-") as folder:
                    written = export_directory(database, Path(folder), now)
                    files = tuple(WrittenFile(str(target / path.name), path.stat().st_size) for path in written)
            else:
                written = export_directory(database, target, now)
                files = tuple(WrittenFile(str(path), path.stat().st_size) for path in written)
        said = "would be written" if dry_run else "written"
        lines = [f"{file.path} {said} ({_size(file.bytes)})." for file in files]
        return tell(FilesDocument(1, dry_run, str(loaded.database_file), files), lines, as_json, dry_run)

    return finished(action)


def _existing(loaded: Loaded, now: datetime) -> Database:
    """The database for reading. Raises Refusal when there is none: a path that is mistyped gives no empty copy."""
    if not loaded.database_file.exists():
        raise Refusal(f"There is no database at {loaded.database_file} yet, so there is nothing to write.", FAILED)
    return Database.open_for_reading(loaded.database_file, now)


def _refuse_folderless(target: Path) -> None:
    if not target.parent.is_dir():
        raise Refusal(f"There is no folder {target.parent} for the backup.", FAILED)
    if target.is_dir():
        raise Refusal(f"{target} is a folder; a file is wanted.", FAILED)


def _size(count: int) -> str:
    if count < KIB:
        return f"{count} bytes"
    return f"{count / KIB:.0f} KiB" if count < MIB else f"{count / MIB:.1f} MiB"
