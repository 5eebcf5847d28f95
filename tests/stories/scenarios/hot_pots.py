"""Hot roots: a black plastic pot on paving in July sun, and a glazed one beside it."""

from collections.abc import Iterator, Sequence

from tests.outlook.gardens import seen, tree, work
from tests.stories.story import DONE, Message, Said, Story
from tests.stories.weather import Day

FAIR = Day(14.0, 25.0, 13.0, cloud=40, wind_ms=2.5)
HOT = Day(19.0, 35.0, 14.0, cloud=5, cloud_night=5, wind_ms=1.5, calm_ms=0.8)
SIZE = "length_cm = 18, width_cm = 18, depth_cm = 14"
CUT = (work("root-prune", "2027-03-25", removed="0.5"), seen("leaf-out", "2027-04-18"), seen("mature", "2027-05-20"))

STORY = Story(
    title="Hot pots",
    about="Invented. Two elms on a sunny terrace, half of their roots cut in March, one in a black plastic pot, one "
    "in a white glazed one. Two hot days of July are foreseen.",
    garden="[stock]\nfleece_m2 = 0\nnet_m2 = 0\ntents = 0\nmulch = false\n"
    '[[place]]\nid = "terrace"\nkind = "wall"\nsky_view = 0.7\nshelter = 0.4\n'
    + tree("black-pot", "terrace", *CUT, species="Ulmus parvifolia", pot=SIZE)
    + tree(
        "white-pot",
        "terrace",
        *CUT,
        species="Ulmus parvifolia",
        pot=f'{SIZE}, material = "ceramic", colour = "white"',
    ),
    first="2027-07-04",
    days=(FAIR, FAIR, FAIR, HOT, HOT.but(high_c=36.0), FAIR.but(cloud=80), FAIR, FAIR, FAIR, FAIR),
    watch_from="2027-07-06 07:00",
    watch_to="2027-07-09 20:00",
    foreseen=(Said("2027-07-06 07:00"),),
    person=DONE,
    in_peace=("white-pot",),
)


def holds(messages: Sequence[Message]) -> Iterator[str]:
    """The black pot is shaded by ten of the first hot day, more is not asked, and the shade may stay till autumn."""
    asked = [(message, line) for message in messages if message.kind == "call" for line in message.lines]
    if {line[1:] for _, line in asked} != {("black-pot", "shade-pot")}:
        yield f"asked for {sorted({line[1:] for _, line in asked})}, where shade for the black pot does"
    if any((message.at.day, message.at.hour) > (7, 9) for message, _ in asked):
        yield "called after the shade had to stand"
    for message in messages:
        if message.kind == "bring-back":
            yield f"{message.at:%a %H:%M}: the shade is taken away in July, and the next hot day asks for it again"
