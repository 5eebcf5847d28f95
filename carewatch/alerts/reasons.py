"""Why a tree is called for, in one sentence per hazard."""

import math
from datetime import datetime, timedelta

from carewatch.alerts.call import SpellFacts
from carewatch.alerts.wording import day_word, exact, hazard_name, number, quantity
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
    "chill": "Cold nights add up for its leaves: by {when} they will have had about {ratio} times what they bear.",
    "heave": "Night ice would lift it: the top of its pot freezes {peak} by {when}; {who} {times}.",
    "bark-scald in frost": "Its bared bark thaws in the sun and falls to about {peak} {when}; "
    "after a thaw it bears {limit}.",
    "bark-scald": "The sunny side of its bared stem reaches about {peak} {when}; such bark bears {limit}.",
    "root-freeze": "Its root ball reaches about {peak} {when}; the roots begin to die at {limit}.",
    "root-freeze of a dry pot": "Its root ball reaches about {peak} {when}; the roots begin to die at {limit}. "
    "A moist ball freezes far more slowly.",
    "root-heat": "The sunny side of its pot reaches about {peak} {when}; for as long as it lasts the roots bear "
    "{limit}.",
    "heat": "Its leaves reach about {peak} {when}; for as long as it lasts they bear {limit}.",
    "drying": "Its leaves ask for more than the roots can give: they lose {parts} % of their water by {when}; they "
    "bear {share} %.",
    "drying of the pot": "Its pot dries out: its leaves lose {parts} % of their water by {when}; they bear {share} %.",
    "drying over frozen roots": "Its roots are frozen and cannot drink: its leaves lose {parts} % of their water by "
    "{when}; they bear {share} %. Do not water: ice takes none.",
    "sun": "It would get as much as {sun} hours of full sun a day ({sun} kWh/m²); {who} bears {tenths} now.",
    "wind": "Gusts at the plant reach about {peak} {when}; {who} holds to {limit}.",
    "soak": "Its roots would be {peak} without air by {when}; they bear {limit}.",
    "load": "Wet snow and ice would weigh on it like {peak} {when}; its branches bear {bare}.",
    "forcing": "The warmth there brings its buds {parts} % of the way to opening by {when}; "
    "with frosts still to come they should be no further than {share} %.",
    "dark": "It would have stood {peak} in the dark by {when}; its leaves bear {bare}.",
    "damp": "In still air its leaves have {peak} by {when}; grey mould comes after {bare}.",
}


def reason(spell: SpellFacts, now: datetime, layer: bool, measure: str = "") -> str:
    """
    One sentence: what the tree will feel, when, and what it can stand.

    measure: taken against it: where water helps, the pot is dry, and its roots are not at fault. Of a frozen ball it is
    said that it takes no water.
    """
    ratio = spell.peak / spell.limit if spell.limit > 0.0 else 1.0
    return REASONS[_kind(spell, measure)].format(
        who="a new layer" if layer else "it",
        organ=spell.organ,
        loses=ORGAN_LOSES.get(spell.organ, spell.organ),
        peak=quantity(spell.peak, spell.unit),
        parts=number(spell.peak * 100.0),
        sun=number(spell.peak, 1).removesuffix(".0"),
        limit=exact(spell.limit, spell.unit),
        bare=number(spell.limit),
        tenths=number(spell.limit, 1).removesuffix(".0"),
        share=number(spell.limit * 100.0),
        ratio=number(ratio, 0 if ratio >= 3.0 else 1).removesuffix(".0"),
        times=_bears_times(spell.limit),
        when=_when(spell.peak_at, now),
    )


def bare(spell: SpellFacts, now: datetime) -> str:
    """What the tree would feel without what protects it, and its limit, as the end of a sentence; "" for sums."""
    what = {"root-freeze": "its root ball", "root-heat": "its pot", "wind": "gusts"}.get(
        spell.hazard, f"its {spell.organ}"
    )
    if spell.unit not in ("°C", "m/s"):
        return ""
    felt = f"{quantity(spell.peak, spell.unit)} {_when(spell.peak_at, now)}"
    return f"unprotected {what} would reach about {felt}, limit {exact(spell.limit, spell.unit)}"


def _kind(spell: SpellFacts, measure: str) -> str:
    """Which of the reasons it is."""
    waters = "water" in parts_of(measure)
    if spell.hazard == "bark-scald" and spell.limit < 0.0:
        return "bark-scald in frost"
    if spell.hazard == "root-freeze" and waters:
        return "root-freeze of a dry pot"
    if spell.hazard == "drying" and (waters or spell.frozen):
        return "drying of the pot" if waters else "drying over frozen roots"
    return spell.hazard


def _bears_times(limit: float) -> str:
    """How often a pot may freeze: a number of crossings, or none."""
    return "cannot bear that once" if limit < 1.0 else f"bears that {exact(math.floor(limit), 'freezes')}"


def danger_name(spell: SpellFacts) -> str:
    """The hazard in a word, and that roots are frozen where leaves dry over them."""
    return f"{hazard_name(spell)} over frozen roots" if spell.frozen else hazard_name(spell)


def _when(moment: datetime, now: datetime) -> str:
    """A day and about which hour; midnight belongs to the evening before it."""
    if moment.hour == 0:
        return f"{day_word(moment - timedelta(hours=1), now)} about midnight"
    return f"{day_word(moment, now)} about {moment.hour}:00"
