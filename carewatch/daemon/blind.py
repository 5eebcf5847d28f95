"""The watch that has had no usable forecast for long says so once, and once when it sees again."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo

from carewatch.alerts.danger import Notice
from carewatch.alerts.messages import blind_message, sees_again_message
from carewatch.alerts.notices import identity
from carewatch.alerts.wording import Message
from carewatch.daemon.state import BLIND_SINCE, SEEN_AT, WATCHING_SINCE, moment
from carewatch.sqlite.facts import Fact

# A blind watch stays news until it sees again, when the message is withdrawn if nobody got it. That it sees again is
# news for a day. Judged.
BLIND_USEFUL = timedelta(days=14)
SEES_USEFUL = timedelta(hours=24)


@dataclass(frozen=True)
class Looked:
    """
    What to say about the watch itself, and what to remember.

    blind: whether it is now. withdrawn: id of the notice that is not needed any more, or "".
    """

    blind: bool
    notices: tuple[Notice, ...]
    facts: Mapping[str, Fact]
    withdrawn: str = ""


def looked(
    facts: Mapping[str, str], issued_at: datetime | None, now: datetime, blind_after: timedelta, why: str, zone: tzinfo
) -> Looked:
    """
    Whether the watch is blind, after a look at the weather.

    facts: as they stand. issued_at: of the forecast that was judged on, aware; None when there was no judgement.
    why: what kept it from seeing, a sentence without its full stop, or "".
    """
    since = moment(facts, WATCHING_SINCE) or now
    # Never later than now: a time from when the clock was wrong would keep it silent.
    seen = min(now, max(filter(None, (moment(facts, SEEN_AT), issued_at)), default=since))
    remembered: dict[str, Fact] = {WATCHING_SINCE: since, SEEN_AT: seen}
    blind = now - seen > blind_after
    was_blind = moment(facts, BLIND_SINCE)
    local = now.astimezone(zone)
    if blind and was_blind is None:
        message = blind_message(seen.astimezone(zone), local, why)
        notice = _notice("blind", "Moderate", message, now, BLIND_USEFUL, seen)
        return Looked(True, (notice,), {**remembered, BLIND_SINCE: seen})
    if not blind and was_blind is not None:
        message = sees_again_message(was_blind.astimezone(zone), local)
        notice = _notice("sees-again", "Minor", message, now, SEES_USEFUL, was_blind)
        withdrawn = identity("notice", _key("blind", was_blind))
        return Looked(False, (notice,), {**remembered, BLIND_SINCE: None}, withdrawn)
    return Looked(blind, (), remembered)


def _key(kind: str, since: datetime) -> str:
    return f"{kind}:{since.astimezone(UTC).isoformat(timespec='seconds')}"


def _notice(kind: str, severity: str, message: Message, now: datetime, useful: timedelta, since: datetime) -> Notice:
    key = _key(kind, since)
    return Notice(
        id=identity("notice", key),
        kind=kind,
        severity=severity,
        title=message.title,
        body=message.body,
        created_at=now,
        due_at=now,
        useless_after=now + useful,
        dedup=identity("key", key),
    )
