"""A tree's recovery as a picture: root supply, hold and young roots over the months, told apart without colour."""

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from xml.sax.saxutils import escape

from carewatch.tasks.fragility import (
    NEARLY_WHOLE,
    USUAL_MONTHS,
    FragilityPoint,
    course_begins,
    fragility_course,
    fragility_on,
)
from carewatch.tasks.prospect import Prospect
from carewatch.tasks.wording import MONTHS, day_of

WIDTH, HEIGHT = 480, 420
LEFT, RIGHT, TOP, BOTTOM = 56, 116, 56, 64
STEP_DAYS = 7
Read = Callable[[FragilityPoint], float]
# Name, value, dashes, shape of the marks, colour (of a palette that colour-blind people can tell apart: Okabe & Ito
# 2008, from memory).
LINES: tuple[tuple[str, Read, str, str, str], ...] = (
    ("root supply", lambda point: point.root_supply, "", "circle", "#0072B2"),
    ("hold", lambda point: point.anchorage, "9 4", "square", "#D55E00"),
    ("young roots", lambda point: point.young_roots, "2 4", "triangle", "#007A5E"),
)


def recovery_svg(prospect: Prospect, months: int = USUAL_MONTHS) -> str:
    """An SVG document: three courses in per cent, caps of the calendar, today, and a legend at the lines' ends."""
    begin = course_begins(prospect)
    monthly = fragility_course(prospect, begin, months)
    end = monthly[-1].on
    days = [begin + timedelta(days=count) for count in range(0, (end - begin).days, STEP_DAYS)]
    points = [fragility_on(prospect, begin, day) for day in [*days, end]]
    frame = _Frame(begin, end)
    name = f"{prospect.tree.id}, {prospect.tree.species.asked_for}"
    told = "; ".join(f"{line[0]} {line[1](points[-1]) * 100:.0f} % on {day_of(end)}" for line in LINES)
    body = [
        *frame.axes(),
        *frame.enough(),
        *_caps(frame, points),
        *_today(frame, prospect.today, begin, end),
        *(part for line in LINES for part in _line(frame, points, monthly, line)),
        *_legend(frame, points),
    ]
    size = f'viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" height="{HEIGHT}" style="max-width:100%;height:auto"'
    read_aloud = 'role="img" aria-labelledby="title description"'
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" {size} {read_aloud} font-family="sans-serif" font-size="12">',
            f'<title id="title">Recovery of {escape(name)}</title>',
            f'<desc id="description">{escape(told)}.</desc>',
            f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>',
            f'<text x="{LEFT}" y="24" font-size="15" font-weight="bold">{escape(name)}</text>',
            f'<text x="{LEFT}" y="42">Recovery from {day_of(begin)}; after the line "today" it is foreseen.</text>',
            *body,
            "</svg>",
            "",
        ]
    )


class _Frame:
    """Where days and shares lie on the picture."""

    def __init__(self, begin: date, end: date) -> None:
        self.begin, self.end = begin, end
        self.span = max(1, (end - begin).days)

    def x(self, day: date) -> float:
        """Position of a day."""
        return LEFT + (WIDTH - LEFT - RIGHT) * (day - self.begin).days / self.span

    def y(self, share: float) -> float:
        """Position of a share from 0 to 1."""
        return HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * share

    def axes(self) -> list[str]:
        """Lines at every fifth, per cent beside them, months below."""
        parts = []
        for fifth in range(6):
            y = self.y(fifth / 5)
            parts.append(f'<line x1="{LEFT}" y1="{y:.1f}" x2="{WIDTH - RIGHT}" y2="{y:.1f}" stroke="#dddddd"/>')
            parts.append(f'<text x="{LEFT - 8}" y="{y + 4:.1f}" text-anchor="end">{fifth * 20} %</text>')
        day = date(self.begin.year, self.begin.month, 1)
        while day <= self.end:
            if day >= self.begin:
                x, base = self.x(day), HEIGHT - BOTTOM
                parts.append(f'<line x1="{x:.1f}" y1="{base}" x2="{x:.1f}" y2="{base + 5}" stroke="#555555"/>')
                # Every other name: a phone has no room for all.
                if day.month % 2 == 1:
                    name = MONTHS[day.month - 1]
                    parts.append(f'<text x="{x:.1f}" y="{base + 18}" text-anchor="middle">{name}</text>')
                if day.month == 1:
                    parts.append(f'<text x="{x:.1f}" y="{base + 33}" text-anchor="middle">{day.year}</text>')
            day = date(day.year + day.month // 12, day.month % 12 + 1, 1)
        return parts

    def enough(self) -> list[str]:
        """The hold from which ties may go."""
        y = self.y(NEARLY_WHOLE)
        ends = f'x1="{LEFT}" y1="{y:.1f}" x2="{WIDTH - RIGHT}" y2="{y:.1f}"'
        return [
            f'<line {ends} stroke="#555555" stroke-dasharray="1 3"/>',
            f'<text x="{LEFT + 4}" y="{y - 4:.1f}" fill="#444444">ties stay below {NEARLY_WHOLE * 100:.0f} %</text>',
        ]


def _line(
    frame: _Frame,
    points: Sequence[FragilityPoint],
    monthly: Sequence[FragilityPoint],
    line: tuple[str, Read, str, str, str],
) -> list[str]:
    """One course with a mark at every second month."""
    name, read, dashes, shape, colour = line
    path = " ".join(f"{frame.x(point.on):.1f},{frame.y(read(point)):.1f}" for point in points)
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    course = f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="2"{dashed}>'
    marks = [_mark(shape, frame.x(point.on), frame.y(read(point)), colour) for point in monthly[::2]]
    return [f"{course}<title>{escape(name)}</title></polyline>", *marks]


def _mark(shape: str, x: float, y: float, colour: str) -> str:
    if shape == "circle":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{colour}"/>'
    if shape == "square":
        return f'<rect x="{x - 4:.1f}" y="{y - 4:.1f}" width="8" height="8" fill="{colour}"/>'
    return f'<path d="M{x:.1f} {y - 5:.1f} l5 9 h-10 z" fill="{colour}"/>'


def _caps(frame: _Frame, points: Sequence[FragilityPoint]) -> list[str]:
    """Where the calendar holds the hold back, each stretch with its cap."""
    parts = []
    start: FragilityPoint | None = None
    for point, after in zip(points, [*points[1:], None], strict=True):
        if point.capped is None:
            continue
        start = start or point
        if after is not None and after.capped == point.capped:
            continue
        y = frame.y(point.capped)
        width = max(4.0, frame.x(point.on) - frame.x(start.on))
        box = f'x="{frame.x(start.on):.1f}" y="{y - 6:.1f}" width="{width:.1f}" height="12"'
        parts.append(f'<rect class="cap" {box} fill="#f0e0c8" stroke="#8a6d3b"/>')
        parts.append(f'<text x="{frame.x(start.on):.1f}" y="{y + 20:.1f}">calendar: {point.capped * 100:.0f} %</text>')
        start = None
    return parts


def _today(frame: _Frame, today: date, begin: date, end: date) -> list[str]:
    if not begin <= today <= end:
        return []
    x = frame.x(today)
    return [
        f'<line x1="{x:.1f}" y1="{TOP}" x2="{x:.1f}" y2="{HEIGHT - BOTTOM}" stroke="#222222"/>',
        f'<text x="{x + 3:.1f}" y="{TOP + 10}">today</text>',
    ]


def _legend(frame: _Frame, points: Sequence[FragilityPoint]) -> list[str]:
    """Name of each line beside its end, moved apart where they meet, each with its dashes and mark."""
    parts = []
    ends = sorted(LINES, key=lambda line: -line[1](points[-1]))
    y = -100.0
    for name, read, dashes, shape, colour in ends:
        y = max(y + 20.0, frame.y(read(points[-1])))
        x = WIDTH - RIGHT + 8
        dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
        parts += [
            f'<line x1="{x}" y1="{y:.1f}" x2="{x + 30}" y2="{y:.1f}" stroke="{colour}" stroke-width="2"{dashed}/>',
            _mark(shape, x + 15.0, y, colour),
            f'<text x="{x + 36}" y="{y + 4:.1f}">{escape(name)}</text>',
        ]
    return parts
