"""
Whatever the weather, some things are never the other way round: what every grower knows, asked of the real command.

Each check turns one thing and compares two plants of one garden under the same sky.
"""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.outlook.gardens import (
    BENCH,
    LAWN,
    PLACE,
    SHADE,
    Garden,
    planted,
    ran,
    seen,
    severed,
    standing,
    tree,
    work,
)
from tests.outlook.invented_weather import Day, answer

MAY_NOON = datetime(2026, 5, 8, 11, tzinfo=UTC)
MAY = Day(low_c=6, high_c=16, dew_c=5, cloud=60, wind_ms=2.5)
CLEAR_NIGHT = Day(low_c=-1, high_c=11, dew_c=-3, cloud=0, wind_ms=0.8)
FLUSH = seen("leaf-out", "2026-05-01")
DORMANT = seen("dormant", "2025-12-01")


def may_nights(folder: Path, night: Day, places: str, *trees: str) -> Garden:
    """Trees in new leaf before one cold night."""
    return planted(folder, answer(MAY_NOON, MAY, [replace(night, low_c=5), night]), MAY_NOON, places, *trees)


def coldest_leaf_c(garden: Garden, name: str) -> float:
    return min(garden.series(name, "tissue_temp_c"))


@pytest.mark.parametrize("wind_ms", [0.3, 2.0])
def test_on_a_radiation_night_a_leafy_crown_is_never_warmer_for_being_set_down(tmp_path: Path, wind_ms: float) -> None:
    """Cold air lies on the ground: at 5 to 20 cm it is 1 to 3 K below that at bench height (common practice)."""
    garden = may_nights(
        tmp_path,
        replace(CLEAR_NIGHT, wind_ms=wind_ms),
        BENCH,
        tree("up", "bench", FLUSH),
        tree("down", "bench", FLUSH, **standing("set-down")),
    )

    gained_k = coldest_leaf_c(garden, "down") - coldest_leaf_c(garden, "up")
    assert -3.0 <= gained_k <= 0.0


def test_fleece_gives_one_to_three_degrees_on_a_radiation_night_and_about_half_of_it_in_wind(tmp_path: Path) -> None:
    """17-20 g fleece 1.5 K, 30-50 g 2.5 K; light covers 1-3 K (extension texts on row covers); half in wind."""
    lifts = {}
    for wind_ms in (0.8, 8.0):
        garden = may_nights(
            tmp_path / str(wind_ms),
            replace(CLEAR_NIGHT, wind_ms=wind_ms),
            LAWN,
            tree("bare", "lawn", FLUSH),
            tree("light", "lawn", FLUSH, **standing("fleece")),
            tree("heavy", "lawn", FLUSH, **standing("fleece-heavy")),
        )
        bare_c, light_c, heavy_c = (coldest_leaf_c(garden, name) for name in ("bare", "light", "heavy"))
        lifts[wind_ms] = (light_c - bare_c, heavy_c - bare_c)

    (light_k, heavy_k), (light_in_wind_k, heavy_in_wind_k) = lifts[0.8], lifts[8.0]
    assert 1.0 <= light_k < heavy_k <= 3.0
    assert 0.35 <= light_in_wind_k / light_k <= 0.65
    assert 0.35 <= heavy_in_wind_k / heavy_k <= 0.65


def test_the_more_of_the_sky_a_leaf_sees_the_colder_it_gets_on_a_clear_night(tmp_path: Path) -> None:
    """Under evergreens or beside a hedge, sky view 0.2 to 0.3, leaves are about 2 K warmer (common practice)."""
    garden = may_nights(
        tmp_path, CLEAR_NIGHT, LAWN + SHADE, tree("open", "lawn", FLUSH), tree("hidden", "shade", FLUSH)
    )

    assert 1.0 <= coldest_leaf_c(garden, "hidden") - coldest_leaf_c(garden, "open") <= 3.5


JANUARY_NOON = datetime(2026, 1, 12, 11, tzinfo=UTC)
JANUARY = Day(low_c=1, high_c=5, dew_c=0, cloud=80, wind_ms=2.5)
COLD_DAY = Day(low_c=-8, high_c=-1, dew_c=-9, cloud=100, wind_ms=2)


@pytest.fixture(scope="module")
def cold_days(tmp_path_factory: pytest.TempPathFactory) -> Garden:
    """Three litres on a bench, set down and plunged, through three dull days between -8 and -1 °C."""
    return planted(
        tmp_path_factory.mktemp("cold"),
        answer(JANUARY_NOON, JANUARY, [replace(COLD_DAY, low_c=0, high_c=3), COLD_DAY, COLD_DAY, COLD_DAY]),
        JANUARY_NOON,
        BENCH,
        tree("bench", "bench", DORMANT, pot="volume_l = 3"),
        tree("down", "bench", DORMANT, pot="volume_l = 3", **standing("set-down")),
        tree("plunged", "bench", DORMANT, pot="volume_l = 3", **standing("plunge")),
    )


def test_plunging_keeps_roots_warmer_than_setting_down_and_that_warmer_than_the_bench(cold_days: Garden) -> None:
    """Of these three only the plunged pot is held near zero for a week of such nights (common practice)."""
    bench_c, down_c, plunged_c = (
        min(cold_days.series(name, "root_zone_temp_c")) for name in ("bench", "down", "plunged")
    )

    assert bench_c < down_c < plunged_c
    assert plunged_c >= -1.5
    assert bench_c <= -4.0


def test_a_frozen_ball_supplies_nothing(cold_days: Garden) -> None:
    """Ice does not move: uptake is nothing at and below zero, whatever the roots (Li & Hoch, Plant Cell Environ.)."""
    assert max(cold_days.series("bench", "root_zone_temp_c")[-24:]) < 0.0
    assert cold_days.step("bench", "plant", "root ball, outermost shell") < 0.0
    assert cold_days.step("bench", "plant", "uptake at this root temperature") == 0.0
    assert cold_days.step("bench", "plant", "water that the roots can bring") == 0.0


def test_a_dormant_tree_has_no_leaves_to_burn_scorch_or_dry(cold_days: Garden) -> None:
    """What is not there has no limit, and nothing is found against it."""
    limits = cold_days.explain("bench")["limits"]

    assert [limits[name]["tenth"] for name in ("sun", "heat", "drying")] == [None, None, None]
    assert cold_days.hazards("bench") <= {"frost", "root-freeze", "wind"}


def test_ice_holds_the_ball_at_zero_until_it_is_frozen_through(cold_days: Garden) -> None:
    """Freezing a litre of water takes the heat of cooling it by 80 K: for hours the centre stays at zero."""
    centre = cold_days.series("bench", "root_zone_temp_c")

    assert sum(-0.5 < value <= 0.1 for value in centre) >= 6


def test_a_moist_ball_freezes_slower_than_a_dry_one(tmp_path: Path) -> None:
    """Why pots are watered at noon before a frost: a moist ball freezes two to three times slower (common practice)."""
    noon = datetime(2026, 11, 20, 11, tzinfo=UTC)
    dry_autumn = Day(low_c=10, high_c=21, dew_c=1, cloud=10, wind_ms=5)
    frost = Day(low_c=-5, high_c=0, dew_c=-7, cloud=60, wind_ms=2)
    garden = planted(
        tmp_path,
        answer(noon, dry_autumn, [replace(frost, low_c=3, high_c=7), frost], past_days=14),
        noon,
        BENCH,
        tree("moist", "bench", species="Pinus", pot="volume_l = 2"),
        tree("dry", "bench", species="Pinus", pot="volume_l = 2", watering='"rain-only"'),
    )
    moist, dry = (garden.series(name, "root_zone_temp_c") for name in ("moist", "dry"))

    assert garden.series("dry", "water_left")[0] < 0.3
    assert garden.series("moist", "water_left")[0] > 0.7
    assert sum(value < -1.0 for value in dry) > sum(value < -1.0 for value in moist)
    assert min(dry) < min(moist) - 1.0


FEBRUARY_NOON = datetime(2026, 2, 20, 11, tzinfo=UTC)
SUN_AND_EAST_WIND = Day(low_c=-6, high_c=3, dew_c=-13, cloud=0, wind_ms=7)


def test_an_evergreen_dries_in_sun_and_wind_over_frozen_roots_and_not_over_open_ones(tmp_path: Path) -> None:
    """
    Winter drying is a want of water that ice holds back, not of the cold; a bare tree has nothing to lose.

    It takes 40 to 60 hours of sun in dry air (estimate of the trade): a fortnight is enough, three days are not.
    """
    lost, dangers = {}, {}
    thaw = Day(low_c=4, high_c=12, dew_c=-4, cloud=0, wind_ms=7)
    for name, before, ahead in (
        ("frozen", SUN_AND_EAST_WIND, [SUN_AND_EAST_WIND] * 8),
        ("short", Day(low_c=-12, high_c=-6, dew_c=-13, cloud=100, wind_ms=3), [SUN_AND_EAST_WIND] * 3),
        ("open", thaw, [thaw] * 8),
    ):
        garden = planted(
            tmp_path / name,
            answer(FEBRUARY_NOON, before, ahead, past_days=8),
            FEBRUARY_NOON,
            LAWN,
            tree("box", "lawn", species="Buxus", pot="volume_l = 10"),
            tree("bare", "lawn", DORMANT, pot="volume_l = 10"),
        )
        lost[name], dangers[name] = garden.step("box", "drying", "worst dose"), garden.hazards("box")
        assert garden.explain("bare")["limits"]["drying"]["tenth"] is None

    assert lost["frozen"] > 5.0 * lost["open"]
    assert "drying" in dangers["frozen"]
    assert "drying" not in dangers["short"]
    assert "drying" not in dangers["open"]


OCTOBER_NOON = datetime(2026, 10, 10, 11, tzinfo=UTC)
MILD_AUTUMN = Day(low_c=9, high_c=16, dew_c=7, cloud=70, wind_ms=2)
COLD_NIGHTS = Day(low_c=4, high_c=13, dew_c=2, cloud=90, wind_ms=2)


def test_two_nights_at_four_degrees_are_cold_to_a_fig_never_frost_and_nothing_to_a_maple(tmp_path: Path) -> None:
    """Figs of the tropics are hurt between 3 and 8 °C (common practice); a maple waits for frost."""
    garden = planted(
        tmp_path,
        answer(OCTOBER_NOON, MILD_AUTUMN, [replace(MILD_AUTUMN, low_c=8), COLD_NIGHTS, COLD_NIGHTS, MILD_AUTUMN]),
        OCTOBER_NOON,
        BENCH + PLACE.format("room", "indoors"),
        tree("fig", "bench", species="Ficus microcarpa", worth="2"),
        tree("maple", "bench"),
    )
    chosen = [
        item["measure"] for spell in garden.outlook("fig")["spells"] for item in spell["measures"] if item["chosen"]
    ]

    assert garden.hazards("fig") == {"chill"}
    assert chosen == ["move:room"]
    assert garden.hazards("maple") == set()
    assert garden.explain("maple")["limits"]["chill"]["tenth"] is None
    shown = ran("outlook", "fig", "--config", str(garden.config), "--at", OCTOBER_NOON.isoformat()).out
    assert "cold " in shown
    assert "frost" not in shown


NOVEMBER_NOON = datetime(2026, 11, 20, 11, tzinfo=UTC)
WET_AUTUMN = Day(low_c=2, high_c=7, dew_c=2, cloud=90, wind_ms=2, rain_mm=0.2)
FREEZE_AND_THAW = Day(low_c=-4, high_c=5, dew_c=-4, cloud=10, wind_ms=1)


def test_night_ice_lifts_a_new_layer_less_under_mulch_and_never_what_is_tied_or_old(tmp_path: Path) -> None:
    """Heaving falls with anchorage, mulch and shade (Goulet 1995, New Forests 9:67)."""
    garden = planted(
        tmp_path,
        answer(NOVEMBER_NOON, WET_AUTUMN, [replace(WET_AUTUMN, low_c=2), *[FREEZE_AND_THAW] * 5]),
        NOVEMBER_NOON,
        LAWN,
        tree("loose", "lawn", severed("sparse", "2026-09-15", tied=False)),
        tree("mulched", "lawn", severed("sparse", "2026-09-15", tied=False), **standing("mulch")),
        tree("tied", "lawn", severed("sparse", "2026-09-15")),
        tree("old", "lawn"),
    )
    lifts = {name: garden.step(name, "heave", "worst dose") for name in ("loose", "mulched")}

    assert "heave" in garden.hazards("loose")
    assert lifts["mulched"] < lifts["loose"]
    assert garden.damage("mulched", "heave") < 0.5 * garden.damage("loose", "heave")
    for name in ("tied", "old"):
        assert "heave" not in garden.hazards(name)
        assert garden.explain(name)["limits"]["heave"]["tenth"] is None


HOT_MORNING = datetime(2026, 7, 10, 5, tzinfo=UTC)
HOT = Day(low_c=19, high_c=36, dew_c=14, cloud=0, wind_ms=1.2)


def test_bark_that_a_chop_bared_scalds_where_bark_that_was_bare_for_a_year_does_not(tmp_path: Path) -> None:
    """Sunlit bark reaches nearly 50 °C in summer (Sheppard et al. 2016); shade and a sleeve keep it cool."""
    chopped = work("hard-prune", "2026-07-01", removed="0.8")
    garden = planted(
        tmp_path,
        answer(HOT_MORNING, replace(HOT, high_c=30), [HOT] * 3),
        HOT_MORNING,
        LAWN + SHADE,
        tree("bared", "lawn", chopped),
        tree("wrapped", "lawn", chopped, **standing("wrap-trunk")),
        tree("shaded", "shade", chopped),
        tree("last-year", "lawn", work("hard-prune", "2025-07-01", removed="0.8")),
    )
    hottest = {name: garden.step(name, "bark-scald", "worst dose") for name in ("bared", "wrapped", "shaded")}

    assert "bark-scald" in garden.hazards("bared")
    assert 44.0 < hottest["bared"] < 56.0
    assert hottest["wrapped"] < hottest["bared"] - 3.0
    assert hottest["shaded"] < hottest["bared"] - 3.0
    assert garden.explain("last-year")["limits"]["bark-scald"]["tenth"] is None


COLD_SUN = Day(low_c=-11, high_c=6, dew_c=-14, cloud=0, wind_ms=1.2)


def test_a_thaw_in_the_sun_before_a_hard_night_scalds_bared_bark_and_cloud_spares_it(tmp_path: Path) -> None:
    """Southwest disease: frozen cambium thaws and freezes again fast (Sheppard et al. 2016)."""
    at = datetime(2026, 2, 10, 5, tzinfo=UTC)
    chopped = work("hard-prune", "2025-11-10", removed="0.8")
    found = {}
    for cloud in (0, 100):
        day = replace(COLD_SUN, cloud=cloud)
        garden = planted(
            tmp_path / str(cloud),
            answer(at, replace(day, low_c=-4), [day] * 3),
            at,
            LAWN,
            tree("bared", "lawn", chopped, DORMANT),
            tree("whole", "lawn", DORMANT),
        )
        found[cloud] = garden.hazards("bared") - garden.hazards("whole")

    assert found[0] == {"bark-scald"}
    assert found[100] == set()


def test_frost_on_a_fresh_cut_is_named_as_such_and_paste_helps(tmp_path: Path) -> None:
    """Recently pruned wood is most sensitive for two days, then less and less (Penn State Extension)."""
    at = datetime(2026, 1, 20, 11, tzinfo=UTC)
    frost = Day(low_c=-12, high_c=-2, dew_c=-13, cloud=30, wind_ms=2)
    garden = planted(
        tmp_path,
        answer(at, replace(frost, low_c=1, high_c=6), [replace(frost, low_c=0, high_c=4), frost, frost]),
        at,
        LAWN,
        tree("open", "lawn", work("hard-prune", "2026-01-17", removed="0.7"), DORMANT),
        tree("pasted", "lawn", work("hard-prune", "2026-01-17", removed="0.7", paste="true"), DORMANT),
        tree("whole", "lawn", DORMANT),
    )
    losses = {
        name: sum(spell["loss"] for spell in garden.outlook(name)["spells"] if spell["hazard"] == "frost")
        for name in ("open", "pasted", "whole")
    }

    assert losses["whole"] == 0.0
    assert 0.0 < losses["pasted"] < losses["open"]
    assert garden.step("open", "frost", "expected damage to the fresh cuts") > 0.1
