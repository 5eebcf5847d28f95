"""Why a tree is called for, in one sentence per hazard."""

import math
from datetime import datetime, timedelta

from carewatch.alerts.call import SpellFacts
from carewatch.alerts.wording import day_word, exact, number, quantity
from carewatch.measures.catalogue import parts_of

ORGAN_LOSES = {
    "leaves": "leaf",
    "buds": "buds and twigs",
    "fresh cuts": "their rims",
    "roots": "roots",
    "bark": "bark",
    "tree": "hold",
}
# Why, in one sentence per hazard.
REASONS = {
    "frost": "Its {organ} reach about {peak} {when}; {who} loses {loses} below {limit}.",
    "chill": "Cold nights add up for its leaves: by {when} they have had about {ratio} times what they bear.",
    "heave": "Night ice would lift it: its pot's top freezes {peak} by {when}; {who} bears that {times}.",
    "bark-scald in frost": "Its bared bark thaws in the sun and falls to about {peak} {when}; "
    "after a thaw it bears {limit}.",
    "bark-scald": "The sunny side of its bared stem reaches about {peak} {when}; such bark bears {limit}.",
    "root-freeze": "Its root ball reaches about {peak} {when}; the roots die off from {limit}.",
    "root-heat": "The sunny side of its pot reaches about {peak} {when}; for so long the roots bear {limit}.",
    "heat": "Its leaves reach about {peak} {when}; for so long they bear {limit}.",
    "drying": "Its leaves ask for more than the roots can give and lose {peak} by {when}; they bear {share} %.",
    "drying of the pot": "Its pot dries out: its leaves lose {peak} by {when}; they bear {share} %.",
    "sun": "It would get {peak}; {who} bears {tenths} now.",
    "wind": "Gusts at the plant reach about {peak} {when}; {who} holds to {limit}.",
    "soak": "Its roots would be {peak} without air by {when}; they bear {limit}.",
    "load": "Wet snow and ice would weigh on it like {peak} {when}; its branches bear {bare}.",
    "forcing": "The warmth of its place brings its buds {peak} by {when}; "
    "with the frosts still to come it should be no further than {share} %.",
    "dark": "It would have stood {peak} in the dark by {when}; its leaves bear {bare}.",
    "damp": "In still air its leaves have {peak} by {when}; grey mould comes after {bare}.",
}


def reason(spell: SpellFacts, now: datetime, layer: bool, measure: str = "") -> str:
    """
    One sentence: what the tree will feel, when, and what it can stand.

    measure: taken against it: where water helps, the pot is dry, and its roots are not at fault.
    """
    ratio = spell.peak / spell.limit if spell.limit > 0.0 else 1.0
    cold_bark = spell.hazard == "bark-scald" and spell.limit < 0.0
    dry_pot = spell.hazard == "drying" and "water" in parts_of(measure)
    kind = "bark-scald in frost" if cold_bark else "drying of the pot" if dry_pot else spell.hazard
    return REASONS[kind].format(
        who="a new layer" if layer else "it",
        organ=spell.organ,
        loses=ORGAN_LOSES.get(spell.organ, spell.organ),
        peak=quantity(spell.peak, spell.unit),
        limit=exact(spell.limit, spell.unit),
        bare=number(spell.limit),
        tenths=number(spell.limit, 1),
        share=number(spell.limit * 100.0),
        ratio=number(ratio, 0 if ratio >= 3.0 else 1).removesuffix(".0"),
        times="not once" if spell.limit < 1.0 else exact(math.floor(spell.limit), "freezes"),
        when=_when(spell.peak_at, now),
    )


def _when(moment: datetime, now: datetime) -> str:
    """A day and about which hour; midnight belongs to the evening before it."""
    if moment.hour == 0:
        return f"{day_word(moment - timedelta(hours=1), now)} about midnight"
    return f"{day_word(moment, now)} about {moment.hour}:00"
