"""
Season gates: outside its time no day is right for a work, and the month in which it is right is named.

What is right when is common practice among growers of container trees, unless said otherwise beside a test.
"""

from datetime import date

import pytest

from carewatch.care.work_rules import kind_of
from carewatch.forecast.history import DailyHistory
from carewatch.whatif.gates import MONTHS
from tests.condition.grown import NORTH, TABLES, year_like
from tests.whatif.years import YEARS, barred, gates, seen


def opening(
    work: str,
    today: str,
    species: str = "Acer palmatum",
    latitude: float = NORTH,
    years: DailyHistory = YEARS,
) -> date:
    """First day from today on that is right for a work."""
    found = gates(work, today, species=species, latitude=latitude, years=years).opens(date.fromisoformat(today))
    assert found is not None
    return found


def test_root_pruning_a_maple_on_a_mild_20_october_is_refused_by_season() -> None:
    """The weather is not asked: it is the wrong time, and the right one is in spring, named by its month."""
    why = barred("root-prune", "2026-10-20")

    assert "while buds swell" in why
    assert "20 October 2026" in why
    assert "March 2027" in why or "April 2027" in why


def test_roots_of_a_maple_are_cut_in_the_weeks_before_its_leaves_and_not_in_summer() -> None:
    opens = opening("root-prune", "2026-01-10")

    assert date(2026, 3, 10) < opens < date(2026, 4, 20)
    assert barred("root-prune", opens.isoformat()) == ""
    assert "soft new leaf" in barred("root-prune", "2026-05-05")
    assert "mature leaf" in barred("root-prune", "2026-07-10")
    assert "at rest" in barred("root-prune", "2026-01-10")


def test_the_window_closes_when_the_first_leaves_have_unfolded() -> None:
    """From three weeks before leaf-out to a week after it: four weeks in all."""
    whole = gates("root-prune", "2026-01-10")
    first = whole.almanac.index(opening("root-prune", "2026-01-10"))
    following = whole.allowed[first : first + 60]

    assert int(following.sum()) == 28
    assert following[:28].all()


def test_buds_that_are_seen_swelling_open_the_gate_before_the_model_does() -> None:
    """What the grower sees goes before every model."""
    modelled = opening("root-prune", "2026-02-25")
    observed = gates("root-prune", "2026-03-05", [seen("bud-swell", "2026-03-05")]).opens(date(2026, 3, 5))

    assert observed is not None
    assert observed < modelled


def test_larch_is_cut_earlier_than_maple() -> None:
    assert opening("root-prune", "2026-01-10", species="Larix") < opening("root-prune", "2026-01-10")


def test_pines_have_a_second_window_in_late_summer_and_none_in_midsummer() -> None:
    assert barred("root-prune", "2026-08-20", species="Pinus") == ""
    assert "August" in barred("root-prune", "2026-07-10", species="Pinus")


def test_no_roots_are_cut_within_eight_weeks_of_the_first_frost() -> None:
    """Where frost comes early the late window of pines does not open: six degrees cooler than Potsdam."""
    cold = year_like("2025-01-01", "2028-03-01", mean_c=4.0)
    found = gates("root-prune", "2026-08-20", species="Pinus", years=cold).on(date(2026, 8, 20))

    assert [barrier.kind for barrier in found] == ["season"]
    assert "frost is usual" in found[0].why


def test_junipers_are_cut_in_april_and_may_and_not_in_july() -> None:
    assert barred("root-prune", "2026-04-20", species="Juniperus") == ""
    assert "September" in barred("root-prune", "2026-07-20", species="Juniperus")


@pytest.mark.parametrize("species", ["Ficus microcarpa", "Olea europaea", "Punica granatum"])
def test_trees_of_warm_countries_wait_for_warm_nights(species: str) -> None:
    """May to July with nights above 12 °C: in Potsdam's climate that is not before June."""
    why = barred("root-prune", "2026-05-03", species=species)

    assert "nights" in why
    assert "June" in why
    assert barred("root-prune", "2026-07-15", species=species) == ""
    assert "2027" in barred("root-prune", "2026-10-15", species=species)


def test_leaves_are_stripped_when_they_are_hard_and_while_a_second_set_can_ripen() -> None:
    """Late May to the end of June at 52° N."""
    assert barred("defoliate", "2026-06-25") == ""
    assert "early July" in barred("defoliate", "2026-08-10")
    assert "soft new leaf" in barred("defoliate", "2026-05-10")


@pytest.mark.parametrize("species", ["Pinus", "Juniperus", "Fagus sylvatica", "Buxus"])
def test_what_has_no_second_set_of_leaves_is_never_stripped(species: str) -> None:
    found = gates("defoliate", "2026-06-20", species=species)

    assert "never right" in found.on(date(2026, 6, 20))[0].why
    assert found.opens(date(2026, 6, 20)) is None


def test_a_maple_is_not_cut_hard_in_sap_rise_and_a_tree_that_does_not_bleed_is() -> None:
    before_leaves = opening("root-prune", "2026-01-10").isoformat()

    assert "bleeds" in barred("hard-prune", before_leaves)
    assert barred("hard-prune", before_leaves, species="Ulmus") == ""
    assert barred("hard-prune", "2026-08-01") == ""
    assert "frost" in barred("hard-prune", "2026-10-01")


def test_a_layer_is_severed_with_six_weeks_of_warm_roots_to_come() -> None:
    assert barred("sever-layer", "2026-07-20") == ""
    assert "10 °C" in barred("sever-layer", "2026-09-20")


def test_a_late_layer_may_be_severed_where_there_is_a_place_for_the_winter_and_it_is_said() -> None:
    """Otherwise it is kept on its mother."""
    late = gates("sever-layer", "2026-09-20", kinds=("bench", "shed"))
    index = late.almanac.index(date(2026, 9, 20))

    assert late.on(date(2026, 9, 20)) == ()
    assert "frost-free place" in late.remark(index)
    assert "shed" in late.remark(index)
    assert gates("sever-layer", "2026-07-20", kinds=("bench", "shed")).remark(index - 62) == ""


def test_layers_are_set_early_enough_to_root_before_the_cold() -> None:
    assert barred("set-layer", "2026-06-20") == ""
    assert "2027" in barred("set-layer", "2026-09-01")


def test_trees_are_lifted_before_their_buds_break() -> None:
    assert opening("lift", "2026-01-10") < opening("root-prune", "2026-01-10")
    assert "2027" in barred("lift", "2026-06-20")


def test_feeding_ends_in_early_september_and_begins_with_growth() -> None:
    """Late nitrogen delays hardening."""
    assert barred("feed", "2026-06-20") == ""
    assert "late nitrogen" in barred("feed", "2026-10-10")


@pytest.mark.parametrize("work", ["wire", "unwire", "seal", "tie-down", "sacrifice"])
def test_small_works_are_free_all_year(work: str) -> None:
    assert gates(work, "2026-01-10").allowed.all()


def test_the_southern_hemisphere_has_its_own_months() -> None:
    """In Tasmania buds swell in August and September, and junipers' April is October."""
    south = year_like("2025-01-01", "2028-03-01", latitude=-42.9)
    opens = opening("root-prune", "2026-04-20", latitude=-42.9, years=south)
    found = gates("root-prune", "2026-04-20", species="Juniperus", latitude=-42.9, years=south)

    assert date(2026, 8, 1) < opens < date(2026, 10, 31)
    assert found.on(date(2026, 10, 20)) == ()
    assert "half a year later here" in found.on(date(2026, 4, 20))[0].why


def test_within_the_tropics_no_date_of_the_year_bars_a_work() -> None:
    """Brasília lies at 16° south: warmth and the tree's own stage decide."""
    hot = year_like("2025-01-01", "2028-03-01", latitude=-15.8, mean_c=22.0, half_range_c=2.0)

    assert gates("root-prune", "2026-01-20", species="Ficus", latitude=-15.8, years=hot).on(date(2026, 1, 20)) == ()


def test_every_kind_of_tree_in_the_tables_has_a_season_for_every_work_that_has_one() -> None:
    """No work is free for one kind of tree only because a row was forgotten."""
    rules = TABLES.work_rules
    species = [TABLES.species_for(name) for name in TABLES.known_species()]
    seasonal = {work for rule in rules.seasons for work in rule.works}

    gaps = [
        (row.name, kind_of(row), work) for row in species for work in seasonal if rules.season_of(work, row) is None
    ]

    assert gaps == []


def test_months_are_named_in_full() -> None:
    assert (len(MONTHS), MONTHS[2]) == (12, "March")
