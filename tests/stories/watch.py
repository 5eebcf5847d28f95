"""A story watched by the real service: cycles, database, documents, channels and answers are real, the clock is not."""

import heapq
import itertools
import random
import signal
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from carewatch.alerts.call import TreeCall
from carewatch.alerts.danger import Danger, Notice
from carewatch.care.garden import Garden
from carewatch.care.whole_log import with_log
from carewatch.config.load import Loaded, load
from carewatch.config.tables import load_tables
from carewatch.daemon.clock import Clock
from carewatch.daemon.cycle import run_cycle
from carewatch.daemon.deliver import Sent
from carewatch.daemon.fault import VARIABLE, fault_of
from carewatch.daemon.job import Judged, Task
from carewatch.daemon.renewal import Renewal
from carewatch.daemon.wiring import Asked, Built, built
from carewatch.sqlite.care_log import entries
from carewatch.sqlite.standing import standing
from tests.edges.watched import Watched, Web, web_service
from tests.stories.quiet import is_quiet
from tests.stories.second import answer_of
from tests.stories.story import SITE, Answers, Broken, Does, Heard, Killed, Message, Plants, Said, Story
from tests.stories.weather import Answer, Course

# A message that waits for its channel is tried again so often.
AGAIN = timedelta(minutes=5)
HOUR = timedelta(hours=1)
# From so long before an act-by, or before an undoing, the garden is looked at hourly; what is too late, so often.
BEFORE_ACT, BEFORE_UNDO, LATE = timedelta(hours=5), timedelta(hours=2), timedelta(hours=3)
# Entries of the log that protect a tree; all others change it, or tell what it is.
HELPS = frozenset({"begin", "end", "move", "water", "tie-down"})
# A status after which the client does not try again within the same poll.
OUT_OF_ORDER = 403


@dataclass(frozen=True)
class Look:
    """One cycle. at: site's clock; calls: as judged; made: notices; dangers: as they stood before it."""

    at: datetime
    calls: tuple[TreeCall, ...]
    made: tuple[Notice, ...]
    dangers: tuple[Danger, ...]
    problems: tuple[str, ...]


@dataclass
class Watch:
    """
    What came of a story.

    served: every document that the weather service gave, with its time (UTC). said_twice: what a cycle said that was
    run a second time. garden, log_garden: the files' garden at the end, without and with what was logged. came: trees
    that were added on the way, and when the service took them up.
    """

    story: Story
    looks: list[Look] = field(default_factory=list)
    messages: list[Message] = field(default_factory=list)
    heard: list[Heard] = field(default_factory=list)
    served: list[tuple[datetime, Answer]] = field(default_factory=list)
    said_twice: list[str] = field(default_factory=list)
    garden: Garden | None = None
    log_garden: Garden | None = None
    came: dict[str, datetime] = field(default_factory=dict)

    @property
    def zone(self) -> ZoneInfo:
        """The garden's."""
        return ZoneInfo(self.story.zone)

    def moment(self, text: str) -> datetime:
        """A time of the story, by the garden's clock."""
        return datetime.fromisoformat(text).replace(tzinfo=self.zone)

    def unaided(self, at: datetime) -> Garden:
        """The garden as nobody helps it: the files', with what was done to its trees or seen on them until a moment."""
        assert self.garden is not None
        assert self.log_garden is not None
        told = [entry for entry in self.log_garden.log if entry.at <= at and entry.work not in HELPS]
        log = tuple(sorted({*self.garden.log, *told}, key=lambda entry: (entry.at, entry.tree)))
        there = tuple(tree for tree in self.garden.trees if tree.id not in self.came or self.came[tree.id] <= at)
        return replace(self.garden, trees=there, log=log)


def watched_through(story: Story) -> Watch:
    """The story from its first to its last hour."""
    watch = Watch(story)
    # Retries are spread by chance: the same story, the same chance.
    random.seed(story.title)
    with tempfile.TemporaryDirectory() as folder, web_service() as web:
        _Telling(watch, Watched(Path(folder), web), web).run()
    return watch


@dataclass
class _Judge:
    """The real judgement in this process, not made again for what was judged a moment ago."""

    assessor: Callable[[Task], Judged]
    last: tuple[tuple[Any, ...], Judged] | None = None

    def __call__(self, task: Task) -> Judged:
        # A candidate has another key once it lies in the archive; what it says is the same.
        documents = task.candidate.documents
        # The record has the days of the same answer by then, whose own hours count before recorded ones.
        key = (task.garden, documents.single if documents else None, task.now, dict(task.told))
        if self.last is None or self.last[0] != key:
            self.last = (key, self.assessor(task))
        return self.last[1]


class _Telling:
    def __init__(self, watch: Watch, watched: Watched, web: Web) -> None:
        self.watch, self.watched, self.web = watch, watched, web
        self.story = watch.story
        # Reckoned in UTC: in the night on which clocks change an hour by them may be none, or two.
        self.ends = watch.moment(watch.story.watch_to).astimezone(UTC)
        self.number = itertools.count()
        # Moments and what happens then; the number keeps those of one moment in order.
        self.due: list[tuple[datetime, int, Callable[[datetime], bool]]] = []
        self.garden_text = self.story.garden
        self.answered = {id(rule): 0 for rule in self.story.person}
        self.truth = self.story.truth()
        self.views = self._views()
        self.restart = False
        self.seam = ""
        self.polled: datetime | None = None

    def run(self) -> None:
        begins = self.watch.moment(self.story.watch_from).astimezone(UTC)
        for change in self.story.plants:
            self._at(self.watch.moment(change.at), self._planting(change))
        for act in self.story.does:
            self._at(self.watch.moment(act.at), self._doing(act))
        for broken in self.story.broken:
            self._at(self.watch.moment(broken.since), self._breaking(broken, True))
            self._at(self.watch.moment(broken.until), self._breaking(broken, False))
        for killed in self.story.killed:
            self._at(self.watch.moment(killed.at), self._killing(killed))
        self._set(begins)
        self._write()
        looked: datetime | None = begins
        while looked is not None:
            with self._service() as renewal:
                self.restart = False
                looked = self._on(renewal, looked)
            if looked is not None and self.seam:
                self._kill(looked)
        self._settle()

    def _on(self, renewal: Renewal, at: datetime) -> datetime | None:
        """Go on until the service is started anew, and when that is; None when the story is over."""
        judge = _Judge(renewal.program.parts.assessor)
        while True:
            self._set(at)
            renewal.look(renewal.program.database, at)
            self._took_up(renewal.program.loaded.garden, at)
            parts = replace(renewal.program.parts, assessor=judge, jitter=lambda: 0.0)
            program = replace(renewal.program, parts=parts)
            self._look(program, at)
            following = self._next(program, at)
            # What happens before the next look, and what waits for its channel.
            while self.due and self.due[0][0] <= following:
                moment, _, happens = heapq.heappop(self.due)
                self._deliver(program, at, moment)
                at = max(at, moment)
                self._set(at)
                if happens(at):
                    following = at
                    break
            self._deliver(program, at, following)
            if following > self.ends:
                return None
            at = following
            if self.restart:
                return at

    def _took_up(self, garden: Garden, at: datetime) -> None:
        """The garden that is watched from now on; a tree that was not in it before came now."""
        known = {tree.id for tree in self.watch.garden.trees} if self.watch.garden else set()
        if known:
            self.watch.came |= {tree.id: at for tree in garden.trees if tree.id not in known}
        self.watch.garden = garden

    def _look(self, program: Built, at: datetime) -> None:
        """One cycle, and the same once more, which must say nothing."""
        poll = self.polled is None or at >= self.polled + self.story.every
        if poll:
            self.polled = at
            document = self._document(at)
            self.web.weather = document
            self.web.norway = lambda _headers: answer_of(self._known(at), at)
            if self.web.weather_status == 200 or self.story.second_source:
                self.watch.served.append((at.astimezone(UTC), document))
        local = at.astimezone(self.watch.zone)
        with program.database.snapshot(at) as snapshot:
            before = standing(snapshot, at - timedelta(days=14)).dangers
        cycle = run_cycle(program.parts, program.database, at.astimezone(UTC), poll)
        calls = cycle.judged.calls if cycle.judged else ()
        made = tuple(notice for notice, _ in cycle.notices)
        self.watch.looks.append(Look(local, calls, made, before, cycle.problems))
        self._arrived(cycle.delivered.attempts if cycle.delivered else (), at)
        again = run_cycle(program.parts, program.database, at.astimezone(UTC), False)
        self.watch.said_twice += [f"{local:%a %d %b %H:%M} {notice.title}" for notice, _ in again.notices]
        self._arrived(again.delivered.attempts if again.delivered else (), at)

    def _next(self, program: Built, at: datetime) -> datetime:
        """
        When to look again: new weather, the daily rounds, or an hour in which something may have to be said.

        The service itself looks every hour. Here hours are left out in which it could only say again what it said.
        """
        local = at.astimezone(self.watch.zone)
        rules = program.parts.garden.notices
        rounds = datetime.combine(local.date(), rules.rounds_at, self.watch.zone)
        while rounds <= local:
            rounds += timedelta(days=1)
        assert self.polled is not None
        look = self.watch.looks[-1]
        alert = bool(look.calls) or any(danger.state != "over" for danger in look.dangers)
        poll = self.polled + self.story.every
        while not alert and poll < rounds and is_quiet(poll.astimezone(self.watch.zone), rules):
            if self._is_news(poll):
                break
            poll += HOUR
        wanted = [call.act_by for call in look.calls if call.measure and not call.in_force]
        ends = [danger.undo_at or danger.ends for danger in look.dangers if danger.state != "over"]
        hour = (at + HOUR).replace(minute=0, second=0)
        hours = [
            max(hour, (mark - before).replace(minute=0, second=0) + HOUR)
            for marks, before in ((wanted, BEFORE_ACT), (ends, BEFORE_UNDO))
            for mark in (mark.astimezone(UTC) for mark in marks)
            if mark > at and hour <= mark + HOUR
        ]
        if any(mark <= at for mark in wanted):
            hours.append(hour + LATE - HOUR)
        return min(moment.astimezone(UTC) for moment in (poll, rounds, *hours) if moment > at)

    def _is_news(self, poll: datetime) -> bool:
        """Whether the service of the weather has changed its mind by then."""
        assert self.polled is not None
        return any(self.polled < since <= poll for since, _ in self.views)

    def _deliver(self, program: Built, at: datetime, until: datetime) -> None:
        """Try again what waits for its channel, now and then until a moment."""
        while (at := at + AGAIN) < min(until, self.ends):
            if not any(row.sent_at is None and row.failed_at is None for row in self.watched.rows()):
                return
            self._set(at)
            delivered = program.delivery.deliver_due(program.database)
            self._arrived(delivered.attempts, at)

    def _arrived(self, attempts: Sequence[Sent], at: datetime) -> None:
        posts = self.web.posts
        fresh = posts[len(posts) - len(attempts) :] if attempts else []
        for sent, post in zip(attempts, fresh, strict=True):
            notice, arrived = sent.notice, sent.outcome.delivered
            self.watch.messages.append(_message(notice, sent.channel, post, arrived, at.astimezone(self.watch.zone)))
            if arrived:
                self._react(notice, at)

    def _react(self, notice: Notice, at: datetime) -> None:
        kind = "call" if notice.kind in ("repeat", "worse") else notice.kind
        for rule in self.story.person:
            trees = [line.tree for line in notice.lines if not rule.trees or line.tree in rule.trees]
            if rule.kind == kind and rule.answer and trees and self.answered[id(rule)] < rule.times:
                self.answered[id(rule)] += 1
                self._at(at + rule.after, self._answering(notice, rule, list(dict.fromkeys(trees))))

    def _answering(self, notice: Notice, rule: Answers, trees: list[str]) -> Callable[[datetime], bool]:
        def answer(at: datetime) -> bool:
            return self._command(["answer", notice.id, *trees, rule.answer], f"answers {rule.answer}", at)

        return answer

    def _doing(self, act: Does) -> Callable[[datetime], bool]:
        return lambda at: self._command(act.command.split(), f"says `{act.command}`", at)

    def _command(self, arguments: list[str], words: str, at: datetime) -> bool:
        code, out, err = self.watched.ran(*arguments)
        assert code == 0, f"{arguments}: {err}"
        # Of an answer the lines alone; of a command all that it says, without where the files lie.
        lines = out.strip().replace(f"{self.watched.folder}/", "").splitlines()
        said = [line.strip() for line in lines[1:]] if arguments[0] == "answer" else []
        said = said or [line.rstrip() for line in lines]
        self._hear(at, "\n".join([f"The grower {words}.", *said]))
        return True

    def _breaking(self, broken: Broken, now: bool) -> Callable[[datetime], bool]:
        def breaks(at: datetime) -> bool:
            if broken.what == "weather":
                self.web.weather_status = OUT_OF_ORDER if now else 200
            else:
                self.web.sink_status[broken.what] = 503 if now else 200
            name = "The weather service" if broken.what == "weather" else f"The channel {broken.what}"
            self._hear(at, f"{name} {'stops answering' if now else 'answers again'}.")
            # A service that got nothing asks again within a quarter of an hour.
            back = broken.what == "weather" and not now
            self.polled = None if back else self.polled
            return back

        return breaks

    def _planting(self, change: Plants) -> Callable[[datetime], bool]:
        def plants(at: datetime) -> bool:
            self.garden_text += change.more
            self._write()
            self.restart = True
            self._hear(at, "The garden's file is changed and the service started anew.")
            return True

        return plants

    def _killing(self, killed: Killed) -> Callable[[datetime], bool]:
        def kills(at: datetime) -> bool:
            self.restart, self.seam = True, killed.seam
            how = f"killed ({killed.seam})" if killed.seam else "ended"
            self._hear(at, f"The service is {how} and started anew.")
            return True

        return kills

    def _kill(self, at: datetime) -> None:
        """One cycle in a process that does not live to see its end; what it sent has been sent."""
        before, self.web.weather = len(self.web.posts), self._document(at)
        ended = self.watched.command("once", more={VARIABLE: self.seam})
        assert ended.returncode == -signal.SIGKILL, f"the service lived on, {self.seam} was not reached: {ended.stderr}"
        self.seam = ""
        notices = {notice.title: notice for notice in self.watched.notices()}
        local = at.astimezone(self.watch.zone)
        for post in self.web.posts[before:]:
            notice = notices[post["title"]]
            self.watch.messages.append(_message(notice, post["channel"], post, post["status"] == 200, local))

    def _hear(self, at: datetime, text: str) -> None:
        self.watch.heard.append(Heard(at.astimezone(self.watch.zone), text))

    def _at(self, moment: datetime, happens: Callable[[datetime], bool]) -> None:
        heapq.heappush(self.due, (moment.astimezone(UTC), next(self.number), happens))

    def _set(self, at: datetime) -> None:
        self.watched.set_clock(at)

    def _views(self) -> list[tuple[datetime, Course]]:
        said = self.story.foreseen or (Said(self.story.watch_from),)
        views = [(self.watch.moment(item.at), self.story.foretold(item)) for item in said]
        if views != sorted(views, key=lambda view: view[0]) or views[0][0] > self.watch.moment(self.story.watch_from):
            raise ValueError(f"{self.story.title}: what is foreseen begins with the watch and goes on in order")
        return views

    def _document(self, at: datetime) -> Answer:
        """What the service would answer now: what has come so far, and what it believes of the rest."""
        return self._known(at).document(at, self.story.past_days, self.story.ahead_days)

    def _known(self, at: datetime) -> Course:
        belief = next(course for since, course in reversed(self.views) if since <= at)
        return self.truth.until(at, belief)

    def _write(self) -> None:
        service = f"http://127.0.0.1:{self.web.port}"
        channels = "\n".join(
            self.watched.channel(channel.name, channel.order, channel.from_severity) for channel in self.story.channels
        )
        text = SITE.format(spot=self.story.spot, zone=self.story.zone)
        text += f'[weather]\nforecast_url = "{service}/v1/forecast"\narchive_url = "{service}/v1/archive"\n'
        second = "met-norway" if self.story.second_source else "none"
        text += f'members = "single"\nmet_norway_url = "{service}/norway"\ncontact = "grower@example.org"\n'
        text += f'fallback = "{second}"\n[notices]\n'
        text += f'{self.story.notices}\n{channels}\n[storage]\npath = "garden.sqlite"\n{self.garden_text}'
        self.watched.config.write_text(text, encoding="utf-8")

    @contextmanager
    def _service(self) -> Iterator[Renewal]:
        """The program, which takes in what the files say while it runs."""
        environ = self.watched.environment()
        clock = Clock(self.watched.folder / "clock")
        tables = load_tables()

        def read(now: datetime) -> Loaded:
            return load(self.watched.config, environ, now, tables)

        asked = Asked(own_process=False, dry_run=False, fault=fault_of({}), stopping=lambda: False)
        with built(read(clock.now()), tables, environ, clock, asked) as program:
            yield Renewal(program, read, lambda _: None)

    def _settle(self) -> None:
        """Read what was logged, for what silence would have cost."""
        garden = self.watch.garden
        assert garden is not None
        tables = load_tables()
        environ = self.watched.environment()
        clock = Clock(self.watched.folder / "clock")
        loaded = load(self.watched.config, environ, clock.now(), tables)
        asked = Asked(own_process=False, dry_run=True, fault=fault_of({}), stopping=lambda: False)
        with (
            built(loaded, tables, environ, clock, asked) as program,
            program.database.snapshot(clock.now()) as snapshot,
        ):
            self.watch.log_garden = with_log(garden, entries(snapshot))


def _message(notice: Notice, channel: str, post: Mapping[str, Any], arrived: bool, at: datetime) -> Message:
    """A notice as a channel showed it. at: by the garden's clock."""
    text = "\n\n".join(filter(None, (post["title"], post["message"].strip())))
    return Message(
        at=at,
        kind=notice.kind,
        severity=notice.severity,
        channel=channel,
        text=text,
        whole=max(len(notice.body), len(text)),
        lines=tuple((line.danger, line.tree, line.measure) for line in notice.lines),
        arrived=arrived,
        chart=bool(post.get("attachments")),
        notice=notice.id,
    )
