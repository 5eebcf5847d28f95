"""Frozen roots in sun and east wind: an evergreen that dries in the cold, because its ball gives no water."""

from collections.abc import Iterator, Sequence
from datetime import timedelta

from tests.outlook.gardens import BENCH, PLACE, SHED, tree
from tests.stories.story import DONE, Message, Said, Story
from tests.stories.weather import Day

STOCK = "[stock]\nfleece_m2 = 4\nnet_m2 = 6\ntents = 0\nmulch = false\n"
POT = "volume_l = 12, material = 'wood'"
# Dry continental air on an east wind under a February sun; nights that keep a large ball frozen.
EAST = Day(-6.0, 4.0, -20.0, cloud=0, cloud_night=30, wind_ms=8.0, calm_ms=5.0, gust_ms=13.0)
# The same wind and sun, and nights that no root fears any more.
MILDER = EAST.but(low_c=-3.0, high_c=7.0)
THAW = Day(3.0, 9.0, 4.0, cloud=90)


# From this day on the ball drinks on the bench: grey days above 5 °C.
THAWS = 23

STORY = Story(
    title="Frozen roots in sun and east wind",
    about="February. A rhododendron and a juniper stand in wooden tubs on an open bench, their root balls frozen "
    "through, since two weeks under a clear sky with an east wind. It goes on, with warmer days: the leaves give off "
    "water that frozen roots cannot bring. The juniper bears it.",
    garden=STOCK
    + BENCH
    + PLACE.format("north-side", "shade")
    + SHED
    + tree("rhododendron", "bench", species="Rhododendron", pot=POT, worth="2")
    + tree("juniper", "bench", species="Juniperus chinensis", pot=POT),
    first="2027-02-14",
    days=(
        EAST,
        EAST,
        EAST,  # 16 February
        EAST.but(high_c=9.0),
        EAST.but(high_c=9.0),
        EAST.but(high_c=9.0),
        EAST.but(high_c=9.0),  # 20 February
        MILDER,
        MILDER,
        Day(-2.0, 9.0, 3.0, cloud=90),
        THAW,
        THAW,
        THAW,
        THAW,
        THAW,
        THAW,
    ),
    watch_from="2027-02-16 07:00",
    watch_to="2027-02-25 12:00",
    foreseen=(Said("2027-02-16 07:00"),),
    person=DONE,
    every=timedelta(hours=12),
    in_peace=("juniper",),
)


def holds(messages: Sequence[Message]) -> Iterator[str]:
    """A frozen ball takes no water: shade and lee are what helps. It comes back once, to where it can drink."""
    for message in messages:
        for _tree, name, measure in message.lines:
            if "water" in measure.split("+"):
                yield f"{message.at:%a %d %b %H:%M}: water for {name}, whose ball is frozen"
    back = [message for message in messages if message.kind == "bring-back"]
    yield from (f"{message.at:%a %d %b %H:%M}: out with a frozen ball" for message in back if message.at.day < THAWS)
    if len(back) != 1:
        yield f"{len(back)} messages bring it back"
    asked = [message for message in messages if message.kind in ("call", "worse", "repeat")]
    if len(asked) != 1:
        yield f"it is asked for {len(asked)} times"
