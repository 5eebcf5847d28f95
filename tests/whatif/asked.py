"""`whatif` asked of small gardens under invented weather."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

from tests.outlook.gardens import BENCH, LAWN, SHADE, SHED, Document, Garden, planted, ran, tree
from tests.outlook.invented_weather import Day, answer

MILD = Day(low_c=9, high_c=19, dew_c=9, cloud=70, wind_ms=2)
FROSTY = Day(low_c=-4, high_c=11, dew_c=-6, cloud=0, wind_ms=1)
# Saturday morning, on the site's clock nine.
SATURDAY = datetime(2026, 9, 5, 7, tzinfo=UTC)
PLACES = LAWN + BENCH + SHADE + SHED


def garden(folder: Path, days: list[Day], *trees: str, at: datetime = SATURDAY, before: Day = MILD) -> Garden:
    """A garden with these trees; days: of the forecast, from that of `at` on."""
    return planted(folder, answer(at, before, days), at, PLACES, *(trees or (tree("maple", "lawn"),)))


def answered(where: Garden, *words: str) -> Document:
    """What `whatif` answers, as a document."""
    return where.asked("whatif", *words)


def said(where: Garden, *words: str) -> str:
    """What `whatif` says to a person."""
    done = ran("whatif", *words, "--config", str(where.config), "--at", where.at.isoformat())
    assert done.code == 0, done.err
    return done.out


def by_day(document: Document) -> dict[str, Document]:
    """The days of an answer by their date."""
    return {day["day"]: day for day in document["days"]}


def dates(at: datetime, count: int) -> list[str]:
    """ISO dates from that of a moment on."""
    return [(at + timedelta(days=number)).date().isoformat() for number in range(count)]
