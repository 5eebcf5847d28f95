"""What is seen wins; what cannot have been seen is asked back, with what to log instead."""

from dataclasses import replace

import numpy as np
import pytest

from carewatch.condition.season import FITTING, REMEDIES, late_leaf, out_of_season, season_of
from carewatch.config.entry_check import checked_entry
from carewatch.config.problems import ConfigErrors
from tests.condition.grown import NORTH, SOUTH, TABLES, noon, stages, tree, year_like
from tests.condition.test_conditions import _garden
from tests.condition.test_stage import seen

MAPLE, OLIVE = TABLES.species_for("Acer palmatum"), TABLES.species_for("Olea europaea")
ODD = (
    ("leaf-out", "2026-11-05", "mature or colouring"),
    ("dormant", "2026-07-01", "leaf-fall"),
    ("colouring", "2026-05-10", "scorch"),
    ("mature", "2026-01-15", "leaf-out"),
    ("bud-swell", "2026-10-05", "new-growth"),
)


@pytest.mark.parametrize(("what", "day", "remedy"), ODD)
def test_an_observation_that_is_months_out_of_season_is_refused_with_the_remedy(
    what: str, day: str, remedy: str
) -> None:
    """The command names the season, the words that would fit, and which of them is probably meant."""
    garden = _garden(())
    with pytest.raises(ConfigErrors) as refusal:
        checked_entry("maple", {"work": "observe", "seen": what}, garden, TABLES, noon(day))
    told = str(refusal.value)
    assert "does not fit the season of Acer palmatum" in told
    assert remedy in told
    assert what in told
    assert "leaf-fall" in told


@pytest.mark.parametrize(
    ("what", "day"),
    [
        ("leaf-out", "2026-03-01"),
        ("leaf-out", "2026-05-25"),
        ("bud-swell", "2026-02-01"),
        ("colouring", "2026-08-20"),
        ("colouring", "2026-12-10"),
        ("dormant", "2026-04-20"),
        ("mature", "2026-11-10"),
        ("leaf-fall", "2026-06-20"),
        ("wilting", "2026-01-20"),
    ],
)
def test_an_early_or_late_year_is_nothing_odd(what: str, day: str) -> None:
    """Weeks, even a month or two, are what observations are for."""
    entry = checked_entry("maple", {"work": "observe", "seen": what}, _garden(()), TABLES, noon(day))
    assert entry.seen == what


def test_a_tree_in_a_heated_room_may_do_anything() -> None:
    """Forced buds in November are no mistake there."""
    garden = _garden(())
    room = replace(TABLES.place_kinds["indoors"], id="room")
    moved = replace(garden, places={**garden.places, "room": room}, trees=(tree("maple", place="room"),))
    entry = checked_entry("maple", {"work": "observe", "seen": "leaf-out"}, moved, TABLES, noon("2026-11-05"))
    assert entry.seen == "leaf-out"


def test_the_south_has_its_own_season_and_the_tropics_none() -> None:
    """Leaf-out in November is late spring in Tasmania."""
    november = np.datetime64("2026-11-05")
    assert out_of_season("leaf-out", november, SOUTH, MAPLE) == ""
    assert out_of_season("leaf-out", november, NORTH, MAPLE) != ""
    assert out_of_season("leaf-out", np.datetime64("2026-05-05"), SOUTH, MAPLE) != ""
    assert all(out_of_season(what, november, 5.0, MAPLE) == "" for what in FITTING)


def test_evergreens_may_flush_when_it_is_warm() -> None:
    """An olive grows again after the summer drought."""
    assert out_of_season("leaf-out", np.datetime64("2026-10-05"), NORTH, OLIVE) == ""
    assert out_of_season("dormant", np.datetime64("2026-07-01"), NORTH, OLIVE) != ""


def test_every_phase_that_can_be_odd_has_a_remedy() -> None:
    """No refusal without a way out."""
    assert FITTING.keys() == REMEDIES.keys()


@pytest.mark.parametrize(("what", "day", "remedy"), ODD)
def test_one_that_stands_in_a_file_is_left_out_and_the_basis_says_so(what: str, day: str, remedy: str) -> None:
    """A slip in garden.toml must not put a tree to sleep in July."""
    assert remedy
    history = year_like("2024-09-01", day)
    odd, plain = stages("Acer palmatum", history, [seen(day, what)]), stages("Acer palmatum", history)
    assert odd.today == plain.today
    assert odd.chances == plain.chances
    assert f"{what} seen on {day} does not fit the season" in odd.basis
    assert "modelled" in odd.basis


def test_the_sun_tells_the_season_without_dates() -> None:
    """Solstices and equinoxes of FAO-56's declination, within two days; the same in the south half a year later."""
    days = np.arange(np.datetime64("2026-01-01"), np.datetime64("2027-01-01"))
    for latitude, midsummer in ((NORTH, "2026-06-21"), (SOUTH, "2026-12-21")):
        season = season_of(days, latitude)
        assert abs((days[season.height.argmax()] - np.datetime64(midsummer)).astype(int)) <= 2
        assert season.length_h[season.height.argmax()] == season.length_h.max()
        assert 0.0 <= season.height.min() < 0.01
        assert np.count_nonzero(np.diff(season.rising.astype(int))) == 2


def test_day_lengths_are_those_of_the_almanac() -> None:
    """Potsdam 52.4°: 16.5 h at midsummer, 7.5 h at midwinter by FAO-56 (refraction adds some ten minutes)."""
    lengths = season_of(np.array(["2026-06-21", "2026-12-21"], dtype="datetime64[D]"), 52.4).length_h
    assert list(lengths) == pytest.approx([16.5, 7.5], abs=0.1)


def test_leaves_are_late_from_mid_august_of_either_hemisphere() -> None:
    """By then they have laid in most of next year's reserves (estimate)."""
    for day, north in (("2026-07-20", False), ("2026-08-25", True), ("2026-10-20", True), ("2026-05-10", False)):
        assert late_leaf(np.datetime64(day), NORTH) is north, day
    assert late_leaf(np.datetime64("2026-02-25"), SOUTH)
    assert not late_leaf(np.datetime64("2026-01-10"), SOUTH)
