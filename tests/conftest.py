"""
What the whole suite shares: when rubbish is collected.

Collecting four thousand tests makes millions of objects that live to the end. To look through them for rubbish, again
and again, took a third of the time of collection and one part in twenty of the rest.
"""

import gc
from collections.abc import Generator

import pytest

# Cycles of objects are small rubbish here: so many new ones between two looks, where Python takes 700.
LOOK_EVERY = (20_000, 20, 20)


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """No look while tests are collected; what is there then stays, and is not looked through any more."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.set_threshold(*LOOK_EVERY)
        gc.enable()
