"""Buds that move in a warm shed, before a night of −6 °C."""

from collections.abc import Iterator

from tests.outlook.gardens import LAWN, SHED, tree, work
from tests.stories.cost import Fate
from tests.stories.story import DONE, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day

MILD = Day(2.0, 9.0, 1.0, cloud=60)


def into_the_cool_and_not_out(watch: Watch, _fates: tuple[Fate, ...]) -> Iterator[str]:
    """The tree in the warm is called for before the frost and goes into the cool shed; never out, nor warmer."""
    calls = [(message, line) for message in watch.messages for line in message.lines if message.kind == "call"]
    early = [measure for message, (_, name, measure) in calls if name == "warm" and message.at < watch.moment(FROST)]
    if not early:
        yield "the buds that move are not spoken of before the frost"
    for message, (_, name, measure) in calls:
        if name == "warm" and "move" in measure and "move:shed" not in measure:
            yield f"{message.at:%a %H:%M}: {measure} before a night of −6 °C"
    for message in watch.messages:
        out = [line for line in message.text.splitlines() if "winter quarters" in line or "to lawn" in line]
        if message.at < watch.moment(FROST) and any("warm" in line for line in out):
            yield f"{message.at:%a %H:%M}: sends the soft buds out before a night of −6 °C"


FROST = "2026-03-18 18:00"
STORY = Story(
    title="Buds moving in a warm shed",
    about="Invented. Two maples were carried inside on 20 February, one into a workshop of 12 °C, one into the cool "
    "shed. In the middle of March the buds in the warm are far ahead. A night of −6 °C comes on the 19th.",
    garden="[stock]\nfleece_m2 = 4\nnet_m2 = 0\ntents = 0\nmulch = false\n"
    + LAWN
    + SHED
    + '[[place]]\nid = "workshop"\nkind = "shed"\nheated_to_c = 12\n'
    + tree("warm", "lawn", work("move", "2026-02-20", to='"workshop"'), worth="2")
    + tree("cool", "lawn", work("move", "2026-02-20", to='"shed"')),
    first="2026-03-14",
    days=(MILD, MILD, MILD, MILD, MILD, Day(-6.0, 4.0, -7.0, cloud=10, cloud_night=0, calm_ms=0.6), *[MILD] * 6),
    watch_from="2026-03-16 07:00",
    watch_to="2026-03-20 12:00",
    foreseen=(Said("2026-03-16 07:00"),),
    person=DONE,
    in_peace=("cool",),
    also=into_the_cool_and_not_out,
)
