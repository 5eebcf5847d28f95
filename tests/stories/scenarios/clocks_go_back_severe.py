"""A severe frost that comes in sight in the hour that the clocks strike twice is told at once."""

from collections.abc import Iterator
from datetime import timedelta

from tests.outlook.gardens import LAWN, SHED, tree
from tests.stories.commons import LITTLE
from tests.stories.story import DONE, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day

MILD = Day(6.0, 14.0, 6.0, cloud=70)


def told_in_the_second_two_o_clock(watch: Watch, _: object) -> Iterator[str]:
    """The call comes with the first forecast that knows, which is the second two o'clock, and only severe."""
    calls = [message for message in watch.messages if message.kind == "call"]
    if [(f"{call.at:%d %H:%M %z}", call.severity in ("Severe", "Extreme")) for call in calls] != [
        ("25 02:00 +0100", True)
    ]:
        yield f"called {', '.join(f'{call.at:%d %H:%M %z} {call.severity}' for call in calls)}"
    for message in watch.messages:
        if message.kind in ("bring-back", "rounds", "season") and message.at.hour * 60 + message.at.minute < 390:
            yield f"{message.kind} at {message.at:%d %H:%M %z}"


STORY = Story(
    title="A severe frost in the doubled hour",
    about="An olive, not hardened yet, in October. A mild night is foreseen. At the second two o'clock of the night of "
    "24 to 25 October, after the clocks went back, a forecast comes that knows of −8 °C by sunrise.",
    garden=LITTLE + LAWN + SHED + tree("olive", "lawn", species="Olea europaea", pot="volume_l = 3", worth="2"),
    first="2026-10-22",
    days=(
        MILD,
        MILD,
        Day(5.0, 8.0, 0.0, cloud=60, calm_ms=2.5),  # 24 October
        Day(-8.0, 6.0, -8.0, cloud=20, cloud_night=0, wind_ms=2.0, calm_ms=0.6),
        Day(2.0, 10.0, 4.0, cloud=80),
        MILD,
        MILD,
        MILD,
        MILD,
    ),
    watch_from="2026-10-24 05:00",
    watch_to="2026-10-26 18:00",
    foreseen=(
        Said("2026-10-24 05:00", {"2026-10-25": {"low_c": 4.0, "cloud_night": 90, "calm_ms": 3.0, "dew_c": 3.0}}),
        Said("2026-10-25 01:30"),
    ),
    every=timedelta(hours=5, minutes=30),
    person=DONE,
    also=told_in_the_second_two_o_clock,
)
