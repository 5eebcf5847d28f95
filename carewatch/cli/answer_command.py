"""`answer`: what the grower says to the lines of a notice, with what follows from it, in one transaction."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from carewatch.alerts.danger import Notice, NoticeLine
from carewatch.cli.acting import database_of, finished, garden_of, tell
from carewatch.cli.documents import stamp
from carewatch.cli.reports import FAILED, MISUSED, Refusal, refuse_unknown
from carewatch.daemon.answering import Answered, answer_by_token, answer_lines
from carewatch.sqlite.database import Database, Snapshot
from carewatch.sqlite.standing import notices_since

LAST = "last"
# Notices are looked for from here on: all of them.
EVER = datetime(1970, 1, 1, tzinfo=UTC)
MOST_LISTED = 5
# So much of an id tells notices apart, and is quick to type.
SHOWN = 8


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


@dataclass(frozen=True)
class NoticeDocument:
    """One notice that can be answered. over: what it told of is past. trees: of its lines, in their order."""

    id: str
    kind: str
    title: str
    made: str
    over: bool
    trees: tuple[str, ...]


@dataclass(frozen=True)
class AnswerableDocument:
    """`answer --json` without a word: the newest notices that can be answered, newest first."""

    version: int
    notices: tuple[NoticeDocument, ...]


def answerable(explicit: str | None, environ: Mapping[str, str], now: datetime, as_json: bool) -> int:
    """Show the newest notices that can be answered, with their ids."""

    def action() -> int:
        loaded, _ = garden_of(explicit, environ, now)
        zone = ZoneInfo(loaded.garden.site.time_zone)
        with Database.open_for_reading(loaded.database_file, now) as database, database.snapshot(now) as snapshot:
            newest = _newest([notice for notice in notices_since(snapshot, EVER) if notice.lines])
        found = tuple(
            NoticeDocument(
                notice.id,
                notice.kind,
                notice.title,
                stamp(notice.created_at.astimezone(zone)),
                notice.useless_after < now,
                tuple(dict.fromkeys(line.tree for line in notice.lines)),
            )
            for notice in newest
        )
        lines = [
            f"{each.id[:SHOWN]}  {notice.created_at.astimezone(zone):%Y-%m-%d %H:%M}  {', '.join(each.trees)}"
            f"{' (over)' if each.over else ''}\n  {each.title}"
            for each, notice in zip(found, newest, strict=True)
        ]
        return tell(AnswerableDocument(1, found), lines or ["There is no notice yet that can be answered."], as_json)

    return finished(action)


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
            lines = _lines(meant, trees)
            answered = answer_lines(
                transaction, loaded.garden, tables.measures, tables.condition.leaves, meant, lines, said, "command"
            )
        return _told(meant, answered, as_json, dry_run)

    return finished(action)


def answer_with_token(
    explicit: str | None,
    token: str,
    trees: Sequence[str],
    said: str,
    environ: Mapping[str, str],
    now: datetime,
    dry_run: bool,
    as_json: bool,
) -> int:
    """Answer the notice that a token from a message stands for: all its lines, or those of the given trees."""

    def action() -> int:
        loaded, tables = garden_of(explicit, environ, now)
        with database_of(loaded, now, dry_run) as database, database.transaction(now) as transaction:
            found = answer_by_token(
                transaction, loaded.garden, tables.measures, tables.condition.leaves, token, trees, said, "command"
            )
        if found.notice is None or found.state != "answered":
            raise Refusal(found.said, FAILED)
        return _told(found.notice, found.lines, as_json, dry_run)

    return finished(action)


def _told(meant: Notice, answered: Sequence[Answered], as_json: bool, dry_run: bool) -> int:
    lines = tuple(
        LineDocument(
            each.line.tree,
            each.line.danger,
            each.line.measure,
            each.answer,
            each.outcome,
            each.before,
            each.late,
            each.logged,
            each.struck,
            each.said,
        )
        for each in answered
    )
    document = AnsweredDocument(1, dry_run, meant.id, meant.kind, meant.title, lines)
    told = dict.fromkeys(f"  {line.tree}: {line.said}" for line in lines)
    return tell(document, [f"Notice {meant.id} ({meant.title})", *told], as_json, dry_run)


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
    return "The newest: " + "; ".join(f"{notice.id} ({notice.title})" for notice in _newest(notices)) + "."


def _newest(notices: Sequence[Notice]) -> list[Notice]:
    return sorted(notices, key=lambda notice: notice.created_at, reverse=True)[:MOST_LISTED]


def _lines(notice: Notice, trees: Sequence[str]) -> tuple[NoticeLine, ...]:
    asked = [line.tree for line in notice.lines]
    for tree in trees:
        refuse_unknown(f"line in notice {notice.id} about", tree, dict.fromkeys(asked))
    return tuple(line for line in notice.lines if not trees or line.tree in trees)
