"""Small state of the service under a name, such as when the last whole cycle ended."""

from collections.abc import Mapping
from datetime import datetime

from carewatch.sqlite.database import Snapshot, Transaction
from carewatch.sqlite.refused import StoreRefused
from carewatch.sqlite.text_time import time_of, time_text

Fact = str | datetime | None


def put_facts(transaction: Transaction, facts: Mapping[str, Fact]) -> None:
    """
    Store each fact in place of what stood under its name; None takes it away.

    facts: names of a-z, 0-9 and the signs . : _ -; times are aware.

    Raises StoreRefused for another name, when the transaction ends at the latest.
    """
    for key, value in facts.items():
        if value is None:
            transaction.execute("DELETE FROM fact WHERE key = ?", (key,))
            continue
        text = time_text(value) if isinstance(value, datetime) else value
        transaction.execute(
            "INSERT INTO fact (key, value, changed_at) VALUES (:key, :value, :now) ON CONFLICT (key) DO UPDATE "
            "SET value = excluded.value, changed_at = excluded.changed_at WHERE value <> excluded.value",
            {"key": key, "value": text, "now": time_text(transaction.now)},
        )


def all_facts(snapshot: Snapshot) -> dict[str, str]:
    """Every fact, times as text."""
    return {row["key"]: row["value"] for row in snapshot.execute("SELECT key, value FROM fact ORDER BY key")}


def fact(snapshot: Snapshot, key: str) -> str | None:
    """The fact under a name, or None."""
    row = snapshot.execute("SELECT value FROM fact WHERE key = ?", (key,)).fetchone()
    return None if row is None else str(row["value"])


def fact_time(snapshot: Snapshot, key: str) -> datetime | None:
    """
    The time under a name, UTC, or None.

    Raises StoreRefused when what stands there is no time.
    """
    text = fact(snapshot, key)
    try:
        return None if text is None else time_of(text)
    except ValueError:
        raise StoreRefused(f"the fact {key} is {text!r}, where a time is expected") from None
