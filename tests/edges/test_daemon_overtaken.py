"""A channel that is down for hours: what is overtaken meanwhile does not arrive behind what overtook it."""

import json
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from tests.edges.watched import CALL, MORNING, Watched, cold_night, web_service

# Two in the afternoon in the garden.


@pytest.fixture
def garden(tmp_path: Path) -> Iterator[Watched]:
    with web_service() as web:
        watched = Watched(tmp_path, web)
        watched.plant()
        watched.once(MORNING)
        web.sink_status["phone"] = 503
        assert "call" in [notice["kind"] for notice in watched.once(CALL)["notices"]]
        yield watched


def failures(garden: Watched) -> dict[str, str]:
    """By kind of notice, how its row to the phone was given up; "" for one that was sent or waits."""
    rows = {row.notice: row.failure for row in garden.rows()}
    return {notice.kind: rows[notice.id] for notice in garden.notices() if notice.id in rows}


def test_what_was_answered_meanwhile_is_not_asked_for_when_the_channel_is_back(garden: Watched) -> None:
    """The grower saw it with the command `rounds` and did it: the call that waits has nothing to say any more."""
    garden.set_clock(CALL + timedelta(minutes=20))
    code, out, _ = garden.ran("answer", "last", "maple-layer-1", "done", "--json")
    assert (code, json.loads(out)["kind"]) == (0, "call")

    garden.web.sink_status["phone"] = 200
    garden.web.posts.clear()
    garden.once(CALL + timedelta(minutes=30))

    assert failures(garden)["call"] == "withdrawn"
    assert not [post for post in garden.web.posts if post["title"].startswith("Put ")]
    # It is not lost either: nobody needs to hear of an earlier message that could not be delivered.
    assert not [post for post in garden.web.posts if "could not be delivered" in post["message"]]


def test_a_call_that_still_holds_arrives_when_the_channel_is_back(garden: Watched) -> None:
    garden.web.sink_status["phone"] = 200
    garden.web.posts.clear()
    garden.once(CALL + timedelta(minutes=30))

    assert failures(garden)["call"] == ""
    (call,) = [post for post in garden.web.posts if "fleece" in post["title"]]
    assert len(call["attachments"]) == 1


def test_a_call_off_is_not_followed_by_the_call(garden: Watched) -> None:
    """Two newer forecasts see no frost: the danger is stood down before the channel has taken the call."""
    mild = cold_night()
    for name in ("temperature_2m", "dew_point_2m"):
        mild["hourly"][name] = [value + 12.0 for value in mild["hourly"][name]]
    garden.web.weather = mild
    garden.once(CALL + timedelta(minutes=40))
    mild["hourly"]["temperature_2m"] = [value + 0.1 for value in mild["hourly"]["temperature_2m"]]
    said = garden.once(CALL + timedelta(minutes=80))
    assert "stand-down" in [notice["kind"] for notice in said["notices"]]

    garden.web.sink_status["phone"] = 200
    garden.web.posts.clear()
    garden.once(CALL + timedelta(hours=2))

    assert failures(garden)["call"] == "withdrawn"
    assert not [post for post in garden.web.posts if post["title"].startswith("Put ")]
