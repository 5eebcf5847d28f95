"""Logs: to standard error, for a terminal or the journal, with every loaded secret replaced by stars."""

import logging
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime

from carewatch.notify.redaction import RedactingFilter, Redactor

# Priorities of the journal, as a sign before each line: sd-daemon(3).
_PRIORITIES = ((logging.CRITICAL, 2), (logging.ERROR, 3), (logging.WARNING, 4), (logging.INFO, 6))
_DEBUG = 7


class _Journal(logging.Formatter):
    """One priority per line; the journal has its own times."""

    def format(self, record: logging.LogRecord) -> str:
        priority = next((number for level, number in _PRIORITIES if record.levelno >= level), _DEBUG)
        return "\n".join(f"<{priority}>{line}" for line in super().format(record).splitlines())


class _Terminal(logging.Formatter):
    """The time in UTC, as in the database."""

    def formatTime(self, record: logging.LogRecord, datefmt: str | None = None) -> str:  # noqa: ARG002, N802 - the base's
        return datetime.fromtimestamp(record.created, UTC).strftime("%Y-%m-%d %H:%M:%SZ")


@contextmanager
def logging_to_stderr(environ: Mapping[str, str], redactor: Redactor) -> Iterator[None]:
    """Everything that this process logs, from INFO on, goes to standard error without secrets while the block runs."""
    handler = logging.StreamHandler(sys.stderr)
    in_journal = bool(environ.get("JOURNAL_STREAM"))
    handler.setFormatter(_Journal("%(message)s") if in_journal else _Terminal("%(asctime)s %(levelname)s %(message)s"))
    handler.addFilter(RedactingFilter(redactor))
    root = logging.getLogger()
    before = root.level
    root.addHandler(handler)
    root.setLevel(logging.INFO)
    try:
        yield
    finally:
        root.removeHandler(handler)
        root.setLevel(before)
