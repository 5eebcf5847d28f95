"""The winter plan: said once, kept, silent through frosts that it holds, and heard of when it does not hold."""

from collections.abc import Iterator

from tests.outlook.gardens import LAWN, SHED, seen, severed, tree
from tests.stories.cost import Fate
from tests.stories.rules import ASKING
from tests.stories.story import DONE, Does, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day

MILD = Day(4.0, 9.0, 4.0, cloud=70)
FROST = Day(-6.0, 2.0, -7.0, cloud=20, cloud_night=10, wind_ms=2.0, calm_ms=1.0)
ARCTIC = Day(-23.0, -8.0, -24.0, cloud=10, cloud_night=0, wind_ms=2.0, calm_ms=0.6)


def once_and_then_only_breaches(watch: Watch, _fates: tuple[Fate, ...]) -> Iterator[str]:
    """One plan; three frosts without a word for those in their places; a word before the night that is too cold."""
    if sum(message.kind == "season" for message in watch.messages) != 1:
        yield "the plan was not told once"
    asked = [message for message in watch.messages if message.kind in ASKING]
    if any(message.at < watch.moment("2026-11-18 12:00") for message in asked):
        yield "a call for a frost that the winter places hold"
    if not any(watch.moment("2026-11-18 12:00") < message.at < watch.moment("2026-11-18 20:00") for message in asked):
        yield "no word of the night that is too cold for a winter place"


STORY = Story(
    title="The winter plan and its breach",
    about="Invented. The maples have shed their leaves. The plan for the winter is told and carried out on the same "
    "day. Three nights of −6 °C come, and then one of −23 °C.",
    garden="[stock]\nfleece_m2 = 0\nnet_m2 = 0\ntents = 0\nmulch = true\n"
    + LAWN
    + SHED
    + tree("layer", "lawn", severed("sparse", "2026-09-10"), seen("leaf-fall", "2026-11-14"), worth="2")
    + tree("maple", "lawn", seen("leaf-fall", "2026-11-14"), worth="2"),
    first="2026-11-13",
    days=(MILD, MILD, MILD, FROST, FROST, FROST.but(high_c=-2.0), ARCTIC, Day(-6.0, 2.0, -6.0), *[MILD] * 4),
    watch_from="2026-11-15 07:00",
    watch_to="2026-11-19 12:00",
    foreseen=(Said("2026-11-15 07:00"),),
    person=DONE,
    does=(
        Does("2026-11-15 14:00", "log layer begin plunge"),
        Does("2026-11-15 14:02", "log maple move --to shed"),
    ),
    borne={"maple": "it stands in its winter place, which holds: the rest is the carrying"},
    also=once_and_then_only_breaches,
)
