"""`reading`: what a thermometer showed at a place, and corrections of it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from carewatch.alerts.wording import exact, number
from carewatch.cli.acting import database_of, finished, garden_of, tell
from carewatch.cli.documents import stamp
from carewatch.cli.log_documents import ReadingDocument, ReadingsDocument, reading_document, reading_line
from carewatch.cli.reports import FAILED, MISUSED, Refusal, at_site, parsed_time, refuse_unknown
from carewatch.config.load import Loaded
from carewatch.sqlite.database import Database, Transaction
from carewatch.sqlite.readings import (
    Reading,
    StoredReading,
    add_reading,
    amend_reading,
    reading_history,
    strike_reading,
)

# Temperatures of air near the ground that a thermometer in a garden can show (judged; the records of the world are
# -89 and 57 °C, WMO archive of extremes, from memory; the sun on its case adds the rest). [°C]
COLDEST_C, HOTTEST_C = -60.0, 70.0


@dataclass(frozen=True)
class ReadingOptions:
    """What stood after `reading`. value: a temperature, or show, strike or amend; number and corrected follow it."""

    place: str
    value: str
    number: str | None
    corrected: str | None
    at: str | None
    everything: bool
    dry_run: bool
    as_json: bool


def reading(explicit: str | None, options: ReadingOptions, environ: Mapping[str, str], now: datetime) -> int:
    """Store what a thermometer showed at a place [°C], or show, strike or correct what is stored."""
    return finished(lambda: _reading(explicit, options, environ, now))


def _reading(explicit: str | None, options: ReadingOptions, environ: Mapping[str, str], now: datetime) -> int:
    loaded, _ = garden_of(explicit, environ, now)
    if options.value == "show":
        return _show(loaded, options, now)
    if options.value in ("strike", "amend"):
        return _correct(loaded, options, now)
    refuse_unknown("place", options.place, loaded.garden.places)
    if options.number is not None:
        raise Refusal(f"{options.number!r} is one word too many after a temperature.", MISUSED)
    value_c = _degrees(options.value)
    taken = now if options.at is None else at_site(parsed_time(options.at), loaded)
    with database_of(loaded, now, options.dry_run) as database, database.transaction(now) as transaction:
        new = add_reading(transaction, Reading(options.place, taken, value_c))
    local = taken.astimezone(_zone(loaded))
    known = "" if new else " That was known already."
    kept = "would be kept" if options.dry_run else "is kept"
    line = f"{options.place}: {number(value_c, 1)} °C on {local:%Y-%m-%d} at {local:%H:%M} {kept}.{known}"
    document = ReadingDocument(1, options.dry_run, options.place, stamp(local), value_c, new)
    return tell(document, [line], options.as_json, options.dry_run)


def _show(loaded: Loaded, options: ReadingOptions, now: datetime) -> int:
    if options.number is not None:
        raise Refusal("reading show takes no further word.", MISUSED)
    with Database.open_for_reading(loaded.database_file, now) as database, database.snapshot(now) as snapshot:
        every = [stored for stored in reading_history(snapshot) if stored.reading.place == options.place]
    if not every:
        # A place that was taken out of the garden may still have readings.
        refuse_unknown("place", options.place, loaded.garden.places)
    kept = [stored for stored in every if options.everything or stored.struck_at is None]
    kept.sort(key=lambda stored: (stored.reading.at, stored.number))
    rows = tuple(reading_document(stored, _zone(loaded)) for stored in kept)
    head = f"{options.place}: {len(rows)} {'reading' if len(rows) == 1 else 'readings'}"
    if len(every) > len(kept):
        head += f"; {len(every) - len(kept)} struck or corrected, to be seen with --all"
    document = ReadingsDocument(1, False, options.place, rows)
    return tell(document, [head, *map(reading_line, rows)], options.as_json)


def _correct(loaded: Loaded, options: ReadingOptions, now: datetime) -> int:
    word = (options.number or "").strip()
    if not word.isdecimal():
        raise Refusal(
            f"Say which reading to {options.value} by its number; `carewatch reading {options.place} show` has it.",
            MISUSED,
        )
    act: Callable[[Transaction, StoredReading], StoredReading] = _struck
    if options.value == "amend":
        if options.corrected is None and options.at is None:
            raise Refusal("Say what is right: reading PLACE amend NUMBER VALUE, or --at TIME, or both.", MISUSED)
        value_c = None if options.corrected is None else _degrees(options.corrected)
        taken = None if options.at is None else at_site(parsed_time(options.at), loaded)

        def act(transaction: Transaction, found: StoredReading) -> StoredReading:
            right = Reading(
                found.reading.place,
                found.reading.at if taken is None else taken,
                found.reading.value_c if value_c is None else value_c,
            )
            return amend_reading(transaction, found.number, right)

    elif options.corrected is not None or options.at is not None:
        raise Refusal("reading strike takes nothing but a number.", MISUSED)
    with database_of(loaded, now, options.dry_run) as database, database.transaction(now) as transaction:
        mine = {each.number: each for each in reading_history(transaction) if each.reading.place == options.place}
        if int(word) not in mine:
            hint = f" It has {', '.join(map(str, mine))}." if mine else ""
            raise Refusal(f"{options.place} has no reading {word}.{hint}", FAILED)
        after = act(transaction, mine[int(word)])
    row = reading_document(after, _zone(loaded))
    said = "would be" if options.dry_run else "is"
    if options.value == "strike":
        line = f"{options.place}: reading {word} {said} struck; it counts no more, and stays to be seen with --all."
    elif after.number == int(word):
        line = f"{options.place}: nothing differs from reading {word}."
    else:
        line = (
            f"{options.place}: reading {word} {said} corrected by reading {after.number}: {reading_line(row).strip()}"
        )
    return tell(ReadingsDocument(1, options.dry_run, options.place, (row,)), [line], options.as_json, options.dry_run)


def _struck(transaction: Transaction, found: StoredReading) -> StoredReading:
    return strike_reading(transaction, found.number)


def _zone(loaded: Loaded) -> ZoneInfo:
    return ZoneInfo(loaded.garden.site.time_zone)


def _degrees(value: str) -> float:
    plain = value.strip().removesuffix("C").removesuffix("°").strip().replace("−", "-").replace(",", ".")
    try:
        value_c = float(plain)
    except ValueError:
        raise Refusal(f"{value!r} is no temperature; write degrees Celsius such as -3.5.", MISUSED) from None
    if not COLDEST_C <= value_c <= HOTTEST_C:
        raise Refusal(
            f"{value!r} is no temperature of air in a garden: {exact(COLDEST_C, '°C')} to {exact(HOTTEST_C, '°C')} are "
            "accepted, in degrees Celsius.",
            MISUSED,
        )
    return value_c
