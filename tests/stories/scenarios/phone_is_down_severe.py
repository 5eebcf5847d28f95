"""The phone is down when a severe call is to go out: the second channel hears it, at once and as a first word."""

from collections.abc import Iterator

from tests.outlook.gardens import LAWN, SHED, tree
from tests.stories.commons import LITTLE, MILD
from tests.stories.story import DONE, Broken, Channel, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day


def the_house_hears_it(watch: Watch, _: object) -> Iterator[str]:
    """The second channel brings the call while the first is down, and it is not a reminder of something unheard."""
    house = [message for message in watch.messages if message.channel == "house" and message.arrived]
    if not house:
        yield "the second channel never brought it"
    elif house[0].kind == "repeat" or house[0].text.startswith("Still open"):
        yield "the first that the house hears is a reminder"
    elif house[0].at > watch.moment("2026-11-03 15:00"):
        yield f"the house hears it only at {house[0].at:%H:%M}"


STORY = Story(
    title="The phone is down before a severe night",
    about="A young olive in a small pot before a night of −8 °C, with a shed near by. The phone is down from noon "
    "until six; the second channel is for what is severe.",
    garden=LITTLE + LAWN + SHED + tree("olive", "lawn", species="Olea europaea", pot="volume_l = 3", worth="2"),
    first="2026-11-01",
    days=(
        MILD,
        MILD,
        Day(1.0, 4.0, -4.0, cloud=10, calm_ms=1.5),
        Day(-8.0, 1.0, -9.0, cloud=5, cloud_night=0, wind_ms=1.5, calm_ms=0.5),  # 4 November
        Day(1.0, 9.0, 2.0, cloud=70),
        MILD,
        MILD,
        MILD,
        MILD,
    ),
    watch_from="2026-11-03 07:00",
    watch_to="2026-11-05 12:00",
    foreseen=(Said("2026-11-03 07:00"),),
    person=DONE,
    channels=(Channel("phone"), Channel("house", 2, "severe")),
    broken=(Broken("phone", "2026-11-03 12:00", "2026-11-03 18:00"),),
    also=the_house_hears_it,
)
