"""
The archive of what weather services answered: each content once, however often it was fetched.

Kept, so that the file stays below the size that a home server can back up without thought: single runs whole for 30
days, which is what the verification of recent leads looks at; older ones one per six hours, as often as global models
are run, for 13 months, so that a year's season can be compared with the last; the newest four ensembles, for one that
is broken off and those before it (an older one is not needed to decide anything, and a hindcast dresses the single
run); archives 13 months after they were last fetched.
"""

import json
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256
from sqlite3 import Row

from carewatch.sqlite.database import Snapshot, Transaction
from carewatch.sqlite.refused import StoreRefused
from carewatch.sqlite.text_time import time_of, time_text

SOURCES = ("open-meteo", "met-norway", "recorded")
KINDS = ("single", "ensemble", "archive")
WHOLE_FOR = timedelta(days=30)
KEPT_FOR = timedelta(days=396)
ENSEMBLES_KEPT = 4
# What a service says about itself and not about the weather; with it, no two answers would ever be the same.
_NOT_CONTENT = ("generationtime_ms",)


@dataclass(frozen=True)
class Asked:
    """
    What was asked for.

    source: of SOURCES. kind: of KINDS. latitude, longitude: of the site; compared to four decimals. [°]
    model: of an ensemble; "" where the service chooses.
    """

    source: str
    kind: str
    latitude: float
    longitude: float
    model: str = ""


@dataclass(frozen=True)
class StoredForecast:
    """One answer. id: of its content, the same for every fetch of it. fetched_at: UTC. document: decoded JSON."""

    id: int
    asked: Asked
    fetched_at: datetime
    document: object


def save_forecast(transaction: Transaction, asked: Asked, document: object, fetched_at: datetime) -> tuple[int, bool]:
    """
    The id of the content, and whether it is new. A content that is there already only gets one more fetch.

    document: decoded JSON as the service sent it. fetched_at: aware.

    Raises StoreRefused for a document that is no JSON (not a number, for instance) and an unknown source or kind.
    """
    if asked.source not in SOURCES or asked.kind not in KINDS:
        raise StoreRefused(f"a forecast of source {asked.source!r} and kind {asked.kind!r} is not archived")
    latitude, longitude = round(float(asked.latitude), 4), round(float(asked.longitude), 4)
    try:
        text = json.dumps(_content(document), separators=(",", ":"), allow_nan=False)
    except (TypeError, ValueError) as error:
        raise StoreRefused(f"the forecast cannot be archived as JSON: {error}") from None
    key = json.dumps([asked.source, asked.kind, asked.model, latitude, longitude])
    content_hash = sha256(f"{key}\n{text}".encode()).hexdigest()
    known = transaction.execute("SELECT id FROM forecast WHERE content_hash = ?", (content_hash,)).fetchone()
    if known is None:
        row = transaction.execute(
            "INSERT INTO forecast (source, kind, model, latitude, longitude, content_hash, content) "
            "VALUES (?, ?, ?, ?, ?, ?, ?) RETURNING id",
            (
                asked.source,
                asked.kind,
                asked.model,
                latitude,
                longitude,
                content_hash,
                zlib.compress(text.encode(), level=9),
            ),
        ).fetchall()[0]
    else:
        row = known
    transaction.execute("INSERT INTO fetch (forecast, fetched_at) VALUES (?, ?)", (row["id"], time_text(fetched_at)))
    return int(row["id"]), known is None


def newest_forecast(snapshot: Snapshot, asked: Asked, as_of: datetime | None = None) -> StoredForecast | None:
    """
    What was fetched last, or None.

    as_of: aware; what had been fetched last by then.

    Raises StoreRefused when its content cannot be unpacked.
    """
    row = snapshot.execute(
        "SELECT forecast.*, fetch.fetched_at FROM fetch JOIN forecast ON forecast.id = fetch.forecast "
        "WHERE source = :source AND kind = :kind AND model = :model AND latitude = :latitude "
        "AND longitude = :longitude AND (:as_of IS NULL OR fetched_at <= :as_of) "
        "ORDER BY fetched_at DESC, fetch.id DESC LIMIT 1",
        {
            "source": asked.source,
            "kind": asked.kind,
            "model": asked.model,
            "latitude": round(float(asked.latitude), 4),
            "longitude": round(float(asked.longitude), 4),
            "as_of": None if as_of is None else time_text(as_of),
        },
    ).fetchone()
    return None if row is None else _from_row(row)


def forecasts_since(snapshot: Snapshot, kind: str, since: datetime) -> Iterator[StoredForecast]:
    """
    Every content of a kind of which a fetch lies at `since` or later, by its first such fetch, oldest first.

    kind: of KINDS. since: aware.

    Raises StoreRefused when a content cannot be unpacked.
    """
    rows = snapshot.execute(
        "SELECT forecast.*, min(fetch.fetched_at) AS fetched_at FROM fetch JOIN forecast "
        "ON forecast.id = fetch.forecast WHERE kind = ? AND fetched_at >= ? GROUP BY forecast.id "
        "ORDER BY min(fetch.fetched_at), forecast.id",
        (kind, time_text(since)),
    )
    return (_from_row(row) for row in rows)


def forget_forecasts(transaction: Transaction) -> int:
    """How many contents were deleted because the rule at the head of this module does not keep them."""
    now = transaction.now
    rows = transaction.execute(
        "WITH aged AS (SELECT forecast.id, kind, source, latitude, longitude, min(fetched_at) AS first, "
        "max(fetched_at) AS last FROM forecast JOIN fetch ON fetch.forecast = forecast.id GROUP BY forecast.id), "
        "ranked AS (SELECT id, kind, last, "
        "row_number() OVER (PARTITION BY kind ORDER BY last DESC, id DESC) AS newness, "
        "row_number() OVER (PARTITION BY kind, source, latitude, longitude, substr(first, 1, 10), "
        "CAST(substr(first, 12, 2) AS INTEGER) / 6 ORDER BY first, id) AS in_quarter FROM aged) "
        "SELECT id FROM ranked WHERE CASE kind WHEN 'ensemble' THEN newness > :ensembles "
        "WHEN 'archive' THEN last < :oldest ELSE last < :oldest OR (last < :thinned AND in_quarter > 1) END",
        {
            "oldest": time_text(now - KEPT_FOR),
            "thinned": time_text(now - WHOLE_FOR),
            "ensembles": ENSEMBLES_KEPT,
        },
    ).fetchall()
    for row in rows:
        transaction.execute("DELETE FROM forecast WHERE id = ?", (row["id"],))
    return len(rows)


def _content(document: object) -> object:
    if not isinstance(document, dict):
        return document
    return {name: value for name, value in document.items() if name not in _NOT_CONTENT}


def _from_row(row: Row) -> StoredForecast:
    try:
        document = json.loads(zlib.decompress(row["content"]))
    except (zlib.error, ValueError) as error:
        raise StoreRefused(
            f"the stored forecast {row['id']} of {row['fetched_at']} cannot be unpacked: {error}"
        ) from None
    asked = Asked(row["source"], row["kind"], row["latitude"], row["longitude"], row["model"])
    return StoredForecast(row["id"], asked, time_of(row["fetched_at"]), document)
