"""Frozen roots in sun and east wind: an evergreen that dries in the cold, because its ball gives no water."""

from collections.abc import Iterator
from datetime import timedelta

from tests.outlook.gardens import BENCH, PLACE, SHED, tree
from tests.stories.story import DONE, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day

STOCK = "[stock]\nfleece_m2 = 4\nnet_m2 = 6\ntents = 0\nmulch = false\n"
POT = "volume_l = 12, material = 'wood'"
# Dry continental air on an east wind under a February sun; nights that keep a large ball frozen.
EAST = Day(-6.0, 4.0, -20.0, cloud=0, cloud_night=30, wind_ms=8.0, calm_ms=5.0, gust_ms=13.0)
THAW = Day(3.0, 9.0, 4.0, cloud=90)


def never_by_water(watch: Watch, _: object) -> Iterator[str]:
    """A frozen ball takes no water: shade and lee are what helps."""
    for message in watch.messages:
        for _tree, name, measure in message.lines:
            if "water" in measure.split("+"):
                yield f"{message.at:%a %d %b %H:%M}: water for {name}, whose ball is frozen"


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
        Day(-2.0, 9.0, 3.0, cloud=90),
        THAW,
        THAW,
        THAW,
        THAW,
        THAW,
    ),
    watch_from="2027-02-16 07:00",
    watch_to="2027-02-22 12:00",
    foreseen=(Said("2027-02-16 07:00"),),
    person=DONE,
    every=timedelta(hours=12),
    in_peace=("juniper",),
    also=never_by_water,
)
