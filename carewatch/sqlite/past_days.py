"""
The record of past weather, day by day and origin by origin.

Nothing of it is thrown away: a year of three origins takes a megabyte, and works that are still open may be old.
"""

from collections.abc import Iterable
from datetime import date, timedelta

from carewatch.forecast.record import ARCHIVE, DayState, PastDay, Record, best_means
from carewatch.sqlite.database import Snapshot, Transaction
from carewatch.sqlite.text_time import time_of, time_text


def site_key(latitude: float, longitude: float, elevation_m: float | None) -> str:
    """Where a record holds: another place, or another height, has another past. [°, °, m]"""
    height = "-" if elevation_m is None else f"{elevation_m:g}"
    return f"{latitude:.4f} {longitude:.4f} {height}"


def save_past_days(transaction: Transaction, site: str, days: Iterable[PastDay]) -> None:
    """
    Store each day in place of what its origin said of it before.

    An answer of the archive that knows fewer hours than an earlier one only counts as one more try.

    Raises StoreRefused for values that no weather has.
    """
    now = time_text(transaction.now)
    for day in days:
        transaction.execute(
            "INSERT INTO past_day (site, day, origin, hours, mean_c, content, tries, stored_at) "
            "VALUES (:site, :day, :origin, :hours, :mean_c, :content, :tries, :now) "
            "ON CONFLICT (site, day, origin) DO UPDATE SET "
            "mean_c = CASE WHEN excluded.hours >= hours THEN excluded.mean_c ELSE mean_c END, "
            "content = CASE WHEN excluded.hours >= hours THEN excluded.content ELSE content END, "
            "hours = max(hours, excluded.hours), tries = tries + excluded.tries, stored_at = excluded.stored_at",
            {
                "site": site,
                "day": day.day.isoformat(),
                "origin": day.origin,
                "hours": day.hours,
                "mean_c": day.mean_c,
                "content": day.content,
                "tries": int(day.origin == ARCHIVE),
                "now": now,
            },
        )


def day_states(snapshot: Snapshot, site: str) -> tuple[DayState, ...]:
    """What is stored of every day and origin, oldest first, without the hours."""
    rows = snapshot.execute(
        "SELECT day, origin, hours, mean_c, tries, stored_at FROM past_day WHERE site = ? ORDER BY day, origin", (site,)
    )
    return tuple(
        DayState(
            date.fromisoformat(row["day"]),
            row["origin"],
            row["hours"],
            row["mean_c"],
            row["tries"],
            time_of(row["stored_at"]),
        )
        for row in rows
    )


def past_record(snapshot: Snapshot, site: str, days_back: int) -> Record:
    """
    The record as a judgement at the snapshot's time takes it.

    days_back: how many days before that one come with their hours; days after it too, which the answer in hand merges.
    """
    today = snapshot.now.date()
    rows = snapshot.execute(
        "SELECT day, origin, hours, mean_c, content FROM past_day WHERE site = ? AND day >= ? ORDER BY day, origin",
        (site, (today - timedelta(days=days_back)).isoformat()),
    )
    recent = tuple(
        PastDay(date.fromisoformat(row["day"]), row["origin"], row["hours"], row["mean_c"], row["content"])
        for row in rows
    )
    return Record(best_means(day_states(snapshot, site), today), recent)
