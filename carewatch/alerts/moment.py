"""One message per moment: what the day's rounds have to say rides along with a message that goes out anyway."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from carewatch.alerts.danger import Notice
from carewatch.alerts.rounds import Rounds, besides, in_rounds_hours, rounds_notice
from carewatch.alerts.timing import is_quiet
from carewatch.alerts.wording import LONGEST, unbroken
from carewatch.care.garden import NoticeRules

# Messages with which the rounds ride along, the one that is read first in front.
CARRIERS = ("call", "worse", "repeat", "bring-back", "stand-down", "season")
MORE = "More: see `carewatch rounds`."


def with_rounds(
    new: Sequence[Notice], before: Sequence[Notice], rounds: Rounds, rules: NoticeRules
) -> tuple[Notice, ...]:
    """
    The notices of this moment and the day's rounds: a notice of their own, or the end of another one, or nothing.

    new: what is said now. before: what was said before. The rounds are told once a day: who was told of
    anything since the hour of the rounds was told of the rounds with it.
    """
    daily = rounds_notice(rounds, rules)
    if daily is None or _were_told(before, rules, rounds.now):
        return tuple(new)
    carriers = sorted((notice for notice in new if notice.kind in CARRIERS), key=lambda item: CARRIERS.index(item.kind))
    if not carriers:
        return (*new, daily)
    carrier = carriers[0]
    named = {line.tree for notice in new for line in notice.lines}
    loaded = replace(carrier, body=_joined(carrier.body, besides(rounds, named)))
    return tuple(loaded if notice is carrier else notice for notice in new)


def are_due(before: Sequence[Notice], rules: NoticeRules, now: datetime) -> bool:
    """Whether the day's rounds are told now, if there is anything to tell. now: in the site's zone."""
    return in_rounds_hours(now, rules) and not is_quiet(now, rules) and not _were_told(before, rules, now)


def _were_told(before: Sequence[Notice], rules: NoticeRules, now: datetime) -> bool:
    """Whether the day's rounds were told, by themselves or with another message."""
    told = [notice for notice in before if notice.kind in (*CARRIERS, "rounds")]
    return any(_since_rounds(notice, rules, now) for notice in told)


def is_taken(notices: Sequence[Notice], rules: NoticeRules, now: datetime) -> bool:
    """Whether something else has been said since the hour of the rounds: what can wait then waits for another day."""
    return any(
        notice.kind in CARRIERS and notice.kind != "season" and _since_rounds(notice, rules, now) for notice in notices
    )


def _since_rounds(notice: Notice, rules: NoticeRules, now: datetime) -> bool:
    """Whether a notice was made today, not before the hour of the rounds. now: in the site's zone."""
    made = notice.created_at.astimezone(now.tzinfo)
    return made.date() == now.date() and made.timetz().replace(tzinfo=None) >= rules.rounds_at


def _joined(body: str, paragraphs: Sequence[str]) -> str:
    """The body with as many whole paragraphs as fit."""
    for kept in range(len(paragraphs), -1, -1):
        more = [MORE] if kept < len(paragraphs) else []
        text = "\n\n".join([body, *map(unbroken, paragraphs[:kept]), *more])
        if len(text) <= LONGEST:
            return text
    return body
