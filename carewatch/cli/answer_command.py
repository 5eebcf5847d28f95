"""`answer`: what the grower says to the lines of a notice, with what follows from it, in one transaction."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from carewatch.alerts.answering import consequence
from carewatch.alerts.danger import Answer, Notice, NoticeLine
from carewatch.alerts.meaning import described
from carewatch.care.whole_log import in_force, with_log
from carewatch.cli.acting import database_of, finished, garden_of, tell
from carewatch.cli.reports import FAILED, MISUSED, Refusal, refuse_unknown
from carewatch.config.load import Loaded
from carewatch.config.tables import Tables
from carewatch.sqlite.answers import record_answer
from carewatch.sqlite.care_log import add, entries, history, strike
from carewatch.sqlite.database import Snapshot, Transaction
from carewatch.sqlite.standing import Change, danger, notices_since, save

LAST = "last"
# Notices are looked for from here on: all of them.
EVER = datetime(1970, 1, 1, tzinfo=UTC)
MOST_LISTED = 5


@dataclass(frozen=True)
class LineDocument:
    """
    One line and what became of its answer.

    outcome: "new", "same" or "changed". before: the answer that stood, or "". logged: entries added to the care log.
    struck: numbers of entries that an earlier answer had added and that hold no longer.
    """

    tree: str
    danger: str
    measure: str
    answer: str
    outcome: str
    before: str
    late: bool
    logged: tuple[str, ...]
    struck: tuple[int, ...]
    said: str


@dataclass(frozen=True)
class AnsweredDocument:
    """`answer --json`."""

    version: int
    dry_run: bool
    notice: str
    kind: str
    title: str
    lines: tuple[LineDocument, ...]


def answer(
    explicit: str | None,
    notice: str,
    trees: Sequence[str],
    said: str,
    environ: Mapping[str, str],
    now: datetime,
    dry_run: bool,
    as_json: bool,
) -> int:
    """Answer all lines of a notice, or those of the given trees."""

    def action() -> int:
        loaded, tables = garden_of(explicit, environ, now)
        with database_of(loaded, now, dry_run) as database, database.transaction(now) as transaction:
            meant = _meant(transaction, notice, trees)
            answered = tuple(
                _answered(transaction, loaded, tables, meant, line, said, now) for line in _lines(meant, trees)
            )
        document = AnsweredDocument(1, dry_run, meant.id, meant.kind, meant.title, answered)
        told = dict.fromkeys(f"  {line.tree}: {line.said}" for line in answered)
        return tell(document, [f"Notice {meant.id} ({meant.title})", *told], as_json, dry_run)

    return finished(action)


def _meant(snapshot: Snapshot, word: str, trees: Sequence[str]) -> Notice:
    """The notice that is meant. Raises Refusal when none is, or several may be."""
    known = notices_since(snapshot, EVER)
    askable = [notice for notice in known if notice.lines]
    if not askable:
        raise Refusal("There is no notice yet that can be answered.", FAILED)
    if word == LAST:
        about = [notice for notice in askable if set(trees) <= {line.tree for line in notice.lines}]
        if not about:
            raise Refusal(f"No notice asks about {', '.join(trees)}.", FAILED)
        newest = max(notice.created_at for notice in about)
        found = [notice for notice in about if notice.created_at == newest]
    else:
        found = [notice for notice in known if notice.id.startswith(word.casefold())]
    if not found:
        raise Refusal(f"There is no notice {word!r}. {_listed(askable)}", MISUSED)
    if len(found) > 1:
        raise Refusal(f"Several notices may be meant by {word!r}. {_listed(found)}", MISUSED)
    if not found[0].lines:
        raise Refusal(f"Notice {found[0].id} ({found[0].title}) asks nothing; nothing was stored.", FAILED)
    return found[0]


def _listed(notices: Sequence[Notice]) -> str:
    newest = sorted(notices, key=lambda notice: notice.created_at, reverse=True)[:MOST_LISTED]
    return "The newest: " + "; ".join(f"{notice.id} ({notice.title})" for notice in newest) + "."


def _lines(notice: Notice, trees: Sequence[str]) -> tuple[NoticeLine, ...]:
    asked = [line.tree for line in notice.lines]
    for tree in trees:
        refuse_unknown(f"line in notice {notice.id} about", tree, dict.fromkeys(asked))
    return tuple(line for line in notice.lines if not trees or line.tree in trees)


def _answered(
    transaction: Transaction,
    loaded: Loaded,
    tables: Tables,
    notice: Notice,
    line: NoticeLine,
    said: str,
    now: datetime,
) -> LineDocument:
    zone = ZoneInfo(loaded.garden.site.time_zone)
    local = now.astimezone(zone)
    recorded = record_answer(transaction, Answer(notice.id, line.danger, said, now, "command"), line.tree)
    note = f"answer to notice {notice.id}"
    struck: tuple[int, ...] = ()
    if recorded.outcome == "same":
        again = f"you said {said} before; nothing changed."
        return _document(line, said, recorded.outcome, recorded.before, recorded.late, (), struck, again)
    if recorded.outcome == "changed":
        struck = _taken_back(transaction, line, note)
    log = with_log(loaded.garden, entries(transaction)).log
    standing = in_force([entry for entry in log if entry.at <= now], line.tree)
    follows = consequence(
        notice.kind,
        line,
        said,
        danger(transaction, line.danger) if line.danger else None,
        standing,
        line.measure in tables.measures and tables.measures[line.measure].refill,
        note,
        local,
    )
    in_garden = any(tree.id == line.tree for tree in loaded.garden.trees)
    added = [add(transaction, entry, zone, loaded.garden.log) for entry in follows.entries if in_garden]
    if follows.danger is not None:
        save(transaction, Change(dangers=(follows.danger,)))
    logged = tuple(f"{described(stored.entry)} (entry {stored.number})" for stored in added)
    words = follows.said if in_garden else "it is not in the garden any more; your answer is kept."
    changed = f"{words} Before, you said {recorded.before}." if recorded.before else words
    return _document(line, said, recorded.outcome, recorded.before, recorded.late, logged, struck, changed)


def _taken_back(transaction: Transaction, line: NoticeLine, note: str) -> tuple[int, ...]:
    """Numbers of the entries that the earlier answer added, now struck: what was not done must not be reckoned with."""
    numbers = [
        stored.number
        for stored in history(transaction)
        if stored.struck_at is None and stored.entry.note == note and stored.entry.tree == line.tree
    ]
    for number in numbers:
        strike(transaction, number)
    return tuple(numbers)


def _document(
    line: NoticeLine,
    said: str,
    outcome: str,
    before: str,
    late: bool,
    logged: tuple[str, ...],
    struck: tuple[int, ...],
    words: str,
) -> LineDocument:
    return LineDocument(line.tree, line.danger, line.measure, said, outcome, before, late, logged, struck, words)
