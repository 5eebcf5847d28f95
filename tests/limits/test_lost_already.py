"""What was lost already is not at stake again: nights that came, what was seen since, and what is left to lose."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from carewatch.assess import assess, begin
from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.care.whole_log import with_log
from carewatch.cli.explain import _lost_steps
from carewatch.config.load import load
from carewatch.exposure.toll import Toll, no_toll
from carewatch.forecast.weather import Weather
from carewatch.limits.damage import DOUBT, of_the_rest, root_loss
from carewatch.limits.lost_already import (
    HARMLESS_FROM_C,
    NEVER_SEEN,
    NOTHING,
    Losses,
    OnADay,
    lost_already,
    that_counts,
    with_toll,
)
from carewatch.limits.tolerance import SECOND_FLUSH_K, Tolerance
from tests.condition.grown import TABLES, on, year_like
from tests.limits.felt import judged, limits_of, uneventful
from tests.outlook.gardens import LAWN, seen, severed, tree
from tests.stories.cost import _numbers, certain
from tests.stories.story import NOWHERE, SITE
from tests.stories.weather import Course, Day, course_of

ZONE = "Europe/Berlin"
MILD = Day(6.0, 13.0, 6.0, cloud=60)
FROST = Day(-3.0, 9.0, -3.5, cloud=10, cloud_night=0, wind_ms=2.0, calm_ms=0.6)
GARDEN = (
    "[stock]\nfleece_m2 = 8\nnet_m2 = 0\ntents = 0\nmulch = false\n"
    + LAWN
    + tree("old", "lawn", seen("mature", "2026-10-17"), pot="volume_l = 20")
    + tree("layer", "lawn", severed("sparse", "2026-09-10"), seen("mature", "2026-10-17"), worth="2")
)


def at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(ZONE))


def green() -> Tolerance:
    """A maple in ripe green leaf."""
    return limits_of(on("2026-07-01", [], year_like("2024-09-01", "2027-12-31")), "2026-07-01")


def taken(felt_c: float, limits: Tolerance, leaves_seen: str = "", **felt: Any) -> Toll:
    """Toll of one day of a tree in leaf; leaves_seen: UTC."""
    unseen = np.array([NEVER_SEEN])
    seen_at = np.array([leaves_seen], dtype="datetime64[s]") if leaves_seen else unseen
    trees = OnADay(limits, np.ones(1), np.ones(1))
    return Losses(lambda: trees, None, seen_at, unseen)(uneventful(tissue_c=felt_c, **felt), no_toll(1))


def test_what_lived_through_a_night_lives_through_one_like_it() -> None:
    """Parts that bear least go first: a night takes what it kills of the whole beyond the worst one before it."""
    assert of_the_rest(np.array([0.3, 0.2, 0.3, 0.65, 1.0]), np.array([0.0, 0.3, 0.3, 0.3, 0.3])) == pytest.approx(
        [0.3, 0.0, 0.0, 0.5, 1.0]
    )


@pytest.mark.parametrize("taken_before", [0.0, 0.2, 0.5, 0.9])
def test_roots_are_lost_in_two_nights_as_in_one(taken_before: float) -> None:
    """What can be spared is spared once."""
    whole, rest = np.linspace(taken_before, 1.0, 7), np.ones(7)
    later = of_the_rest(whole, taken_before)
    first = root_loss(np.array([taken_before]), rest[:1], 0.4)
    assert first + root_loss(later, rest, 0.4, taken_before) == pytest.approx(root_loss(whole, rest, 0.4))


@pytest.mark.parametrize(
    ("hazard", "first", "second", "doubt"),
    [
        ("frost", {"tissue_c": -3.5}, {"tissue_c": -4.5}, DOUBT),
        ("root-freeze", {"shells_c": -8.0}, {"shells_c": -10.0}, 0.0),
    ],
)
def test_a_second_day_costs_what_it_adds_to_the_first(
    hazard: str, first: dict[str, Any], second: dict[str, Any], doubt: float
) -> None:
    """
    By the same curves: the first day's harm and what is told of the second add up to that of the second alone.

    Where it is doubted that the first took anything, the second costs in that case what it costs alone.
    """
    limits = green()
    air: dict[str, Any] = {"tissue_c": 12.0}
    one, two = ({**air, **felt} for felt in (first, second))
    toll = taken(one.pop("tissue_c"), limits, **one)
    one = {**air, **first}
    rest = with_toll(limits, toll)
    before, alone = judged(uneventful(**one), limits), judged(uneventful(**two), limits)
    again, after = judged(uneventful(**one), rest), judged(uneventful(**two), rest)
    assert float(before.damage[hazard][0, 0]) > 0.02
    once, twice, both = (float(each.loss[hazard][0, 0]) for each in (before, after, alone))
    assert float(again.loss[hazard][0, 0]) == pytest.approx(doubt * once, abs=1e-9)
    assert float(again.total()[0, 0]) == pytest.approx(doubt * once, abs=1e-9)
    assert twice == pytest.approx((1.0 - doubt) * (both - once) + doubt * both)
    assert float(after.damage[hazard][0, 0]) > 0.02


def test_other_hazards_find_only_what_frost_left() -> None:
    """Leaves that froze neither burn nor tear; half of them are taken to live, for nobody has seen them dead."""
    limits = green()
    rest = with_toll(limits, taken(-4.5, limits))
    assert float(rest.leaf_weight[0]) == pytest.approx(0.75 * float(limits.leaf_weight[0]))
    burnt, all_of_it = (float(judged(uneventful(tissue_c=46.0), given).loss["heat"][0, 0]) for given in (rest, limits))
    assert burnt == pytest.approx(0.75 * all_of_it)


def test_what_was_seen_wins_over_the_hours_before_it_and_not_over_those_after() -> None:
    """The uneventful day is 1 January 2026; leaves seen on it in the evening, or the day before."""
    limits = green()
    assert float(taken(-4.5, limits, "2026-01-02T06:00").leaves[0, 0]) == 0.0
    assert float(taken(-4.5, limits, "2025-12-31T20:00").leaves[0, 0]) == pytest.approx(0.5)
    told = lost_already(taken(-4.5, limits))[0]
    assert told.leaves == pytest.approx(0.5)
    assert told.leaves_since == date(2026, 1, 1)
    assert lost_already(no_toll(1)) == (NOTHING,)
    (step,) = _lost_steps(told)
    assert step.value == "of its leaves about 50 % are probably lost since Thu 1 Jan"
    assert _lost_steps(NOTHING) == []


def test_what_was_lost_before_is_gone_when_leaves_are_seen_later() -> None:
    """A toll carried to a stretch in which the leaves are seen is given up; that of the roots is not."""
    limits = green()
    before = taken(-4.5, limits, shells_c=-10.0)
    unseen, evening = np.array([NEVER_SEEN]), np.array(["2026-01-01T20:00"], dtype="datetime64[s]")
    counts = Losses(lambda: OnADay(limits, np.ones(1), np.ones(1)), None, evening, unseen)
    after = counts(uneventful(), before)
    assert float(after.leaves[0, 0]) == float(after.leaves_since[0, 0]) == 0.0
    assert float(after.roots[0, 0]) == float(before.roots[0, 0]) > 0.02


Weeks = tuple[str, tuple[Day, ...]]


@cache
def _truth(first: str, days: tuple[Day, ...]) -> Course:
    return course_of(NOWHERE, datetime.fromisoformat(first).date(), days)


OCTOBER: Weeks = ("2026-10-17", (MILD, MILD, MILD, Day(3.0, 9.0, -3.0, cloud=10), FROST, FROST, FROST, *[MILD] * 6))


def grown(tmp_path: Path, moment: datetime, text: str = GARDEN, course: Weeks = OCTOBER) -> tuple[Garden, Weather]:
    """A garden and its weather, known for certain, at a moment."""
    path = tmp_path / "config.toml"
    path.write_text(SITE.format(spot=NOWHERE, zone=ZONE) + text, encoding="utf-8")
    garden = load(path, {}, moment, TABLES).garden
    return garden, certain(garden, _truth(*course).document(moment, 5, 4), moment)


def standing(tmp_path: Path, moment: str, *entries: Entry) -> tuple[float, float]:
    """What the layer is expected to lose from a moment on, and the share of its leaves that is gone."""
    garden, weather = grown(tmp_path, at(moment))
    found = assess(with_log(garden, entries), weather, _numbers(), at(moment))
    return found.trees[1].standing_loss, found.trees[1].lost.leaves


def test_a_night_that_came_is_off_what_the_next_one_may_take(tmp_path: Path) -> None:
    """Over a spell of three nights alike, what is still expected falls with each, and leaves seen whole restore it."""
    evening, gone = standing(tmp_path, "2026-10-20T16:00")
    morning, took = standing(tmp_path, "2026-10-21T11:00")
    last, more = standing(tmp_path, "2026-10-22T11:00")
    assert gone == 0.0
    assert 0.1 < took < more < 0.9
    assert last < morning < 0.75 * evening
    whole, none = standing(tmp_path, "2026-10-21T11:00", _told("mature", "2026-10-21T10:00"))
    assert none == 0.0
    assert whole > 1.3 * morning
    burnt, none = standing(tmp_path, "2026-10-21T11:00", _told("scorch", "2026-10-21T10:00", 0.6))
    assert none == 0.0
    assert burnt == pytest.approx(0.4 * whole, rel=0.1)
    # Seen before the night, it says nothing of it.
    assert standing(tmp_path, "2026-10-21T11:00", _told("mature", "2026-10-20T15:00"))[1] == pytest.approx(took)


def _told(what: str, moment: str, removed: float | None = None) -> Entry:
    return Entry("layer", "observe", at(moment), seen=what, removed=removed)


def test_fleece_that_was_on_in_the_night_counts(tmp_path: Path) -> None:
    on_in_time = Entry("layer", "begin", at("2026-10-20T16:00"), measure="fleece")
    bare, covered = (standing(tmp_path, "2026-10-21T11:00", *log)[1] for log in ((), (on_in_time,)))
    assert covered < 0.6 * bare


def test_a_frost_before_the_leaves_came_out_takes_none_of_them(tmp_path: Path) -> None:
    """Buds at -6 °C a week before leaf-out; each day counts by what the tree was on it."""
    text = "[stock]\nfleece_m2 = 0\nnet_m2 = 0\ntents = 0\nmulch = false\n" + LAWN
    text += tree("old", "lawn", seen("bud-swell", "2026-04-05"), seen("leaf-out", "2026-04-20"))
    spring = Day(4.0, 15.0, 4.0, cloud=50)
    course = ("2026-04-07", (spring, spring, spring, FROST.but(low_c=-5.0), *[spring] * 14))
    moment = at("2026-04-22T11:00")
    garden, weather = grown(tmp_path, moment, text, course)
    toll = begin(garden, weather, _numbers(), moment).toll
    assert float(toll.leaves[0, 0]) == 0.0


def test_it_is_the_same_with_a_checkpoint_and_without_at_every_hour(tmp_path: Path) -> None:
    kept = None
    for hours in (0, 5, 6, 7, 18, 30, 31):
        moment = at("2026-10-20T20:00") + timedelta(hours=hours)
        garden, weather = grown(tmp_path, moment)
        plain, used = (begin(garden, weather, _numbers(), moment, given) for given in (None, kept))
        assert plain.checkpoint == used.checkpoint
        for name in vars(plain.toll):
            assert np.array_equal(getattr(plain.toll, name), getattr(used.toll, name)), (hours, name)
        kept = used.checkpoint
    assert float(plain.toll.leaves.min()) > 0.05


def test_midnight_moves_nothing_by_a_jump(tmp_path: Path) -> None:
    """Between two hours without frost what is gone stays what it was, though the day is now counted with the others."""
    shares = []
    for hour in range(11):
        moment = at("2026-10-24T19:00") + timedelta(hours=hour)
        garden, weather = grown(tmp_path, moment)
        shares.append(begin(garden, weather, _numbers(), moment).toll.leaves[0])
    assert float(np.min(shares)) > 0.1
    assert float(np.abs(np.diff(np.array(shares), axis=0)).max()) < 0.1


def test_no_organ_of_the_tables_begins_to_freeze_in_weather_that_is_passed_over() -> None:
    """The curve is at nothing 1.1 of the way from the dose of 10 % to that of 50 % before the first."""
    begins = [
        tenth + 1.1 * (tenth - half)
        for species in map(TABLES.species_for, TABLES.known_species())
        for tenth, half in (*species.frost_c.values(), species.root_young_c, species.root_october_c)
    ]
    assert len(begins) > 100
    assert max(begins) + TABLES.hazards.wet_frost_shift_k + SECOND_FLUSH_K < HARMLESS_FROM_C


def test_what_nobody_sees_silences_nothing() -> None:
    """Of what was worked out only leaves count: roots that were protected and not logged would be given up for dead."""
    toll = replace(
        no_toll(1),
        leaves=np.array([[0.4]]),
        buds=np.array([[0.6]]),
        roots=np.array([[0.99]]),
        leaves_since=np.array([[20000.0]]),
        roots_since=np.array([[20000.0]]),
    )
    left = that_counts(toll)
    assert float(left.leaves[0, 0]) == 0.4
    assert float(left.roots[0, 0]) == float(left.buds[0, 0]) == 0.0
    told = lost_already(left)[0]
    assert told.roots_since is None
    assert told.leaves_since is not None


def test_weather_that_was_assumed_has_taken_nothing(tmp_path: Path) -> None:
    """A record that begins after the night, whose first day stands for those before it, knows of no loss."""
    moment = at("2026-10-24T12:00")
    path = tmp_path / "config.toml"
    path.write_text(SITE.format(spot=NOWHERE, zone=ZONE) + GARDEN, encoding="utf-8")
    garden = load(path, {}, moment, TABLES).garden
    for past_days, lost in ((5, True), (0, False)):
        weather = certain(garden, _truth(*OCTOBER).document(moment, past_days, 4), moment)
        assert (float(begin(garden, weather, _numbers(), moment).toll.leaves[0, 1]) > 0.1) == lost
