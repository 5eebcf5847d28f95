"""
The garden floor against thermometers: what was recorded near the ground, from what a forecast would have said.

Goals: minimum at 10 cm at De Bilt CSI 0.74, RMSE 1.5 K, bias within 0.8 K; alpine meadow by night, longwave measured,
RMSE 1.6 K. No constant is fitted to these files: the sky's formulas were chosen by measured longwave at Payerne
(physics.radiation), the floor's constants are published ones, the same for every station. The figures are recorded as
properties and printed by `python -m tests.reference.measured DIR`.
"""

import os
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from carewatch.physics import ground
from tests.reference.measured.__main__ import main
from tests.reference.measured.floor_course import floor_course
from tests.reference.measured.folder import read
from tests.reference.measured.record import SHORT_GRASS_M, Record
from tests.reference.measured.scores import Pairs, interval, pairs_of, score
from tests.reference.measured.stations import TOWER_WIND_M, surroundings
from tests.reference.measured.uncertain import CHANGES, Change, changed

SHARED = Path(os.environ.get("CAREWATCH_SHARED", Path(__file__).parents[3] / "shared"))
DE_BILT = "knmi_uurgeg_260_2000_jan-jun.txt"
MEADOW = "bigleaf_AT_Neu_Jul_2010.csv.gz"
CROPLAND = "ameriflux_US-CRT_BASE_HH_2-5_sample.csv"

RecordProperty = Callable[[str, object], None]

# Two invented days of station 999 in the layout of KNMI's hourly files: 1.5 m, dew point, wind, light, cloud, minimum.
HEADER = """# invented
# STN,YYYYMMDD,   HH,   FH,    T, T10N,   TD,    Q,    N

"""


@cache
def recorded(name: str) -> Record:
    """A station file as a record, or a skipped test: such files are third-party data and not part of the project."""
    path = SHARED / "data" / "surface" / name
    if not path.exists():
        pytest.skip(f"the station file {name} is not at hand (CAREWATCH_SHARED names its folder)")
    found = read(path)
    assert isinstance(found, Record), found
    return found


@cache
def told(name: str, longwave_measured: bool) -> Pairs:
    """Model and plain rule against the record."""
    record = recorded(name)
    return pairs_of(record, floor_course(record, longwave_measured))


def test_frost_at_ten_centimetres_is_told_better_than_by_the_air_alone(record_property: RecordProperty) -> None:
    """
    Half a year at De Bilt, minimum of six hours: nearer, and more frosts told rightly, than "1.5 m below 0 °C".

    KNMI hourly data, station 260, January to June 2000 (CC BY 4.0).
    """
    pairs = told(DE_BILT, longwave_measured=False)
    model, plain = score(pairs.model_c, pairs.recorded_c), score(pairs.plain_c, pairs.recorded_c)
    spread = interval(pairs, lambda chosen: chosen.model_c)
    record_property("model", str(model))
    record_property("plain rule", str(plain))

    assert model.frosts > 100
    assert model.csi >= 0.74
    assert model.rmse_k <= 1.5
    assert abs(model.bias_k) <= 0.8
    assert model.csi > plain.csi
    assert model.hit_rate > plain.hit_rate
    assert model.rmse_k < plain.rmse_k
    # Not by luck: whatever days are drawn, the model's frosts stay above those of the rule.
    assert spread is not None
    assert spread["csi"][0] > plain.csi


@pytest.mark.parametrize("kind", ["clear and calm", "between", "covered"])
def test_nights_of_every_kind_come_out_nearer_than_by_the_air_alone(kind: str, record_property: RecordProperty) -> None:
    """De Bilt: under cloud as under stars; in wind both are within half a kelvin."""
    pairs = told(DE_BILT, longwave_measured=False)
    nights = pairs.only(pairs.night & (pairs.kind == kind))
    model, plain = score(nights.model_c, nights.recorded_c), score(nights.plain_c, nights.recorded_c)
    record_property(kind, str(model))

    assert model.count >= 40
    assert model.rmse_k < plain.rmse_k


def test_in_wind_the_floor_is_as_warm_as_the_air() -> None:
    """Above 4 m/s at 2 m the minimum at 10 cm is that of the air within a kelvin, told and recorded (De Bilt)."""
    pairs = told(DE_BILT, longwave_measured=False)
    windy = pairs.only(pairs.night & (pairs.kind == "windy"))
    assert windy.model_c.size >= 40
    assert score(windy.model_c, windy.recorded_c).rmse_k < 1.0
    assert abs(float(np.mean(windy.model_c - windy.plain_c))) < 1.0


def test_a_meadow_at_night_comes_out_nearer_than_the_air_under_a_measured_sky(record_property: RecordProperty) -> None:
    """
    July 2010 at Neustift in the Alps: the surface itself, 3.4 K below the air on the mean of all nights.

    FLUXNET2015 site AT-Neu (CC BY 4.0), the bigleaf package's example data. In covered and rainy nights the file's
    surface stays 1.4 to 2.9 K below the air while its net radiation is near zero or positive, which no balance can
    give: those nights come out 2.4 K too warm and make most of the error.
    """
    pairs = told(MEADOW, longwave_measured=True)
    nights = pairs.only(pairs.night)
    model, plain = score(nights.model_c, nights.recorded_c), score(nights.plain_c, nights.recorded_c)
    record_property("model", str(model))

    assert model.count > 200
    assert model.rmse_k <= 1.6
    assert model.rmse_k < plain.rmse_k
    assert abs(model.bias_k) < abs(plain.bias_k)
    clear = nights.only(nights.kind == "clear and calm")
    assert score(clear.model_c, clear.recorded_c).rmse_k < 1.5


def test_cropland_in_a_winter_night_comes_out_nearer_than_the_air_under_a_measured_sky() -> None:
    """Ohio, 1 and 2 January 2011, a falling front: AmeriFlux site US-CRT (CC BY 4.0)."""
    pairs = told(CROPLAND, longwave_measured=True)
    nights = pairs.only(pairs.night)
    model, plain = score(nights.model_c, nights.recorded_c), score(nights.plain_c, nights.recorded_c)
    assert model.count >= 15
    assert model.rmse_k < plain.rmse_k


def invented_station(path: Path, days: int = 2, without: str = "") -> Path:
    """A file in KNMI's layout: a clear cold spell, or one whose column `without` is empty."""
    lines = []
    for hour in range(1, 24 * days + 1):
        air = 40.0 - 50.0 * np.cos(2.0 * np.pi * ((hour % 24) - 3.0) / 24.0)
        light = max(0.0, 100.0 * np.sin(np.pi * ((hour % 24) - 7.0) / 10.0)) if 7 <= hour % 24 <= 17 else 0.0
        row = {
            "STN": "999",
            "day": f"200002{1 + (hour - 1) // 24:02d}",
            "HH": str((hour - 1) % 24 + 1),
            "FH": "15",
            "T": f"{air:.0f}",
            "T10N": f"{air - 40.0:.0f}" if hour % 6 == 0 else "",
            "TD": f"{min(air, 0.0) - 20.0:.0f}",
            "Q": f"{light:.0f}",
            "N": "9" if hour == 5 else "0",
        }
        lines.append(",".join("     " if name == without else f"{cell:>5}" for name, cell in row.items()))
    path.write_text(HEADER + "\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_a_new_station_in_a_known_format_needs_no_code(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The program scores an invented station and says of any other file why it does not."""
    invented_station(tmp_path / "somewhere-else.txt")
    (tmp_path / "notes.md").write_text("nothing of the kind\n", encoding="utf-8")

    assert main([str(tmp_path), "--base"]) == 0
    said = capsys.readouterr().out
    assert "somewhere-else.txt: KNMI hourly, minimum at 0.1 m per 6 h, 48 whole hours" in said
    assert "nights: model" in said
    assert "notes.md: skipped: format not known" in said


def test_units_and_stamps_of_a_station_file_are_read_as_its_header_says(tmp_path: Path) -> None:
    """Tenths of degrees and metres per second, J/cm², octas with 9 for an invisible sky; hour 24 ends a day."""
    record = read(invented_station(tmp_path / "units.txt"))
    assert isinstance(record, Record)
    assert record.times[0] == np.datetime64("2000-02-01T01:00:00")
    assert record.times[23] == np.datetime64("2000-02-02T00:00:00")
    assert record.inputs["wind_ms"][0] == pytest.approx(1.5)
    assert record.inputs["air_temp_c"][2] == pytest.approx(-1.0)
    assert record.inputs["cloud"][[3, 4]] == pytest.approx([0.0, 1.0])
    assert record.inputs["global_wm2"][11] == pytest.approx(100.0 * 1e4 / 3600.0)
    assert np.flatnonzero(np.isfinite(record.target_c))[:2].tolist() == [5, 11]


def test_a_station_without_an_input_is_left_out_with_the_reason(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No dew point, no run, and no success either when it was the only file."""
    invented_station(tmp_path / "dry.txt", without="TD")

    assert main([str(tmp_path)]) == 1
    assert "dry.txt: skipped: KNMI hourly: not recorded: dew_point_c" in capsys.readouterr().out


def test_every_change_of_a_constant_is_undone() -> None:
    """After all of them together carewatch is as before, even when a run fails within."""
    before = (ground.stability, dict(ground.SKIN_CONDUCTANCE), ground.ROUGHNESS_M, ground.SOIL_CONDUCTIVITY)
    within = []

    def fails() -> None:
        with changed(*CHANGES):
            within.append(ground.ROUGHNESS_M)
            raise RuntimeError("broken within")

    with pytest.raises(RuntimeError, match="broken within"):
        fails()
    assert within != [before[2]]
    assert (ground.stability, ground.SKIN_CONDUCTANCE, ground.ROUGHNESS_M, ground.SOIL_CONDUCTIVITY) == before


@pytest.mark.parametrize(
    "change", [change for change in CHANGES if change.name.startswith("stable air")], ids=lambda change: change.name
)
def test_other_formulas_of_stable_air_agree_in_wind_and_differ_when_calm(change: Change) -> None:
    """What the report calls other formulas does take effect, and none lets a windy night's floor leave the air."""
    courses = {}
    for wind_ms in (1.0, 8.0):
        for name in ("own", "other"):
            with changed(*(() if name == "own" else (change,))):
                courses[wind_ms, name] = _steady_night_c(wind_ms)
    assert courses[1.0, "own"] != courses[1.0, "other"]
    assert abs(courses[1.0, "own"] - courses[1.0, "other"]) < 3.0
    assert abs(courses[8.0, "own"] - courses[8.0, "other"]) < 0.3


def _steady_night_c(wind_ms: float) -> float:
    """Grass after ten hours at 5 °C under a clear sky. [°C]"""
    one = np.ones((1, 1))
    state = ground.GroundState(5.0 * one, 7.0 * one, 8.0 * one)
    floor = ground.floor_of(("grass",))
    for _ in range(10):
        state = ground.ground_step(state, floor, 5.0 * one, 0.7 * one, wind_ms * one, 0.0 * one, 250.0 * one, 0.0 * one)
    return float(state.skin_c[0, 0])


def test_a_tower_is_known_by_its_code_and_any_other_stands_on_short_grass() -> None:
    """AT-Neu: half a metre of meadow, anemometer at 3 m (Knauer et al. 2018), however the file writes its name."""
    for name in ("bigleaf_AT_Neu_Jul_2010.csv.gz", "FLX_AT-Neu_FLUXNET2015_FULLSET_HH_2002-2012_1-4.csv"):
        assert surroundings(Path(name)) == (0.5, 3.0)
    assert surroundings(Path("AMF_US-CRT_BASE_HH_2-5.csv")) == (SHORT_GRASS_M, TOWER_WIND_M)


def test_a_score_counts_frosts_as_defined() -> None:
    """Two hits, one miss, one false alarm: hit rate 2/3, false alarms 1/3, CSI 2/4 (arithmetic)."""
    found = score(np.array([-1.0, -2.0, 1.0, -1.0, 3.0]), np.array([-1.0, -1.0, -1.0, 1.0, 3.0]))
    assert (found.hit_rate, found.false_ratio, found.csi) == pytest.approx((2 / 3, 1 / 3, 0.5))
    assert found.bias_k == pytest.approx(-0.2)
    assert found.rmse_k == pytest.approx(np.sqrt(9.0 / 5.0))
