"""Carried into shade for four hot days: back by stages when the heat is over, not kept for sun it grew unused to."""

from collections.abc import Iterator, Sequence
from datetime import timedelta

from tests.outlook.gardens import NO_STOCK, PLACE, SHADE, seen, tree
from tests.stories.story import DONE, Message, Said, Story
from tests.stories.weather import Day

FAIR = Day(14.0, 24.0, 12.0, cloud=10, wind_ms=2.5)
HOT = Day(19.0, 37.0, 10.0, cloud=5, cloud_night=5, wind_ms=4.0, calm_ms=1.0)

STORY = Story(
    title="Back from the shade after a heat",
    about="Invented. A maple in a small black pot on a sunny terrace, and a shady corner with room. From 10 July on "
    "four days of 37 °C, then a fortnight of fair, sunny days: with each day in shade its leaves grow softer.",
    garden=NO_STOCK
    + PLACE.format("terrace", "wall")
    + SHADE
    + tree(
        "maple",
        "terrace",
        seen("leaf-out", "2026-04-20"),
        seen("mature", "2026-05-22"),
        pot="volume_l = 4",
        worth="3",
    ),
    first="2026-07-06",
    days=(*(FAIR,) * 4, *(HOT,) * 4, *(FAIR,) * 14),
    watch_from="2026-07-09 07:00",
    watch_to="2026-07-22 18:00",
    foreseen=(Said("2026-07-09 07:00"),),
    person=DONE,
    every=timedelta(hours=12),
)


def holds(messages: Sequence[Message]) -> Iterator[str]:
    """Asked for once, brought back once, in the evening after the heat, and by stages."""
    asked = [message.kind for message in messages if message.kind in ("call", "worse", "repeat")]
    if asked != ["call"]:
        yield f"asked for by {asked}"
    back = [message for message in messages if message.kind == "bring-back"]
    if [(message.at.day, message.at.hour >= 15) for message in back] != [(14, True)]:
        yield f"back on {[f'{message.at:%a %d %H:%M}' for message in back]}, not once in the evening of the 14th"
    yield from ("not by stages" for message in back if "four in half sun, then the old place" not in message.text)
