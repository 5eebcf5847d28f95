"""
What systemd is told, as datagrams to the socket that it names; nothing where there is none.

Source: sd_notify(3), sd_watchdog_enabled(3).
"""

import logging
import os
import socket
from collections.abc import Mapping

LOG = logging.getLogger(__name__)


class Systemd:
    """
    The service manager, if there is one.

    environ: NOTIFY_SOCKET, WATCHDOG_USEC and WATCHDOG_PID are read.
    """

    def __init__(self, environ: Mapping[str, str]) -> None:
        address = environ.get("NOTIFY_SOCKET", "")
        # "@" stands for the zero byte that begins an abstract address.
        self._address = f"\0{address[1:]}" if address.startswith("@") else address
        self.watchdog_s = _watchdog_s(environ)

    def ready(self, status: str) -> None:
        """The service works: configuration read, database open, schedule running."""
        self._tell("READY=1", f"STATUS={status}")

    def status(self, status: str) -> None:
        """One line for `systemctl status`."""
        self._tell(f"STATUS={status}")

    def alive(self) -> None:
        """The watchdog's time begins anew."""
        self._tell("WATCHDOG=1")

    def stopping(self) -> None:
        """The service is on its way out."""
        self._tell("STOPPING=1")

    def _tell(self, *lines: str) -> None:
        if not self._address:
            return
        text = "\n".join(" ".join(line.splitlines()) for line in lines)
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as datagrams:
                datagrams.sendto(text.encode(), self._address)
        except OSError as error:
            LOG.warning("systemd could not be told: %s", error.strerror or error)


def _watchdog_s(environ: Mapping[str, str]) -> float | None:
    """After how long without a sign the service is started anew, or None where nobody waits for one. [s]"""
    given, meant = environ.get("WATCHDOG_USEC", ""), environ.get("WATCHDOG_PID", "")
    if not given.isdigit() or not int(given) or (meant and meant != str(os.getpid())):
        return None
    return int(given) / 1e6
