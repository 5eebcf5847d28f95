"""One frost night under watch: real commands, a real database, servers that fail, and what must hold in the end."""

import json
import shutil
import signal
import sqlite3
import subprocess
import tempfile
import time
from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from carewatch.delivery.wording import AGAIN
from carewatch.sqlite.refused import StoreRefused
from tests.edges.watched import PROGRAM, Running, Watched, Web, cold_night
from tests.faults.servers import Sink, Taken, WeatherService
from tests.faults.starter import Ended, Starter

# The layer that must be spoken of, and two that bear the night: a maple sheds its coloured leaves anyway, and a pine is
# hardy (common practice).
LAYER, SPARED = "maple-layer-1", ("old-maple", "pine")
# Hours of the invented night in UTC, which is an hour behind the garden: morning, from noon on there is something to
# say, so that every hour counts, then dusk, night, and the next morning, when it is over.
MOMENTS = tuple(
    datetime(2026, 11, day, hour, tzinfo=UTC)
    for day, hour in ((5, 7), (5, 12), (5, 13), (5, 14), (5, 15), (5, 16), (5, 20), (6, 2), (6, 8))
)
MORNING, NOON = MOMENTS[:2]
# The sun sets there at 15:55 UTC (50.3 °N, 9.1 °E, from memory); work in the garden ends earlier.
DUSK = datetime(2026, 11, 5, 15, 40, tzinfo=UTC)
# The first hour of the invented weather that does not freeze any more after the cold night.
FROST_OVER = datetime(2026, 11, 6, 7, tzinfo=UTC)
AFTERWARDS = timedelta(minutes=10)
PATIENCE_S = 180.0
# A message that was on its way when its sender died has arrived by then. [s]
ON_ITS_WAY_S = 0.3
# Between two glances at what the service has done. [s]
LOOK_S = 0.2
OPEN_ROWS = "SELECT count(*) FROM outbox WHERE sent_at IS NULL AND failed_at IS NULL"


@dataclass
class Outcome:
    """
    What came of one night.

    delivered: the call for the layer arrived. repeats: messages that had arrived before, still_valid: of these, those
    that say so. killed: processes that died at their fault. problems: what should not have been, in words.
    """

    delivered: bool = False
    repeats: int = 0
    still_valid: int = 0
    killed: int = 0
    problems: list[str] = field(default_factory=list)


@dataclass
class Night:
    """
    The servers, the folder and the commands of one night.

    may_repeat: how many messages arrived without their sender knowing it. killed: processes that died at their fault.
    """

    watched: Watched
    starter: Starter
    weather: WeatherService
    sinks: Sequence[Sink]
    may_repeat: int = 0
    killed: int = 0
    problems: list[str] = field(default_factory=list)

    def look(self, at: datetime, fault: str = "", fresh: bool = False) -> Ended:
        """
        How `once --at` ended.

        fault: as CAREWATCH_FAULT takes it. fresh: by an interpreter of its own, as a person or a timer starts it.
        """
        self._set(at)
        arguments = ["once", "--json", "--at", at.isoformat(), "--config", str(self.watched.config)]
        environment = self.watched.environment({"CAREWATCH_FAULT": fault} if fault else {})
        if fresh:
            done = subprocess.run(
                [*PROGRAM, *arguments], capture_output=True, text=True, check=False, env=environment, timeout=PATIENCE_S
            )
            ended = Ended(done.returncode, done.stdout, done.stderr)
        else:
            ended = self.starter.run(arguments, environment)
        self._note(ended.err)
        if fault and ended.code == -signal.SIGKILL:
            self._killed()
        elif ended.code not in (0, 1) or not ended.out:
            self.problems.append(f"once at {at:%d %H:%M} ended with {ended.code}: {ended.err[-300:]}")
        return ended

    def looks(self, moments: Sequence[datetime]) -> None:
        """Look at each of these times."""
        for at in moments:
            self.look(at)

    @contextmanager
    def service(self, at: datetime, fault: str = "") -> Iterator[Running]:
        """`run`, while the block runs, with its clock standing at a time."""
        self._tick(at)
        with self.watched.service({"CAREWATCH_FAULT": fault} if fault else {}) as running:
            yield running
        self._note(running.log.read_text())

    def alive_after(self, running: Running, at: datetime) -> bool:
        """Whether the service looked at this time and sent what was due; False when it died at its fault."""
        self._tick(at)
        until_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < until_s:
            if running.process.poll() is not None:
                if running.process.returncode == -signal.SIGKILL:
                    self._killed()
                else:
                    self.problems.append(f"the service ended with {running.process.returncode}")
                return False
            if self._settled(at):
                return True
            time.sleep(LOOK_S)
        self.problems.append(f"the service did not look at {at:%d %H:%M}")
        return True

    def outcome(self, fault_until: datetime, spoken_on: str = "") -> Outcome:
        """
        What came of the night, after one more look that must bring nothing new.

        fault_until: when the fault was over. spoken_on: the channel that must have it, if it matters.
        """
        before = len(self.taken)
        last = self.look(MOMENTS[-1] + AFTERWARDS)
        self._check_quiet(last, before)
        self._check_database()
        found = Outcome(killed=self.killed, problems=self.problems)
        calls = [taken for taken in self.taken if LAYER in taken.text]
        arrived = [taken for taken in calls if taken.answered and spoken_on in ("", taken.channel)]
        in_time = FROST_OVER if fault_until >= DUSK else DUSK
        found.delivered = any(taken.at < in_time for taken in arrived)
        if not found.delivered:
            when = ", ".join(f"{taken.at:%d %H:%M}" for taken in arrived) or "never"
            self.problems.append(f"the call for {LAYER} was wanted before {in_time:%d %H:%M} and came: {when}")
        season = self._of_the_season()
        self.problems += [
            f"{tree} was spoken of: {taken.text}"
            for taken in self.taken
            for tree in SPARED
            if tree in taken.text and taken.title.removeprefix(AGAIN) not in season
        ]
        self._count_repeats(found, season)
        return found

    @property
    def taken(self) -> list[Taken]:
        """Whatever arrived, channel by channel."""
        return [taken for sink in self.sinks for taken in sink.taken]

    def _of_the_season(self) -> frozenset[str]:
        """Titles of plans for a season: the garden's long clock has one for any autumn, with or without a frost."""
        with closing(sqlite3.connect(self.watched.database)) as connection:
            return frozenset(row[0] for row in connection.execute("SELECT title FROM notice WHERE kind = 'season'"))

    def _count_repeats(self, found: Outcome, season: Collection[str]) -> None:
        seen: Counter[tuple[str, str]] = Counter()
        for taken in self.taken:
            key = (taken.channel, taken.title.removeprefix(AGAIN))
            seen[key] += 1
            if seen[key] > 1:
                found.repeats += 1
                found.still_valid += taken.title.startswith(AGAIN)
        of_danger = sorted({key for key in seen if key[1] not in season})
        if len(of_danger) > 1:
            self.problems.append(f"more than one thing was said: {'; '.join(title for _, title in of_danger)}")
        lost_answers = sum(not taken.answered for taken in self.taken)
        if found.repeats > self.may_repeat + lost_answers:
            self.problems.append(f"{found.repeats} repeats where {self.may_repeat + lost_answers} may be")
        if found.still_valid < found.repeats:
            self.problems.append(f"{found.repeats - found.still_valid} repeats read as if they were new")

    def _check_quiet(self, last: Ended, before: int) -> None:
        try:
            said: dict[str, Any] = json.loads(last.out)
        except ValueError:
            # What it ended with instead is noted already.
            return
        if not said["complete"]:
            self.problems.append(f"afterwards the look was incomplete: {said['problems']}")
        if said["notices"] or len(self.taken) > before:
            self.problems.append(f"afterwards there was something new: {said['notices']}")

    def _check_database(self) -> None:
        with closing(sqlite3.connect(self.watched.database)) as connection:
            self.problems += _damage(connection)
            stuck = connection.execute(OPEN_ROWS).fetchone()[0]
            if stuck:
                self.problems.append(f"{stuck} rows of the outbox are stuck")

    def _killed(self) -> None:
        """Note what the dead left: a database that is whole, and messages that it did not know to have arrived."""
        self.killed += 1
        time.sleep(ON_ITS_WAY_S)
        database = self.watched.database
        if not database.exists():
            return
        # A copy: to look at it would already repair it.
        with tempfile.TemporaryDirectory() as folder:
            for path in (database, database.with_name(f"{database.name}-wal")):
                if path.exists():
                    shutil.copy(path, folder)
            with closing(sqlite3.connect(Path(folder) / database.name)) as connection:
                self.problems += _damage(connection)
                known = connection.execute("SELECT count(*) FROM outbox WHERE sent_at IS NOT NULL").fetchone()[0]
        self.may_repeat += len({(taken.channel, taken.title) for taken in self.taken if taken.answered}) - known

    def _settled(self, at: datetime) -> bool:
        if not self.watched.database.exists():
            return False
        text = at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
        try:
            if self.watched.facts().get("cycle.completed-at", "") < text:
                return False
            rows = self.watched.rows()
        except StoreRefused:
            # It is just being made.
            return False
        return not any(
            row.sent_at is None and row.failed_at is None and row.due_at <= at and (row.lease_until or at) <= at
            for row in rows
        )

    def _tick(self, at: datetime) -> None:
        self._set(at)
        self.watched.set_clock(at)

    def _set(self, at: datetime) -> None:
        for server in (self.weather, *self.sinks):
            server.moment = at

    def _note(self, log: str) -> None:
        if "Traceback" in log:
            self.problems.append(f"a traceback: {log[log.index('Traceback') :][-600:]}")


@contextmanager
def night(starter: Starter, channels: Sequence[str] = ("phone",)) -> Iterator[Night]:
    """A night that begins, in a folder of its own. channels: their names, the first one tried first."""
    with ExitStack() as open_until_the_end:
        folder = open_until_the_end.enter_context(tempfile.TemporaryDirectory())
        weather = open_until_the_end.enter_context(WeatherService(cold_night()))
        sinks = [open_until_the_end.enter_context(Sink(name)) for name in channels]
        watched = Watched(Path(folder), Web(port=weather.port))
        tables = [
            f'[[notices.channel]]\nname = "{sink.name}"\nurl = "{sink.address}"\norder = {order}\n'
            for order, sink in enumerate(sinks, 1)
        ]
        # Nobody is asked a second time on purpose: every second message is one too many here.
        watched.plant(notices="repeat_after_minutes = 1440", channels="\n".join(tables))
        yield Night(watched, starter, weather, sinks)


def _damage(connection: sqlite3.Connection) -> list[str]:
    said = [row[0] for row in connection.execute("PRAGMA integrity_check")]
    broken = connection.execute("PRAGMA foreign_key_check").fetchall()
    return [f"the database is damaged: {said} {broken}"] if said != ["ok"] or broken else []
