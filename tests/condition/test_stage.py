"""Which season a tree is in: through a year, in both hemispheres, and by what was seen on it."""

from datetime import date

import numpy as np
import pytest

from carewatch.care.log import Entry
from carewatch.condition.stage import EVERGREEN_NAMES, PHASES
from tests.condition.grown import NORTH, SOUTH, first_day, noon, stages, year_like

DORMANT, SWELL, FLUSH, MATURE, COLOURING = range(5)
NORTHERN = year_like("2024-09-01", "2026-12-31")
SOUTHERN = year_like("2024-09-01", "2026-12-31", latitude=SOUTH, mean_c=12.5, half_range_c=4.5)


def _seen(day: str, what: str) -> Entry:
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
    seen = stages("Acer palmatum", history, [_seen("2025-04-03", "leaf-out")])
    assert seen.today == "flush"
    assert seen.basis == "observed on 2025-04-03"


def test_an_observation_moves_what_follows() -> None:
    """Leaves seen three weeks early are mature three weeks early; the model does not take them back."""
    early = [_seen("2025-03-25", "leaf-out")]
    plain, moved = stages("Acer palmatum", NORTHERN), stages("Acer palmatum", NORTHERN, early)
    gained = first_day(plain, NORTHERN, MATURE, "2025-01-01") - first_day(moved, NORTHERN, MATURE, "2025-01-01")
    assert gained.days >= 7
    assert first_day(moved, NORTHERN, FLUSH, "2025-01-01") == date(2025, 3, 25)
    after = moved.phases[(NORTHERN.days >= np.datetime64("2025-03-25")) & (NORTHERN.days < np.datetime64("2025-09-01"))]
    assert after.min() == FLUSH


def test_leaves_seen_green_in_november_are_not_coloured_the_next_day() -> None:
    """The model had them colouring; colour comes soon, but not at once."""
    green = stages("Acer palmatum", NORTHERN, [_seen("2025-11-02", "mature")])
    week = green.phases[(NORTHERN.days >= np.datetime64("2025-11-02")) & (NORTHERN.days < np.datetime64("2025-11-06"))]
    assert set(week) == {MATURE}
    assert first_day(green, NORTHERN, DORMANT, "2025-11-02") < date(2026, 1, 3)


def test_a_bare_tree_seen_in_autumn_stays_bare_until_spring() -> None:
    """Warm November days do not open buds."""
    bare = stages("Acer palmatum", NORTHERN, [_seen("2025-10-10", "leaf-fall")])
    winter = bare.phases[(NORTHERN.days >= np.datetime64("2025-10-10")) & (NORTHERN.days < np.datetime64("2026-02-15"))]
    assert set(winter) == {DORMANT}
    assert date(2026, 4, 1) <= first_day(bare, NORTHERN, FLUSH, "2026-01-01") <= date(2026, 5, 5)


def test_an_old_observation_no_longer_counts_as_seen() -> None:
    """After the spread of the phase's date it is the model that speaks, and says how far off it may be."""
    history = year_like("2024-09-01", "2025-07-20")
    basis = stages("Acer palmatum", history, [_seen("2025-04-20", "leaf-out")]).basis
    assert basis == "modelled, give or take 10 days"


def test_wilting_and_scorch_say_nothing_about_the_season() -> None:
    """Nor does the entry of a work."""
    history = year_like("2024-09-01", "2025-07-20")
    log = [_seen("2025-07-19", "wilting"), _seen("2025-07-18", "scorch"), Entry("maple", "wire", noon("2025-07-17"))]
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
