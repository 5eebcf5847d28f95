"""Pictures of messages: drawn for calls alone, sent along, kept over a crash, and never in the way of the words."""

import base64
import io
import os
import subprocess
import sys
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from carewatch.daemon import pictures, wiring
from carewatch.delivery.wording import AGAIN
from carewatch.sqlite.database import Database
from carewatch.sqlite.pictures import LARGEST, picture_of_notice
from carewatch.worker.host import Host, TaskFailed
from tests.edges.watched import CALL, MORNING, Watched

# Two in the afternoon in the garden.


def calls_of(garden: Watched) -> list[dict[str, Any]]:
    """What the phone was sent of calls; a single line comes without a title."""
    titles = {notice.title for notice in garden.notices() if notice.kind == "call"}
    firsts = [(post["title"] or post["message"].partition("\n")[0], post) for post in garden.web.posts]
    return [post for first, post in firsts if first.removeprefix(AGAIN) in titles]


def test_a_call_carries_a_picture_and_what_asks_for_no_work_carries_none(garden: Watched) -> None:
    garden.once(MORNING)
    said = garden.once(CALL)

    assert "call" in [notice["kind"] for notice in said["notices"]]
    (call,) = [post for post in garden.web.posts if post["attachments"]]
    (sent,) = call["attachments"]
    png = base64.b64decode(sent["base64"])
    assert sent["filename"] == "forecast.png"
    assert len(png) <= LARGEST
    picture = Image.open(io.BytesIO(png))
    assert picture.format == "PNG"
    assert picture.info["Title"] == "maple-layer-1: frost"
    # The message stands alone: what the picture says is in it.
    assert "maple-layer-1" in call["title"] + call["message"]
    assert "°C" in call["message"]
    if folder := os.environ.get("CAREWATCH_SHOW_PICTURES"):
        (Path(folder) / "call.png").write_bytes(png)


def test_a_picture_survives_a_crash_between_storing_and_sending(garden: Watched) -> None:
    garden.once(MORNING)
    assert garden.once_killed(CALL, "before-send")
    assert not calls_of(garden)

    garden.once(CALL + timedelta(minutes=3))

    assert [len(post["attachments"]) for post in calls_of(garden)] == [1]


@pytest.mark.parametrize("trouble", ["raises", "too large", "no matplotlib"])
def test_a_picture_that_cannot_be_drawn_costs_the_message_nothing(
    garden: Watched, trouble: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_: object) -> bytes:
        if trouble == "raises":
            raise TaskFailed("too-long", "the task took longer than 30 s and was ended")
        if trouble == "no matplotlib":
            raise ImportError("no module named matplotlib")
        return b"x" * (LARGEST + 1)

    monkeypatch.setattr(wiring, "draw_picture", broken)
    garden.once(MORNING)
    said = garden.once(CALL)

    assert said["code"] == 0
    assert [len(post["attachments"]) for post in calls_of(garden)] == [0]
    assert "No picture for notice" in said["logged"]


def test_a_dry_run_and_a_garden_without_channels_draw_nothing(garden: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn: list[object] = []

    def draw(picture: object) -> bytes:
        drawn.append(picture)
        return b"x"

    monkeypatch.setattr(wiring, "draw_picture", draw)
    garden.once(MORNING)
    garden.once(CALL, "--dry-run")
    garden.plant(channels="")
    garden.once(CALL)

    assert drawn == []
    now = CALL + timedelta(minutes=1)
    with Database.open_for_reading(garden.database, now) as database, database.snapshot(now) as snapshot:
        assert [picture_of_notice(snapshot, notice.id) for notice in garden.notices() if notice.kind == "call"] == [
            None
        ]


def test_after_two_tries_the_words_go_alone(garden: Watched) -> None:
    """A line that is too weak for the picture must not lose the message."""
    garden.once(MORNING)
    garden.web.sink_status["phone"] = 503
    for minute in (0, 3, 6, 9):
        garden.once(CALL + timedelta(minutes=minute))

    assert [len(post["attachments"]) for post in calls_of(garden)] == [1, 1, 0, 0]


def test_drawing_past_its_limit_is_ended_and_the_worker_goes_on() -> None:
    with Host(limit_s=60, idle_s=60) as host:
        with pytest.raises(TaskFailed, match="longer than 0 s"):
            host.call("time.sleep", 30, 0.2)
        assert host.call("math.sqrt", 4.0) == 2.0


def test_the_daemon_s_part_loads_no_matplotlib() -> None:
    heavy = "matplotlib numpy PIL".split()
    loads = f"import sys, {wiring.__name__}, {pictures.__name__}"
    program = f"{loads}; print(*[name for name in {heavy} if name in sys.modules])"
    said = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert said.stdout.split() == []
