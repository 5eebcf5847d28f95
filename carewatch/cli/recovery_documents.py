"""A tree's recovery as a document and on the screen: each deficit with what closes it, and the months to come."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from rich.console import Console
from rich.text import Text

from carewatch.cli.paragraphs import wrapped
from carewatch.tasks.fragility import USUAL_MONTHS, Deficit, course_begins, deficits, fragility_course
from carewatch.tasks.prospect import Prospect
from carewatch.tasks.wording import day_of


@dataclass(frozen=True)
class DeficitDocument:
    """What a work took from a tree, what is left of it, and when it is foreseen to be closed."""

    work: str
    on: str
    deficit: str
    began: float
    today: float
    closes_by: str
    enough: float
    closed_on: str | None
    foreseen: bool
    source: str


@dataclass(frozen=True)
class MonthDocument:
    """A tree at the end of a month."""

    month: int
    on: str
    foreseen: bool
    root_supply: float
    anchorage: float
    young_roots: float
    leaf_area: float
    capped_at: float | None
    stage: str
    tied: bool
    shade: bool


@dataclass(frozen=True)
class RecoveryDocument:
    """Deficits, oldest work first, and the course month by month."""

    deficits: tuple[DeficitDocument, ...]
    course: tuple[MonthDocument, ...]


def recovery_document(prospect: Prospect, months: int = USUAL_MONTHS) -> RecoveryDocument:
    """The recovery of one tree, from its oldest work that still weighs, or from today."""
    return RecoveryDocument(
        tuple(_deficit(deficit, prospect) for deficit in deficits(prospect)), course_document(prospect, months)
    )


def course_document(prospect: Prospect, months: int = USUAL_MONTHS) -> tuple[MonthDocument, ...]:
    """The course month by month."""
    return tuple(
        MonthDocument(
            month=point.month,
            on=point.on.isoformat(),
            foreseen=point.ahead,
            root_supply=point.root_supply,
            anchorage=point.anchorage,
            young_roots=point.young_roots,
            leaf_area=point.leaf_area,
            capped_at=point.capped,
            stage=point.stage,
            tied=point.tied,
            shade=point.shade,
        )
        for point in fragility_course(prospect, course_begins(prospect), months)
    )


def _deficit(deficit: Deficit, prospect: Prospect) -> DeficitDocument:
    closed = deficit.closed_on
    return DeficitDocument(
        work=deficit.work,
        on=deficit.on.isoformat(),
        deficit=deficit.what,
        began=deficit.began,
        today=deficit.today,
        closes_by=deficit.closes_by,
        enough=deficit.enough,
        closed_on=None if closed is None else closed.isoformat(),
        foreseen=closed is None or closed > prospect.today,
        source=deficit.source,
    )


def recovery_lines(recovery: RecoveryDocument) -> list[str]:
    """Each deficit as one text: values and date, then what closes it."""
    lines = []
    for item in recovery.deficits:
        if item.closed_on is None:
            when = f"{item.enough:.2f} is not in sight"
        else:
            word = "foreseen for" if item.foreseen else "since"
            when = f"{item.enough:.2f} {word} {_day(item.closed_on)}"
        values = f"{item.began:.2f} at first, {item.today:.2f} today, {when}"
        lines.append(f"{item.deficit} ({item.work}, {item.on}): {values}. Closed by {item.closes_by}.")
    return lines


def month_lines(course: Sequence[MonthDocument]) -> list[str]:
    """The months as a table that fits a phone, in per cent, with what its signs mean."""
    lines = [" n  day    root hold new leaf   stage"]
    for point in course:
        marks = "".join(sign if told else " " for sign, told in (("t", point.tied), ("s", point.shade)))
        capped = "=" if point.capped_at is not None else " "
        shares = (point.root_supply, point.anchorage, point.young_roots, point.leaf_area)
        supply, hold, young, leaf = (f"{share * 100:.0f}" for share in shares)
        lines.append(
            f"{point.month:2d}{'~' if point.foreseen else ' '} {_day(point.on)[:6]:>6}{supply:>5}{hold:>4}{capped}"
            f"{young:>4}{leaf:>4} {marks} {point.stage}"
        )
    signs = ["root: what they supply", "new: young among them"]
    if any(point.foreseen for point in course):
        signs.append("~ foreseen by the site's own season")
    if any(point.capped_at is not None for point in course):
        signs.append("= held there by the calendar")
    if any(point.tied for point in course):
        signs.append("t tied")
    if any(point.shade for point in course):
        signs.append("s needs shade")
    return [*lines, f"In per cent, {course[0].on[:4]} to {course[-1].on[:4]}; {'; '.join(signs)}."]


def show_recovery(screen: Console, recovery: RecoveryDocument) -> None:
    """Print deficits and months, those where anything is open."""
    if not recovery.deficits:
        return
    screen.print()
    screen.print(Text("recovery", style="bold"))
    for line in recovery_lines(recovery):
        for part in wrapped(line, screen.width - 4, "  "):
            screen.print(Text(f"  {part}"))
    for line in month_lines(recovery.course):
        screen.print(Text(f"  {line}"))


def _day(text: str) -> str:
    return day_of(date.fromisoformat(text))
