"""A late frost in full flush."""

from collections.abc import Iterator, Sequence

from tests.outlook.gardens import LAWN, seen, tree
from tests.stories.story import DONE, Message, Said, Story
from tests.stories.weather import Day

SPRING = Day(5.0, 15.0, 4.0, cloud=60, wind_ms=3.0)

STORY = Story(
    title="A late frost in full flush",
    about="Invented. A maple and a beech on the lawn, both in soft new leaf, and a larch. The night to 4 May is clear "
    "and still.",
    garden="[stock]\nfleece_m2 = 8\nnet_m2 = 0\ntents = 0\nmulch = false\n"
    + LAWN
    + tree("maple", "lawn", seen("leaf-out", "2027-04-20"), pot="volume_l = 8")
    + tree("beech", "lawn", seen("leaf-out", "2027-04-25"), species="Fagus sylvatica", pot="volume_l = 8")
    + tree("larch", "lawn", seen("leaf-out", "2027-04-06"), species="Larix", pot="volume_l = 8"),
    first="2027-04-30",
    days=(
        SPRING,
        SPRING,
        SPRING,
        Day(3.0, 11.0, -3.0, cloud=20, wind_ms=3.0, calm_ms=2.0),
        Day(0.3, 14.0, -2.0, cloud=15, cloud_night=0, wind_ms=2.0, calm_ms=0.6),  # 4 May
        Day(6.0, 16.0, 6.0, cloud=70),
        SPRING,
        SPRING,
        SPRING,
    ),
    watch_from="2027-05-02 07:00",
    watch_to="2027-05-04 18:00",
    foreseen=(
        Said("2027-05-02 07:00", {"2027-05-04": {"low_c": 1.5, "cloud_night": 20}}),
        Said("2027-05-03 07:00"),
    ),
    person=DONE,
    in_peace=("larch",),
)


def holds(messages: Sequence[Message]) -> Iterator[str]:
    """One message for both, before dusk, and off in the morning before the sun is strong."""
    calls = [message for message in messages if message.kind in ("call", "worse", "repeat")]
    if [message.kind for message in calls] != ["call"]:
        yield f"{len(calls)} messages instead of one call for both"
    for message in calls:
        if {tree for _, tree, _ in message.lines} != {"maple", "beech"}:
            yield f"the call is for {sorted({tree for _, tree, _ in message.lines})}"
        if (message.at.day, message.at.hour) > (3, 18):
            yield f"called {message.at:%a %H:%M}: dusk is at half past eight"
    back = [message for message in messages if message.kind == "bring-back"]
    if [(message.at.day, message.at.hour <= 9) for message in back] != [(4, True)]:
        yield f"off again at {[f'{message.at:%a %H:%M}' for message in back]}"
