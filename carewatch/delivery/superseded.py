"""Which messages that still wait would be wrong by now: a newer one says otherwise, or the matter is settled."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from carewatch.alerts.danger import Danger, Notice

# Messages that ask for work, and those that take their place.
ASKS = frozenset({"call", "worse", "repeat"})
SPEAKS_LAST = frozenset({*ASKS, "stand-down", "bring-back"})


def superseded(
    earlier: Sequence[Notice], new: Sequence[Notice], dangers: Mapping[str, Danger], now: datetime
) -> tuple[str, ...]:
    """
    The ids of earlier notices that must not go out any more where they have not yet.

    dangers: as they are now, by id; one that is not among them is over. now: aware.

    After an outage of the channel, "put fleece over it" must not arrive behind "no need any more". A notice of several
    lines goes while one of them holds: better once too often than not at all.
    """
    said = {line.danger for notice in new if notice.kind in SPEAKS_LAST for line in notice.lines}
    fresh = {notice.id for notice in new}

    def holds(danger_id: str) -> bool:
        danger = dangers.get(danger_id)
        return danger_id not in said and danger is not None and danger.state not in ("answered", "over")

    return tuple(
        notice.id
        for notice in earlier
        if notice.kind in ASKS
        and notice.id not in fresh
        and notice.useless_after >= now
        and notice.lines
        and not any(holds(line.danger) for line in notice.lines)
    )
