"""The nights that are tried: which fault, where and when, and how the night goes on."""

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from carewatch.daemon.fault import SEAMS
from tests.faults.night import MOMENTS, MORNING, NOON, Night, Outcome, night
from tests.faults.servers import CHANNEL_FAULTS, WEATHER_FAULTS
from tests.faults.starter import Starter

# Seams that are passed only where there is something to send.
SENDING = ("before-send", "between-send-and-mark")
# Seams that every transaction passes. A look that calls has six (forecast, plan, expiry, claim, mark, claim), any other
# one four; the service has some each second.
COUNTED = ("inside-transaction", "after-commit")
PASSED_CALLING, PASSED_QUIET, PASSED_SERVING = 6, 4, 60
# From death to the next start, which ends the claim on a message that the dead one had taken.
PAUSES = tuple(timedelta(minutes=minutes) for minutes in (0, 1, 3, 10, 45))
HOUR = timedelta(hours=1)
# Of faults that outlast the daylight: from when on the weather was never known, and the first look without the fault.
AFTERNOON, AFTER_DUSK = NOON + 3 * HOUR, NOON + 5 * HOUR


@dataclass(frozen=True)
class Kill:
    """
    The process dies at a seam.

    passing: at which passing of it, from 1. before: looks that go well. at: of the look that is killed; for the
    service, when it is started. pause: until it is started again. service: `run` instead of `once`.
    """

    seam: str
    passing: int
    before: tuple[datetime, ...]
    at: datetime
    pause: timedelta
    service: bool = False

    @property
    def label(self) -> str:
        """Row of the table."""
        return f"kill {self.seam}"

    @property
    def fault(self) -> str:
        """As CAREWATCH_FAULT takes it."""
        return f"{self.seam}:{self.passing}"

    def run(self, starter: Starter, fresh: bool = True) -> Outcome:
        """What came of the night. fresh: the killed process is an interpreter of its own, as a timer starts it."""
        with night(starter) as watch:
            again = self._served(watch) if self.service else self._looked(watch, fresh)
            if watch.killed != 1:
                watch.problems.append(f"{self.fault} was not reached")
            return watch.outcome(again)

    def _looked(self, watch: Night, fresh: bool) -> datetime:
        watch.looks(self.before)
        watch.look(self.at, self.fault, fresh)
        again = self.at + self.pause
        watch.look(again)
        watch.looks([at for at in MOMENTS if at > again])
        return again

    def _served(self, watch: Night) -> datetime:
        died = self.at
        with watch.service(self.at, self.fault) as running:
            for died in (self.at, *(at for at in MOMENTS if at > self.at)):
                if not watch.alive_after(running, died):
                    break
        again = died + self.pause
        with watch.service(again) as running:
            # It looks once an hour, from its start on.
            for at in (again, *(at for at in MOMENTS if at >= again + HOUR)):
                if not watch.alive_after(running, at):
                    return again
            if running.stop() != 0:
                watch.problems.append("the service did not stop well")
        return again


@dataclass(frozen=True)
class Weather:
    """
    The weather service fails.

    before, during, after: looks before it fails, while it does, and when it is well again.
    """

    kind: str
    before: tuple[datetime, ...]
    during: tuple[datetime, ...]
    after: tuple[datetime, ...]

    @property
    def label(self) -> str:
        """Row of the table."""
        return f"weather {self.kind}"

    def run(self, starter: Starter) -> Outcome:
        """What came of the night."""
        with night(starter) as watch:
            watch.looks(self.before)
            watch.weather.arm(self.kind)
            watch.weather.asked = 0
            watch.looks(self.during)
            if (watch.weather.asked > 0) == (self.kind == "refused"):
                watch.problems.append(f"the fault was not met: asked {watch.weather.asked} times")
            watch.weather.arm("")
            watch.looks(self.after)
            # With a forecast from before it is told in time, however long the next one is missing.
            return watch.outcome(self.during[0] if self.before else self.after[0])


@dataclass(frozen=True)
class Channel:
    """A channel fails at these looks. second: there is another one, which must take over."""

    kind: str
    during: tuple[datetime, ...]
    second: bool = False

    @property
    def label(self) -> str:
        """Row of the table."""
        return f"channel {self.kind}" + (", a second one" if self.second else "")

    def run(self, starter: Starter) -> Outcome:
        """What came of the night."""
        with night(starter, ("phone", "mail") if self.second else ("phone",)) as watch:
            watch.look(MORNING)
            phone = watch.sinks[0]
            phone.arm(self.kind)
            watch.looks(self.during)
            met = phone.refused + len(phone.taken)
            if (met > 0) == (self.kind == "refused"):
                watch.problems.append(f"the fault was not met: {met} messages came")
            phone.arm("")
            left = [at for at in MOMENTS if at > self.during[-1]]
            watch.looks(left)
            return watch.outcome(self.during[0] if self.second else left[0], "mail" if self.second else "")


@dataclass(frozen=True)
class Nothing:
    """Nothing fails: one call, and nothing else."""

    label: str = "none"

    def run(self, starter: Starter) -> Outcome:
        """What came of the night."""
        with night(starter) as watch:
            watch.looks(MOMENTS)
            return watch.outcome(MORNING)


Case = Kill | Weather | Channel | Nothing


def kills(count: int, seed: int) -> list[Kill]:
    """So many kills, spread over all seams; of each seam the second one dies in the service."""
    chance = random.Random(seed)  # noqa: S311 - the same seed, the same nights
    seams = [seam for _ in range(-(-count // len(SEAMS))) for seam in chance.sample(SEAMS, len(SEAMS))][:count]
    return [_kill(seam, chance, service=seams[:place].count(seam) == 1) for place, seam in enumerate(seams)]


def _kill(seam: str, chance: random.Random, service: bool) -> Kill:
    pause = chance.choice(PAUSES)
    if service:
        # The second poll is the one at noon.
        passing = {"after-fetch": 2, "after-assess": 2}.get(seam, 1)
        passing = chance.randint(1, PASSED_SERVING) if seam in COUNTED else chance.randint(1, passing)
        return Kill(seam, passing, (), MORNING, pause, service=True)
    if seam in SENDING:
        # The first look that has something to say.
        at = chance.choice(MOMENTS[1:4])
        return Kill(seam, 1, chance.choice([(), (MORNING,)]), at, pause)
    # Half of them where the call is made, the others by day and by night.
    at = chance.choice([NOON, NOON, NOON, *MOMENTS[:1], *MOMENTS[2:-1]])
    passing = chance.randint(1, PASSED_CALLING if at == NOON else PASSED_QUIET) if seam in COUNTED else 1
    return Kill(seam, passing, tuple(early for early in MOMENTS if early < at), at, pause)


def weather_faults() -> Iterator[Weather]:
    """Each fault after a good forecast, from the beginning, and from the beginning until after dusk."""
    for kind in WEATHER_FAULTS:
        # A look that is kept waiting lasts a minute and a half: one will do.
        count = 1 if kind == "hang" else 2
        yield Weather(kind, (MORNING,), MOMENTS[1 : 1 + count], MOMENTS[1 + count :])
        yield Weather(kind, (), MOMENTS[2 - count : 2], MOMENTS[2:])
        late = [at for at in MOMENTS if at >= AFTERNOON][:count]
        yield Weather(kind, (), tuple(late), (AFTER_DUSK, *(at for at in MOMENTS if at > AFTER_DUSK)))


def channel_faults() -> Iterator[Channel]:
    """Each fault for an hour and until after dusk; a refusal for good with a second channel."""
    for kind in CHANNEL_FAULTS:
        if kind == "404":
            yield Channel(kind, MOMENTS[1:2], second=True)
            yield Channel(kind, MOMENTS[1:], second=True)
        else:
            yield Channel(kind, MOMENTS[1:2])
            yield Channel(kind, tuple(at for at in MOMENTS if NOON <= at < AFTER_DUSK))


def cases(kill_count: int, seed: int) -> Sequence[Case]:
    """Every night of one run of the harness; those that wait for time-outs come first."""
    waiting = sorted(weather_faults(), key=lambda fault: fault.kind != "hang")
    return [*waiting, *channel_faults(), Nothing(), *kills(kill_count, seed)]
