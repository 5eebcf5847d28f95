"""Times at the border of the database: aware datetimes outside, ISO 8601 UTC text of fixed width inside."""

import re
from datetime import UTC, datetime

_FORM = "%Y-%m-%dT%H:%M:%SZ"
_TEXT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")


def time_text(moment: datetime) -> str:
    """
    `moment` as text such as 2026-11-05T11:00:00Z, parts of a second cut off.

    moment: aware.

    Raises ValueError for a time without a zone.
    """
    # strftime writes years before 1000 without leading zeros on some systems; isoformat does not.
    return f"{whole_second(moment).replace(tzinfo=None).isoformat()}Z"


def optional_text(moment: datetime | None) -> str | None:
    """`moment` as by `time_text`; None stays None."""
    return None if moment is None else time_text(moment)


def time_of(text: str) -> datetime:
    """
    The UTC time that a stored text stands for.

    Raises ValueError for any other form.
    """
    if not _TEXT.fullmatch(text):
        raise ValueError(f"{text!r} is no time such as 2026-11-05T11:00:00Z")
    return datetime.strptime(text, _FORM).replace(tzinfo=UTC)


def optional_time(text: str | None) -> datetime | None:
    """The UTC time of a stored text; None stays None."""
    return None if text is None else time_of(text)


def whole_second(moment: datetime) -> datetime:
    """
    `moment` in UTC without parts of a second, as it comes back from the database.

    Raises ValueError for a time without a zone.
    """
    if moment.tzinfo is None or moment.utcoffset() is None:
        raise ValueError(f"{moment!r} has no time zone")
    return moment.astimezone(UTC).replace(microsecond=0)
