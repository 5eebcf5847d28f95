"""A closed frame on sunny mornings of March: opened by nine, shut before sunset."""

from collections.abc import Iterator

from tests.outlook.gardens import PLACE, seen, tree
from tests.stories.cost import Fate
from tests.stories.story import DONE, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day

DULL = Day(1.0, 7.0, 1.0, cloud=95)
SUNNY = Day(-2.0, 12.0, -4.0, cloud=0, cloud_night=0, wind_ms=1.5, calm_ms=0.8)


def open_by_nine_and_shut_in_time(watch: Watch, _fates: tuple[Fate, ...]) -> Iterator[str]:
    """The first sunny day has its call by half past seven, which names nine o'clock and the shutting."""
    calls = [message for message in watch.messages if message.kind == "call"]
    if not calls or calls[0].at > watch.moment("2026-03-20 07:30"):
        yield "nobody is told in time to open the frame"
        return
    if "Open" not in calls[0].text:
        yield "the call does not say open"
    if not any(words in calls[0].text for words in ("by 9:00", "before 9:00", "before 8:5")):
        yield "the call does not say by nine"
    if "shut" not in calls[0].text.lower():
        yield "the call does not say when to shut"


STORY = Story(
    title="A closed frame in March",
    about="Invented. Two maples whose buds swell stand in a closed cold frame. After dull days 20 March is clear, 12 "
    "°C outside, with frost again in the night.",
    garden="[stock]\nfleece_m2 = 2\nnet_m2 = 0\ntents = 0\nmulch = false\n"
    + PLACE.format("frame", "cold-frame")
    + tree("one", "frame", seen("bud-swell", "2026-03-12"), fixed="true", worth="2")
    + tree("two", "frame", seen("bud-swell", "2026-03-12"), fixed="true", worth="2"),
    first="2026-03-17",
    days=(DULL, DULL, DULL, SUNNY, SUNNY, SUNNY, DULL, DULL, DULL, DULL),
    watch_from="2026-03-19 12:00",
    watch_to="2026-03-22 12:00",
    foreseen=(Said("2026-03-19 12:00"),),
    person=DONE,
    also=open_by_nine_and_shut_in_time,
)
