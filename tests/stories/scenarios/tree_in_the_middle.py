"""A tree that is added in the middle of a frost spell by the command, while the service runs."""

from collections.abc import Iterator

from tests.outlook.gardens import LAWN, seen, severed, tree
from tests.stories.cost import Fate
from tests.stories.story import DONE, Does, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day

MILD = Day(6.0, 13.0, 6.0, cloud=60)
FROST = Day(-4.5, 7.0, -5.0, cloud=10, cloud_night=0, wind_ms=2.0, calm_ms=0.6)
SEVERED = "2026-10-22 11:00"


def taken_up_by_the_running_service(watch: Watch, _fates: tuple[Fate, ...]) -> Iterator[str]:
    """The new layer is called for before its first night, stands still, and the service was not started anew."""
    asked = [(message, line) for message in watch.messages for line in message.lines if message.kind == "call"]
    calls = [(message.at, measure) for message, (_, name, measure) in asked if name == "windfall"]
    if "windfall" not in watch.came:
        yield "the new tree was not taken up"
    if not calls or not watch.moment(SEVERED) < calls[0][0] < watch.moment("2026-10-22 18:00"):
        yield "the new layer is not called for before its first night"
    if not any(name == "layer" and f"{message.at:%d}" == "21" for message, (_, name, _) in asked):
        yield "the old layer is not called for before the first of the nights"
    back = [message for message in watch.messages if message.kind == "bring-back"]
    off = {name for message in back for _, name, _ in message.lines if message.at < watch.moment("2026-10-23 12:00")}
    if off != {"layer", "windfall"}:
        yield f"on the sunny morning after, the fleece of {', '.join(off) or 'none'} alone is called off"


STORY = Story(
    title="A tree in the middle of a frost",
    about="Invented. Two nights of frost in October over a coloured maple and the layer that was taken from it in "
    "September. On the morning between them the branch with the second layer on it breaks; the layer is "
    "potted, and told of by command. Nobody starts the service anew.",
    garden="[stock]\nfleece_m2 = 8\nnet_m2 = 0\ntents = 0\nmulch = true\n"
    + LAWN
    + tree("mother", "lawn", seen("colouring", "2026-10-10"), pot="volume_l = 20")
    + tree("layer", "lawn", severed("sparse", "2026-09-10"), seen("mature", "2026-10-17"), worth="2"),
    first="2026-10-18",
    days=(MILD, MILD, MILD, Day(3.0, 9.0, -3.0, cloud=10), FROST, FROST, MILD, MILD, MILD, MILD, MILD),
    watch_from="2026-10-21 07:00",
    watch_to="2026-10-23 18:00",
    foreseen=(Said("2026-10-21 07:00"),),
    person=DONE,
    does=(
        Does(SEVERED, "log mother sever-layer --new windfall --pot 3 --roots fair --tied --taken 0.2 --sure"),
        Does("2026-10-22 11:05", "log windfall observe mature"),
    ),
    in_peace=("mother",),
    borne={"mother": "its leaves have coloured: what the frost takes it would shed anyway"},
    also=taken_up_by_the_running_service,
)
