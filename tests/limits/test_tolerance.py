"""What a tree can stand today: by stage, by date, by what was done to it."""

from datetime import date, timedelta

import numpy as np
import pytest

from carewatch.care.log import Entry
from carewatch.limits.tolerance import leaf_organ, mature_root_frost_c, year_day
from tests.condition.grown import SOUTH, TABLES, noon, on, severed, tree, year_like
from tests.limits.felt import limits_of

YEARS = year_like("2024-09-01", "2027-12-31")
MAPLE = TABLES.species_for("Acer palmatum")
WEIGHT = TABLES.hazards.organ_weight


def _seen(day: str, what: str) -> Entry:
    return Entry("maple", "observe", noon(day), seen=what)


def test_limits_are_those_of_the_species_in_its_stage() -> None:
    """-2/-4 °C in flush, -2.5/-4.5 as a mature leaf, -18/-25 as a winter bud (estimates of the table)."""
    flush = limits_of(on("2026-05-01", [_seen("2026-05-01", "leaf-out")], YEARS), "2026-05-01")
    mature = limits_of(on("2026-07-01", [], YEARS), "2026-07-01")
    winter = limits_of(on("2026-01-20", [], YEARS), "2026-01-20")
    assert (float(flush.leaf_frost_10[0]), float(flush.leaf_frost_50[0])) == (-2.0, -4.0)
    assert (float(mature.leaf_frost_10[0]), float(mature.leaf_frost_50[0])) == (-2.5, -4.5)
    assert (float(winter.bud_frost_10[0]), float(winter.bud_frost_50[0])) == (-18.0, -25.0)
    assert np.isneginf(winter.leaf_frost_10[0])
    assert np.isneginf(mature.bud_frost_10[0])


def test_mature_roots_harden_towards_midwinter_and_soften_before_the_buds_move() -> None:
    """October's value until mid-October, midwinter's from mid-January to March."""
    course = [mature_root_frost_c(MAPLE, date(2025, 7, 1) + timedelta(days=day), 52.4)[1] for day in range(366)]
    assert course[0] == MAPLE.root_october_c[1]
    assert min(course) == pytest.approx(MAPLE.root_midwinter_c[1])
    assert mature_root_frost_c(MAPLE, date(2026, 1, 31), 52.4) == pytest.approx(MAPLE.root_midwinter_c)
    assert mature_root_frost_c(MAPLE, date(2026, 6, 1), 52.4) == pytest.approx(MAPLE.root_october_c)
    steps = np.abs(np.diff(course))
    assert steps.max() < 0.12


def test_the_south_hardens_half_a_year_later() -> None:
    """Midwinter is in July there."""
    assert mature_root_frost_c(MAPLE, date(2026, 8, 1), SOUTH) == pytest.approx(MAPLE.root_midwinter_c)
    assert mature_root_frost_c(MAPLE, date(2026, 1, 15), SOUTH) == pytest.approx(MAPLE.root_october_c)
    for day in (date(2026, 1, 1), date(2026, 7, 1), date(2026, 12, 31)):
        apart = (year_day(day, SOUTH) - year_day(day, 52.4)) % 365
        assert 178 <= apart <= 187


def test_each_organ_is_worth_what_its_season_makes_it() -> None:
    """Flush a third, ripe leaf a quarter, colour nothing; of a layer more, because its roots live on its leaves."""
    plain = {
        "2026-05-01": ("leaf-out", "leaf.flush"),
        "2026-07-01": ("mature", "leaf.mature"),
        "2026-09-01": ("mature", "leaf.mature.late"),
        "2026-10-20": ("colouring", "leaf.colouring"),
        "2026-12-20": ("dormant", ""),
    }
    layer = {
        "2026-05-01": "leaf.layer.flush",
        "2026-07-01": "leaf.layer.mature",
        "2026-08-20": "leaf.layer.late",
        "2026-09-10": "leaf.layer.colouring",
    }
    for day, (what, organ) in plain.items():
        assert leaf_organ(on(day, [_seen(day, what)], YEARS), noon(day).date(), 52.4) == organ, day
    seen = {"2026-05-01": "leaf-out", "2026-07-01": "mature", "2026-08-20": "mature", "2026-09-10": "colouring"}
    for day, organ in layer.items():
        condition = on(day, [severed("2025-09-15"), _seen(day, seen[day])], YEARS)
        assert leaf_organ(condition, noon(day).date(), 52.4) == organ, day
        assert WEIGHT[organ] >= WEIGHT[organ.replace(".layer", "").replace("leaf.late", "leaf.mature.late")]


def test_evergreens_are_worth_their_leaves_all_the_year() -> None:
    """Half or more."""
    pine = tree("pine", "Pinus sylvestris")
    for day in ("2026-01-20", "2026-07-25"):
        organ = leaf_organ(on(day, [], YEARS, pine), noon(day).date(), 52.4)
        assert WEIGHT[organ] >= 0.5


def test_a_weak_tree_s_flush_is_worth_more_to_it() -> None:
    """With under half of its supply, or flushing for the second time."""
    day = "2026-05-01"
    weak = on(day, [Entry("maple", "lift", noon("2026-03-25")), _seen(day, "leaf-out")], YEARS)
    assert leaf_organ(weak, noon(day).date(), 52.4) == "leaf.flush.weak"
    again = on("2026-06-30", [Entry("maple", "defoliate", noon("2026-06-01"))], YEARS)
    assert again.second_flush
    assert leaf_organ(again, date(2026, 6, 30), 52.4) in ("leaf.flush.weak", "")


def test_a_second_flush_is_tenderer_than_the_first() -> None:
    """-1.5/-3.5 instead of -2/-4 °C (estimate: fewer reserves)."""
    again = on("2026-07-05", [Entry("maple", "defoliate", noon("2026-06-01"))], YEARS)
    assert again.stage == "flush"
    limits = limits_of(again, "2026-07-05")
    assert float(limits.leaf_frost_10[0]) == -1.5
    assert float(limits.drying_10[0]) == MAPLE.water_loss_flush[0]


def test_works_shift_heat_and_wood_frost() -> None:
    """Three kelvins less heat for a sparse layer; a kelvin less frost for hard-pruned buds."""
    day = "2026-07-01"
    layer, intact = (limits_of(on(day, log, YEARS), day) for log in ([severed("2026-06-20")], []))
    assert float(intact.heat_10[0] - layer.heat_10[0]) == 3.0
    winter = "2026-01-20"
    pruned, whole = (
        limits_of(on(winter, log, YEARS), winter)
        for log in ([Entry("maple", "hard-prune", noon("2025-08-20"), removed=0.5)], [])
    )
    assert float(pruned.bud_frost_10[0] - whole.bud_frost_10[0]) == 1.0


def test_sun_is_borne_a_step_above_habit_and_less_where_a_work_forbids_it() -> None:
    """What counts is what the last fortnight's places offered."""
    day = "2026-07-01"
    shade, open_ground = (float(limits_of(on(day, [], YEARS), day, habit).sun_10[0]) for habit in (0.5, 4.0))
    assert shade == pytest.approx(0.5 + MAPLE.sun_step_kwh[0])
    assert open_ground == pytest.approx(4.0 + MAPLE.sun_step_kwh[0])
    layer = limits_of(on(day, [severed("2026-06-20")], YEARS), day, 4.0)
    assert float(layer.sun_10[0]) == 0.5
    assert layer.sun_50[0] > layer.sun_10[0]


def test_cut_roots_bear_soaking_for_hours_and_sleeping_ones_for_days() -> None:
    """24 hours after severing a sparse layer, three days in leaf, ten days asleep (estimates, at 20 °C)."""
    hours = [
        float(limits_of(on(day, log, YEARS), day).soak_10[0])
        for day, log in (("2026-07-01", [severed("2026-06-20")]), ("2026-07-01", []), ("2026-01-20", []))
    ]
    assert hours == [24.0, 72.0, 240.0]


def test_every_limit_of_every_species_is_a_number_or_never() -> None:
    """All the year round, no limit is unknown, and ten per cent comes before fifty."""
    for name in ("Acer palmatum", "Larix decidua", "Pinus sylvestris", "Olea europaea", "Ficus microcarpa"):
        grown = tree("any", name)
        for day in ("2026-01-15", "2026-04-10", "2026-05-05", "2026-07-15", "2026-10-05", "2026-12-01"):
            limits = limits_of(on(day, [], YEARS, grown), day)
            for field, values in vars(limits).items():
                assert not np.isnan(values).any(), (name, day, field)
            assert limits.leaf_frost_10[0] >= limits.leaf_frost_50[0]
            assert limits.bud_frost_10[0] >= limits.bud_frost_50[0]
            assert limits.heat_10[0] <= limits.heat_50[0]
            assert limits.sun_10[0] <= limits.sun_50[0]
            assert np.isfinite(limits.leaf_frost_10[0]) or np.isfinite(limits.bud_frost_10[0]), (name, day)
