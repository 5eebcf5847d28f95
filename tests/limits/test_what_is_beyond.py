"""Whatever costs a tree something is beyond a limit: a loss without an hour that passes it would never be spoken of."""

from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from carewatch.hazard.spells import spells_of
from carewatch.limits import frost
from carewatch.limits.judge import HAZARDS
from carewatch.limits.sheet import Case, Sheet
from tests.condition.grown import TABLES, on, severed, tree, year_like
from tests.limits.felt import bare_column, judged, limits_of, uneventful

YEAR = year_like("2024-09-01", "2027-12-31")


def test_wet_leaves_of_fewer_than_half_of_the_members_are_not_overlooked() -> None:
    """Dew in two of five members: those lose leaves, though the limit that is told is that of dry ones."""
    limits = limits_of(on("2026-05-10", [], YEAR), "2026-05-10")
    assert float(limits.wet_shift_k[0]) > 0.5
    tissue_c = np.full((24, 5, 1), 10.0)
    tissue_c[5] = float(limits.leaf_frost_10[0]) + 0.3
    wet = np.zeros((24, 5, 1), dtype=np.bool_)
    wet[:, :2] = True
    sheet = Sheet((24, 5, 1))
    felt = cast("Any", SimpleNamespace(tissue_c=tissue_c, wet=wet))
    frost.judge(Case(felt, limits, bare_column(), TABLES.hazards, np.zeros(24, dtype=np.int64)), sheet)
    assert sheet.limit["frost"][0] == pytest.approx(float(limits.leaf_frost_10[0]))
    assert np.asarray(sheet.beyond["frost"].any(axis=0)).ravel().tolist() == [True, True, False, False, False]
    assert float(sheet.loss["frost"][0, 0]) > 0.03


def test_young_roots_that_a_weak_tree_cannot_spare_are_not_hidden_behind_its_ripe_ones() -> None:
    """A quarter of its roots is young and dies in a cold that ripe roots bear; a whole tree could spare them."""
    weak = replace(on("2026-01-15", [], YEAR), young_roots=0.25, root_supply=0.3)
    for condition, harmed in ((weak, True), (replace(weak, root_supply=1.0), False)):
        limits = limits_of(condition, "2026-01-15")
        shells_c = float(limits.root_frost_mature_10[0]) + 0.5
        assert shells_c < float(limits.root_frost_young_50[0])
        found = judged(uneventful(shells_c=shells_c, tissue_c=-3.0), limits)
        times = np.datetime64("2026-01-15T01:00:00", "s") + np.arange(24) * np.timedelta64(3600, "s")
        spells = spells_of(found, 0, times, dict.fromkeys(HAZARDS, 24), 1)
        assert (float(found.loss["root-freeze"][0, 0]) > 0.1) == harmed
        assert ("root-freeze" in {spell.hazard for spell in spells}) == harmed


@pytest.mark.parametrize("seed", range(6))
def test_what_costs_a_tenth_is_beyond_a_limit(seed: int) -> None:
    """Trees and doses by chance: every hazard that takes a tenth of a tree has an hour that passes its limit."""
    chance = np.random.default_rng(seed)
    day = str(np.datetime64("2026-01-01") + int(chance.integers(0, 360)))
    species = str(
        chance.choice(["Acer palmatum", "Larix decidua", "Pinus thunbergii", "Olea europaea", "Ficus microcarpa"])
    )
    ago = str(np.datetime64(day) - int(chance.integers(5, 300)))
    log = [severed(ago, str(chance.choice(["sparse", "fair", "dense"])))] if chance.random() < 0.6 else []
    limits = limits_of(on(day, log, YEAR, tree("maple", species)), day)
    wave = np.sin(2.0 * np.pi * np.arange(24) / 24.0)
    taken = 0
    for _ in range(40):
        low, high = chance.uniform(-25.0, 8.0), chance.uniform(15.0, 55.0)
        doses: list[dict[str, Any]] = [
            {"tissue_c": low + 4.0 * wave, "wet": bool(chance.random() < 0.5)},
            {"shells_c": low + 2.0 * wave},
            {"tissue_c": high + 6.0 * wave},
            {"shells_c": high + 6.0 * wave},
            {"gust_ms": chance.uniform(3.0, 40.0), "overturning": chance.uniform(0.0, 2.0)},
            {"soaked_h": np.arange(24.0) * chance.uniform(0.2, 8.0), "tissue_loss": chance.uniform(0.0, 0.8)},
            {"snow_mm": chance.uniform(0.0, 30.0), "ice_mm": chance.uniform(0.0, 20.0)},
            {"direct_kwh": np.linspace(0.0, chance.uniform(0.0, 12.0), 24)},
        ]
        found = judged(uneventful(**doses[int(chance.integers(len(doses)))]), limits)
        for hazard in HAZARDS:
            if float(found.loss[hazard][0, 0]) >= 0.1:
                taken += 1
                assert found.beyond[hazard].any(), hazard
    assert taken > 5
