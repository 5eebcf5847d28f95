"""What the service costs a home server: time of a cycle, memory of the worker and of the idle daemon."""

import os
import re
import shutil
import signal
import subprocess
import sys
import sysconfig
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from carewatch.assess import assess
from carewatch.config.load import load
from carewatch.config.tables import load_tables
from tests.benchmarks.gardens import NOW, demo_folder, grown_garden, grown_weather, numbers
from tests.benchmarks.measured import Measured

MEMBERS, HOURS = 51, 168
# Trees, of them in danger, seconds, tries.
CYCLES = ((60, 0, 1.0, 3), (60, 10, 2.0, 3), (60, 60, 5.0, 2), (200, 20, 15.0, 1))
WORKER_BUDGET_MB = 350.0
DAEMON_BUDGET_MB = 130.0
SETTLED_S = 20.0
PEAK = """
import resource
from carewatch.assess import assess
from tests.benchmarks.gardens import NOW, grown_garden, grown_weather, numbers
from carewatch.config.tables import load_tables
assess(grown_garden(60, 60), grown_weather({members}, {hours}), numbers(load_tables()), NOW)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


def run() -> Iterator[Measured]:
    """Times of the judgement in a cycle, and the highest memory of the process that makes it."""
    tables = load_tables()
    load(demo_folder() / "autumn.toml", {}, NOW, tables)
    weather = grown_weather(MEMBERS, HOURS)
    assess(grown_garden(2, 1), weather, numbers(tables), NOW)
    for trees, danger, budget_s, tries in CYCLES:
        garden = grown_garden(trees, danger)
        best_s = float("inf")
        for _ in range(tries):
            began = time.perf_counter()
            found = assess(garden, weather, numbers(tables), NOW)
            best_s = min(best_s, time.perf_counter() - began)
        called = sum(tree.chosen is not None for tree in found.trees)
        yield Measured(
            f"cycle {trees} trees", best_s, budget_s, "s", f"{danger} in danger, {called} called; best of {tries}"
        )
    script = PEAK.format(members=MEMBERS, hours=HOURS)
    said = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout
    yield Measured("worker peak", float(said), WORKER_BUDGET_MB, "MB", "60 trees in danger, 51 members, 168 h")
    yield Measured("daemon idle", idle_daemon_mb(), DAEMON_BUDGET_MB, "MB", "after a cycle with the demo's garden")


def idle_daemon_mb() -> float:
    """
    Resident memory of `carewatch run` after its first cycle, without the worker's process. [MB]

    Raises RuntimeError when the service does not come up.
    """
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for file in ("autumn.toml", "cold-night.json"):
            shutil.copy(demo_folder() / file, folder / file)
        clock = folder / "clock"
        clock.write_text(NOW.isoformat(), encoding="utf-8")
        program = str(Path(sysconfig.get_path("scripts"), "carewatch"))
        service = subprocess.Popen(
            [program, "run", "--config", str(folder / "autumn.toml")],
            env={**os.environ, "CAREWATCH_CLOCK": f"file:{clock}"},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )
        try:
            time.sleep(SETTLED_S)
            if service.poll() is not None:
                said = service.stderr.read() if service.stderr else ""
                raise RuntimeError(f"the service ended with {service.returncode}: {said}")
            status = Path(f"/proc/{service.pid}/status").read_text(encoding="ascii")
            found = re.search(r"VmRSS:\s+(\d+) kB", status)
            if found is None:
                raise RuntimeError("the kernel does not tell the memory of the process")
            return int(found.group(1)) / 1024
        finally:
            service.send_signal(signal.SIGTERM)
            service.wait(timeout=60)
