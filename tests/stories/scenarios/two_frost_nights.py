"""Two frost nights with a warm day between them: one call, on and off again each day, one farewell."""

import re
from collections.abc import Iterator, Sequence

from tests.stories.commons import CLEAR_NIGHT, LAYER_ON_A_LAWN, MILD
from tests.stories.story import DONE, Message, Said, Story
from tests.stories.weather import Day

STORY = Story(
    title="Two frost nights, a warm day between",
    about="Invented. The layer on the lawn before two clear nights; the day between them has sun and 11 °C. Both "
    "nights are foreseen together.",
    garden=LAYER_ON_A_LAWN,
    first="2026-11-01",
    days=(
        MILD,
        MILD,
        Day(4.0, 10.0, 1.0, cloud=40),
        Day(2.0, 9.0, -2.0, cloud=10, calm_ms=1.5),
        CLEAR_NIGHT.but(high_c=11.0),  # 5 November
        CLEAR_NIGHT.but(low_c=-3.5, high_c=9.0),  # 6 November
        Day(3.0, 10.0, 4.0, cloud=80),
        MILD,
        MILD,
        MILD,
        MILD,
    ),
    watch_from="2026-11-03 07:00",
    watch_to="2026-11-07 18:00",
    foreseen=(Said("2026-11-03 07:00"),),
    person=DONE,
)


def holds(messages: Sequence[Message]) -> Iterator[str]:
    """One call by three o'clock that speaks of the day between; undone once, when the second night is over."""
    calls = [message for message in messages if message.kind in ("call", "worse", "repeat")]
    if [message.kind for message in calls] != ["call"]:
        yield f"{len(calls)} messages ask for the layer: {[message.kind for message in calls]}"
    if any(message.at.hour >= 15 for message in calls):
        yield "called too late to cover before dusk"
    if calls and not re.search(r"\bby day\b|\bmornings?\b", calls[0].text):
        yield "the call says nothing of the sunny day between the nights"
    back = [message for message in messages if message.kind == "bring-back"]
    if len(back) != 1 or (back[0].at.day, back[0].at.hour < 12) != (6, True):
        yield f"taken off at {[f'{message.at:%a %H:%M}' for message in back]}, not once in the morning of the 6th"
