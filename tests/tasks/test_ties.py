"""The monthly look at ties, which bite as the trunk thickens."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from carewatch.care.log import Entry
from tests.condition.grown import severed
from tests.tasks.clocks import NUMBERS, YEARS, ahead_on, entry, garden_of, needed, task_on, warmer

# Seven tenths of the roots are off: they hold the tree again in late summer.
CUT = entry("root-prune", "2026-04-15", removed=0.7)
TIED = [severed("2025-09-15", tied=True)]


def test_ties_are_looked_at_once_a_month_of_growth_before_they_can_bite() -> None:
    """They bite after eight to twelve weeks of growth, and are looked at monthly (common practice)."""
    garden = garden_of(TIED)
    task = needed("2026-05-01", "tie-check", garden)
    (found,) = ahead_on("2026-05-01", garden).found
    grows = found.growing(NUMBERS.growth_mean_c) & (found.lived.days > np.datetime64("2025-09-15"))
    before = int(np.count_nonzero(grows & (found.lived.days < np.datetime64(task.first))))

    assert before == 28 < min(NUMBERS.tie_bites_days) == 56
    assert "8 to 12 weeks of growth" in task.reason
    assert "do not rock the layer" in task.reason
    assert "common practice" in task.source


def test_a_look_brings_the_next_one_a_month_on_and_winter_puts_it_off() -> None:
    june = [*TIED, entry("checked", "2026-06-20", measure="tie-check")]
    autumn = [severed("2025-06-20", tied=True), entry("checked", "2025-09-25", measure="tie-check")]

    assert needed("2026-06-21", "tie-check", garden_of(june)).first == date(2026, 7, 18)
    assert date(2026, 4, 1) < needed("2025-10-20", "tie-check", garden_of(autumn)).first < date(2026, 6, 15)


def test_ties_that_may_go_are_taken_off_and_not_looked_at() -> None:
    """One task for one thing."""
    garden = garden_of([entry("root-prune", "2026-03-25", removed=0.3, tied=True)])
    off = needed("2026-05-01", "untie", garden).first

    assert task_on((off + timedelta(days=1)).isoformat(), "tie-check", garden) is None
    assert task_on("2026-10-20", "tie-check", garden_of(TIED)) is None
    assert needed("2026-10-20", "untie", garden_of(TIED)).state == "due"
    left = garden_of([*TIED, entry("put-off", "2026-09-20", measure="untie", due=date(2027, 9, 1))])
    assert task_on("2026-10-20", "tie-check", left) is not None


def test_a_warm_spring_brings_the_look_forward() -> None:
    """Days of growth count, not those of the calendar."""
    plain, warm = (needed("2026-03-01", "tie-check", garden_of(TIED), warmer(YEARS, shift)) for shift in (0.0, 3.0))

    assert warm.first < plain.first - timedelta(days=7)


@pytest.mark.parametrize(
    ("log", "on"),
    [
        ([entry("tie-down", "2026-04-20"), CUT], "2026-07-01"),
        ([entry("begin", "2026-04-20", measure="tie-down")], "2026-07-01"),
        ([replace(CUT, tied=True)], "2026-07-01"),
    ],
    ids=["work", "measure", "with a work"],
)
def test_ties_of_any_origin_are_looked_at_and_none_where_there_are_none(log: list[Entry], on: str) -> None:
    gone = entry("end", "2026-06-01", measure="tie-down") if log[0].work == "begin" else entry("untie", "2026-06-01")

    assert task_on(on, "tie-check", garden_of(log)) is not None
    assert task_on(on, "tie-check", garden_of([*log, gone])) is None
    assert task_on(on, "tie-check", garden_of([])) is None
