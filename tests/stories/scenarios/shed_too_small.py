"""Eight trees in danger and a shed with room for three: who goes in, what the others get, and why."""

from collections.abc import Iterator
from datetime import timedelta

from tests.outlook.gardens import BENCH, SHED, severed, tree
from tests.stories.story import DONE, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day

STOCK = "[stock]\nfleece_m2 = 3\nnet_m2 = 0\ntents = 0\nmulch = true\n"
OLIVE, SMALL = "Olea europaea", "volume_l = 3"
MILD = Day(5.0, 9.0, 5.0, cloud=80)
TREES = ("olive-1", "olive-2", "olive-3", "olive-4", "pomegranate", "fig", "layer", "myrtle")


def names_who_goes_in(watch: Watch, _: object) -> Iterator[str]:
    """One message names the three that go in; every other one has a measure, or the reason why there is none."""
    calls = [message for message in watch.messages if message.kind in ("call", "worse")]
    inside = {line[1] for message in calls for line in message.lines if "move:shed" in line[2].split("+")}
    if len(inside) != 3:
        yield f"{len(inside)} trees go into a shed with room for three: {', '.join(sorted(inside))}"
    first = next((message.text for message in calls), "")
    for name in TREES:
        if name not in first:
            yield f"{name} is in danger and not in the first message"
    if "the room in shed goes to" not in first:
        yield "the message does not say why the others stay out"


STORY = Story(
    title="A shed too small",
    about="Eight tender trees on a bench in December, before three nights of −9 °C; the shed has room for three. There "
    "is bark, and fleece for a few.",
    garden=STOCK
    + BENCH
    + SHED
    + "room = 3\n"
    + tree("olive-1", "bench", species=OLIVE, pot=SMALL, worth="4")
    + tree("olive-2", "bench", species=OLIVE, pot=SMALL, worth="2")
    + tree("olive-3", "bench", species=OLIVE, pot="volume_l = 8", worth="2")
    + tree("olive-4", "bench", species=OLIVE, pot=SMALL)
    + tree("pomegranate", "bench", species="Punica granatum", pot=SMALL, worth="2")
    + tree("fig", "bench", species="Ficus carica", pot=SMALL, worth="2")
    + tree("layer", "bench", severed("sparse", "2026-09-18"), pot=SMALL, worth="2")
    + tree("myrtle", "bench", species="Myrtus communis", pot=SMALL, worth="3"),
    first="2026-12-06",
    days=(
        MILD,
        MILD,
        Day(2.0, 5.0, -1.0, cloud=30),  # 8 December
        Day(-9.0, -2.0, -10.0, cloud=5, cloud_night=0, wind_ms=2.0, calm_ms=0.8),
        Day(-9.0, 0.0, -9.0, cloud=10, cloud_night=0, wind_ms=2.0, calm_ms=0.8),
        Day(-6.0, 5.0, -3.0, cloud=60, cloud_night=10, calm_ms=1.0),
        MILD,
        MILD,
        MILD,
        MILD,
        MILD,
    ),
    watch_from="2026-12-08 07:00",
    watch_to="2026-12-12 10:00",
    foreseen=(Said("2026-12-08 07:00"),),
    person=DONE,
    every=timedelta(hours=12),
    also=names_who_goes_in,
)
