"""The first hot dry days of May on a layer of the autumn before, in soft flush: its shade resumes, and it dries."""

from collections.abc import Iterator, Sequence

from tests.outlook.gardens import seen, severed, tree
from tests.stories.story import DONE, Message, Said, Story
from tests.stories.weather import Day

DULL = Day(8.0, 16.0, 8.0, cloud=90, wind_ms=3.0)

WEST = """[[place]]
id = "west-side"
kind = "bench"
sky_view = 0.6
horizon = [[5, 65], [185, 65], [190, 5], [355, 5]]
"""

CUT = (severed("sparse", "2026-10-10", worked=True),)

STORY = Story(
    title="The first hot dry days of May",
    about="Invented. A maple layer was severed late, in October, with few roots that were combed out at once. It came "
    "through the winter and has been in leaf for three weeks; an old maple stands beside it on the west side of "
    "the house. After a dull fortnight 16 May brings sun, 30 °C, dry air and wind, and the 17th too.",
    garden="[stock]\nfleece_m2 = 0\nnet_m2 = 5\ntents = 1\nmulch = false\n"
    + WEST
    + tree(
        "layer", "west-side", severed("sparse", "2026-10-10", worked=True), seen("leaf-out", "2027-04-24"), worth="2"
    )
    + tree("old-maple", "west-side", seen("leaf-out", "2027-04-20"), pot="volume_l = 14"),
    first="2027-05-12",
    days=(
        DULL,
        DULL,
        DULL,
        DULL.but(high_c=19.0, wind_ms=4.0),
        Day(12.0, 30.0, 4.0, cloud=5, cloud_night=5, wind_ms=6.0, calm_ms=2.0, gust_ms=12.0),  # 16 May
        Day(13.0, 29.0, 5.0, cloud=10, cloud_night=5, wind_ms=5.0, calm_ms=2.0, gust_ms=11.0),
        Day(11.0, 18.0, 12.0, cloud=95, rain_mm=5.0, rain_from_h=8, rain_hours=5),
        DULL,
        DULL,
        DULL,
        DULL,
        DULL,
        DULL,
    ),
    watch_from="2027-05-14 07:00",
    watch_to="2027-05-18 18:00",
    foreseen=(Said("2027-05-14 07:00"),),
    person=DONE,
    in_peace=("old-maple",),
)


def holds(messages: Sequence[Message]) -> Iterator[str]:
    """The layer is shaded in time, stands still, and keeps its shade: few roots need it until summer."""
    asked = [(message, line) for message in messages if message.kind == "call" for line in message.lines]
    if not any("shade-cloth" in measure for _, (_, _, measure) in asked):
        yield "nobody is asked to shade the layer"
    for message, (_, name, measure) in asked:
        if "move" in measure:
            yield f"{name} is to be carried"
        if (message.at.day, message.at.hour) > (16, 9):
            yield f"called {message.at:%a %H:%M}, after the shade had to hang"
    for message in messages:
        if message.kind == "bring-back":
            yield f"the shade is taken away again {message.at:%a %H:%M}"
