"""How long a person waits for a command: whole processes, from a cold interpreter to the last line."""

import subprocess
import sys
import sysconfig
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from tests.benchmarks.measured import Measured

# Promised for a home server of two cores.
HELP_BUDGET_S = 0.25
DEMO_BUDGET_S = 5.0


def run() -> Iterator[Measured]:
    """Times of `carewatch --help` and `carewatch demo`, with their ratio to an interpreter that does nothing. [s]"""
    bare_s = best_time_s([sys.executable, "-c", "pass"], tries=5)
    carewatch = str(Path(sysconfig.get_path("scripts"), "carewatch"))
    for arguments, tries, budget_s in ((["--help"], 5, HELP_BUDGET_S), (["demo"], 3, DEMO_BUDGET_S)):
        best_s = best_time_s([carewatch, *arguments], tries)
        note = f"{best_s / bare_s:.1f} times a bare start of {bare_s:.3f} s; best of {tries}"
        yield Measured(" ".join(["carewatch", *arguments]), best_s, budget_s, "s", note)


def best_time_s(command: Sequence[str], tries: int) -> float:
    """
    Shortest wall-clock time of several runs of a command, in a folder where it finds nothing. [s]

    Raises RuntimeError when the command fails: a quick failure is not a quick answer.
    """
    times_s = []
    with tempfile.TemporaryDirectory() as empty:
        for _ in range(tries):
            began = time.perf_counter()
            answer = subprocess.run(command, cwd=empty, stdin=subprocess.DEVNULL, capture_output=True, check=False)
            times_s.append(time.perf_counter() - began)
            if answer.returncode != 0:
                said = answer.stderr.decode(errors="replace").strip()
                raise RuntimeError(f"{' '.join(command)} ended with exit code {answer.returncode}: {said}")
    return min(times_s)
