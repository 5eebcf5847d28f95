"""What a message's picture shows, in plain values: the course of what a tree will feel against what it can stand."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import isnan

from carewatch.alerts.call import TreeCall
from carewatch.alerts.picture_words import (
    LONGEST_CAPTION,
    OF_THE_DAY,
    caption,
    deadline,
    heading,
    scale_of,
    undoing,
    worst_shown,
)

# Notices with a picture: those that ask for work.
PICTURED = ("call", "worse", "repeat")
# Beyond two a phone shows nothing any more; judged.
MOST_PANELS = 2
# A day of quiet beside the danger shows what is ordinary; four days are the most that can be read. Judged. [h]
LEAST_HOURS, MOST_HOURS = 36, 96
# Seen after the end of a spell, so that its end is on the picture. Judged.
AFTER_THE_SPELL = timedelta(hours=9)
# A call is made hours ahead of its act-by: those further away get no picture yet.
FAR_OFF = timedelta(hours=48)


@dataclass(frozen=True)
class Course:
    """
    What one tree will feel of one hazard if nothing is done, hour by hour, in the hazard's own unit.

    begins: of the first value, UTC; the others follow by the hour. low, middle, high: of the members, quantiles 0.1,
    0.5 and 0.9, of the same length; NaN where nothing is known.
    cold: the harm lies below the limit. nights: sunset to sunrise, UTC, those that touch these hours.
    """

    tree: str
    hazard: str
    begins: datetime
    low: tuple[float, ...]
    middle: tuple[float, ...]
    high: tuple[float, ...]
    cold: bool
    nights: tuple[tuple[datetime, datetime], ...]


@dataclass(frozen=True)
class Panel:
    """
    One tree and one hazard, ready to be drawn. All times in the site's zone.

    heading: whom and what. scale: what the numbers are, in `unit`. deadline: by when to act; undoing: from when on it
    may be undone, "" while no end is in sight.
    times, low, middle, high: a point each. limit, peak: as `low`. decimals: of the numbers to be shown.
    starts, ends: of the spell. worst: its worst, in words; worst_at: where on the course it is marked.
    act_by: before now or at it means at once.
    """

    heading: str
    scale: str
    unit: str
    deadline: str
    undoing: str
    times: tuple[datetime, ...]
    low: tuple[float, ...]
    middle: tuple[float, ...]
    high: tuple[float, ...]
    limit: float
    decimals: int
    cold: bool
    starts: datetime
    ends: datetime
    peak: float
    worst: str
    worst_at: datetime
    act_by: datetime
    undo_at: datetime | None
    nights: tuple[tuple[datetime, datetime], ...]


@dataclass(frozen=True)
class Picture:
    """A message's picture: one panel per hazard. caption: what it shows, in words, for those who do not see it."""

    now: datetime
    panels: tuple[Panel, ...]
    caption: str


def picture_of(
    trees: Collection[str], calls: Sequence[TreeCall], courses: Sequence[Course], now: datetime
) -> Picture | None:
    """
    The picture of a message about these trees: the worst tree of each of its worst hazards; None without a course.

    calls, courses: of the assessment that the message rests on. now: in the site's zone.
    """
    known = {(course.tree, course.hazard): course for course in courses}
    asked = [call for call in calls if call.tree in trees and call.measure and (call.tree, call.worst.hazard) in known]
    asked.sort(key=lambda call: (-call.worst.loss, call.tree))
    worst: dict[str, TreeCall] = {}
    for call in asked:
        worst.setdefault(call.worst.hazard, call)
    panels = [_panel(call, known[call.tree, call.worst.hazard], now) for call in worst.values()]
    drawn = tuple(panel for panel in panels if panel is not None)[:MOST_PANELS]
    if not drawn:
        return None
    said = " ".join(caption(call.tree, call.worst, now) for call in list(worst.values())[:MOST_PANELS])
    return Picture(now, drawn, said[:LONGEST_CAPTION])


def _panel(call: TreeCall, course: Course, now: datetime) -> Panel | None:
    spell = call.worst
    zone = now.tzinfo
    begins = now - timedelta(hours=2)
    # The hour's end after the spell; arithmetic in UTC, so that a night in which clocks change keeps its hours.
    until = max(spell.ends + AFTER_THE_SPELL, call.undo_at or spell.ends, now + timedelta(hours=LEAST_HOURS))
    until = min(until, now + timedelta(hours=MOST_HOURS))
    stamps = [course.begins + timedelta(hours=hour) for hour in range(len(course.middle))]
    seen = [index for index, stamp in enumerate(stamps) if begins <= stamp <= until]
    if len(seen) < 2:
        return None
    what, factor, unit, decimals = scale_of(spell)

    def part(values: Sequence[float]) -> tuple[float, ...]:
        return tuple(values[index] * factor for index in seen)

    times, middle = tuple(stamps[index].astimezone(zone) for index in seen), part(course.middle)
    return Panel(
        heading=heading(call.tree, spell),
        scale=what,
        unit=unit,
        deadline=deadline(call, now),
        undoing=undoing(call, now),
        times=times,
        low=part(course.low),
        middle=middle,
        high=part(course.high),
        limit=spell.limit * factor,
        decimals=decimals,
        cold=course.cold,
        starts=spell.starts,
        ends=spell.ends,
        peak=spell.peak * factor,
        worst=worst_shown(spell, spell.peak * factor, unit, decimals),
        worst_at=_highest_of_its_day(times, middle, spell.peak_at) if spell.hazard in OF_THE_DAY else spell.peak_at,
        act_by=call.act_by,
        undo_at=call.undo_at,
        nights=tuple((sunset.astimezone(zone), sunrise.astimezone(zone)) for sunset, sunrise in course.nights),
    )


def _highest_of_its_day(times: Sequence[datetime], values: Sequence[float], moment: datetime) -> datetime:
    """When the sum of the moment's day has all but grown to its end; the moment itself where nothing is known of it."""
    # An hour belongs to the day in which it lies, not to that of the stamp at its end.
    lies_in = [(at - timedelta(minutes=1)).date() for at in times]
    day = [pair for pair, on in zip(zip(values, times, strict=True), lies_in, strict=True) if on == moment.date()]
    most = max((value for value, _ in day if not isnan(value)), default=0.0)
    return next((at for value, at in day if value >= 0.99 * most > 0.0), moment)


def is_near(call: TreeCall, now: datetime) -> bool:
    """Whether a call may be made soon enough for the course of its worst spell to be kept."""
    return call.act_by <= now + FAR_OFF
