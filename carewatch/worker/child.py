"""What runs in the child process: one task after another, each answered with its value or with why there is none."""

import importlib
import os
import signal
import traceback
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.reduction import ForkingPickler

LONGEST_REASON = 300


@dataclass(frozen=True)
class Wanted:
    """One task. function: dotted name of a function of one argument; argument: plain data."""

    function: str
    argument: object


@dataclass(frozen=True)
class Answered:
    """How a task ended. error: "" when it gave `value`, else one line; trace: where it failed, for the log."""

    value: object = None
    error: str = ""
    trace: str = ""


def serve(connection: Connection) -> None:
    """Answer tasks until the parent closes its end."""
    # Ctrl-C goes to the whole terminal; the parent decides when this process ends.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # One thread of linear algebra saves memory, and the arrays are too small for more to help.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    while True:
        try:
            wanted = connection.recv()
        except (EOFError, OSError):
            return
        answer = _packed(answered(wanted))
        try:
            connection.send_bytes(answer)
        except OSError:
            return


def answered(wanted: Wanted) -> Answered:
    """The answer to one task; whatever it raises is part of the answer."""
    module, _, name = wanted.function.rpartition(".")
    try:
        return Answered(getattr(importlib.import_module(module), name)(wanted.argument))
    except Exception as error:  # noqa: BLE001 - a task that breaks must not take the process with it
        return _broken(error)


def _packed(answer: Answered) -> memoryview:
    """The answer as bytes; a value that cannot travel becomes an error."""
    try:
        return ForkingPickler.dumps(answer)
    except Exception as error:  # noqa: BLE001 - any object may refuse to be packed, in its own way
        return ForkingPickler.dumps(_broken(error))


def _broken(error: Exception) -> Answered:
    said = " ".join(f"{type(error).__name__}: {error}".split())[:LONGEST_REASON]
    return Answered(error=said, trace="".join(traceback.format_exception(error)))
