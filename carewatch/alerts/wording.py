"""The words that a grower reads: values, times, chances, hazards and measures, plain and short."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Protocol

from carewatch.measures.catalogue import parts_of

# Longest message; some channels cut or split above it. [characters]
LONGEST = 1000
# A lock screen shows about this much of the first line. [characters]
LONGEST_TITLE = 110

# What to do, with the trees in the middle: the verb before them and what follows.
VERBS: dict[str, tuple[str, str]] = {
    "fleece": ("Put fleece over", ""),
    "fleece-heavy": ("Put heavy fleece over", ""),
    "fleece-double": ("Put two layers of fleece over", ""),
    "set-down": ("Set", " on the ground"),
    "plunge": ("Bank", " to the pot's rim with bark or soil"),
    "mulch": ("Mulch the pots of", ", 3 to 5 cm"),
    "insulate-pot": ("Wrap the pots of", ""),
    "humid-tent": ("Tent", " in the shade"),
    "shade-cloth": ("Hang shade cloth over", ""),
    "shade-pot": ("Shade the pots of", " from the sun"),
    "wrap-trunk": ("Shade the stems of", " from the sun"),
    "windbreak": ("Put a wind net round", ""),
    "lay-down": ("Lay down", " on the lee side, pots wedged"),
    "tie-down": ("Tie down", ", pot and trunk"),
    "water": ("Water", ""),
    "hold-water": ("Stop watering", ""),
    "rain-cover": ("Cover the pots of", " against the rain"),
    "ventilate": ("Open the lights over", ""),
    "shake-off": ("Shake the snow off", " upwards while it falls, the first time"),
}
UNDO: dict[str, str] = {
    "fleece": "Off again",
    "fleece-heavy": "Off again",
    "fleece-double": "Off again",
    "humid-tent": "Air it daily; off",
    "plunge": "Out of the bank",
    "mulch": "Mulch off",
    "insulate-pot": "Unwrap it",
    "set-down": "Up again",
    "rain-cover": "Rain cover off",
    "shade-cloth": "Leave it until",
    "shade-pot": "Leave it until",
    "wrap-trunk": "Leave it until",
    "windbreak": "Leave it until",
    "water": "",
    "hold-water": "Water again from",
    "ventilate": "Shut two hours before sunset, each day until",
    "shake-off": "Until",
    "lay-down": "Up again",
}
# How a measure is ended, with the trees in the middle; a move is another matter.
ENDS: dict[str, tuple[str, str]] = {
    "fleece": ("take the fleece off", " today"),
    "fleece-heavy": ("take the heavy fleece off", " today"),
    "fleece-double": ("take both layers of fleece off", " today"),
    "set-down": ("set", " up in the old place"),
    "plunge": ("take", " out of the bank when the top has thawed"),
    "mulch": ("take the mulch off the pots of", ""),
    "insulate-pot": ("unwrap the pots of", ""),
    "humid-tent": ("open the tent over", " a little more each day, out of the sun"),
    "shade-cloth": ("take the shade cloth off", " this evening or under cloud, never at noon"),
    "shade-pot": ("take the shade away from the pots of", ""),
    "wrap-trunk": ("take the shade off the stems of", ""),
    "windbreak": ("take the wind net away from", ""),
    "lay-down": ("stand", " up again"),
    "tie-down": ("leave the ties on", "; the long clock says when they may go"),
    "hold-water": ("water", " again when the top is dry"),
    "rain-cover": ("take the rain cover off the pots of", ""),
    "ventilate": ("shut the lights over", " for the night"),
    "shake-off": ("the snow is over for", ""),
}
# Nouns of measures whose row's name does not read as one.
NOUNS = {
    "fleece-heavy": "heavy fleece",
    "fleece-double": "double fleece",
    "set-down": "setting down",
    "plunge": "banking to the rim",
    "insulate-pot": "a jacket for the pot",
    "shade-pot": "shade for the pot",
    "lay-down": "laying down",
    "tie-down": "ties",
    "hold-water": "holding water back",
    "wrap-trunk": "shade for the stem",
    "shake-off": "shaking off",
    "ventilate": "open lights",
}
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


# On over night and off by day (the hours in which they act, table of measures): in sun they cook what is under them.
NIGHT_COVERS = ("fleece", "fleece-heavy", "fleece-double")


# When a night cover comes off in the morning (off_at_h of the table of measures).
OFF_BY_DAY = "9:30"
# Measures that lift or shift the pot.
LIFTS = ("move", "set-down", "plunge", "lay-down")
# Measures with nothing to be undone: no end of theirs has to be told.
STAYS_ON = {
    "tie-down": "Leave the ties on; the long clock says when they may go.",
    "mulch": "Leave the mulch on until the buds swell.",
    "shade-pot": "Leave the shade at the pot until autumn.",
    "shake-off": "Leave the snow on the pots: it keeps the roots warm.",
}
ENDLESS = (*STAYS_ON, "water")
# The end, by stages, of what has none in sight (common practice: never from shade into full sun at once).
STAGED = {"shade-cloth": "Off on a dull day, or hang it for four days from 11:00 to 16:00 only, then off."}
# A frame is opened in the morning (common practice: by nine), whenever it is that a tree is carried there.
OPENED_BY = "by 9:00 each day"


class Hazardous(Protocol):
    """Whatever has a hazard and the limit that it passes: a spell or a danger."""

    @property
    def hazard(self) -> str:
        """Its name."""

    @property
    def limit(self) -> float:
        """In the hazard's unit."""


@dataclass(frozen=True)
class Message:
    """title: first line; body: the whole text, title included, at most LONGEST characters."""

    title: str
    body: str


def number(value: float, digits: int = 0) -> str:
    """A number with a real minus sign and no "−0"."""
    text = f"{value:.{digits}f}"
    if float(text) == 0.0:
        text = text.lstrip("-")
    return text.replace("-", "−")


def quantity(value: float, unit: str) -> str:
    """A value as it is said: whole degrees, shares as per cent."""
    if unit == "°C":
        return f"{number(value)} °C"
    if unit == "share of leaf water":
        return f"{number(value * 100)} % of the leaf's water"
    if unit == "kWh/m²·d":
        return f"{number(value, 1)} kWh/m² of direct sun a day"
    if unit == "h":
        return f"{number(value)} hours"
    if unit == "°C·h":
        return f"{number(value)} degree hours below 10 °C"
    if unit == "freezes":
        return "once" if round(value) == 1 else f"{number(value)} times"
    if unit == "share of the way to leaf-out":
        return f"{number(value * 100)} % of the way to leaf-out"
    if unit == "d":
        return "a day" if round(value) == 1 else f"{number(value)} days"
    if unit == "h as at 20 °C":
        return f"{number(value)} wet hours"
    if unit == "mm":
        return f"{number(value)} mm of water"
    return f"{number(value)} {unit}"


def exact(value: float, unit: str) -> str:
    """A limit: to half degrees, because half a degree decides a night; otherwise as quantity."""
    if unit != "°C":
        return quantity(value, unit)
    halves = round(value * 2) / 2
    return f"{number(halves, 0 if halves == int(halves) else 1)} °C"


def chance(probability: float) -> str:
    """A probability in words and whole per cent, never more certain than it can be."""
    shown = f"{min(99, max(1, round(probability * 100)))} %"
    for bound, words in ((0.9, "almost certain"), (0.66, "likely"), (0.4, "about even"), (0.15, "possible")):
        if probability >= bound:
            return f"{words} ({shown})"
    return f"a small chance ({shown})"


# Units and the like that stay on one line with their number.
_UNITS = "°C·h|°C|%|kWh/m²|m/s|hours|hour|days|minutes|times|mm|cm|kg|m²"
_BEFORE_A_UNIT = rf"(?<=\d) (?={_UNITS})"


def unbroken(text: str) -> str:
    """The text with a no-break space between a number and its unit."""
    return re.sub(_BEFORE_A_UNIT, "\u00a0", text)


def clock_time(moment: datetime) -> str:
    """Hours and minutes, rounded down to five minutes so that "before" stays true."""
    return f"{moment.hour}:{moment.minute - moment.minute % 5:02d}"


def day_word(moment: datetime, now: datetime) -> str:
    """Today, tomorrow, or the weekday and date. Both moments are in the site's zone."""
    ahead = (moment.date() - now.date()).days
    if ahead == 0:
        return "today"
    if ahead == 1:
        return "tomorrow"
    return f"{DAYS[moment.weekday()]} {moment.day} {MONTHS[moment.month - 1]}"


def by_when(moment: datetime, now: datetime) -> str:
    """At once, or before which time of which day."""
    if moment - now < timedelta(minutes=20):
        return "now"
    if moment.date() == now.date():
        return f"before {clock_time(moment)}"
    return f"before {clock_time(moment)} {day_word(moment, now)}"


def listed(names: Sequence[str]) -> str:
    """Names joined as in speech; more than four are counted."""
    if len(names) > 4:
        return f"{', '.join(names[:3])} and {len(names) - 3} more"
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def action(measure: str, trees: Sequence[str], place: str, layer: bool) -> str:
    """What to do with these trees, without the time; of measures that go together all are named."""
    first, *others = parts_of(measure)
    where = f"{listed(trees)} ({place})"
    count = len(trees)
    deeds = [_deed(first, where, layer, count), *(_deed(part, "", layer, count) for part in others)]
    return f"{', '.join(deeds[:-1])} and {deeds[-1]}" if others else deeds[0]


def task_of(measure: str, trees: Sequence[str], place: str, layer: bool, moment: datetime, now: datetime) -> str:
    """What to do with these trees and by when, a whole sentence. moment: by which to begin."""
    parts = parts_of(measure)
    when = by_when(moment, now)
    if "ventilate" not in parts:
        return f"{action(measure, trees, place, layer)} {when}."
    others = "+".join(part for part in parts if part != "ventilate")
    opened = f"open {'it' if others.startswith('move:') else 'the lights'} {OPENED_BY}"
    if others:
        return f"{action(others, trees, place, layer)} {when}, and {opened}."
    late = "now, and then " if when == "now" else ""
    return f"Open the lights over {listed(trees)} ({place}) {late}{OPENED_BY}."


def lifts(measure: str) -> bool:
    """Whether a measure lifts or shifts the pot."""
    return any(part.partition(":")[0] in LIFTS for part in parts_of(measure))


def _deed(part: str, whom: str, layer: bool, count: int) -> str:
    """One measure for so many trees that are named here, or were named before."""
    it, its = ("it", "its") if count == 1 else ("them", "their")
    if part.startswith("move:"):
        careful = ", once, level and tied," if layer else ""
        return f"{'Carry' if whom else 'carry'} {whom or it}{careful} to {part.partition(':')[2]}"
    verb, after = (_counted(words, count) for words in VERBS[part])
    if whom:
        return f"{verb} {whom}{after}"
    verb = f"{verb[0].lower()}{verb[1:]}"
    deed, of, what = verb.removesuffix(" of").rpartition(" the ")
    if verb.endswith(" down"):
        return f"{verb.removesuffix(' down')} {it} down{after}"
    return f"{deed} {its} {what}{after}" if of and verb.endswith(" of") else f"{verb} {it}{after}"


def _counted(words: str, count: int) -> str:
    """Pots and stems of one tree are one."""
    if count != 1:
        return words
    return words.replace("pots", "pot").replace("stems", "stem").replace(" need ", " needs ")


def hazard_name(spell: Hazardous) -> str:
    """The hazard in a word; cold above zero is never called frost."""
    if spell.hazard == "frost":
        return "frost" if spell.limit <= 0.0 else "cold"
    return {
        "root-freeze": "frozen roots",
        "root-heat": "hot roots",
        "heat": "heat",
        "drying": "drying out",
        "sun": "sunburn",
        "wind": "wind",
        "soak": "wet roots",
        "chill": "cold",
        "heave": "night ice",
        "bark-scald": "scalded bark",
        "load": "snow and ice",
        "forcing": "buds forced",
        "dark": "too long in the dark",
        "damp": "grey mould",
    }[spell.hazard]


def is_night_cover(measure: str) -> bool:
    """Whether a measure is nothing but covers for the night."""
    parts = parts_of(measure)
    return bool(parts) and all(part in NIGHT_COVERS for part in parts)


def undo(measure: str, moment: datetime | None, now: datetime, begins: datetime | None = None) -> str:
    """
    When to undo it, or that no end is in sight.

    begins: when it is begun, now where nothing is given. Covers that stay for several nights come off by day.
    """
    when = "" if moment is None else f"{day_word(moment, now)} {clock_time(moment)}"
    nights = moment is None or (moment.date() - (begins or now).date()).days >= 2
    said = [_undone(part, moment, when, nights) for part in parts_of(measure)]
    open_end = moment is None and any(part not in (*ENDLESS, *STAGED) for part in parts_of(measure))
    return " ".join(dict.fromkeys(filter(None, [*said, "No end in sight yet; you will hear." if open_end else ""])))


def _undone(part: str, moment: datetime | None, when: str, nights: bool) -> str:
    """One sentence on the end of one measure, or "". when: the moment in words. nights: it is for more than one."""
    if part in STAYS_ON:
        return STAYS_ON[part]
    if part in NIGHT_COVERS and nights:
        return f"Off by day from {OFF_BY_DAY}, on again before dusk{f'; off for good {when}' if when else ''}."
    if moment is None and part in STAGED:
        return STAGED[part]
    if moment is None:
        return "Shut two hours before sunset, each day." if part == "ventilate" else ""
    if part.startswith("move:"):
        return f"It may come back from {when} on, in the evening or under cloud."
    word = UNDO.get(part, "Undo it")
    return f"{word} {when}." if word else ""


def measure_name(measure: str) -> str:
    """A measure as a noun."""
    return " and ".join(
        f"the move to {part.partition(':')[2]}" if part.startswith("move:") else NOUNS.get(part, part.replace("-", " "))
        for part in parts_of(measure)
    )


def ended(part: str, trees: Sequence[str]) -> str:
    """How one measure other than a move is ended for these trees, without the full stop; the first letter is small."""
    if part not in ENDS:
        return f"{measure_name(part)} is not needed any more: {listed(trees)}"
    verb, after = (_counted(words, len(trees)) for words in ENDS[part])
    return f"{verb} {listed(trees)}{after}"
