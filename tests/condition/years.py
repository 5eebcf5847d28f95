"""
A simulated year of a maple, a juniper and an olive in several climates: `python -m tests.condition.years DIR`.

Every weather year of the folder is run; beside each date stands the published range of the region, where there is one,
and what three kelvins less and more make of it.
"""

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from carewatch.condition.chill import chill_portions, utah_units
from carewatch.condition.stage import COLOURING, DORMANT, FLUSHING, MATURE, SWELLING, stage_of
from carewatch.config.tables import load_tables
from tests.condition.grown import lived_outdoors
from tests.condition.weather_years import SHOWN_YEAR, WeatherYear, years_in

SPECIES = ("Acer palmatum", "Juniperus chinensis", "Olea europaea")
SHIFTS_K = (-3.0, 3.0)
MISSED = "(missed)"
EVENTS = ("bud swell", "bud break", "mature leaf", "colouring", "dormancy")
EVERGREEN_EVENTS = ("bud swell", "new tips", "ripe tips", "hardening", "winter rest")


@dataclass(frozen=True)
class Published:
    """first, last: month and day between which an event falls in the region; source: who says so."""

    first: str
    last: str
    source: str


# By a part of the station's name, species and event. A range is as wide as the source is vague.
PUBLISHED: dict[tuple[str, str, str], Published] = {
    ("Potsdam", "Acer palmatum", "bud break"): Published(
        "04-05", "05-05", "maples and horse chestnut, German phenological network (from memory)"
    ),
    ("Potsdam", "Acer palmatum", "colouring"): Published(
        "09-20", "10-25", "birch, horse chestnut, beech, oak: Estrella & Menzel 2006, Clim. Res. 32:253 (from memory)"
    ),
    ("Potsdam", "Juniperus chinensis", "new tips"): Published("04-20", "05-25", "common practice"),
    ("Lisboa", "Acer palmatum", "bud break"): Published("03-01", "04-05", "common practice"),
    ("Lisboa", "Acer palmatum", "colouring"): Published("11-01", "12-15", "common practice"),
    ("Lisboa", "Olea europaea", "bud swell"): Published(
        "02-25", "04-05", "bud burst at Elvas and Córdoba: Inês et al. 2023, Plants 12:2086 (dates from memory)"
    ),
    ("Lisboa", "Olea europaea", "new tips"): Published("03-10", "04-20", "common practice"),
    ("Chicago", "Acer palmatum", "bud break"): Published(
        "04-10", "05-10", "crabapples bloom on 6 May on average, Morton Arboretum (Daily Herald, 12 April 2012)"
    ),
    ("Chicago", "Acer palmatum", "colouring"): Published(
        "10-01", "10-28", "second or third week of October, Morton Arboretum (Daily Herald, 24 September 2011)"
    ),
    ("Fairchild", "Acer palmatum", "bud break"): Published("03-20", "05-01", "growers' reports (from memory)"),
}


def dates_of(species: str, year: WeatherYear, shift_k: float = 0.0) -> dict[str, str]:
    """Month and day of each event in a year that was preceded by the same, "" where it does not come."""
    row = load_tables().species_for(species)
    history = year.history(shift_k)
    stage = stage_of(row, lived_outdoors(history, year.latitude), [])
    shown = history.days >= np.datetime64(f"{SHOWN_YEAR}-01-01")
    dates: dict[str, str] = {}
    since = np.datetime64(f"{SHOWN_YEAR}-01-01")
    events = EVERGREEN_EVENTS if row.evergreen else EVENTS
    for event, phase in zip(events, (SWELLING, FLUSHING, MATURE, COLOURING, DORMANT), strict=True):
        found = np.nonzero((stage.phases == phase) & shown & (history.days >= since))[0]
        dates[event] = str(history.days[found[0]])[5:] if found.size else ""
        since = history.days[found[0]] if found.size else since
    return dates


def published(year: WeatherYear, species: str, event: str) -> Published | None:
    """The range in print for a region, if there is one."""
    return next(
        (value for (name, *rest), value in PUBLISHED.items() if name in year.name and rest == [species, event]), None
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the table; 0 when every date lies in its published range, 1 otherwise or without any weather year."""
    parser = argparse.ArgumentParser(prog="python -m tests.condition.years", description=__doc__)
    parser.add_argument("folder", type=Path, metavar="DIR", help="folder with weather years (.epw.gz, TRY .dat.gz)")
    chosen = parser.parse_args(arguments)
    years = years_in(chosen.folder)
    lines = [line for year in years for line in _report(year)]
    missed = sum(MISSED in line for line in lines)
    lines.append(f"{len(years)} weather years; {missed} dates outside of their published range")
    sys.stdout.write("\n".join(lines) + "\n")
    return 0 if years and not missed else 1


def _report(year: WeatherYear) -> list[str]:
    """Lines about one year."""
    october_to_march = np.concatenate([year.air_temp_c[273 * 24 :], year.air_temp_c[: 90 * 24]])
    portions, units = chill_portions(october_to_march).sum(), utah_units(october_to_march).sum()
    lines = [
        f"{year.name}, {year.latitude:.1f}°: October to March {portions:.0f} chill portions, {units:.0f} Utah units"
    ]
    for species in SPECIES:
        lines.append(f"  {species}")
        plain = dates_of(species, year)
        moved = [dates_of(species, year, shift) for shift in SHIFTS_K]
        for event, day in plain.items():
            others = ", ".join(
                f"{shift:+.0f} K {other[event] or '-'}" for shift, other in zip(SHIFTS_K, moved, strict=True)
            )
            known = published(year, species, event)
            told = ""
            if known is not None:
                verdict = "" if known.first <= day <= known.last else f" {MISSED}"
                told = f"  published {known.first} to {known.last}{verdict}: {known.source}"
            lines.append(f"    {event:12} {day or '-':6} ({others}){told}")
    return lines


if __name__ == "__main__":
    sys.exit(main())
