"""What a judgement rests on, as it is remembered and as it is told."""

import json
from dataclasses import replace
from datetime import datetime, timedelta

from carewatch.alerts.plan import Plan
from carewatch.alerts.timing import between
from carewatch.alerts.wording import LONGEST, clock_time, day_word
from carewatch.daemon.job import Judged, Summary

# A forecast older than this says so where something rests on it, with a service that does not answer, and with one that
# does and has nothing newer: models run every six hours. Judged.
OLD, OLD_ALTHOUGH_ANSWERED = timedelta(hours=6), timedelta(hours=12)


def with_source(planned: Plan, said: str) -> Plan:
    """The plan with a last line in every notice on whose forecast stands in; it changes nothing about what is news."""
    if not said:
        return planned
    room = LONGEST - len(said) - 1
    bodies = [notice.body if len(notice.body) <= room else notice.body[: room - 1] + "…" for notice in planned.notices]
    notices = tuple(
        replace(notice, body=f"{body}\n{said}") for notice, body in zip(planned.notices, bodies, strict=True)
    )
    return replace(planned, notices=notices)


def with_age(planned: Plan, issued_at: datetime, now: datetime, failing: str = "") -> Plan:
    """
    The plan with a last line in every notice on the age of its forecast, if that is an old one.

    issued_at, now: in the site's zone. failing: the service that does not answer, or "".
    """
    if between(issued_at, now) <= (OLD if failing else OLD_ALTHOUGH_ANSWERED):
        return planned
    yesterday = issued_at.date() == now.date() - timedelta(days=1)
    when = f"{'yesterday' if yesterday else day_word(issued_at, now)} {clock_time(issued_at)}"
    return with_source(planned, f"From a forecast of {when}{f', as {failing} does not answer' if failing else ''}.")


def summary_text(judged: Judged, summary: Summary) -> str:
    """What a judgement rests on, as JSON text for whoever shows the state of the service."""
    return json.dumps(
        {
            "source": summary.source,
            "issued_at": summary.issued_at.isoformat(timespec="seconds"),
            "members": summary.members,
            "members_from": summary.members_from,
            "hours": summary.hours,
            "missing": summary.missing,
            "estimated": summary.estimated,
            "notes": summary.notes,
            "assumed": summary.assumed,
            "unjudged": dict(judged.unjudged),
        },
        ensure_ascii=False,
    )
