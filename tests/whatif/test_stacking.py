"""
Stacking: what was done to a tree this year bars other works on it, and it is said until when.

Which works do not go together is common practice among growers of container trees.
"""

from datetime import date

import pytest

from carewatch.care.log import OBSERVATIONS, WORKS
from carewatch.whatif.gates import WORDS, Gates, is_heavy
from tests.condition.grown import TABLES
from tests.whatif.years import done, gates, seen

RULES = TABLES.work_rules


def kinds(found: Gates, day: str) -> set[str]:
    """The kinds of barriers on a day."""
    return {barrier.kind for barrier in found.on(date.fromisoformat(day))}


def said(found: Gates, day: str) -> str:
    """What bars a day, all together."""
    return " ".join(barrier.why for barrier in found.on(date.fromisoformat(day)))


@pytest.mark.parametrize("earlier", ["root-prune", "repot", "lift"])
def test_leaves_are_not_stripped_in_the_year_of_root_work(earlier: str) -> None:
    log = [done(earlier, "2026-04-05", 0.2 if earlier == "root-prune" else None)]
    this_year = gates("defoliate", "2026-06-25", log, removed=1.0)

    assert kinds(this_year, "2026-06-25") == {"stacking"}
    assert "5 April 2026" in said(this_year, "2026-06-25")
    assert this_year.on(date(2027, 6, 25)) == ()
    opens = this_year.opens(date(2026, 6, 25))
    assert opens is not None
    assert opens.year == 2027


def test_the_month_that_is_named_for_a_barred_work_obeys_season_and_log_together() -> None:
    """Stripping waits for midwinter by the log, and from there for June by the season."""
    opens = gates("defoliate", "2026-06-25", [done("root-prune", "2026-04-05", 0.3)]).opens(date(2026, 6, 25))

    assert opens is not None
    assert (opens.year, opens.month in (5, 6)) == (2027, True)


def test_a_tree_that_was_stripped_is_not_root_pruned_in_the_same_season() -> None:
    found = gates("root-prune", "2026-07-10", [done("defoliate", "2026-06-20", 1.0)], species="Ficus", removed=0.3)

    assert kinds(found, "2026-07-10") == {"stacking"}
    assert "stripping" in said(found, "2026-07-10")


def test_roots_are_worked_once_a_year() -> None:
    log = [done("root-prune", "2026-04-05", 0.3)]

    assert "once a year" in said(gates("repot", "2026-04-20", log), "2026-04-20")
    assert gates("root-prune", "2026-04-20", log, removed=0.3).on(date(2027, 4, 10)) == ()


def test_of_hard_works_a_tree_bears_one_a_season() -> None:
    found = gates("hard-prune", "2026-07-10", [done("root-prune", "2026-04-05", 0.5)], removed=0.4)

    assert "one a season" in said(found, "2026-07-10")
    assert found.on(date(2027, 7, 10)) == ()


def test_a_light_root_pruning_is_no_hard_work() -> None:
    """Up to a third does not count."""
    assert gates("hard-prune", "2026-07-10", [done("root-prune", "2026-04-05", 0.3)]).on(date(2026, 7, 10)) == ()
    assert not is_heavy(done("root-prune", "2026-04-05", 0.33), RULES)
    assert is_heavy(done("root-prune", "2026-04-05", 0.5), RULES)
    assert is_heavy(done("lift", "2026-04-05"), RULES)
    assert not is_heavy(done("wire", "2026-04-05"), RULES)


def test_a_hard_work_of_late_autumn_is_not_forgotten_at_midwinter() -> None:
    """Three months at rest make no new season."""
    log = [done("hard-prune", "2026-11-25", 0.5)]
    found = gates("lift", "2026-12-01", log)

    assert "stacking" in kinds(found, "2027-02-15")
    assert "stacking" not in kinds(found, "2027-03-01")


def test_a_severed_layer_stands_still_for_twelve_months_and_keeps_its_roots_for_eighteen() -> None:
    log = [done("sever-layer", "2026-09-01")]

    assert "absolutely still" in said(gates("untie", "2026-09-10", log), "2027-08-20")
    assert gates("untie", "2026-09-10", log).on(date(2027, 9, 2)) == ()
    first_root_work = gates("root-prune", "2026-09-10", log, removed=0.2).opens(date(2026, 9, 10))
    assert first_root_work is not None
    assert first_root_work.year == 2028


def test_cut_roots_are_not_fed_for_four_weeks() -> None:
    """Four to six (common practice): `whatif` bars four, the long clock says when six are over."""
    found = gates("feed", "2026-05-10", [done("repot", "2026-04-20")])

    assert "stacking" in kinds(found, "2026-05-17")
    assert "stacking" not in kinds(found, "2026-05-18")


def test_a_layer_is_not_severed_before_its_sixth_week() -> None:
    found = gates("sever-layer", "2026-07-01", [done("set-layer", "2026-06-15")])

    assert "sixth week" in said(found, "2026-07-10")
    assert found.on(date(2026, 7, 28)) == ()


def test_a_tree_that_has_just_suffered_is_left_alone() -> None:
    found = gates("defoliate", "2026-06-20", [seen("scorch", "2026-06-10")], removed=1.0)

    assert "Scorch was seen on 10 June 2026" in said(found, "2026-06-20")


def test_a_weak_tree_waits_until_its_roots_feed_it_again_and_the_month_is_named() -> None:
    """Half fed now, restored on the first of August of next year."""

    def supply(day: date) -> float:
        return 0.5 if day < date(2027, 8, 1) else 0.9

    found = gates("hard-prune", "2026-07-10", supply=supply)

    assert kinds(found, "2026-07-10") == {"strength"}
    assert "50 %" in said(found, "2026-07-10")
    assert "August 2027" in said(found, "2026-07-10")
    assert gates("wire", "2026-07-10", supply=supply).on(date(2026, 7, 10)) == ()


def test_one_earlier_work_is_told_of_once() -> None:
    """Several rules name it; the grower hears the longest wait."""
    found = gates("defoliate", "2026-06-25", [done("lift", "2026-04-05")], removed=1.0).on(date(2026, 6, 25))

    assert len(found) == 1


def test_what_is_done_to_a_tree_does_not_bar_what_has_nothing_to_do_with_it() -> None:
    assert gates("wire", "2026-06-20", [done("repot", "2026-04-20")]).on(date(2026, 6, 20)) == ()


def test_every_work_of_the_log_has_words_of_its_own() -> None:
    assert set(WORDS) == set(WORKS)


def test_every_work_that_a_rule_names_is_one_of_the_log() -> None:
    """A slip of the pen in the table would let a work pass."""
    seasons = {work for rule in RULES.seasons for work in rule.works}
    stacked = {work for rule in RULES.stacking for work in rule.works}
    after = {work for rule in RULES.stacking for work in rule.after}
    days = {work for rule in RULES.days for work in rule.works}

    assert seasons | stacked | days | set(RULES.heavy) | set(RULES.vigour.works) <= set(WORKS)
    assert after <= {*WORKS, *OBSERVATIONS}
