"""What stands between assessments: dangers with identity, notices and their lines, answers."""

from dataclasses import dataclass
from datetime import datetime

# Life of a danger: first seen far off, spoken of, answered or not, and past.
STATES = ("foreseen", "raised", "answered", "lapsed", "over")
# Kinds of notices. "call": act; "repeat": the same, unanswered; "worse": act more, or sooner; "stand-down": not needed
# after all; "bring-back": over, undo it; "rounds": the day's list; "blind" and "sees-again": the watch itself;
# "question" and "season": asked of the grower, and plans for a season; "test": from `notify test`.
NOTICE_KINDS = (
    "call",
    "repeat",
    "worse",
    "stand-down",
    "bring-back",
    "rounds",
    "season",
    "question",
    "blind",
    "sees-again",
    "test",
)
ANSWERS = ("done", "skip", "later", "hang", "firm")
# Words of the OASIS Common Alerting Protocol 1.2, section 3.2.2, in rising order.
SEVERITIES = ("Unknown", "Minor", "Moderate", "Severe", "Extreme")

# Harms of the place where a tree stands, and not of the weather: whoever carries it away from there does so for good.
OF_ITS_PLACE = ("dark", "forcing")


@dataclass(frozen=True)
class Danger:
    """
    One hazard to one tree, from when it is first foreseen until it is over.

    id: 16 lower-case hex digits, given once. tree, hazard: whom and what.
    starts, ends: credible interval, UTC. severity: SEVERITIES. probability, loss: [0-1]
    peak, limit, unit: of the spell.
    measure: chosen, such as "fleece" or "move:shed"; "" when nothing is worth doing.
    act_by, undo_at: UTC. revision: counts material changes, from 1.
    state: STATES. first_seen_at: UTC. raised_at: when its first call was planned.
    spoken_severity, spoken_measure, spoken_act_by, spoken_at: what the grower was last told.
    answer: of ANSWERS or "". below_runs: model runs in a row that no longer saw it.
    in_force: the measure was answered "done" or logged as begun.
    shade_days: in shade before it goes back into the sun when it is brought out again, as long as its stay is known to
    be; 0: none, or its stay is not known to be long. [d]
    """

    id: str
    tree: str
    hazard: str
    starts: datetime
    ends: datetime
    severity: str
    probability: float
    loss: float
    peak: float
    limit: float
    unit: str
    measure: str
    act_by: datetime | None
    undo_at: datetime | None
    revision: int
    state: str
    first_seen_at: datetime
    raised_at: datetime | None = None
    spoken_severity: str = ""
    spoken_measure: str = ""
    spoken_act_by: datetime | None = None
    spoken_at: datetime | None = None
    answer: str = ""
    below_runs: int = 0
    in_force: bool = False
    shade_days: int = 0


@dataclass(frozen=True)
class NoticeLine:
    """One line of a notice that can be answered: the danger it is about and the measure it asks for."""

    danger: str
    tree: str
    measure: str


@dataclass(frozen=True)
class Notice:
    """
    One message to the person.

    id: 16 lower-case hex digits. kind: NOTICE_KINDS. severity: SEVERITIES.
    title: first line, sufficient on a lock screen; body: whole text, at most 1,000 characters.
    created_at; due_at: not to be sent earlier; useless_after: never to be sent later. UTC.
    repeats: id of the notice that it repeats, or "".
    dedup: key under which this notice may exist only once (such as "call:<danger>:<revision>" or "rounds:2026-11-05").
    """

    id: str
    kind: str
    severity: str
    title: str
    body: str
    created_at: datetime
    due_at: datetime
    useless_after: datetime
    dedup: str
    repeats: str = ""
    lines: tuple[NoticeLine, ...] = ()


@dataclass(frozen=True)
class Answer:
    """What the grower said to one line of a notice: of ANSWERS; at: UTC; by: "command" or "page"."""

    notice: str
    danger: str
    answer: str
    at: datetime
    by: str
