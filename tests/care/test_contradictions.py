"""What cannot stand in one care log, or hardly, is found; what growers really do passes."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from carewatch.care.contradictions import Contradiction, brought_in, contradictions
from carewatch.care.log import Entry
from tests.condition.grown import tree

MAPLE = tree("maple")


def on(day: str, work: str, **options: object) -> Entry:
    """An entry of the maple; a bare date is noon."""
    at = datetime.fromisoformat(day if "T" in day else f"{day}T12:00")
    return Entry("maple", work, at.replace(tzinfo=UTC), **options)  # type: ignore[arg-type]  # as each test says


def found(*log: Entry) -> list[Contradiction]:
    return list(contradictions(MAPLE, log))


@pytest.mark.parametrize(
    ("log", "certain", "said"),
    [
        (
            [on("2026-05-01", "sever-layer"), on("2026-09-14", "sever-layer")],
            True,
            "it was severed on 2026-05-01 (in the log) already",
        ),
        (
            [on("2026-03-01", "wire"), on("2026-09-14", "sever-layer", other_tree="old-maple")],
            True,
            "Until then it was a branch of old-maple",
        ),
        ([on("2026-03-01", "repot"), on("2026-09-14", "sever-layer")], True, "A branch has no roots of its own"),
        (
            [on("2026-05-01", "set-layer", branch="top"), on("2026-09-14", "sever-layer")],
            False,
            "If that layer becomes a tree of its own, say so with --new ID",
        ),
        (
            [on("2026-03-01", "move", to="shed"), on("2026-03-01", "move", to="bench")],
            True,
            "at that very time it was moved to shed",
        ),
        (
            [on("2026-03-01", "move", to="shed"), on("2026-03-11", "move", to="shed")],
            False,
            "it was moved to shed on 2026-03-01 (in the log) already",
        ),
        (
            [on("2026-03-01", "observe", seen="dead"), on("2026-04-01", "water")],
            False,
            "it was seen dead on 2026-03-01",
        ),
        (
            [on("2026-03-01", "unwire")],
            False,
            "no wire was set before. Log it first, with its date: `carewatch log maple",
        ),
        (
            [on("2026-03-01", "wire", branch="top"), on("2026-06-01", "unwire", branch="left")],
            False,
            "no wire was set on left before, only on top",
        ),
        (
            [on("2026-03-01", "wire"), on("2026-06-01", "unwire"), on("2026-07-01", "unwire")],
            False,
            "no wire was set before",
        ),
        ([on("2026-03-01", "untie")], False, "no ties were set before"),
        (
            [on("2026-03-01", "begin", measure="fleece"), on("2026-03-02", "begin", measure="fleece")],
            False,
            "fleece has been in force on maple since 2026-03-01 12:00 already",
        ),
        ([on("2026-03-01", "end", measure="fleece")], False, "fleece was not in force on maple"),
        (
            [on("2026-03-01", "cut-off", branch="low"), on("2026-06-01", "wire", branch="low")],
            False,
            "low was cut off on 2026-03-01",
        ),
        (
            [on("2026-03-01", "cut-off", branch="low"), on("2026-06-01", "cut-off", branch="low")],
            False,
            "low was cut off on 2026-03-01 (in the log) already",
        ),
        (
            [on("2025-03-01", "sacrifice", branch="low"), on("2026-03-01", "sacrifice", branch="low")],
            False,
            "low has been a sacrifice since 2025-03-01",
        ),
        (
            [on("2026-04-10", "observe", seen="leaf-out"), on("2026-04-20", "observe", seen="bud-swell")],
            False,
            "leaf-out was seen on 2026-04-10",
        ),
        (
            [on("2026-10-30", "observe", seen="leaf-fall"), on("2026-11-10", "observe", seen="colouring")],
            False,
            "leaf-fall was seen on 2026-10-30",
        ),
        (
            [on("2026-04-10T08:00", "observe", seen="bud-swell"), on("2026-04-10T18:00", "observe", seen="mature")],
            False,
            "bud-swell was seen on 2026-04-10",
        ),
    ],
)
def test_what_cannot_be_or_hardly_is_found_with_what_puts_it_right(log: list[Entry], certain: bool, said: str) -> None:
    (contradiction,) = found(*log)

    assert contradiction.certain is certain
    assert said in str(contradiction)
    assert contradiction.remedy.endswith((".", "!"))


@pytest.mark.parametrize(
    "log",
    [
        # The layer is tracked under its own name from the ring on.
        [on("2026-05-01", "set-layer"), on("2026-06-01", "wire"), on("2026-09-14", "sever-layer")],
        # Rewired on the day on which the old wire came off, in either order; a wire without a name may be any.
        [on("2026-03-01", "wire"), on("2026-06-01", "unwire"), on("2026-06-01", "wire"), on("2026-09-01", "unwire")],
        [on("2026-06-01", "unwire"), on("2026-06-01", "wire")],
        [on("2026-03-01", "wire"), on("2026-06-01", "unwire", branch="top")],
        [on("2026-03-01", "wire", branch="top"), on("2026-03-01", "wire", branch="low"), on("2026-06-01", "unwire")],
        [on("2026-03-01", "sever-layer", tied=True), on("2027-03-01", "untie")],
        [on("2026-03-01T09:00", "move", to="bench"), on("2026-03-01T17:00", "move", to="shed")],
        [on("2026-03-01", "begin", measure="fleece"), on("2026-03-02", "end", measure="fleece")],
        # A trunk that was cut grows on, and may be a sacrifice again.
        [
            on("2025-03-01", "sacrifice", branch="trunk"),
            on("2026-08-20", "cut-off", branch="trunk"),
            on("2027-03-01", "sacrifice", branch="trunk"),
            on("2027-04-01", "wire", branch="trunk"),
        ],
        # A second flush after stripping; early frost takes leaves at once; some buds are ahead of others.
        [
            on("2026-05-20", "observe", seen="mature"),
            on("2026-06-01", "defoliate", removed=1.0),
            on("2026-06-20", "observe", seen="leaf-out"),
        ],
        [on("2026-10-20", "observe", seen="mature"), on("2026-11-05", "observe", seen="dormant")],
        [on("2026-04-10T08:00", "observe", seen="leaf-out"), on("2026-04-10T18:00", "observe", seen="bud-swell")],
        [on("2025-10-30", "observe", seen="leaf-fall"), on("2026-10-10", "observe", seen="colouring")],
    ],
)
def test_what_growers_really_do_passes(log: list[Entry]) -> None:
    assert found(*log) == []


def test_nothing_was_done_to_a_tree_before_it_came() -> None:
    came = replace(MAPLE, since=date(2026, 3, 1))
    log = [on("2026-02-28", "water"), on("2026-03-01", "water")]

    (early,) = contradictions(came, log)

    assert (early.entry, early.certain) == (log[0], True)
    assert "maple came to the garden on 2026-03-01" in str(early)


def test_trees_that_flush_whenever_it_is_warm_have_no_order_of_the_year() -> None:
    """An olive may open leaves at any time, and after mature ones."""
    log = [
        on("2026-05-20", "observe", seen="mature"),
        on("2026-06-01", "observe", seen="leaf-out"),
        on("2026-06-10", "observe", seen="bud-swell"),
    ]

    assert len(found(*log)) == 2
    assert list(contradictions(tree("maple", "Olea europaea"), log)) == []


def test_only_what_a_change_brings_in_is_told() -> None:
    """An older contradiction does not stop today's watering; a struck wire leaves its removal hanging."""
    hanging = on("2026-03-01", "untie")
    wire, unwire = on("2026-04-01", "wire"), on("2026-06-01", "unwire")
    log: Sequence[Entry] = (hanging, wire, unwire)

    assert brought_in(MAPLE, log, (*log, on("2026-07-01", "water"))) == ()
    (left,) = brought_in(MAPLE, log, (hanging, unwire))
    assert left.entry == unwire
    assert brought_in(MAPLE, (hanging, unwire), log) == ()


def test_entries_of_other_trees_do_not_matter() -> None:
    other = replace(on("2026-03-01", "wire"), tree="elm")

    assert [contradiction.entry.tree for contradiction in found(other, on("2026-06-01", "unwire"))] == ["maple"]
