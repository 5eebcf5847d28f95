"""
What may never be silent, asked of gardens and weather drawn by chance.

What is held does not come from the code: a colder night is no better, what nobody knows of the past excuses nothing, a
night beyond any published limit is called for in time, a neighbour takes no warning away, an answer is about what was
asked. `python -m tests.properties.test_nothing_is_silenced COUNT [FIRST]` asks more of them and prints what it finds.
"""

import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from carewatch.alerts.plan import plan
from carewatch.alerts.rounds import GRAVE
from carewatch.assess import Assessment
from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.hazard.spells import Spell
from carewatch.outcome import calls
from tests.condition.grown import tree
from tests.measures.gardens import corner
from tests.properties.silence import (
    MONTH_MEAN_C,
    MONTH_SWING_K,
    PAST_DAYS,
    PLENTY,
    SITE,
    Case,
    colder_nights,
    drawn,
    hours_of,
    judged,
    loss_by,
    rules,
    without_past,
)

ZONE = ZoneInfo("Europe/Berlin")
COLD = ("frost", "root-freeze")
# Of two numbers from the same engine on slightly different input. [0-1]
SLACK = 0.02
# What is not known of the past may lower a loss by so much, and by this share of it: the ball is a little warmer where
# its record is short. [0-1]
UNKNOWN, UNKNOWN_SHARE = 0.04, 0.25


# Trees of a garden: a garden of many costs little more than one of few, so the long run takes many.
FEW, MANY = 4, 30
LONG = __name__ == "__main__"


@cache
def case_of(seed: int) -> Case:
    return drawn(seed, MANY) if LONG else without_past(drawn(seed, FEW, 2), 60)


@cache
def found(seed: int) -> Assessment:
    return judged(case_of(seed))


def colder(seed: int) -> Iterator[str]:
    """Nights colder by 3 K cost no tree less by frost, and are spoken of to no fewer."""
    before, after = found(seed), judged(colder_nights(case_of(seed), 3.0))
    for hazard in COLD:
        now, then = loss_by(before, (hazard,)), loss_by(after, (hazard,))
        yield from (
            f"{name}: {hazard} falls from {now[name]:.2f} to {then[name]:.2f}"
            for name in now
            if then[name] < now[name] - SLACK
        )
    kept = {one.condition.tree.id for one in after.trees if one.spells}
    lost = {one.condition.tree.id for one in before.trees if one.spells and worst(one.spells) > GRAVE} - kept
    yield from (f"{name}: nothing is seen any more" for name in sorted(lost))


def worst(spells: Sequence[Spell]) -> float:
    """What the costliest of these would cost, 0 without any. [0-1]"""
    return max((spell.loss for spell in spells), default=0.0)


def benign(case: Case) -> Case:
    """The case after a past of nothing but mean days of its month."""
    single = case.raw.single.copy()
    index, month = pd.DatetimeIndex(single.index), case.now.month - 1
    air = MONTH_MEAN_C[month] + MONTH_SWING_K[month] * np.cos(2.0 * np.pi * (index.hour - 14) / 24.0)
    past = np.asarray(index <= pd.Timestamp(case.now))
    single.loc[past, "air_temp_c"] = air[past]
    single.loc[past, "dew_point_c"] = air.min() - 1.0
    return replace(case, raw=replace(case.raw, single=single))


def unknown_past(seed: int) -> Iterator[str]:
    """A past of which hardly anything is known excuses nothing that would be told after a mild one."""
    case = benign(case_of(seed))
    before = judged(case)
    for hours in (0, 40) if LONG else (3,):
        after = judged(without_past(case, hours))
        now, then = loss_by(before, COLD), loss_by(after, COLD)
        yield from (
            f"{name}: with {hours} hours of past {now[name]:.2f} becomes {then[name]:.2f}"
            for name in now
            if then[name] < now[name] * (1.0 - UNKNOWN_SHARE) - UNKNOWN
        )


def unknown_variables(seed: int) -> Iterator[str]:
    """Without what physics can err on the safe side about, or with holes in it, no grave danger vanishes."""
    case = case_of(seed)
    single = case.raw.single
    ahead = (single.index > case.now + timedelta(hours=6)) & (single.index <= case.now + timedelta(hours=30))
    some = ["dew_point_c", "cloud", "global_wm2", "rain_mm", "snowfall_cm", "snow_depth_m", "pressure_kpa"]
    bare, holed = single.drop(columns=some), single.copy()
    holed.loc[ahead, [*some, "wind_10m_ms", "gust_10m_ms"]] = np.nan
    for name, frame in (("holed", holed), ("bare", bare))[: 2 if LONG else 1]:
        after = judged(replace(case, raw=replace(case.raw, single=frame)))
        now, then = (
            {one.condition.tree.id: one.standing_loss for one in each.trees if one.spells}
            for each in (found(seed), after)
        )
        yield from (
            f"{tree_id}: {name} forecast, {loss:.2f} becomes {then.get(tree_id, 0.0):.2f}"
            for tree_id, loss in now.items()
            if loss > GRAVE
            and then.get(tree_id, 0.0) < 0.5 * loss
            and set(COLD)
            & {spell.hazard for one in found(seed).trees if one.condition.tree.id == tree_id for spell in one.spells}
        )


def neighbours(seed: int) -> Iterator[str]:
    """With enough for all, what is found for a tree does not hang on who stands beside it."""
    case = case_of(seed)
    half = replace(case.garden, trees=case.garden.trees[::2])
    alone = {one.condition.tree.id: one for one in judged(replace(case, garden=half)).trees}
    for one in found(seed).trees:
        other = alone.get(one.condition.tree.id)
        if other is None:
            continue
        if [spell.hazard for spell in one.spells] != [spell.hazard for spell in other.spells]:
            yield f"{one.condition.tree.id}: {one.spells} beside others, {other.spells} alone"
        # Company shares the rounds: it makes work cheaper and takes none away.
        if other.chosen is not None and one.chosen is None:
            yield f"{one.condition.tree.id}: {other.chosen.name} alone, nothing beside others"


def answers(seed: int) -> Iterator[str]:
    """An answer to one danger changes nothing about that of another hazard to the same tree, or of another tree."""
    case, assessment = case_of(seed), found(seed)
    seen = calls(assessment)
    here = case.now.astimezone(ZONE)
    first = plan(seen, (), (), case.garden.notices, here)
    for danger in first.dangers:
        answered = [
            replace(one, answer="skip", state="answered") if one.id == danger.id else one for one in first.dangers
        ]
        later = here + timedelta(hours=1)
        after = plan(seen, answered, first.notices, case.garden.notices, later)
        gone = {one.id for one in after.dangers if one.state == "over"} - {danger.id}
        if gone:
            yield f"{danger.tree}: skipping {danger.hazard} ended {gone}"
        told = {line.tree for notice in (*first.notices, *after.notices) for line in notice.lines}
        unasked = plan(seen, first.dangers, first.notices, case.garden.notices, later)
        wanted = {line.tree for notice in unasked.notices for line in notice.lines} - {danger.tree}
        if not wanted <= told:
            yield f"{danger.tree}: skipping {danger.hazard} silenced {wanted - told}"


ASKED: dict[str, Callable[[int], Iterator[str]]] = {
    one.__name__: one for one in (colder, unknown_past, unknown_variables, neighbours, answers)
}


# A garden in May of which the coming nights would take leaves and roots.
SEED = 16


@pytest.mark.parametrize("asked", ASKED)
def test_by_chance(asked: str) -> None:
    """The garden has something to lose, and nothing of it is silenced."""
    assert sum(worst(one.spells) > GRAVE for one in found(SEED).trees) > 1
    assert list(ASKED[asked](SEED)) == []


def course(now: datetime, lows: list[float], highs: list[float]) -> Case:
    """Clear, calm, dry days, PAST_DAYS of them before today. [°C]"""
    ones = np.ones(len(lows))
    raw = hours_of(now, len(lows), np.array(lows), np.array(highs), 0.0 * ones, 0.8 * ones, 0.0 * ones, ones)
    return Case(0, garden("Acer palmatum"), now, raw)


def garden(species: str, *log: Entry, litres: float = 3.0) -> Garden:
    """One tree on a bench, with all that there is to protect it."""
    places = {place.id: place for place in (corner("bench", "bench"), corner("shed", "shed"))}
    return Garden(SITE, places, (tree("t", species, volume_l=litres),), log, rules(), PLENTY)


MAY, JANUARY = datetime(2026, 5, 8, 10, tzinfo=UTC), datetime(2026, 1, 12, 10, tzinfo=UTC)
MILD = ([6.0] * PAST_DAYS, [16.0] * PAST_DAYS)
SEVERED = Entry("t", "sever-layer", JANUARY - timedelta(days=100), roots="fair")
LEAF_OUT = Entry("t", "observe", MAY - timedelta(days=6), seen="leaf-out")


@pytest.mark.parametrize(
    ("species", "litres", "now", "low_c", "log"),
    [
        # Emerging leaves: LT50 of seven natives from -3.5 to -8.3 °C (Vitasse et al. 2014).
        ("Fagus sylvatica", 3.0, MAY.replace(hour=17), -9.0, (LEAF_OUT,)),
        # Young roots die from some -3 °C on (Studer et al. 1978, Mityga & Lanphear 1971): less than a litre in -16 °C.
        ("Buxus sempervirens", 0.8, JANUARY.replace(hour=14), -16.0, (SEVERED,)),
    ],
)
def test_a_night_beyond_any_published_limit_is_called_for_by_daylight(
    species: str, litres: float, now: datetime, low_c: float, log: tuple[Entry, ...]
) -> None:
    """Whoever looks for the first time when it is still light is told at once."""
    mean = MONTH_MEAN_C[now.month - 1]
    lows, highs = [mean - 3.0] * (PAST_DAYS + 1), [mean + 3.0] * (PAST_DAYS + 1)
    case = course(now, [*lows, low_c, mean - 3.0, mean - 3.0], [*highs, mean, mean + 3.0, mean + 3.0])
    case = without_past(replace(case, garden=garden(species, *log, litres=litres)), 48)
    outcome = plan(calls(judged(case)), (), (), case.garden.notices, now.astimezone(ZONE))
    assert {line.tree for notice in outcome.notices for line in notice.lines} == {"t"}


def test_leaves_that_may_have_been_protected_are_called_for_again() -> None:
    """
    A night of -4 °C in flush came, nobody logged anything, and another one comes.

    Whoever carried the tree in and did not say so must not lose it in the next night, because its leaves count as dead.
    """
    case = course(MAY, [*MILD[0], -4.0, -4.0, 6.0, 6.0], [*MILD[1], 9.0, 9.0, 15.0, 15.0])
    (one,) = judged(replace(case, garden=garden("Acer palmatum", LEAF_OUT))).trees
    assert one.lost.leaves > 0.5
    assert one.standing_loss > GRAVE
    assert one.chosen is not None


def test_fleece_that_was_forgotten_in_the_log_silences_no_frost() -> None:
    """Begun in February and never ended: after mild weeks nobody has it on, and the call asks for it, or for more."""
    case = course(MAY, [*MILD[0], 6.0, -2.0, 6.0, 6.0], [*MILD[1], 12.0, 9.0, 15.0, 15.0])
    begun = Entry("t", "begin", MAY - timedelta(days=80), measure="fleece")
    assessment = judged(without_past(replace(case, garden=garden("Acer palmatum", LEAF_OUT, begun)), 48))
    (call,) = calls(assessment)
    assert call.measure
    assert not call.in_force
    assert not call.begun
    assert call.stands_under == ""
    assert any("fleece over t was never ended" in said for said in assessment.assumed)


def test_nothing_of_the_day_hangs_on_the_date() -> None:
    """A day later the same weather a day later is told a day later."""
    case = course(MAY, [*MILD[0], 6.0, -3.0, 6.0, 6.0], [*MILD[1], 12.0, 9.0, 15.0, 15.0])
    day = timedelta(days=1)
    frame = case.raw.single.copy()
    frame.index = frame.index + day
    shifted = replace(case, now=case.now + day, raw=replace(case.raw, single=frame, issued_at=case.now + day))
    moved = [replace(LEAF_OUT, at=LEAF_OUT.at + by) for by in (timedelta(0), day)]
    first, second = (
        judged(without_past(replace(each, garden=garden("Acer palmatum", seen)), 48)).trees[0]
        for each, seen in ((case, moved[0]), (shifted, moved[1]))
    )
    assert first.spells
    assert [spell.hazard for spell in first.spells] == [spell.hazard for spell in second.spells]
    assert second.spells[0].starts - first.spells[0].starts == np.timedelta64(24, "h")
    assert second.standing_loss == pytest.approx(first.standing_loss, abs=0.02)


def main(count: int, first: int) -> int:
    """Ask all of so many seeds, print what is found, and return how often something was."""
    bad = 0
    for seed in range(first, first + count):
        for name, asked in ASKED.items():
            for said in asked(seed):
                bad += 1
                sys.stdout.write(f"{seed} {case_of(seed).now:%Y-%m-%d} {name}: {said}\n")
                sys.stdout.flush()
        found.cache_clear()
        case_of.cache_clear()
        sys.stderr.write(f"{seed} done\n")
    return bad


if __name__ == "__main__":
    sys.exit(bool(main(int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 0)))
