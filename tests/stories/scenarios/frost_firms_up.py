"""Radiation frost, foreseen four days out, that firms up."""

from tests.stories.commons import AFTERWARDS, CLEAR_NIGHT, LAYER_ON_A_LAWN, PINE, TO_THE_FOURTH
from tests.stories.story import DONE, Said, Story

STORY = Story(
    title="A frost that firms up",
    about="A layer severed in September, still in leaf, and a pine. A clear calm night is foreseen four days before.",
    garden=LAYER_ON_A_LAWN + PINE,
    first="2026-10-30",
    days=(*TO_THE_FOURTH, CLEAR_NIGHT, *AFTERWARDS),
    watch_from="2026-11-01 07:00",
    watch_to="2026-11-05 12:00",
    foreseen=(
        Said("2026-11-01 07:00", {"2026-11-05": {"low_c": 0.5, "cloud_night": 30}}),
        Said("2026-11-02 13:00", {"2026-11-05": {"low_c": -0.5, "cloud_night": 20}}),
        Said("2026-11-03 13:00", {"2026-11-05": {"low_c": -2.0, "cloud_night": 0}}),
        Said("2026-11-04 07:00"),
    ),
    person=DONE,
    in_peace=("pine",),
)
