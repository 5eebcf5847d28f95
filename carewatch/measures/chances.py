"""How much more than its cost a measure must gain, by the chances that are left; loads no numerical library."""

# With another chance to act still to come the gain must be twice the cost, at the last one once (design). When that is
# past as well, a hair's breadth sends nobody out into the dark: what was not worth it by day must be worth half as much
# again (judged). [-]
EARLIER_FACTOR = 2.0
LATE_FACTOR = 1.5


def needed(chances: int, asked: bool = False) -> float:
    """
    How many times its cost a measure must gain.

    chances: days on which it can still be done, from timing.chances_left. asked: the grower was asked for something, or
    has it in place: that is no news in the dark.
    """
    if chances > 1:
        return EARLIER_FACTOR
    return 1.0 if chances == 1 or asked else LATE_FACTOR
