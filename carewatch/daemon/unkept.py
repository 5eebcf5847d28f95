"""A database that cannot be written for long: nothing can be queued in it then, so that is said past it."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

# Longer than an import, a backup or a full disk that somebody is just clearing; short enough for an evening. Judged.
UNKEPT_AFTER = timedelta(minutes=15)
# Until somebody helps, once a day. Judged.
AGAIN_AFTER = timedelta(hours=24)


@dataclass(frozen=True)
class Word:
    """What is to be said. since: from when on nothing could be stored, aware. why: of "unkept", a plain sentence."""

    what: Literal["unkept", "kept-again"]
    since: datetime
    why: str = ""


class Unkept:
    """Remembers, outside of the database, since when it refuses, and whether the person was told. For one thread."""

    def __init__(self) -> None:
        self._since: datetime | None = None
        self._told_at: datetime | None = None
        self._owed: datetime | None = None

    def refused(self, now: datetime, why: str) -> Word | None:
        """A try to store failed; what is to be said, until `told`. now: aware."""
        self._owed = None
        # A clock that was set back must not put it off.
        if self._since is None or self._since > now:
            self._since = now
        if self._told_at is not None and timedelta() <= now - self._told_at < AGAIN_AFTER:
            return None
        return Word("unkept", self._since, why) if now - self._since >= UNKEPT_AFTER else None

    def stored(self) -> Word | None:
        """A try to store went well; what is to be said, until `told`."""
        if self._told_at is not None:
            self._owed = self._since
        self._since = self._told_at = None
        return None if self._owed is None else Word("kept-again", self._owed)

    def told(self, word: Word, now: datetime) -> None:
        """Somebody took the word. now: aware."""
        if word.what == "unkept":
            self._told_at = now
        else:
            self._owed = None
