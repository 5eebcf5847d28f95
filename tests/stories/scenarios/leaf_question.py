"""The question about leaves three days after severing, answered for each of two layers, and the hot day after it."""

from collections.abc import Iterator
from datetime import timedelta

from tests.outlook.gardens import SHADE, seen, severed, tree
from tests.stories.cost import Fate
from tests.stories.story import Answers, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day

MILD = Day(11.0, 20.0, 11.0, cloud=60, wind_ms=2.0)
HOT = Day(20.0, 36.0, 5.0, cloud=10, cloud_night=20, wind_ms=6.0)
EVENING = timedelta(hours=14)


def _layer(name: str) -> str:
    return tree(name, "shade", seen("leaf-out", "2026-06-01"), severed("sparse", "2026-06-08"), worth="2")


def only_what_the_leaves_said(watch: Watch, _fates: tuple[Fate, ...]) -> Iterator[str]:
    """Of two trees alike, the answer alone decides which is called for, and only after it was given."""
    calls = [message for message in watch.messages if message.kind == "call"]
    answered = watch.moment("2026-06-11 21:00")
    if not calls:
        yield "the layer whose leaves hang is not called for"
    for message in calls:
        if message.at < answered:
            yield f"{message.at:%a %H:%M}: called for before the leaves were asked"
        if {tree for _, tree, _ in message.lines} != {"west"}:
            yield f"{message.at:%a %H:%M}: not for the one alone whose leaves hang"
    ends = [message.at for message in watch.messages if message.kind == "bring-back"]
    if len(ends) != 1 or not watch.moment("2026-06-13 06:30") <= ends[0] <= watch.moment("2026-06-13 17:00"):
        yield "the tent is not called off once, on the day that was named"


STORY = Story(
    title="Do the leaves hang?",
    about="Invented. Two layers under a net in the shade, severed on 8 June with the same few roots, as far as could "
    "be seen. On the third day the leaves are asked about: those of west hang at two and are up at nine, those "
    "of east are firm. The 12th brings 36 °C and a dry wind.",
    garden="[stock]\nfleece_m2 = 4\nnet_m2 = 6\ntents = 2\nmulch = false\n"
    + SHADE
    + "shade_cloth = 0.6\n"
    + _layer("west")
    + _layer("east"),
    first="2026-06-08",
    days=(MILD, MILD, MILD, MILD, HOT, MILD, MILD, MILD, MILD, MILD),
    watch_from="2026-06-10 07:00",
    watch_to="2026-06-13 18:00",
    foreseen=(Said("2026-06-10 07:00"),),
    person=(
        Answers("question", "hang", EVENING, ("west",), times=1),
        Answers("question", "firm", EVENING, ("east",), times=1),
        Answers("call", "done"),
        Answers("bring-back", "done", timedelta(minutes=45)),
    ),
    also=only_what_the_leaves_said,
)
