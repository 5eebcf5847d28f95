"""Every sentence that a grower reads in a message: plain, short, first line sufficient on a lock screen."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from carewatch.alerts.call import SpellFacts, TreeCall
from carewatch.alerts.danger import Danger

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
    "windbreak": ("Put a wind net round", ""),
    "lay-down": ("Lay down", " on the lee side, pots wedged"),
    "tie-down": ("Tie down", ", pot and trunk"),
    "water": ("Water", ""),
    "hold-water": ("Stop watering", ""),
    "rain-cover": ("Cover the pots of", " against the rain"),
    "ventilate": ("Open the lights over", ""),
}
UNDO: dict[str, str] = {
    "fleece": "Off again",
    "fleece-heavy": "Off again",
    "fleece-double": "Off again",
    "humid-tent": "Air it daily; off",
    "shade-cloth": "Leave it until",
    "shade-pot": "Leave it until",
    "windbreak": "Leave it until",
    "water": "",
    "hold-water": "Water again from",
    "ventilate": "Shut",
    "lay-down": "Up again",
}
ORGAN_LOSES = {"leaves": "leaf", "buds": "buds and twigs", "roots": "roots", "bark": "bark", "tree": "hold"}
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


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
    """What to do with these trees, without the time."""
    where = f"{listed(trees)} ({place})"
    if measure.startswith("move:"):
        careful = ", once, level and tied," if layer else ""
        return f"Carry {where}{careful} to {measure.partition(':')[2]}"
    verb, after = VERBS[measure]
    return f"{verb} {where}{after}"


def hazard_name(spell: SpellFacts) -> str:
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
    }[spell.hazard]


def reason(spell: SpellFacts, now: datetime, layer: bool) -> str:
    """One sentence: what the tree will feel, when, and what it can stand."""
    who = "a new layer" if layer else "it"
    peak = quantity(spell.peak, spell.unit)
    limit = exact(spell.limit, spell.unit)
    when = f"{day_word(spell.peak_at, now)} about {spell.peak_at.hour}:00"
    if spell.hazard == "frost":
        return f"Its {spell.organ} reach about {peak} {when}; {who} loses {ORGAN_LOSES[spell.organ]} below {limit}."
    if spell.hazard == "root-freeze":
        return f"Its root ball reaches about {peak} {when}; the roots die off from {limit}."
    if spell.hazard == "root-heat":
        return f"The sunny side of its pot reaches about {peak} {when}; for so long the roots bear {limit}."
    if spell.hazard == "heat":
        return f"Its leaves reach about {peak} {when}; for so long they bear {limit}."
    if spell.hazard == "drying":
        return f"Its leaves ask for more than the roots can give and lose {peak} by {when}; they bear {limit}."
    if spell.hazard == "sun":
        return f"It would get {peak}; {who} bears {number(spell.limit, 1)} now."
    if spell.hazard == "wind":
        return f"Gusts at the plant reach about {peak} {when}; {who} holds to {limit}."
    return f"Its roots would be {peak} without air by {when}; they bear {limit}."


def undo(measure: str, moment: datetime | None, now: datetime) -> str:
    """When to undo it, or that no end is in sight."""
    if moment is None:
        return "No end in sight yet; you will hear."
    when = f"{day_word(moment, now)} {clock_time(moment)}"
    if measure.startswith("move:"):
        return f"It may come back {when}, in the evening or under cloud."
    word = UNDO.get(measure, "Undo it")
    return f"{word} {when}." if word else ""


def call_message(calls: Sequence[TreeCall], now: datetime, changed: frozenset[str] = frozenset()) -> Message:
    """
    One message for all trees that need a hand, grouped by measure and place, the most pressing first.

    calls: at least one, each with a measure; now: in the site's zone.
    changed: trees of which the grower was told otherwise.
    """
    groups: dict[tuple[str, str, bool], list[TreeCall]] = {}
    for call in sorted(calls, key=lambda item: (item.act_by, -item.standing_loss)):
        groups.setdefault((call.measure, call.place, call.tree in changed), []).append(call)
    paragraphs = [
        f"{'Changed: ' if anew else ''}{_paragraph(members, now)}" for (_, _, anew), members in groups.items()
    ]
    cautions = list(dict.fromkeys(call.caution for call in calls if call.caution))
    return _message(paragraphs, cautions)


def repeat_message(calls: Sequence[TreeCall], now: datetime) -> Message:
    """The same call once more, because nobody answered it."""
    message = call_message(calls, now)
    return _message([f"Still open: {message.body}"], [])


def stand_down_message(dangers: Sequence[Danger]) -> Message:
    """A danger that was told of has faded before anything was done."""
    trees = listed(sorted({danger.tree for danger in dangers}))
    hazards = listed(sorted({danger.hazard.replace("-", " ") for danger in dangers}))
    return _message([f"No need any more: {hazards} for {trees}.\nThe forecast has eased; leave them as they are."], [])


def bring_back_message(dangers: Sequence[Danger]) -> Message:
    """A danger is over and what was done for it can be undone."""
    groups: dict[str, list[str]] = {}
    for danger in sorted(dangers, key=lambda item: item.tree):
        names = groups.setdefault(danger.spoken_measure or danger.measure, [])
        if danger.tree not in names:
            names.append(danger.tree)
    lines = [_taken_off(measure, trees) for measure, trees in groups.items()]
    return _message([f"Over: {lines[0]}", *lines[1:]], [])


def _taken_off(measure: str, trees: Sequence[str]) -> str:
    names = listed(trees)
    if measure.startswith("move:"):
        return (
            f"{names} may come back from {measure.partition(':')[2]}.\n"
            "In the evening or under cloud, three days in shade first."
        )
    return f"{measure_name(measure)} off {names} today."


def blind_message(since: datetime, now: datetime, why: str) -> Message:
    """
    The watch has had no forecast that it could use for long.

    since: of the last one; both in the site's zone. why: a sentence without its full stop, or "".
    """
    first = f"Your trees are not watched: no usable forecast since {day_word(since, now)} {clock_time(since)}."
    lines = [
        first,
        "What you were told before still holds. Look at another forecast; you will hear when it works again.",
    ]
    if why:
        lines.append(f"The reason: {why}.")
    return _message(["\n".join(lines)], [])


def sees_again_message(since: datetime, now: datetime) -> Message:
    """The watch has a forecast again; since: from when on it had none. Both in the site's zone."""
    gap = f"From {day_word(since, now)} {clock_time(since)} until now nobody watched your trees."
    return _message([f"The watch sees again: a forecast has come.\n{gap}"], [])


def _message(paragraphs: Sequence[str], cautions: Sequence[str]) -> Message:
    return Message(paragraphs[0].partition("\n")[0], _fitted(paragraphs, cautions))


def _paragraph(calls: Sequence[TreeCall], now: datetime) -> str:
    """First line with what and by when, then one reason, the chance, when to undo it, and what was not taken."""
    lead = max(calls, key=lambda call: call.standing_loss)
    layer = any(call.layer for call in calls)
    act_by = min(call.act_by for call in calls)
    first = f"{action(lead.measure, [call.tree for call in calls], lead.place, layer)} {by_when(act_by, now)}."
    spell = lead.worst
    said = reason(spell, now, lead.layer)
    if len(calls) > 1:
        said = f"{lead.tree}: {said[0].lower()}{said[1:]}"
    lines = [
        first,
        f"{said} {chance(spell.probability).capitalize()}.",
    ]
    ends = [call.undo_at for call in calls]
    until = undo(lead.measure, None if None in ends else max(end for end in ends if end is not None), now)
    still = "Leave the pots where they stand." if layer and not lead.measure.startswith("move:") else ""
    tail = " ".join(part for part in (still, until) if part)
    if tail:
        lines.append(tail)
    if lead.rejected:
        lines.append(f"Not {measure_name(lead.rejected)}: {lead.rejected_why}.")
    return "\n".join(lines)


def measure_name(measure: str) -> str:
    """A measure as a noun."""
    if measure.startswith("move:"):
        return f"the move to {measure.partition(':')[2]}"
    return measure.replace("-", " ")


def _fitted(paragraphs: Sequence[str], cautions: Sequence[str]) -> str:
    """As many whole paragraphs as fit, with the cautions; what is left out is counted."""
    tail = " ".join(cautions)
    for kept in range(len(paragraphs), 0, -1):
        left = len(paragraphs) - kept
        more = [f"And {left} more: see the rounds."] if left else []
        text = "\n\n".join([*paragraphs[:kept], *more, *([tail] if tail else [])])
        if len(text) <= LONGEST:
            return text
    return paragraphs[0][:LONGEST]
