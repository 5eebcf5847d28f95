"""A week of rain on roots that were cut at bud swell."""

from collections.abc import Iterator, Sequence
from datetime import timedelta

from tests.outlook.gardens import PLACE, seen, tree, work
from tests.stories.story import DONE, Message, Said, Story
from tests.stories.weather import Day

DRY = Day(6.0, 15.0, 6.0, cloud=40, wind_ms=3.0)
WET = Day(9.0, 14.0, 10.0, cloud=95, wind_ms=2.5, rain_mm=14.0)
SHALLOW = 'length_cm = 30, width_cm = 22, depth_cm = 5, material = "ceramic", colour = "brown"'

STORY = Story(
    title="A week of rain on cut roots",
    about="Invented. Two maples in shallow bowls of loam in the half shade of a tree; half of one's roots were cut in "
    "March. From 20 April on it rains for a week.",
    garden="[stock]\nfleece_m2 = 0\nnet_m2 = 4\ntents = 0\nmulch = false\n"
    + PLACE.format("grove", "under-tree")
    + tree(
        "cut",
        "grove",
        work("root-prune", "2027-03-22", removed="0.5"),
        seen("bud-swell", "2027-04-05"),
        pot=SHALLOW,
        substrate='"loam-mix"',
    )
    + tree("whole", "grove", seen("bud-swell", "2027-04-05"), pot=SHALLOW, substrate='"loam-mix"'),
    first="2027-04-17",
    days=(DRY, DRY, DRY, WET, WET, WET, WET, WET, WET, WET, DRY, DRY, DRY, DRY, DRY, DRY, DRY),
    watch_from="2027-04-19 07:00",
    watch_to="2027-04-28 18:00",
    foreseen=(Said("2027-04-19 07:00"),),
    person=DONE,
    every=timedelta(hours=12),
    ahead_days=7,
)


def holds(messages: Sequence[Message]) -> Iterator[str]:
    """Dry feet, not a carry: one call for the week, and the cover stays while it rains."""
    calls = [message for message in messages if message.kind in ("call", "worse", "repeat")]
    if [message.kind for message in calls] != ["call"]:
        yield f"{len(calls)} messages ask for something: {[f'{m.kind} {m.at:%a %H:%M}' for m in calls]}"
    for message in messages:
        if any("move" in measure for _, _, measure in message.lines):
            yield f"{message.at:%a %H:%M}: a freshly cut tree is to be carried"
        if message.kind == "bring-back" and message.at.day < 27:
            yield f"the cover comes off {message.at:%a %d %b}, and it rains until the 26th"
