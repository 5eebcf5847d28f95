"""
Every hazard is really computed: one input is changed, the real command is run, and its numbers move the right way.

Directions are those of textbooks and of practice, named beside each test; no number here is the program's own.
"""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.outlook.gardens import BENCH, LAWN, SHADE, SHED, Garden, planted, seen, severed, standing, tree, work
from tests.outlook.invented_weather import Day, answer

# --- frost: a clear calm night in May -------------------------------------------------------------------------------

MAY_NOON = datetime(2026, 5, 8, 11, tzinfo=UTC)
MAY = Day(low_c=6, high_c=16, dew_c=5, cloud=60, wind_ms=2.5)
CLEAR_NIGHT = Day(low_c=-1, high_c=11, dew_c=-3, cloud=0, wind_ms=0.8)
FLUSH = seen("leaf-out", "2026-05-01")


def may_night(folder: Path, night: Day) -> Garden:
    """A maple in new leaf before one cold night."""
    weather = answer(MAY_NOON, MAY, [replace(night, low_c=5), night])
    return planted(folder, weather, MAY_NOON, LAWN, tree("maple", "lawn", FLUSH))


@pytest.fixture(scope="module")
def clear_night(tmp_path_factory: pytest.TempPathFactory) -> Garden:
    return may_night(tmp_path_factory.mktemp("clear"), CLEAR_NIGHT)


def test_a_clear_calm_night_frosts_new_leaves_though_the_forecast_says_only_minus_one(clear_night: Garden) -> None:
    """Leaves on a radiation night are colder than the screen: Jones, Plants and Microclimate, 1-4 K (from memory)."""
    coldest_c = min(clear_night.series("maple", "tissue_temp_c"))

    assert "frost" in clear_night.hazards("maple")
    assert -5.0 <= coldest_c <= -2.0


@pytest.mark.parametrize(
    "night", [replace(CLEAR_NIGHT, cloud=100), replace(CLEAR_NIGHT, wind_ms=6)], ids=["cloud", "wind"]
)
def test_cloud_or_wind_alone_takes_most_of_the_frost_away(tmp_path: Path, clear_night: Garden, night: Day) -> None:
    """The same air temperature, but a warm lid of cloud, or air that is stirred down to the leaf."""
    milder = may_night(tmp_path, night)

    assert min(milder.series("maple", "air_temp_2m_c")) == min(clear_night.series("maple", "air_temp_2m_c"))
    assert min(milder.series("maple", "tissue_temp_c")) > min(clear_night.series("maple", "tissue_temp_c")) + 1.0
    assert milder.damage("maple", "frost") < 0.5 * clear_night.damage("maple", "frost")


# --- root-freeze: three cold days in January ------------------------------------------------------------------------

JANUARY_NOON = datetime(2026, 1, 12, 11, tzinfo=UTC)
JANUARY = Day(low_c=1, high_c=5, dew_c=0, cloud=80, wind_ms=2.5)
HARD = Day(low_c=-10, high_c=-2, dew_c=-11, cloud=100, wind_ms=2)
DORMANT = seen("dormant", "2025-12-01")


def test_roots_freeze_in_a_small_pot_before_they_do_in_a_large_one(tmp_path: Path) -> None:
    """A litre has five times the surface for its heat of what 100 litres have; plants and weather are the same."""
    weather = answer(JANUARY_NOON, JANUARY, [replace(HARD, low_c=-2, high_c=2), HARD, HARD])
    garden = planted(
        tmp_path,
        weather,
        JANUARY_NOON,
        LAWN,
        tree("one", "lawn", DORMANT, pot="volume_l = 1"),
        tree("hundred", "lawn", DORMANT, pot="volume_l = 100"),
    )

    assert "root-freeze" in garden.hazards("one")
    assert garden.damage("one", "root-freeze") > 2 * garden.damage("hundred", "root-freeze")
    assert min(garden.series("one", "root_zone_temp_c")) < min(garden.series("hundred", "root_zone_temp_c")) - 2.0


# --- heat, root-heat: a hot week in July ----------------------------------------------------------------------------

JULY_MORNING = datetime(2026, 7, 13, 5, tzinfo=UTC)
JULY = Day(low_c=13, high_c=23, dew_c=11, cloud=50, wind_ms=2)
HOT = Day(low_c=19, high_c=36, dew_c=12, cloud=0, wind_ms=1.5)
MATURE = seen("mature", "2026-07-01")
STRIPPED = work("defoliate", "2026-07-10", removed="1.0")


@pytest.fixture(scope="module")
def hot_week(tmp_path_factory: pytest.TempPathFactory) -> Garden:
    return planted(
        tmp_path_factory.mktemp("hot"),
        answer(JULY_MORNING, JULY, [HOT, HOT, HOT]),
        JULY_MORNING,
        LAWN + SHADE,
        tree("intact", "lawn", MATURE),
        tree("few-roots", "lawn", severed("sparse", "2026-07-06", worked=True), MATURE),
        tree("same-in-shade", "shade", severed("sparse", "2026-07-06", worked=True), MATURE),
        tree("black-pot", "lawn", MATURE, STRIPPED, pot='volume_l = 5, colour = "black"'),
        tree("white-pot", "lawn", MATURE, STRIPPED, pot='volume_l = 5, colour = "white"'),
    )


def test_hot_air_scorches_leaves_and_mild_air_does_not(tmp_path: Path, hot_week: Garden) -> None:
    """Six degrees less, everything else the same: first losses of leaf come at 40 °C (Hauck et al. 2025)."""
    less = replace(HOT, high_c=30)
    cooler = planted(
        tmp_path, answer(JULY_MORNING, JULY, [less, less, less]), JULY_MORNING, LAWN, tree("intact", "lawn", MATURE)
    )

    assert "heat" in hot_week.hazards("intact")
    assert "heat" not in cooler.hazards("intact")
    cooled_k = hot_week.step("intact", "heat", "worst dose") - cooler.step("intact", "heat", "worst dose")
    assert 4.0 <= cooled_k <= 8.0


def test_roots_that_bring_too_little_leave_the_leaves_hotter(hot_week: Garden) -> None:
    """A leaf with closed stomata is not cooled by what it gives off (Jones, Plants and Microclimate; Gates 1980)."""
    assert hot_week.step("few-roots", "plant", "demand over supply") > 2.0
    assert hot_week.step("intact", "plant", "demand over supply") < 1.0
    assert max(hot_week.series("few-roots", "tissue_temp_c")) > max(hot_week.series("intact", "tissue_temp_c"))
    assert max(hot_week.series("few-roots", "transpiration_mm")) < max(hot_week.series("intact", "transpiration_mm"))
    assert hot_week.damage("few-roots", "heat") > hot_week.damage("intact", "heat")


def test_roots_cook_in_a_black_pot_and_not_in_a_white_one(hot_week: Garden) -> None:
    """White pots stayed 7 °C cooler at the maximum (container colour study, Tennessee State University)."""
    black, white = (hot_week.step(name, "root-heat", "worst dose") for name in ("black-pot", "white-pot"))

    assert "root-heat" in hot_week.hazards("black-pot")
    assert "root-heat" not in hot_week.hazards("white-pot")
    assert 4.0 <= black - white <= 14.0


# --- sun ------------------------------------------------------------------------------------------------------------


def test_a_new_layer_burns_in_the_open_and_not_in_the_shade(hot_week: Garden) -> None:
    """The shady side of a building keeps 80 to 95 % of the direct sun away (common practice)."""
    open_kwh, shaded_kwh = (hot_week.step(name, "sun", "worst dose") for name in ("few-roots", "same-in-shade"))

    assert "sun" in hot_week.hazards("few-roots")
    assert 0.05 <= shaded_kwh / open_kwh <= 0.20
    assert hot_week.damage("same-in-shade", "sun") < 0.5 * hot_week.damage("few-roots", "sun")


def test_a_clear_july_day_brings_the_direct_sun_that_it_should(hot_week: Garden) -> None:
    """An open clear July day at 50° N brings 6 to 7.5 kWh/m² of direct sun on the level (52° N in June: 6.9)."""
    assert 5.5 <= hot_week.step("intact", "sun", "worst dose") <= 7.5


# --- drying: a layer in its first flush -----------------------------------------------------------------------------

MID_MAY = datetime(2026, 5, 15, 5, tzinfo=UTC)
DRY = Day(low_c=10, high_c=28, dew_c=2, cloud=10, wind_ms=4, gusty=2.2)
SOFT = seen("leaf-out", "2026-05-02")


def test_a_flush_on_few_roots_dries_out_and_one_on_many_or_with_less_leaf_does_not(tmp_path: Path) -> None:
    """Why a sparse layer lives through autumn and collapses in May (common practice): supply over leaf area decides."""
    garden = planted(
        tmp_path,
        answer(MID_MAY, MAY, [DRY, DRY, DRY]),
        MID_MAY,
        SHADE,
        tree("sparse", "shade", severed("sparse", "2026-04-12", worked=True), SOFT),
        tree("dense", "shade", severed("dense", "2026-04-12", worked=True), SOFT),
        tree(
            "thinned",
            "shade",
            severed("sparse", "2026-04-12", worked=True),
            SOFT,
            work("defoliate", "2026-05-13", removed="0.6"),
        ),
    )

    assert "drying" in garden.hazards("sparse")
    assert "drying" not in garden.hazards("dense") | garden.hazards("thinned")
    sparse, dense, thinned = (garden.step(name, "drying", "expected damage") for name in ("sparse", "dense", "thinned"))
    assert sparse > 0.1
    assert max(dense, thinned) < 0.1 * sparse
    assert max(garden.series("sparse", "demand_to_supply")) > 2 * max(garden.series("dense", "demand_to_supply"))


# --- wind: a gale in October ----------------------------------------------------------------------------------------

OCTOBER_NOON = datetime(2026, 10, 5, 11, tzinfo=UTC)
OCTOBER = Day(low_c=8, high_c=14, dew_c=8, cloud=80, wind_ms=3)
GALE = Day(low_c=9, high_c=13, dew_c=8, cloud=95, wind_ms=14, gusty=1.7)
GREEN = seen("mature", "2026-10-01")
TALL = {"height_cm": "120", "crown_cm": "60"}


def october(folder: Path, storm: Day) -> Garden:
    """Layers and tall trees on the day before a storm."""
    return planted(
        folder,
        answer(OCTOBER_NOON, OCTOBER, [replace(storm, wind_ms=min(5, storm.wind_ms)), storm]),
        OCTOBER_NOON,
        BENCH,
        tree("untied", "bench", severed("fair", "2026-09-10", tied=False), GREEN),
        tree("tied", "bench", severed("fair", "2026-09-10", tied=True), GREEN),
        tree("tall-in-leaf", "bench", GREEN, **TALL),
        tree("tall-bare", "bench", GREEN, work("defoliate", "2026-10-02", removed="1.0"), **TALL),
    )


@pytest.fixture(scope="module")
def gale(tmp_path_factory: pytest.TempPathFactory) -> Garden:
    return october(tmp_path_factory.mktemp("gale"), GALE)


def test_ties_hold_a_new_layer_in_a_gale(gale: Garden) -> None:
    """The roots of a new layer rock loose unless pot and trunk are tied (common practice: tied for twelve months)."""
    assert "wind" in gale.hazards("untied")
    assert gale.step("tied", "wind", "limit") > 1.5 * gale.step("untied", "wind", "limit")
    assert gale.damage("tied", "wind") < 0.5 * gale.damage("untied", "wind")


def test_without_gusts_nothing_rocks(tmp_path: Path, gale: Garden) -> None:
    calm = october(tmp_path, replace(GALE, wind_ms=2))

    assert "wind" not in calm.hazards("untied")
    assert calm.step("untied", "wind", "worst dose") < 0.5 * gale.step("untied", "wind", "worst dose")


def test_a_bare_crown_catches_less_wind_than_a_leafy_one(gale: Garden) -> None:
    """Drag of defoliated crowns is a fraction of that in leaf (Vollsinger et al. 2005)."""
    leafy, bare = (max(gale.series(name, "overturning")) for name in ("tall-in-leaf", "tall-bare"))

    assert "wind" in gale.hazards("tall-in-leaf")
    assert 0.1 * leafy < bare < 0.6 * leafy
    assert gale.damage("tall-bare", "wind") < 0.5 * gale.damage("tall-in-leaf", "wind")


# --- soak: six wet days in July -------------------------------------------------------------------------------------

WET_NOON = datetime(2026, 7, 6, 11, tzinfo=UTC)
WET = Day(low_c=13, high_c=19, dew_c=15, cloud=95, wind_ms=1.5, rain_mm=2)
SHALLOW = "length_cm = 30, width_cm = 22, depth_cm = 6"


def wet_week(folder: Path, rain_mm: float) -> Garden:
    """The same layer in two substrates, under days of rain. [mm/h]"""
    rain = replace(WET, rain_mm=rain_mm)
    layer = (severed("sparse", "2026-06-10"), seen("mature", "2026-06-20"))
    return planted(
        folder,
        answer(WET_NOON, JULY, [rain, rain, rain, rain]),
        WET_NOON,
        SHADE,
        tree("loam", "shade", *layer, pot=SHALLOW, substrate='"loam-mix"'),
        tree("pumice", "shade", *layer, pot=SHALLOW, substrate='"pumice-mix"'),
        tree("covered", "shade", *layer, pot=SHALLOW, substrate='"loam-mix"', **standing("rain-cover")),
    )


def test_days_of_rain_drown_cut_roots_in_loam_and_neither_in_pumice_nor_under_a_cover(tmp_path: Path) -> None:
    """A shallow pot of fine substrate holds water to the brim, coarse grains do not (Bilderback & Fonteno 1987)."""
    garden = wet_week(tmp_path, rain_mm=2)

    assert "soak" in garden.hazards("loam")
    assert "soak" not in garden.hazards("pumice") | garden.hazards("covered")
    assert garden.step("loam", "soak", "worst dose") > 24.0
    assert garden.step("pumice", "soak", "worst dose") == garden.step("covered", "soak", "worst dose") == 0.0


def test_without_rain_the_same_loam_drowns_nothing(tmp_path: Path) -> None:
    garden = wet_week(tmp_path, rain_mm=0)

    assert "soak" not in garden.hazards("loam")
    assert garden.step("loam", "soak", "worst dose") == 0.0


# --- the forecast itself --------------------------------------------------------------------------------------------


def test_a_warmer_night_is_never_the_more_dangerous_one(tmp_path: Path, clear_night: Garden) -> None:
    """From a hard frost to none: expected loss and chance fall, and the loss reaches nothing."""
    warmer = [may_night(tmp_path / str(low), replace(CLEAR_NIGHT, low_c=low, dew_c=low - 2)) for low in (1, 7)]
    nights = (clear_night, *warmer)
    losses = [garden.outlook("maple")["call"]["expected_loss"] for garden in nights]
    chances = [garden.step("maple", "frost", "share of members") for garden in nights]

    assert losses == sorted(losses, reverse=True)
    assert losses[0] > 0.1
    assert losses[-1] < 0.005
    assert chances == sorted(chances, reverse=True)
    assert chances[0] > chances[-1]


def test_the_chance_that_is_told_is_the_share_of_courses_beyond_the_limit(clear_night: Garden) -> None:
    spell = next(found for found in clear_night.outlook("maple")["spells"] if found["hazard"] == "frost")

    assert spell["probability"] == clear_night.step("maple", "frost", "share of members")


def test_the_same_tree_in_a_shed_feels_no_frost(tmp_path: Path, clear_night: Garden) -> None:
    """The place decides: unheated sheds stay three to six degrees above the night outside (common practice)."""
    weather = answer(MAY_NOON, MAY, [replace(CLEAR_NIGHT, low_c=5), CLEAR_NIGHT])
    inside = planted(tmp_path, weather, MAY_NOON, SHED, tree("maple", "shed", FLUSH))
    gained_k = min(inside.series("maple", "air_temp_place_c")) - min(clear_night.series("maple", "air_temp_2m_c"))

    assert clear_night.hazards("maple") == {"frost"}
    assert inside.hazards("maple") == set()
    assert 2.5 <= gained_k <= 7.0
