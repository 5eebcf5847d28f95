"""More than three pushes in a day: the third says so, the rest waits for the next morning."""

from collections.abc import Iterator
from datetime import timedelta

from tests.outlook.gardens import BENCH, SHADE, seen, severed, tree, work
from tests.stories.cost import Fate
from tests.stories.rules import PUSHES
from tests.stories.story import Answers, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day

DULL = Day(12.0, 20.0, 12.0, cloud=90, wind_ms=2.0)
HOT = Day(15.0, 30.0, 14.0, cloud=5, cloud_night=10, wind_ms=3.0)
# 11 July: gusts before dawn.
GUSTS = {"wind_ms": 4.0, "calm_ms": 9.0, "gust_ms": 17.0}
WET = DULL.but(cloud=100.0, rain_mm=3.0)
COUNTED = (*PUSHES, "question")


def three_and_no_more(watch: Watch, _fates: tuple[Fate, ...]) -> Iterator[str]:
    """Three messages on the busy day, the last of which says so; what waited is said the next morning."""
    day = [message for message in watch.messages if message.kind in COUNTED and f"{message.at:%d}" == "10"]
    if len(day) != 3:
        yield f"{len(day)} pushes on the 10th: {', '.join(message.kind for message in day)}"
    elif "third message today" not in day[-1].text:
        yield "the third message does not say that it is the last"
    elif "cut" not in day[-1].text.splitlines()[-1]:
        yield "the last line of the third message does not name what is held back"
    back = [message for message in watch.messages if message.kind == "bring-back"]
    if not any(message.at < watch.moment("2026-07-11 09:00") for message in back):
        yield "what waited is not said on the next morning"


STORY = Story(
    title="A fourth message",
    about="Invented. 10 July: in the morning the leaves of a fresh layer are asked about, and a maple whose roots "
    "were cut is to be shaded. At a quarter to nine gusts are foreseen, for which a tall maple must lie down; "
    "in the same hour the shade could come off: that is the fourth.",
    garden="[stock]\nfleece_m2 = 4\nnet_m2 = 4\ntents = 1\nmulch = false\n"
    + BENCH
    + SHADE
    + "shade_cloth = 0.6\n"
    + tree("layer", "shade", severed("dense", "2026-07-07"), seen("mature", "2026-06-10"))
    + tree("tall", "bench", seen("mature", "2026-06-01"), height_cm="130", crown_cm="70")
    + tree("cut", "bench", work("root-prune", "2026-07-01", removed="0.4"), seen("mature", "2026-06-01")),
    first="2026-07-07",
    days=(DULL, DULL, DULL, HOT, WET.but(**GUSTS), WET, WET, WET, WET, WET),
    watch_from="2026-07-09 20:45",
    watch_to="2026-07-11 12:00",
    foreseen=(
        Said("2026-07-09 20:45", {"2026-07-11": {"wind_ms": 2.0, "calm_ms": 2.0, "gust_ms": 4.0}}),
        Said("2026-07-10 20:45"),
    ),
    person=(Answers("call", "done"), Answers("bring-back", "done"), Answers("question", "firm", timedelta(hours=14))),
    every=timedelta(hours=3),
    also=three_and_no_more,
)
