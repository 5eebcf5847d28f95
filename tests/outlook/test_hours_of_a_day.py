"""What is true of a tree does not hang on the hour at which it is asked: one day's weather, judged at every hour."""

from dataclasses import fields
from datetime import datetime, timedelta
from pathlib import Path
from unittest import mock
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from carewatch.assess import begin
from carewatch.config.load import load
from carewatch.hazard.spells import LEAST_LOSS
from carewatch.limits.tolerance import Tolerance, tolerances
from tests.outlook.gardens import LAWN, SHADE, seen, severed, tree
from tests.stories import cost
from tests.stories.cost import _losses, _numbers, _tables, certain
from tests.stories.story import NOWHERE, SITE
from tests.stories.weather import Day, course_of

ZONE = "Europe/Berlin"
# Nothing of a tree changes by more than this from one hour to the next; at midnight a day's warmth is added. [-]
STEP = 0.15
SHARES = ("leaf_area", "tender")
GARDEN = "[stock]\nfleece_m2 = 0\nnet_m2 = 0\ntents = 0\nmulch = false\n" + LAWN + SHADE + "shade_cloth = 0.6\n"
# Leaves ripen in June, colour in November, come out in April; each about the day that is judged.
JUNE = tree("old", "shade", seen("leaf-out", "2026-05-25")) + tree(
    "layer", "shade", seen("leaf-out", "2026-05-25"), severed("sparse", "2026-06-08"), worth="2"
)
NOVEMBER = tree("old", "lawn") + tree(
    "layer", "lawn", severed("sparse", "2026-09-20"), seen("mature", "2026-10-30"), worth="2"
)
APRIL = tree("old", "lawn", severed("fair", "2025-09-01")) + tree("seen", "lawn", seen("bud-swell", "2026-04-05"))
MILD_JUNE = Day(11.0, 20.0, 11.0, cloud=60, wind_ms=2.0)
HOT = Day(20.0, 36.0, 5.0, cloud=10, cloud_night=20, wind_ms=6.0)
MILD_NOVEMBER = Day(5.0, 11.0, 5.0, cloud=70)
CLEAR = Day(-4.0, 8.0, -5.0, cloud=10, cloud_night=0, wind_ms=2.0, calm_ms=0.6)
MILD_APRIL = Day(3.0, 15.0, 3.0, cloud=50)
# Trees, first day, weather, day from whose noon on it is judged: the name of a stage changes in the night after it, and
# a danger comes the day after that.
DAYS = {
    "leaves ripen": (JUNE, "2026-06-06", (*[MILD_JUNE] * 9, HOT, *[MILD_JUNE] * 4), "2026-06-13T12:00"),
    "leaves colour": (NOVEMBER, "2026-10-31", (*[MILD_NOVEMBER] * 8, CLEAR, *[MILD_NOVEMBER] * 4), "2026-11-06T12:00"),
    "leaves come out": (
        APRIL,
        "2026-04-12",
        (*[MILD_APRIL] * 8, CLEAR.but(low_c=-6.0), *[MILD_APRIL] * 4),
        "2026-04-18T12:00",
    ),
}


@pytest.mark.parametrize("name", DAYS)
def test_no_hour_of_a_day_moves_a_limit_or_a_loss_by_a_jump(name: str, tmp_path: Path) -> None:
    """
    Limits, weights and shares, and what a danger that lies ahead would cost, over 24 hours before it.

    Limits are compared by the way from 10 % to 50 % damage.
    """
    text, first, days, day = DAYS[name]
    truth = course_of(NOWHERE, datetime.fromisoformat(first).date(), days)
    path = tmp_path / "config.toml"
    path.write_text(SITE.format(spot=NOWHERE, zone=ZONE) + GARDEN + text, encoding="utf-8")
    rows: list[dict[str, np.ndarray]] = []
    losses = []
    noon = datetime.fromisoformat(day).replace(tzinfo=ZoneInfo(ZONE))
    garden = load(path, {}, noon, _tables()).garden
    for hour in range(25):
        at = noon + timedelta(hours=hour)
        weather = certain(garden, truth.document(at, 5, 4), at)
        begun = begin(garden, weather, _numbers(), at)
        limits = tolerances(begun.states, begun.habit_kwh, _numbers().hazards, at.date(), garden.site.latitude)
        shares = {key: np.array([getattr(state, key) for state in begun.states]) for key in SHARES}
        rows.append({**_in_ways(limits), **shares})
        # The same beginning serves both: it is half of the work.
        with mock.patch.object(cost, "begin", return_value=begun):
            losses.append(_losses(garden, weather, at, at)[0])
    # Leaves that are all but shed are worth nothing, and fall in a night.
    leafy = np.array([row["leaf_weight"] for row in rows])[1:] >= LEAST_LOSS
    for key in rows[0]:
        course = np.array([row[key] for row in rows])
        # What comes or goes with an organ that is hardly likely is told by the weights and the losses.
        both = np.isfinite(course[1:]) & np.isfinite(course[:-1])
        with np.errstate(invalid="ignore"):
            steps = np.where(both & (leafy | (key not in SHARES)), np.abs(np.diff(course, axis=0)), 0.0)
        assert steps.max() <= STEP, (key, np.round(course, 3).T.tolist())
    lost = np.array(losses)
    assert lost.max() > 0.1, "nothing is at stake: the day proves nothing"
    assert np.abs(np.diff(lost, axis=0)).max() <= STEP, np.round(lost, 3).T.tolist()


def _in_ways(limits: Tolerance) -> dict[str, np.ndarray]:
    """Every limit in units of its way from 10 to 50 % damage, shares and weights as they are."""
    found = {}
    for field in fields(limits):
        name, values = field.name, getattr(limits, field.name)
        half = getattr(limits, name.removesuffix("_10") + "_50", None) if name.endswith("_10") else None
        if half is not None:
            with np.errstate(invalid="ignore"):
                found[name] = values / np.abs(half - values)
        elif name in ("leaf_weight", "bud_weight", "young", "root_supply", "anchorage", "held", "wound_weight"):
            found[name] = values
    return found
