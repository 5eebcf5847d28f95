"""What time it is: the system's clock, or for tests and rehearsals what stands in a file."""

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

VARIABLE = "CAREWATCH_CLOCK"
_FORM = "file:"


class ClockUnusable(Exception):
    """A clock that was asked for and cannot be read; the text says what is wrong."""


class Clock:
    """
    Asked for the time whenever something is decided.

    fixed: the moment at which it stands still, or a file that holds the time as ISO 8601 text and is read each time;
    None for the system's clock.

    Raises ClockUnusable when the file holds no time.
    """

    def __init__(self, fixed: datetime | Path | None = None) -> None:
        self._fixed = fixed
        self._last = _read(fixed) if isinstance(fixed, Path) else None

    @property
    def pretended(self) -> bool:
        """Whether this is not the system's clock."""
        return self._fixed is not None

    def now(self) -> datetime:
        """The time, UTC, whole seconds: as it comes back from the database."""
        moment = None if isinstance(self._fixed, Path) else self._fixed
        if isinstance(self._fixed, Path):
            try:
                self._last = _read(self._fixed)
            except ClockUnusable:
                # Whoever sets the clock may be in the middle of writing: the last time that was read holds on.
                if self._last is None:
                    raise
            moment = self._last
        return (moment or datetime.now(UTC)).astimezone(UTC).replace(microsecond=0)


def clock_of(environ: Mapping[str, str]) -> Clock:
    """The clock that the environment asks for. Raises ClockUnusable."""
    asked = environ.get(VARIABLE)
    if not asked:
        return Clock()
    if not asked.startswith(_FORM) or asked == _FORM:
        raise ClockUnusable(f"{VARIABLE} must be {_FORM}PATH")
    return Clock(Path(asked.removeprefix(_FORM)))


def _read(path: Path) -> datetime:
    try:
        text = path.read_text(encoding="utf-8").strip()
        moment = datetime.fromisoformat(text)
    except OSError as error:
        raise ClockUnusable(f"the clock {path} cannot be read: {(error.strerror or str(error)).lower()}") from None
    except ValueError:
        raise ClockUnusable(f"the clock {path} must hold a time such as 2026-11-05T11:00:00+00:00") from None
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)
