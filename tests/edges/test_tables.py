"""The tables of numbers: every number has a source, rows are complete and agree with each other and with print."""

import pickle
import re
import tomllib
from collections.abc import Iterator
from importlib.resources import files
from typing import Any

import pytest

from carewatch.care.log import WORKS
from carewatch.config.tables import Tables, load_tables

TABLE_FILES = sorted(entry.name for entry in (files("carewatch") / "tables").iterdir() if entry.name.endswith(".toml"))
# Words of a source that is no citation; a citation carries a year.
JUDGED = ("estimate", "common practice", "definition", "from memory")
HAZARDS_TO_RELIEVE = {
    *("frost", "chill", "root-freeze", "heave", "heat", "root-heat", "drying", "sun", "bark-scald", "wind", "soak"),
    *("load", "forcing", "dark", "damp"),
}
ORGANS = {
    "leaf.flush",
    "leaf.flush.weak",
    "leaf.mature",
    "leaf.mature.late",
    "leaf.colouring",
    "leaf.layer.flush",
    "leaf.layer.mature",
    "leaf.layer.late",
    "leaf.layer.colouring",
    "leaf.evergreen.winter",
    "leaf.evergreen.summer",
    "buds",
    "wound",
    "trunk",
}


@pytest.fixture(scope="module")
def tables() -> Tables:
    """Every table that ships with the package."""
    return load_tables()


def _read(file_name: str) -> dict[str, Any]:
    return tomllib.loads((files("carewatch") / "tables" / file_name).read_text(encoding="utf-8"))


def _numbers(value: Any, path: str, source: str | None) -> Iterator[tuple[str, str | None]]:
    """Path of every number under a value, with the source of the nearest table around it."""
    if isinstance(value, dict):
        nearest = value.get("source", source)
        for key, inner in value.items():
            yield from _numbers(inner, f"{path}.{key}", nearest)
    elif isinstance(value, list):
        for inner in value:
            yield from _numbers(inner, path, source)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield path, source


@pytest.mark.parametrize("file_name", TABLE_FILES)
def test_every_number_has_a_source(file_name: str) -> None:
    """A source is a citation with its year, or says plainly that it is practice, memory, definition or estimate."""
    found = list(_numbers(_read(file_name), file_name, None))
    assert found
    for path, source in found:
        assert isinstance(source, str), f"{path} has no source"
        judged = any(word in source for word in JUDGED)
        dated = re.search(r"\b(18|19|20)\d\d\b", source)
        assert judged or dated, f"{path}: source is neither a dated citation nor marked as judged"


def test_an_estimate_gives_its_reasoning() -> None:
    """No table calls a number an estimate and stops there."""
    for file_name in TABLE_FILES:
        for path, source in _numbers(_read(file_name), file_name, None):
            assert source is not None
            assert len(source) > len("estimate: ") + 8, path


def test_the_walk_over_numbers_finds_a_number_without_a_source() -> None:
    """The check above refuses what it is there to refuse, in arrays and in tables below a sourced sibling."""
    orphaned = {"a": {"source": "estimate", "x": 1}, "b": {"y": [[1, 0.5]], "c": {"z": 2.0}}}
    assert [path for path, source in _numbers(orphaned, "t", None) if source is None] == ["t.b.y", "t.b.y", "t.b.c.z"]


def test_root_heat_agrees_with_both_printed_durations(tables: Tables) -> None:
    """Ilex crenata 'Helleri' (Ruter & Ingram): 51.0 ± 0.8 °C in 30, 43.9 ± 0.8 °C in 300 minutes."""
    hazards = tables.hazards
    assert hazards.root_heat_ref_h == pytest.approx(0.5)
    assert hazards.root_heat_50_c == pytest.approx(51.0, abs=0.8)
    assert hazards.root_heat_50_c - hazards.root_heat_slope_k == pytest.approx(43.9, abs=0.8)
    assert hazards.root_heat_10_shift_k < 0
    assert hazards.root_heat_young_shift_k < 0


def test_a_firm_tree_stands_until_twigs_break(tables: Tables) -> None:
    """Beaufort 8, in which twigs break, begins at 17.2 m/s."""
    assert tables.hazards.gust_intact_ms >= 17.2
    assert tables.hazards.tear_gust_ms[0] < tables.hazards.tear_gust_ms[1]
    assert tables.hazards.topple_ratio[0] < 1.0 < tables.hazards.topple_ratio[1]


def test_organ_weights_are_complete_and_ordered(tables: Tables) -> None:
    """The later in the year, the less a leaf is worth; to a fresh layer it is worth more than to an intact tree."""
    weight = tables.hazards.organ_weight
    assert set(weight) == ORGANS
    assert all(0.0 < value <= 1.0 for value in weight.values())
    assert weight["trunk"] == 1.0
    assert weight["leaf.flush.weak"] > weight["leaf.flush"] > weight["leaf.mature"] > weight["leaf.mature.late"]
    assert weight["leaf.mature.late"] > weight["leaf.colouring"]
    for of_layer, intact in (("flush", "flush"), ("mature", "mature"), ("late", "mature.late")):
        assert weight[f"leaf.layer.{of_layer}"] > weight[f"leaf.{intact}"]
    assert weight["leaf.layer.colouring"] > weight["leaf.colouring"]


def test_uptake_falls_with_cold_and_stops_at_freezing(tables: Tables) -> None:
    """Li & Hoch: uptake of 16 species is strongly cut at 7 °C and severely at 2 °C."""
    points = tables.hazards.uptake_c
    temperatures = [temperature for temperature, _ in points]
    share = dict(points)
    assert temperatures == sorted(temperatures)
    assert share[0.0] == 0.0
    assert max(share.values()) == 1.0
    assert share[2.0] <= 0.2 < share[7.0] <= 0.6


def test_carrying_an_untied_layer_harms_more_than_a_tied_one(tables: Tables) -> None:
    """Common practice: tie first, then carry."""
    assert 0 < tables.hazards.carry_harm_tied < tables.hazards.carry_harm_untied < 1


def test_every_work_of_the_log_has_a_row(tables: Tables) -> None:
    """A work that is logged must open something, if only nothing."""
    expected = {
        f"sever-layer.{roots}.{way}" for roots in ("sparse", "fair", "dense") for way in ("undisturbed", "worked")
    }
    expected |= {"root-prune.third", "root-prune.half", "root-prune.most", "repot.slipped", "repot.combed"}
    expected |= {"defoliate.full", "defoliate.partial", "lift.broadleaf", "lift.conifer"}
    expected |= {work for work in WORKS if not any(row.startswith(f"{work}.") for row in expected)}
    assert set(tables.works) == expected


def test_shares_and_times_of_works_are_possible(tables: Tables) -> None:
    """Shares lie within 0 and 1, times are positive, caps rise, ties bear more wind than none."""
    for work in tables.works.values():
        shares = (work.root_supply, work.anchorage, work.young_roots, work.young_roots_peak, work.leaf_area)
        assert all(0.0 <= share <= 1.0 for share in shares), work.name
        assert work.young_roots_peak >= work.young_roots, work.name
        assert min(work.supply_theta, work.anchor_theta, work.supply_shape) > 0, work.name
        assert work.leaf_regrow_start < work.leaf_regrow_full, work.name
        assert list(work.anchor_caps) == sorted(work.anchor_caps), work.name
        assert work.leaf_heat_shift_k <= 0 <= work.frost_shift_k, work.name
        assert (work.gust_untied_ms is None) == (work.gust_tied_ms is None), work.name
        if work.gust_untied_ms is not None and work.gust_tied_ms is not None:
            assert work.gust_untied_ms <= work.gust_tied_ms, work.name
        if work.sun_first_kwh is not None and work.sun_later_kwh is not None:
            assert work.sun_first_kwh <= work.sun_later_kwh, work.name


def test_layers_are_held_still_by_the_calendar_and_only_they_are_severed(tables: Tables) -> None:
    """Common practice: a severed layer stands still for twelve months, however warm they are."""
    for name, work in tables.works.items():
        assert work.severed == name.startswith("sever-layer.")
        assert [day for day, _ in work.anchor_caps] == ([120, 210, 300] if work.severed else [])


@pytest.mark.parametrize("way", ["undisturbed", "worked"])
def test_a_layer_with_more_roots_is_stronger_in_every_way(tables: Tables, way: str) -> None:
    """Roots feed and hold; what bears more is also quicker to recover."""
    sparse, fair, dense = (tables.works[f"sever-layer.{roots}.{way}"] for roots in ("sparse", "fair", "dense"))
    for weaker, stronger in ((sparse, fair), (fair, dense)):
        assert weaker.root_supply < stronger.root_supply
        assert weaker.anchorage < stronger.anchorage
        assert weaker.supply_theta > stronger.supply_theta
        assert (weaker.sun_first_kwh or 0) < (stronger.sun_first_kwh or 0)
        assert (weaker.gust_untied_ms or 0) <= (stronger.gust_untied_ms or 0)


@pytest.mark.parametrize("roots", ["sparse", "fair", "dense"])
def test_working_the_roots_of_a_fresh_layer_always_costs(tables: Tables, roots: str) -> None:
    """Common practice: roots of a new layer are left alone."""
    still, worked = tables.works[f"sever-layer.{roots}.undisturbed"], tables.works[f"sever-layer.{roots}.worked"]
    assert worked.root_supply < still.root_supply
    assert worked.anchorage < still.anchorage
    assert worked.supply_theta > still.supply_theta


def test_works_that_touch_nothing_open_nothing(tables: Tables) -> None:
    """Paste, ties and a sleeve leave roots, hold and leaves as they are."""
    for name in ("seal", "tie-down", "untie", "set-layer", "unwire"):
        work = tables.works[name]
        assert (work.root_supply, work.anchorage, work.leaf_area, work.young_roots) == (1.0, 1.0, 1.0, 0.0)
        assert work.sun_first_kwh is None


def test_measures_are_all_there_and_relieve_hazards_that_exist(tables: Tables) -> None:
    """Every measure acts on something, costs minutes, and acts at hours that exist."""
    assert set(tables.measures) == {
        *("fleece", "fleece-heavy", "fleece-double", "set-down", "plunge", "mulch", "insulate-pot", "humid-tent"),
        *(
            "shade-cloth",
            "shade-pot",
            "wrap-trunk",
            "windbreak",
            "lay-down",
            "tie-down",
            "water",
            "hold-water",
            "rain-cover",
        ),
        *("ventilate", "shake-off", "move"),
    }
    for measure in tables.measures.values():
        assert measure.hazards, measure.name
        assert set(measure.hazards) <= HAZARDS_TO_RELIEVE, measure.name
        assert measure.hours in ("night", "day", "spell"), measure.name
        assert measure.minutes_round + measure.minutes_pot > 0, measure.name
        assert measure.stock in ("", "fleece", "net", "tent", "mulch"), measure.name
        factors = (measure.light, measure.wind, measure.rain, measure.vpd, measure.wall_sun, measure.wall_exchange)
        assert all(0.0 <= factor <= 1.0 for factor in (*factors, measure.top_exchange, measure.topple)), measure.name
        assert 0.0 <= measure.sky_cover <= 1.0, measure.name
        assert 0.0 <= measure.anchorage_floor <= 1.0, measure.name
        assert 0.0 <= measure.bark_sun <= 1.0, measure.name
        assert measure.harm, measure.name


def test_heavier_fleece_is_warmer_and_darker(tables: Tables) -> None:
    """Extension texts on row covers: heavy covers hold lower temperatures and pass less light."""
    light, heavy, double = (tables.measures[name] for name in ("fleece", "fleece-heavy", "fleece-double"))
    for thinner, thicker in ((light, heavy), (heavy, double)):
        assert thinner.air_lift_c < thicker.air_lift_c
        assert thinner.sky_cover < thicker.sky_cover
        assert thinner.light > thicker.light


def test_what_can_hurt_a_person_carries_a_caution(tables: Tables) -> None:
    """Lifting pots, and anything with a sail in the wind, comes with a word of care."""
    for measure in tables.measures.values():
        lifted = measure.carries > 0
        sail = measure.stock in ("fleece", "net")
        assert bool(measure.caution) or not (lifted or sail), measure.name
    assert "two people" in tables.measures["move"].caution
    assert "gale" in tables.measures["fleece"].caution


def test_substrates_keep_air_down_to_a_shallow_tray(tables: Tables) -> None:
    """A drained pot 5 cm deep still breathes: media keep 10 % air and more (normal ranges, Yeager et al.)."""
    assert next(iter(tables.substrates)) == "loam-mix"
    for substrate in tables.substrates.values():
        shallow = substrate.water_at_capacity + substrate.depth_slope * (substrate.reference_depth_cm - 5.0)
        assert substrate.porosity - shallow > 0.10, substrate.name
        assert substrate.depth_slope > 0, substrate.name
        assert 0 < substrate.available < 1, substrate.name
        assert substrate.conductivity_dry < substrate.conductivity_wet <= 2.2, substrate.name
        # Grains weigh between peat and rock. [kg m⁻³]
        assert 700 < substrate.density_dry / (1 - substrate.porosity) < 2700, substrate.name


def test_bark_loses_water_with_height_as_measured(tables: Tables) -> None:
    """Owen & Altland 2008: from 3.8 to 15.2 cm of core height bark holds 20 to 42 % less water."""
    bark = tables.substrates["bark-compost"]
    low = bark.water_at_capacity + bark.depth_slope * (bark.reference_depth_cm - 3.8)
    high = bark.water_at_capacity + bark.depth_slope * (bark.reference_depth_cm - 15.2)
    assert 0.20 <= 1 - high / low <= 0.42


def test_kinds_of_place_are_templates_without_an_id(tables: Tables) -> None:
    """The garden file gives the id; only enclosed places have glazing, damping and heat of their own."""
    assert set(tables.place_kinds) == {
        *("ground", "bench", "wall", "under-tree", "shade", "cold-frame", "shed", "tunnel", "indoors")
    }
    for kind, place in tables.place_kinds.items():
        assert (place.id, place.kind, place.room) == ("", kind, None)
        assert place.enclosed == (place.damping_h > 0)
        assert place.enclosed or place.glazing == 1.0
        assert place.floor in ("grass", "soil", "paved")
    assert tables.place_kinds["indoors"].heated_to_c is not None
    assert tables.place_kinds["shed"].heated_to_c is None


def test_shade_of_a_single_tree_agrees_with_print(tables: Tables) -> None:
    """Konarska et al. 2014 (from memory): leafless crowns pass 40-52 % of direct sun, crowns in leaf a few per cent."""
    tree = tables.place_kinds["under-tree"]
    assert 0.40 <= tree.canopy_leafless <= 0.52
    assert tree.canopy_in_leaf <= 0.15


def test_pots_are_known_by_material_and_colour(tables: Tables) -> None:
    """White takes in the least sun, black the most; every colour's number is an absorptance."""
    assert {"plastic", "terracotta", "stoneware", "wood", "fabric", "concrete"} <= set(tables.pot_materials)
    assert "source" not in tables.pot_colours
    assert min(tables.pot_colours, key=tables.pot_colours.__getitem__) == "white"
    assert max(tables.pot_colours, key=tables.pot_colours.__getitem__) == "black"
    assert all(0 < absorptance < 1 for absorptance in tables.pot_colours.values())
    assert tables.pot_materials["plastic"].wall_conductivity < tables.pot_materials["stoneware"].wall_conductivity


def test_forecast_errors_grow_with_the_lead(tables: Tables) -> None:
    """Every sequence belongs to the leads; spread of 2 m temperature is 1.5-2 K at one day, 4-4.5 K at seven."""
    errors = tables.forecast_errors
    for spread in (errors.air_sd_k, errors.wind_log_sd, errors.cloud_logit_sd):
        assert len(spread) == len(errors.lead_days)
        assert list(spread) == sorted(spread)
    by_lead = dict(zip(errors.lead_days, errors.air_sd_k, strict=True))
    assert 1.5 <= by_lead[1.0] <= 2.0
    assert 4.0 <= by_lead[7.0] <= 4.5
    assert len(errors.air_bias_k) == len(errors.lead_days)
    assert (errors.members, errors.memory_h) == (21, 24.0)


def test_tables_are_read_once_and_can_be_sent_to_another_process(tables: Tables) -> None:
    """The worker process gets them as plain values."""
    assert load_tables() is tables
    assert pickle.loads(pickle.dumps(tables)) == tables  # noqa: S301 - our own value, pickled on this line


def test_what_leaves_say_is_in_the_order_that_growers_know(tables: Tables) -> None:
    """Firm, hanging by day, hanging at dawn; asked about from the third day and after the first 26 °C."""
    leaves = tables.condition.leaves
    assert 0.0 < leaves.still_hanging_factor < leaves.hanging_factor < 1.0 < leaves.firm_factor
    assert 0 < leaves.third_day < leaves.asked_until_day
    assert (leaves.third_day, leaves.hot_c) == (3, 26.0)
    assert 0.0 < leaves.least_leaf < leaves.roots_suffice < 1.0


def test_numbers_of_the_condition_are_possible_and_follow_practice(tables: Tables) -> None:
    """Shade until supply is back, a layer fresh for a year, cuts fresh for weeks, cold that hardens falls."""
    condition, wounds, recovery, hardening = (
        tables.condition,
        tables.condition.wounds,
        tables.condition.recovery,
        tables.condition.hardening,
    )
    assert condition.works is tables.works
    assert condition.gust_intact_ms == tables.hazards.gust_intact_ms
    assert 0 < wounds.freshest_days < wounds.fresh_days
    assert wounds.sets_from_c < wounds.sets_soon_c
    assert 0 < wounds.sets_soon_days < wounds.sets_days
    assert 0.0 < wounds.least_cut < 1.0
    assert 0.0 < recovery.tied_anchorage < recovery.healed < 1.0
    assert recovery.supply_restored < condition.leaves.roots_suffice
    assert recovery.layer_still_days == 365
    assert (
        0.0 < condition.leaf_area.bare_below < condition.leaf_area.flush_area < condition.leaf_area.colouring_area < 1
    )
    for none_c, full_c in (hardening.shoot_cold_c, hardening.root_cold_c):
        assert none_c > full_c
    for harden_days, soften_days in (hardening.shoot_days, hardening.root_days):
        assert harden_days > soften_days, "warm spells undo faster than cold builds"
    assert set(hardening.roots_harden_by) <= set(WORKS)
    assert all(0.0 < share < 1.0 for share in hardening.roots_harden_by.values())
