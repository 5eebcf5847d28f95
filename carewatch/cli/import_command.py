"""`import`: the files of `export` read back, or entries of the care log out of one TOML file."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from carewatch.care.contradictions import Contradiction, brought_in
from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.care.whole_log import misfits, with_log
from carewatch.cli.acting import database_of, finished, garden_of, tell
from carewatch.cli.reports import FAILED, Refusal
from carewatch.cli.screen import error
from carewatch.config.entry_file import read_entries
from carewatch.config.load import Loaded
from carewatch.config.tables import Tables
from carewatch.sqlite.care_log import add, entries
from carewatch.sqlite.database import Transaction
from carewatch.sqlite.refused import StoreRefused
from carewatch.sqlite.text_time import whole_second
from carewatch.sqlite.transfer import Imported, import_directory


@dataclass(frozen=True)
class ImportedDocument:
    """`import --json`; directory: or the file that was read."""

    version: int
    dry_run: bool
    database: str
    directory: str
    entries_new: int
    entries_known: int
    readings_new: int
    readings_known: int
    weather_days_new: int


def import_from(
    explicit: str | None, name: str, environ: Mapping[str, str], now: datetime, dry_run: bool, as_json: bool
) -> int:
    """Read a folder of `export`, or a file of entries: all of it, or nothing."""

    def action() -> int:
        loaded, tables = garden_of(explicit, environ, now)
        source = Path(name).expanduser().resolve()
        done = (
            _file(loaded, tables, source, now, dry_run) if source.is_file() else _folder(loaded, source, now, dry_run)
        )
        document = ImportedDocument(
            1,
            dry_run,
            str(loaded.database_file),
            str(source),
            done.entries_new,
            done.entries_known,
            done.readings_new,
            done.readings_known,
            done.weather_days_new,
        )
        said = "would be new" if dry_run else "new"
        line = (
            f"{source}: {done.entries_new} entries {said}, {done.entries_known} known already; {done.readings_new} "
            f"readings {said}, {done.readings_known} known already."
        )
        if done.weather_days_new:
            line = f"{line} {done.weather_days_new} days of past weather {said}."
        return tell(document, [line], as_json, dry_run)

    return finished(action)


def _folder(loaded: Loaded, source: Path, now: datetime, dry_run: bool) -> Imported:
    garden = loaded.garden
    with database_of(loaded, now, dry_run) as database:
        if not source.exists():
            raise Refusal(f"There is no file and no folder {source}.", FAILED)
        with database.snapshot(now) as snapshot:
            before = with_log(garden, entries(snapshot)).log
        done = import_directory(database, source, now, ZoneInfo(garden.site.time_zone), garden.log)
        with database.snapshot(now) as snapshot:
            found = entries(snapshot)
    strangers = sorted({entry.tree for entry in found} - {tree.id for tree in garden.trees})
    for misfit in misfits(garden, found):
        error(f"warning: {misfit}")
    if strangers:
        error(f"warning: the garden has no tree {', '.join(strangers)}; their entries wait in the database.")
    # What was logged elsewhere is not refused here, or a log that is not quite right could never be brought back.
    for contradiction in _contradictions(garden, before, with_log(garden, found).log):
        error(f"warning: {contradiction}")
    return done


def _file(loaded: Loaded, tables: Tables, source: Path, now: datetime, dry_run: bool) -> Imported:
    garden = loaded.garden
    read = read_entries(source, garden, tables, now)
    with database_of(loaded, now, dry_run) as database, database.transaction(now) as transaction:
        before = with_log(garden, entries(transaction)).log
        known = {_content(entry) for entry in before}
        new = [entry for entry in read if _content(entry) not in known]
        found = [*_contradictions(garden, before, (*before, *new))]
        certain = [f"{contradiction.entry.origin}: {contradiction}" for contradiction in found if contradiction.certain]
        faults = [*certain, *_added(transaction, new, loaded)]
        if faults:
            raise Refusal("\n".join([*faults, "Nothing was kept."]), FAILED)
    for contradiction in found:
        error(f"warning: {contradiction.entry.origin}: {contradiction}")
    return Imported(len(new), len(read) - len(new), 0, 0)


def _added(transaction: Transaction, new: Sequence[Entry], loaded: Loaded) -> Iterator[str]:
    """Add every entry; why one could not be."""
    zone = ZoneInfo(loaded.garden.site.time_zone)
    for entry in new:
        try:
            add(transaction, entry, zone, loaded.garden.log)
        except StoreRefused as refused:
            yield f"{entry.origin}: {refused.reason}"


def _contradictions(garden: Garden, before: Sequence[Entry], after: Sequence[Entry]) -> Iterator[Contradiction]:
    for tree in garden.trees:
        yield from brought_in(tree, before, after)


def _content(entry: Entry) -> Entry:
    """What makes two entries the very same, wherever they stand."""
    return replace(entry, at=whole_second(entry.at), origin="", note=entry.note or None)
