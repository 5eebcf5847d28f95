"""Cold above zero, night ice, scalded bark and frost on fresh cuts: what harms whom, and whom not."""

from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from carewatch.care.log import Entry
from carewatch.condition.cold_carried import BELOW_C, MENDS_H
from carewatch.condition.now import Condition
from carewatch.condition.wounds import Wounds
from carewatch.exposure.run import Exposure
from carewatch.exposure.top_layer import FIRM_HOLD
from carewatch.hazard.spells import severity_of
from carewatch.limits.chill import cold_hours
from carewatch.limits.frost import CUTS
from carewatch.limits.heave import freezes
from carewatch.limits.judge import HAZARDS, KINDS, Judgement, is_cold, judge
from carewatch.limits.tolerance import tender_night_c, tolerances
from tests.condition.grown import TABLES, noon, on, severed, steady, tree, year_like
from tests.limits.felt import bare_column, judged, limits_of, uneventful

YEARS = year_like("2024-09-01", "2027-12-31")
NUMBERS = TABLES.hazards
WINTER, SUMMER = "2026-01-20", "2026-07-10"
NIGHT_H = 10


def _nights(cold: float, warm: float, nights: int) -> np.ndarray:
    """Days of 24 hours that each begin with ten hours of night."""
    day = np.full(24, warm)
    day[:NIGHT_H] = cold
    return np.tile(day, nights)


def _fig(day: str = "2026-10-10") -> Condition:
    """A fig that comes from a warm place."""
    return replace(on(day, [], YEARS, tree("maple", "Ficus microcarpa")), cold_kh=0.0)


# --- chill ----------------------------------------------------------------------------------------------------------


def _chill(condition: Condition, day: str, course: np.ndarray) -> Judgement:
    return judged(uneventful(course.size, tissue_c=course), limits_of(condition, day))


def test_two_nights_at_four_degrees_chill_a_fig_without_frost() -> None:
    """Ten hours at 4 °C are 60 °C h below 10 °C: the second night passes what a fig bears."""
    verdict = _chill(_fig(), "2026-10-10", _nights(4.0, 15.0, 2))
    assert verdict.beyond["chill"].any()
    assert not verdict.beyond["frost"].any()
    assert float(verdict.loss["frost"][0, 0]) == 0.0
    assert 0.05 < float(verdict.loss["chill"][0, 0]) < 0.30
    assert verdict.beyond["chill"][:24].sum() <= 1


@pytest.mark.parametrize("species", ["Acer palmatum", "Olea europaea", "Pinus sylvestris", "Ficus carica"])
def test_cold_above_zero_does_no_harm_to_what_bears_frost(species: str) -> None:
    """A week at 4 °C."""
    condition = on("2026-10-10", [], YEARS, tree("maple", species))
    verdict = _chill(condition, "2026-10-10", np.full(168, 4.0))
    assert float(verdict.loss["chill"][0, 0]) == 0.0
    assert np.isinf(verdict.limit["chill"]).all()


def test_nights_add_up_and_colder_ones_add_more() -> None:
    """
    Aglaonema at 4.5 °C for ten hours a night.

    More damage with six nights than with three, and with three than with one; at 13 °C less than at 4.5 °C (Hummel &
    Henny 1986, abstract).
    """
    dose = {nights: cold_hours(_nights(4.5, 21.0, nights), 10.0, NUMBERS.chill_mends_h)[-1] for nights in (1, 3, 6)}
    assert dose[1] < dose[3] < dose[6]
    assert cold_hours(_nights(13.0, 21.0, 6), 10.0, NUMBERS.chill_mends_h).max() == 0.0
    assert cold_hours(_nights(2.0, 21.0, 1), 10.0, 72.0).max() == pytest.approx(80.0)


def test_warm_days_between_make_cold_nights_good() -> None:
    """A night, four warm days, a night: less than two nights in a row (direction: intermittent warming)."""
    apart = np.concatenate([_nights(4.0, 18.0, 1), np.full(96, 18.0), _nights(4.0, 18.0, 1)])
    assert cold_hours(apart, 10.0, 72.0).max() < 0.75 * cold_hours(_nights(4.0, 18.0, 2), 10.0, 72.0).max()


def test_a_fig_carries_the_cold_of_the_nights_before_and_what_they_took_is_not_lost_again() -> None:
    """After a cool week one more night harms more than after a warm one; a warm day then harms nothing."""
    night = _nights(4.0, 15.0, 1)
    limits = {
        mean_c: limits_of(
            on("2026-10-10", [], steady("2025-09-01", "2026-10-10", mean_c), tree("maple", "Ficus")), "2026-10-10"
        )
        for mean_c in (20.0, 11.0, 6.0)
    }
    carried = [float(found.chill_carried[0]) for found in limits.values()]
    assert carried[0] == 0.0
    assert carried[0] < carried[1] < carried[2]
    fresh, chilled = (
        float(judged(uneventful(24, tissue_c=night), limits[mean_c]).loss["chill"][0, 0]) for mean_c in (20.0, 11.0)
    )
    assert chilled > fresh
    warm = judged(uneventful(24, tissue_c=np.full(24, 20.0)), limits[6.0])
    assert float(warm.loss["chill"][0, 0]) == 0.0
    assert not warm.beyond["chill"].any()
    frozen = limits_of(
        on("2026-01-10", [], steady("2025-09-01", "2026-10-10", -9.0), tree("maple", "Ficus")), "2026-01-10"
    )
    assert 0.0 <= float(judged(uneventful(24, tissue_c=night), frozen).loss["chill"][0, 0]) < 0.05
    hardy = on("2026-10-10", [], steady("2025-09-01", "2026-10-10", 4.0))
    assert hardy.cold_kh == 0.0


def test_the_cold_of_the_past_is_counted_as_that_ahead() -> None:
    """The same bound and the same mending in condition and table."""
    assert (NUMBERS.chill_below_c, NUMBERS.chill_mends_h) == (BELOW_C, MENDS_H)


def test_doses_of_chill_are_those_of_the_table() -> None:
    """60 °C h cost a tenth of the leaves, 240 half."""
    for hours, share in ((10, 0.10), (40, 0.50)):
        course = np.full(48, 12.0)
        course[:hours] = 4.0
        assert float(_chill(_fig(), "2026-10-10", course).damage["chill"][0, 0]) == pytest.approx(share)


def test_leaves_that_chill_has_taken_cannot_freeze_as_well() -> None:
    """Together never more than all leaves."""
    verdict = _chill(_fig(), "2026-10-10", np.full(120, -6.0))
    leaves = float(limits_of(_fig(), "2026-10-10").leaf_weight[0])
    assert float(verdict.loss["chill"][0, 0]) > 0.4 * leaves
    assert float(verdict.total()[0, 0]) < leaves + 1e-6 + float(limits_of(_fig(), "2026-10-10").bud_weight[0])


def test_a_tender_kind_is_brought_in_before_nights_that_a_citrus_still_bears() -> None:
    """Figs from about 3 °C, citrus before frost, an olive when leaves freeze (common practice)."""
    fig, lemon = (tender_night_c(TABLES.species_for(name)) for name in ("Ficus", "Citrus"))
    assert fig == pytest.approx(3.0, abs=0.5)
    assert -2.0 < lemon < 0.0


# --- heave ----------------------------------------------------------------------------------------------------------


def _ice(nights: int) -> np.ndarray:
    """The first hour thawed, so that the first night counts."""
    ice = _nights(0.9, 0.0, nights)
    ice[0] = 0.0
    return ice


def _heave(condition: Condition, nights: int, water_left: float = 0.8, floor: float = 0.0) -> Judgement:
    ice = _ice(nights)
    felt = uneventful(ice.size, top_ice=ice, water_left=water_left)
    return judged(felt, limits_of(condition, WINTER), floor)


def test_each_night_of_ice_lifts_a_loose_layer_and_costs_it_more() -> None:
    """Goulet 1995: seedlings heave with repeated freezing and thawing; resistance grows with anchorage."""
    layer = on(WINTER, [severed("2025-09-15")], YEARS)
    torn, lost = (
        [float(getattr(_heave(layer, nights), table)["heave"][0, 0]) for nights in (1, 2, 4)]
        for table in ("damage", "loss")
    )
    assert torn == pytest.approx([torn[0], 2.0 * torn[0], 4.0 * torn[0]])
    assert 0.03 < torn[0] < 0.20
    assert lost == sorted(lost)
    assert lost[-1] > 0.1
    doses = _heave(layer, 4).dose["heave"][:, 0, 0]
    assert float(doses[-1]) == 4.0


def test_what_holds_fast_is_not_lifted() -> None:
    """An old tree, and a layer that is tied: nothing can act, nothing is said."""
    for condition in (on(WINTER, [], YEARS), on(WINTER, [severed("2025-09-15", tied=True)], YEARS)):
        verdict = _heave(condition, 4)
        assert float(verdict.loss["heave"][0, 0]) == 0.0
        assert np.isinf(verdict.limit["heave"][0])
    layer = on(WINTER, [severed("2025-09-15")], YEARS)
    assert float(_heave(layer, 4, floor=0.6).loss["heave"][0, 0]) == 0.0


def test_dry_substrate_does_not_heave() -> None:
    """Frost heaving needs water (Goulet 1995: where soils are moist)."""
    layer = on(WINTER, [severed("2025-09-15")], YEARS)
    assert float(_heave(layer, 4, water_left=0.3).loss["heave"][0, 0]) == 0.0


@pytest.mark.parametrize("nights", [1, 3, 6])
def test_the_looser_the_worse(nights: int) -> None:
    """At every number of freezes; and more roots cut away never means safer."""
    layer = on(WINTER, [severed("2025-09-15")], YEARS)
    by_hold = [
        float(_heave(replace(layer, anchorage=hold, held=hold), nights).damage["heave"][0, 0])
        for hold in (0.05, 0.15, 0.3, 0.39, 0.5)
    ]
    assert by_hold == sorted(by_hold, reverse=True)
    assert by_hold[-1] == 0.0
    by_removed = []
    for removed in (0.3, 0.5, 0.7, 0.8, 0.9):
        pruned = on("2026-04-05", [Entry("maple", "root-prune", noon("2026-03-25"), removed=removed)], YEARS)
        felt = uneventful(24 * nights, top_ice=_ice(nights), water_left=0.8)
        by_removed.append(float(judged(felt, limits_of(pruned, "2026-04-05")).loss["heave"][0, 0]))
    assert by_removed == sorted(by_removed)
    assert by_removed[-1] > 0.0


def test_a_layer_of_ice_counts_once_until_it_has_thawed() -> None:
    """Half melted by day and frozen again is the same ice; ice that lay at the beginning did its harm before."""
    counts = np.ones((8, 1, 1), dtype=np.bool_)

    def found(*ice: float) -> int:
        return int(freezes(np.array(ice)[:, None, None], counts[: len(ice)]).sum())

    assert found(0.0, 0.6, 0.3, 0.6, 0.9) == 1
    assert found(0.0, 0.6, 0.05, 0.6) == 2
    assert found(0.9, 0.9, 0.7) == 0
    assert found(0.9, 0.0, 0.7) == 1


def test_the_layer_of_ice_is_worked_out_for_every_tree_that_may_heave() -> None:
    """The bound below which it is skipped lies above the bound of the table."""
    assert NUMBERS.heave_anchorage < FIRM_HOLD


# --- bark -----------------------------------------------------------------------------------------------------------


def _bark(exposure: float, course: np.ndarray, day: str = SUMMER) -> Judgement:
    condition = replace(on(day, [], YEARS), bark_exposure=exposure)
    return judged(uneventful(course.size, bark_c=course), limits_of(condition, day))


def test_bark_that_shade_left_cooks_at_fifty_degrees() -> None:
    """45 °C kill a tenth, 50 °C half of the bark on the sunny face; sunlit bark reaches nearly 50 (Sheppard 2016)."""
    for peak_c, share in ((45.0, 0.10), (50.0, 0.50)):
        course = np.full(24, 25.0)
        course[14] = peak_c
        assert float(_bark(1.0, course).damage["bark-scald"][0, 0]) == pytest.approx(share)


def test_bark_that_is_used_to_the_sun_has_no_scald() -> None:
    """A year bare, at 60 °C and through any winter day: nothing can act."""
    course = np.full(48, 60.0)
    course[30:] = -20.0
    condition = on(SUMMER, [Entry("maple", "hard-prune", noon("2025-07-01"), removed=0.8)], YEARS)
    assert condition.bark_exposure == 0.0
    verdict = judged(uneventful(48, bark_c=course), limits_of(condition, SUMMER))
    assert float(verdict.loss["bark-scald"][0, 0]) == 0.0
    assert np.isinf(verdict.limit["bark-scald"][0])


@pytest.mark.parametrize(
    ("day_c", "night_c", "harms"),
    [(15.0, -10.0, True), (10.0, -10.0, False), (15.0, -6.0, False), (-2.0, -20.0, False)],
)
def test_winter_scald_needs_a_thaw_and_a_hard_night_after_it(day_c: float, night_c: float, harms: bool) -> None:
    """The frozen cambium thaws in the sun and freezes again fast: southwest disease (Sheppard et al. 2016)."""
    course = np.full(48, 0.0)
    course[12:15], course[24:30] = day_c, night_c
    verdict = _bark(1.0, course, WINTER)
    assert bool(verdict.beyond["bark-scald"].any()) == harms
    assert (float(verdict.loss["bark-scald"][0, 0]) > 0.02) == harms
    limit = float(verdict.limit["bark-scald"][0])
    assert is_cold("bark-scald", limit)
    if harms:
        assert limit == NUMBERS.bark_refreeze_c[0]
        assert float(verdict.shown["bark-scald"].min()) == night_c


def test_a_hard_night_before_the_thaw_does_nothing() -> None:
    """The order matters."""
    course = np.full(48, 0.0)
    course[2:8], course[12:15] = -15.0, 15.0
    assert float(_bark(1.0, course, WINTER).loss["bark-scald"][0, 0]) == 0.0


def test_the_barer_the_bark_the_more_it_costs() -> None:
    """Never more than the sunny face is worth."""
    course = np.full(24, 56.0)
    losses = [float(_bark(bare, course).loss["bark-scald"][0, 0]) for bare in (0.0, 0.2, 0.6, 1.0)]
    assert losses == sorted(losses)
    assert losses[0] == 0.0
    assert losses[-1] <= NUMBERS.bark_face


# --- fresh cuts -----------------------------------------------------------------------------------------------------


def _cut_loss(wounds: Wounds, tissue_c: float, day: str = SUMMER) -> Judgement:
    condition = replace(on(day, [], YEARS), wounds=wounds)
    return judged(uneventful(tissue_c=tissue_c), limits_of(condition, day))


def test_frost_kills_the_rim_of_a_fresh_cut_and_less_of_it_under_paste() -> None:
    """-3 °C a tenth, -6 °C half in growing wood (estimate); paste keeps half."""
    day = "2026-09-25"
    losses = {}
    for name, wounds in (("open", Wounds(1.0, 0.8, 0.0)), ("pasted", Wounds(1.0, 0.0, 0.8))):
        limits = limits_of(replace(on(day, [], YEARS), wounds=wounds), day)
        assert float(limits.wound_frost_10[0]) == pytest.approx(-3.0, abs=0.5)
        losses[name] = float(limits.wound_weight[0])
    assert losses["pasted"] == pytest.approx(NUMBERS.wound_pasted * losses["open"])
    assert losses["open"] == pytest.approx(0.8 * NUMBERS.organ_weight["wound"])


def test_cuts_close_the_gap_to_the_wood_around_them() -> None:
    """The fresher, the sooner it freezes; an old cut is worth no word."""
    losses = [
        float(_cut_loss(Wounds(fresh, 0.5, 0.0), -5.0, "2026-01-20").loss["frost"][0, 0]) for fresh in (0, 0.5, 1)
    ]
    assert losses == sorted(losses)
    assert losses[0] == 0.0


def test_hardened_wood_bears_more_at_its_cuts_than_growing_wood_but_not_what_it_bears_whole() -> None:
    """
    Recently pruned dormant fruit trees are damaged when it falls to 0 °F, -18 °C (Penn State Extension).

    Dormant apple wood bears that.
    """
    apple = on(WINTER, [], YEARS, tree("maple", "Malus"))
    limits = limits_of(replace(apple, wounds=Wounds(1.0, 0.5, 0.0)), WINTER)
    assert float(limits.wound_frost_50[0]) > -18.0 > float(limits.bud_frost_10[0])
    assert float(limits.wound_frost_10[0]) < NUMBERS.wound_frost_c[0]


def test_no_cut_is_hardier_than_its_wood() -> None:
    """Figs and flushing trees too."""
    for species in ("Ficus", "Acer palmatum", "Olea europaea", "Pinus"):
        for day in (WINTER, "2026-05-05", SUMMER, "2026-10-20"):
            base = on(day, [], YEARS, tree("maple", species))
            whole, cut = (limits_of(replace(base, wounds=Wounds(fresh, 0.5, 0.0)), day) for fresh in (1e-9, 1.0))
            assert float(cut.wound_frost_10[0]) >= float(whole.wound_frost_10[0]) - 1e-6, (species, day)


def test_the_cut_is_named_where_it_loses_most() -> None:
    """In January a maple's buds bear what a fresh cut does not."""
    verdict = _cut_loss(Wounds(1.0, 0.8, 0.0), -11.0, WINTER)
    assert verdict.organ("frost", 0) == CUTS
    assert float(verdict.limit["frost"][0]) > -11.0
    assert verdict.beyond["frost"].any()
    whole = judged(uneventful(tissue_c=-11.0), limits_of(on(WINTER, [], YEARS), WINTER))
    assert whole.organ("frost", 0) == "buds"
    assert not whole.beyond["frost"].any()


def test_more_cut_away_is_never_safer_in_frost() -> None:
    """At any temperature, with the wounds that the log makes."""
    for tissue_c in (-3.0, -6.0, -10.0, -14.0, -20.0):
        losses = []
        for removed in (0.1, 0.3, 0.5, 0.7, 0.9):
            log = [Entry("maple", "hard-prune", noon("2026-01-18"), removed=removed)]
            felt = uneventful(tissue_c=tissue_c)
            losses.append(float(judged(felt, limits_of(on(WINTER, log, YEARS), WINTER)).total()[0, 0]))
        assert losses == sorted(losses), tissue_c


# --- all together ---------------------------------------------------------------------------------------------------


def test_an_untroubled_tree_is_not_judged_at_all_by_what_cannot_harm_it() -> None:
    """Hazards that can act on no column leave views that take no memory."""
    verdict = judged(uneventful(), limits_of(on(SUMMER, [], YEARS), SUMMER))
    for name in ("chill", "heave", "bark-scald"):
        assert verdict.dose[name].strides == (0, 0, 0), name
        assert not verdict.beyond[name].any(), name
        assert verdict.dose[name].shape == verdict.dose["frost"].shape, name


def test_every_kind_is_entered_once_and_whole() -> None:
    """All tables of a judgement speak of all hazards."""
    verdict = judged(uneventful(), limits_of(on(SUMMER, [], YEARS), SUMMER))
    for table in (verdict.dose, verdict.shown, verdict.limit, verdict.beyond, verdict.damage, verdict.loss):
        assert set(table) == set(HAZARDS) == set(KINDS)
    assert len(bare_column()) == 1


def test_what_stands_beside_a_tree_changes_nothing_of_what_it_loses() -> None:
    """Hazards that act on some columns only: each column alone is what it is among others."""
    states = (
        on(WINTER, [], YEARS),
        on(WINTER, [], YEARS, tree("maple", "Ficus microcarpa")),
        on(WINTER, [severed("2025-09-15")], YEARS),
        on(WINTER, [Entry("maple", "hard-prune", noon("2026-01-17"), removed=0.8)], YEARS),
    )
    ice = _ice(2)
    felt = uneventful(48, tissue_c=_nights(-7.0, 5.0, 2), bark_c=_nights(-13.0, 15.0, 2), top_ice=ice, shells_c=-2.0)
    alone = [judged(felt, limits_of(state, WINTER)) for state in states]
    beside = tolerances(states, np.full(len(states), 4.0), NUMBERS, noon(WINTER).date(), 52.4)
    many = {
        name: np.repeat(values, len(states), axis=-1)
        for name, values in vars(felt).items()
        if isinstance(values, np.ndarray) and values.ndim == 3
    }
    own = vars(felt.roots).items()
    roots = SimpleNamespace(**{name: np.repeat(value, len(states), axis=-1) for name, value in own})
    thaw_age_h = np.repeat(felt.thaw_age_h, len(states), axis=-1)
    many |= {"thaw_age_h": thaw_age_h}
    days = {"times": felt.times, "day": felt.day}
    together = cast("Exposure", SimpleNamespace(**days, roots=roots, sheltered=felt.sheltered, **many))
    columns = bare_column(48).select(np.zeros(len(states), dtype=np.int64))
    verdict = judge(together, beside, columns, NUMBERS)
    acted = set()
    for column, single in enumerate(alone):
        for name in HAZARDS:
            assert verdict.loss[name][0, column] == pytest.approx(float(single.loss[name][0, 0])), name
            assert np.array_equal(verdict.beyond[name][..., column], single.beyond[name][..., 0]), name
            acted |= {name} if single.loss[name][0, 0] > 0.0 else set()
        assert verdict.total()[0, column] == pytest.approx(float(single.total()[0, 0]))
        assert verdict.organ("frost", column) == single.organ("frost", 0)
    assert {"frost", "chill", "heave", "bark-scald"} <= acted


def test_no_first_frost_on_colour_is_more_than_minor_for_a_tree_in_peace() -> None:
    """With every hazard judged together."""
    condition = on("2026-10-28", [Entry("maple", "observe", noon("2026-10-28"), seen="colouring")], YEARS)
    for tissue_c in (-1.0, -3.0, -5.0):
        total = float(judged(uneventful(tissue_c=tissue_c), limits_of(condition, "2026-10-28")).total()[0, 0])
        assert severity_of(total) in ("", "Minor"), tissue_c


def test_an_intact_tree_shrugs_off_a_root_loss_that_ends_a_sparse_layer() -> None:
    """The same two fifths of roots torn by ice."""
    layer = on(WINTER, [severed("2025-09-15")], YEARS)
    intact = replace(layer, root_supply=1.0, layer=False)
    torn = 0.1 / (NUMBERS.heave_torn * NUMBERS.heave_hold / layer.anchorage) * 4
    nights = max(1, round(torn))
    weak, strong = (float(_heave(condition, nights).loss["heave"][0, 0]) for condition in (layer, intact))
    assert float(_heave(layer, nights).damage["heave"][0, 0]) == pytest.approx(0.4, abs=0.08)
    assert strong < 0.10
    assert weak > 0.25
