"""A first-year layer in a gale and a frost together: protected in place, and never carried for one night."""

from collections.abc import Iterator

from carewatch.care.whole_log import in_force
from tests.outlook.gardens import BENCH, SHED, seen, severed, tree
from tests.stories.cost import Fate
from tests.stories.story import DONE, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day

MILD = Day(5.0, 11.0, 5.0, cloud=70, wind_ms=4.0)


def stands_still(watch: Watch, _fates: tuple[Fate, ...]) -> Iterator[str]:
    """No message asks to lift the layer, and no cover is to be held in the gale."""
    asked = [(message, line) for message in watch.messages for line in message.lines]
    if not any(tree == "layer" and message.kind == "call" for message, (_, tree, _) in asked):
        yield "the layer is not called for"
    for message, (_, name, measure) in asked:
        if name == "layer" and any(part in measure for part in ("move:", "set-down", "lay-down")):
            yield f"{message.at:%a %H:%M}: {measure} of a layer in its first year"
        if "fleece" in measure:
            yield f"{message.at:%a %H:%M}: {measure} in a gale"
    assert watch.log_garden is not None
    if "tie-down" not in in_force(watch.log_garden.log, "layer"):
        yield "at the end the log has no ties on it"


STORY = Story(
    title="Gale and frost together",
    about="Invented. A layer severed in September, not tied yet and in its last colour, stands on a bench; a shed is "
    "near. A cold front brings gusts of 18 m/s and a night of −4 °C at once.",
    garden="[stock]\nfleece_m2 = 4\nnet_m2 = 6\ntents = 0\nmulch = true\n"
    + BENCH
    + SHED
    + tree("layer", "bench", severed("fair", "2026-09-10", tied=False), seen("colouring", "2026-10-26"), worth="2"),
    first="2026-11-01",
    days=(
        MILD,
        MILD,
        MILD,
        Day(3.0, 7.0, 1.0, cloud=60, wind_ms=9.0, calm_ms=5.0, gust_ms=15.0),
        Day(-4.0, 3.0, -7.0, cloud=40, cloud_night=40, wind_ms=8.0, calm_ms=9.0, gust_ms=18.0),  # 5 November
        Day(0.0, 7.0, 0.0, cloud=70, wind_ms=4.0),
        MILD,
        MILD,
        MILD,
        MILD,
    ),
    watch_from="2026-11-03 07:00",
    watch_to="2026-11-06 12:00",
    foreseen=(Said("2026-11-03 07:00"),),
    person=DONE,
    also=stands_still,
)
