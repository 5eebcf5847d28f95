"""The grower's answer to lines of a notice, with all that follows from it, in the caller's transaction."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from carewatch.alerts.answering import ASK_TO_BEGIN, consequence
from carewatch.alerts.danger import Answer, Notice, NoticeLine
from carewatch.alerts.meaning import described
from carewatch.alerts.wording import NIGHT_COVERS
from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.care.whole_log import in_force, with_log
from carewatch.condition.numbers import LeafNumbers
from carewatch.measures.catalogue import Measure, parts_of
from carewatch.sqlite.answers import ANSWERS_TO_QUESTIONS, record_answer
from carewatch.sqlite.care_log import add, entries, history, strike
from carewatch.sqlite.database import Transaction
from carewatch.sqlite.standing import Change, danger, notice, save
from carewatch.sqlite.tokens import find_token

By = Literal["command", "page"]
# A cover of the night that was put on so long ago was off in between. Judged.
PUT_ON_ANEW_AFTER = timedelta(hours=12)


@dataclass(frozen=True)
class Answered:
    """
    One line and what became of its answer.

    outcome: "new"; "same": it had been given before and nothing changed; "changed": it replaced `before`.
    late: given after the notice had become useless. logged: entries added to the care log, in words.
    struck: numbers of entries that an earlier answer had added and that hold no longer. said: to the grower.
    """

    line: NoticeLine
    answer: str
    outcome: str
    before: str
    late: bool
    logged: tuple[str, ...]
    struck: tuple[int, ...]
    said: str


@dataclass(frozen=True)
class ByToken:
    """
    What became of an answer through a link.

    state: "answered"; "unknown": the link is none of ours, or forgotten; "too-late": its time is over; "nothing-asked":
    the notice has no such line, or does not ask for such an answer. Nothing was stored but for "answered".
    notice: None for an unknown link. lines: those that were answered. said: a sentence for all but "answered", else "".
    """

    state: Literal["answered", "unknown", "too-late", "nothing-asked"]
    notice: Notice | None
    lines: tuple[Answered, ...]
    said: str


def answer_by_token(
    transaction: Transaction,
    garden: Garden,
    measures: Mapping[str, Measure],
    leaves: LeafNumbers,
    token: str,
    trees: Collection[str],
    said: str,
    by: By,
) -> ByToken:
    """
    What became of an answer that came with a token; with one that is not good, nothing is stored.

    garden: of the files alone. trees: whose lines are meant; none: all lines of the token's notice. said: the answer.
    by: the way on which it came.

    A token is good for as many answers as there are lines and changes of mind: the same answer twice changes nothing.

    Raises StoreRefused when what follows from the answer cannot be stored; the transaction must then not be committed.
    """
    found = find_token(transaction, token)
    meant = notice(transaction, found.notice) if found.notice else None
    if meant is None or found.good_until is None:
        return ByToken("unknown", None, (), "This link is not known, or long past. Nothing was stored.")
    if found.state == "too-late":
        until = found.good_until.astimezone(ZoneInfo(garden.site.time_zone))
        return ByToken(
            "too-late",
            meant,
            (),
            f"This link was good until {until:%Y-%m-%d %H:%M}. Nothing was stored; write what you did into the log.",
        )
    lines = [line for line in meant.lines if not trees or line.tree in trees]
    strangers = sorted(set(trees) - {line.tree for line in meant.lines})
    if strangers or not lines:
        whom = f" about {', '.join(strangers)}" if strangers else ""
        return ByToken("nothing-asked", meant, (), f"That notice asks nothing{whom}. Nothing was stored.")
    if said in ANSWERS_TO_QUESTIONS and meant.kind != "question":
        return ByToken("nothing-asked", meant, (), "That notice is no question about leaves. Nothing was stored.")
    answered = answer_lines(transaction, garden, measures, leaves, meant, lines, said, by)
    return ByToken("answered", meant, answered, "")


def answer_lines(
    transaction: Transaction,
    garden: Garden,
    measures: Mapping[str, Measure],
    leaves: LeafNumbers,
    meant: Notice,
    lines: Sequence[NoticeLine],
    said: str,
    by: By,
) -> tuple[Answered, ...]:
    """
    What became of one answer to some lines of a notice.

    garden: of the files alone. said: of ANSWERS. by: the way on which it came.

    Of lines that ask the same for one tree, because it is in two dangers, the first one tells what became of them all.

    Raises StoreRefused for an answer that the notice does not ask for; the transaction must then not be committed.
    """
    found: dict[tuple[str, str], Answered] = {}
    for line in lines:
        answered = _answered(transaction, garden, measures, leaves, meant, line, said, by)
        found.setdefault((line.tree, line.measure), answered)
    return tuple(found.values())


def _answered(
    transaction: Transaction,
    garden: Garden,
    measures: Mapping[str, Measure],
    leaves: LeafNumbers,
    meant: Notice,
    line: NoticeLine,
    said: str,
    by: By,
) -> Answered:
    now = transaction.now
    zone = ZoneInfo(garden.site.time_zone)
    recorded = record_answer(transaction, Answer(meant.id, line.danger, said, now, by), line.tree)
    note = f"answer to notice {meant.id}"
    if recorded.outcome == "same":
        again = f"you said {said} before; nothing changed."
        return Answered(line, said, recorded.outcome, recorded.before, recorded.late, (), (), again)
    struck = _taken_back(transaction, line, note) if recorded.outcome == "changed" else ()
    log = with_log(garden, entries(transaction)).log
    until_now = [entry for entry in log if entry.at <= now]
    standing = in_force(until_now, line.tree)
    if meant.kind in ASK_TO_BEGIN:
        standing = _put_on_lately(standing, until_now, line, now)
    follows = consequence(
        meant.kind,
        line,
        said,
        danger(transaction, line.danger) if line.danger else None,
        standing,
        frozenset(part for part in parts_of(line.measure) if part in measures and measures[part].refill),
        note,
        now.astimezone(zone),
        leaves,
    )
    in_garden = any(tree.id == line.tree for tree in garden.trees)
    added = [add(transaction, entry, zone, garden.log) for entry in follows.entries if in_garden]
    if follows.danger is not None:
        save(transaction, Change(dangers=(follows.danger,)))
    logged = tuple(f"{described(stored.entry)} (entry {stored.number})" for stored in added)
    words = follows.said if in_garden else "it is not in the garden any more; your answer is kept."
    changed = f"{words} Before, you said {recorded.before}." if recorded.before else words
    return Answered(line, said, recorded.outcome, recorded.before, recorded.late, logged, struck, changed)


def _put_on_lately(
    standing: Mapping[str, Entry], log: Sequence[Entry], line: NoticeLine, now: datetime
) -> dict[str, Entry]:
    """
    Measures in force on a line's tree without those covers of the night that it asks for and that went on long ago.

    Those are put on anew: the newest begin counts for whether a cover is relied on (measures.forgotten). What another
    one takes the place of, or what stays behind when the tree is carried away, is in force until then, however old.
    """
    newest = {entry.measure: entry.at for entry in log if entry.tree == line.tree and entry.work == "begin"}
    covers = [part for part in parts_of(line.measure) if part in NIGHT_COVERS]
    return {
        name: entry for name, entry in standing.items() if name not in covers or now - newest[name] < PUT_ON_ANEW_AFTER
    }


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
