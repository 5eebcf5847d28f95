"""What a judgement rests on, as it is remembered and as it is told."""

import json
from dataclasses import replace

from carewatch.alerts.plan import Plan
from carewatch.alerts.wording import LONGEST
from carewatch.daemon.job import Judged, Summary


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
