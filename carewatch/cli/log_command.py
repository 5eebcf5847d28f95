"""`log` and `reading`: what was done to a tree, what was seen on it, and what a thermometer showed."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from carewatch.alerts.meaning import described, meaning
from carewatch.alerts.wording import exact, number
from carewatch.care.log import Entry
from carewatch.care.tree import Tree
from carewatch.care.whole_log import in_force, with_log
from carewatch.cli.acting import database_of, finished, garden_of, tell
from carewatch.cli.documents import stamp
from carewatch.cli.reports import FAILED, MISUSED, Refusal, at_site, parsed_time, refuse_unknown
from carewatch.condition.recovery import effect_of
from carewatch.config.entry_check import checked_entry
from carewatch.config.load import Loaded
from carewatch.config.tables import Tables
from carewatch.sqlite.care_log import StoredEntry, add, entries, history, strike
from carewatch.sqlite.database import Database
from carewatch.sqlite.readings import Reading, add_reading

# What the word after the kind of entry stands for.
NAMED_BY_WORD = {"observe": "seen", "begin": "measure", "end": "measure"}
# Temperatures of air near the ground that a thermometer in a garden can show (judged; the records of the world are
# -89 and 57 °C, WMO archive of extremes, from memory; the sun on its case adds the rest). [°C]
COLDEST_C, HOTTEST_C = -60.0, 70.0


@dataclass(frozen=True)
class LogOptions:
    """
    What stood after `log`.

    word: the observation, the measure, or the number of the entry to strike. given: further keys of a [[tree.work]].
    """

    tree: str
    work: str
    word: str | None
    given: Mapping[str, object]
    everything: bool = False
    dry_run: bool = False
    as_json: bool = False


@dataclass(frozen=True)
class EntryDocument:
    """One entry; number and recorded_at are null for one of a file."""

    tree: str
    work: str
    at: str
    roots: str | None
    roots_worked: bool
    removed: float | None
    tied: bool
    paste: bool
    to: str | None
    seen: str | None
    measure: str | None
    note: str | None
    origin: str
    number: int | None
    recorded_at: str | None
    struck_at: str | None


@dataclass(frozen=True)
class LoggedDocument:
    """`log --json`: the entry as it stands now, and what it means."""

    version: int
    dry_run: bool
    entry: EntryDocument
    meaning: str


@dataclass(frozen=True)
class ShownDocument:
    """`log TREE show --json`."""

    version: int
    tree: str
    entries: tuple[EntryDocument, ...]


@dataclass(frozen=True)
class ReadingDocument:
    """`reading --json`; new is false when the very same reading was known."""

    version: int
    dry_run: bool
    place: str
    at: str
    value_c: float
    new: bool


def log(explicit: str | None, options: LogOptions, environ: Mapping[str, str], now: datetime) -> int:
    """Show, strike or add entries of one tree's care log."""
    return finished(lambda: _log(explicit, options, environ, now))


def _log(explicit: str | None, options: LogOptions, environ: Mapping[str, str], now: datetime) -> int:
    loaded, tables = garden_of(explicit, environ, now)
    refuse_unknown("tree", options.tree, (tree.id for tree in loaded.garden.trees))
    tree = next(tree for tree in loaded.garden.trees if tree.id == options.tree)
    if options.work in ("show", "strike") and options.given:
        raise Refusal(f"log {options.work} takes no further options.", MISUSED)
    if options.work == "show":
        return _show(loaded, options, now)
    if options.work == "strike":
        return _strike(loaded, options, now)
    given = dict(options.given) | {"work": options.work}
    if options.word is not None:
        if options.work not in NAMED_BY_WORD:
            raise Refusal(
                f"{options.word!r} is one word too many after {options.work}; what was done is told by options such as "
                "--on, --roots, --removed or --to.",
                MISUSED,
            )
        given[NAMED_BY_WORD[options.work]] = options.word
    entry = checked_entry(options.tree, given, loaded.garden, tables, now)
    zone = ZoneInfo(loaded.garden.site.time_zone)
    with database_of(loaded, now, options.dry_run) as database, database.transaction(now) as transaction:
        _refuse_idle(with_log(loaded.garden, entries(transaction)).log, entry)
        stored = add(transaction, entry, zone, loaded.garden.log)
    means = _meaning(entry, tree, loaded, tables, now)
    document = LoggedDocument(1, options.dry_run, _stored_document(stored, zone), means)
    number_said = "would be logged" if options.dry_run else f"logged as entry {stored.number}"
    line = f"{tree.id}: {described(entry)} on {_day(entry.at.astimezone(zone).date())} {number_said}. {means}"
    return tell(document, [line], options.as_json, options.dry_run)


def _refuse_idle(log: tuple[Entry, ...], entry: Entry) -> None:
    """A measure cannot end before it began, nor begin twice."""
    if entry.work not in ("begin", "end"):
        return
    standing = in_force([other for other in log if other.at <= entry.at], entry.tree)
    measure = str(entry.measure)
    if entry.work == "begin" and measure in standing:
        since = standing[measure]
        raise Refusal(f"{measure} has been in force on {entry.tree} since {since.at:%Y-%m-%d %H:%M} already.", FAILED)
    if entry.work == "end" and measure not in standing:
        names = f"In force then: {', '.join(standing)}." if standing else "Nothing was in force then."
        raise Refusal(f"{measure} was not in force on {entry.tree}. {names}", FAILED)


def _meaning(entry: Entry, tree: Tree, loaded: Loaded, tables: Tables, now: datetime) -> str:
    effect = effect_of(entry, tables.works, tree.species.leaf_class == "needle")
    today = now.astimezone(ZoneInfo(loaded.garden.site.time_zone)).date()
    return meaning(entry, effect, tree, loaded.garden.places.values(), today)


def _strike(loaded: Loaded, options: LogOptions, now: datetime) -> int:
    word = (options.word or "").strip()
    if not word.isdecimal():
        raise Refusal(f"Say which entry to strike by its number; `carewatch log {options.tree} show` has it.", MISUSED)
    zone = ZoneInfo(loaded.garden.site.time_zone)
    with database_of(loaded, now, options.dry_run) as database, database.transaction(now) as transaction:
        found = {stored.number: stored for stored in history(transaction) if stored.entry.tree == options.tree}
        if int(word) not in found:
            hint = f" It has {', '.join(map(str, found))}." if found else " Entries of the files are changed there."
            raise Refusal(f"{options.tree} has no entry {word} in the database.{hint}", FAILED)
        struck = strike(transaction, int(word))
    means = "It is not reckoned with any more, and stays to be seen with --all."
    document = LoggedDocument(1, options.dry_run, _stored_document(struck, zone), means)
    said = "would be struck" if options.dry_run else "is struck"
    line = f"{options.tree}: entry {word} ({described(struck.entry)} on {_day(struck.day)}) {said}. {means}"
    return tell(document, [line], options.as_json, options.dry_run)


def _show(loaded: Loaded, options: LogOptions, now: datetime) -> int:
    if options.word is not None:
        raise Refusal("log show takes no further word.", MISUSED)
    zone = ZoneInfo(loaded.garden.site.time_zone)
    with Database.open_for_reading(loaded.database_file, now) as database, database.snapshot(now) as snapshot:
        kept = [stored for stored in history(snapshot) if stored.entry.tree == options.tree]
    if not options.everything:
        kept = [stored for stored in kept if stored.struck_at is None]
    mine = [entry for entry in loaded.garden.log if entry.tree == options.tree]
    rows = [_document(entry, zone) for entry in mine] + [_stored_document(stored, zone) for stored in kept]
    rows.sort(key=lambda row: (datetime.fromisoformat(row.at), row.number or 0))
    document = ShownDocument(1, options.tree, tuple(rows))
    lines = [f"{options.tree}: {len(rows)} {'entry' if len(rows) == 1 else 'entries'}", *map(_line, rows)]
    return tell(document, lines, options.as_json)


def _line(row: EntryDocument) -> str:
    at = datetime.fromisoformat(row.at)
    entry = Entry(
        tree=row.tree,
        work=row.work,
        at=at,
        roots=row.roots,
        roots_worked=row.roots_worked,
        removed=row.removed,
        tied=row.tied,
        paste=row.paste,
        to=row.to,
        seen=row.seen,
        measure=row.measure,
    )
    struck = f"  struck {row.struck_at[:10]}" if row.struck_at else ""
    note = f"  “{row.note}”" if row.note else ""
    return f"  {at:%Y-%m-%d %H:%M}  {described(entry)}{note}  [{row.origin}]{struck}"


def _document(entry: Entry, zone: ZoneInfo) -> EntryDocument:
    return EntryDocument(
        tree=entry.tree,
        work=entry.work,
        at=stamp(entry.at.astimezone(zone)),
        roots=entry.roots,
        roots_worked=entry.roots_worked,
        removed=entry.removed,
        tied=entry.tied,
        paste=entry.paste,
        to=entry.to,
        seen=entry.seen,
        measure=entry.measure,
        note=entry.note,
        origin=entry.origin,
        number=None,
        recorded_at=None,
        struck_at=None,
    )


def _stored_document(stored: StoredEntry, zone: ZoneInfo) -> EntryDocument:
    return replace(
        _document(stored.entry, zone),
        number=stored.number,
        recorded_at=stamp(stored.recorded_at.astimezone(zone)),
        struck_at=None if stored.struck_at is None else stamp(stored.struck_at.astimezone(zone)),
    )


def _day(day: date) -> str:
    return day.isoformat()


def reading(
    explicit: str | None,
    place: str,
    value: str,
    at: str | None,
    environ: Mapping[str, str],
    now: datetime,
    dry_run: bool,
    as_json: bool,
) -> int:
    """Store what a thermometer showed at a place. [°C]"""
    return finished(lambda: _reading(explicit, place, value, at, environ, now, dry_run, as_json))


def _reading(
    explicit: str | None,
    place: str,
    value: str,
    at: str | None,
    environ: Mapping[str, str],
    now: datetime,
    dry_run: bool,
    as_json: bool,
) -> int:
    loaded, _ = garden_of(explicit, environ, now)
    refuse_unknown("place", place, loaded.garden.places)
    value_c = _degrees(value)
    taken = now if at is None else at_site(parsed_time(at), loaded)
    zone = ZoneInfo(loaded.garden.site.time_zone)
    with database_of(loaded, now, dry_run) as database, database.transaction(now) as transaction:
        new = add_reading(transaction, Reading(place, taken, value_c))
    local = taken.astimezone(zone)
    known = "" if new else " That was known already."
    kept = "would be kept" if dry_run else "is kept"
    line = f"{place}: {number(value_c, 1)} °C on {local:%Y-%m-%d} at {local:%H:%M} {kept}.{known}"
    return tell(ReadingDocument(1, dry_run, place, stamp(local), value_c, new), [line], as_json, dry_run)


def _degrees(value: str) -> float:
    plain = value.strip().removesuffix("C").removesuffix("°").strip().replace("−", "-").replace(",", ".")
    try:
        value_c = float(plain)
    except ValueError:
        raise Refusal(f"{value!r} is no temperature; write degrees Celsius such as -3.5.", MISUSED) from None
    if not COLDEST_C <= value_c <= HOTTEST_C:
        raise Refusal(
            f"{value!r} is no temperature of air in a garden: {exact(COLDEST_C, '°C')} to {exact(HOTTEST_C, '°C')} are "
            "accepted, in degrees Celsius.",
            MISUSED,
        )
    return value_c
