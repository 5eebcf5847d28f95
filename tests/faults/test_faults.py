"""The fault harness at a small scale: one kill, and one failure of the weather service."""

from collections.abc import Iterator
from datetime import timedelta

import pytest

from tests.faults.__main__ import report
from tests.faults.cases import Kill, Weather, kills
