"""Twins in the same weather, of which one must be left in peace."""

from tests.outlook.gardens import LAWN, seen, severed, tree
from tests.stories.commons import AFTERWARDS, CLEAR_NIGHT, LITTLE, TO_THE_FOURTH
from tests.stories.story import DONE, Said, Story

STORY = Story(
    title="Twins",
    about="Two maples of one size in one kind of pot on one lawn. One was severed in September and is still green; the "
    "other is old, whole and scarlet: a frost takes from it what it sheds anyway.",
    garden=LITTLE
    + LAWN
    + tree("green-twin", "lawn", severed("sparse", "2026-09-20"), seen("mature", "2026-10-30"), worth="2")
    + tree("scarlet-twin", "lawn", seen("colouring", "2026-10-24")),
    first="2026-10-30",
    days=(*TO_THE_FOURTH, CLEAR_NIGHT, *AFTERWARDS),
    watch_from="2026-11-03 07:00",
    watch_to="2026-11-05 12:00",
    foreseen=(Said("2026-11-03 07:00"),),
    person=DONE,
    in_peace=("scarlet-twin",),
)
