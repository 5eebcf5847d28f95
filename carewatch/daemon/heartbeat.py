"""A sign of life at an address of the grower's choice, which raises the alarm elsewhere when it stays away."""

import logging
from collections.abc import Callable

from carewatch.weather_api.http import ping
from carewatch.weather_api.refused import SourceRefused

LOG = logging.getLogger(__name__)


class Heartbeat:
    """
    Beats after complete cycles only: a service that runs and sees nothing must not look alive.

    url: the address, or "" for none; it is its own password. contact: for the User-Agent.
    """

    def __init__(self, url: str, contact: str = "", asked: Callable[[str, str], None] = ping) -> None:
        self._url = url
        self._contact = contact
        self._asked = asked

    def __repr__(self) -> str:
        return f"Heartbeat({'on' if self._url else 'off'})"

    def beat(self) -> bool:
        """Whether somebody took the sign of life; an address that does not answer is no reason to stop."""
        if not self._url:
            return False
        try:
            self._asked(self._url, self._contact)
        except SourceRefused as refused:
            LOG.warning("The heartbeat did not get through: %s", refused.reason)
            return False
        return True
