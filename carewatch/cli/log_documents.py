"""What `log` and `reading` print: entries of the care log and readings, as JSON and as lines."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from zoneinfo import ZoneInfo

from carewatch.alerts.meaning import described
from carewatch.alerts.wording import number
from carewatch.care.log import Entry
from carewatch.care.planned import PlannedRemoval
from carewatch.cli.documents import stamp
from carewatch.sqlite.care_log import StoredEntry
from carewatch.sqlite.readings import StoredReading


@dataclass(frozen=True)
class EntryDocument:
    """
    One entry; number and recorded_at are null for one of a file.

    superseded_by: number of the entry that corrects it; corrects: number of the one that it corrects.
    """

    tree: str
    work: str
    at: str
    roots: str | None
    roots_worked: bool
    removed: float | None
    tied: bool
    paste: bool
    branch: str | None
    gauge_mm: float | None
    due: str | None
    other_tree: str | None
    to: str | None
    seen: str | None
    measure: str | None
    note: str | None
    origin: str
    number: int | None
    recorded_at: str | None
    struck_at: str | None
    superseded_by: int | None
    corrects: int | None


@dataclass(frozen=True)
class LoggedDocument:
    """`log --json`: the entry as it stands now, and what it means."""

    version: int
    dry_run: bool
    entry: EntryDocument
    meaning: str


@dataclass(frozen=True)
class SeveredDocument:
    """`log OLD sever-layer --new ID --json`: the new tree and the entries of both."""

    version: int
    dry_run: bool
    new_tree: str
    garden_file: str
    entry: EntryDocument
    wound: EntryDocument
    meaning: str


@dataclass(frozen=True)
class PlannedDocument:
    """A sacrifice that still stands."""

    branch: str
    due: str
    origin: str


@dataclass(frozen=True)
class ShownDocument:
    """`log TREE show --json`; hidden: how many struck and corrected entries `--all` would show as well."""

    version: int
    tree: str
    entries: tuple[EntryDocument, ...]
    planned: tuple[PlannedDocument, ...]
    hidden: int


@dataclass(frozen=True)
class ReadingDocument:
    """`reading --json`; new is false when the very same reading was known."""

    version: int
    dry_run: bool
    place: str
    at: str
    value_c: float
    new: bool


@dataclass(frozen=True)
class StoredReadingDocument:
    """One reading with its history."""

    number: int
    place: str
    at: str
    value_c: float
    recorded_at: str
    struck_at: str | None
    superseded_by: int | None


@dataclass(frozen=True)
class ReadingsDocument:
    """`reading PLACE show|strike|amend --json`: the readings as they stand now."""

    version: int
    dry_run: bool
    place: str
    readings: tuple[StoredReadingDocument, ...]


def entry_document(entry: Entry, zone: ZoneInfo) -> EntryDocument:
    """An entry of a file, or one that has no number yet."""
    return EntryDocument(
        tree=entry.tree,
        work=entry.work,
        at=stamp(entry.at.astimezone(zone)),
        roots=entry.roots,
        roots_worked=entry.roots_worked,
        removed=entry.removed,
        tied=entry.tied,
        paste=entry.paste,
        branch=entry.branch,
        gauge_mm=entry.gauge_mm,
        due=None if entry.due is None else entry.due.isoformat(),
        other_tree=entry.other_tree,
        to=entry.to,
        seen=entry.seen,
        measure=entry.measure,
        note=entry.note,
        origin=entry.origin,
        number=None,
        recorded_at=None,
        struck_at=None,
        superseded_by=None,
        corrects=None,
    )


def stored_document(stored: StoredEntry, zone: ZoneInfo, corrects: int | None = None) -> EntryDocument:
    """An entry of the database."""
    return replace(
        entry_document(stored.entry, zone),
        number=stored.number,
        recorded_at=stamp(stored.recorded_at.astimezone(zone)),
        struck_at=_optional_stamp(stored.struck_at, zone),
        superseded_by=stored.superseded_by,
        corrects=corrects,
    )


def entry_line(entry: Entry, row: EntryDocument) -> str:
    """An entry on one line. row: its document."""
    note = f"  “{row.note}”" if row.note else ""
    struck = f"  struck {row.struck_at[:10]}" if row.struck_at else ""
    if row.struck_at and row.superseded_by is not None:
        struck = f"  corrected {row.struck_at[:10]} by entry {row.superseded_by}"
    corrects = f"  corrects entry {row.corrects}" if row.corrects is not None else ""
    at = datetime.fromisoformat(row.at)
    return f"  {at:%Y-%m-%d %H:%M}  {described(entry)}{note}  [{row.origin}]{corrects}{struck}"


def planned_documents(planned: Iterable[PlannedRemoval]) -> tuple[PlannedDocument, ...]:
    """Sacrifices that still stand."""
    return tuple(PlannedDocument(each.branch, each.due.isoformat(), each.entry.origin) for each in planned)


def reading_document(stored: StoredReading, zone: ZoneInfo) -> StoredReadingDocument:
    """A reading of the database."""
    return StoredReadingDocument(
        number=stored.number,
        place=stored.reading.place,
        at=stamp(stored.reading.at.astimezone(zone)),
        value_c=stored.reading.value_c,
        recorded_at=stamp(stored.recorded_at.astimezone(zone)),
        struck_at=_optional_stamp(stored.struck_at, zone),
        superseded_by=stored.superseded_by,
    )


def reading_line(row: StoredReadingDocument) -> str:
    """A reading on one line."""
    struck = f"  struck {row.struck_at[:10]}" if row.struck_at else ""
    if row.struck_at and row.superseded_by is not None:
        struck = f"  corrected {row.struck_at[:10]} by reading {row.superseded_by}"
    at = datetime.fromisoformat(row.at)
    return f"  {at:%Y-%m-%d %H:%M}  {number(row.value_c, 1)} °C  [reading {row.number}]{struck}"


def _optional_stamp(moment: datetime | None, zone: ZoneInfo) -> str | None:
    return None if moment is None else stamp(moment.astimezone(zone))
