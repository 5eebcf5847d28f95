"""A gale on a freshly tied layer and on an untied one beside it."""

import re
from collections.abc import Iterator, Sequence

from tests.outlook.gardens import PLACE, seen, severed, tree
from tests.stories.story import DONE, Message, Said, Story
from tests.stories.weather import Day

DULL = Day(9.0, 15.0, 9.0, cloud=70, wind_ms=4.0)
TALL = {"height_cm": "60", "crown_cm": "40"}

STORY = Story(
    title="A gale on fresh layers",
    about="Invented. Two layers severed in the middle of September in pots of five litres on a bench north of the "
    "house; one is tied to its pot, the other is not. In the afternoon of 3 October a gale comes.",
    garden="[stock]\nfleece_m2 = 0\nnet_m2 = 3\ntents = 0\nmulch = false\n"
    + PLACE.format("north-side", "shade")
    + "height_m = 0.8\nsky_view = 0.7\nshelter = 0.0\n"
    + tree("tied", "north-side", severed("fair", "2026-09-16"), seen("mature", "2026-09-28"), **TALL)
    + tree("untied", "north-side", severed("fair", "2026-09-16", tied=False), seen("mature", "2026-09-28"), **TALL),
    first="2026-09-29",
    days=(
        DULL,
        DULL,
        DULL,
        DULL.but(wind_ms=6.0, gust_ms=11.0),
        Day(10.0, 14.0, 9.0, cloud=95, wind_ms=14.0, calm_ms=7.0, gust_ms=27.0),  # 3 October
        Day(8.0, 13.0, 7.0, cloud=60, wind_ms=5.0, calm_ms=9.0, gust_ms=15.0),
        DULL,
        DULL,
        DULL,
        DULL,
    ),
    watch_from="2026-10-01 07:00",
    watch_to="2026-10-04 18:00",
    foreseen=(
        Said("2026-10-01 07:00", {"2026-10-03": {"wind_ms": 11.0, "gust_ms": 21.0}}),
        Said("2026-10-02 07:00"),
    ),
    person=DONE,
)


def holds(messages: Sequence[Message]) -> Iterator[str]:
    """The untied one is held in daylight before the gale; neither is laid down or carried, and the ties stay."""
    asked = [(message, line) for message in messages if message.kind == "call" for line in message.lines]
    if not any(name == "untied" and "tie-down" in measure for _, (_, name, measure) in asked):
        yield "nobody is asked to tie the untied layer"
    for message, (_, name, measure) in asked:
        if "lay-down" in measure or "move" in measure:
            yield f"{name}: {measure} of a fresh layer"
        if (message.at.day, message.at.hour) > (3, 9):
            yield f"called {message.at:%a %H:%M}: the gale is rising"
    told = "\n".join(message.text for message in messages).lower()
    if "lay down" in told or ("asked" in told and "lay it down" in told):
        yield "a layer of sixteen days is to be laid down"
    back = [message for message in messages if message.kind == "bring-back"]
    if any("tie" in measure for message in back for _, _, measure in message.lines):
        yield "the ties of a fresh layer are to come off"
    if any(message.at.day < 4 for message in back):
        yield "something is taken away before the gale is over"
    for message in messages:
        for day in re.findall(r"will be asked \w{3} (\d+) Oct", message.text):
            if int(day) < message.at.day:
                yield f"{message.at:%a %H:%M}: something will be asked on {day} October, which is over"
