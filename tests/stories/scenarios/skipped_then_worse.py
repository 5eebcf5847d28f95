"""Answered "skip"; then it gets worse by a class, is skipped again, and fades."""

from collections.abc import Iterator
from datetime import timedelta

from tests.outlook.gardens import LAWN, SHED, seen, severed, tree
from tests.stories.commons import LITTLE, MILD
from tests.stories.cost import Fate
from tests.stories.story import Answers, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day


def told_again_and_not_called_off(watch: Watch, _fates: tuple[Fate, ...]) -> Iterator[str]:
    """A call, one word that it is worse, and no all-clear for what was refused."""
    told = [message.kind for message in watch.messages if any(line[0] for line in message.lines)]
    if told != ["call", "worse"]:
        yield f"heard {', '.join(told)} instead of a call and that it is worse"


STORY = Story(
    title="Skipped, and then worse",
    about="Invented. A layer in a small pot on the lawn. A light frost is called for at noon; the grower has no time "
    "and answers skip. At half past two a night of −11 °C is foreseen; skip again. In the evening clouds are "
    "foreseen, and they come.",
    garden=LITTLE
    + LAWN
    + SHED
    + tree("layer", "lawn", severed("sparse", "2026-09-20"), seen("mature", "2026-10-30"), pot="volume_l = 1.5"),
    first="2026-11-01",
    days=(
        MILD,
        MILD,
        MILD,
        Day(2.0, 8.0, -2.0, cloud=10, calm_ms=1.5),
        Day(3.0, 9.0, 3.0, cloud=90, cloud_night=95, calm_ms=2.5),  # 5 November
        MILD,
        MILD,
        MILD,
        MILD,
        MILD,
    ),
    watch_from="2026-11-04 06:30",
    watch_to="2026-11-05 12:00",
    foreseen=(
        Said("2026-11-04 06:30", {"2026-11-05": {"low_c": -2.0, "dew_c": -4.0, "cloud_night": 0, "calm_ms": 0.6}}),
        Said("2026-11-04 14:30", {"2026-11-05": {"low_c": -11.0, "dew_c": -12.0, "cloud_night": 0, "calm_ms": 0.5}}),
        Said("2026-11-04 18:30"),
    ),
    person=(Answers("call", "skip"),),
    every=timedelta(hours=4),
    also=told_again_and_not_called_off,
)
