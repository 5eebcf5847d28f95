"""A severe call that nobody answers, with a second channel for what is severe."""

from tests.outlook.gardens import LAWN, SHED, tree
from tests.stories.commons import LITTLE, MILD
from tests.stories.story import NOBODY, Channel, Said, Story
from tests.stories.weather import Day

STORY = Story(
    title="A severe call that nobody answers",
    about="A young olive in a small pot before a night of −8 °C, with a shed near by. Nobody is at home. There is a "
    "second channel for what is severe.",
    garden=LITTLE + LAWN + SHED + tree("olive", "lawn", species="Olea europaea", pot="volume_l = 3", worth="2"),
    first="2026-11-01",
    days=(
        MILD,
        MILD,
        Day(1.0, 4.0, -4.0, cloud=10, calm_ms=1.5),
        Day(-8.0, 1.0, -9.0, cloud=5, cloud_night=0, wind_ms=1.5, calm_ms=0.5),  # 4 November
        Day(-6.0, 6.0, -4.0, cloud=50, cloud_night=10, calm_ms=1.0),
        Day(1.0, 9.0, 2.0, cloud=70),
        MILD,
        MILD,
        MILD,
        MILD,
    ),
    watch_from="2026-11-03 07:00",
    watch_to="2026-11-05 12:00",
    foreseen=(Said("2026-11-03 07:00"),),
    person=NOBODY,
    channels=(Channel("phone"), Channel("house", 2, "severe")),
)
