"""The weather service fails before a frost night and until after it: the last good forecast serves, and is said so."""

from collections.abc import Iterator

from tests.stories.commons import AFTERWARDS, CLEAR_NIGHT, LAYER_ON_A_LAWN, TO_THE_FOURTH
from tests.stories.story import DONE, Broken, Said, Story
from tests.stories.watch import Watch


def called_blind_and_said_so(watch: Watch, _: object) -> Iterator[str]:
    """The call comes of the last good forecast and stands; blindness is said once with its age, and its end once."""
    kinds = [message.kind for message in watch.messages]
    for kind in ("call", "blind", "sees-again", "bring-back"):
        if kinds.count(kind) != 1:
            yield f"{kinds.count(kind)} messages of kind {kind}"
    for message in watch.messages:
        # The last forecast came at one o'clock; half a day later the watch calls itself blind.
        if message.kind == "blind" and ("since today 1:00" not in message.text or message.at.hour != 13):
            yield f"blindness is said at {message.at:%H:%M}, without its beginning or not in time"
        if message.kind == "bring-back" and message.at > watch.moment("2026-11-05 09:45"):
            yield f"the fleece that was to come off at 9:30 is spoken of at {message.at:%a %H:%M}"
        if message.kind == "sees-again" and message.at > watch.moment("2026-11-05 15:15"):
            yield f"that it sees again is said at {message.at:%a %H:%M}"


STORY = Story(
    title="Blind through a frost night",
    about="The layer again. The clear night is foreseen; on the day before it the weather service stops answering, "
    "until the afternoon after it.",
    garden=LAYER_ON_A_LAWN,
    first="2026-10-30",
    days=(*TO_THE_FOURTH, CLEAR_NIGHT, *AFTERWARDS),
    watch_from="2026-11-03 07:00",
    watch_to="2026-11-06 12:00",
    foreseen=(Said("2026-11-03 07:00"),),
    broken=(Broken("weather", "2026-11-04 03:00", "2026-11-05 15:00"),),
    person=DONE,
    also=called_blind_and_said_so,
)
