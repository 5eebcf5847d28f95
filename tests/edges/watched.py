"""A garden under watch: a weather service and a sink for messages on this machine, a clock in a file, processes."""

import contextlib
import io
import json
import os
import signal
import subprocess
import sys
import threading
import time
import warnings
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from importlib.resources import files
from pathlib import Path
from typing import Any, cast
from unittest import mock
from urllib.parse import parse_qs, urlsplit

from carewatch.alerts.danger import Notice
from carewatch.cli.main import main
from carewatch.sqlite.database import Database
from carewatch.sqlite.facts import all_facts
from carewatch.sqlite.outbox import OutboxRow, rows_of
from carewatch.sqlite.standing import notices_since

Answer = dict[str, Any]

# The demo's invented weather: mild until 5 November 2026, then a clear cold night (low about −3 °C near 6:00 UTC).
MORNING = datetime(2026, 11, 5, 7, tzinfo=UTC)
# Two in the afternoon in the garden: the last waking moment that leaves three hours and the work has come.
CALL = MORNING + timedelta(hours=6)
LONG_S = 60.0
# A severed layer, a maple in its last colour, and a hardy evergreen: one of the three needs a hand.
SOME_TREES = ("maple-layer-1", "old-maple", "pine")
PROGRAM = [sys.executable, "-c", "import sys; from carewatch.cli.main import main; sys.exit(main())"]


def cold_night() -> Answer:
    """The demo's answer of a weather service for the cold night, four days of it: less is judged in less time."""
    found: Answer = json.loads((files("carewatch") / "demo" / "cold-night.json").read_text(encoding="utf-8"))
    first, last = datetime(2026, 11, 4, tzinfo=UTC).timestamp(), datetime(2026, 11, 8, tzinfo=UTC).timestamp()
    kept = [index for index, time_s in enumerate(found["hourly"]["time"]) if first <= time_s < last]
    hourly = {name: [values[index] for index in kept] for name, values in found["hourly"].items()}
    return {**found, "hourly": hourly}


def with_members(answer: Answer, count: int) -> Answer:
    """An answer of the ensemble: so many members around the single run."""
    hourly = answer["hourly"]
    spread: Answer = {**answer, "hourly": {"time": hourly["time"]}, "hourly_units": {"time": "unixtime"}}
    for name in ("temperature_2m", "dew_point_2m"):
        for member in range(count):
            key = name if member == 0 else f"{name}_member{member:02d}"
            shift = 0.2 * (member - count // 2)
            spread["hourly"][key] = [round(value + shift, 1) for value in hourly[name]]
            spread["hourly_units"][key] = "°C"
    return spread


def kinds(said: Answer) -> list[str]:
    """What kinds of notices a cycle made, as `once --json` says."""
    return [notice["kind"] for notice in said["notices"]]


@dataclass
class Web:
    """
    A web service: GET is the weather, POST takes messages, /beat takes signs of life. status: what each answers.

    archive: what the archive answers to a first and a last day; it has nothing where there is none. norway: what the
    second service answers to the headers of a request, as status, headers and body; it is out of order where there is
    none.
    """

    port: int = 0
    weather: Answer | bytes = field(default_factory=dict)
    ensemble: Answer | None = None
    weather_status: int = 200
    sink_status: dict[str, int] = field(default_factory=dict)
    said: str = ""
    hang_s: float = 0.0
    asked: list[dict[str, list[str]]] = field(default_factory=list)
    archive: Callable[[date, date], Answer] | None = None
    archive_asked: list[tuple[date, date]] = field(default_factory=list)
    norway: Callable[[Mapping[str, str]], tuple[int, dict[str, str], bytes]] | None = None
    norway_asked: list[tuple[dict[str, list[str]], dict[str, str]]] = field(default_factory=list)
    posts: list[dict[str, Any]] = field(default_factory=list)
    beats: int = 0

    def titles(self, channel: str = "phone") -> list[str]:
        """The first lines that a channel took, as a phone shows them."""
        taken = [post for post in self.posts if post["channel"] == channel and post["status"] == 200]
        return [post["title"] or post["message"].split("\n")[0] for post in taken]


class _Handler(BaseHTTPRequestHandler):
    def do_GET(self) -> None:
        web = cast("_Server", self.server).web
        parts = urlsplit(self.path)
        if parts.path.startswith("/beat"):
            web.beats += 1
            self._answer(200, b"{}")
            return
        query = parse_qs(parts.query)
        if parts.path == "/v1/archive":
            first, last = (date.fromisoformat(query[name][0]) for name in ("start_date", "end_date"))
            web.archive_asked.append((first, last))
            found = web.archive(first, last) if web.archive else {"error": True, "reason": "no such days"}
            self._answer(200 if web.archive else 400, json.dumps(found).encode())
            return
        if parts.path == "/norway":
            headers = {name.lower(): value for name, value in self.headers.items()}
            web.norway_asked.append((query, headers))
            self._answer(*self._of_norway(web, headers))
            return
        web.asked.append(query)
        if web.weather_status != 200:
            self._answer(web.weather_status, json.dumps({"error": True, "reason": f"out of order {web.said}"}).encode())
        elif "models" in query:
            self._answer(
                200 if web.ensemble else 400, json.dumps(web.ensemble or {"error": True, "reason": "x"}).encode()
            )
        else:
            self._answer(200, web.weather if isinstance(web.weather, bytes) else json.dumps(web.weather).encode())

    def do_POST(self) -> None:
        web = cast("_Server", self.server).web
        posted = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
        channel = self.path.split("/")[1].removeprefix("to-")
        status = web.sink_status.get(channel, 200)
        web.posts.append({"channel": channel, "status": status, "at": time.monotonic(), **posted})
        time.sleep(web.hang_s)
        self._answer(status, f"no entry for {web.said}".encode())

    def _of_norway(self, web: Web, headers: Mapping[str, str]) -> tuple[int, bytes, dict[str, str]]:
        status, more, body = web.norway(headers) if web.norway else (404, {}, b"")
        return status, body, more

    def _answer(self, status: int, body: bytes, more: Mapping[str, str] | None = None) -> None:
        self.send_response_only(status)
        for name, value in {"Date": self.date_time_string(), **(more or {})}.items():
            self.send_header(name, value)
        if status != 304:
            self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the name is the base class's
        pass


class _Server(ThreadingHTTPServer):
    daemon_threads = True
    web: Web

    def handle_error(self, request: object, client_address: object) -> None:
        """A client that was killed in the middle is what some of the tests are about."""


@contextmanager
def web_service() -> Iterator[Web]:
    """The web service, while the block runs."""
    server = _Server(("127.0.0.1", 0), _Handler)
    server.web = Web(port=server.server_address[1], weather=cold_night())
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    try:
        yield server.web
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


@dataclass
class Watched:
    """The demo's autumn garden in a folder, watched through a web service on this machine."""

    folder: Path
    web: Web
    environ: dict[str, str] = field(default_factory=dict)

    @property
    def config(self) -> Path:
        """The configuration file."""
        return self.folder / "config.toml"

    @property
    def database(self) -> Path:
        """The database file."""
        return self.folder / "garden.sqlite"

    def plant(
        self,
        notices: str = "",
        weather: str = "",
        channels: str | None = None,
        page: str = "",
        trees: tuple[str, ...] = SOME_TREES,
    ) -> None:
        """Write the configuration. notices, weather: further lines of those sections; channels: their tables."""
        if channels is None:
            channels = self.channel("phone")
        head, *planted = (files("carewatch") / "demo" / "autumn.toml").read_text(encoding="utf-8").split("[[tree]]\n")
        kept = [tree for tree in planted if tree.split('"')[1] in trees]
        demo = "[[tree]]\n".join([head, *kept])
        service = f"http://127.0.0.1:{self.web.port}"
        text = demo.replace('source = "recorded"\n', f'forecast_url = "{service}/v1/forecast"\n{weather}\n')
        more = f'ensemble_url = "{service}/v1/ensemble"\narchive_url = "{service}/v1/archive"\n'
        more += f'met_norway_url = "{service}/norway"\n'
        text = text.replace('file = "cold-night.json" # beside this file\n', more)
        text = text.replace("[stock]\n", f'{notices}\n{channels}\n[storage]\npath = "garden.sqlite"\n{page}\n[stock]\n')
        # Cloth for one cover: what is best does not hang on a hair then.
        text = text.replace("fleece_m2 = 6", "fleece_m2 = 1")
        if "members =" in weather:
            text = text.replace('members = "single"\n', "")
        self.config.write_text(text, encoding="utf-8")

    def channel(self, name: str, order: int = 1, from_severity: str = "minor", login: str = "") -> str:
        """A channel in TOML, whose messages the web service takes."""
        return (
            f'[[notices.channel]]\nname = "{name}"\nurl = "json://{login}127.0.0.1:{self.web.port}/to-{name}"\n'
            f'order = {order}\nfrom_severity = "{from_severity}"\n'
        )

    def set_clock(self, moment: datetime) -> None:
        """Put the time into the clock's file, whole at once."""
        draft = self.folder / "clock.new"
        draft.write_text(moment.isoformat(), encoding="utf-8")
        draft.replace(self.folder / "clock")
        self.environ["CAREWATCH_CLOCK"] = f"file:{self.folder / 'clock'}"

    def environment(self, more: Mapping[str, str] | None = None) -> dict[str, str]:
        """Of a process that is started."""
        kept = {name: value for name, value in os.environ.items() if not name.startswith("CAREWATCH_")}
        return {**kept, **self.environ, **(more or {})}

    def command(
        self, *arguments: str, more: Mapping[str, str] | None = None, check: bool = False
    ) -> subprocess.CompletedProcess[str]:
        """A command run to its end in a process of its own."""
        return subprocess.run(
            [*PROGRAM, *arguments, "--config", str(self.config)],
            capture_output=True,
            text=True,
            check=check,
            env=self.environment(more),
            timeout=120,
        )

    def once(self, at: datetime, *arguments: str) -> Answer:
        """What `once --json`, run in this process, says at a moment of the file clock; with its exit code and log."""
        self.set_clock(at)
        code, out, logged = self.ran("once", "--json", *arguments)
        assert out, logged
        found: Answer = json.loads(out)
        return {**found, "code": code, "logged": logged}

    def ran(self, *arguments: str) -> tuple[int, str, str]:
        """Exit code, output and log of a command that is run in this process."""
        out, logged = io.StringIO(), io.StringIO()
        with (
            mock.patch.dict(os.environ, self.environment(), clear=True),
            contextlib.redirect_stdout(out),
            contextlib.redirect_stderr(logged),
        ):
            code = main([*arguments, "--config", str(self.config)])
        return code, out.getvalue(), logged.getvalue()

    def once_killed(self, at: datetime, fault: str) -> bool:
        """Whether `once`, run in a copy of this process, killed itself at the fault."""
        self.set_clock(at)
        self.environ["CAREWATCH_FAULT"] = fault
        with warnings.catch_warnings():
            # Python 3.12 warns of threads; the copy uses none of those that it lost.
            warnings.simplefilter("ignore", DeprecationWarning)
            child = os.fork()
        if child == 0:
            try:
                self.ran("once")
            finally:
                os._exit(0)
        del self.environ["CAREWATCH_FAULT"]
        _, status = os.waitpid(child, 0)
        return os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL

    @contextmanager
    def service(self, more: Mapping[str, str] | None = None) -> Iterator["Running"]:
        """The service in a process of its own; killed when the block ends and it still runs."""
        log = self.folder / "service.log"
        with log.open("a", encoding="utf-8") as target:
            process = subprocess.Popen(
                [*PROGRAM, "run", "--config", str(self.config)],
                stdout=target,
                stderr=target,
                env=self.environment(more),
            )
        running = Running(process, log, self)
        try:
            yield running
        finally:
            if process.poll() is None:
                process.kill()
            process.wait()

    def facts(self) -> dict[str, str]:
        """What the service remembers."""
        now = datetime(2026, 11, 5, tzinfo=UTC)
        with Database.open_for_reading(self.database, now) as database, database.snapshot(now) as snapshot:
            return all_facts(snapshot)

    def notices(self) -> tuple[Notice, ...]:
        """Every notice that was ever made."""
        now = datetime(2026, 11, 5, tzinfo=UTC)
        with Database.open_for_reading(self.database, now) as database, database.snapshot(now) as snapshot:
            return notices_since(snapshot, datetime(2000, 1, 1, tzinfo=UTC))

    def rows(self) -> list[OutboxRow]:
        """Every row of the outbox."""
        now = datetime(2026, 11, 5, tzinfo=UTC)
        with Database.open_for_reading(self.database, now) as database, database.snapshot(now) as snapshot:
            found = notices_since(snapshot, datetime(2000, 1, 1, tzinfo=UTC))
            return [row for notice in found for row in rows_of(snapshot, notice.id)]


@dataclass
class Running:
    """A service that runs."""

    process: "subprocess.Popen[bytes]"
    log: Path
    watched: Watched

    def until(self, true: Callable[[], object], what: str) -> None:
        """Wait for something to become true; fails with the log when it does not."""
        until_s = time.monotonic() + LONG_S
        while time.monotonic() < until_s:
            if true():
                return
            assert self.process.poll() is None, f"the service ended:\n{self.log.read_text()}"
            time.sleep(0.03)
        raise AssertionError(f"{what} did not happen:\n{self.log.read_text()}")

    def looked_at(self, moment: datetime) -> None:
        """Set the clock and wait until the garden was judged at that time or later, and the outbox was seen to."""
        self.watched.set_clock(moment)
        text = moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
        self.until(
            lambda: self.watched.database.exists() and self.watched.facts().get("cycle.completed-at", "") >= text,
            f"a look at {text}",
        )

    def stop(self) -> int:
        """The exit code after SIGTERM."""
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(LONG_S)
