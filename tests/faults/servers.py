"""A weather service and channels on this machine, on real sockets, whose faults are switched from outside."""

import json
import socket
import threading
from dataclasses import dataclass
from datetime import datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Self, cast

WEATHER_FAULTS = ("hang", "500", "502 page", "429", "cut off", "refused", "broken JSON")
CHANNEL_FAULTS = ("hang", "500", "refused", "cut off", "404")


class _Server(ThreadingHTTPServer):
    daemon_threads = True
    owner: "Switched"

    def handle_error(self, request: object, client_address: object) -> None:
        """A client that was killed in the middle is what this is about."""


class _Handler(BaseHTTPRequestHandler):
    @property
    def owner(self) -> "Switched":
        return cast("_Server", self.server).owner

    def answer(self, status: int, body: bytes, sent: int | None = None, kind: str = "application/json") -> None:
        """Answer with a body, or with only so many bytes of it, and hang up."""
        self.send_response(status)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body if sent is None else body[:sent])

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the name is the base class's
        pass


class Switched:
    """
    A server on a port of its own, which stays its own while connections are refused. Close it, or use it in a `with`.

    fault: how it fails now, or "". moment: the time that the service under test believes in.
    """

    handler: type[_Handler]

    def __init__(self) -> None:
        self.fault = ""
        self.moment: datetime | None = None
        self._released = threading.Event()
        self._thread: threading.Thread | None = None
        # Bound and never listening: without the server the kernel refuses whoever calls, and nobody gets the port.
        self._held = socket.socket()
        self._held.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        self._held.bind(("127.0.0.1", 0))
        self.port: int = self._held.getsockname()[1]
        self._listen()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._refuse()
        self._held.close()

    def arm(self, fault: str) -> None:
        """Fail from now on; "" answers again, and lets go of whoever was kept waiting."""
        self._released.set()
        self._released = threading.Event()
        if fault == "refused":
            self._refuse()
        elif self._thread is None:
            self._listen()
        self.fault = fault

    def hang(self) -> None:
        """Keep a client waiting until another fault, or none, is armed."""
        self._released.wait()

    def _listen(self) -> None:
        self._server = _Server(("127.0.0.1", self.port), self.handler)
        self._server.owner = self
        self._thread = threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.1})
        self._thread.start()

    def _refuse(self) -> None:
        self._released.set()
        if self._thread is None:
            return
        self._server.shutdown()
        self._thread.join()
        self._thread = None
        # A process that is just being started may still hold a copy: closing alone would leave it listening.
        self._server.socket.shutdown(socket.SHUT_RDWR)
        self._server.server_close()


class _WeatherHandler(_Handler):
    def do_GET(self) -> None:
        weather = cast("WeatherService", self.owner)
        weather.asked += 1
        whole = weather.document
        match weather.fault:
            case "hang":
                weather.hang()
            case "500":
                self.answer(500, b'{"error":true,"reason":"Internal Server Error"}')
            case "502 page":
                self.answer(502, b"<html><body><h1>502 Bad Gateway</h1></body></html>", kind="text/html")
            case "429":
                reason = "Daily API request limit exceeded. Please try again tomorrow."
                self.answer(429, json.dumps({"error": True, "reason": reason}).encode())
            case "cut off":
                self.answer(200, whole, len(whole) // 2)
            case "broken JSON":
                self.answer(200, whole.replace(b'"hourly":', b'"hourly"='))
            case _:
                self.answer(200, whole)


class WeatherService(Switched):
    """Speaks Open-Meteo's format. document: its answer. asked: how often it was asked."""

    handler = _WeatherHandler

    def __init__(self, document: object) -> None:
        self.document = json.dumps(document).encode()
        self.asked = 0
        super().__init__()


@dataclass(frozen=True)
class Taken:
    """A message that a channel took. answered: whether it said so to the end. at: by the clock of the service."""

    channel: str
    title: str
    text: str
    at: datetime
    answered: bool


class _ChannelHandler(_Handler):
    def do_POST(self) -> None:
        sink = cast("Sink", self.owner)
        posted = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
        fault = sink.fault
        match fault:
            case "500" | "404":
                sink.refused += 1
                self.answer(int(fault), b'{"error":"not taken"}')
                return
            case _:
                sink.take(posted, answered=not fault)
        match fault:
            case "hang":
                sink.hang()
            case "cut off":
                self.answer(200, b'{"taken": true}', 4)
                self.connection.shutdown(socket.SHUT_RDWR)
            case _:
                self.answer(200, b'{"taken": true}')


class Sink(Switched):
    """A channel. taken: the messages that arrived here; refused: how many it would not take."""

    handler = _ChannelHandler

    def __init__(self, name: str) -> None:
        self.name = name
        self.taken: list[Taken] = []
        self.refused = 0
        super().__init__()

    def take(self, posted: dict[str, str], answered: bool) -> None:
        """Keep a message, before its answer is sent: a killed client must not take the proof along."""
        if self.moment is None:
            raise RuntimeError("a message came before anything was started")
        title, text = posted.get("title", ""), posted.get("message", "")
        self.taken.append(Taken(self.name, title or text.split("\n")[0], f"{title}\n{text}", self.moment, answered))

    @property
    def address(self) -> str:
        """As it stands in the configuration, with a patience of a second for an answer."""
        return f"json://127.0.0.1:{self.port}/to-{self.name}?rto=1"
