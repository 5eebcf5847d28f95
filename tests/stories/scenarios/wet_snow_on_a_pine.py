"""Wet snow on a pine in its pot: shaken off while it falls; the snow on the pots stays."""

from collections.abc import Iterator

from tests.outlook.gardens import LAWN, seen, tree
from tests.stories.cost import Fate
from tests.stories.story import DONE, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day

DULL = Day(1.0, 4.0, 0.0, cloud=90)


def shaken_off_and_left_on_the_pots(watch: Watch, _fates: tuple[Fate, ...]) -> Iterator[str]:
    """The pine's crown is to be freed; that snow on the pots stays is said, and the maple is left in peace."""
    calls = [message for message in watch.messages if message.kind == "call"]
    if not any("shake-off" in measure for message in calls for _, name, measure in message.lines if name == "pine"):
        yield "nobody is asked to shake the snow off the pine"
    if any("pot" not in message.text.lower() for message in calls):
        yield "it is not said that the snow on the pots stays"


STORY = Story(
    title="Wet snow on a pine",
    about="Invented. A pine and a bare maple in pots on the lawn. On 14 January 18 cm of wet snow fall by day at "
    "freezing point; then it freezes hard.",
    garden="[stock]\nfleece_m2 = 0\nnet_m2 = 0\ntents = 0\nmulch = false\n"
    + LAWN
    + tree("pine", "lawn", species="Pinus", pot="volume_l = 15", worth="3")
    + tree("maple", "lawn", seen("dormant", "2025-12-01"), pot="volume_l = 15"),
    first="2026-01-11",
    days=(
        DULL,
        DULL,
        DULL,
        Day(-0.3, 0.8, -0.3, cloud=100, wind_ms=1.0, snow_cm=18.0, rain_from_h=8, rain_hours=10),  # 14 January
        Day(-4.0, -1.0, -5.0, cloud=60, snow_m=0.15),
        Day(-4.0, 0.0, -5.0, cloud=60, snow_m=0.12),
        DULL,
        DULL,
        DULL,
        DULL,
    ),
    watch_from="2026-01-13 07:00",
    watch_to="2026-01-15 18:00",
    foreseen=(Said("2026-01-13 07:00"),),
    person=DONE,
    in_peace=("maple",),
    also=shaken_off_and_left_on_the_pots,
)
