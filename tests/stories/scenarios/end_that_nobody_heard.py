"""The word that a tree may come back reaches nobody, and nothing is answered: it is said again, and doubted in time."""

from collections.abc import Iterator, Sequence
from datetime import timedelta

from tests.outlook.gardens import BENCH, NO_STOCK, SHED, tree
from tests.stories.story import DONE, Broken, Message, Said, Story
from tests.stories.weather import Day

COLD = Day(-14.0, -6.0, -16.0, cloud=20, cloud_night=0, wind_ms=2.0, calm_ms=0.6)
MILD = Day(1.0, 6.0, 1.0, cloud=80, wind_ms=3.0)

STORY = Story(
    title="An end that nobody heard",
    about="January. A rhododendron on a bench, and a shed. Two days of hard frost, mild ones, frost again. When the "
    "first is over the phone is dead for two days; what comes late is not answered.",
    garden=NO_STOCK + BENCH + SHED + tree("rhododendron", "bench", species="Rhododendron", worth="3"),
    first="2027-01-05",
    days=(*(MILD,) * 4, COLD, COLD, *(MILD,) * 6, COLD, COLD, *(MILD,) * 4),
    watch_from="2027-01-07 07:00",
    watch_to="2027-01-16 18:00",
    foreseen=(Said("2027-01-07 07:00"),),
    person=DONE,
    broken=(Broken("phone", "2027-01-11 12:00", "2027-01-13 12:00"),),
    every=timedelta(hours=12),
)


def holds(messages: Sequence[Message]) -> Iterator[str]:
    """What reached nobody is in the next rounds; before the next frost it is said what the log still has."""
    heard = [message for message in messages if message.arrived]
    if not any(message.at.day == 13 and "rhododendron may come back from shed" in message.text for message in heard):
        yield "nobody hears that it may come back"
    if not any(
        message.at.day == 16 and "carewatch log rhododendron end move:shed" in message.text for message in heard
    ):
        yield "before the second frost nobody asks whether it is in the shed"
