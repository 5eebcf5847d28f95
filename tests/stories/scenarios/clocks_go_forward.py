"""A late frost on new leaves in the night in which the clocks go forward."""

from collections.abc import Iterator

from tests.outlook.gardens import LAWN, seen, tree
from tests.stories.commons import LITTLE
from tests.stories.story import DONE, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day

MILD = Day(6.0, 15.0, 6.0, cloud=60)


def by_the_clock_of_its_day(watch: Watch, _: object) -> Iterator[str]:
    """Before dusk by winter time (18:55), off in the morning by summer time."""
    for look in watch.looks:
        for call in look.calls if any(notice.kind == "call" for notice in look.made) else ():
            dusk = watch.moment("2027-03-27 18:55")
            if not look.at < call.act_by <= dusk:
                yield f"to be done by {call.act_by:%a %d %b %H:%M %z}, dusk is at {dusk:%H:%M %z}"
            if call.undo_at != watch.moment("2027-03-28 09:30"):
                yield f"off again {call.undo_at:%a %d %b %H:%M %z}" if call.undo_at else "never off again"
    for message in watch.messages:
        off = watch.moment("2027-03-28 08:30"), watch.moment("2027-03-28 09:45")
        if message.kind == "bring-back" and not off[0] <= message.at <= off[1]:
            yield f"the fleece is taken off at {message.at:%a %H:%M %z}"
    told = {message.kind for message in watch.messages}
    if not {"call", "bring-back"} <= told:
        yield f"only {', '.join(sorted(told))} was said"


STORY = Story(
    title="The clocks go forward in a frost night",
    about="An old maple whose leaves came out in a warm March, and a pine. In the night of 27 to 28 March, in which "
    "the hour from two to three is left out, the sky clears: a late frost on soft leaves.",
    garden=LITTLE
    + LAWN
    + tree("maple", "lawn", seen("leaf-out", "2027-03-18"), worth="2")
    + tree("pine", "lawn", species="Pinus sylvestris"),
    first="2027-03-24",
    days=(
        MILD,
        MILD,
        MILD,
        Day(4.0, 9.0, 0.0, cloud=30, calm_ms=1.5),  # 27 March
        Day(-2.5, 12.0, -3.0, cloud=20, cloud_night=0, wind_ms=2.0, calm_ms=0.6),
        MILD,
        MILD,
        MILD,
        MILD,
        MILD,
    ),
    watch_from="2027-03-26 07:00",
    watch_to="2027-03-29 12:00",
    foreseen=(Said("2027-03-26 07:00"),),
    person=DONE,
    in_peace=("pine",),
    also=by_the_clock_of_its_day,
)
