"""`log OLD sever-layer --new ID`: one tree becomes two, in the garden file and in the care log at once."""

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.care.tree import Tree
from carewatch.care.whole_log import lives_at, with_log
from carewatch.cli.acting import database_of, tell
from carewatch.cli.log_checks import LogOptions, logged_line, meaning_of, refuse_contradictions, tree_of
from carewatch.cli.log_documents import SeveredDocument, stored_document
from carewatch.cli.reports import FAILED, Refusal
from carewatch.config.entry_check import TYPED, checked_entry
from carewatch.config.garden_file import tree_added
from carewatch.config.load import Loaded
from carewatch.config.new_tree import checked_tree
from carewatch.config.problems import ConfigErrors, ConfigProblem
from carewatch.config.tables import Tables
from carewatch.sqlite.care_log import add, entries, history
from carewatch.sqlite.database import Snapshot

TAKEN_ACCEPTED = "a share over 0 and below 1, such as 0.3"
# Options that are about the cut on the old tree.
OF_THE_OLD = ("branch", "paste")


def sever(loaded: Loaded, tables: Tables, options: LogOptions, environ: Mapping[str, str], now: datetime) -> int:
    """
    Add the layer as a tree of its own, with its severing in its log and a fresh wound in that of the old one.

    All of it is kept, or nothing: the garden file takes its place while the entries can still be undone.
    """
    zone = ZoneInfo(loaded.garden.site.time_zone)
    old = tree_of(loaded.garden, options.tree)
    with database_of(loaded, now, options.dry_run) as database:
        with database.snapshot(now) as snapshot:
            whole = with_log(loaded.garden, entries(snapshot)).log
        values, severed, wound = _checked(options, old, whole, loaded.garden, tables, now)
        new = str(values["id"])
        comment = f"A layer of {old.id}, severed on {severed.at.astimezone(zone).date()}; added by carewatch."
        with (
            tree_added(loaded, values, comment, environ, now, tables, options.dry_run) as addition,
            database.transaction(now) as transaction,
        ):
            _refuse_known(transaction, new)
            whole = with_log(addition.garden, entries(transaction)).log
            refuse_contradictions(addition.garden, old.id, whole, (*whole, wound), options.sure)
            refuse_contradictions(addition.garden, new, whole, (*whole, severed), options.sure)
            stored = add(transaction, severed, zone, addition.garden.log)
            stored_wound = add(transaction, wound, zone, addition.garden.log)
            addition.place()
    means = meaning_of(severed, tree_of(addition.garden, new), whole, addition.garden, tables, now)
    wound_means = meaning_of(wound, old, whole, loaded.garden, tables, now)
    document = SeveredDocument(
        1,
        options.dry_run,
        new,
        str(addition.file),
        stored_document(stored, zone),
        stored_document(stored_wound, zone),
        means,
    )
    said = "would be added" if options.dry_run else "is added"
    kind = f"{old.species.asked_for} at {values['place']}"
    lines = [
        f"{new}: {said} to {addition.file}: {kind}. Its size, substrate and watering can be set there.",
        f"{new}: {logged_line(stored, zone, options.dry_run)} {means}",
        f"{old.id}: {logged_line(stored_wound, zone, options.dry_run)} {wound_means}",
        "A service that is running watches the new tree from its next look on, within a minute.",
    ]
    return tell(document, lines, options.as_json, options.dry_run)


def _checked(
    options: LogOptions, old: Tree, whole: Iterable[Entry], garden: Garden, tables: Tables, now: datetime
) -> tuple[dict[str, object], Entry, Entry]:
    """The keys of the new tree, its entry and that of the old one. Raises ConfigErrors with all that is wrong."""
    log = tuple(whole)
    asked = dict(options.new or {})
    new_tree = {"id": asked.pop("id", ""), "species": old.species.asked_for, "place": lives_at(log, old)} | asked
    if old.species.found_by == "class":
        new_tree["kind"] = old.species.name
    shared = {name: options.given[name] for name in ("on",) if name in options.given}
    own = {name: value for name, value in options.given.items() if name not in OF_THE_OLD}
    cut = shared | {name: options.given[name] for name in OF_THE_OLD if name in options.given}
    branch = _layered_branch(log, old.id)
    if branch and "branch" not in cut:
        cut["branch"] = branch
    if options.taken is not None:
        cut["removed"] = options.taken
    problems: list[ConfigProblem] = []

    values: dict[str, object] = {}
    made: list[Entry] = []
    with _collected(problems):
        values = checked_tree(new_tree, garden, tables, now)
    linked = {"other_tree": new_tree["id"]} if values else {}
    with _collected(problems):
        of_new = own | {"work": "sever-layer", "other_tree": old.id}
        made.append(checked_entry(str(new_tree["id"]), of_new, garden, tables, now))
    wrong_cut: list[ConfigProblem] = []
    with _collected(wrong_cut):
        made.append(checked_entry(old.id, cut | linked | {"work": "cut-off"}, garden, tables, now))
    problems += [
        replace(problem, file="--taken", accepted=TAKEN_ACCEPTED) if problem.file == TYPED["removed"] else problem
        for problem in wrong_cut
    ]
    if problems:
        raise ConfigErrors(problems)
    severed, wound = made
    return values, severed, wound


@contextmanager
def _collected(problems: list[ConfigProblem]) -> Iterator[None]:
    """What is wrong goes to the problems, so that everything is told at once."""
    try:
        yield
    except ConfigErrors as refused:
        problems.extend(refused.problems)


def _layered_branch(log: Iterable[Entry], tree: str) -> str | None:
    """The branch on which the one layer of a tree was set that has not been taken off, or None."""
    standing: dict[str, Entry] = {}
    for entry in log:
        if entry.tree == tree and entry.branch:
            if entry.work == "set-layer":
                standing[entry.branch] = entry
            if entry.work == "cut-off":
                standing.pop(entry.branch, None)
    return next(iter(standing)) if len(standing) == 1 else None


def _refuse_known(snapshot: Snapshot, new: str) -> None:
    """A name that another tree had once would inherit that tree's past."""
    known = [stored for stored in history(snapshot) if stored.entry.tree == new]
    if known:
        raise Refusal(
            f"The care log has {len(known)} {'entry' if len(known) == 1 else 'entries'} of another {new}, which the "
            f"garden has no more, the first of {known[0].day}. Choose another id.",
            FAILED,
        )
