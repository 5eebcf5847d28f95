"""The service as a process of its own: started, watched, killed, stopped, and driven by a clock in a file."""

import os
import re
import signal
import socket
import subprocess
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from carewatch.care.log import Entry
from carewatch.daemon.state import COMPLETED_AT, STARTED_AT
from carewatch.sqlite.care_log import add
from carewatch.sqlite.database import Database
from carewatch.sqlite.facts import put_facts
from tests.edges.invented_archive import archive
from tests.edges.watched import CALL, MORNING, PROGRAM, Running, Watched, web_service

# Two in the afternoon in the garden.
HEAVY = "matplotlib numpy pandas pvlib scipy"
# Prints, after the command has ended, what of these it had loaded.
SHOWN = f"print('loaded:', [name for name in {HEAVY.split()} if name in sys.modules], flush=True)"
SHOWS_MODULES = [*PROGRAM[:2], PROGRAM[2].replace("sys.exit(main())", f"code = main(); {SHOWN}; sys.exit(code)")]


@pytest.fixture
def garden(tmp_path: Path) -> Iterator[Watched]:
    with web_service() as web:
        watched = Watched(tmp_path, web)
        watched.plant()
        watched.set_clock(MORNING)
        yield watched


def worker_of(service: Running) -> int:
    """Process id of the child that computes."""
    pid = service.process.pid
    # A child belongs to the thread that started it.
    children = [child for task in Path(f"/proc/{pid}/task").glob("*/children") for child in task.read_text().split()]
    return next(int(child) for child in children if "spawn_main" in Path(f"/proc/{child}/cmdline").read_text())


def calls(garden: Watched) -> list[str]:
    """First lines of what was sent about the frost night."""
    return [title for title in garden.web.titles() if "maple-layer-1" in title]


def test_a_day_with_a_kill_in_the_middle_and_an_orderly_end(garden: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    """
    It tells once of the frost night; the same weather again, and kill -9 and a new start, bring nothing new.

    A worker that is killed is replaced; what is logged is known at once, without asking the weather service; SIGTERM
    ends it well; and nothing heavy was ever loaded in its process.
    """
    garden.plant(notices=f'heartbeat_url = "http://127.0.0.1:{garden.web.port}/beat/x"')
    with garden.service() as service:
        service.looked_at(MORNING)
        assert calls(garden) == []
        service.looked_at(CALL)
        service.until(lambda: calls(garden), "the call")
        service.until(lambda: garden.web.beats >= 2, "two signs of life")
        service.looked_at(CALL + timedelta(minutes=70))
        os.kill(service.process.pid, signal.SIGKILL)

    monkeypatch.setattr("tests.edges.watched.PROGRAM", SHOWS_MODULES)
    with garden.service() as service:
        service.looked_at(CALL + timedelta(minutes=90))
        os.kill(worker_of(service), signal.SIGKILL)
        asked = len(garden.web.asked)
        with (
            Database.open(garden.database, CALL) as database,
            database.transaction(CALL + timedelta(minutes=90)) as transaction,
        ):
            entry = Entry("maple-layer-1", "begin", CALL + timedelta(minutes=80), measure="fleece-heavy")
            add(transaction, entry, ZoneInfo("Europe/Berlin"))
        service.until(lambda: garden.facts()["evaluation.log-version"] == "1", "a look because of the log")
        assert len(garden.web.asked) == asked
        # Past the hour of a repeat, and past dusk: the cover is on, so nobody is called again.
        service.looked_at(CALL + timedelta(hours=4))
        assert service.stop() == 0

    assert len(calls(garden)) == 1
    # The plan for the season may be told beside it, once like everything.
    kinds = [notice.kind for notice in garden.notices() if notice.kind != "season"]
    assert kinds == ["call"]
    assert len(garden.web.titles()) == len(garden.notices())
    log = service.log.read_text()
    assert log.splitlines()[-1] == "loaded: []"
    assert "Traceback" not in log


def test_a_second_service_is_refused_with_a_clear_word_and_systemd_hears_of_the_first(garden: Watched) -> None:
    garden.web.archive = archive
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(str(garden.folder / "notify"))
        manager.settimeout(20)
        told = {"NOTIFY_SOCKET": str(garden.folder / "notify"), "WATCHDOG_USEC": "2000000", "JOURNAL_STREAM": "8:1"}
        with garden.service(told) as service:
            heard: list[str] = []
            while "WATCHDOG=1" not in heard or not any("next look" in text for text in heard):
                heard.append(manager.recv(4096).decode())
            code, _, refused = garden.ran("run")
            assert garden.ran("health")[0] == 0
            assert service.stop() == 0
        while "STOPPING=1" not in heard:
            heard.append(manager.recv(4096).decode())

    assert code == 1
    assert f"in use by another carewatch (process {service.process.pid})" in refused
    assert "Traceback" not in refused
    assert heard[0] == "READY=1\nSTATUS=watching"
    assert any(text.startswith("STATUS=forecast of Thu 08:00, 1 in danger; next look 09:0") for text in heard)
    lines = service.log.read_text().splitlines()
    # This weather service has no archive, which is said as the warning that it is.
    assert all(line.startswith(("<6>", "<4>No past weather of", "warning: ")) for line in lines), lines


def test_a_stop_in_the_middle_of_a_send_lets_it_end_and_notes_it(garden: Watched) -> None:
    garden.set_clock(CALL)
    garden.web.hang_s = 1.5
    with garden.service() as service:
        service.until(lambda: garden.web.posts, "the send")
        assert service.stop() == 0

    assert [row.sent_at is not None for row in garden.rows()] == [True]


def test_a_stop_in_the_middle_of_a_fetch_does_not_wait_for_it(garden: Watched) -> None:
    """A source that is out of order is asked again for a while, which may be cut off. By the system's clock."""
    del garden.environ["CAREWATCH_CLOCK"]
    garden.web.weather_status = 503
    with garden.service() as service:
        service.until(lambda: garden.web.asked, "a question")
        began = time.monotonic()
        assert service.stop() == 0
        # Asking again goes on for minutes; on a busy machine the process itself takes some seconds to end.
        assert time.monotonic() - began < 20
    assert abs(datetime.fromisoformat(garden.facts()["service.started-at"]) - datetime.now(UTC)) < timedelta(minutes=2)


def test_a_sink_that_is_down_for_three_hours_gets_the_message_when_it_is_back(garden: Watched) -> None:
    garden.plant(notices="repeat_after_minutes = 1440")
    garden.web.sink_status["phone"] = 503
    with garden.service() as service:
        service.looked_at(CALL)
        for minutes in (60, 120, 180):
            service.until(lambda: garden.web.posts and all(row.lease_until is None for row in garden.rows()), "its end")
            tries = len(garden.web.posts)
            service.looked_at(CALL + timedelta(minutes=minutes))
            service.until(lambda tries=tries: len(garden.web.posts) > tries, "another try")  # type: ignore[misc]
        assert garden.web.titles() == []
        service.until(lambda: all(row.lease_until is None for row in garden.rows()), "the end of the try")
        garden.web.sink_status["phone"] = 200
        garden.set_clock(CALL + timedelta(minutes=200))
        service.until(garden.web.titles, "the message")
        assert service.stop() == 0

    assert len(garden.web.titles()) == 1
    assert [notice.kind for notice in garden.notices()] == ["call"]


@pytest.mark.parametrize(
    ("found", "put", "said"),
    [
        ("latitude = 50.3", "latitude = 900\nlongtude = 3", ("latitude", "longtude")),
        (r'"json://[^"]*"', '"env:NO_SUCH_URL"', ("NO_SUCH_URL", "channel phone")),
        (r"\[weather\]", '[weather]\nsource = "met-norway"', ("weather.contact", "MET Norway")),
    ],
    ids=["values and keys", "a secret", "a source"],
)
def test_what_is_wrong_is_told_at_the_start_all_at_once(
    garden: Watched, found: str, put: str, said: tuple[str, ...]
) -> None:
    garden.config.write_text(re.sub(found, put, garden.config.read_text()))

    code, out, told = garden.ran("run")

    assert (code, out) == (2, "")
    assert all(word in told for word in said), told
    assert not garden.database.exists()


@pytest.mark.parametrize(("name", "value"), [("CAREWATCH_FAULT", "after-lunch"), ("CAREWATCH_CLOCK", "noon")])
def test_a_fault_or_a_clock_that_is_not_understood_is_refused(garden: Watched, name: str, value: str) -> None:
    garden.environ[name] = value

    code, _, told = garden.ran("run")

    assert code == 2
    assert name in told


def test_health_tells_a_moving_schedule_from_one_that_stands_still(garden: Watched) -> None:
    def health(at: datetime) -> int:
        garden.set_clock(at)
        return garden.ran("health")[0]

    garden.plant(trees=("pine",))
    assert health(MORNING) == 1
    garden.once(MORNING)
    assert [health(MORNING + timedelta(hours=hours)) for hours in (0, 2, 3)] == [0, 0, 1]
    with Database.open(garden.database, CALL) as database, database.transaction(CALL) as transaction:
        put_facts(transaction, {COMPLETED_AT: None, STARTED_AT: CALL})
    assert [health(CALL + timedelta(minutes=minutes)) for minutes in (1, 20)] == [0, 1]
    garden.config.write_text("no [toml")
    assert health(CALL) == 2


def test_health_loads_nothing_but_the_standard_library_and_answers_at_once(garden: Watched) -> None:
    with Database.open(garden.database, MORNING) as database, database.transaction(MORNING) as transaction:
        put_facts(transaction, {COMPLETED_AT: MORNING})
    outside = "apprise apscheduler numpy pandas pydantic requests rich tomlkit"
    program = (
        "import sys; from carewatch.cli.main import main; code = main(); "
        f"print([name for name in {outside.split()} if name in sys.modules]); sys.exit(code)"
    )

    ended = subprocess.run(
        [*PROGRAM[:2], program, "health", "--config", str(garden.config)],
        capture_output=True,
        text=True,
        check=False,
        env=garden.environment(),
    )

    assert ended.returncode == 0, ended.stderr
    assert ended.stdout.splitlines()[-1] == "[]"
    assert "moves" in ended.stdout
