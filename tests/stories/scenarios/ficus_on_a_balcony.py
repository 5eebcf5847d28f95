"""A ficus on a balcony in two nights of +4 °C: cold, and never a frost."""

from collections.abc import Iterator

from tests.outlook.gardens import tree
from tests.stories.cost import Fate
from tests.stories.story import DONE, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day

MILD = Day(11.0, 17.0, 9.0, cloud=60)
COOL = Day(4.0, 12.0, 2.0, cloud=60, cloud_night=50, wind_ms=2.0, calm_ms=1.0)


def cold_and_never_frost(watch: Watch, _fates: tuple[Fate, ...]) -> Iterator[str]:
    """A night above zero is no frost to anybody."""
    calls = [message for message in watch.messages if any(name == "ficus" for _, name, _ in message.lines)]
    if not calls:
        yield "the ficus is not called for"
    for message in watch.messages:
        for word in ("frost", "freez", "froze"):
            if word in message.text.lower():
                yield f"{message.at:%a %H:%M}: says {word} of a night of +4 °C"
    if calls and "cold" not in calls[0].text.lower():
        yield "the call does not say cold"


STORY = Story(
    title="A ficus on the balcony",
    about="Invented. In late September a ficus stands on a balcony beside a juniper; a heated room is behind the "
    "door. Two nights of +4 °C come.",
    garden="[stock]\nfleece_m2 = 4\nnet_m2 = 0\ntents = 0\nmulch = false\n"
    '[[place]]\nid = "balcony"\nkind = "bench"\nshelter = 0.3\n[[place]]\nid = "room"\nkind = "indoors"\n'
    + tree("ficus", "balcony", species="Ficus microcarpa", worth="2")
    + tree("juniper", "balcony", species="Juniperus chinensis"),
    first="2026-09-25",
    days=(MILD, MILD, MILD, MILD, COOL, COOL, MILD, MILD, MILD, MILD),
    watch_from="2026-09-27 07:00",
    watch_to="2026-10-01 12:00",
    foreseen=(Said("2026-09-27 07:00"),),
    person=DONE,
    in_peace=("juniper",),
    also=cold_and_never_frost,
)
