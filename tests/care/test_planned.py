"""Sacrifice branches and trunks are planned removals until they are off."""

from datetime import UTC, date, datetime

import pytest

from carewatch.care.log import Entry
from carewatch.care.planned import late_summer_after, planned_removals


def on(day: date, work: str, branch: str, due: date | None = None) -> Entry:
    return Entry("elm", work, datetime(day.year, day.month, day.day, 12, tzinfo=UTC), branch=branch, due=due)


@pytest.mark.parametrize(
    ("begun", "latitude", "due"),
    [
        # Late summer of the next year (common practice): August in the north, February in the south.
        (date(2026, 3, 1), 52.0, date(2027, 8, 20)),
        (date(2026, 11, 5), 52.0, date(2027, 8, 20)),
        (date(2026, 10, 1), -42.0, date(2028, 2, 20)),
        (date(2027, 3, 1), -42.0, date(2028, 2, 20)),
        (date(2027, 7, 1), -42.0, date(2029, 2, 20)),
    ],
)
def test_a_sacrifice_goes_in_late_summer_of_the_next_growing_season(begun: date, latitude: float, due: date) -> None:
    assert late_summer_after(begun, latitude) == due


def test_a_removal_is_planned_until_the_branch_is_off() -> None:
    log = [
        on(date(2025, 5, 1), "sacrifice", "low"),
        on(date(2025, 5, 1), "sacrifice", "trunk", due=date(2028, 9, 1)),
        on(date(2025, 6, 1), "wire", "low"),
        on(date(2026, 8, 20), "cut-off", "low"),
    ]

    assert [(plan.branch, plan.due) for plan in planned_removals(log[:3], "elm", 50.0)] == [
        ("low", date(2026, 8, 20)),
        ("trunk", date(2028, 9, 1)),
    ]
    assert [plan.branch for plan in planned_removals(log, "elm", 50.0)] == ["trunk"]
    assert planned_removals(log, "oak", 50.0) == ()
