"""Covers that were never ended in the log: who is believed to have them on still, and who is not."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from carewatch.care.log import Entry
from carewatch.measures.forgotten import KIND_DAYS, KIND_MEAN_C, relied_on
from tests.condition.grown import TABLES, noon, on, steady, tree

DAY = "2026-02-20"


def begun(measure: str, days_ago: int, again_days_ago: int | None = None) -> list[Entry]:
    """A measure that began, once more perhaps, and did not end."""
    when = [days_ago, *([] if again_days_ago is None else [again_days_ago])]
    return [Entry("maple", "begin", noon(DAY) - timedelta(days=days), measure=measure) for days in when]


@pytest.mark.parametrize(
    ("measure", "mild_days_ago", "left"),
    [
        # A mild week lies between, and the night cover is off.
        ("fleece", range(3, 3 + KIND_DAYS), ()),
        ("fleece+plunge", range(3, 3 + KIND_DAYS), ("plunge",)),
        # Six mild days, or a mild week before it went on: it is a long winter.
        ("fleece", range(3, 2 + KIND_DAYS), ("fleece",)),
        ("fleece", range(30, 30 + KIND_DAYS), ("fleece",)),
        # What stays by day is seen, and comes off by the long clock.
        ("plunge", range(3, 3 + KIND_DAYS), ("plunge",)),
        ("move:shed", range(3, 3 + KIND_DAYS), ("move:shed",)),
    ],
)
def test_a_night_cover_is_not_relied_on_after_a_mild_week(
    measure: str, mild_days_ago: range, left: tuple[str, ...]
) -> None:
    log = begun(measure, 25)
    history = steady("2025-02-01", DAY, 1.0)
    mean_c = history.mean_c.copy()
    mean_c[[-1 - days for days in mild_days_ago]] = KIND_MEAN_C
    (state,), said = relied_on([on(DAY, log, history)], log, replace(history, mean_c=mean_c), TABLES.measures)
    assert state.begun == left
    assert len(said) == (left != (measure,))


def test_who_put_it_on_once_more_has_it_on() -> None:
    """The last time counts; and a kind that cold above zero hurts is covered in nights that others do not feel."""
    mild = steady("2025-02-01", DAY, 12.0)
    for species, log, relied in (
        ("Acer palmatum", begun("fleece", 40), False),
        ("Acer palmatum", begun("fleece", 40, 2), True),
        ("Ficus microcarpa", begun("fleece", 40), True),
    ):
        state = on(DAY, log, mild, tree("maple", species))
        (after,), said = relied_on([state], log, mild, TABLES.measures)
        assert (after.begun == ("fleece",)) == relied == (not said)
        assert np.isfinite(state.tree.species.chill_kh[0]) == (species == "Ficus microcarpa")
