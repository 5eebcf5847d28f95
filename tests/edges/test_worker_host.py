"""The host of the computing process: values come back, and whatever happens to the process becomes a reason."""

import os
import signal
import threading
import time
from collections.abc import Iterator

import pytest

from carewatch.worker.child import Wanted, answered
from carewatch.worker.host import Host, TaskFailed


@pytest.fixture(scope="module")
def host() -> Iterator[Host]:
    with Host(limit_s=20, idle_s=3600) as made:
        yield made


def failure(host: Host, function: str, argument: object) -> TaskFailed:
    with pytest.raises(TaskFailed) as failed:
        host.call(function, argument)
    return failed.value


def test_a_value_comes_back_from_another_process_which_stays_for_the_next_task(host: Host) -> None:
    assert host.call("os.getsid", 0) == os.getsid(0)
    first = host.process_id

    assert host.call("math.sqrt", 9.0) == 3.0
    assert host.process_id == first != os.getpid()


def test_what_a_task_raises_is_told_with_its_place_and_the_process_lives_on(host: Host) -> None:
    host.call("math.sqrt", 1.0)
    before = host.process_id

    failed = failure(host, "json.loads", "{broken")

    assert (failed.kind, host.process_id) == ("raised", before)
    assert failed.reason.startswith("JSONDecodeError: ")
    assert "decoder.py" in failed.trace


@pytest.mark.parametrize("function", ["no.such.module", "math.no_such_function", "nodots"])
def test_a_function_that_is_not_there_is_a_failed_task(host: Host, function: str) -> None:
    assert failure(host, function, None).kind == "raised"


def test_what_cannot_travel_is_a_failed_task_in_either_direction(host: Host) -> None:
    assert failure(host, "builtins.open", os.devnull).kind == "raised"
    assert failure(host, "math.sqrt", threading.Lock()).kind == "unsendable"
    assert host.call("math.sqrt", 4.0) == 2.0


@pytest.mark.parametrize(("code", "said"), [(3, "exit code 3"), (0, "exit code 0")])
def test_a_process_that_ends_in_the_middle_is_told_and_replaced(host: Host, code: int, said: str) -> None:
    failed = failure(host, "os._exit", code)

    assert failed.kind == "died"
    assert said in failed.reason
    assert host.call("math.sqrt", 16.0) == 4.0


def test_a_process_killed_from_outside_is_told_and_replaced(host: Host) -> None:
    host.call("math.sqrt", 1.0)
    child = host.process_id
    assert child is not None
    threading.Timer(0.2, os.kill, (child, signal.SIGKILL)).start()

    failed = failure(host, "time.sleep", 20)

    assert failed.kind == "died"
    assert "signal 9" in failed.reason
    assert host.call("math.sqrt", 25.0) == 5.0


def test_a_process_killed_between_two_tasks_is_replaced_without_a_word(host: Host) -> None:
    host.call("math.sqrt", 1.0)
    child = host.process_id
    assert child is not None
    os.kill(child, signal.SIGKILL)
    os.waitid(os.P_PID, child, os.WEXITED | os.WNOWAIT)

    assert host.call("math.sqrt", 36.0) == 6.0


def test_a_task_past_its_limit_is_killed_with_its_process() -> None:
    with Host(limit_s=1.0, idle_s=3600) as host:
        host.call("math.sqrt", 1.0)
        began = time.monotonic()
        assert failure(host, "time.sleep", 60).kind == "too-long"
        assert time.monotonic() - began < 5
        assert host.process_id is None


def test_an_idle_process_is_ended_and_a_busy_or_young_one_is_not() -> None:
    now = 0.0
    with Host(limit_s=20, idle_s=600, monotonic=lambda: now) as host:
        assert not host.end_if_idle()
        host.call("math.sqrt", 1.0)
        now = 599.0
        assert not host.end_if_idle()
        now = 601.0
        assert host.end_if_idle()
        assert host.process_id is None
        assert host.call("math.sqrt", 49.0) == 7.0


def test_closing_ends_a_task_that_runs_and_refuses_the_next() -> None:
    host = Host(limit_s=60, idle_s=3600)
    host.call("math.sqrt", 1.0)
    kinds: list[str] = []
    worker = threading.Thread(target=lambda: kinds.append(failure(host, "time.sleep", 60).kind))
    worker.start()
    time.sleep(0.2)

    host.close()
    worker.join(10)

    assert kinds == ["stopped"]
    assert failure(host, "math.sqrt", 1.0).kind == "stopped"
    host.close()


def test_a_long_reason_is_cut_to_a_line() -> None:
    answer = answered(Wanted("json.loads", "x" * 5000))

    assert answer.error
    assert len(answer.error) <= 300
    assert "\n" not in answer.error
