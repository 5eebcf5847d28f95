"""A layer that a hard night brought into the shed at leaf fall stays there for the winter; an olive comes out again."""

from collections.abc import Iterator

from tests.outlook.gardens import BENCH, SHED, seen, severed, tree
from tests.stories.cost import Fate
from tests.stories.rules import ASKING
from tests.stories.story import DONE, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day

SMALL = "volume_l = 3"
MILD = Day(4.0, 9.0, 4.0, cloud=80)
HARD = Day(-16.0, -4.0, -17.0, cloud=10, cloud_night=0, wind_ms=2.0, calm_ms=0.8)


def carried_in_and_never_asked_out(watch: Watch, _fates: tuple[Fate, ...]) -> Iterator[str]:
    """The call takes both in, the bring-back only the olive out, and no plan sends the layer elsewhere."""
    asked = {(line[1], line[2]) for message in watch.messages if message.kind in ASKING for line in message.lines}
    if ("layer", "move:shed") not in asked:
        yield f"the layer was not carried in: {sorted(asked)}"
    back = [message for message in watch.messages if message.kind == "bring-back"]
    out = {line[1] for message in back for line in message.lines if "move:shed" in line[2]}
    if out != {"olive"}:
        yield f"asked to come out of the shed: {', '.join(sorted(out)) or 'nobody'}, not the olive alone"
    plans = [message.text for message in watch.messages if message.kind == "season"]
    if any("layer" in line for text in plans for line in text.splitlines() if "bank " in line or "carry " in line):
        yield "the winter plan sends the layer elsewhere, which would be a second carry"


STORY = Story(
    title="Carried once",
    about="Invented. A layer of September, its leaves just down, and an olive stand on a bench before a day and night "
    "of −16 °C; there is no bark and no fleece, only a shed. Then it is mild again. The olive comes back; the layer, "
    "which every carry costs roots, has come to its place of the winter by the way.",
    garden="[stock]\nfleece_m2 = 0\nnet_m2 = 0\ntents = 0\nmulch = false\n"
    + BENCH
    + SHED
    + tree(
        "layer", "bench", severed("fair", "2026-09-05"), seen("leaf-fall", "2026-11-10"), pot="volume_l = 2", worth="3"
    )
    + tree("olive", "bench", species="Olea europaea", pot=SMALL, worth="3"),
    first="2026-11-09",
    days=(MILD, MILD, Day(2.0, 4.0, -2.0, cloud=30), HARD, Day(-4.0, 8.0, 2.0, cloud=90), *[MILD] * 7),
    watch_from="2026-11-11 07:00",
    watch_to="2026-11-14 18:00",
    foreseen=(Said("2026-11-11 07:00"),),
    person=DONE,
    also=carried_in_and_never_asked_out,
)
