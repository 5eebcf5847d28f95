"""What is over and asks for nothing is said with the day's rounds, and again until a message with it has arrived."""

import json
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from carewatch.alerts.danger import Notice
from carewatch.alerts.reached import Arrival
from carewatch.alerts.wording import unbroken
from carewatch.sqlite.facts import Fact

LEFT_OVER = "rounds.left-over"
# For so long it is worth saying: by then who brought a tree in has found out that it stays. Judged.
WORTH = timedelta(days=7)


@dataclass(frozen=True)
class Sentence:
    """One sentence. since: day on which it was first to be said. notice: id of the message that has it; "": none."""

    text: str
    since: date
    notice: str = ""


@dataclass(frozen=True)
class LeftOver:
    """
    Sentences of earlier days.

    untold: no message had room for them, or the one that did has arrived nowhere and is given up. waiting: theirs is
    still on its way.
    """

    untold: tuple[Sentence, ...] = ()
    waiting: tuple[Sentence, ...] = ()

    def texts(self, asked: Collection[str] = ()) -> tuple[str, ...]:
        """What is to be said again. asked: trees of which something else is asked now; theirs waits."""
        return tuple(one.text for one in self.untold if not set(re.split(r"[ ,.:;()]+", one.text)) & set(asked))

    def after(self, said: Sequence[str], notices: Sequence[Notice], today: date) -> dict[str, Fact]:
        """
        What is to be remembered after a look.

        said: all that was to be said at this look, with what is said for the first time. notices: that it made, as they
        are sent.
        """
        known = {one.text: one for one in self.untold}
        found = {**known, **{text: known.get(text, Sentence(text, today)) for text in said}}
        told = [replace(one, notice=_of(one.text, notices)) for one in found.values()]
        kept = [one for one in (*told, *self.waiting) if today - one.since < WORTH]
        rows = [[one.text, one.since.isoformat(), one.notice] for one in kept]
        return {LEFT_OVER: json.dumps(rows, ensure_ascii=False) if rows else None}


def _of(text: str, notices: Sequence[Notice]) -> str:
    """The message that has a sentence whole, or ""."""
    return next((notice.id for notice in notices if unbroken(text) in notice.body), "")


def sentences(facts: Mapping[str, str]) -> tuple[Sentence, ...]:
    """The sentences that are remembered; none where nothing is, or something that cannot be read."""
    try:
        rows = json.loads(facts.get(LEFT_OVER, "[]"))
        return tuple(Sentence(str(text), date.fromisoformat(since), str(notice)) for text, since, notice in rows)
    except (ValueError, TypeError):
        return ()


def left_over(facts: Mapping[str, str], arrivals: Mapping[str, Arrival]) -> LeftOver:
    """
    What of the remembered sentences is to be said again, or may yet arrive; what has arrived is neither.

    arrivals: of the notices that they name; one that went to no channel is not among them, and has no more to say.
    """
    known = sentences(facts)
    gone = {name for name, each in arrivals.items() if each.first is None and not each.open}
    open_still = {name for name, each in arrivals.items() if each.first is None and each.open}
    return LeftOver(
        tuple(replace(one, notice="") for one in known if not one.notice or one.notice in gone),
        tuple(one for one in known if one.notice in open_still),
    )
