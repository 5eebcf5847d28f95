"""Five nights of −8 °C in a row, and a shed with room for two: carried once, for the whole of it."""

from collections.abc import Iterator
from datetime import timedelta
from itertools import pairwise

from tests.outlook.gardens import BENCH, SHED, severed, tree
from tests.stories.story import DONE, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day

STOCK = "[stock]\nfleece_m2 = 6\nnet_m2 = 0\ntents = 0\nmulch = true\n"
COLD = Day(-8.0, -1.0, -9.0, cloud=15, cloud_night=5, wind_ms=2.5, calm_ms=1.0)
MILD = Day(2.0, 6.0, 2.0, cloud=80, wind_ms=3.0)


def once_for_all_of_it(watch: Watch, _: object) -> Iterator[str]:
    """No tree is carried twice or has what it got changed, and nothing comes back between two of the nights."""
    asked: dict[str, list[str]] = {}
    for message in watch.messages:
        for _danger, name, measure in message.lines:
            if message.kind in ("call", "worse") and measure not in asked.setdefault(name, []):
                asked[name].append(measure)
            if message.kind in ("bring-back", "stand-down") and message.at < watch.moment("2027-01-15 07:00"):
                yield f"{message.at:%a %d %b %H:%M}: {message.kind} of {name} between two of the nights"
    for name, measures in asked.items():
        if not all(set(before.split("+")) < set(after.split("+")) for before, after in pairwise(measures)):
            yield f"{name} is asked for {' and then '.join(measures)}"
    inside = {name for name, measures in asked.items() if any("move:shed" in measure for measure in measures)}
    if len(inside) != 2:
        yield f"{len(inside)} trees are sent into a shed with room for two"


STORY = Story(
    title="Five nights of −8 °C with room for two",
    about="January. A layer of September, an olive, an elm and a larch stand on a bench; the shed has room for two, "
    "there is bark to bank pots with. Nobody carried out the winter plan. Five nights of −8 °C are foreseen from the "
    "day before on.",
    garden=STOCK
    + BENCH
    + '[[place]]\nid = "yard"\nkind = "ground"\n'
    + SHED
    + "room = 2\n"
    + tree("layer", "bench", severed("sparse", "2026-09-18"), pot="volume_l = 5", worth="2")
    + tree("olive", "bench", species="Olea europaea", pot="volume_l = 4", worth="2")
    + tree("elm", "bench", species="Ulmus parvifolia", pot="volume_l = 3", worth="2")
    + tree("larch", "bench", species="Larix decidua", pot="volume_l = 8"),
    first="2026-12-30",
    days=(
        *[MILD] * 10,
        Day(0.0, 2.0, -3.0, cloud=30),  # 9 January
        COLD,  # 10 January
        COLD,
        COLD,
        COLD,
        COLD,  # 14 January
        Day(-2.0, 4.0, 0.0, cloud=90),
        MILD,
        MILD,
        MILD,
        MILD,
        MILD,
        MILD,
        MILD,
    ),
    watch_from="2027-01-09 07:00",
    watch_to="2027-01-16 17:00",
    foreseen=(Said("2027-01-09 07:00"),),
    person=DONE,
    # The ground under a banked pot remembers more than two days.
    past_days=10,
    ahead_days=7,
    every=timedelta(hours=12),
    in_peace=("larch",),
    also=once_for_all_of_it,
)
