"""A colouring maple in its first frosts of October: nobody is bothered."""

from collections.abc import Iterator, Sequence

from tests.outlook.gardens import LAWN, seen, tree
from tests.stories.story import DONE, Message, Said, Story
from tests.stories.weather import Day

MILD_OCTOBER = Day(6.0, 14.0, 6.0, cloud=50, wind_ms=2.5)
WHITE_MORNING = Day(-2.5, 11.0, -2.0, cloud=15, cloud_night=0, wind_ms=2.0, calm_ms=0.5)

STORY = Story(
    title="A scarlet maple in the first frosts",
    about="Invented. An old maple in full colour on the lawn; three clear nights bring the first white mornings of "
    "October.",
    garden="[stock]\nfleece_m2 = 8\nnet_m2 = 0\ntents = 0\nmulch = true\n"
    + LAWN
    + tree("scarlet", "lawn", seen("colouring", "2026-10-16"), pot="volume_l = 14", worth="3"),
    first="2026-10-18",
    days=(
        MILD_OCTOBER,
        MILD_OCTOBER,
        MILD_OCTOBER.but(dew_c=0.0, cloud=20),
        WHITE_MORNING,
        WHITE_MORNING.but(low_c=-3.5),
        WHITE_MORNING.but(low_c=-3.0),
        MILD_OCTOBER,
        MILD_OCTOBER,
        MILD_OCTOBER,
        MILD_OCTOBER,
        MILD_OCTOBER,
    ),
    watch_from="2026-10-20 07:00",
    watch_to="2026-10-23 18:00",
    foreseen=(Said("2026-10-20 07:00"),),
    person=DONE,
    in_peace=("scarlet",),
)


def holds(messages: Sequence[Message]) -> Iterator[str]:
    """Nothing is asked, undone or called off; a line in the rounds is the most."""
    for message in messages:
        if message.kind not in ("rounds", "season"):
            yield f"{message.at:%a %H:%M}: {message.kind}"
        if "frost" in message.text.lower() and message.kind == "rounds":
            yield f"{message.at:%a %H:%M}: the rounds speak of frost that takes nothing"
