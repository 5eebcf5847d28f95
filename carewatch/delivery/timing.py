"""When a message may be sent, when it is tried again, and how long a sender may hold it."""

from dataclasses import dataclass
from datetime import datetime, time, timedelta, tzinfo

from carewatch.alerts.danger import Notice
from carewatch.delivery.channels import is_severe

# One call of a sender, with everything that it tries inside. Estimate: home connections and phone services answer
# within seconds; a self-hosted one on a small machine may take half a minute.
SEND_LIMIT = timedelta(seconds=60)
# A lease that has run out means that the taker is gone, not that it is slow.
LEASE = 2 * SEND_LIMIT
# The wait doubles from the one to the other (common practice): a short outage costs little, a long one few requests.
FIRST_WAIT = timedelta(seconds=30)
LONGEST_WAIT = timedelta(minutes=15)
# The picture goes along on so many tries: a connection that is too weak for it, or a service that breaks on it without
# saying so, must not lose the words. Judged.
PICTURE_TRIES = 2
# Share of a wait that chance takes away, so that channels that failed together do not return together. Estimate.
SPREAD = 0.25

# Doubling beyond this reaches LONGEST_WAIT in any case, and a float in the end.
_DOUBLINGS = 10


@dataclass(frozen=True)
class QuietHours:
    """
    Night rest.

    starts, ends: local times of day; over midnight when `starts` is the later one; none when they are the same.
    zone: of the garden.
    """

    starts: time
    ends: time
    zone: tzinfo

    def hold(self, moment: datetime) -> bool:
        """Whether the moment, aware, lies in the night rest: from `starts` up to, and not including, `ends`."""
        local = moment.astimezone(self.zone).time()
        if self.starts <= self.ends:
            return self.starts <= local < self.ends
        return local >= self.starts or local < self.ends


def may_send(notice: Notice, now: datetime, quiet: QuietHours) -> bool:
    """
    Whether the notice may go out now: due, not yet useless, and severe or a test when the night rest holds.

    now: aware.
    """
    if not notice.due_at <= now <= notice.useless_after:
        return False
    return notice.kind == "test" or is_severe(notice.severity) or not quiet.hold(now)


def next_try(attempts: int, now: datetime, useless_after: datetime, jitter: float) -> datetime | None:
    """
    When to try again after a transient failure, in the zone of `now`, or None when it is no use any more.

    attempts: tries so far, the failed one included, 1 or more. now, useless_after: aware.
    jitter: a number drawn by the caller, 0 to 1: 0 waits in full, 1 takes SPREAD off.

    A wait that would outlast the notice is cut to one last try that can still end in time.
    Raises ValueError for an attempt count or jitter out of range.
    """
    if attempts < 1:
        raise ValueError(f"attempts must be 1 or more, not {attempts}")
    if not 0 <= jitter <= 1:
        raise ValueError(f"jitter must be 0 to 1, not {jitter}")
    doubled = FIRST_WAIT * 2.0 ** min(attempts - 1, _DOUBLINGS)
    at = now + min(doubled, LONGEST_WAIT) * (1 - SPREAD * jitter)
    last_chance = useless_after - SEND_LIMIT
    if at <= last_chance:
        return at
    return last_chance if last_chance >= now + FIRST_WAIT else None


def lease_until(now: datetime) -> datetime:
    """Until when a message that is taken for sending belongs to the taker, in the zone of `now`."""
    return now + LEASE
