"""The air that a tree lived in: where it stood decides, and what is heated does not freeze."""

from dataclasses import replace

import numpy as np
import pytest

from carewatch.care.log import Entry
from carewatch.condition.lived import Lived, Past, enclosed_mean_c
from carewatch.condition.stage import stage_of
from tests.condition.grown import NORTH, TABLES, first_day, lived_outdoors, noon, until, year_like

YEARS = year_like("2024-09-01", "2026-12-31")
PLACES = {
    kind: replace(TABLES.place_kinds[kind], id=kind) for kind in ("bench", "ground", "shed", "cold-frame", "indoors")
}
MAPLE = TABLES.species_for("Acer palmatum")


def _moved(day: str, to: str) -> Entry:
    return Entry("maple", "move", noon(day), to=to)


def _lived(home: str, *log: Entry) -> Lived:
    return Past(YEARS, PLACES, NORTH).lived_by(home, log)


def test_open_places_share_the_air_of_the_site() -> None:
    """Daily means do not know bench from lawn."""
    assert (_lived("bench").mean_c == YEARS.mean_c).all()
    assert (_lived("ground").mean_c == lived_outdoors(YEARS, NORTH).mean_c).all()


def test_a_heated_room_never_falls_below_its_heater_and_gives_no_chill() -> None:
    """A tree that winters at 18 °C collects no portion: lost chill (common practice)."""
    room = _lived("indoors")
    assert room.mean_c.min() >= 18.0
    assert room.portions.sum() == 0.0


def test_an_unheated_shed_evens_the_days_out() -> None:
    """Neither as cold as the coldest day nor, under its roof, as warm as the warmest by much."""
    shed = enclosed_mean_c(YEARS.mean_c, YEARS.days, PLACES["shed"], NORTH)
    assert shed.min() >= YEARS.mean_c.min() - 0.1
    assert float(np.diff(shed).std()) < float(np.diff(YEARS.mean_c).std())
    assert abs(float(shed.mean() - YEARS.mean_c.mean())) < 1.5


def test_a_frame_is_warmer_by_the_sun_but_is_opened() -> None:
    """Two to five kelvins in the mean of a winter or spring day, never the closed noon's twenty."""
    lift = enclosed_mean_c(YEARS.mean_c, YEARS.days, PLACES["cold-frame"], NORTH) - YEARS.mean_c
    assert 0.0 < float(np.mean(lift)) < 5.0
    march = (YEARS.days >= np.datetime64("2026-03-01")) & (YEARS.days < np.datetime64("2026-04-01"))
    assert 1.0 < float(lift[march].mean()) < 5.0


def test_a_move_changes_only_what_comes_after_it() -> None:
    """And two moves are two changes."""
    whole, part = _lived("bench"), _lived("bench", _moved("2025-11-01", "indoors"), _moved("2026-02-01", "bench"))
    inside = (YEARS.days > np.datetime64("2025-11-01")) & (YEARS.days <= np.datetime64("2026-02-01"))
    assert (part.mean_c[~inside] == whole.mean_c[~inside]).all()
    assert (part.mean_c[inside] >= 18.0).all()
    assert part.portions.sum() < whole.portions.sum()


def test_a_carry_into_the_shed_that_is_logged_as_a_measure_counts_until_it_ends() -> None:
    """Begin and end of move:shed, after which the tree is where it was."""
    log = (
        Entry("maple", "begin", noon("2026-01-05"), measure="move:shed"),
        Entry("maple", "end", noon("2026-01-20"), measure="move:shed"),
    )
    whole, carried = _lived("bench"), _lived("bench", *log)
    changed = YEARS.days[carried.mean_c != whole.mean_c]
    assert changed.min() == np.datetime64("2026-01-06")
    assert changed.max() == np.datetime64("2026-01-20")


def test_buds_follow_the_place_once_they_have_had_their_chill() -> None:
    """A maple carried into a warm room in late winter breaks weeks before its sisters outside (common practice)."""
    dates = {}
    for name, log in (("outside", ()), ("forced", (_moved("2026-02-10", "indoors"),))):
        past = _lived("bench", *log)
        dates[name] = first_day(stage_of(MAPLE, past, log), YEARS, 2, "2026-01-01")
    assert (dates["outside"] - dates["forced"]).days >= 21


@pytest.mark.parametrize(("species", "least_days"), [("Acer palmatum", 3), ("Malus", 30)])
def test_a_tree_that_lost_its_chill_indoors_wakes_late_for_its_warmth(species: str, least_days: int) -> None:
    """Both stand at 18 °C from February; the one that had been in there since October needs more of it, but opens."""
    row = TABLES.species_for(species)
    dates = []
    for since in ("2025-10-01", "2026-01-25"):
        log = (_moved(since, "indoors"),)
        dates.append(first_day(stage_of(row, _lived("bench", *log), log), YEARS, 2, "2026-01-01"))
    assert (dates[0] - dates[1]).days >= least_days
    assert str(dates[0]) < "2026-07-15"


def test_roots_follow_the_air_with_a_lag() -> None:
    """Two days, as long as no pot has a history of its own."""
    past = lived_outdoors(until(YEARS, noon("2026-01-31").date()), NORTH)
    assert float(np.diff(past.root_c).std()) < float(np.diff(past.mean_c).std())
    assert past.root_c.mean() == pytest.approx(past.mean_c.mean(), abs=0.2)
