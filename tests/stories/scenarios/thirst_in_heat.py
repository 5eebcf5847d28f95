"""A small pot that is watered every second day, in the heat."""

import re
from collections.abc import Iterator, Sequence
from datetime import timedelta

from tests.outlook.gardens import BENCH, seen, tree
from tests.stories.story import DONE, Message, Said, Story
from tests.stories.weather import Day

FAIR = Day(15.0, 25.0, 13.0, cloud=40, wind_ms=2.5)
HOT = Day(18.0, 35.0, 11.0, cloud=5, cloud_night=5, wind_ms=3.0, calm_ms=1.0)
SMALL = 'volume_l = 2, material = "ceramic", colour = "white"'

STORY = Story(
    title="Thirst in the heat",
    about="Invented. Two elms in pots of two litres on a sunny bench; one is watered every day, the other every second "
    "day, which sufficed so far. From 15 July on four days of 35 °C are foreseen.",
    garden="[stock]\nfleece_m2 = 0\nnet_m2 = 0\ntents = 0\nmulch = false\n"
    + BENCH
    + tree("often", "bench", seen("mature", "2026-05-18"), species="Ulmus parvifolia", pot=SMALL)
    + tree(
        "seldom",
        "bench",
        seen("mature", "2026-05-18"),
        species="Ulmus parvifolia",
        pot=SMALL,
        watering='"every-2-days"',
    ),
    first="2026-07-12",
    days=(FAIR, FAIR, FAIR, HOT, HOT, HOT, HOT, FAIR.but(cloud=80), FAIR, FAIR, FAIR, FAIR, FAIR, FAIR),
    watch_from="2026-07-14 07:00",
    watch_to="2026-07-19 12:00",
    foreseen=(Said("2026-07-14 07:00"),),
    person=DONE,
    every=timedelta(hours=12),
    ahead_days=6,
    in_peace=("often",),
)


def holds(messages: Sequence[Message]) -> Iterator[str]:
    """Water is asked for by morning: once for every morning of the spell, or on each day on which the pot dries."""
    asked = [(message, line) for message in messages if message.kind == "call" for line in message.lines]
    if {line[1:] for _, line in asked} != {("seldom", "water")}:
        yield f"asked for {sorted({line[1:] for _, line in asked})}, where water is what it wants"
    daily = any(re.search(r"\b(every|each) (morning|day)\b|\bdaily\b", message.text) for message, _ in asked)
    days = sorted({message.at.day for message, _ in asked})
    if not (days == [15] if daily else {15, 17} <= set(days)):
        yield f"called on {days}, and the pot is dry by noon of the 15th and of the 17th"
    if any(8 <= message.at.hour < 18 for message, _ in asked):
        yield "called in the heat of the day"
