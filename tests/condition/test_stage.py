"""Which season a tree is in: through a year, in both hemispheres, and by what was seen on it."""

from datetime import date

import numpy as np
import pytest

from carewatch.care.log import Entry
from carewatch.condition.stage import EVERGREEN_NAMES, PHASES
from carewatch.forecast.history import DailyHistory
from tests.condition.grown import NORTH, SOUTH, days_later, first_day, noon, stages, until, year_like

DORMANT, SWELL, FLUSH, MATURE, COLOURING = range(5)
NORTHERN = year_like("2024-09-01", "2026-12-31")
SOUTHERN = year_like("2024-09-01", "2026-12-31", latitude=SOUTH, mean_c=12.5, half_range_c=4.5)


def seen(day: str, what: str) -> Entry:
    return Entry("maple", "observe", noon(day), seen=what)


def test_a_deciduous_year_runs_once_through_its_phases_in_order() -> None:
    """From dormancy through bud swell, flush, mature leaf and colour to dormancy, each calendar year."""
    for species in ("Acer palmatum", "Fagus sylvatica", "Larix decidua", "Malus domestica", "Quercus robur"):
        phases = stages(species, NORTHERN).phases
        inside = (NORTHERN.days >= np.datetime64("2025-01-15")) & (NORTHERN.days <= np.datetime64("2025-12-31"))
        year = phases[inside]
        order = year[np.concatenate([[True], np.diff(year) != 0])]
        assert list(order) == [DORMANT, SWELL, FLUSH, MATURE, COLOURING, DORMANT], species


def test_a_maple_leafs_out_in_april_and_colours_in_october_in_north_east_germany() -> None:
    """Mid-April and October (common practice), give or take the two weeks that such models miss."""
    stage = stages("Acer palmatum", NORTHERN)
    assert date(2025, 4, 1) <= first_day(stage, NORTHERN, FLUSH, "2025-01-01") <= date(2025, 5, 1)
    assert date(2025, 9, 25) <= first_day(stage, NORTHERN, COLOURING, "2025-01-01") <= date(2025, 10, 31)
    assert date(2025, 10, 20) <= first_day(stage, NORTHERN, DORMANT, "2025-07-01") <= date(2025, 12, 5)


def test_flush_lasts_three_to_five_weeks() -> None:
    """Three to four weeks are common practice."""
    stage = stages("Acer palmatum", NORTHERN)
    opens, ripe = (first_day(stage, NORTHERN, phase, "2025-01-01") for phase in (FLUSH, MATURE))
    assert 18 <= (ripe - opens).days <= 35


def test_larch_leafs_out_before_maple_and_maple_before_beech() -> None:
    """The order in which woods turn green (common practice)."""
    dates = [
        first_day(stages(species, NORTHERN), NORTHERN, FLUSH, "2025-01-01")
        for species in ("Larix decidua", "Acer palmatum", "Fagus sylvatica")
    ]
    assert dates == sorted(dates)
    assert dates[0] < dates[2]


def test_a_warmer_year_is_earlier_in_spring_and_later_in_autumn() -> None:
    """Three kelvins move both."""
    warm = year_like("2024-09-01", "2026-12-31", mean_c=12.9)
    plain, warmer = stages("Acer palmatum", NORTHERN), stages("Acer palmatum", warm)
    for phase, sign in ((FLUSH, -1), (COLOURING, 1)):
        moved = first_day(warmer, warm, phase, "2025-01-01") - first_day(plain, NORTHERN, phase, "2025-01-01")
        assert sign * moved.days >= 3


def test_the_southern_year_is_shifted_by_half_a_year() -> None:
    """Leaf-out in the southern spring, colour in the southern autumn; dormant in July."""
    stage = stages("Acer palmatum", SOUTHERN, latitude=SOUTH)
    assert date(2025, 8, 10) <= first_day(stage, SOUTHERN, FLUSH, "2025-06-25") <= date(2025, 10, 25)
    assert date(2025, 4, 1) <= first_day(stage, SOUTHERN, COLOURING, "2025-01-01") <= date(2025, 5, 31)
    july = stage.phases[SOUTHERN.days == np.datetime64("2025-07-10")]
    january = stage.phases[SOUTHERN.days == np.datetime64("2026-01-10")]
    assert (PHASES[int(july[0])], PHASES[int(january[0])]) == ("dormant", "mature-leaf")


def test_evergreens_have_names_of_their_own() -> None:
    """Never dormant, never colouring."""
    for day, name in (("2026-01-20", "winter-hard"), ("2026-07-25", "summer"), ("2026-10-10", "hardening")):
        history = year_like("2024-09-01", day)
        for species in ("Pinus sylvestris", "Juniperus chinensis", "Olea europaea"):
            assert stages(species, history).today == name, (species, day)
    assert set(EVERGREEN_NAMES) == set(PHASES)
    assert set(EVERGREEN_NAMES.values()) == {"winter-hard", "hardening", "new-tips", "summer"}


def test_an_observation_wins_on_its_day() -> None:
    """And the basis says when it was made."""
    history = year_like("2024-09-01", "2025-04-05")
    assert stages("Acer palmatum", history).today in ("dormant", "bud-swell")
    told = stages("Acer palmatum", history, [seen("2025-04-03", "leaf-out")])
    assert told.today == "flush"
    assert told.basis == "observed on 2025-04-03"


def test_an_observation_moves_what_follows() -> None:
    """Leaves seen three weeks early are mature three weeks early; the model does not take them back."""
    early = [seen("2025-03-25", "leaf-out")]
    plain, moved = stages("Acer palmatum", NORTHERN), stages("Acer palmatum", NORTHERN, early)
    gained = first_day(plain, NORTHERN, MATURE, "2025-01-01") - first_day(moved, NORTHERN, MATURE, "2025-01-01")
    assert gained.days >= 7
    assert first_day(moved, NORTHERN, FLUSH, "2025-01-01") == date(2025, 3, 25)
    after = moved.phases[(NORTHERN.days >= np.datetime64("2025-03-25")) & (NORTHERN.days < np.datetime64("2025-09-01"))]
    assert after.min() == FLUSH


def test_leaves_seen_green_in_november_are_not_coloured_the_next_day() -> None:
    """The model had them colouring; colour comes soon, but not at once."""
    green = stages("Acer palmatum", NORTHERN, [seen("2025-11-02", "mature")])
    week = green.phases[(NORTHERN.days >= np.datetime64("2025-11-02")) & (NORTHERN.days < np.datetime64("2025-11-06"))]
    assert set(week) == {MATURE}
    assert first_day(green, NORTHERN, DORMANT, "2025-11-02") < date(2026, 1, 3)


def test_a_bare_tree_seen_in_autumn_stays_bare_until_spring() -> None:
    """Warm November days do not open buds."""
    bare = stages("Acer palmatum", NORTHERN, [seen("2025-10-10", "leaf-fall")])
    winter = bare.phases[(NORTHERN.days >= np.datetime64("2025-10-10")) & (NORTHERN.days < np.datetime64("2026-02-15"))]
    assert set(winter) == {DORMANT}
    assert date(2026, 4, 1) <= first_day(bare, NORTHERN, FLUSH, "2026-01-01") <= date(2026, 5, 5)


def test_an_old_observation_no_longer_counts_asseen() -> None:
    """After the spread of the phase's date it is the model that speaks, and says how far off it may be."""
    history = year_like("2024-09-01", "2025-07-20")
    basis = stages("Acer palmatum", history, [seen("2025-04-20", "leaf-out")]).basis
    assert basis == "modelled, give or take 10 days"


def test_wilting_and_scorch_say_nothing_about_the_season() -> None:
    """Nor does the entry of a work."""
    history = year_like("2024-09-01", "2025-07-20")
    log = [seen("2025-07-19", "wilting"), seen("2025-07-18", "scorch"), Entry("maple", "wire", noon("2025-07-17"))]
    assert stages("Acer palmatum", history, log).basis.startswith("modelled")


@pytest.mark.parametrize("first", ["2025-06-15", "2025-09-20", "2025-12-10", "2025-02-10"])
def test_a_history_that_begins_in_mid_year_finds_the_season(first: str) -> None:
    """Ten days later the tree is in the phase that a whole history gives, or next to it."""
    begin = np.datetime64(first)
    short = year_like(first, str(begin + 10))
    whole = stages("Acer palmatum", NORTHERN).phases[NORTHERN.days == begin + 10]
    found = int(stages("Acer palmatum", short).phases[-1])
    assert min((found - int(whole[0])) % 5, (int(whole[0]) - found) % 5) <= 1
    assert stages("Acer palmatum", short, latitude=NORTH).today in PHASES


LISBON = year_like("2024-09-01", "2026-12-31", latitude=38.7, mean_c=16.3, half_range_c=6.0)
TENERIFE = year_like("2024-09-01", "2026-12-31", latitude=28.3, mean_c=21.0, half_range_c=3.5)


def test_mild_winters_open_buds_in_march_not_in_january() -> None:
    """Where growers see maples leaf out in Lisbon and olives move (common practice)."""
    for species in ("Acer palmatum", "Olea europaea", "Malus"):
        opens = first_day(stages(species, LISBON, latitude=38.7), LISBON, FLUSH, "2026-01-01")
        assert date(2026, 2, 20) <= opens <= date(2026, 4, 25), species


def test_a_winter_without_chill_delays_bud_break_and_does_not_forbid_it() -> None:
    """Buds with too little chill open late and after more warmth (Cannell & Smith 1983)."""
    apple, maple = (stages(name, TENERIFE, latitude=28.3) for name in ("Malus", "Acer palmatum"))
    late, early = (first_day(stage, TENERIFE, FLUSH, "2026-01-01") for stage in (apple, maple))
    assert early < late < date(2026, 8, 15)


def test_a_warm_autumn_and_a_warm_week_in_january_open_no_bud() -> None:
    """Buds rest until they are chilled and days lengthen."""
    warm = (NORTHERN.days >= np.datetime64("2025-11-01")) & (NORTHERN.days < np.datetime64("2025-12-20"))
    january = (NORTHERN.days >= np.datetime64("2026-01-08")) & (NORTHERN.days < np.datetime64("2026-01-18"))
    mild = DailyHistory(NORTHERN.days, np.where(warm | january, 13.0, NORTHERN.mean_c), None)
    for species in ("Acer palmatum", "Larix decidua", "Malus"):
        phases = stages(species, mild).phases
        inside = (mild.days >= np.datetime64("2025-12-25")) & (mild.days <= np.datetime64("2026-02-15"))
        assert set(phases[inside]) == {DORMANT}, species


@pytest.mark.parametrize(
    "species", ["Acer palmatum", "Fagus", "Juniperus", "Olea", "Pinus", "Malus", "Punica", "Taxus"]
)
def test_every_kind_is_later_in_a_colder_year_and_earlier_in_a_warmer_one(species: str) -> None:
    """By three kelvins each; no date is held by the calendar."""
    dates = [
        first_day(stages(species, year), year, FLUSH, "2026-01-01")
        for year in (year_like("2024-09-01", "2026-12-31", mean_c=mean) for mean in (6.9, 9.9, 12.9))
    ]
    assert dates[0] > dates[1] > dates[2]


def test_a_cool_summer_still_lets_a_juniper_make_its_tips() -> None:
    """They come after midsummer if need be, and ripen before winter."""
    cool = year_like("2024-09-01", "2026-12-31", mean_c=6.0, half_range_c=5.0)
    assert date(2026, 6, 1) <= first_day(stages("Juniperus", cool), cool, FLUSH, "2026-01-01") <= date(2026, 8, 20)


def test_southern_dates_are_northern_ones_half_a_year_later() -> None:
    """The same weather six months on gives the same year, within what the ellipse of the orbit does."""
    shifted = DailyHistory(NORTHERN.days, np.roll(NORTHERN.mean_c, 182), None)
    north = first_day(stages("Acer palmatum", NORTHERN), NORTHERN, FLUSH, "2026-01-01")
    south = first_day(stages("Acer palmatum", shifted, latitude=-NORTH), shifted, FLUSH, "2025-06-25")
    assert 174 <= (south - date(2025, north.month, north.day)).days <= 190


def test_chances_are_shares_of_one_and_mostly_of_the_season_that_is_named() -> None:
    """In midsummer and midwinter there is no doubt; in the weeks of leaf-out there is."""
    for day in ("2026-01-20", "2026-04-15", "2026-07-15", "2026-10-10"):
        stage = stages("Acer palmatum", until(NORTHERN, noon(day).date()))
        assert sum(stage.chances) == pytest.approx(1.0)
        assert stage.chances[int(stage.phases[-1])] > 0.3
        sure = max(stage.chances) > 0.95
        assert sure == (day in ("2026-01-20", "2026-07-15")), day


def test_an_observation_leaves_no_doubt_and_doubt_comes_back_with_the_weeks() -> None:
    """On its day the phase is sure; before what was seen no tree can be any more."""
    log = [seen("2026-04-10", "leaf-out")]
    on_the_day, later = (
        stages("Acer palmatum", until(NORTHERN, noon(day).date()), log) for day in ("2026-04-10", "2026-05-03")
    )
    assert on_the_day.chances[FLUSH] == pytest.approx(1.0)
    assert later.chances[DORMANT] == later.chances[SWELL] == 0.0
    assert later.chances[FLUSH] < 1.0


def test_a_tree_seen_at_rest_in_april_swells_soon_but_not_the_next_day() -> None:
    """The model had it swelling; a late tree is a late tree."""
    plain = first_day(stages("Acer palmatum", NORTHERN), NORTHERN, SWELL, "2026-01-01")
    log = [seen(days_later(plain.isoformat(), 3), "dormant")]
    moved = first_day(stages("Acer palmatum", NORTHERN, log), NORTHERN, SWELL, days_later(plain.isoformat(), 3))
    assert 2 <= (moved - plain).days - 3 <= 30


def test_waking_rises_from_rest_over_swelling_to_leaf_out_and_falls_back_by_autumn() -> None:
    """Zero at rest, one when buds swell, two when leaves are out; evergreens alike."""
    for species in ("Acer palmatum", "Pinus sylvestris"):
        stage = stages(species, NORTHERN)
        spring = (NORTHERN.days >= np.datetime64("2026-01-01")) & (NORTHERN.days <= np.datetime64("2026-06-01"))
        assert (np.diff(stage.waking[spring]) >= 0.0).all()
        assert (stage.waking[stage.phases == FLUSH] == 2.0).all()
        assert ((stage.waking >= 1.0) == (stage.phases >= SWELL))[spring].all()
        assert float(stage.waking[NORTHERN.days == np.datetime64("2026-11-20")][0]) == 0.0


def test_yesterday_does_not_change_when_a_day_is_added() -> None:
    """A phase that was found for a day of a long record stays as the record grows."""
    early, late = (
        stages("Acer palmatum", until(NORTHERN, noon(day).date())).phases for day in ("2026-04-20", "2026-08-20")
    )
    assert (late[: early.size] == early).all()
