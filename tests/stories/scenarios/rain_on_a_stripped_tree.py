"""A week of rain on a tree that was stripped of its leaves."""

from collections.abc import Iterator, Sequence
from datetime import timedelta

from tests.outlook.gardens import BENCH, seen, tree, work
from tests.stories.story import DONE, Message, Said, Story
from tests.stories.weather import Day

DRY = Day(12.0, 22.0, 11.0, cloud=40, wind_ms=3.0)
WET = Day(13.0, 18.0, 14.0, cloud=95, wind_ms=2.5, rain_mm=14.0)
SHALLOW = 'length_cm = 30, width_cm = 22, depth_cm = 5, material = "ceramic", colour = "brown"'
GREEN = (seen("leaf-out", "2027-04-19"), seen("mature", "2027-05-19"))

STORY = Story(
    title="A week of rain on a stripped tree",
    about="Invented. Two maples in shallow bowls of loam on a bench; one was stripped of all its leaves on 8 June. "
    "From 13 June on it rains for a week.",
    garden="[stock]\nfleece_m2 = 0\nnet_m2 = 0\ntents = 0\nmulch = false\n"
    + BENCH
    + tree(
        "stripped",
        "bench",
        *GREEN,
        work("defoliate", "2027-06-08", removed="1.0"),
        pot=SHALLOW,
        substrate='"loam-mix"',
    )
    + tree("leafy", "bench", *GREEN, pot=SHALLOW, substrate='"loam-mix"'),
    first="2027-06-10",
    days=(DRY, DRY, DRY, WET, WET, WET, WET, WET, WET, WET, DRY, DRY, DRY, DRY, DRY, DRY, DRY),
    watch_from="2027-06-12 07:00",
    watch_to="2027-06-21 18:00",
    foreseen=(Said("2027-06-12 07:00"),),
    person=DONE,
    every=timedelta(hours=12),
    ahead_days=7,
)


def holds(messages: Sequence[Message]) -> Iterator[str]:
    """The stripped one is told of, once, and its cover stays while it rains."""
    calls = [message for message in messages if message.kind in ("call", "worse", "repeat")]
    if [message.kind for message in calls] != ["call"]:
        yield f"{len(calls)} messages ask for something: {[f'{m.kind} {m.at:%a %H:%M}' for m in calls]}"
    for message in messages:
        if message.kind == "bring-back" and message.at.day < 20:
            yield f"the cover comes off {message.at:%a %d %b}, and it rains until the 19th"
