"""Days on which nobody is there: told on the eve, a page for the helper, and calls that say whom to ask."""

from collections.abc import Iterator
from datetime import timedelta

from tests.outlook.gardens import BENCH, LAWN, seen, severed, tree, work
from tests.stories.cost import Fate
from tests.stories.story import Answers, Does, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day

MILD = Day(5.0, 11.0, 5.0, cloud=70)
CLEAR = Day(-3.0, 8.0, -4.0, cloud=10, cloud_night=0, wind_ms=2.0, calm_ms=0.6)
STORM = Day(3.0, 9.0, 3.0, cloud=90, wind_ms=7.0, gust_ms=16.0)
NO_FROST = {"low_c": 5.0, "high_c": 11.0, "dew_c": 5.0, "cloud": 70.0, "cloud_night": 70.0, "calm_ms": 2.5}


def told_before_and_while_away(watch: Watch, _fates: tuple[Fate, ...]) -> Iterator[str]:
    """What needs no hands is for before leaving, what comes up later is for the helper; nothing contradicts itself."""
    calls = [message for message in watch.messages if message.kind == "call"]
    eve = [message for message in calls if f"{message.at:%d}" == "08"]
    away = [message for message in calls if "09" <= f"{message.at:%d}" <= "11"]
    if not any(name == "elm" for message in eve for _, name, _ in message.lines):
        yield "the gale of Sunday is not called for on the morning before leaving"
    if any("before you leave" not in message.text for message in eve):
        yield "the eve's call does not say that it is for before leaving"
    if any("nothing has to be done" in message.text for message in eve):
        yield "the eve's call says that nothing has to be done"
    if not any(name == "layer" for message in away for _, name, _ in message.lines):
        yield "the frost that was foreseen on Friday is not called for"
    ends = [message for message in watch.messages if message.kind == "bring-back" and f"{message.at:%d}" < "12"]
    if any("ask your helper" not in message.text for message in (*away, *ends)):
        yield "a message while nobody is there does not say whom to ask"


STORY = Story(
    title="Away for a weekend",
    about="Invented. From Friday to Sunday nobody is at home but a neighbour who was asked. A layer stands in a "
    "sheltered corner under a net, an elm that was dug up in September on a bench. A gale is foreseen for "
    "Sunday. Only on Friday noon is the clear night to Saturday foreseen.",
    garden="[stock]\nfleece_m2 = 4\nnet_m2 = 0\ntents = 0\nmulch = false\n"
    + LAWN.replace("lawn", "corner")
    + "shelter = 0.7\nshade_cloth = 0.6\n"
    + BENCH
    + "shade_cloth = 0.5\n"
    + tree("layer", "corner", severed("sparse", "2026-08-20"), seen("mature", "2026-10-05"), worth="2")
    + tree(
        "elm",
        "bench",
        work("lift", "2026-09-25", removed="0.5"),
        seen("mature", "2026-10-05"),
        species="Ulmus parvifolia",
        worth="2",
    ),
    first="2026-10-06",
    days=(
        MILD,
        MILD,
        MILD,  # 8 October, Thursday
        MILD.but(cloud=20.0),
        CLEAR,
        STORM,
        MILD,
        MILD,
        MILD,
        MILD,
        MILD,
    ),
    watch_from="2026-10-08 07:00",
    watch_to="2026-10-12 10:00",
    foreseen=(Said("2026-10-08 07:00", {"2026-10-10": NO_FROST}), Said("2026-10-09 13:00")),
    person=(
        Answers("call", "done", timedelta(hours=1)),
        Answers("bring-back", "done", timedelta(hours=1)),
    ),
    does=(Does("2026-10-08 18:00", "rounds --for-helper"), Does("2026-10-09 14:30", "rounds --for-helper")),
    notices='away = [["2026-10-09", "2026-10-11"]]\n',
    also=told_before_and_while_away,
)
