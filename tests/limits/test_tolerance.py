"""What a tree can stand today: by stage, by date, by what was done to it."""

from datetime import date
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from carewatch.care.log import Entry
from carewatch.condition.stage import FLUSHING
from carewatch.forecast.history import DailyHistory
from carewatch.limits.tolerance import leaf_organ, mature_root_frost_c, mixed_doses, organ_worth, year_day
from tests.condition.grown import SOUTH, TABLES, days_later, first_day, noon, on, severed, stages, tree, year_like
from tests.limits.felt import judged, limits_of, uneventful

YEARS = year_like("2024-09-01", "2027-12-31")
MAPLE = TABLES.species_for("Acer palmatum")
WEIGHT = TABLES.hazards.organ_weight
# The day on which the model opens a maple's leaves.
OUT = first_day(stages("Acer palmatum", YEARS), YEARS, FLUSHING, "2026-01-01")


def _seen(day: str, what: str) -> Entry:
    return Entry("maple", "observe", noon(day), seen=what)


def test_limits_are_those_of_the_species_in_its_stage() -> None:
    """-2/-4 °C in flush, -2.5/-4.5 as a mature leaf, all but -18/-25 as a bud in midwinter (estimates of the table)."""
    flush = limits_of(on("2026-05-01", [_seen("2026-05-01", "leaf-out")], YEARS), "2026-05-01")
    mature = limits_of(on("2026-07-01", [], YEARS), "2026-07-01")
    winter = limits_of(on("2026-01-20", [], YEARS), "2026-01-20")
    assert (float(flush.leaf_frost_10[0]), float(flush.leaf_frost_50[0])) == (-2.0, -4.0)
    assert (float(mature.leaf_frost_10[0]), float(mature.leaf_frost_50[0])) == (-2.5, -4.5)
    assert (float(winter.bud_frost_10[0]), float(winter.bud_frost_50[0])) == pytest.approx((-18.0, -25.0), abs=1.5)
    assert np.isneginf(winter.leaf_frost_10[0])
    assert np.isneginf(mature.bud_frost_10[0])


def test_mature_roots_harden_with_the_cold_of_the_year_and_soften_before_the_buds_move() -> None:
    """October's value while the root zone is warm, all but midwinter's at the end of January, half back in April."""
    course = {
        day: float(limits_of(on(day, [], YEARS), day).root_frost_mature_50[0])
        for day in ("2025-07-15", "2025-10-10", "2025-12-01", "2026-01-31", "2026-04-10", "2026-06-01")
    }
    october, winter = MAPLE.root_october_c[1], MAPLE.root_midwinter_c[1]
    assert course["2025-07-15"] == pytest.approx(october, abs=0.01)
    assert course["2025-10-10"] == pytest.approx(october, abs=1.0)
    assert course["2026-01-31"] == pytest.approx(winter, abs=0.5)
    assert winter < course["2025-12-01"] < october
    assert course["2026-04-10"] > 0.5 * (october + winter)
    assert course["2026-06-01"] == pytest.approx(october, abs=0.01)
    assert mature_root_frost_c(MAPLE, 0.0) == MAPLE.root_october_c
    assert mature_root_frost_c(MAPLE, 1.0) == MAPLE.root_midwinter_c


def test_the_south_hardens_half_a_year_later() -> None:
    """Midwinter is in July there."""
    southern = year_like("2024-09-01", "2027-01-31", latitude=SOUTH, mean_c=8.0, half_range_c=7.0)
    winter, summer = (
        limits_of(on(day, [], southern, latitude=SOUTH), day, latitude=SOUTH) for day in ("2026-08-01", "2026-01-15")
    )
    assert float(winter.root_frost_mature_50[0]) < MAPLE.root_october_c[1] - 2.0
    assert float(summer.root_frost_mature_50[0]) == pytest.approx(MAPLE.root_october_c[1], abs=0.01)
    assert np.isfinite(winter.bud_frost_10[0])
    assert np.isfinite(summer.leaf_frost_10[0])
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
    }
    layer = {
        "2026-05-01": "leaf.layer.flush",
        "2026-07-01": "leaf.layer.mature",
        "2026-08-20": "leaf.layer.late",
        "2026-09-10": "leaf.layer.colouring",
    }
    for day, (what, organ) in plain.items():
        condition = on(day, [_seen(day, what)], YEARS)
        assert leaf_organ(condition, condition.stage, noon(day).date(), 52.4) == organ, day
        assert float(limits_of(condition, day).leaf_weight[0]) == WEIGHT[organ]
    assert (
        float(limits_of(on("2026-12-20", [_seen("2026-12-20", "dormant")], YEARS), "2026-12-20").leaf_weight[0]) == 0.0
    )
    seen = {"2026-05-01": "leaf-out", "2026-07-01": "mature", "2026-08-20": "mature", "2026-09-10": "colouring"}
    for day, organ in layer.items():
        condition = on(day, [severed("2025-09-15"), _seen(day, seen[day])], YEARS)
        assert leaf_organ(condition, condition.stage, noon(day).date(), 52.4) == organ, day
        assert WEIGHT[organ] >= WEIGHT[organ.replace(".layer", "").replace("leaf.late", "leaf.mature.late")]


def test_evergreens_are_worth_their_leaves_all_the_year() -> None:
    """Half or more."""
    pine = tree("pine", "Pinus sylvestris")
    for day in ("2026-01-20", "2026-07-25"):
        assert float(limits_of(on(day, [], YEARS, pine), day).leaf_weight[0]) >= 0.5


def test_a_weak_tree_s_flush_is_worth_more_to_it() -> None:
    """With under half of its supply, or flushing for the second time."""
    day = "2026-05-01"
    weak = on(day, [Entry("maple", "lift", noon("2026-03-25")), _seen(day, "leaf-out")], YEARS)
    assert leaf_organ(weak, weak.stage, noon(day).date(), 52.4) == "leaf.flush.weak"
    again = on("2026-06-30", [Entry("maple", "defoliate", noon("2026-06-01"))], YEARS)
    assert again.second_flush
    assert float(limits_of(again, "2026-06-30").leaf_weight[0]) in (WEIGHT["leaf.flush.weak"], 0.0)


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


def _coldest_month(day: str, mean_c: float) -> DailyHistory:
    """The year whose last month before a day had another mean."""
    inside = (YEARS.days > np.datetime64(day) - 30) & (YEARS.days <= np.datetime64(day))
    return DailyHistory(YEARS.days, np.where(inside, mean_c, YEARS.mean_c), None)


@pytest.mark.parametrize("species", ["Acer palmatum", "Pinus sylvestris", "Olea europaea", "Malus"])
def test_winter_limits_follow_the_weather_of_the_last_weeks(species: str) -> None:
    """Colder weeks, hardier tree; a mild month leaves it tenderer than in midwinter (Kalberer et al. 2007)."""
    grown = tree("any", species)
    tenths = []
    for mean_c in (-5.0, 4.0, 8.0, 11.0):
        limits = limits_of(on("2026-01-20", [], _coldest_month("2026-01-20", mean_c), grown), "2026-01-20")
        tenths.append(float(limits.leaf_frost_10[0] if grown.species.evergreen else limits.bud_frost_10[0]))
    assert all(colder <= milder for colder, milder in pairwise(tenths))
    assert tenths[-1] - tenths[0] > 1.0


def test_wood_of_october_is_not_wood_of_january() -> None:
    """-6/-10 °C in October, -18/-25 in midwinter (estimates of the table): an early hard frost finds it soft."""
    october = limits_of(on("2025-10-18", [_seen("2025-10-18", "colouring")], YEARS), "2025-10-18")
    assert float(october.bud_frost_10[0]) == pytest.approx(MAPLE.frost_c["autumn-wood"][0], abs=2.0)
    assert float(october.bud_frost_10[0]) > -9.0


def test_buds_that_are_seen_to_swell_have_the_limits_of_swelling_buds() -> None:
    """-5/-9 °C, whatever the model thought (estimates of the table)."""
    limits = limits_of(on("2026-03-25", [_seen("2026-03-25", "bud-swell")], YEARS), "2026-03-25")
    assert (float(limits.bud_frost_10[0]), float(limits.bud_frost_50[0])) == MAPLE.frost_c["bud-swell"]


def test_where_leaf_out_is_uncertain_leaves_and_buds_stand_with_their_chances() -> None:
    """Days before the modelled date some trees of the kind are out: the flush counts for as much as it is likely."""
    day = days_later(OUT.isoformat(), -5)
    condition = on(day, [], YEARS)
    chance = condition.chances["flush"]
    assert condition.stage in ("dormant", "bud-swell")
    assert 0.05 < chance < 0.6
    limits = limits_of(condition, day)
    assert (float(limits.leaf_frost_10[0]), float(limits.leaf_frost_50[0])) == MAPLE.frost_c["flush"]
    assert float(limits.leaf_weight[0]) == pytest.approx(chance * WEIGHT["leaf.flush"], rel=0.15)
    assert float(limits.bud_weight[0]) < WEIGHT["buds"]
    assert organ_worth(condition, TABLES.hazards, noon(day).date(), 52.4) == pytest.approx(
        (float(limits.leaf_weight[0]), float(limits.bud_weight[0]))
    )
    # A tree that was seen that day has no such doubt.
    sure = limits_of(on(day, [_seen(day, "bud-swell")], YEARS), day)
    assert np.isneginf(sure.leaf_frost_10[0])
    assert (float(sure.leaf_weight[0]), float(sure.bud_weight[0])) == (0.0, WEIGHT["buds"])


def test_a_frost_in_the_doubtful_weeks_costs_no_more_than_the_worst_stage_and_no_less_than_the_best() -> None:
    """Expectation over the stages: between a tree that is still shut and one that is surely out."""
    day = days_later(OUT.isoformat(), -2)
    losses = []
    for log in ([_seen(day, "bud-swell")], [], [_seen(day, "leaf-out")]):
        limits = limits_of(on(day, log, YEARS), day)
        losses.append(float(judged(uneventful(tissue_c=-4.0), limits).loss["frost"][0, 0]))
    assert losses[0] < losses[1] < losses[2]


@given(st.floats(0.05, 0.95), st.floats(-12.0, -3.0), st.floats(-40.0, -13.0))
@settings(max_examples=60, deadline=None, derandomize=True)
def test_a_mixture_of_limits_lies_between_them_and_its_damages_are_averaged(
    chance: float, tender: float, hardy: float
) -> None:
    """Damage at the mixture's doses is 10 and 50 % of the mean of both curves; limits themselves are not averaged."""
    parts = [(chance, (tender, tender - 2.0)), (1.0 - chance, (hardy, hardy - 7.0))]
    tenth, half = mixed_doses(parts)
    assert half < tenth

    def mean(dose: float) -> float:
        curves = [1.0 / (1.0 + 9.0 ** ((pair[1] - dose) / (pair[1] - pair[0]))) for _, pair in parts]
        return float(chance * curves[0] + (1.0 - chance) * curves[1])

    assert mean(tenth) == pytest.approx(0.1, abs=0.01)
    assert mean(half) == pytest.approx(0.5, abs=0.02)


def test_one_possible_stage_is_no_mixture() -> None:
    """The table's doses come through untouched; nothing at all is never cold."""
    assert mixed_doses([(0.3, (-2.0, -4.0)), (0.2, (-2.0, -4.0))]) == (-2.0, -4.0)
    assert mixed_doses([]) == (-np.inf, -np.inf)


@given(st.floats(-5.0, -0.5), st.integers(0, 40), st.booleans())
@settings(max_examples=50, deadline=None, derandomize=True)
def test_a_colouring_maple_in_its_first_frost_is_never_more_than_minor(lowest: float, shift: int, wet: bool) -> None:
    """It loses what it was about to shed: under a tenth of its worth, seen or modelled (common practice)."""
    day = str(np.datetime64("2025-09-25") + shift)
    for log in ([], [_seen(day, "colouring")]):
        condition = on(day, log, YEARS)
        if condition.stage == "colouring":
            limits = limits_of(condition, day)
            course = np.linspace(6.0, lowest, 24)
            assert float(judged(uneventful(tissue_c=course, wet=wet), limits).loss["frost"][0, 0]) < 0.10, (day, log)


@pytest.mark.parametrize("species", ["Acer palmatum", "Pinus sylvestris", "Olea europaea"])
def test_no_frost_limit_jumps_overnight_by_the_model_alone(species: str) -> None:
    """The spread of the dates and the lags of hardening make every change gradual: loss by one frost, day after day."""
    grown = tree("any", species)
    losses = []
    for step in range(0, 330, 3):
        day = str(np.datetime64("2025-09-01") + step)
        limits = limits_of(on(day, [], YEARS, grown), day)
        losses.append(float(judged(uneventful(tissue_c=-6.0), limits).loss["frost"][0, 0]))
    assert max(abs(after - before) for before, after in pairwise(losses)) < 0.2
    assert max(losses) > 0.2
