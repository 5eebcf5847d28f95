"""The record of past weather: a day of hours per origin, which days are known, and which are to be asked for."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

# From the least to the most trusted where several know the same hour: the reanalysis, what the second source foresaw,
# the past hours of the first (and what it foresaw for at most a day).
ARCHIVE, MET_NORWAY, OPEN_METEO = "archive", "met-norway", "open-meteo"
ORIGINS = (ARCHIVE, MET_NORWAY, OPEN_METEO)
# So many hours of air temperature make a day's mean (as in forecast.history); all of them make a whole day.
ENOUGH_HOURS, WHOLE_DAY = 18, 24
# The reanalysis runs five days behind. Source: Open-Meteo documentation of the archive interface.
ARCHIVE_LAG_DAYS = 5
# One year for the seasons; deficits of works close within three growing seasons by the thermal times of works.toml, so
# that older works are finished.
YEAR_DAYS, UNFINISHED_DAYS = 366, 3 * 366
# A season: about ten calls' worth of the free quota, 1 MB of answer. Judged.
CHUNK_DAYS = 90
# Missing days this close together are asked for in one go: an answer weighs the same for up to two weeks.
NEAR_DAYS = 7
# So many days beyond the newest missing one are asked for with it: days that two origins know show how they differ.
OVERLAP_DAYS = 10
# A day that the archive did not know is asked for again after a day, then after twice as long each time.
FIRST_WAIT, LONGEST_WAIT = timedelta(days=1), timedelta(days=32)


@dataclass(frozen=True)
class PastDay:
    """
    The hours of one UTC day from one origin.

    hours: how many of them have an air temperature; mean_c: of those, None for none. [°C] content: as packed by
    forecast.packing.
    """

    day: date
    origin: str
    hours: int
    mean_c: float | None
    content: bytes


@dataclass(frozen=True)
class DayState:
    """What is stored of one day and origin. tries: how often the archive was asked for it; at: last, aware."""

    day: date
    origin: str
    hours: int
    mean_c: float | None
    tries: int
    at: datetime


@dataclass(frozen=True)
class Record:
    """
    The past as a judgement takes it.

    means: day, origin and mean air temperature of every day that is known, oldest first. [°C]
    recent: hours of the last days, every origin.
    """

    means: tuple[tuple[date, str, float], ...] = ()
    recent: tuple[PastDay, ...] = ()


@dataclass(frozen=True)
class Span:
    """First and last day, both included."""

    first: date
    last: date

    @property
    def days(self) -> int:
        """How many days it has."""
        return (self.last - self.first).days + 1


@dataclass(frozen=True)
class Wanted:
    """
    The record that is wanted and what is there.

    span: from the earlier of a year ago and the oldest unfinished work to yesterday.
    known: of its days, those with a mean. gaps: what is missing between, oldest first.
    """

    span: Span
    known: int
    gaps: tuple[Span, ...]


def record_begins(works: Iterable[date], today: date) -> date:
    """The earlier of a year ago and the oldest work that can still be unfinished. works: days of the log's entries."""
    oldest = today - timedelta(days=UNFINISHED_DAYS)
    return min([today - timedelta(days=YEAR_DAYS), *(work for work in works if work >= oldest)])


def best_means(states: Iterable[DayState], today: date) -> tuple[tuple[date, str, float], ...]:
    """Every day before today with enough hours from one origin: day, origin and mean, oldest first. [°C]"""
    best: dict[date, tuple[int, str, float]] = {}
    for state in states:
        if state.hours < ENOUGH_HOURS or state.mean_c is None or state.day >= today:
            continue
        rank = ORIGINS.index(state.origin)
        if state.day not in best or rank > best[state.day][0]:
            best[state.day] = (rank, state.origin, state.mean_c)
    return tuple((day, origin, mean) for day, (_, origin, mean) in sorted(best.items()))


def wanted_record(states: Sequence[DayState], begins: date, today: date) -> Wanted:
    """What of the days from `begins` to yesterday is known."""
    span = Span(begins, today - timedelta(days=1))
    known = {day for day, _, _ in best_means(states, today) if day >= begins}
    missing = [day for day in _days(span) if day not in known]
    return Wanted(span, len(known), _spans(missing, 1))


def next_chunk(states: Sequence[DayState], begins: date, now: datetime, today: date) -> Span | None:
    """
    The days to ask the archive for next, or None when nothing is to be asked for now.

    begins: first day that is wanted. now: aware; today: the UTC day.

    Newest first: what happened lately weighs most in what a tree is now. Whole days of the forecast source's own are
    not asked for, unless they lie next to others. A day that the archive did not know in full is asked for again later.
    """
    last = today - timedelta(days=ARCHIVE_LAG_DAYS + 1)
    archived = {state.day: state for state in states if state.origin == ARCHIVE}
    own = {state.day for state in states if state.origin == OPEN_METEO and state.hours >= WHOLE_DAY}
    needed = [
        day
        for day in _days(Span(begins, last))
        if day not in own and (day not in archived or _asked_again(archived[day], now))
    ]
    if not needed:
        return None
    newest = needed[-1]
    first = newest
    for day in reversed(needed):
        if (first - day).days > NEAR_DAYS or (newest - day).days >= CHUNK_DAYS:
            break
        first = day
    end = newest
    while end < last and (end - newest).days < OVERLAP_DAYS and end + timedelta(days=1) not in archived:
        end += timedelta(days=1)
    return Span(first, end)


def all_chunks(states: Sequence[DayState], begins: date, now: datetime, today: date) -> tuple[Span, ...]:
    """Every chunk that would be asked for one after the other, if the archive knew all of it. As for `next_chunk`."""
    chunks: list[Span] = []
    pretended = list(states)
    while (span := next_chunk(pretended, begins, now, today)) is not None:
        chunks.append(span)
        days = set(_days(span))
        pretended = [state for state in pretended if state.origin != ARCHIVE or state.day not in days]
        pretended += [DayState(day, ARCHIVE, WHOLE_DAY, 0.0, 1, now) for day in days]
    return tuple(chunks)


def archive_offset_k(states: Iterable[DayState], today: date) -> tuple[float, int] | None:
    """
    By how much the archive is warmer than the forecast source's own past hours, and on how many days. [K, d]

    Over past days that both know whole; None without any.
    """
    means: dict[date, dict[str, float]] = {}
    for state in states:
        if state.hours >= WHOLE_DAY and state.mean_c is not None and state.day < today:
            means.setdefault(state.day, {})[state.origin] = state.mean_c
    differences = [both[ARCHIVE] - both[OPEN_METEO] for both in means.values() if {ARCHIVE, OPEN_METEO} <= both.keys()]
    return (sum(differences) / len(differences), len(differences)) if differences else None


def _asked_again(state: DayState, now: datetime) -> bool:
    if state.hours >= WHOLE_DAY:
        return False
    wait = min(FIRST_WAIT * 2 ** min(max(state.tries, 1) - 1, 10), LONGEST_WAIT)
    return not timedelta() <= now - state.at < wait


def _days(span: Span) -> Iterable[date]:
    return (span.first + timedelta(days=number) for number in range(span.days))


def _spans(days: Sequence[date], within_days: int) -> tuple[Span, ...]:
    """The days, rising, put together where they lie so close."""
    spans: list[Span] = []
    for day in days:
        if spans and (day - spans[-1].last).days <= within_days:
            spans[-1] = Span(spans[-1].first, day)
        else:
            spans.append(Span(day, day))
    return tuple(spans)
