"""Whether what failed can have arrived: the sending library says how a connection ended to those who debug it alone."""

import logging
import re

NEVER_MADE = "no connection was made"
BROKE_OFF = "the connection broke off after it was made, so the message may have arrived"

_LOGGER = "apprise"
# Below every level in use: one that somebody else sets, to see the library at work, is told from it and respected.
_OWN_LEVEL = 5
# How its services begin the record that names the exception.
_RECORD = re.compile(r"[\w. ]*Socket Exception\b")
# Exceptions of urllib3 and messages of the system that come before anything can have been sent.
_BEFORE = re.compile(
    r"NewConnectionError|NameResolutionError|ConnectTimeout|SSLError|ProxyError|failed to establish|connection refused|"
    r"name or service not known|name resolution|no address associated|no route to host|network is unreachable|"
    r"host is unreachable",
    re.IGNORECASE,
)


class ConnectionFilter(logging.Filter):
    """
    Keeps the library's logger at warnings, as its level would, and makes one of the record on a broken connection.

    That one says NEVER_MADE or BROKE_OFF and nothing of what it said before, which may hold addresses.
    """

    def filter(self, record: logging.LogRecord) -> bool:
        """Whether the record passes; the one on a broken connection is changed in place."""
        if record.levelno >= logging.WARNING:
            return True
        said = record.getMessage()
        if not _RECORD.match(said):
            return logging.getLogger(_LOGGER).level != _OWN_LEVEL
        record.levelno, record.levelname = logging.WARNING, logging.getLevelName(logging.WARNING)
        record.msg, record.args = NEVER_MADE if _BEFORE.search(said) else BROKE_OFF, ()
        return True


def watch_connections(watching: ConnectionFilter) -> None:
    """Put the filter on the library's logger, after `guard_loggers`."""
    logger = logging.getLogger(_LOGGER)
    logger.addFilter(watching)
    logger.setLevel(_OWN_LEVEL)


def unwatch_connections(watching: ConnectionFilter) -> None:
    """Take the filter off again; with the last one the logger is back at WARNING."""
    logger = logging.getLogger(_LOGGER)
    logger.removeFilter(watching)
    if not any(isinstance(other, ConnectionFilter) for other in logger.filters):
        logger.setLevel(logging.WARNING)
