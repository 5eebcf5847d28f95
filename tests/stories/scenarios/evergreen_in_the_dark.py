"""An evergreen four weeks in a dark shed: out into a sheltered shade, not into a night that harms it."""

from collections.abc import Iterator
from datetime import timedelta

from tests.outlook.gardens import LAWN, SHADE, SHED, seen, tree, work
from tests.stories.cost import Fate
from tests.stories.story import DONE, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day

COOL = Day(-1.0, 3.0, -2.0, cloud=90)


def out_of_the_dark(watch: Watch, _fates: tuple[Fate, ...]) -> Iterator[str]:
    """The one that stood long is called out once; the one that came lately and the bare one stay."""
    calls = [measure for m in watch.messages for _, name, measure in m.lines if m.kind == "call" and name == "long"]
    if len(calls) != 1:
        yield f"{len(calls)} calls for the pine that stood four weeks in the dark"
    if any("shed" in measure for measure in calls):
        yield "it is called into the shed in which it stands"
    if any(message.kind == "bring-back" for message in watch.messages):
        yield "it is to go back into the dark"


STORY = Story(
    title="An evergreen in the dark",
    about="Invented. A pine was carried into a dark shed on New Year's Day, another one on 25 January; a bare maple "
    "winters there too. It is dull and about freezing.",
    garden="[stock]\nfleece_m2 = 0\nnet_m2 = 0\ntents = 0\nmulch = false\n"
    + LAWN
    + SHADE
    + SHED
    + tree("long", "lawn", work("move", "2026-01-01", to='"shed"'), species="Pinus", worth="2")
    + tree("lately", "lawn", work("move", "2026-01-25", to='"shed"'), species="Pinus")
    + tree("bare", "lawn", work("move", "2026-01-01", to='"shed"'), seen("dormant", "2025-12-01")),
    first="2026-01-25",
    days=(*[COOL] * 14,),
    watch_from="2026-01-27 07:00",
    watch_to="2026-02-02 12:00",
    foreseen=(Said("2026-01-27 07:00"),),
    person=DONE,
    every=timedelta(hours=12),
    in_peace=("lately", "bare"),
    also=out_of_the_dark,
)
