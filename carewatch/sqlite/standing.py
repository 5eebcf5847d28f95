"""What stands between assessments: read as a whole, planned upon, and saved as a whole."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import groupby
from sqlite3 import Row

from carewatch.alerts.danger import Answer, Danger, Notice, NoticeLine
from carewatch.sqlite.answers import answers_since
from carewatch.sqlite.care_log import log_version
from carewatch.sqlite.database import Snapshot, Transaction, Value
from carewatch.sqlite.facts import Fact, all_facts, put_facts
from carewatch.sqlite.outbox import queue
from carewatch.sqlite.questions import questions_asked
from carewatch.sqlite.refused import LogMoved, StoreRefused
from carewatch.sqlite.text_time import optional_text, optional_time, time_of, time_text


@dataclass(frozen=True)
class Standing:
    """
    What the last assessments left.

    dangers: all that are not over, by first sight. notices: those of the time that was asked for, oldest first.
    answers: those that stand, to notices of that time, in the order in which they were given.
    facts: times as text. log_version: as by `care_log.log_version`.
    questions: every tree that was ever asked about and when (UTC), oldest first.
    """

    dangers: tuple[Danger, ...]
    notices: tuple[Notice, ...]
    answers: tuple[Answer, ...]
    facts: Mapping[str, str]
    log_version: int
    questions: tuple[tuple[str, datetime], ...] = ()


@dataclass(frozen=True)
class Queued:
    """A notice for one channel. channel_order: lower is asked first. due_at: aware; None: as the notice says."""

    notice: str
    channel: str
    channel_order: int
    due_at: datetime | None = None


@dataclass(frozen=True)
class Change:
    """
    Everything that one plan changes.

    dangers: new or changed, as they are now. queued: of these notices, or of earlier ones.
    facts: as for `facts.put_facts`.
    """

    dangers: Sequence[Danger] = ()
    notices: Sequence[Notice] = ()
    queued: Sequence[Queued] = ()
    facts: Mapping[str, Fact] = field(default_factory=dict)


def standing(snapshot: Snapshot, since: datetime) -> Standing:
    """Everything that a plan is made upon. since: aware; notices created at this time or later are listed."""
    dangers = snapshot.execute("SELECT * FROM danger WHERE state <> 'over' ORDER BY first_seen_at, id")
    return Standing(
        dangers=tuple(_danger(row) for row in dangers),
        notices=notices_since(snapshot, since),
        answers=answers_since(snapshot, since),
        facts=all_facts(snapshot),
        log_version=log_version(snapshot),
        questions=questions_asked(snapshot),
    )


def save(transaction: Transaction, change: Change, assessed_on: int | None = None) -> tuple[str, ...]:
    """
    The ids of the notices that are new; one whose `dedup` is known already is left out, with its lines and its rows.

    assessed_on: the log version that the assessment stood on; None where it does not depend on the log.

    Raises LogMoved when the log has another version by now; StoreRefused when a danger would become another's. The
    transaction must then not be committed.
    """
    if assessed_on is not None and log_version(transaction) != assessed_on:
        raise LogMoved("the care log changed meanwhile: assess again")
    for danger in change.dangers:
        _save_danger(transaction, danger)
    new = tuple(notice.id for notice in change.notices if _save_notice(transaction, notice))
    left_out = {notice.id for notice in change.notices} - set(new)
    for row in change.queued:
        if row.notice not in left_out:
            queue(transaction, row.notice, row.channel, row.channel_order, row.due_at)
    put_facts(transaction, change.facts)
    return new


def notices_since(snapshot: Snapshot, since: datetime) -> tuple[Notice, ...]:
    """Every notice that was created at `since` (aware) or later, oldest first."""
    rows = snapshot.execute(
        "SELECT notice.*, position, danger, tree, measure FROM notice LEFT JOIN notice_line "
        "ON notice_line.notice = notice.id WHERE created_at >= ? ORDER BY created_at, id, position",
        (time_text(since),),
    )
    return tuple(_notice(list(group)) for _, group in groupby(rows, key=lambda row: row["id"]))


def notice(snapshot: Snapshot, notice_id: str) -> Notice | None:
    """The notice with this id, or None."""
    rows = snapshot.execute(
        "SELECT notice.*, position, danger, tree, measure FROM notice LEFT JOIN notice_line "
        "ON notice_line.notice = notice.id WHERE id = ? ORDER BY position",
        (notice_id,),
    ).fetchall()
    return _notice(rows) if rows else None


def danger(snapshot: Snapshot, danger_id: str) -> Danger | None:
    """The danger with this id, also when it is over, or None."""
    row = snapshot.execute("SELECT * FROM danger WHERE id = ?", (danger_id,)).fetchone()
    return None if row is None else _danger(row)


def dangers_since(snapshot: Snapshot, since: datetime) -> tuple[Danger, ...]:
    """Every danger whose interval ends at `since` (aware) or later, over or not, by first sight."""
    rows = snapshot.execute("SELECT * FROM danger WHERE ends >= ? ORDER BY first_seen_at, id", (time_text(since),))
    return tuple(_danger(row) for row in rows)


def _save_danger(transaction: Transaction, danger: Danger) -> None:
    saved = transaction.execute(
        "INSERT INTO danger (id, tree, hazard, starts, ends, severity, probability, loss, peak, limit_value, unit, "
        "measure, act_by, undo_at, revision, state, first_seen_at, raised_at, spoken_severity, spoken_measure, "
        "spoken_act_by, spoken_at, answer, below_runs, in_force, shade_days) VALUES (:id, :tree, :hazard, :starts, "
        ":ends, :severity, :probability, :loss, :peak, :limit_value, :unit, :measure, :act_by, :undo_at, :revision, "
        ":state, :first_seen_at, :raised_at, :spoken_severity, :spoken_measure, :spoken_act_by, :spoken_at, :answer, "
        ":below_runs, :in_force, :shade_days) ON CONFLICT (id) DO UPDATE SET starts = excluded.starts, "
        "ends = excluded.ends, severity = excluded.severity, probability = excluded.probability, loss = excluded.loss, "
        "peak = excluded.peak, limit_value = excluded.limit_value, unit = excluded.unit, measure = excluded.measure, "
        "act_by = excluded.act_by, undo_at = excluded.undo_at, revision = excluded.revision, state = excluded.state, "
        "raised_at = excluded.raised_at, spoken_severity = excluded.spoken_severity, "
        "spoken_measure = excluded.spoken_measure, spoken_act_by = excluded.spoken_act_by, "
        "spoken_at = excluded.spoken_at, answer = excluded.answer, below_runs = excluded.below_runs, "
        "in_force = excluded.in_force, shade_days = excluded.shade_days WHERE tree = excluded.tree "
        "AND hazard = excluded.hazard AND first_seen_at = excluded.first_seen_at",
        _danger_values(danger),
    )
    if saved.rowcount != 1:
        raise StoreRefused(f"danger {danger.id} would become that of another tree, hazard or first sight")


def _danger_values(danger: Danger) -> dict[str, Value]:
    return {
        "id": danger.id,
        "tree": danger.tree,
        "hazard": danger.hazard,
        "starts": time_text(danger.starts),
        "ends": time_text(danger.ends),
        "severity": danger.severity,
        # Arrays give numbers of their own kinds, which SQLite does not know.
        "probability": float(danger.probability),
        "loss": float(danger.loss),
        "peak": float(danger.peak),
        "limit_value": float(danger.limit),
        "unit": danger.unit,
        "measure": danger.measure,
        "act_by": optional_text(danger.act_by),
        "undo_at": optional_text(danger.undo_at),
        "revision": int(danger.revision),
        "state": danger.state,
        "first_seen_at": time_text(danger.first_seen_at),
        "raised_at": optional_text(danger.raised_at),
        "spoken_severity": danger.spoken_severity,
        "spoken_measure": danger.spoken_measure,
        "spoken_act_by": optional_text(danger.spoken_act_by),
        "spoken_at": optional_text(danger.spoken_at),
        "answer": danger.answer,
        "below_runs": int(danger.below_runs),
        "in_force": int(danger.in_force),
        "shade_days": int(danger.shade_days),
    }


def _danger(row: Row) -> Danger:
    return Danger(
        id=row["id"],
        tree=row["tree"],
        hazard=row["hazard"],
        starts=time_of(row["starts"]),
        ends=time_of(row["ends"]),
        severity=row["severity"],
        probability=row["probability"],
        loss=row["loss"],
        peak=_number(row["peak"]),
        limit=_number(row["limit_value"]),
        unit=row["unit"],
        measure=row["measure"],
        act_by=optional_time(row["act_by"]),
        undo_at=optional_time(row["undo_at"]),
        revision=row["revision"],
        state=row["state"],
        first_seen_at=time_of(row["first_seen_at"]),
        raised_at=optional_time(row["raised_at"]),
        spoken_severity=row["spoken_severity"],
        spoken_measure=row["spoken_measure"],
        spoken_act_by=optional_time(row["spoken_act_by"]),
        spoken_at=optional_time(row["spoken_at"]),
        answer=row["answer"],
        below_runs=row["below_runs"],
        in_force=bool(row["in_force"]),
        shade_days=row["shade_days"],
    )


def _number(stored: float | None) -> float:
    # SQLite keeps what is not a number as NULL.
    return math.nan if stored is None else stored


def _save_notice(transaction: Transaction, notice: Notice) -> bool:
    saved = transaction.execute(
        "INSERT INTO notice (id, kind, severity, title, body, created_at, due_at, useless_after, dedup, repeats) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (dedup) DO NOTHING",
        (
            notice.id,
            notice.kind,
            notice.severity,
            notice.title,
            notice.body,
            time_text(notice.created_at),
            time_text(notice.due_at),
            time_text(notice.useless_after),
            notice.dedup,
            notice.repeats or None,
        ),
    )
    if saved.rowcount != 1:
        return False
    for position, line in enumerate(notice.lines, start=1):
        transaction.execute(
            "INSERT INTO notice_line (notice, position, danger, tree, measure) VALUES (?, ?, ?, ?, ?)",
            (notice.id, position, line.danger or None, line.tree, line.measure),
        )
    return True


def _notice(rows: Sequence[Row]) -> Notice:
    """rows: the notice with each of its lines, or once with none."""
    first = rows[0]
    return Notice(
        id=first["id"],
        kind=first["kind"],
        severity=first["severity"],
        title=first["title"],
        body=first["body"],
        created_at=time_of(first["created_at"]),
        due_at=time_of(first["due_at"]),
        useless_after=time_of(first["useless_after"]),
        dedup=first["dedup"],
        repeats=first["repeats"] or "",
        lines=tuple(
            NoticeLine(row["danger"] or "", row["tree"], row["measure"]) for row in rows if row["position"] is not None
        ),
    )
