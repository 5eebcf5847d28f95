"""Many stories told at once, one per core."""

import logging
import multiprocessing
import os
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

from tests.stories.account import told
from tests.stories.shelf import missing, story


@dataclass(frozen=True)
class Result:
    """What came of one story. missing: why it cannot be told here, or ""; took_s: to tell it. [s]"""

    name: str
    missing: str
    text: str = ""
    broken: tuple[str, ...] = ()
    looks: int = 0
    took_s: float = 0.0


def results(names: Sequence[str]) -> Iterator[Result]:
    """In the order of the names, each as soon as those before it are told; one alone in this process, with its log."""
    if len(names) == 1:
        yield _result(names[0])
        return
    with ProcessPoolExecutor(os.cpu_count(), mp_context=multiprocessing.get_context("spawn")) as pool:
        yield from pool.map(_without_log, names)


def _without_log(name: str) -> Result:
    """The lines of several would be mixed."""
    logging.disable(logging.CRITICAL)
    return _result(name)


def _result(name: str) -> Result:
    if missing(name):
        return Result(name, missing(name))
    began_s = time.perf_counter()
    found = told(story(name))
    return Result(name, "", found.text, found.broken, len(found.watch.looks), time.perf_counter() - began_s)
