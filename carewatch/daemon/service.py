"""The service: a ticker that ticks, jobs that ask the clock and the database what is due, and a way out."""

import logging
import os
import threading
import time
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from apscheduler.events import EVENT_JOB_ERROR, EVENT_JOB_MISSED, JobExecutionEvent
from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.schedulers.background import BackgroundScheduler

from carewatch.alerts.messages import kept_again_message, unkept_message
from carewatch.config.load import Loaded
from carewatch.config.tables import Tables
from carewatch.daemon.clock import Clock
from carewatch.daemon.cycle import Cycle, give_up, run_cycle
from carewatch.daemon.decide import AGAIN_AFTER
from carewatch.daemon.housekeeping import keep_house
from carewatch.daemon.notify_systemd import Systemd
from carewatch.daemon.pulse import GivingUp, Pulse
from carewatch.daemon.renewal import Renewal
from carewatch.daemon.signals import signals_caught
from carewatch.daemon.state import (
    FILES_REFUSED,
    HEARTBEAT_AT,
    KEPT_HOUSE_AT,
    POLL_NEXT_AT,
    PULSE_AT,
    REFRESH_MINUTES,
    STARTED_AT,
    Due,
    due,
    moment,
    set_back,
)
from carewatch.daemon.ticker import brought_back
from carewatch.daemon.unkept import Unkept, Word
from carewatch.daemon.wiring import Asked, Built, built
from carewatch.delivery.timing import LEASE
from carewatch.sqlite.care_log import log_version
from carewatch.sqlite.database import Database
from carewatch.sqlite.facts import all_facts, put_facts
from carewatch.sqlite.outbox import bring_forward
from carewatch.sqlite.refused import StoreRefused
from carewatch.worker.host import TaskFailed

LOG = logging.getLogger(__name__)

TICK_S, PULSE_S, HOUSE_S = 30.0, 60.0, 3600.0
# A pretended clock may move by hours at once: what is due then is looked for soon after.
PRETENDED_TICK_S = 0.2
HOUSE_EVERY = timedelta(days=1)
# No time in the database lies further ahead than the longest time between polls (1440 minutes and a tenth), or the
# longest wait that a source asks for (a month's quota). [s]
LONGEST_WAIT_S = 32 * 86400.0
# A send that is under way may take 60 s; the unit file allows 75 s for the whole stop. [s]
STOP_S = 65.0
# The main thread goes by no clock that can be set, and looks after the ticks so often. [s]
GUARD_S = 15.0
FINE, FAILED = 0, 1
# Whatever else is at work ends by itself within this, or is a fetch that may be cut off. Estimate. [s]
CUT_OFF_S = 2.0


class Service:
    """
    The jobs of the service. Each opens a connection of its own: one per thread.

    renewal: holds the program that the files ask for. stop: set when the service is to end.
    """

    def __init__(self, renewal: Renewal, systemd: Systemd, pulse: Pulse, stop: threading.Event) -> None:
        self._renewal = renewal
        self._systemd = systemd
        self._pulse = pulse
        self._stop = stop
        self._first = True
        self._unkept = Unkept()
        self._not_before: datetime | None = None
        self._scheduler = BackgroundScheduler(
            timezone=UTC,
            executors={name: ThreadPoolExecutor(1) for name in ("cycle", "deliver", "pulse", "house", "history")},
            # A late tick is still a tick, and many late ones are one.
            job_defaults={"misfire_grace_time": None, "coalesce": True, "max_instances": 1},
        )

    @property
    def _program(self) -> Built:
        """The program of the moment: a job that needs it twice takes it once."""
        return self._renewal.program

    def start(self) -> None:
        """Remember the start, then tick."""
        program, now = self._program, self._program.clock.now()
        refresh = str(program.loaded.settings.weather.refresh_minutes)
        try:
            with program.database.transaction(now) as transaction:
                put_facts(transaction, {STARTED_AT: now, REFRESH_MINUTES: refresh})
        except StoreRefused as refused:
            # A service that does not start tells nobody; one that runs says it to the person.
            LOG.error("start: %s", refused.reason)  # noqa: TRY400 - the reason says it all
        # A tick that finds the last one still at work is left out; that is no news.
        logging.getLogger("apscheduler").setLevel(logging.ERROR)
        self._scheduler.add_listener(_job_failed, EVENT_JOB_ERROR | EVENT_JOB_MISSED)
        tick_s = PRETENDED_TICK_S if program.clock.pretended else TICK_S
        pulse_s = min(PULSE_S, (self._systemd.watchdog_s or PULSE_S) / 2)
        self._tick("cycle", self.look, tick_s)
        self._tick("deliver", self.deliver, tick_s)
        self._tick("pulse", self.beat, min(pulse_s, 5 * tick_s) if program.clock.pretended else pulse_s)
        self._tick("house", self.keep_house, tick_s if program.clock.pretended else HOUSE_S)
        self._tick("history", self.fill_history, 2 * tick_s)
        self._scheduler.start()

    def _tick(self, name: str, job: Callable[[], None], every_s: float) -> None:
        self._scheduler.add_job(
            self._guarded(name, job),
            "interval",
            seconds=every_s,
            id=name,
            executor=name,
            next_run_time=datetime.now(UTC),
        )

    def _guarded(self, name: str, job: Callable[[], None]) -> Callable[[], None]:
        """The job, with what it raises logged: it comes back with the next tick."""

        def guarded() -> None:
            if self._stop.is_set():
                return
            with self._pulse.at_work(name):
                try:
                    job()
                except StoreRefused as refused:
                    LOG.error("%s: %s", name, refused.reason)  # noqa: TRY400 - the reason says it all
                except Exception:
                    LOG.exception("%s failed", name)

        return guarded

    def look(self) -> None:
        """Take in what the files say now, and run a cycle if one is due."""
        now = self._program.clock.now()
        with self._program.database.another() as database:
            if self._renewal.look(database, now):
                self._first = True
            program = self._program
            self._mind_the_clock(database, now)
            wanted = self._wanted(database, now)
            if not wanted.anything:
                return
            self._first = False
            self._not_before = now + AGAIN_AFTER
            cycle = self._cycle(database, now, wanted.poll)
            self._not_before = None
            if cycle is None:
                return
            beaten = cycle.complete and program.heartbeat.beat()
            with database.transaction(program.clock.now()) as transaction:
                if beaten:
                    put_facts(transaction, {HEARTBEAT_AT: transaction.now})
                facts = all_facts(transaction)
        self._systemd.status(status_text(cycle, facts, ZoneInfo(program.loaded.garden.site.time_zone)))

    def _mind_the_clock(self, database: Database, now: datetime) -> None:
        """After the clock was set back, nothing waits for the time that it showed before."""
        with database.snapshot(now) as snapshot:
            back = set_back(all_facts(snapshot), now)
        if back and self._not_before is None:
            with database.transaction(now) as transaction:
                bring_forward(transaction, LEASE)
            LOG.warning("The clock was set back since the last look; the garden is looked at again at once.")

    def _cycle(self, database: Database, now: datetime, poll: bool) -> Cycle | None:
        """The cycle; None when the service was stopped meanwhile."""
        parts = self._program.parts
        try:
            cycle = run_cycle(parts, database, now, poll)
        except StoreRefused:
            raise
        except TaskFailed:
            return None
        except Exception as error:
            LOG.exception("The cycle failed")
            cycle = give_up(parts, database, now, f"the program failed ({type(error).__name__})")
        LOG.info(
            "Looked at %s: trees in danger %s, new notices %d%s.",
            "new weather" if poll else "the weather known",
            len(cycle.judged.calls) if cycle.judged else "unknown",
            len(cycle.notices),
            "".join(f"; {problem}" for problem in cycle.problems),
        )
        return cycle

    def _wanted(self, database: Database, now: datetime) -> Due:
        with database.snapshot(now) as snapshot:
            wanted = due(all_facts(snapshot), log_version(snapshot), now, LONGEST_WAIT_S)
            if self._first:
                # What happened while nobody watched, and what the configuration says now, is looked at once; the
                # weather is asked for only when it is time or there is none for this site.
                missing = self._program.parts.forecasts.last_good(snapshot) is None
                return Due(wanted.poll or missing, True)
        # After a cycle that the database refused, nothing in it says when to try again.
        if self._not_before is not None and timedelta() < self._not_before - now <= AGAIN_AFTER:
            return Due(False, False)
        return wanted

    def deliver(self) -> None:
        """Send what is due."""
        with self._program.database.another() as database:
            self._program.delivery.deliver_due(database)

    def beat(self) -> None:
        """Tell the service manager that all is alive, if it is."""
        program = self._program
        if program.host is not None:
            program.host.end_if_idle()
        ailing = self._pulse.ailing()
        if ailing:
            LOG.error("The watchdog is not told that all is well: %s", ailing)
        else:
            self._systemd.alive()
        try:
            with program.database.another() as database, database.transaction(program.clock.now()) as transaction:
                put_facts(transaction, {PULSE_AT: transaction.now})
        except StoreRefused as refused:
            LOG.error("pulse: %s", refused.reason)  # noqa: TRY400 - the reason says it all
            word = self._unkept.refused(program.clock.now(), refused.reason)
        else:
            word = self._unkept.stored()
        if word is not None and self._told(program, word):
            self._unkept.told(word, program.clock.now())

    def _told(self, program: Built, word: Word) -> bool:
        """Whether the person was told of the database, without it."""
        zone = ZoneInfo(program.loaded.garden.site.time_zone)
        since, now = word.since.astimezone(zone), program.clock.now().astimezone(zone)
        said = kept_again_message(since, now) if word.what == "kept-again" else unkept_message(since, now, word.why)
        return program.delivery.said_past_the_outbox(said, "Minor" if word.what == "kept-again" else "Moderate")

    def guarded(self, giving_up: GivingUp) -> bool:
        """Look after the ticks, from a thread that needs none of them; False when the process must be started anew."""
        if self._scheduler.running:
            brought_back(self._scheduler)
        ailing = self._pulse.ailing()
        if not giving_up.after(ailing):
            return True
        LOG.critical("The service is out of order and ends, to be started anew: %s", ailing)
        return False

    def keep_house(self) -> None:
        """Once a day, throw away what is not kept."""
        now = self._program.clock.now()
        with self._program.database.another() as database:
            with database.snapshot(now) as snapshot:
                last = moment(all_facts(snapshot), KEPT_HOUSE_AT)
            if last is None or not timedelta() <= now - last < HOUSE_EVERY:
                keep_house(database, now)

    def fill_history(self) -> None:
        """Ask for one more stretch of past weather, if the garden was judged since the last one."""
        program, now = self._program, self._program.clock.now()
        if program.parts.forecasts.recorded:
            return
        with program.database.another() as database:
            program.parts.history.fill_after_a_cycle(database, now)

    def end(self) -> bool:
        """True when every job has ended; False when one hangs and the process should be left at once."""
        if self._program.host is not None:
            self._program.host.close()
        if self._scheduler.running:
            self._scheduler.shutdown(wait=False)
        until_s = time.monotonic() + STOP_S
        # A fetch may wait for minutes and loses nothing when it is cut off; a send is waited for.
        cut_off_s = time.monotonic() + CUT_OFF_S
        while time.monotonic() < until_s:
            if not self._pulse.working():
                return True
            if time.monotonic() > cut_off_s and not self._program.delivery.sending:
                return False
            time.sleep(0.02)
        return False


def serve(
    loaded: Loaded,
    tables: Tables,
    environ: Mapping[str, str],
    clock: Clock,
    fault: Callable[[str], None],
    read: Callable[[datetime], Loaded],
) -> None:
    """
    Run the service until SIGTERM or SIGINT.

    loaded: what the files said at the start. read: what they say at a moment (aware); raises ConfigErrors.

    Raises ServiceRefused for a configuration that cannot be run; StoreRefused when the database cannot be used or
    another service has it.
    """
    stop = threading.Event()
    pulse = Pulse()
    systemd = Systemd(environ)

    def stopping() -> bool:
        pulse.step("deliver")
        return stop.is_set()

    asked = Asked(own_process=True, dry_run=False, fault=fault, stopping=stopping)
    with built(loaded, tables, environ, clock, asked) as program, signals_caught() as asked_to_stop:
        service = Service(Renewal(program, read, stop.wait), systemd, pulse, stop)
        service.start()
        zone = loaded.garden.site.time_zone
        LOG.info("Watching %d trees from %s (%s).", len(loaded.garden.trees), loaded.config_file, zone)
        systemd.ready("watching")
        giving_up, well = GivingUp(), True
        while well and not asked_to_stop(GUARD_S):
            well = service.guarded(giving_up)
        stop.set()
        if well:
            LOG.info("Stopping.")
        systemd.stopping()
        if not service.end() or not well:
            # The claim on the database must not be given back while a thread may still write: the kernel does both.
            logging.shutdown()
            os._exit(FINE if well else FAILED)


def status_text(cycle: Cycle, facts: Mapping[str, str], zone: ZoneInfo) -> str:
    """One line on how things stand."""
    parts = []
    summary = cycle.judged.summary if cycle.judged else None
    if cycle.blind:
        parts.append("blind: no usable forecast")
    if summary is not None and cycle.judged is not None:
        parts.append(f"forecast of {summary.issued_at.astimezone(zone):%a %H:%M}, {len(cycle.judged.calls)} in danger")
    next_poll = moment(facts, POLL_NEXT_AT)
    if next_poll is not None:
        parts.append(f"next look {next_poll.astimezone(zone):%H:%M}")
    if FILES_REFUSED in facts:
        parts.append(f"a change of the files is not in force: {facts[FILES_REFUSED]}")
    return "; ".join([*parts, *cycle.problems])


def _job_failed(event: JobExecutionEvent) -> None:
    if event.code == EVENT_JOB_MISSED:
        LOG.error("%s was missed", event.job_id)
    else:
        LOG.error("%s ended with %r", event.job_id, event.exception)
