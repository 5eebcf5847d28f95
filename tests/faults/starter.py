"""
Commands as processes that need not load their libraries first: each is forked off one that has loaded them.

A process of this project takes two seconds to load what a judgement needs, and a quarter of one to judge; a night of
many hours is watched many times here. `python -m tests.faults.starter SOCKET` has loaded the libraries and opened
nothing. It ends when its standard input does.
"""

import importlib
import io
import json
import os
import selectors
import signal
import socket
import subprocess
import sys
import tempfile
import time
import traceback
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path

import apprise

from carewatch.cli.main import main

LIBRARIES = (
    "pandas pvlib scipy.special carewatch.assess carewatch.cli.once_command carewatch.daemon.job "
    "carewatch.weather_api.open_meteo"
).split()
LOAD_S, COMMAND_S = 120.0, 300.0


@dataclass(frozen=True)
class Ended:
    """How a command ended. code: its exit code, or the negative number of the signal that ended it."""

    code: int
    out: str
    err: str


@dataclass(frozen=True)
class Starter:
    """The way to a process that has loaded the libraries; safe to share between threads."""

    path: Path

    def run(self, arguments: Sequence[str], environment: Mapping[str, str]) -> Ended:
        """A command run to its end in a process of its own."""
        with socket.socket(socket.AF_UNIX) as asking:
            asking.settimeout(COMMAND_S)
            asking.connect(str(self.path))
            asking.sendall(json.dumps([list(arguments), dict(environment)]).encode())
            asking.shutdown(socket.SHUT_WR)
            return Ended(**json.loads(_received(asking)))


@contextmanager
def started() -> Iterator[Starter]:
    """A starter, while the block runs."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "starter"
        environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
        with subprocess.Popen(
            [sys.executable, "-m", "tests.faults.starter", str(path)], stdin=subprocess.PIPE, env=environment
        ) as process:
            until_s = time.monotonic() + LOAD_S
            while not path.exists():
                if process.poll() is not None or time.monotonic() > until_s:
                    process.kill()
                    raise RuntimeError("the starter did not start")
                time.sleep(0.02)
            yield Starter(path)


def _received(connection: socket.socket) -> bytes:
    return b"".join(iter(lambda: connection.recv(65536), b""))


def _serve(path: str) -> None:
    # Nobody waits for attendants.
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    with socket.socket(socket.AF_UNIX) as listening, selectors.DefaultSelector() as waiting:
        # Seen from outside only once it can be called.
        listening.bind(f"{path}.new")
        listening.listen(32)
        Path(f"{path}.new").rename(path)
        waiting.register(listening, selectors.EVENT_READ)
        waiting.register(sys.stdin.fileno(), selectors.EVENT_READ)
        while True:
            for key, _ in waiting.select():
                if key.fileobj is not listening:
                    return
                connection, _ = listening.accept()
                if os.fork() == 0:
                    listening.close()
                    _attend(connection)
                    os._exit(0)
                connection.close()


def _attend(connection: socket.socket) -> None:
    """Run the command that was asked for in a child, and answer how it ended."""
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    arguments, environment = json.loads(_received(connection))
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        child = os.fork()
        if child == 0:
            connection.close()
            _command(arguments, environment, out.fileno(), err.fileno())
        _, status = os.waitpid(child, 0)
        ended = Ended(os.waitstatus_to_exitcode(status), _text(out), _text(err))
    connection.sendall(json.dumps(asdict(ended)).encode())


def _text(file: "tempfile._TemporaryFileWrapper[bytes] | io.BufferedRandom") -> str:
    file.seek(0)
    return file.read().decode(errors="replace")


def _command(arguments: list[str], environment: dict[str, str], out: int, err: int) -> None:
    """Be the command; does not return."""
    code = 70
    try:
        os.dup2(out, 1)
        os.dup2(err, 2)
        os.environ.clear()
        os.environ.update(environment)
        code = main(arguments)
    except BaseException:  # noqa: BLE001 - whatever it is, the parent's code after the fork must not run here
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)


def _load() -> None:
    """Load what `once` loads on its way, all of it, and open nothing."""
    for name in LIBRARIES:
        importlib.import_module(name)
    # The list of services is read when the first address is.
    apprise.Apprise().add("json://127.0.0.1")


if __name__ == "__main__":
    _load()
    _serve(sys.argv[1])
