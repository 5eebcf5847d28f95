"""Fitting a message into its length: what matters less gives way first, what is to be done and what hurts last."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

from carewatch.alerts.wording import LONGEST, Message


class Rank(IntEnum):
    """In which order sentences give way where there is no room: the highest first, KEPT never. Judged."""

    KEPT = 0
    NAMES = 1
    REMARK = 2
    FIRST_REASON = 3
    STILL = 4
    REASON = 5
    NOTE = 6
    END = 7
    OTHER_REASON = 8
    ROUND = 9
    REJECTED = 10


@dataclass(frozen=True)
class Said:
    """One sentence of a message, and how easily it gives way."""

    text: str
    rank: Rank = Rank.KEPT


# Sentences that stand on one line; a paragraph is lines, and its first says what is to be done.
Line = list[Said]


def fitted_message(paragraphs: Sequence[Sequence[Line]], ending: Sequence[Line]) -> Message:
    """
    A message of paragraphs, with what matters less left out where all together is too long.

    ending: lines of the last paragraph, such as cautions.
    """
    blocks = [[list(line) for line in paragraph] for paragraph in [*paragraphs, ending]]
    while len(_joined([_text(block) for block in blocks])) > LONGEST:
        weakest = max((said.rank for block in blocks for line in block for said in line), default=Rank.KEPT)
        if weakest == Rank.KEPT:
            break
        line = next(
            line for block in reversed(blocks) for line in reversed(block) if any(said.rank == weakest for said in line)
        )
        line.remove(next(said for said in reversed(line) if said.rank == weakest))
    *first, last = (_text(block) for block in blocks)
    return message_of(first, last.split("\n") if last else [])


def message_of(paragraphs: Sequence[str], ending: Sequence[str]) -> Message:
    """
    A message of as many whole paragraphs as fit, the first one first, and a last paragraph that always stands.

    ending: lines of the last paragraph.
    """
    first = paragraphs[0].partition("\n")[0]
    return Message(first, _fitted(paragraphs, ending))


def fitted_lines(lines: Sequence[str], length: int) -> str:
    """As many whole lines as fit into a length [characters]; what is left out is counted."""
    for kept in range(len(lines), 0, -1):
        left = len(lines) - kept
        text = "\n".join([*lines[:kept], *([f"And {left} more: see `carewatch rounds`."] if left else [])])
        if len(text) <= length:
            return text
    return lines[0][:length]


def _text(block: Sequence[Line]) -> str:
    lines = (" ".join(said.text for said in line) for line in block)
    return "\n".join(line for line in lines if line)


def _joined(paragraphs: Sequence[str]) -> str:
    return "\n\n".join(text for text in paragraphs if text)


def _fitted(paragraphs: Sequence[str], ending: Sequence[str]) -> str:
    """As many whole paragraphs as fit, with the ending; what is left out is counted."""
    tail = "\n".join(ending)
    for kept in range(len(paragraphs), 0, -1):
        left = len(paragraphs) - kept
        more = f"And {left} more: see `carewatch rounds`." if left else ""
        text = _joined([*paragraphs[:kept], more, tail])
        if len(text) <= LONGEST:
            return text
    # One paragraph alone is too long: its first lines are what matters, and the ending is kept.
    room = LONGEST - len(tail) - 2 if tail else LONGEST
    lines = paragraphs[0].split("\n")
    while len(lines) > 1 and len("\n".join(lines)) > room:
        lines.pop()
    text = "\n".join(lines)
    return _joined([text, tail]) if len(text) <= room else text[:LONGEST]
