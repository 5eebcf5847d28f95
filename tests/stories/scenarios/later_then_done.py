"""Answered later in the morning, asked again, then done."""

from collections.abc import Iterator, Sequence
from datetime import timedelta

from tests.outlook.gardens import seen, tree, work
from tests.stories.story import Answers, Message, Said, Story
from tests.stories.weather import Day

FAIR = Day(12.0, 21.0, 11.0, cloud=60, wind_ms=2.5)

STORY = Story(
    title="Later, and then done",
    about="Invented. A maple whose roots were cut in March, before the hottest day of July. The grower is called in "
    "the morning, has no time and answers later.",
    garden="[stock]\nfleece_m2 = 0\nnet_m2 = 4\ntents = 0\nmulch = false\n"
    '[[place]]\nid = "terrace"\nkind = "wall"\nsky_view = 0.7\n'
    + tree(
        "maple",
        "terrace",
        work("root-prune", "2027-03-10", removed="0.5"),
        seen("leaf-out", "2027-04-24"),
        seen("mature", "2027-05-26"),
        pot="volume_l = 3",
        worth="2",
    ),
    first="2027-07-05",
    days=(
        FAIR,
        FAIR,
        FAIR,
        Day(19.0, 36.0, 13.0, cloud=5, cloud_night=5, wind_ms=1.5, calm_ms=0.8),  # 8 July
        FAIR.but(cloud=90),
        FAIR,
        FAIR,
        FAIR,
        FAIR,
    ),
    watch_from="2027-07-07 07:00",
    watch_to="2027-07-09 12:00",
    foreseen=(Said("2027-07-07 07:00"),),
    person=(
        Answers("call", "later", timedelta(minutes=10), times=1),
        Answers("call", "done", timedelta(hours=2, minutes=20), times=1),
        Answers("bring-back", "done", timedelta(minutes=45)),
    ),
)


def holds(messages: Sequence[Message]) -> Iterator[str]:
    """Asked once more between the answer and the hour at which the shade must hang."""
    asked = [(message.kind, message.at) for message in messages if message.kind in ("call", "worse", "repeat")]
    if [kind for kind, _ in asked] != ["call", "repeat"]:
        yield f"{[kind for kind, _ in asked]} instead of a call and a repeat"
    if any((at.day, at.hour) >= (8, 10) for _, at in asked):
        yield "asked after ten, when the shade should stand"
    if len(asked) == 2 and not timedelta(minutes=30) <= asked[1][1] - asked[0][1] <= timedelta(hours=2, minutes=30):
        yield f"asked again {asked[1][1]:%H:%M}, too soon or too late to be of use"
