"""The signals that end a service, caught without a lock."""

import os
import select
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from types import FrameType


@contextmanager
def signals_caught() -> Iterator[Callable[[float | None], bool]]:
    """
    While the block runs, a function that waits for one of the signals that end a service and says whether one came.

    It waits so long at the most [s]; with None, for good.

    A handler runs in the middle of whatever the main thread is at. Setting an event there would take the lock that the
    waiting main thread may hold at that moment, for good; a byte into a pipe takes none.
    """
    read_end, write_end = os.pipe()
    os.set_blocking(write_end, False)

    def ask_to_stop(_number: int, _frame: FrameType | None) -> None:
        with suppress(BlockingIOError):
            os.write(write_end, b"\0")

    def wait(limit_s: float | None = None) -> bool:
        came, _, _ = select.select([read_end], [], [], limit_s)
        return bool(came) and bool(os.read(read_end, 1))

    before = {number: signal.signal(number, ask_to_stop) for number in (signal.SIGTERM, signal.SIGINT)}
    try:
        yield wait
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        os.close(read_end)
        os.close(write_end)
