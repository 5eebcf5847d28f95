"""`log`: what was done to a tree and seen on it; entries are shown, added, corrected and struck."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from carewatch.alerts.meaning import described
from carewatch.care.log import Entry
from carewatch.care.planned import planned_removals
from carewatch.care.whole_log import with_log
from carewatch.cli.acting import database_of, finished, garden_of, tell
from carewatch.cli.layer_command import sever
from carewatch.cli.log_checks import LogOptions, logged_line, meaning_of, refuse_contradictions, tree_of
from carewatch.cli.log_documents import (
    LoggedDocument,
    ShownDocument,
    entry_document,
    entry_line,
    planned_documents,
    stored_document,
)
from carewatch.cli.reports import FAILED, MISUSED, Refusal, refuse_unknown
from carewatch.config.entry_check import checked_entry, given_by
from carewatch.config.load import Loaded
from carewatch.config.tables import Tables
from carewatch.sqlite.care_log import StoredEntry, add, amend, entries, history, strike
from carewatch.sqlite.database import Database, Snapshot

# What the word after the kind of entry stands for.
NAMED_BY_WORD = {"observe": "seen", "begin": "measure", "end": "measure", "checked": "measure", "put-off": "measure"}
CORRECTING = ("show", "strike", "amend")


def log(explicit: str | None, options: LogOptions, environ: Mapping[str, str], now: datetime) -> int:
    """Show, strike, amend or add entries of one tree's care log."""
    return finished(lambda: _log(explicit, options, environ, now))


def _log(explicit: str | None, options: LogOptions, environ: Mapping[str, str], now: datetime) -> int:
    loaded, tables = garden_of(explicit, environ, now)
    refuse_unknown("tree", options.tree, (tree.id for tree in loaded.garden.trees))
    beside = options.new or options.taken is not None
    if (options.work in ("show", "strike") and options.given) or (options.work in CORRECTING and beside):
        raise Refusal(f"log {options.work} takes no further options.", MISUSED)
    if options.second is not None and options.work != "amend":
        raise Refusal(f"{options.second!r} is one word too many after {options.word}.", MISUSED)
    if options.work == "show":
        return _show(loaded, options, now)
    if options.work == "strike":
        return _strike(loaded, options, now)
    if options.work == "amend":
        return _amend(loaded, tables, options, now)
    given = dict(options.given) | {"work": options.work}
    if options.word is not None:
        if options.work not in NAMED_BY_WORD:
            place = options.work == "move" and options.word in loaded.garden.places
            how = f"--to {options.word}" if place else "options such as --on, --roots, --removed or --to"
            raise Refusal(
                f"{options.word!r} is one word too many after {options.work}; what was done is told by {how}.", MISUSED
            )
        given[NAMED_BY_WORD[options.work]] = options.word
    if options.new or options.taken is not None:
        _refuse_without_layer(options)
        return sever(loaded, tables, options, environ, now)
    return _add(loaded, tables, options, given, now)


def _refuse_without_layer(options: LogOptions) -> None:
    if options.work != "sever-layer" or "id" not in (options.new or {}):
        raise Refusal(
            "--pot, --place, --height, --crown and --taken tell of a tree that a severed layer becomes: log OLD "
            "sever-layer --new ID.",
            MISUSED,
        )


def _add(loaded: Loaded, tables: Tables, options: LogOptions, given: Mapping[str, object], now: datetime) -> int:
    entry = checked_entry(options.tree, given, loaded.garden, tables, now)
    zone = ZoneInfo(loaded.garden.site.time_zone)
    with database_of(loaded, now, options.dry_run) as database, database.transaction(now) as transaction:
        whole = with_log(loaded.garden, entries(transaction)).log
        refuse_contradictions(loaded.garden, options.tree, whole, (*whole, entry), options.sure)
        stored = add(transaction, entry, zone, loaded.garden.log)
    means = meaning_of(entry, tree_of(loaded.garden, options.tree), whole, loaded.garden, tables, now)
    document = LoggedDocument(1, options.dry_run, stored_document(stored, zone), means)
    line = f"{options.tree}: {logged_line(stored, zone, options.dry_run)} {means}"
    return tell(document, [line], options.as_json, options.dry_run)


def _strike(loaded: Loaded, options: LogOptions, now: datetime) -> int:
    number = _number(options)
    zone = ZoneInfo(loaded.garden.site.time_zone)
    with database_of(loaded, now, options.dry_run) as database, database.transaction(now) as transaction:
        found = _named(transaction, options.tree, number)
        if found.struck_at is None:
            whole = with_log(loaded.garden, entries(transaction)).log
            rest = [entry for entry in whole if entry.origin != found.entry.origin]
            refuse_contradictions(loaded.garden, options.tree, whole, rest, options.sure)
        struck = strike(transaction, found.number)
        pair = _pair(struck.entry, with_log(loaded.garden, entries(transaction)).log)
    means = "It is not reckoned with any more, and stays to be seen with --all."
    document = LoggedDocument(1, options.dry_run, stored_document(struck, zone), " ".join(filter(None, (means, pair))))
    said = "would be struck" if options.dry_run else "is struck"
    line = f"{options.tree}: entry {found.number} ({described(struck.entry)} on {struck.day}) {said}. {means}"
    return tell(document, [line, *filter(None, [pair])], options.as_json, options.dry_run)


def _amend(loaded: Loaded, tables: Tables, options: LogOptions, now: datetime) -> int:
    if not options.given and options.second is None:
        raise Refusal(
            "Say what is right, by the options of the entry: log TREE amend NUMBER --on DATE, --roots, --removed and "
            'so on; an empty "" takes an option away, and strike takes back the whole entry.',
            MISUSED,
        )
    number = _number(options)
    zone = ZoneInfo(loaded.garden.site.time_zone)
    with database_of(loaded, now, options.dry_run) as database, database.transaction(now) as transaction:
        found = _named(transaction, options.tree, number)
        given = {**given_by(found.entry), **options.given}
        if options.second is not None:
            if found.entry.work not in NAMED_BY_WORD:
                raise Refusal(
                    f"{options.second!r} is one word too many: entry {found.number} is {found.entry.work}.", MISUSED
                )
            given[NAMED_BY_WORD[found.entry.work]] = options.second
        kept = {name: value for name, value in given.items() if value != ""}
        entry = checked_entry(options.tree, kept, loaded.garden, tables, now)
        whole = with_log(loaded.garden, entries(transaction)).log
        rest = [other for other in whole if other.origin != found.entry.origin]
        if found.struck_at is None:
            refuse_contradictions(loaded.garden, options.tree, whole, (*rest, entry), options.sure)
        after = amend(transaction, found.number, entry, zone, loaded.garden.log)
        pair = "" if after.number == found.number else _pair(after.entry, rest)
    means = meaning_of(entry, tree_of(loaded.garden, options.tree), rest, loaded.garden, tables, now)
    if after.number == found.number:
        corrects, line = None, f"{options.tree}: nothing differs from entry {found.number} ({described(found.entry)})."
    else:
        said = "would be corrected" if options.dry_run else f"is corrected by entry {after.number}"
        now_said = f"{described(after.entry)} on {after.day}"
        corrects = found.number
        was = f"entry {found.number} ({described(found.entry)} on {found.day})"
        line = f"{options.tree}: {was} {said}: {now_said}. {means}"
    document = LoggedDocument(
        1, options.dry_run, stored_document(after, zone, corrects), " ".join(filter(None, (means, pair)))
    )
    return tell(document, [line, *filter(None, [pair])], options.as_json, options.dry_run)


def _number(options: LogOptions) -> int:
    """The number of the entry that is meant. Raises Refusal."""
    word = (options.word or "").strip()
    if not word.isdecimal():
        raise Refusal(
            f"Say which entry to {options.work} by its number; `carewatch log {options.tree} show` has it.", MISUSED
        )
    return int(word)


def _named(snapshot: Snapshot, tree: str, number: int) -> StoredEntry:
    """The entry of the tree that has this number. Raises Refusal."""
    found = {stored.number: stored for stored in history(snapshot) if stored.entry.tree == tree}
    if number not in found:
        hint = f" It has {', '.join(map(str, found))}." if found else " Entries of the files are changed there."
        raise Refusal(f"{tree} has no entry {number} in the database.{hint}", FAILED)
    return found[number]


def _pair(entry: Entry, log: Iterable[Entry]) -> str:
    """What else belongs to a layer that was severed: a sentence for one who corrects one half of it, or ""."""
    for other in log:
        if entry.other_tree == other.tree and other.other_tree == entry.tree:
            return (
                f"{other.origin[:1].upper()}{other.origin[1:]} belongs to it ({described(other)} on "
                f"{other.at:%Y-%m-%d}, {other.tree}): see that it is right as well."
            )
    return ""


def _show(loaded: Loaded, options: LogOptions, now: datetime) -> int:
    if options.word is not None:
        raise Refusal("log show takes no further word.", MISUSED)
    zone = ZoneInfo(loaded.garden.site.time_zone)
    with Database.open_for_reading(loaded.database_file, now) as database, database.snapshot(now) as snapshot:
        every = [stored for stored in history(snapshot) if stored.entry.tree == options.tree]
        whole = with_log(loaded.garden, entries(snapshot)).log
    corrects = {stored.superseded_by: stored.number for stored in every if stored.superseded_by is not None}
    shown = [stored for stored in every if options.everything or stored.struck_at is None]
    mine = [entry for entry in loaded.garden.log if entry.tree == options.tree]
    rows = [(entry, entry_document(entry, zone)) for entry in mine]
    rows += [(stored.entry, stored_document(stored, zone, corrects.get(stored.number))) for stored in shown]
    rows.sort(key=lambda row: (row[0].at, row[1].number or 0))
    planned = planned_documents(planned_removals(whole, options.tree, loaded.garden.site.latitude))
    hidden = len(every) - len(shown)
    document = ShownDocument(1, options.tree, tuple(row for _, row in rows), planned, hidden)
    head = f"{options.tree}: {len(rows)} {'entry' if len(rows) == 1 else 'entries'}"
    if hidden:
        head += f"; {hidden} struck or corrected, to be seen with --all"
    plans = [f"  planned: {each.branch} is to go by {each.due}  [{each.origin}]" for each in planned]
    return tell(document, [head, *(entry_line(*row) for row in rows), *plans], options.as_json)
