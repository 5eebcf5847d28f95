"""The record of past weather as a plain file beside the care log: seasons and recovery rest on it."""

import base64
import binascii
import sqlite3
from datetime import UTC, timedelta
from pathlib import Path

from carewatch.forecast.packing import unpacked
from carewatch.sqlite.database import Snapshot, Transaction
from carewatch.sqlite.transfer_lines import Fields, Line, document, lines_of

WEATHER_FILE = "past-weather.jsonl"
KIND = "past-weather"
FORESEEN = timedelta(hours=24)
# One UTC day from one origin a line; its hours are packed as in the database, in base 64 (RFC 4648).
WEATHER_FIELDS: Fields = {
    "site": ((str,), True, ()),
    "day": ((str,), True, ()),
    "origin": ((str,), True, ()),
    "hours": ((int,), True, ()),
    "mean_c": ((int, float), False, ()),
    "tries": ((int,), True, ()),
    "stored_at": ((str,), True, ()),
    "packed": ((str,), True, ()),
}


def weather_lines(snapshot: Snapshot) -> bytes:
    """The content of the file of past weather."""
    rows = snapshot.execute(
        "SELECT site, day, origin, hours, mean_c, tries, stored_at, content FROM past_day ORDER BY site, day, origin"
    )
    return document(
        KIND,
        (
            {name: row[name] for name in WEATHER_FIELDS if name != "packed" and row[name] is not None}
            | {"packed": base64.b64encode(row["content"]).decode("ascii")}
            for row in rows
        ),
    )


def read_weather(directory: Path, problems: list[str]) -> list[Line]:
    """The days of the file, none where it is missing: exports of earlier versions have none."""
    path = directory / WEATHER_FILE
    if not path.exists():
        return []
    found = lines_of(path, KIND, WEATHER_FIELDS, problems)
    for number, content in found:
        try:
            unpacked(_bytes(content))
        except ValueError:
            problems.append(f"{WEATHER_FILE} line {number}: packed is no packed day of weather")
    return found


def import_weather(transaction: Transaction, days: list[Line], problems: list[str]) -> int:
    """How many days were new: where one is known already, the one with more hours stays."""
    # The record keeps a day of what each answer foresaw (daemon/job.py), and so does an export of it.
    new, last = 0, (transaction.now + FORESEEN).astimezone(UTC).date().isoformat()
    for number, content in days:
        if str(content["day"]) > last:
            problems.append(f"{WEATHER_FILE} line {number}: {content['day']} lies in the future")
            continue
        mean = content.get("mean_c")
        try:
            new += transaction.execute(
                "INSERT INTO past_day (site, day, origin, hours, mean_c, content, tries, stored_at) "
                "VALUES (?, ?, ?, ?, ?, ?, ?, ?) "
                "ON CONFLICT (site, day, origin) DO UPDATE SET hours = excluded.hours, mean_c = excluded.mean_c, "
                "content = excluded.content, stored_at = excluded.stored_at WHERE excluded.hours > hours",
                (
                    str(content["site"]),
                    str(content["day"]),
                    str(content["origin"]),
                    int(str(content["hours"])),
                    None if mean is None else float(str(mean)),
                    _bytes(content),
                    int(str(content["tries"])),
                    str(content["stored_at"]),
                ),
            ).rowcount
        except (sqlite3.IntegrityError, OverflowError) as error:
            problems.append(f"{WEATHER_FILE} line {number}: not accepted ({error})")
    return new


def _bytes(content: dict[str, object]) -> bytes:
    """The packed hours. Raises ValueError for what is no base 64."""
    try:
        return base64.b64decode(str(content["packed"]), validate=True)
    except binascii.Error as error:
        raise ValueError(str(error)) from None
