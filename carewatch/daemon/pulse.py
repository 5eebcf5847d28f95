"""Whether the service lives: no job past its limit, the outbox looked at lately. Outages elsewhere do not count."""

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

# Longer than everything that it may wait for: two fetches of 90 s, three judgements of 300 s, and sends of 60 s. [s]
JOB_LIMIT_S = 1500.0
# Two ticks of 30 s and a send of 60 s, twice. [s]
DELIVER_LIMIT_S = 240.0
# Out of order for so long, the process ends, so that what started it starts it anew: as WatchdogSec does. [s]
GIVE_UP_S = 300.0


class Pulse:
    """
    What each job did last. Safe to share between threads.

    monotonic: a clock that nobody sets. [s]
    """

    def __init__(self, monotonic: Callable[[], float] = time.monotonic) -> None:
        self._monotonic = monotonic
        self._changing = threading.Lock()
        self._since_s: dict[str, float] = {}
        self._stepped_s: dict[str, float] = {"deliver": monotonic()}

    @contextmanager
    def at_work(self, job: str) -> Iterator[None]:
        """The job is at work while the block runs."""
        with self._changing:
            self._since_s[job] = self._monotonic()
        self.step(job)
        try:
            yield
        finally:
            with self._changing:
                self._since_s.pop(job, None)

    def step(self, job: str) -> None:
        """The job gets on."""
        with self._changing:
            self._stepped_s[job] = self._monotonic()

    def working(self) -> tuple[str, ...]:
        """The jobs that are at work."""
        with self._changing:
            return tuple(self._since_s)

    def ailing(self) -> str:
        """Why the service should be started anew, or "" when it lives."""
        now_s = self._monotonic()
        with self._changing:
            slow = [job for job, since_s in self._since_s.items() if now_s - since_s > JOB_LIMIT_S]
            idle_s = now_s - self._stepped_s["deliver"]
        if slow:
            return f"{', '.join(slow)} has been at work for longer than {JOB_LIMIT_S:.0f} s"
        return f"the outbox was not looked at for {idle_s:.0f} s" if idle_s > DELIVER_LIMIT_S else ""


class GivingUp:
    """How long it has been out of order. monotonic: a clock that nobody sets. [s]"""

    def __init__(self, monotonic: Callable[[], float] = time.monotonic) -> None:
        self._monotonic = monotonic
        self._since_s: float | None = None

    def after(self, ailing: str) -> bool:
        """Whether it has been so for too long. ailing: what is out of order now, or "" when nothing is."""
        if not ailing:
            self._since_s = None
        elif self._since_s is None:
            self._since_s = self._monotonic()
        return self._since_s is not None and self._monotonic() - self._since_s >= GIVE_UP_S
