"""
A sparse layer of September month by month in real climates: `python -m tests.tasks.fragility_years DIR`.

Every weather year of the folder is run as it was, three kelvins colder and three warmer, side by side; below each stand
the days that the long clock takes from it, and whether they are what growers know.
"""

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from carewatch.tasks.fragility import FragilityPoint, fragility_course, needs_shade
from carewatch.tasks.prospect import Prospect
from carewatch.tasks.ties import untie
from tests.condition.grown import severed
from tests.condition.weather_years import WeatherYear, years_in
from tests.tasks.clocks import NUMBERS, prospect_of

SEVERED = "2025-09-15"
MONTHS = 14
SHIFTS_K = (-3.0, 0.0, 3.0)
# Months in which 0.9 of the hold is passed: a severed layer stands still for twelve months (common practice).
TEMPERATE_MONTHS = (11, 12, 13)
# South of this the calendar is to hold it: winters there are a growing season for roots. [°]
MILD_BELOW = 40.0
CAPS = {120: 0.35, 210: 0.60, 300: 0.85}
# A layer stands absolutely still for twelve months (common practice). [d]
STILL_DAYS = 365
MISSED = "(missed)"


@dataclass(frozen=True)
class Course:
    """One layer in one year: month by month, its prospect, and the days that matter."""

    prospect: Prospect
    points: tuple[FragilityPoint, ...]
    firm: date | None
    supplied: date | None
    untie: date
    shade: tuple[tuple[date, date], ...]

    @property
    def firm_month(self) -> int | None:
        """The first month at whose end 0.9 of its hold is there."""
        return next((point.month for point in self.points if point.anchorage >= NUMBERS.hold_enough), None)


# Courses that were made: tests and the program ask for the same ones again.
_COURSES: dict[tuple[str, float], Course] = {}


def course_of(year: WeatherYear, shift_k: float = 0.0) -> Course:
    """The course of the layer in a year, all of it warmer by a shift. [K]"""
    key = (year.name, shift_k)
    if key not in _COURSES:
        _COURSES[key] = _course(year, shift_k)
    return _COURSES[key]


def _course(year: WeatherYear, shift_k: float) -> Course:
    prospect = prospect_of([severed(SEVERED, tied=True)], year.history(shift_k), year.latitude)
    begin = date.fromisoformat(SEVERED)
    (ties,) = untie(prospect, NUMBERS)
    return Course(
        prospect=prospect,
        points=fragility_course(prospect, begin, MONTHS),
        firm=prospect.first(lambda condition: condition.anchorage >= NUMBERS.hold_enough, begin),
        supplied=prospect.first(
            lambda condition: condition.root_supply >= prospect.numbers.recovery.supply_restored, begin
        ),
        untie=ties.first,
        shade=_shade(prospect, begin),
    )


def _shade(prospect: Prospect, begin: date) -> tuple[tuple[date, date], ...]:
    """First and last day of each stretch in which it asks for shade."""
    days = [begin + timedelta(days=count) for count in range((prospect.end - begin).days + 1)]
    asks = np.array([needs_shade(prospect.on(day)) for day in days])
    edges = np.flatnonzero(np.diff(np.concatenate([[False], asks, [False]]).astype(int)))
    return tuple((days[start], days[stop - 1]) for start, stop in edges.reshape(-1, 2).tolist())


def complaints(year: WeatherYear, plain: Course, cold: Course, warm: Course) -> list[str]:
    """What is not as growers know it, as sentences."""
    found = []
    mild = year.latitude < MILD_BELOW
    if not mild and is_warm_in_summer(year) and plain.firm_month not in TEMPERATE_MONTHS:
        found.append(f"0.9 of the hold in month {plain.firm_month}")
    if mild and not any(point.capped for point in plain.points):
        found.append("no cap holds it")
    begin = date.fromisoformat(SEVERED)
    for course in (plain, cold, warm):
        late = [cap for before, cap in CAPS.items() for point in course.points if _over(point, before, cap, begin)]
        found += [f"a cap of {cap} is passed" for cap in late]
    if min(course.untie for course in (plain, cold, warm)) < begin + timedelta(days=STILL_DAYS):
        found.append("untied within twelve months")
    for point, other, third in zip(warm.points, plain.points, cold.points, strict=True):
        if not third.root_supply <= other.root_supply <= point.root_supply:
            found.append(f"supply in month {other.month} is not ordered by warmth")
        if not third.anchorage <= other.anchorage <= point.anchorage:
            found.append(f"hold in month {other.month} is not ordered by warmth")
    return found


def is_warm_in_summer(year: WeatherYear) -> bool:
    """Whether roots have a summer: June to August at 15 °C and more in the mean."""
    return float(year.air_temp_c[151 * 24 : 243 * 24].mean()) >= 15.0


def _over(point: FragilityPoint, before: int, cap: float, begin: date) -> bool:
    return (point.on - begin).days < before and point.anchorage > cap + 1e-9


def report(year: WeatherYear) -> list[str]:
    """Lines about one year."""
    cold, plain, warm = (course_of(year, shift_k) for shift_k in SHIFTS_K)
    lines = [
        f"{year.name}, {year.latitude:.1f}°: sparse layer of {SEVERED}, left undisturbed, tied",
        "  month        supply            hold              young  leaf  stage",
        "               -3 K    0   +3    -3 K    0   +3",
    ]
    for less, point, more in zip(cold.points, plain.points, warm.points, strict=True):
        marks = " ".join(filter(None, ("calendar" if point.capped else "", "shade" if point.shade else "")))
        lines.append(
            f"  {point.month:2d} {point.on}  {less.root_supply:4.2f} {point.root_supply:4.2f} {more.root_supply:4.2f}"
            f"    {less.anchorage:4.2f} {point.anchorage:4.2f} {more.anchorage:4.2f}"
            f"    {point.young_roots:4.2f}   {point.leaf_area:4.2f}  {point.stage} {marks}".rstrip()
        )
    for word, course in zip(("-3 K", "0", "+3 K"), (cold, plain, warm), strict=True):
        shade = ", ".join(f"{first} to {last}" for first, last in course.shade)
        lines.append(
            f"  {word:>4}: supply 0.7 on {course.supplied}, hold 0.9 on {course.firm} "
            f"({'not within' if course.firm_month is None else 'by the end of'} month {course.firm_month or MONTHS}), "
            f"ties until {course.untie}, shade {shade or 'never'}"
        )
    return [*lines, *(f"  {MISSED} {said}" for said in complaints(year, plain, cold, warm))]


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the table; 0 when all is as growers know it, 1 otherwise or without any weather year."""
    parser = argparse.ArgumentParser(prog="python -m tests.tasks.fragility_years", description=__doc__)
    parser.add_argument("folder", type=Path, metavar="DIR", help="folder with weather years (.epw.gz, TRY .dat.gz)")
    chosen = parser.parse_args(arguments)
    years = years_in(chosen.folder)
    lines = [line for year in years for line in report(year)]
    missed = sum(MISSED in line for line in lines)
    lines.append(f"{len(years)} weather years; {missed} surprises")
    sys.stdout.write("\n".join(lines) + "\n")
    return 0 if years and not missed else 1


if __name__ == "__main__":
    sys.exit(main())
