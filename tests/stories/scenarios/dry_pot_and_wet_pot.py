"""A dry pot and a wet one in the same frost: water, in time, is the cheapest help, and only for the dry one."""

from collections.abc import Iterator

from tests.outlook.gardens import BENCH, tree
from tests.stories.story import DONE, Said, Story
from tests.stories.watch import Watch
from tests.stories.weather import Day

STOCK = "[stock]\nfleece_m2 = 4\nnet_m2 = 0\ntents = 0\nmulch = true\n"
SMALL = "volume_l = 3"
DAMP = Day(4.0, 9.0, 4.0, cloud=80)
# Dry sunny weather with wind: a forgotten pot is empty after it.
WINDY = Day(3.0, 10.0, -3.0, cloud=15, wind_ms=5.0)


def water_by_day_only(watch: Watch, _: object) -> Iterator[str]:
    """Water is asked for to be given by early afternoon of the day before, and never once the ball is frozen."""
    for look in watch.looks:
        for notice in look.made:
            for call in look.calls:
                if notice.kind == "bring-back" or all(line.tree != call.tree for line in notice.lines):
                    continue
                if "water" in call.measure.split("+"):
                    if call.act_by.hour * 60 + call.act_by.minute > 14 * 60 or look.at > call.act_by:
                        yield f"{look.at:%a %d %b %H:%M}: water until {call.act_by:%H:%M}, past early afternoon"
                    if look.at > watch.moment("2027-01-22 00:00"):
                        yield f"{look.at:%a %d %b %H:%M}: water onto a ball that a night has frozen"
    if not any("water" in line[2] for message in watch.messages for line in message.lines if line[1] == "dry"):
        yield "the dry pot is not watered"


STORY = Story(
    title="A dry pot and a wet pot",
    about="Two hollies of one size in pots of three litres on one bench in January. One is watered daily; the "
    "other stands in the rain's lee and was forgotten through windy weeks. A night of −6 °C comes.",
    garden=STOCK
    + BENCH
    + "rain_reach = 0.0\n"
    + tree("dry", "bench", species="Ilex crenata", pot=SMALL, crown_cm="50", watering='"rain-only"')
    + tree("wet", "bench", species="Ilex crenata", pot=SMALL, crown_cm="50"),
    first="2027-01-18",
    days=(
        WINDY,
        WINDY,
        WINDY,  # 20 January
        Day(3.0, 7.0, -2.0, cloud=20, calm_ms=1.5),
        Day(-6.0, 5.0, -4.0, cloud=60, cloud_night=70, wind_ms=2.5, calm_ms=2.0),  # 22 January
        Day(0.5, 6.0, 1.0, cloud=80),
        DAMP,
        DAMP,
        DAMP,
        DAMP,
        DAMP,
    ),
    watch_from="2027-01-20 07:00",
    watch_to="2027-01-23 12:00",
    foreseen=(Said("2027-01-20 07:00"),),
    person=DONE,
    in_peace=("wet",),
    also=water_by_day_only,
)
