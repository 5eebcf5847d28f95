"""The first frost in the night in which the clocks go back."""

from collections.abc import Iterator

from tests.outlook.gardens import LAWN, seen, severed, tree
from tests.stories.commons import LITTLE
from tests.stories.story import DONE, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day

MILD = Day(6.0, 14.0, 6.0, cloud=70)


def by_the_clock_of_its_day(watch: Watch, _: object) -> Iterator[str]:
    """Before dusk by summer time (18:15), off in the morning by winter time."""
    for look in watch.looks:
        for call in look.calls if any(notice.kind == "call" for notice in look.made) else ():
            dusk = watch.moment("2026-10-24 18:15")
            if not look.at < call.act_by <= dusk:
                yield f"to be done by {call.act_by:%a %d %b %H:%M %z}, dusk is at {dusk:%H:%M %z}"
            if call.undo_at != watch.moment("2026-10-25 09:30"):
                yield f"off again {call.undo_at:%a %d %b %H:%M %z}" if call.undo_at else "never off again"
    for message in watch.messages:
        off = watch.moment("2026-10-25 08:30"), watch.moment("2026-10-25 09:45")
        if message.kind == "bring-back" and not off[0] <= message.at <= off[1]:
            yield f"the fleece is taken off at {message.at:%a %H:%M %z}"
    told = {message.kind for message in watch.messages}
    if not {"call", "bring-back"} <= told:
        yield f"only {', '.join(sorted(told))} was said"


STORY = Story(
    title="The clocks go back in a frost night",
    about="A layer in leaf in the night of 24 to 25 October: at three the clocks are put back to two, and the first "
    "frost comes.",
    garden=LITTLE
    + LAWN
    + tree("layer", "lawn", severed("sparse", "2026-09-12"), seen("mature", "2026-10-20"), worth="2"),
    first="2026-10-21",
    days=(
        MILD,
        MILD,
        MILD,
        Day(5.0, 10.0, 1.0, cloud=20, calm_ms=1.5),  # 24 October
        Day(-3.0, 10.0, -3.0, cloud=20, cloud_night=0, wind_ms=2.0, calm_ms=0.6),
        MILD,
        MILD,
        MILD,
        MILD,
        MILD,
    ),
    watch_from="2026-10-23 07:00",
    watch_to="2026-10-26 12:00",
    foreseen=(Said("2026-10-23 07:00"),),
    person=DONE,
    also=by_the_clock_of_its_day,
)
