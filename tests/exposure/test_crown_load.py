"""Snow and ice on crowns: against the published model of freezing rain, and what slides and melts."""

from dataclasses import fields

import numpy as np
import pytest

from carewatch.exposure.columns import NEUTRAL, Columns, Traits
from carewatch.exposure.crown_load import falls, hold, ice_mm
from carewatch.exposure.surroundings import Surroundings
from carewatch.physics.humidity import saturation_vapour_pressure_kpa, wet_bulb_c


def _columns(**values: float) -> Columns:
    rows = {name: np.full((1, 1), neutral) for name, neutral in (NEUTRAL | values).items()}
    return Columns(tree=np.zeros(1, dtype=np.int64), place=np.zeros((1, 1), dtype=np.int64), **rows)


def _around(air_c: float, humid: float = 1.0, **values: float) -> Surroundings:
    row = {field.name: 0.0 for field in fields(Surroundings)} | {
        "crown_air_c": air_c,
        "vapour_kpa": humid * float(saturation_vapour_pressure_kpa(np.array(air_c))),
    }
    return Surroundings(**{name: np.full((1, 1, 1), value) for name, value in (row | values).items()})


def _found(
    air_c: float, humid: float = 1.0, catch: float = 1.0, shaken: float = 1.0, **values: float
) -> dict[str, float]:
    traits = Traits(**{field.name: np.array([catch]) for field in fields(Traits)})
    around = _around(air_c, humid, **values)
    deficit = saturation_vapour_pressure_kpa(around.crown_air_c) - around.vapour_kpa
    found = falls(around, deficit, _columns(crown_snow=shaken), traits)
    return {name: float(value[0, 0, 0]) for name, value in found.items()}


@pytest.mark.parametrize(
    ("rain_mm", "wind_ms", "thickness_mm"),
    # sqrt(P² + (3.6 V 0.067 P^0.846)²) / (0.9 π), by hand: no wind, P/2.827; 5 m/s and 1 mm/h: hypot(1, 1.206)/2.827.
    [(2.0, 0.0, 0.7074), (1.0, 5.0, 0.5541), (0.0, 8.0, 0.0)],
)
def test_ice_of_freezing_rain_is_that_of_the_simple_model(rain_mm: float, wind_ms: float, thickness_mm: float) -> None:
    """Jones 1998, Weather and Forecasting 13:42: without wind a millimetre of rain leaves 0.35 mm of ice all round."""
    assert float(ice_mm(np.array(rain_mm), np.array(wind_ms))) == pytest.approx(thickness_mm, abs=2e-4)


def test_rain_freezes_by_the_wet_bulb_and_not_above_it() -> None:
    """Dry air at +0.5 °C cools drops below freezing; saturated air does not."""
    assert _found(0.5, humid=0.6, rain_mm=1.0)["ice_grows"] > 0.3
    assert _found(0.5, humid=1.0, rain_mm=1.0)["ice_grows"] == 0.0
    for air_c, humid in ((0.5, 0.6), (1.0, 0.9), (-1.0, 0.8)):
        dew = float(
            np.interp(
                humid * float(saturation_vapour_pressure_kpa(np.array(air_c))),
                saturation_vapour_pressure_kpa(np.linspace(-20, 5, 2001)),
                np.linspace(-20, 5, 2001),
            )
        )
        exact = float(wet_bulb_c(np.array(air_c), np.array(dew), 101.3))
        assert (_found(air_c, humid, rain_mm=1.0)["ice_grows"] > 0.0) == (exact < 0.0)


def test_wet_snow_sticks_and_dry_snow_and_sleet_do_less() -> None:
    """Wet snow near freezing is what breaks crowns (common practice)."""
    stays = {air_c: _found(air_c, snow_mm=2.0)["snow_stays"] for air_c in (-10.0, 0.0, 3.0)}
    assert stays[0.0] == pytest.approx(2.0)
    assert stays[-10.0] < 0.7
    assert stays[3.0] == 0.0
    assert _found(0.0, catch=0.2, snow_mm=2.0)["snow_stays"] == pytest.approx(0.4)
    assert _found(0.0, shaken=0.2, snow_mm=2.0)["snow_stays"] == pytest.approx(0.4)


def test_snow_slides_off_in_warmth_and_wind_and_lies_in_still_cold() -> None:
    """Roesch et al. 2001: nothing below -3 °C in still air; at +3 °C half in six hours."""
    kept = {air_c: _found(air_c)["snow_kept"] for air_c in (-8.0, 3.0)}
    assert kept[-8.0] == pytest.approx(1.0)
    assert np.log(2.0) / -np.log(kept[3.0]) == pytest.approx(6.0, abs=0.1)
    assert _found(-8.0, wind_ms=6.0)["snow_kept"] < 0.9


def test_a_load_grows_while_it_falls_and_goes_in_the_thaw() -> None:
    """Ten hours of wet snow of 1.5 mm, then a day at +5 °C; and what lay before counts."""
    hours = np.full(34, 5.0)
    hours[:10] = 0.0
    parts = [_found(float(air), snow_mm=1.5 if air == 0.0 else 0.0) for air in hours]
    found = {name: np.array([part[name] for part in parts])[:, None, None] for name in parts[0]}
    snow, ice = hold(found, np.zeros((1, 1)), np.full((1, 1), 3.0))
    assert 10.0 < float(snow[9, 0, 0]) < 15.0
    assert float(snow[-1, 0, 0]) < 0.5
    assert float(ice[0, 0, 0]) == pytest.approx(3.0, abs=0.05)
    assert float(ice[-1, 0, 0]) == 0.0
