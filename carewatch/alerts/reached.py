"""Whom the messages reached: a call counts from when it arrived, and nobody is reproached for one that did not."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime

from carewatch.alerts.danger import Danger, Notice

# Messages that ask for something to be done for a danger.
TELLS = ("call", "worse", "repeat")


@dataclass(frozen=True)
class Reached:
    """
    What became of the messages on each danger; of a danger that is not named here all arrived when they were made.

    at: per danger, when its last message first arrived on any channel. waiting: those whose last message arrived
    nowhere and is still tried. unheard: those of which no message ever arrived.
    """

    at: Mapping[str, datetime] = field(default_factory=dict)
    waiting: Collection[str] = ()
    unheard: Collection[str] = ()

    def said_at(self, danger: Danger) -> datetime | None:
        """When the last message on it arrived, where that is known, or was made; None: it was never told."""
        return self.at.get(danger.id, danger.spoken_at)


@dataclass(frozen=True)
class Arrival:
    """What became of one message. first: on any channel, UTC, or None. open: it is still tried on some channel."""

    first: datetime | None
    open: bool


def reached(notices: Sequence[Notice], arrivals: Mapping[str, Arrival]) -> Reached:
    """
    What became of the messages on each danger.

    arrivals: by notice; one that went to no channel is not among them. notices: oldest first.
    """
    told: dict[str, list[Arrival]] = {}
    for notice in sorted(notices, key=lambda item: item.created_at.astimezone(UTC)):
        if notice.kind in TELLS and notice.id in arrivals:
            for danger in dict.fromkeys(line.danger for line in notice.lines if line.danger):
                told.setdefault(danger, []).append(arrivals[notice.id])
    last = {danger: found[-1] for danger, found in told.items()}
    return Reached(
        at={danger: arrival.first for danger, arrival in last.items() if arrival.first is not None},
        waiting=frozenset(danger for danger, arrival in last.items() if arrival.first is None and arrival.open),
        unheard=frozenset(danger for danger, found in told.items() if all(each.first is None for each in found)),
    )
