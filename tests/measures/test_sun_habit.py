"""What leaves are used to: the sun of the last fortnight's places, or what each day of the last week brought."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from carewatch.care.log import Entry
from carewatch.condition.now import Condition
from carewatch.measures.in_force import noons_before, sun_habit_kwh
from tests.condition.grown import TABLES, on, tree, year_like
from tests.measures.gardens import NOW, garden

YEARS = year_like("2025-01-01", "2026-12-31")
OFFERED = {"lawn": 7.0, "shed": 0.0}


def habit(*log: Entry) -> float:
    """Of a tree that lives on the lawn, with this log. [kWh m⁻² d⁻¹]"""
    grown = tree("maple", "Acer palmatum", place="lawn")
    planted = garden([grown], log)
    state: Condition = on(f"{NOW:%Y-%m-%d}", [], YEARS, grown)
    places = tuple(planted.places.values())
    offered = np.array([OFFERED.get(place.id, 0.0) for place in places])
    noons = noons_before(NOW, ZoneInfo("Europe/Berlin"))
    return float(sun_habit_kwh(planted, [state], places, TABLES.measures, offered, NOW, noons)[0])


def away(first: float, last: float) -> tuple[Entry, Entry]:
    """In the shed from so many days ago until so many. [d]"""
    begins, ends = NOW - timedelta(days=first), NOW - timedelta(days=last)
    return (
        Entry("maple", "begin", begins, measure="move:shed"),
        Entry("maple", "end", ends, measure="move:shed"),
    )


@pytest.mark.parametrize(
    ("stay", "share"),
    [((14.2, 7.2), 1.0), ((14.2, 3.2), 3 / 14), ((3.2, 0.2), 11 / 14)],
    ids=["back for a week", "back for three days", "just back"],
)
def test_after_the_week_of_its_return_a_tree_is_used_to_its_place_again(
    stay: tuple[float, float], share: float
) -> None:
    """Three days in shade, four in half sun, then the old place (common practice); before that the fortnight counts."""
    assert habit(*away(*stay)) == pytest.approx(share * OFFERED["lawn"], abs=OFFERED["lawn"] / 14)
    assert habit() == pytest.approx(OFFERED["lawn"])
