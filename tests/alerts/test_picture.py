"""What a message's picture shows: the worst tree of each hazard, cut to hours that can be read on a phone."""

import itertools
import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from carewatch.alerts.call import SpellFacts, TreeCall
from carewatch.alerts.picture import (
    FAR_OFF,
    LEAST_HOURS,
    MOST_HOURS,
    MOST_PANELS,
    Course,
    is_near,
    picture_of,
)
from carewatch.alerts.picture_words import scale_of
from carewatch.limits.judge import HAZARDS, UNITS

BERLIN = ZoneInfo("Europe/Berlin")
NOW = datetime(2026, 11, 5, 14, 5, tzinfo=BERLIN)
HOUR = timedelta(hours=1)
FROST = SpellFacts(
    hazard="frost",
    organ="leaves",
    starts=NOW + 9 * HOUR,
    ends=NOW + 18 * HOUR,
    peak_at=datetime(2026, 11, 6, 6, tzinfo=BERLIN),
    peak=-5.2,
    limit=-2.4,
    unit="°C",
    probability=0.85,
    damage=0.4,
    loss=0.2,
    loss_if=0.24,
    severity="Moderate",
    certainty="Likely",
)
LAYER = TreeCall(
    tree="maple-layer-1",
    place="bench",
    layer=True,
    spells=(FROST,),
    measure="fleece",
    in_force=False,
    why="",
    standing_loss=0.2,
    loss_with=0.02,
    minutes=10,
    act_by=datetime(2026, 11, 5, 16, 40, tzinfo=BERLIN),
    undo_at=datetime(2026, 11, 6, 9, tzinfo=BERLIN),
    harm="",
    caution="",
    rejected="",
    rejected_why="",
)
DRYING = replace(FROST, hazard="drying", peak=0.31, limit=0.12, unit="share of leaf water", loss=0.1)
MAPLE = replace(LAYER, tree="old-maple", spells=(DRYING,), measure="water", undo_at=None)


def course_of(call: TreeCall, hours: int = 120, begins: datetime | None = None) -> Course:
    """A made-up daily course round the limit of the worst spell, of three members a fifth apart."""
    spell = call.worst
    middle = [spell.limit * (1.0 + math.sin(hour / 24 * 2 * math.pi)) for hour in range(hours)]
    return Course(
        tree=call.tree,
        hazard=spell.hazard,
        begins=begins or datetime(2026, 11, 5, 11, tzinfo=UTC),
        low=tuple(value - 0.2 for value in middle),
        middle=tuple(middle),
        high=tuple(value + 0.2 for value in middle),
        cold=spell.hazard == "frost",
        nights=((datetime(2026, 11, 5, 15, 40, tzinfo=UTC), datetime(2026, 11, 6, 6, 20, tzinfo=UTC)),),
    )


def test_the_worst_tree_of_each_hazard_has_a_panel_and_two_are_enough() -> None:
    twin = replace(LAYER, tree="maple-layer-2", spells=(replace(FROST, loss=0.3),))
    wind = replace(LAYER, tree="pine", spells=(replace(FROST, hazard="wind", unit="m/s", loss=0.05),))
    calls = [wind, MAPLE, LAYER, twin]
    made = picture_of([call.tree for call in calls], calls, [course_of(call) for call in calls], NOW)

    assert made is not None
    assert [panel.heading for panel in made.panels] == ["maple-layer-2: frost", "old-maple: drying out"]
    assert MOST_PANELS == 2
    assert made.caption == (
        "maple-layer-2: frost: leaves −5 °C tomorrow about 6:00, limit −2.5 °C, likely (85 %). "
        "old-maple: drying out: leaf water lost 31 % tomorrow about 6:00, limit 12 %, likely (85 %)."
    )


def test_only_trees_of_the_message_that_are_asked_for_work_are_shown() -> None:
    courses = [course_of(LAYER), course_of(MAPLE)]
    told_not_asked = replace(LAYER, measure="")

    assert picture_of([], [LAYER, MAPLE], courses, NOW) is None
    assert picture_of(["maple-layer-1"], [told_not_asked, MAPLE], courses, NOW) is None
    assert picture_of(["maple-layer-1"], [LAYER], [course_of(MAPLE)], NOW) is None
    made = picture_of(["old-maple"], [LAYER, MAPLE], courses, NOW)
    assert made is not None
    assert [panel.heading for panel in made.panels] == ["old-maple: drying out"]


def test_numbers_are_in_the_unit_that_the_message_says() -> None:
    """A share of leaf water is told per cent, a temperature as it is."""
    made = picture_of(["old-maple", "maple-layer-1"], [LAYER, MAPLE], [course_of(LAYER), course_of(MAPLE)], NOW)
    assert made is not None
    frost, drying = made.panels

    assert (frost.unit, frost.limit, frost.peak) == ("°C", -2.4, -5.2)
    assert drying.unit == "%"
    assert [drying.limit, drying.peak] == pytest.approx([12.0, 31.0])
    # At 13:00 UTC, two hours after the course began: sin(30°) above the limit of 12 %.
    assert drying.times[1] == datetime(2026, 11, 5, 13, tzinfo=UTC)
    assert drying.middle[1] == pytest.approx(12.0 * 1.5)
    assert (frost.deadline, frost.undoing) == ("act before 16:40", "undo tomorrow 9:00")
    assert drying.undoing == ""


def test_every_hazard_has_words_for_its_picture() -> None:
    """Units of the engine, such as "share of leaf water", are no words for a grower."""
    for kind in HAZARDS:
        spell = replace(FROST, hazard=kind, unit=UNITS[kind])
        what, _, unit, _ = scale_of(spell)
        assert what
        assert unit in ("°C", "%", "kWh/m²", "m/s", "hours", "°C·h", "times", "mm", "days"), kind


def test_the_sun_of_a_day_is_marked_where_its_sum_is_full_and_without_an_hour() -> None:
    """The hour of a spell of sun is that in which it hurts most; on the curve of the day's sum it would lie nowhere."""
    at = datetime(2026, 11, 6, 12, tzinfo=BERLIN)
    sun = replace(FROST, hazard="sun", unit="kWh/m²·d", peak=6.9, limit=2.0, peak_at=at)
    call = replace(LAYER, spells=(sun,))
    # From 6:00 to 16:00 it grows to 7; the hour that ends at 1:00 begins anew. The first one ends at 12:00 in Berlin.
    day = [7.0 * min(1.0, max(0.0, ((hour + 11) % 24 - 5) / 10)) for hour in range(120)]
    course = replace(course_of(call), low=tuple(day), middle=tuple(day), high=tuple(day))
    made = picture_of(["maple-layer-1"], [call], [course], NOW)
    assert made is not None

    assert made.panels[0].worst == "6.9 kWh/m²"
    assert made.panels[0].worst_at == datetime(2026, 11, 6, 16, tzinfo=BERLIN)
    assert "direct sun 6.9 kWh/m² tomorrow, limit 2.0 kWh/m²" in made.caption


@pytest.mark.parametrize(("ends_in_h", "shown_h"), [(18, LEAST_HOURS), (60, 69), (200, MOST_HOURS)])
def test_the_hours_shown_reach_past_the_spell_and_no_further_than_can_be_read(ends_in_h: int, shown_h: int) -> None:
    call = replace(LAYER, spells=(replace(FROST, ends=NOW + ends_in_h * HOUR),))
    made = picture_of(["maple-layer-1"], [call], [course_of(call)], NOW)
    assert made is not None
    (panel,) = made.panels

    assert len(panel.times) == len(panel.low) == len(panel.middle) == len(panel.high) <= 100
    assert NOW - 2 * HOUR <= panel.times[0] <= NOW
    assert timedelta(0) <= NOW + shown_h * HOUR - panel.times[-1] < HOUR


def test_a_night_in_which_clocks_change_keeps_its_hours() -> None:
    """Berlin, 25 October 2026: the hour from 2 to 3 comes twice, and every point is one hour after the last."""
    now = datetime(2026, 10, 24, 18, tzinfo=BERLIN)
    shift = now - NOW
    spell = replace(FROST, starts=FROST.starts + shift, ends=FROST.ends + shift, peak_at=FROST.peak_at + shift)
    call = replace(LAYER, spells=(spell,), act_by=now + HOUR, undo_at=None)
    made = picture_of(["maple-layer-1"], [call], [course_of(call, begins=now.astimezone(UTC))], now)
    assert made is not None
    stamps = [moment.timestamp() for moment in made.panels[0].times]

    assert {later - earlier for earlier, later in itertools.pairwise(stamps)} == {3600.0}
    assert [moment.hour for moment in made.panels[0].times][8:11] == [2, 2, 3]


def test_a_course_that_ends_before_now_gives_no_picture() -> None:
    old = course_of(LAYER, begins=datetime(2026, 10, 1, tzinfo=UTC))
    assert picture_of(["maple-layer-1"], [LAYER], [old], NOW) is None


def test_courses_are_kept_for_calls_that_may_soon_be_made() -> None:
    assert is_near(replace(LAYER, act_by=NOW + FAR_OFF), NOW)
    assert not is_near(replace(LAYER, act_by=NOW + FAR_OFF + HOUR), NOW)
