"""Warmth, dark and damp of shelter hour by hour: against counts by hand and what was published."""

from dataclasses import fields, replace

import numpy as np
import pytest

from carewatch.condition.dark_carried import DARK_GLAZING, MENDS
from carewatch.exposure.columns import NEUTRAL, RESTING_NEEDS, Columns, Traits
from carewatch.exposure.shelter import DRIES_H, damp_hours, dark_pace, look, mould_pace, warmth_kd
from carewatch.measures import timing
from carewatch.place.enclosure import opened
from carewatch.place.spot import Place
from tests.condition.grown import TABLES


def _traits(**values: float) -> Traits:
    row = {field.name: 0.0 for field in fields(Traits)} | {"in_leaf": 1.0, "light_need": 1.0, "forces": 0.8}
    return Traits(**{name: np.array([value]) for name, value in (row | values).items()})


def _columns(places: int, hours: int = 4, **values: float) -> Columns:
    """One column that is an hour in each place in turn."""
    rows = {name: np.full((hours, 1), neutral) for name, neutral in (NEUTRAL | values).items()}
    place = (np.arange(hours)[:, None] % places).astype(np.int64)
    return Columns(tree=np.zeros(1, dtype=np.int64), place=place, **rows)


def _place(kind: str) -> Place:
    return replace(TABLES.place_kinds[kind], id=kind)


def test_warmth_is_counted_by_daily_means_as_the_stage_is() -> None:
    """Two days of mean 12 and 3 °C above a base of 5: seven degree-days, though the cold day has warm hours."""
    air = np.concatenate([np.tile([6.0, 18.0], 12), np.tile([-4.0, 10.0], 12)])[:, None, None]
    day = np.repeat(np.array(["2026-03-01", "2026-03-02"], dtype="datetime64[D]"), 24)
    found = warmth_kd(air, day, np.array([5.0]))
    assert float(found[23, 0, 0]) == pytest.approx(7.0)
    assert float(found[-1, 0, 0]) == pytest.approx(7.0)
    assert np.all(np.diff(found[:, 0, 0]) >= 0.0)


def test_mould_is_fastest_near_twenty_degrees_and_much_slower_below_fifteen_and_above_twenty_five() -> None:
    """Bulger, Ellis & Madden 1987, abstract: optimum about 20 °C, greatly reduced above 25 and below 15."""
    at = np.arange(0.0, 36.0)
    pace = mould_pace(at)
    assert 19.0 <= float(at[int(pace.argmax())]) <= 22.0
    assert float(mould_pace(np.array(10.0))) < 0.65
    assert float(mould_pace(np.array(30.0))) < 0.75
    assert float(mould_pace(np.array(0.0))) == 0.0
    # All flowers infected after 24 wet hours at 20 °C, hardly any after 24 at 5 °C: the logistic of the same paper.
    constant = -4.268
    at_20 = -0.0901 + 0.0294 * 20.0 - 2.35e-5 * 8000.0
    share = {t: 1.0 / (1.0 + np.exp(-(constant + at_20 * float(mould_pace(np.array(t))) * 24.0))) for t in (5.0, 20.0)}
    assert share[20.0] > 0.95
    assert share[5.0] < 0.10


def test_leaves_dry_in_dry_air_only_and_gather_mould_in_still_air_only() -> None:
    """Wet hours under cloth add up; wet ones in moving air neither add nor mend; twelve dry ones mend all but 1/e."""
    air = np.full((24, 1, 1), 20.0)
    wet = np.zeros((24, 1, 1), dtype=np.bool_)
    wet[:12] = True
    still = np.zeros((24, 1), dtype=np.bool_)
    still[:8] = True
    found = damp_hours(air, wet, still, np.zeros((1, 1)))[:, 0, 0]
    assert float(found[7]) == pytest.approx(8.0)
    assert float(found[11]) == pytest.approx(8.0)
    assert float(found[23]) == pytest.approx(8.0 * np.exp(-12.0 / DRIES_H))
    assert float(damp_hours(air, wet, still, np.full((1, 1), 5.0))[0, 0, 0]) == pytest.approx(6.0)


def test_only_what_shelter_can_harm_is_looked_at() -> None:
    """Nothing outdoors; nothing of the dark on bare trees; no forcing where buds rest."""
    outdoors = look([_place("bench"), _place("shade")], _columns(2), _traits())
    assert not outdoors.any
    shed = look([_place("shed")], _columns(1), _traits(in_leaf=0.0, light_need=0.0))
    assert shed.forced.size == 1
    assert shed.starved.size == shed.damp.size == 0
    assert look([_place("shed")], _columns(1), _traits(forces=0.0)).forced.size == 0
    frame = _place("cold-frame")
    closed_frame, open_frame = (
        look([place], _columns(1), _traits()) for place in (frame, opened(frame, "cold-frame:opened"))
    )
    assert closed_frame.damp.size == 1
    assert open_frame.damp.size == 0
    assert closed_frame.starved.size == 0
    assert look([_place("bench")], _columns(1, vpd=0.9), _traits()).damp.size == 1


def test_a_heated_room_is_dark_to_a_hardy_tree_and_home_to_a_fig() -> None:
    """Kinds that cold above zero hurts winter in heated rooms (common practice)."""
    room = _place("indoors")
    assert room.heated_to_c is not None
    assert look([room], _columns(1), _traits()).starved.size == 1
    assert look([room], _columns(1), _traits(keeps_in_rooms=1.0)).starved.size == 0


def test_leaves_at_rest_starve_slower_in_the_cold_and_light_makes_good_what_dark_took() -> None:
    """Three weeks below 5 °C are as three days in the warm; a day of light makes two of dark good."""
    traits, air = _traits(light_need=RESTING_NEEDS), np.array([2.0, 20.0, 2.0])[:, None, None]
    in_dark = np.array([True, True, False])[:, None]
    found = dark_pace(air, in_dark, traits, np.array([0]))[:, 0, 0] * 24.0
    assert found.tolist() == pytest.approx([1.0, 7.0, -MENDS])
    awake = dark_pace(air, in_dark, _traits(), np.array([0]))[:, 0, 0] * 24.0
    assert awake.tolist() == pytest.approx([1.0, 1.0, -MENDS])


def test_measures_and_physics_call_the_same_places_dark() -> None:
    """One bound."""
    assert timing.DARK_GLAZING == DARK_GLAZING
