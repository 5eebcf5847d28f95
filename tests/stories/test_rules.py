"""The rules of every story would see what they forbid; the weather of a story is what its days say."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from carewatch.care.garden import Garden
from carewatch.care.log import Entry
from carewatch.config.load import load
from carewatch.config.tables import load_tables
from tests.stories.commons import LAYER_ON_A_LAWN
from tests.stories.cost import Fate, fates
from tests.stories.rules import broken
from tests.stories.scenarios.frost_firms_up import STORY
from tests.stories.shelf import DAILY, account_file, missing, names
from tests.stories.story import NOWHERE, SITE, Message
from tests.stories.watch import Watch
from tests.stories.weather import Day, course_of

BERLIN = ZoneInfo("Europe/Berlin")
NOON = datetime(2026, 11, 4, 13, tzinfo=BERLIN)
CALL = Message(
    NOON, "call", "Moderate", "phone", "Fleece over layer.", 18, (("d", "layer", "fleece"),), True, False, "n"
)


@pytest.fixture(scope="module")
def garden(tmp_path_factory: pytest.TempPathFactory) -> Garden:
    path = tmp_path_factory.mktemp("garden") / "config.toml"
    path.write_text(SITE.format(spot=NOWHERE, zone="Europe/Berlin") + LAYER_ON_A_LAWN, encoding="utf-8")
    return load(path, {}, NOON, load_tables()).garden


def _broken(garden: Garden, messages: Sequence[Message], lost: float = 0.0) -> list[str]:
    story = replace(STORY, in_peace=("pine",))
    served = [(datetime(2026, 11, 4, 7, tzinfo=UTC), story.truth().document(NOON, 2, 4))]
    watch = Watch(story, messages=list(messages), served=served, garden=garden, log_garden=garden)
    begins = datetime(2026, 11, 4, 7, tzinfo=BERLIN)
    document = story.truth().document(begins, 2, 4)
    came = fates(garden, garden, document, begins, begins + timedelta(days=2)) if lost else ()
    return broken(watch, tuple(came) or (Fate("layer", 0.0, 0.0, {}, None),))


def test_a_message_that_is_as_it_should_be_breaks_no_rule(garden: Garden) -> None:
    assert _broken(garden, [CALL]) == []


@pytest.mark.parametrize(
    ("message", "said"),
    [
        (replace(CALL, at=NOON.replace(hour=23)), "quiet hours"),
        (replace(CALL, whole=1001), "1001 characters"),
        (replace(CALL, text="It is safe then."), "says safe"),
        (replace(CALL, text="Frost, 87.5 % likely."), "decimals"),
        (replace(CALL, text="Brush the snow off the pots."), "clears snow"),
        (replace(CALL, lines=(("d", "pine", "fleece"),)), "left in peace"),
    ],
)
def test_what_is_never_said_is_seen(garden: Garden, message: Message, said: str) -> None:
    found = _broken(garden, [message])
    assert any(said in problem for problem in found), found


def test_a_severe_message_may_come_at_night(garden: Garden) -> None:
    assert _broken(garden, [replace(CALL, at=NOON.replace(hour=23), severity="Severe")]) == []


def test_a_fourth_push_of_a_day_is_seen(garden: Garden) -> None:
    four = [replace(CALL, at=NOON + timedelta(hours=hour), notice=f"n{hour}") for hour in range(4)]
    assert any("4 messages" in problem for problem in _broken(garden, four))


def test_a_tree_that_is_lost_in_silence_is_seen(garden: Garden) -> None:
    found = _broken(garden, [], lost=1.0)
    assert any("was not called" in problem for problem in found), found


def test_a_call_that_did_not_get_through_is_silence(garden: Garden) -> None:
    assert _broken(garden, [replace(CALL, arrived=False)], lost=1.0)


def test_what_is_undone_to_be_done_again_is_seen(garden: Garden) -> None:
    """Out of the fleece in the morning, into it again before noon."""
    back = replace(CALL, kind="bring-back", at=NOON - timedelta(hours=4), notice="back")
    assert any("undone Wed 09:00" in problem for problem in _broken(garden, [back, CALL]))
    assert not _broken(garden, [back, replace(CALL, lines=(("d", "layer", "move:shed"),))])
    assert not _broken(garden, [replace(back, at=NOON - timedelta(hours=25)), CALL])


def test_what_only_a_story_asks_for_is_asked_of_it(garden: Garden) -> None:
    story = replace(STORY, also=lambda watch, _: [f"{len(watch.messages)} messages"])
    assert broken(Watch(story, messages=[CALL], garden=garden, log_garden=garden), ()) == ["1 messages"]


def test_nobody_helps_an_unaided_garden_and_a_tree_that_came_later_is_not_in_it_before(garden: Garden) -> None:
    """What was done to a tree or seen on it counts from its hour on; what protects it does not."""
    told = [
        Entry(tree="layer", work=work, at=NOON, seen=seen, measure=measure)
        for work, seen, measure in (("observe", "hanging", None), ("begin", None, "fleece"), ("water", None, None))
    ]
    other = replace(garden.trees[0], id="other")
    there = replace(garden, trees=(*garden.trees, other))
    whole = replace(there, log=(*there.log, *told))
    watch = Watch(STORY, garden=there, log_garden=whole, came={"other": NOON})
    before, after = (watch.unaided(NOON + timedelta(hours=hours)) for hours in (-1, 1))
    assert (before.trees, after.trees) == (garden.trees, there.trees)
    assert set(before.log) == set(garden.log)
    assert set(after.log) - set(garden.log) == {told[0]}


def test_a_story_has_the_lows_and_highs_of_its_days() -> None:
    days = (Day(2.0, 9.0, 0.0), Day(-4.0, 6.0, -5.0), Day(1.0, 12.0, 3.0, rain_mm=8.0, rain_from_h=6, rain_hours=4))
    course = course_of(NOWHERE, date(2026, 11, 4), days)
    air, rain = course.hourly["temperature_2m"], course.hourly["rain"]
    assert air[24:48].min() == pytest.approx(-4.0, abs=0.2)
    assert air[48:].max() == pytest.approx(12.0, abs=0.2)
    assert rain.sum() == pytest.approx(8.0)
    assert np.count_nonzero(rain) == 4


def test_a_document_knows_the_truth_up_to_now_and_the_belief_after_it() -> None:
    truth = STORY.truth()
    wrong = STORY.foretold(STORY.foreseen[0])
    now = datetime(2026, 11, 4, 12, tzinfo=UTC)
    told = truth.until(now, wrong).document(now, 2, 3)["hourly"]
    at = told["time"].index(int(now.timestamp()))
    true = truth.document(now, 2, 3)["hourly"]
    assert told["temperature_2m"][: at + 1] == true["temperature_2m"][: at + 1]
    assert told["temperature_2m"] != true["temperature_2m"]


def test_every_story_has_a_account_and_no_account_is_without_its_story() -> None:
    kept = {file.stem for file in account_file("any").parent.glob("*.txt")}
    assert kept <= set(names())
    assert {name for name in names() if not missing(name)} <= kept
    assert set(DAILY) <= set(names())
