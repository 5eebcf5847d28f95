"""Processes that end without a word: what was committed stays, what was not leaves no trace, no lock lies about."""

import os
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from carewatch.sqlite.database import Database
from carewatch.sqlite.facts import fact
from carewatch.sqlite.refused import StoreRefused

NOW = datetime(2026, 11, 5, 11, tzinfo=UTC)

WRITE_AND_DIE = """
import os, signal, sys
from datetime import UTC, datetime
from pathlib import Path
from carewatch.sqlite.database import Database
from carewatch.sqlite.facts import put_facts

path, fatal, nth = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
seen = 0

def fault(point):
    global seen
    seen += point == fatal
    if seen == nth:
        os.kill(os.getpid(), signal.SIGKILL)

now = datetime(2026, 11, 5, 11, tzinfo=UTC)
database = Database.open(path, now, fault=fault)
for number in range(1, 100):
    with database.transaction(now) as transaction:
        put_facts(transaction, {"a": str(number), "b": str(number)})
"""

COUNT_FOR_EVER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from carewatch.sqlite.database import Database
from carewatch.sqlite.facts import put_facts

now = datetime(2026, 11, 5, 11, tzinfo=UTC)
database = Database.open(Path(sys.argv[1]), now)
claim = database.claim_instance()
number = 0
while True:
    number += 1
    with database.transaction(now) as transaction:
        put_facts(transaction, {"a": str(number), "b": str(number)})
    print(number, flush=True)
"""


def both(path: Path) -> tuple[str | None, str | None]:
    """The two facts that are always written together; opening checks the file as a whole."""
    with Database.open(path, NOW) as database, database.snapshot(NOW) as snapshot:
        return fact(snapshot, "a"), fact(snapshot, "b")


@pytest.mark.parametrize(("point", "kept"), [("inside-transaction", "6"), ("after-commit", "7")])
def test_a_process_killed_around_the_seventh_commit_leaves_what_it_committed(
    tmp_path: Path, point: str, kept: str
) -> None:
    path = tmp_path / "a.sqlite"

    ended = subprocess.run([sys.executable, "-c", WRITE_AND_DIE, path, point, "7"], check=False)

    assert ended.returncode == -signal.SIGKILL
    assert both(path) == (kept, kept)


def test_a_process_killed_anywhere_loses_nothing_that_it_had_reported(tmp_path: Path) -> None:
    path = tmp_path / "a.sqlite"
    reported = 0
    for wait_s in (0.01, 0.04, 0.09):
        with subprocess.Popen([sys.executable, "-c", COUNT_FOR_EVER, path], stdout=subprocess.PIPE, text=True) as child:
            assert child.stdout is not None
            first_line = child.stdout.readline()
            time.sleep(wait_s)
            child.kill()
            reported = int([*first_line.split(), *child.stdout.read().split()][-1])
        first, second = both(path)
        assert first == second
        assert int(first or "0") >= reported
    assert reported > 0


def test_a_second_service_is_refused_until_the_first_is_gone_however_it_went(tmp_path: Path) -> None:
    path = tmp_path / "a.sqlite"
    with subprocess.Popen([sys.executable, "-c", COUNT_FOR_EVER, path], stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        child.stdout.readline()
        with Database.open(path, NOW) as second:
            with pytest.raises(StoreRefused, match=rf"in use by another carewatch \(process {child.pid}\)") as refused:
                second.claim_instance()
            assert refused.value.transient
            child.kill()
            child.wait()
            with second.claim_instance():
                assert (tmp_path / "a.sqlite.lock").read_text() == f"{os.getpid()}\n"


def test_a_claim_is_free_again_after_its_block_and_held_once_within_a_process(tmp_path: Path) -> None:
    with Database.open(tmp_path / "a.sqlite", NOW) as database:
        for _ in range(2):
            with database.claim_instance() as claim, pytest.raises(StoreRefused, match="in use"):
                database.claim_instance()
            claim.release()
