"""The parent's side of one child process: started when it is needed, ended when it is idle, killed past its limit."""

import multiprocessing
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from types import TracebackType
from typing import Literal, Self

from carewatch.worker.child import Answered, Wanted, serve

# A child that was told to end, or was killed, is gone within this; estimate for a machine that is swapping. [s]
END_S = 5.0


class TaskFailed(Exception):
    """
    A task that gave no value.

    kind: "raised" (by the task), "died" (the process ended), "too-long" (killed past its limit), "stopped" (the host
    was closed), "unsendable" (the argument cannot travel).
    reason: one line. trace: where the task failed, or "".
    """

    def __init__(
        self, kind: Literal["raised", "died", "too-long", "stopped", "unsendable"], reason: str, trace: str = ""
    ) -> None:
        super().__init__(reason)
        self.kind = kind
        self.reason = reason
        self.trace = trace


@dataclass(frozen=True)
class _Child:
    process: SpawnProcess
    connection: Connection


class Host:
    """
    One child process, for one task at a time. Safe to share between threads; close it, or use it in a `with` statement.

    limit_s: a task that takes longer is killed with its process. [s]
    idle_s: a process without a task for this long is ended by the next `end_if_idle`. [s]
    """

    def __init__(self, limit_s: float, idle_s: float, monotonic: Callable[[], float] = time.monotonic) -> None:
        self._limit_s = limit_s
        self._idle_s = idle_s
        self._monotonic = monotonic
        # spawn: a forked child would inherit the parent's threads' locks in whatever state they are.
        self._context = multiprocessing.get_context("spawn")
        self._one_at_a_time = threading.Lock()
        self._changing = threading.Lock()
        self._child: _Child | None = None
        self._idle_since_s = monotonic()
        self._closed = False

    @property
    def process_id(self) -> int | None:
        """Of the child while there is one."""
        child = self._child
        return child.process.pid if child else None

    def call(self, function: str, argument: object, limit_s: float | None = None) -> object:
        """
        What the function gives for the argument, computed in the child.

        function: dotted name, such as "package.module.function". argument: plain data; so is the value.
        limit_s: for a task that is worth less time than the others. [s]

        Raises TaskFailed. After a death or a kill the next call starts another process.
        """
        with self._one_at_a_time:
            try:
                return self._asked(self._started(), Wanted(function, argument), limit_s or self._limit_s)
            finally:
                self._idle_since_s = self._monotonic()

    def end_if_idle(self) -> bool:
        """True when the process was ended because it had nothing to do for long."""
        if self._child is None or not self._one_at_a_time.acquire(blocking=False):
            return False
        try:
            if self._child is None or self._monotonic() - self._idle_since_s < self._idle_s:
                return False
            self._end(kill=False)
            return True
        finally:
            self._one_at_a_time.release()

    def close(self) -> None:
        """End the process at once, whatever it is doing; a second time does nothing."""
        self._closed = True
        self._end(kill=True)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _started(self) -> _Child:
        with self._changing:
            if self._closed:
                raise TaskFailed("stopped", "the worker is closed")
            if self._child is not None and self._child.process.is_alive():
                return self._child
            ours, theirs = self._context.Pipe()
            process = self._context.Process(target=serve, args=(theirs,), name="carewatch worker", daemon=True)
            process.start()
            # Only with the child holding the other end alone does its death show as the end of the pipe.
            theirs.close()
            self._child = _Child(process, ours)
            return self._child

    def _asked(self, child: _Child, wanted: Wanted, limit_s: float) -> object:
        try:
            child.connection.send(wanted)
        except OSError:
            raise self._death(child) from None
        except Exception as error:  # noqa: BLE001 - any object may refuse to be packed, in its own way
            raise TaskFailed("unsendable", f"the task cannot be sent: {type(error).__name__}: {error}") from None
        try:
            if not child.connection.poll(limit_s):
                self._end(kill=True)
                raise TaskFailed("too-long", f"the task took longer than {limit_s:.0f} s and was ended")
            answer = child.connection.recv()
        except (EOFError, OSError):
            raise self._death(child) from None
        if not isinstance(answer, Answered):
            raise TaskFailed("raised", "the worker gave no answer that is understood")
        if answer.error:
            raise TaskFailed("raised", answer.error, answer.trace)
        return answer.value

    def _death(self, child: _Child) -> TaskFailed:
        """Why there was no answer, after the process was cleared away."""
        child.process.join(END_S)
        code = child.process.exitcode
        self._end(kill=True)
        if self._closed:
            return TaskFailed("stopped", "the worker was closed while it computed")
        how = f"by signal {-code}" if code is not None and code < 0 else f"with exit code {code}"
        return TaskFailed("died", f"the worker's process ended {how} while it computed")

    def _end(self, kill: bool) -> None:
        with self._changing:
            child, self._child = self._child, None
        if child is None:
            return
        if kill:
            child.process.kill()
        else:
            # The child ends by itself when it finds its pipe closed.
            child.connection.close()
        child.process.join(END_S)
        if child.process.is_alive():
            child.process.kill()
            child.process.join(END_S)
        with suppress(OSError):
            child.connection.close()
