"""What the grower said to the lines of notices."""

from dataclasses import dataclass
from datetime import datetime
from sqlite3 import Row

from carewatch.alerts.danger import ANSWERS, Answer, NoticeLine
from carewatch.sqlite.database import Snapshot, Transaction
from carewatch.sqlite.refused import StoreRefused
from carewatch.sqlite.text_time import time_of, time_text, whole_second

ANSWERS_TO_QUESTIONS = ("hang", "firm")


@dataclass(frozen=True)
class Recorded:
    """
    What became of an answer.

    outcome: "new"; "same": the line had this answer already, nothing was stored; "changed": it replaced `before`.
    before: the answer that stood, or "". late: given after the notice had become useless.
    line: what was answered.
    """

    outcome: str
    before: str
    late: bool
    line: NoticeLine


def record_answer(transaction: Transaction, answer: Answer, tree: str = "") -> Recorded:
    """
    What became of the answer: one stands per line, an earlier one that differs is kept but does not count any more.

    tree: which line is meant, where a notice asks about trees and no danger.

    Raises StoreRefused when there is no such notice or line, when several lines may be meant, and for an answer that
    the notice does not ask for.
    """
    if answer.answer not in ANSWERS:
        raise StoreRefused(f"{answer.answer!r} is no answer; it is one of {', '.join(ANSWERS)}")
    found = transaction.execute("SELECT kind, useless_after FROM notice WHERE id = ?", (answer.notice,)).fetchone()
    if found is None:
        raise StoreRefused(f"there is no notice {answer.notice}")
    if answer.answer in ANSWERS_TO_QUESTIONS and found["kind"] != "question":
        raise StoreRefused(f"notice {answer.notice} is no question; answer it with done, skip or later")
    position, line = _line(transaction, answer, tree)
    late = whole_second(answer.at) > time_of(found["useless_after"])
    standing = transaction.execute(
        "SELECT number, answer FROM answer WHERE notice = ? AND position = ? AND replaced_at IS NULL",
        (answer.notice, position),
    ).fetchone()
    before = "" if standing is None else str(standing["answer"])
    if before == answer.answer:
        return Recorded("same", before, late, line)
    if standing is not None:
        transaction.execute(
            "UPDATE answer SET replaced_at = ? WHERE number = ?", (time_text(answer.at), standing["number"])
        )
    transaction.execute(
        "INSERT INTO answer (notice, position, answer, answered_at, answered_by) VALUES (?, ?, ?, ?, ?)",
        (answer.notice, position, answer.answer, time_text(answer.at), answer.by),
    )
    return Recorded("changed" if before else "new", before, late, line)


def answers_to(snapshot: Snapshot, notice_id: str) -> tuple[Answer, ...]:
    """The answers that stand to a notice, in the order of its lines."""
    rows = snapshot.execute(
        "SELECT answer.*, danger FROM answer JOIN notice_line USING (notice, position) "
        "WHERE notice = ? AND replaced_at IS NULL ORDER BY position",
        (notice_id,),
    )
    return tuple(_answer(row) for row in rows)


def answers_since(snapshot: Snapshot, since: datetime) -> tuple[Answer, ...]:
    """The answers that stand to notices created at `since` (aware) or later, in the order in which they were given."""
    rows = snapshot.execute(
        "SELECT answer.*, danger FROM answer JOIN notice_line USING (notice, position) "
        "JOIN notice ON notice.id = answer.notice WHERE created_at >= ? AND replaced_at IS NULL ORDER BY number",
        (time_text(since),),
    )
    return tuple(_answer(row) for row in rows)


def _line(transaction: Transaction, answer: Answer, tree: str) -> tuple[int, NoticeLine]:
    rows = transaction.execute(
        "SELECT position, danger, tree, measure FROM notice_line WHERE notice = :notice "
        "AND coalesce(danger, '') = :danger AND (:tree = '' OR tree = :tree) ORDER BY position",
        {"notice": answer.notice, "danger": answer.danger, "tree": tree},
    ).fetchall()
    if not rows:
        meant = " ".join(filter(None, (answer.danger and f"about danger {answer.danger}", tree and f"about {tree}")))
        raise StoreRefused(f"notice {answer.notice} has no line {meant or 'that can be answered'}")
    if len(rows) > 1:
        trees = ", ".join(row["tree"] for row in rows)
        raise StoreRefused(f"notice {answer.notice} asks about several trees ({trees}): say which one")
    row = rows[0]
    return int(row["position"]), NoticeLine(row["danger"] or "", row["tree"], row["measure"])


def _answer(row: Row) -> Answer:
    return Answer(row["notice"], row["danger"] or "", row["answer"], time_of(row["answered_at"]), row["answered_by"])
