"""Faults on purpose, for tests: the process kills itself at a named seam, as a pulled plug would."""

import os
import signal
from collections.abc import Callable, Mapping

VARIABLE = "CAREWATCH_FAULT"
SEAMS = (
    "after-fetch",
    "after-assess",
    "inside-transaction",
    "after-commit",
    "before-send",
    "between-send-and-mark",
)


class FaultUnknown(Exception):
    """A fault that is armed at no seam; the text says what is accepted."""


def fault_of(environ: Mapping[str, str]) -> Callable[[str], None]:
    """
    What is called at each seam with its name: nothing happens, unless the environment arms one as "seam" or "seam:n".

    n: at which passing of the seam, from 1. Raises FaultUnknown.
    """
    armed = environ.get(VARIABLE)
    if not armed:
        return _nothing
    seam, _, count = armed.partition(":")
    if seam not in SEAMS or (count and not (count.isascii() and count.isdigit() and int(count))):
        raise FaultUnknown(f"{VARIABLE} must be SEAM or SEAM:N, with a seam of {', '.join(SEAMS)}")
    left = int(count or 1)

    def fault(name: str) -> None:
        nonlocal left
        left -= name == seam
        if left == 0:
            os.kill(os.getpid(), signal.SIGKILL)

    return fault


def _nothing(_: str) -> None:
    pass
