"""Laws of the fold from a care log to what a tree is: order, memory, cause, and the last word of what was seen."""

from datetime import date, timedelta
from itertools import pairwise, permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from carewatch.care.log import Entry
from carewatch.condition.now import Condition, oldest_work
from carewatch.condition.season import out_of_season
from carewatch.condition.stage import DORMANT, MATURE, PHASE_SEEN, PHASES
from carewatch.forecast.record import UNFINISHED_DAYS
from tests.condition.grown import NORTH, TABLES, days_later, noon, on, stages, until, year_like

YEARS = year_like("2022-09-01", "2027-12-31")
SHARES = ("root_supply", "anchorage", "young_roots", "leaf_area", "gust_limit_ms", "heat_shift_k", "frost_shift_k")
WORKS = (
    ("root-prune", 0.5),
    ("repot", None),
    ("hard-prune", 0.3),
    ("defoliate", 0.4),
    ("wire", None),
    ("lift", None),
)


def work(name: str, day: str, removed: float | None = None) -> Entry:
    return Entry("maple", name, noon(day), removed=removed)


def shares(condition: Condition) -> list[float]:
    return [getattr(condition, name) for name in SHARES]


@pytest.mark.parametrize("chosen", [WORKS[:3], WORKS[3:], WORKS[1:4]], ids=lambda works: "+".join(w for w, _ in works))
def test_works_of_one_day_make_the_same_tree_in_whichever_order_they_are_written_down(
    chosen: tuple[tuple[str, float | None], ...],
) -> None:
    """Shares multiply, tendernesses take the worst: neither knows an order."""
    log = [work(name, "2026-06-02", removed) for name, removed in chosen]
    for day in ("2026-06-02", "2026-07-20", "2027-05-10"):
        first, *others = (shares(on(day, list(order), YEARS)) for order in permutations(log))
        for other in others:
            assert other == pytest.approx(first, rel=1e-12)


def test_works_of_two_days_do_not_change_each_others_course() -> None:
    """Each deficit closes by its own clock: two works together are the product of what each left."""
    first, second = work("root-prune", "2026-04-01", 0.5), work("repot", "2026-06-01")
    for day in ("2026-06-02", "2026-09-01"):
        both = on(day, [first, second], YEARS)
        apart = on(day, [first], YEARS), on(day, [second], YEARS)
        assert both.root_supply == pytest.approx(apart[0].root_supply * apart[1].root_supply, rel=1e-12)
        assert both.anchorage == pytest.approx(apart[0].anchorage * apart[1].anchorage, rel=1e-12)


@given(
    st.lists(st.tuples(st.sampled_from(WORKS), st.integers(0, 250)), min_size=1, max_size=3),
    st.lists(
        st.tuples(st.sampled_from(["leaf-out", "mature", "colouring", "scorch"]), st.integers(0, 250)), max_size=2
    ),
)
@settings(max_examples=12, deadline=None, derandomize=True)
def test_roots_lose_supply_and_hold_on_days_of_work_only(
    done: list[tuple[tuple[str, float | None], int]], noticed: list[tuple[str, int]]
) -> None:
    """Recovery never runs backwards without cause, whatever else is seen of the tree."""
    begin = "2026-03-10"
    log = [work(name, days_later(begin, after), removed) for (name, removed), after in done]
    log += [Entry("maple", "observe", noon(days_later(begin, after)), seen=seen) for seen, after in noticed]
    log.sort(key=lambda entry: entry.at)
    causes = {entry.at.date() for entry in log}
    days = [days_later(begin, number) for number in range(0, 300, 3)]
    course = [on(day, [entry for entry in log if entry.at <= noon(day)], YEARS) for day in days]
    for (before, after), day in zip(pairwise(course), days[1:], strict=True):
        if not causes & {date.fromisoformat(days_later(day, -back)) for back in range(3)}:
            assert after.root_supply >= before.root_supply - 1e-12
            assert after.anchorage >= before.anchorage - 1e-12


@given(st.sampled_from(sorted(set(PHASE_SEEN) - {"leaf-fall"})), st.integers(0, 364))
@settings(max_examples=40, deadline=None, derandomize=True)
def test_what_was_seen_is_so_and_what_follows_goes_on_from_there(seen: str, after: int) -> None:
    """Observation wins: on its day there is no doubt, and the next phase is the same or the next one of the year."""
    day = days_later("2026-01-01", after)
    species = TABLES.species_for("Acer palmatum")
    odd = out_of_season(seen, np.datetime64(day), NORTH, species)
    entry = Entry("maple", "observe", noon(day), seen=seen)
    stage = stages("Acer palmatum", until(YEARS, date.fromisoformat(day)), [entry])
    if odd:
        assert "does not fit the season" in stage.basis
        return
    phase = PHASE_SEEN[seen]
    assert stage.today == PHASES[phase]
    assert stage.chances[phase] == 1.0
    assert stage.basis == f"observed on {day}"
    later = stages("Acer palmatum", until(YEARS, date.fromisoformat(days_later(day, 120))), [entry])
    for now, then in set(pairwise(later.phases[-121:].tolist())):
        # Leaves that are green still at midwinter fall without colouring.
        assert (then - now) % len(PHASES) <= 1 or (now, then) == (MATURE, DORMANT)


def test_works_older_than_the_record_reaches_are_as_good_as_closed() -> None:
    """The record reaches back three growing seasons at the most; what was done before then counts from there."""
    today = date(2026, 6, 10)
    assert oldest_work([work("lift", "1998-04-01")], today) == today - timedelta(days=UNFINISHED_DAYS)
    ancient, at_the_bound = (
        on("2026-06-10", [work("lift", day)], YEARS) for day in ("1998-04-01", YEARS.days[0].astype(date).isoformat())
    )
    assert ancient.root_supply == pytest.approx(at_the_bound.root_supply, rel=1e-12)
    assert ancient.root_supply > 0.9
    assert ancient.anchorage > 0.9


def test_a_scorch_with_its_share_takes_that_share() -> None:
    """Without one, a third (judged)."""
    for removed, left in ((0.1, 0.9), (0.6, 0.4), (None, 0.7)):
        entry = Entry("maple", "observe", noon("2026-07-10"), seen="scorch", removed=removed)
        assert on("2026-07-11", [entry], YEARS).leaf_area == pytest.approx(left)
