"""Which channels a notice goes to: the first ones at once, the next ones when those do not get through."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from carewatch.alerts.danger import SEVERITIES, Notice

# A severe notice that no channel has taken for this long goes to the next ones too. Estimate: five tries fit into it
# (see timing.FIRST_WAIT), which a restart of a router outlasts and a broken service does not.
NEXT_CHANNEL_AFTER = timedelta(minutes=10)
# About the watch itself: a garden that nobody watches may hold a danger of any severity.
ABOUT_THE_WATCH = frozenset({"blind", "sees-again", "test"})

_MINOR = SEVERITIES.index("Minor")
_SEVERE = SEVERITIES.index("Severe")


@dataclass(frozen=True)
class Channel:
    """
    One way to reach the person.

    name: as in the configuration. order: lower is tried earlier; channels of the same order are tried together.
    from_severity: the least severity that it carries, of SEVERITIES in any case of letters.
    """

    name: str
    order: int
    from_severity: str


@dataclass(frozen=True)
class Standing:
    """
    How far one notice has come on one channel.

    state: "waiting" (not tried, or to be tried again), "sent" or "failed" (for good).
    since: UTC, when it was first due there.
    """

    channel: str
    state: Literal["waiting", "sent", "failed"]
    since: datetime


def severity_rank(severity: str) -> int:
    """The place of a severity in SEVERITIES, 0 the least. Raises ValueError for another word."""
    word = severity.capitalize()
    if word not in SEVERITIES:
        raise ValueError(f"{word} is no severity: {', '.join(SEVERITIES)}")
    return SEVERITIES.index(word)


def is_severe(severity: str) -> bool:
    """Whether a severity is severe or worse."""
    return severity_rank(severity) >= _SEVERE


def channels_for(notice: Notice, channels: Iterable[Channel]) -> tuple[Channel, ...]:
    """
    The channels that get the notice at once: those of the lowest order among the ones that carry it.

    Of a severe call that is repeated because nobody answered, on the same day or as the call of another night, the next
    ones too: perhaps the first are not looked at.
    """
    ranks = _ranks(notice, channels)
    unanswered = notice.kind == "repeat" or bool(notice.repeats)
    count = 2 if unanswered and is_severe(notice.severity) else 1
    return tuple(channel for rank in ranks[:count] for channel in rank)


def next_channels(
    notice: Notice, channels: Iterable[Channel], standings: Sequence[Standing], now: datetime
) -> tuple[Channel, ...]:
    """
    The channels that must get the notice now besides those that have it: one more order at the most, often none.

    standings: one for each channel that has the notice. now: aware.

    Nothing more once one channel has taken it or it is useless. When every channel that has it failed for good, the
    next ones get it, whatever its severity: a mistyped password must not swallow a message. A severe notice moves on
    also when none has taken it within NEXT_CHANNEL_AFTER, while the earlier ones are tried further.
    """
    if now > notice.useless_after or any(standing.state == "sent" for standing in standings):
        return ()
    had = {standing.channel for standing in standings}
    # A channel added since then, or one that failed to get its row, is served as part of its order.
    left = [missing for rank in _ranks(notice, channels) if (missing := _without(rank, had))]
    if not left:
        return ()
    failed = all(standing.state == "failed" for standing in standings)
    # The wait counts from the newest order that got it, so that each order has its time.
    late = bool(standings) and now - max(standing.since for standing in standings) >= NEXT_CHANNEL_AFTER
    return left[0] if failed or (late and is_severe(notice.severity)) else ()


def carries(channel: Channel, notice: Notice) -> bool:
    """
    Whether the notice is severe enough for the channel; notices about the watch itself always are.

    A notice of unknown severity (rounds, questions, seasons) counts as minor.
    """
    rank = max(_MINOR, severity_rank(notice.severity))
    return notice.kind in ABOUT_THE_WATCH or severity_rank(channel.from_severity) <= rank


def _ranks(notice: Notice, channels: Iterable[Channel]) -> list[tuple[Channel, ...]]:
    """The channels that carry the notice, grouped by rising order; inside an order as they were given."""
    carrying = [channel for channel in channels if carries(channel, notice)]
    orders = sorted({channel.order for channel in carrying})
    return [tuple(channel for channel in carrying if channel.order == order) for order in orders]


def _without(rank: tuple[Channel, ...], had: set[str]) -> tuple[Channel, ...]:
    return tuple(channel for channel in rank if channel.name not in had)
