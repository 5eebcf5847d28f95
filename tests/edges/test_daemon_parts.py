"""The small parts of the service: clock, faults, what is due, blindness, pulse, systemd, heartbeat, logs."""

import io
import logging
import os
import signal
import socket
import threading
from contextlib import redirect_stderr
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from carewatch.alerts.notices import identity
from carewatch.daemon.blind import Looked, looked
from carewatch.daemon.clock import Clock, ClockUnusable, clock_of
from carewatch.daemon.fault import FaultUnknown, fault_of
from carewatch.daemon.heartbeat import Heartbeat
from carewatch.daemon.logs import logging_to_stderr
from carewatch.daemon.notify_systemd import Systemd
from carewatch.daemon.pulse import DELIVER_LIMIT_S, JOB_LIMIT_S, Pulse
from carewatch.daemon.signals import signals_caught
from carewatch.daemon.state import Due, due
from carewatch.notify.redaction import Redactor
from carewatch.sqlite.text_time import time_text
from tests.edges.watched import web_service

NOON = datetime(2026, 11, 5, 12, tzinfo=UTC)
BERLIN = ZoneInfo("Europe/Berlin")
HALF_A_DAY = timedelta(hours=12)


def test_the_clock_in_a_file_is_read_anew_each_time_and_a_half_written_one_leaves_the_last(tmp_path: Path) -> None:
    file = tmp_path / "clock"
    file.write_text("2026-11-05T13:00:00+01:00\n")
    clock = clock_of({"CAREWATCH_CLOCK": f"file:{file}"})

    assert (clock.now(), clock.pretended) == (NOON, True)
    file.write_text("2026-11-05T14:00:00.750000")
    assert clock.now() == NOON + timedelta(hours=2)
    file.write_text("")
    assert clock.now() == NOON + timedelta(hours=2)


@pytest.mark.parametrize("text", ["yesterday", "", None])
def test_a_clock_without_a_time_is_refused_at_the_start(tmp_path: Path, text: str | None) -> None:
    if text is not None:
        (tmp_path / "clock").write_text(text)
    with pytest.raises(ClockUnusable, match="clock"):
        clock_of({"CAREWATCH_CLOCK": f"file:{tmp_path / 'clock'}"})


def test_the_system_s_clock_serves_without_the_variable_and_another_form_of_it_is_refused() -> None:
    assert abs(clock_of({}).now() - datetime.now(UTC)) < timedelta(seconds=5)
    assert not clock_of({"CAREWATCH_CLOCK": ""}).pretended
    assert Clock(NOON.astimezone(BERLIN)).now() == NOON
    with pytest.raises(ClockUnusable, match="file:PATH"):
        clock_of({"CAREWATCH_CLOCK": "2026-11-05"})


@pytest.mark.parametrize("armed", ["after-lunch", "after-fetch:0", "after-fetch:x", "after-fetch:-1", ":1"])
def test_a_fault_at_no_seam_is_refused(armed: str) -> None:
    with pytest.raises(FaultUnknown, match="between-send-and-mark"):
        fault_of({"CAREWATCH_FAULT": armed})


def test_an_armed_fault_waits_for_its_turn_at_its_own_seam() -> None:
    """That it then kills is seen where whole cycles are killed."""
    fault = fault_of({"CAREWATCH_FAULT": "after-fetch:3"})
    for _ in range(2):
        fault("after-fetch")
    for _ in range(9):
        fault("after-assess")
    for _ in range(9):
        fault_of({})("after-fetch")


@pytest.mark.parametrize(
    ("facts", "version", "expected"),
    [
        ({}, 0, Due(True, True)),
        ({"poll.next-at": 60, "evaluation.next-at": 60}, 0, Due(False, False)),
        ({"poll.next-at": -1, "evaluation.next-at": 60}, 0, Due(True, True)),
        ({"poll.next-at": 60, "evaluation.next-at": 0}, 0, Due(False, True)),
        ({"poll.next-at": 60, "evaluation.next-at": 60, "evaluation.log-version": "0"}, 0, Due(False, False)),
        ({"poll.next-at": 60, "evaluation.next-at": 60, "evaluation.log-version": "0"}, 1, Due(False, True)),
        # A clock that was years ahead when it was written must not silence the service for years.
        ({"poll.next-at": 10**8, "evaluation.next-at": 60}, 0, Due(True, True)),
        ({"poll.next-at": "nonsense", "evaluation.next-at": 60}, 0, Due(True, True)),
    ],
)
def test_what_is_due_follows_from_the_clock_and_the_log(
    facts: dict[str, int | str], version: int, expected: Due
) -> None:
    stored = {
        name: time_text(NOON + timedelta(seconds=value)) if isinstance(value, int) else value
        for name, value in facts.items()
    }

    assert due(stored, version, NOON, longest_wait_s=86400.0) == expected


def after(saw: Looked, facts: dict[str, str]) -> dict[str, str]:
    """The facts after they were stored."""
    kept = {name: value for name, value in facts.items() if name not in saw.facts}
    stored = {
        name: value if isinstance(value, str) else time_text(value)
        for name, value in saw.facts.items()
        if value is not None
    }
    return kept | stored


def test_blindness_is_told_once_after_its_hours_and_sight_once_when_it_returns() -> None:
    facts: dict[str, str] = {}
    told: list[tuple[int, str]] = []
    for hour in range(40):
        now = NOON + timedelta(hours=hour)
        saw = looked(facts, now if hour in (0, 30, 31) else None, now, HALF_A_DAY, "it rains", BERLIN)
        told += [(hour, notice.kind) for notice in saw.notices]
        facts = after(saw, facts)

    assert told == [(13, "blind"), (30, "sees-again")]


def test_a_blind_notice_says_since_when_and_why_and_sight_withdraws_what_nobody_got() -> None:
    facts = after(looked({}, NOON, NOON, HALF_A_DAY, "", BERLIN), {})
    blind = looked(facts, None, NOON + timedelta(hours=20), HALF_A_DAY, "the service answered HTTP 500", BERLIN)
    (notice,) = blind.notices

    assert notice.title == "Your trees are not watched: no usable forecast since Thu 5 Nov 13:00."
    assert "The reason: the service answered HTTP 500." in notice.body
    assert len(notice.title) <= 110
    later = NOON + timedelta(hours=24)
    sees = looked(after(blind, facts), later, later, HALF_A_DAY, "", BERLIN)
    assert sees.withdrawn == notice.id
    assert sees.notices[0].title == "Your trees are watched again: a forecast has come."
    assert "From Thu 5 Nov 13:00 until now" in sees.notices[0].body


def test_a_stale_forecast_that_still_serves_does_not_count_as_sight() -> None:
    facts: dict[str, str] = {}
    kinds = []
    for hour in range(20):
        saw = looked(facts, NOON, NOON + timedelta(hours=hour), HALF_A_DAY, "", BERLIN)
        kinds += [notice.kind for notice in saw.notices]
        facts = after(saw, facts)

    assert kinds == ["blind"]


def test_a_watch_that_never_saw_anything_is_blind_after_its_hours_too() -> None:
    facts = after(looked({}, None, NOON, HALF_A_DAY, "", BERLIN), {})

    assert not looked(facts, None, NOON + HALF_A_DAY, HALF_A_DAY, "", BERLIN).blind
    assert looked(facts, None, NOON + timedelta(hours=13), HALF_A_DAY, "", BERLIN).blind


def test_a_second_blindness_is_told_again() -> None:
    first = looked({"sight.seen-at": time_text(NOON)}, None, NOON + timedelta(hours=13), HALF_A_DAY, "", BERLIN)
    later = NOON + timedelta(days=3)
    second = looked({"sight.seen-at": time_text(later)}, None, later + timedelta(hours=13), HALF_A_DAY, "", BERLIN)

    assert first.notices[0].dedup != second.notices[0].dedup
    assert first.notices[0].id != identity("notice", second.notices[0].dedup)


def test_the_pulse_fails_for_a_job_past_its_limit_and_for_an_outbox_that_nobody_looks_at() -> None:
    now_s = 0.0
    pulse = Pulse(lambda: now_s)
    assert pulse.ailing() == ""
    with pulse.at_work("cycle"):
        now_s = JOB_LIMIT_S + 1
        pulse.step("deliver")
        assert "cycle" in pulse.ailing()
        assert pulse.working() == ("cycle",)
    assert pulse.ailing() == ""
    now_s += DELIVER_LIMIT_S + 1
    assert "outbox" in pulse.ailing()
    with pulse.at_work("deliver"):
        assert pulse.ailing() == ""


@pytest.mark.parametrize("abstract", [False, True])
def test_systemd_is_told_by_datagrams(tmp_path: Path, abstract: bool) -> None:
    """sd_notify(3): one datagram of lines; a leading "@" stands for the zero byte of an abstract address."""
    address = f"@carewatch-test-{os.getpid()}" if abstract else str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(f"\0{address[1:]}" if abstract else address)
        systemd = Systemd({"NOTIFY_SOCKET": address, "WATCHDOG_USEC": "300000000", "WATCHDOG_PID": str(os.getpid())})
        systemd.ready("watching")
        systemd.status("two\nlines")
        systemd.alive()
        systemd.stopping()
        told = [manager.recv(1000).decode() for _ in range(4)]

    assert told == ["READY=1\nSTATUS=watching", "STATUS=two lines", "WATCHDOG=1", "STOPPING=1"]
    assert systemd.watchdog_s == 300.0


@pytest.mark.parametrize(
    "environ", [{}, {"WATCHDOG_USEC": "0"}, {"WATCHDOG_USEC": "x"}, {"WATCHDOG_USEC": "5000000", "WATCHDOG_PID": "1"}]
)
def test_without_a_manager_that_waits_for_this_process_nothing_is_told(environ: dict[str, str]) -> None:
    systemd = Systemd(environ)

    systemd.ready("watching")
    assert systemd.watchdog_s is None


def test_a_manager_that_is_gone_is_no_reason_to_fail(tmp_path: Path) -> None:
    Systemd({"NOTIFY_SOCKET": str(tmp_path / "nobody")}).alive()


def test_a_heartbeat_reaches_its_address_and_one_that_does_not_shows_nothing_of_it(
    caplog: pytest.LogCaptureFixture,
) -> None:
    with web_service() as web:
        assert Heartbeat(f"http://127.0.0.1:{web.port}/beat/T0PSECRET").beat()
        assert web.beats == 1
        web.weather_status = 503
        assert not Heartbeat(f"http://127.0.0.1:{web.port}/T0PSECRET").beat()
    assert not Heartbeat("http://127.0.0.1:1/T0PSECRET").beat()
    assert not Heartbeat("http://[T0PSECRET").beat()
    assert not Heartbeat("").beat()

    assert "HTTP 503" in caplog.text
    assert "T0PSECRET" not in caplog.text + repr(Heartbeat("http://x/T0PSECRET"))


def test_logs_bear_the_journal_s_priorities_where_it_reads_them_and_times_elsewhere() -> None:
    def logged(environ: dict[str, str]) -> list[str]:
        log, target = logging.getLogger("carewatch.test"), io.StringIO()
        with redirect_stderr(target), logging_to_stderr(environ, Redactor(["T0PSECRET"])):
            log.info("fine")
            try:
                int("T0PSECRET")
            except ValueError:
                log.exception("T0PSECRET broke")
            log.debug("unseen")
        log.info("after the block nothing is written")
        return target.getvalue().splitlines()

    journal = logged({"JOURNAL_STREAM": "8:1"})
    assert journal[:2] == ["<6>fine", "<3>*** broke"]
    assert all(line.startswith("<3>") for line in journal[2:])
    assert journal[-1] == "<3>ValueError: invalid literal for int() with base 10: '***'"
    assert logged({})[0].endswith("Z INFO fine")


def test_a_signal_to_end_is_never_missed_and_never_blocks_whatever_it_interrupts() -> None:
    """One before anybody waits, one while somebody does, and a burst: each ends the wait; else it ends in time."""
    with signals_caught() as wait:
        assert not wait(0.01)
        os.kill(os.getpid(), signal.SIGTERM)
        assert wait(5.0)
        later = threading.Timer(0.05, os.kill, (os.getpid(), signal.SIGINT))
        later.start()
        assert wait(5.0)
        later.join()
        for _ in range(200):
            os.kill(os.getpid(), signal.SIGTERM)
        assert wait(5.0)
