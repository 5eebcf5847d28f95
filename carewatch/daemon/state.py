"""What the service remembers from run to run, under one name each among the facts of the database."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from carewatch.sqlite.text_time import time_of

STARTED_AT = "service.started-at"
PULSE_AT = "service.pulse-at"
REFRESH_MINUTES = "service.refresh-minutes"
# The files of the configuration: what is wrong with their newest content and since when, and what waits for a start.
FILES_REFUSED = "files.refused"
FILES_REFUSED_AT = "files.refused-at"
FILES_WAIT = "files.wait-for-start"
POLLED_AT = "poll.last-at"
POLL_NEXT_AT = "poll.next-at"
POLL_FAILED = "poll.failed"
EVALUATED_AT = "evaluation.last-at"
EVALUATE_NEXT_AT = "evaluation.next-at"
EVALUATED_ON = "evaluation.log-version"
EVALUATED_FORECAST = "evaluation.forecast"
# When MET Norway may be asked again, and what it said last: see weather_api.met_norway.Terms.
MET_NORWAY_TERMS = "poll.met-norway"
# Filling the record of past weather from the archive.
HISTORY_NEXT_AT = "history.next-at"
HISTORY_FAILED = "history.failed"
HISTORY_REFUSALS = "history.refusals"
HISTORY_AFTER = "history.after-evaluation"
COMPLETED_AT = "cycle.completed-at"
CYCLE_FAILED = "cycle.failed"
SUMMARY = "assessment.summary"
WATCHING_SINCE = "sight.watching-since"
SEEN_AT = "sight.seen-at"
BLIND_SINCE = "sight.blind-since"
SENT_AT = "delivery.last-sent-at"
HEARTBEAT_AT = "heartbeat.last-at"
KEPT_HOUSE_AT = "housekeeping.last-at"
# Followed by a notice and a channel: when a channel got a notice that others had before.
QUEUED_LATER = "queued."


# A clock that is set back by less makes a look late by as much, and that is all. Judged.
SET_BACK = timedelta(minutes=5)


def moment(facts: Mapping[str, str], name: str) -> datetime | None:
    """The time under a name, UTC; None where there is none, or something that is no time."""
    try:
        return time_of(facts[name]) if name in facts else None
    except ValueError:
        return None


@dataclass(frozen=True)
class Due:
    """What is to be done now: ask the weather service (which includes judging), or judge what is there."""

    poll: bool
    evaluate: bool

    @property
    def anything(self) -> bool:
        """Whether a cycle is to be run."""
        return self.poll or self.evaluate


def due(facts: Mapping[str, str], log_version: int, now: datetime, longest_wait_s: float) -> Due:
    """
    What is due by the clock and the log.

    longest_wait_s: a time that is further ahead was written when the clock was wrong, and counts as passed. [s]
    What was done later than now was done before the clock was set back: it is done again at once.
    """
    poll = _passed(facts, POLL_NEXT_AT, now, longest_wait_s) or _lies_ahead(facts, POLLED_AT, now)
    evaluate = _passed(facts, EVALUATE_NEXT_AT, now, longest_wait_s) or set_back(facts, now)
    # An answer or a new entry may change every call: it is not left until the hour is full.
    moved = EVALUATED_ON in facts and facts[EVALUATED_ON] != str(log_version)
    return Due(poll, poll or evaluate or moved)


def _passed(facts: Mapping[str, str], name: str, now: datetime, longest_wait_s: float) -> bool:
    at = moment(facts, name)
    return at is None or not 0 < (at - now).total_seconds() <= longest_wait_s


def set_back(facts: Mapping[str, str], now: datetime) -> bool:
    """Whether the last look lies ahead: the clock was set back since then."""
    return _lies_ahead(facts, COMPLETED_AT, now)


def _lies_ahead(facts: Mapping[str, str], name: str, now: datetime) -> bool:
    at = moment(facts, name)
    return at is not None and at - now > SET_BACK
