"""The words on a message's picture, few and large, and the sentence that says what it shows."""

from datetime import datetime

from carewatch.alerts.call import SpellFacts, TreeCall
from carewatch.alerts.wording import by_when, chance, clock_time, day_word, exact, hazard_name, number

LONGEST_CAPTION = 500
NOW = "now"
NIGHT = "night"
LIMIT = "limit"
MOST_LIKELY = "most likely"
BAND = "8 in 10"
GOES_ON = "goes on"
# Hazards that are a sum of the day: the hour of the worst is that in which it grows most, and tells nothing here.
OF_THE_DAY = ("sun",)

# What is drawn of each hazard, the factor to the unit that is shown, that unit, and its decimals.
_SCALES: dict[str, tuple[str, float, str, int]] = {
    "root-freeze": ("root ball", 1.0, "°C", 0),
    "root-heat": ("sunny side of the pot", 1.0, "°C", 0),
    "drying": ("leaf water lost", 100.0, "%", 0),
    "sun": ("direct sun", 1.0, "kWh/m²", 1),
    "wind": ("gusts at the plant", 1.0, "m/s", 0),
    "chill": ("cold below 10 °C", 1.0, "°C·h", 0),
    "heave": ("pot's top froze", 1.0, "times", 1),
    "soak": ("roots without air", 1.0, "hours", 0),
    "bark-scald": ("sunny side of the stem", 1.0, "°C", 0),
    "load": ("load on the crown", 1.0, "mm", 0),
    "forcing": ("way to leaf-out", 100.0, "%", 0),
    "dark": ("in the dark", 1.0, "days", 0),
    "damp": ("wet leaves in still air", 1.0, "hours", 0),
}


def scale_of(spell: SpellFacts) -> tuple[str, float, str, int]:
    """What is drawn, the factor from the spell's unit to the one shown, that unit, and the decimals of its numbers."""
    return _SCALES.get(spell.hazard, (spell.organ, 1.0, spell.unit, 0))


def heading(tree: str, spell: SpellFacts) -> str:
    """Whom and what."""
    return f"{tree}: {hazard_name(spell)}"


def shown(value: float, unit: str, decimals: int) -> str:
    """A number on the picture."""
    return f"{number(value, decimals)} {unit}"


def shown_limit(value: float, unit: str, decimals: int) -> str:
    """The limit, to half degrees as in the message."""
    return f"{LIMIT} {exact(value, unit) if unit == '°C' else shown(value, unit, decimals)}"


def deadline(call: TreeCall, now: datetime) -> str:
    """By when to act."""
    return f"act {by_when(call.act_by, now)}"


def undoing(call: TreeCall, now: datetime) -> str:
    """From when on the measure may be undone, "" while no end is in sight."""
    if call.undo_at is None:
        return ""
    day = "" if call.undo_at.date() == now.date() else f"{day_word(call.undo_at, now)} "
    return f"undo {day}{clock_time(call.undo_at)}"


def day_name(moment: datetime, now: datetime) -> str:
    """The day below the hours."""
    return day_word(moment, now)


def worst_shown(spell: SpellFacts, value: float, unit: str, decimals: int) -> str:
    """The worst of the spell; with its hour, but for a sum that grows all day."""
    number_and_unit = shown(value, unit, decimals)
    return number_and_unit if spell.hazard in OF_THE_DAY else f"{number_and_unit}, {spell.peak_at.hour}:00"


def caption(tree: str, spell: SpellFacts, now: datetime) -> str:
    """One sentence for those who do not see the picture."""
    what, factor, unit, decimals = scale_of(spell)
    hour = "" if spell.hazard in OF_THE_DAY else f" about {spell.peak_at.hour}:00"
    limit = shown_limit(spell.limit * factor, unit, decimals)
    return (
        f"{heading(tree, spell)}: {what} {shown(spell.peak * factor, unit, decimals)} "
        f"{day_word(spell.peak_at, now)}{hour}, {limit}, {chance(spell.probability)}."
    )
