"""Fleece taken off by hand between two frost nights, and logged: it is asked for again, and ended once."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from tests.stories.scenarios.two_frost_nights import STORY as TWO_NIGHTS
from tests.stories.story import Does, Message

STORY = replace(
    TWO_NIGHTS,
    title="Fleece taken off and logged between two frost nights",
    about="Invented. The two nights of the story before: on the morning between them the grower takes the fleece off, "
    "logs its end, and would leave it off.",
    does=(Does("2026-11-05 09:10", "log layer end fleece-double"),),
)


def holds(messages: Sequence[Message]) -> Iterator[str]:
    """The second night is called for like the first, by daylight; what is over is undone once."""
    calls = [(message.at.day, message.at.hour < 15) for message in messages if message.kind in ("call", "worse")]
    if calls != [(4, True), (5, True)]:
        yield f"asked for on {calls}, not once for each night in time"
    back = [message.at.day for message in messages if message.kind == "bring-back"]
    if back != [6]:
        yield f"taken off on {back}, not once on the 6th"
