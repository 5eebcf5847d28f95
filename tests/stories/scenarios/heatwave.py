"""Six hot days on leaf and pot."""

from collections.abc import Iterator, Sequence
from datetime import timedelta

from tests.outlook.gardens import seen, tree, work
from tests.stories.story import DONE, Message, Said, Story
from tests.stories.weather import Day

FAIR = Day(15.0, 25.0, 13.0, cloud=30, wind_ms=2.5)
HOT = Day(19.0, 35.0, 12.0, cloud=5, cloud_night=5, wind_ms=2.5, calm_ms=1.0)

STORY = Story(
    title="A heatwave of six days",
    about="Invented. A maple root-pruned in March in a small black pot on a sunny terrace, and a beech in a white "
    "glazed one. From 15 July on six days of 34 to 37 °C are foreseen.",
    garden="[stock]\nfleece_m2 = 0\nnet_m2 = 4\ntents = 0\nmulch = false\n"
    '[[place]]\nid = "terrace"\nkind = "wall"\nsky_view = 0.7\n'
    + tree(
        "maple",
        "terrace",
        seen("leaf-out", "2026-04-20"),
        seen("mature", "2026-05-22"),
        work("root-prune", "2026-03-20", removed="0.5"),
        pot="volume_l = 3",
        worth="2",
    )
    + tree(
        "beech",
        "terrace",
        seen("leaf-out", "2026-04-29"),
        seen("mature", "2026-05-29"),
        species="Fagus sylvatica",
        pot='volume_l = 6, material = "ceramic", colour = "white"',
        worth="3",
    ),
    first="2026-07-12",
    days=(
        FAIR,
        FAIR,
        Day(14.0, 22.0, 13.0, cloud=85, wind_ms=3.0),
        HOT.but(low_c=17.0, high_c=34.0),  # 15 July
        HOT,
        HOT.but(high_c=36.0),
        HOT.but(high_c=37.0),
        HOT.but(high_c=36.0),
        HOT.but(high_c=35.0),  # 20 July
        Day(17.0, 25.0, 15.0, cloud=80, rain_mm=8.0, rain_from_h=6, rain_hours=6),
        FAIR,
        FAIR,
        FAIR,
        FAIR,
        FAIR,
        FAIR,
    ),
    watch_from="2026-07-14 07:00",
    watch_to="2026-07-21 21:00",
    foreseen=(Said("2026-07-14 07:00"),),
    person=DONE,
    every=timedelta(hours=12),
    ahead_days=7,
)


def holds(messages: Sequence[Message]) -> Iterator[str]:
    """One call for the spell, in time for shade by ten, and a word on its last day; off in the evening only."""
    calls = [message for message in messages if message.kind in ("call", "worse", "repeat")]
    if [message.kind for message in calls] != ["call"]:
        yield f"{len(calls)} messages ask for something: {[f'{m.kind} {m.at:%a %H:%M}' for m in calls]}"
    if calls and (calls[0].at.day, calls[0].at.hour) > (15, 9):
        yield f"called {calls[0].at:%a %H:%M}, after the shade had to hang"
    back = [message for message in messages if message.kind == "bring-back"]
    if any(message.at.day < 21 for message in back):
        yield "shade taken off within the spell"
    said = "\n".join(message.text for message in messages if message.at.day == 21)
    if "shade cloth" not in said:
        yield "nothing is said of the cloth on the day on which it was to come off"
    cloth = [message for message in back if any("shade-cloth" in measure for _, _, measure in message.lines)]
    if any(message.at.hour < 16 for message in cloth):
        yield "the cloth comes off in the day's sun"
