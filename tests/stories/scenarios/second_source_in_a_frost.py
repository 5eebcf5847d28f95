"""The first weather service is away through a frost night; the second stands in, and that is said."""

from collections.abc import Iterator

from tests.stories.commons import AFTERWARDS, CLEAR_NIGHT, LAYER_ON_A_LAWN, TO_THE_FOURTH
from tests.stories.story import DONE, Broken, Said, Story
from tests.stories.watch import Watch


def called_by_the_second(watch: Watch, _: object) -> Iterator[str]:
    """Called in time on the second source's word, which the message names; nobody is told that nothing is seen."""
    kinds = [message.kind for message in watch.messages]
    if kinds.count("call") != 1 or kinds.count("bring-back") != 1:
        yield f"said: {', '.join(kinds)}"
    for message in watch.messages:
        if message.kind in ("blind", "sees-again"):
            yield f"{message.at:%a %H:%M}: {message.kind}, though the second source serves"
        if message.kind == "call" and "MET Norway" not in message.text:
            yield "the call does not say whose forecast it rests on"


STORY = Story(
    title="The second source in a frost night",
    about="The layer again. The first weather service is away from the night before the clear night until two days "
    "after; MET Norway stands in.",
    garden=LAYER_ON_A_LAWN,
    first="2026-10-30",
    days=(*TO_THE_FOURTH, CLEAR_NIGHT, *AFTERWARDS),
    watch_from="2026-11-03 07:00",
    watch_to="2026-11-05 18:00",
    foreseen=(
        Said("2026-11-03 07:00", {"2026-11-05": {"low_c": 4.0, "cloud_night": 80, "calm_ms": 3.0}}),
        Said("2026-11-04 00:30"),
    ),
    broken=(Broken("weather", "2026-11-04 00:10", "2026-11-06 15:00"),),
    person=DONE,
    second_source=True,
    also=called_by_the_second,
)
