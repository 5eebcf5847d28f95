"""Leaves know better than the table: what was seen of them corrects what cut roots are taken to bring."""

from datetime import UTC, date, datetime
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from carewatch.care.log import Entry
from carewatch.condition.now import Condition
from tests.condition.grown import TABLES, days_later, noon, on, severed, year_like

YEARS = year_like("2024-09-01", "2027-12-31")
LEAVES = TABLES.condition.leaves
FIRM, HANGING, STILL_HANGING = LEAVES.firm_factor, LEAVES.hanging_factor, LEAVES.still_hanging_factor
SEVERED = severed("2026-06-01", "fair")
LOOKED = "2026-06-04"


def seen(day: str, what: str, hour: int = 14) -> Entry:
    return Entry("maple", "observe", datetime.fromisoformat(day).replace(hour=hour, tzinfo=UTC), seen=what)


def looked(day: str, *entries: Entry) -> Condition:
    return on(day, sorted([SEVERED, *entries], key=lambda entry: entry.at), YEARS)


@pytest.mark.parametrize(
    ("what", "hour", "factor"),
    [
        ("firm", 14, FIRM),
        ("hanging", 14, HANGING),
        ("wilting", 14, HANGING),
        ("wilting", 6, STILL_HANGING),
        ("wilting", 9, STILL_HANGING),
        ("wilting", 10, HANGING),
    ],
)
def test_what_leaves_show_multiplies_the_supply_of_that_day(what: str, hour: int, factor: float) -> None:
    """Hang and recover × 0.8, hang still at dawn × 0.5, firm × 1.25: the issue's own numbers, marked as estimates."""
    assert (FIRM, HANGING, STILL_HANGING) == (1.25, 0.8, 0.5)
    corrected = looked(LOOKED, seen(LOOKED, what, hour))
    assert corrected.root_supply == pytest.approx(factor * looked(LOOKED).root_supply, rel=1e-9)
    (work,) = corrected.opened
    assert [verdict.factor for verdict in work.leaves] == [factor]


def test_the_day_before_it_was_seen_nothing_is_known_of_it() -> None:
    before = days_later(LOOKED, -1)
    assert looked(before) == on(before, [SEVERED], YEARS)


def test_a_corrected_tree_recovers_by_the_same_law() -> None:
    """Of what is missing, the same share closes in the same warmth: 1-x shrinks alike with the answer and without."""
    later = days_later(LOOKED, 40)
    for what in ("firm", "hanging"):
        plain = (1 - looked(later).root_supply) / (1 - looked(LOOKED).root_supply)
        answered = looked(later, seen(LOOKED, what)), looked(LOOKED, seen(LOOKED, what))
        assert (1 - answered[0].root_supply) / (1 - answered[1].root_supply) == pytest.approx(plain, rel=1e-9)
    assert looked(days_later(LOOKED, 400), seen(LOOKED, "hanging")).root_supply > 0.9


def test_the_answer_moves_what_hangs_on_supply() -> None:
    """A layer whose leaves hang asks for shade for longer than one whose leaves are firm."""

    def shade_ends(*entries: Entry) -> int:
        return next(days for days in range(4, 500) if looked(days_later(LOOKED, days), *entries).sun_limit_kwh is None)

    assert shade_ends(seen(LOOKED, "firm")) < shade_ends() < shade_ends(seen(LOOKED, "hanging"))


def test_supply_is_never_more_than_whole() -> None:
    log = [seen(days_later(LOOKED, days), "firm") for days in range(12)]
    supply = [looked(days_later(LOOKED, days), *log).root_supply for days in range(60)]
    assert max(supply) <= 1.0
    assert all(later >= earlier for earlier, later in pairwise(supply))


def test_a_tree_whose_roots_suffice_wants_water_and_not_roots() -> None:
    """A dry pot makes an intact tree wilt, too: its roots are no worse for it."""
    wilted = [seen("2026-06-04", "wilting", 6)]
    assert on(LOOKED, wilted, YEARS).root_supply == 1.0
    long_ago = Entry("maple", "root-prune", noon("2025-03-15"), removed=0.3)
    recovered = on(LOOKED, [long_ago], YEARS)
    assert recovered.root_supply > LEAVES.roots_suffice
    assert on(LOOKED, [long_ago, *wilted], YEARS).root_supply == recovered.root_supply


def test_bare_trees_show_nothing() -> None:
    """What is noted of leaves in winter is of no leaves."""
    pruned = Entry("maple", "root-prune", noon("2026-01-20"), removed=0.5)
    assert on("2026-01-25", [pruned, seen("2026-01-23", "hanging")], YEARS) == on("2026-01-25", [pruned], YEARS)


def test_of_several_works_the_one_that_limits_most_is_corrected() -> None:
    """The product falls by the factor; the lesser work keeps its own course."""
    pruned = Entry("maple", "repot", noon("2026-05-20"), roots_worked=True)
    log = [pruned, SEVERED]
    plain, answered = on(LOOKED, log, YEARS), on(LOOKED, [*log, seen(LOOKED, "hanging")], YEARS)
    assert answered.root_supply == pytest.approx(HANGING * plain.root_supply, rel=1e-9)
    assert [bool(work.leaves) for work in answered.opened] == [False, True]
    assert answered.opened[0] == plain.opened[0]


def test_a_graft_is_not_asked_of_the_leaves() -> None:
    graft = Entry("maple", "graft", noon("2026-05-25"))
    assert on(LOOKED, [graft, seen(LOOKED, "hanging")], YEARS) == on(LOOKED, [graft], YEARS)


@given(
    st.lists(
        st.tuples(st.integers(1, 90), st.sampled_from(["firm", "hanging", "wilting"]), st.integers(0, 23)), max_size=4
    )
)
@settings(max_examples=25, deadline=None, derandomize=True)
def test_supply_falls_only_on_a_day_on_which_leaves_hung(found: list[tuple[int, str, int]]) -> None:
    """Recovery never runs backwards without cause; and whatever is seen, supply stays between nothing and whole."""
    day = "2026-06-01"
    log = [seen(days_later(day, days), what, hour) for days, what, hour in found]
    hung = {entry.at.date() for entry in log if entry.seen != "firm"}
    course = [
        looked(days_later(day, days), *(e for e in log if e.at <= noon(days_later(day, days)))) for days in range(95)
    ]
    assert all(0.0 <= condition.root_supply <= 1.0 for condition in course)
    for number, (before, after) in enumerate(pairwise(course), start=1):
        today = date.fromisoformat(days_later(day, number))
        # An entry after noon is known from the next day on.
        near = {today, date.fromisoformat(days_later(day, number - 1))}
        if not near & hung:
            assert after.root_supply >= before.root_supply - 1e-12
