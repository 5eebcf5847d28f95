"""
Whatever the weather, some things are never the other way round: what every grower knows, asked of the real command.

Each check turns one thing and compares two plants of one garden under the same sky.
"""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.outlook.gardens import BENCH, LAWN, SHADE, Garden, planted, seen, standing, tree
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
