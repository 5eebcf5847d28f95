"""The service is ended or killed and started again, four times in a frost: only differences are spoken."""

from collections.abc import Iterator

from tests.stories.commons import AFTERWARDS, CLEAR_NIGHT, LAYER_ON_A_LAWN, PINE, TO_THE_FOURTH
from tests.stories.story import DONE, Killed, Said, Story
from tests.stories.watch import Watch


def nothing_twice(watch: Watch, _: object) -> Iterator[str]:
    """No text arrives twice; what is sent again because nobody knows whether it arrived says that it is still valid."""
    texts = [message.text for message in watch.messages]
    for text in sorted(set(texts)):
        if texts.count(text) > 1:
            yield f"said {texts.count(text)} times: {text.splitlines()[0]}"
    calls = [text for text, message in zip(texts, watch.messages, strict=True) if message.kind == "call"]
    if [text.startswith("Still valid: ") for text in calls] != [False, True]:
        yield "the call is not said once, and once more as still valid"


STORY = Story(
    title="Started anew in the middle",
    about="The layer and the pine again, before the clear night. The service is ended before the call; killed when "
    "the call is sent, before it could note so; ended in the night; killed while it plans to undo the fleece.",
    garden=LAYER_ON_A_LAWN + PINE,
    first="2026-10-30",
    days=(*TO_THE_FOURTH, CLEAR_NIGHT, *AFTERWARDS),
    watch_from="2026-11-03 07:00",
    watch_to="2026-11-05 12:00",
    foreseen=(Said("2026-11-03 07:00"),),
    person=DONE,
    killed=(
        Killed("2026-11-04 11:30"),
        Killed("2026-11-04 13:00", "between-send-and-mark"),
        Killed("2026-11-05 01:20"),
        Killed("2026-11-05 09:00", "inside-transaction"),
    ),
    in_peace=("pine",),
    also=nothing_twice,
)
