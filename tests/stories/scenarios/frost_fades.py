"""The same frost, foreseen four days out, that fades: clouds come in time."""

from tests.stories.commons import AFTERWARDS, LAYER_ON_A_LAWN, TO_THE_FOURTH
from tests.stories.story import DONE, Said, Story
from tests.stories.weather import Day

STORY = Story(
    title="A frost that fades",
    about="The layer again. The clear night is foreseen as certain two days before; then clouds are, and they come.",
    garden=LAYER_ON_A_LAWN,
    first="2026-10-30",
    days=(*TO_THE_FOURTH, Day(2.5, 9.0, 2.0, cloud=80, cloud_night=85, calm_ms=2.0), *AFTERWARDS),
    watch_from="2026-11-02 07:00",
    watch_to="2026-11-05 12:00",
    foreseen=(
        Said("2026-11-02 07:00", {"2026-11-05": {"low_c": -2.0, "cloud_night": 5, "calm_ms": 0.6}}),
        Said("2026-11-03 07:00", {"2026-11-05": {"low_c": -2.5, "cloud_night": 0, "calm_ms": 0.6}}),
        Said("2026-11-04 07:00", {"2026-11-05": {"low_c": -1.5, "cloud_night": 10, "calm_ms": 0.8}}),
        Said("2026-11-04 18:30"),
    ),
    person=DONE,
)
