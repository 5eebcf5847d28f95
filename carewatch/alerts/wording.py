"""The words that a grower reads: values, times, chances, hazards and measures, plain and short."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Protocol

from carewatch.alerts.measure_words import ENDS, NOUNS, PLURAL, UNDO, VERBS
from carewatch.measures.catalogue import parts_of

# Longest message; some channels cut or split above it. [characters]
LONGEST = 1000
# A lock screen shows about this much of the first line. [characters]
LONGEST_TITLE = 110
# So many names are read in one breath. Judged.
MOST_NAMES = 4

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


# On over night and off by day (the hours in which they act, table of measures): in sun they cook what is under them.
NIGHT_COVERS = ("fleece", "fleece-heavy", "fleece-double")


# When a night cover comes off in the morning (off_at_h of the table of measures).
OFF_BY_DAY_AT = time(9, 30)
OFF_BY_DAY = f"{OFF_BY_DAY_AT.hour}:{OFF_BY_DAY_AT.minute:02d}"
# What may end by this hour need not go on again: until then it is off by day. Judged. [h]
OFF_UNTIL = 18
# Measures that lift or shift the pot.
LIFTS = ("move", "set-down", "plunge", "lay-down")
# Measures with nothing to be undone: no end of theirs has to be told.
STAYS_ON = {
    "tie-down": "Leave the ties on; `carewatch tasks` says when they may go.",
    "mulch": "Leave the mulch on until the buds swell.",
    "shade-pot": "Leave the shade at the pot until autumn.",
    "shake-off": "Shake upwards. Leave the snow on the pots: it keeps the roots warm.",
}
ENDLESS = (*STAYS_ON, "water")
# The end, by stages, of what has none in sight (common practice: never from shade into full sun at once).
STAGED = {
    "shade-cloth": "To wean the leaves: off on a dull day, or for four days up from 11:00 to 16:00 only, then off."
}
# What is done again while it lasts: said behind the hour by which to begin.
AGAIN = {"shake-off": ", and again while it falls"}
# What hazards are called.
HAZARD_WORDS = {
    "frost": "frost",
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
    "forcing": "buds moving too early",
    "dark": "too long in the dark",
    "damp": "grey mould",
}
# When what was carried away may stand in the open again (common practice: never at noon).
BACK_OUT = "late in the day or under cloud"
# How what stood inside for days, or in shade, gets used to the sun again (common practice).
STAGES = "Three days in shade, four in half sun"
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
    for bound, words in ((0.9, "almost certain"), (0.66, "likely"), (0.4, "as likely as not"), (0.15, "possible")):
        if probability >= bound:
            return f"{words} ({shown})"
    return f"a small chance ({shown})"


# Units and the like that stay on one line with their number.
_UNITS = "°C·h|°C|%|kWh/m²|m/s|hours|hour|days|minutes|times|mm|cm|kg|m²"
_BEFORE_A_UNIT = rf"(?<=\d) (?={_UNITS})"


def unbroken(text: str) -> str:
    """The text with a no-break space between a number and its unit."""
    return re.sub(_BEFORE_A_UNIT, "\u00a0", text)


def chances(probabilities: Sequence[float]) -> str:
    """One probability or the range of several, in words and whole per cent."""
    low, high = chance(min(probabilities)), chance(max(probabilities))
    if low == high:
        return low
    (less, least), (more, most) = low.split(" ("), high.split(" (")
    if less == more:
        return f"{less} ({least.removesuffix(' %)')} to {most}"
    return f"{low} to {high}"


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


def listed(names: Sequence[str], most: int = MOST_NAMES) -> str:
    """Names joined as in speech; where they are more than `most`, the others are counted."""
    if len(names) > most:
        return f"{', '.join(names[: most - 1])} and {len(names) - most + 1} more"
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


def asked_of(measure: str, layer: bool, count: int) -> str:
    """What to do with so many trees that were named before: "put fleece over it"; the first letter is small."""
    *others, last = (_deed(part, "", layer, count) for part in parts_of(measure))
    return f"{', '.join(others)} and {last}" if others else last


def deed_for(measure: str, trees: Sequence[str]) -> str:
    """What was asked for these trees, without place and time; the first letter is small."""
    parts = parts_of(measure)
    first, rest = parts[0], "+".join(parts[1:])
    if first.startswith("move:"):
        deed = f"bring {listed(trees)} to {first.partition(':')[2]}"
    else:
        said = _deed(first, listed(trees), False, len(trees))
        deed = f"{said[0].lower()}{said[1:]}"
    return f"{deed} and {asked_of(rest, False, len(trees))}" if rest else deed


def task_of(measure: str, trees: Sequence[str], place: str, layer: bool, moment: datetime, now: datetime) -> str:
    """What to do with these trees and by when, a whole sentence. moment: by which to begin."""
    parts = parts_of(measure)
    when = by_when(moment, now)
    if "ventilate" not in parts:
        deed = action(measure, trees, place, layer)
        # A clause at the end of the deed is closed before the hour.
        comma = "," if "," in VERBS.get(parts[-1], ("", ""))[1] else ""
        return f"{deed}{comma} {when}{AGAIN.get(measure, '')}."
    others = "+".join(part for part in parts if part != "ventilate")
    opened = f"open {'it' if others.startswith('move:') else 'the lid'} {OPENED_BY}"
    if others:
        return f"{action(others, trees, place, layer)} {when}, and {opened}."
    late = "now, and then " if when == "now" else ""
    return f"Open the lid over {listed(trees)} ({place}) {late}{OPENED_BY}."


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
    return "cold" if spell.hazard == "frost" and spell.limit > 0.0 else HAZARD_WORDS[spell.hazard]


def is_night_cover(measure: str) -> bool:
    """Whether a measure is nothing but covers for the night."""
    parts = parts_of(measure)
    return bool(parts) and all(part in NIGHT_COVERS for part in parts)


def cause(spell: Hazardous) -> str:
    """What brings the hazard, as it is said when that is over: the frost, the heat, the wind."""
    cold = spell.limit <= 0.0
    return {
        "frost": "the frost" if cold else "the cold",
        "chill": "the cold",
        "root-freeze": "the frost",
        "heave": "the frost",
        "bark-scald": "the frost" if spell.limit < 0.0 else "the strong sun",
        "root-heat": "the heat",
        "heat": "the heat",
        "sun": "the strong sun",
        "drying": "the dry weather",
        "wind": "the wind",
        "soak": "the rain",
        "load": "the snow",
        "damp": "the damp",
        "forcing": "the warmth",
        "dark": "the dark",
    }[spell.hazard]


def undo(
    measure: str,
    moment: datetime | None,
    now: datetime,
    begins: datetime | None = None,
    shut_at: datetime | None = None,
    count: int = 1,
) -> str:
    """
    When to undo it, or that no end is in sight.

    begins: when it is begun, now where nothing is given. Covers that stay for several nights come off by day.
    shut_at: when a frame is shut again, in the site's zone, None where that is not known. count: of trees.
    """
    end = None if moment is None else _half_hour(moment)
    nights = moment is None or (moment.date() - (begins or now).date()).days >= 2
    said = [_undone(part, end, now, nights, shut_at, count) for part in parts_of(measure)]
    open_end = [part for part in parts_of(measure) if moment is None and part not in (*ENDLESS, *STAGED)]
    # Beside something that stays anyway it is said what has no end in sight.
    others = f" for {measure_name('+'.join(open_end))}" if len(open_end) < len(parts_of(measure)) else ""
    never = f"No end in sight yet{others}; you will hear when." if open_end else ""
    return " ".join(dict.fromkeys(filter(None, [*said, never])))


def _half_hour(moment: datetime) -> datetime:
    """The next full half hour: what may be undone from then on may be undone a little later."""
    exact_minute = moment if not (moment.second or moment.microsecond) else moment + timedelta(minutes=1)
    exact_minute = exact_minute.replace(second=0, microsecond=0)
    return exact_minute + timedelta(minutes=-exact_minute.minute % 30)


def _off_for_good(end: datetime) -> str:
    """The hour at which a cover that is off by day need not go on again. end: of what it is for."""
    off = datetime.combine(end.date(), OFF_BY_DAY_AT, tzinfo=end.tzinfo)
    return OFF_BY_DAY if off <= end < end.replace(hour=OFF_UNTIL, minute=0) else clock_time(end)


def _undone(part: str, end: datetime | None, now: datetime, nights: bool, shut_at: datetime | None, count: int) -> str:
    """
    One sentence on the end of one measure, or "".

    end: None while none is in sight. nights: it is for more than one. count: of trees.
    """
    when = "" if end is None else f"{day_word(end, now)} {clock_time(end)}"
    if part in STAYS_ON:
        return STAYS_ON[part]
    if part in NIGHT_COVERS and nights:
        for_good = f"; off for good {day_word(end, now)} {_off_for_good(end)}" if end else ""
        return f"Off by day from {OFF_BY_DAY}, on again before dusk{for_good}."
    if part == "ventilate":
        shut = f"Shut it at {clock_time(shut_at)}" if shut_at else "Shut two hours before sunset"
        return f"{shut}, each day{f' until {when}' if when else ''}."
    if not when:
        return STAGED.get(part, "")
    if part.startswith("move:"):
        return f"{'It' if count == 1 else 'They'} may come back from {when} on, {BACK_OUT}."
    word = UNDO.get(part, "Undo it")
    word = word if count == 1 else word.replace(" it", " them")
    return f"{word} {when}." if word else ""


def measure_name(measure: str) -> str:
    """A measure as a noun."""
    return listed(
        [
            f"the move to {part.partition(':')[2]}"
            if part.startswith("move:")
            else NOUNS.get(part, part.replace("-", " "))
            for part in parts_of(measure)
        ]
    )


def standing_name(measure: str) -> str:
    """A measure in force as one says it before "since": a move by where the tree stands."""
    parts = [f"in {part[5:]}" if part.startswith("move:") else measure_name(part) for part in parts_of(measure)]
    return listed(parts)


def ended(part: str, trees: Sequence[str]) -> str:
    """How one measure other than a move is ended for these trees, without the full stop; the first letter is small."""
    if part not in ENDS:
        return f"{measure_name(part)} is not needed any more: {listed(trees)}"
    verb, after = (_counted(words, len(trees)) for words in ENDS[part])
    return f"{verb} {listed(trees)}{after}"


def protects_less(measure: str, why: str, count: int = 1) -> str:
    """What a measure not taken would leave. why: such as "protects less: 5 % would still be lost". count: of trees."""
    verb, _, rest = why.partition(" ")
    plural = all(part in PLURAL for part in parts_of(measure)) or len(parts_of(measure)) > 1
    verb = verb.removesuffix("s") if plural else verb
    name = measure_name(measure) if count == 1 else re.sub(r"\bit\b", "them", measure_name(measure))
    return f"{name[0].upper()}{name[1:]} {verb} {rest}."
