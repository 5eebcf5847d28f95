"""What is in force by the log: begins, ends, and moves for good, which end every carry."""

from datetime import UTC, datetime, timedelta

import pytest

from carewatch.care.log import Entry
from carewatch.care.whole_log import in_force

FIRST = datetime(2026, 11, 5, 15, tzinfo=UTC)


def log(*entries: dict[str, str]) -> list[Entry]:
    """Entries of one maple, an hour apart."""
    return [
        Entry("maple", entry["work"], FIRST + timedelta(hours=hour), measure=entry.get("measure"), to=entry.get("to"))
        for hour, entry in enumerate(entries)
    ]


BEGUN = ({"work": "begin", "measure": "move:shed"}, {"work": "begin", "measure": "plunge"})


@pytest.mark.parametrize(
    ("after", "left"),
    [
        ((), ["move:shed", "plunge"]),
        (({"work": "end", "measure": "plunge"},), ["move:shed"]),
        (({"work": "end", "measure": "move:shed"},), ["plunge"]),
        # Carried out in spring, by the plan, which asks for a move and for no answer.
        (({"work": "move", "to": "bench"},), ["plunge"]),
        (({"work": "move", "to": "shed"},), ["plunge"]),
        (({"work": "move", "to": "bench"}, {"work": "begin", "measure": "move:shed"}), ["plunge", "move:shed"]),
        (({"work": "water"},), ["move:shed", "plunge"]),
    ],
)
def test_what_ends_a_measure(after: tuple[dict[str, str], ...], left: list[str]) -> None:
    assert list(in_force(log(*BEGUN, *after), "maple")) == left


def test_other_trees_end_nothing() -> None:
    moved = Entry(tree="elm", work="move", at=FIRST + timedelta(hours=9), to="bench")
    assert list(in_force([*log(*BEGUN), moved], "maple")) == ["move:shed", "plunge"]
    assert in_force([moved], "elm") == {}
