"""The frost comes a night earlier than it was foreseen."""

from tests.stories.commons import CLEAR_NIGHT, LAYER_ON_A_LAWN, MILD
from tests.stories.story import DONE, Said, Story
from tests.stories.weather import Day

STORY = Story(
    title="A frost a night early",
    about="The layer again. The clear night is foreseen for 5 November. At noon of the 3rd it is foreseen for the 4th.",
    garden=LAYER_ON_A_LAWN,
    first="2026-10-30",
    days=(
        MILD,
        MILD,
        MILD,
        MILD,
        Day(3.0, 8.0, -1.0, cloud=20, calm_ms=1.5),
        CLEAR_NIGHT,  # 4 November
        Day(-1.0, 9.0, 0.0, cloud=40, cloud_night=50, calm_ms=1.5),
        MILD,
        MILD,
        MILD,
        MILD,
    ),
    watch_from="2026-11-02 07:00",
    watch_to="2026-11-05 12:00",
    foreseen=(
        Said(
            "2026-11-02 07:00",
            {
                "2026-11-03": {"cloud": 60},
                "2026-11-04": {"low_c": 3.0, "cloud_night": 80, "calm_ms": 2.5, "dew_c": 2.0},
                "2026-11-05": {"low_c": -2.5, "cloud_night": 0, "calm_ms": 0.6},
            },
        ),
        Said("2026-11-03 12:00"),
    ),
    person=DONE,
)
