"""Answered done, and then a night follows that is colder than what was done can bear."""

from tests.outlook.gardens import SHED
from tests.stories.commons import CLEAR_NIGHT, LAYER_ON_A_LAWN, MILD
from tests.stories.story import DONE, Said, Story
from tests.stories.weather import Day

COLDER = Day(-7.0, 5.0, -8.0, cloud=5, cloud_night=0, wind_ms=1.5, calm_ms=0.5)

STORY = Story(
    title="Done, and then a colder night",
    about="The layer, with a shed near by. A first frost is called for and answered done; in the evening of the next "
    "day a much colder night is foreseen.",
    garden=LAYER_ON_A_LAWN + SHED,
    first="2026-10-31",
    days=(
        MILD,
        MILD,
        MILD,
        Day(2.0, 8.0, -1.0, cloud=20, calm_ms=1.5),
        CLEAR_NIGHT.but(high_c=6.0),  # 4 November
        COLDER,  # 5 November
        Day(-1.0, 8.0, 1.0, cloud=70),
        MILD,
        MILD,
        MILD,
        MILD,
    ),
    watch_from="2026-11-02 07:00",
    watch_to="2026-11-06 18:00",
    foreseen=(
        Said("2026-11-02 07:00", {"2026-11-05": {"low_c": 1.0, "cloud_night": 60, "calm_ms": 2.0, "dew_c": -1.0}}),
        Said("2026-11-04 13:00"),
    ),
    person=DONE,
)
