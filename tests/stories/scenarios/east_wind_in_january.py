"""Hard frost and a gusty east wind on a layer that nobody tied: what it needs against both in one message."""

from collections.abc import Iterator

from carewatch.care.whole_log import in_force
from tests.outlook.gardens import LAWN, seen, severed, tree
from tests.stories.cost import Fate
from tests.stories.story import DONE, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day

MILD = Day(2.0, 6.0, 1.0, cloud=70, wind_ms=2.0)
HARD = Day(-9.0, -3.0, -13.0, cloud=20, cloud_night=10, wind_ms=6.0, calm_ms=4.0, gust_ms=14.0)
WANTED = {"plunge", "tie-down"}


def all_at_once(watch: Watch, fates: tuple[Fate, ...]) -> Iterator[str]:
    """One call names bank and ties, and by the log both are in place."""
    calls = [message for message in watch.messages if message.kind == "call"]
    asked = [{part for *_, measure in message.lines for part in measure.split("+")} for message in calls]
    if asked != [WANTED]:
        yield f"asked for {asked}"
    assert watch.log_garden is not None
    if not set(in_force(watch.log_garden.log, "layer")) >= WANTED:
        yield "at the end the log has not all of it"
    (fate,) = fates
    if fate.done > 0.2:
        yield "too much is lost all the same"


STORY = Story(
    title="East wind in January",
    about="Invented. A layer severed in September with few roots and never tied stands on a lawn, its pot not "
    "banked. Four days of hard frost come with gusts of 14 m/s.",
    garden="[stock]\nfleece_m2 = 4\nnet_m2 = 0\ntents = 0\nmulch = true\n"
    + LAWN
    + tree("layer", "lawn", severed("sparse", "2026-09-10", tied=False), seen("dormant", "2026-11-20"), worth="2"),
    first="2027-01-08",
    days=(MILD, MILD, MILD, MILD, HARD, HARD, HARD, HARD, MILD, MILD, MILD, MILD, MILD),
    watch_from="2027-01-10 07:00",
    watch_to="2027-01-18 18:00",
    foreseen=(Said("2027-01-10 07:00"),),
    person=DONE,
    also=all_at_once,
)
