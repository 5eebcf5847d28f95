"""The only channel is down for three hours, just when a call is to go out."""

from collections.abc import Iterator

from tests.stories.commons import AFTERWARDS, CLEAR_NIGHT, LAYER_ON_A_LAWN, TO_THE_FOURTH
from tests.stories.story import DONE, Broken, Said, Story
from tests.stories.watch import Watch


def once_and_still_of_use(watch: Watch, _: object) -> Iterator[str]:
    """The call arrives once, soon after the channel answers again, before the work must begin."""
    arrived = [message for message in watch.messages if message.kind in ("call", "repeat") and message.arrived]
    if len(arrived) != 1:
        yield f"the call arrived {len(arrived)} times"
    for message in arrived:
        if not watch.moment("2026-11-04 15:00") <= message.at <= watch.moment("2026-11-04 15:15"):
            yield f"it arrived at {message.at:%H:%M}"


STORY = Story(
    title="The phone is down for three hours",
    about="The layer again, before the clear night. From noon of the day before until three nothing reaches the phone.",
    garden=LAYER_ON_A_LAWN,
    first="2026-10-30",
    days=(*TO_THE_FOURTH, CLEAR_NIGHT, *AFTERWARDS),
    watch_from="2026-11-03 07:00",
    watch_to="2026-11-05 12:00",
    foreseen=(Said("2026-11-03 07:00"),),
    broken=(Broken("phone", "2026-11-04 12:00", "2026-11-04 15:00"),),
    person=DONE,
    also=once_and_still_of_use,
)
