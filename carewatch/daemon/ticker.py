"""What keeps the ticks coming when the system's clock is set: the scheduler goes by it, and trees do not wait."""

import logging
from datetime import UTC, datetime

from apscheduler.schedulers.base import BaseScheduler

LOG = logging.getLogger(__name__)


def brought_back(scheduler: BaseScheduler, now: datetime | None = None) -> tuple[str, ...]:
    """
    Names of the jobs that waited for a time too far off, which a clock set back leaves behind; they are due at once.

    now: aware; None for the system's clock, by which the scheduler goes.
    """
    now = datetime.now(UTC) if now is None else now
    found = []
    for job in scheduler.get_jobs():
        # A job at rest is due within one interval; two leave room for one that is just being put off.
        if job.next_run_time is not None and job.next_run_time - now > 2 * job.trigger.interval:
            job.modify(next_run_time=now)
            found.append(str(job.id))
    if found:
        LOG.warning("The system's clock was set back; done at once: %s.", ", ".join(found))
    return tuple(found)
