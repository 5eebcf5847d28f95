"""What is said of a day on which a work could be done: its verdict, and what makes it good or bad."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from carewatch.alerts.reasons import reason
from carewatch.alerts.wording import chance, day_word, hazard_name, number
from carewatch.care.work_rules import DayRule
from carewatch.forecast.weather import Hours, Times
from carewatch.hazard.spells import LEAST_LOSS, severity_of
from carewatch.measures.timing import HOUR
from carewatch.outcome import facts_of
from carewatch.whatif.trial import Outcome

# Words for the classes of loss that alerts use: under 2 %, under 10 %, under 30 %, and beyond.
VERDICTS = {"": "kind", "Minor": "fair", "Moderate": "risky", "Severe": "bad", "Extreme": "bad"}
# A loss below this is not worth naming its cause (judged: half of one per cent of a tree). [0-1]
LEAST_NAMED = 0.005
# So many hazards are told of that no choice of a day spares: a phone's screen holds no more (judged).
MOST_NAMED = 3
# Hours around noon in which the work is done, on the site's clock (judged).
WORKING_H = (11.0, 15.0)
# Rain that wets wood (judged). [mm]
WET_MM = 0.5
# From this share of the members on a day is not fit (judged: as likely as not). [0-1]
LIKELY = 0.5


def verdict(loss: float) -> str:
    """A word for an expected loss. [0-1]"""
    return VERDICTS[severity_of(loss)]


def share(loss: float) -> str:
    """An expected loss as it is said; below one per cent it is no more than that."""
    return "under 1 %" if loss < 0.01 else f"{loss * 100:.0f} %"


def floors_of(outcomes: Sequence[Outcome]) -> dict[str, float]:
    """What each hazard costs on the day on which it costs least: no choice of a day spares it. [0-1]"""
    return {name: min(outcome.by_hazard[name] for outcome in outcomes) for name in outcomes[0].by_hazard}


def why_of(outcome: Outcome, floors: Mapping[str, float], forecast_ends: np.datetime64, here: datetime) -> str:
    """
    What makes a day worse than the others, in one or two sentences; or that nothing does.

    floors: from floors_of. forecast_ends: UTC stamp; later spells are what the season brings, not what is foreseen.
    here: the moment of asking, in the site's zone.
    """
    beyond = {name: loss - floors[name] for name, loss in outcome.by_hazard.items()}
    worst = max(beyond, key=lambda name: beyond[name])
    if beyond[worst] < LEAST_NAMED:
        if outcome.loss < LEAST_NAMED:
            return "Nothing passes what it could stand."
        return "Nothing is worse than on any other day."
    told = _told(worst, outcome, forecast_ends, here)
    return told or f"A somewhat greater chance of {worst.replace('-', ' ')}."


def everywhere(floors: Mapping[str, float], best: Outcome, forecast_ends: np.datetime64, here: datetime) -> list[str]:
    """
    A sentence on each hazard that is serious whatever day is taken.

    best: outcome of the kindest day; the rest as for why_of.
    """
    names = sorted((name for name in floors if floors[name] >= LEAST_LOSS), key=lambda name: -floors[name])
    told = (_told(name, best, forecast_ends, here) for name in names[:MOST_NAMED])
    return [f"On every day: {text[0].lower()}{text[1:]}" for text in told if text]


def _told(hazard: str, outcome: Outcome, forecast_ends: np.datetime64, here: datetime) -> str:
    """The costliest spell of a hazard in words, "" where it has none; one that is foreseen goes before a usual one."""
    of_it = [found for found in outcome.found if found.spell.hazard == hazard]
    foreseen = [found for found in of_it if found.spell.starts < forecast_ends]
    if not of_it:
        return ""
    zone = here.tzinfo
    if not isinstance(zone, ZoneInfo):
        raise TypeError("the moment of asking is in a named zone")
    if foreseen:
        facts = facts_of(foreseen[0].spell, foreseen[0].in_leaf, zone)
        likely = chance(facts.probability)
        return f"{reason(facts, here, foreseen[0].layer)} {likely[0].upper()}{likely[1:]}."
    facts = facts_of(of_it[0].spell, of_it[0].in_leaf, zone)
    first, last = day_word(facts.starts, here), day_word(facts.ends, here)
    when = first if first == last else f"{first} to {last}"
    name = hazard_name(facts)
    return f"{name[0].upper()}{name[1:]} is {chance(facts.probability)} in usual weather after the forecast ({when})."


def unfit(rule: DayRule | None, hours: Hours, local: Times, rain_known: int, noon: np.datetime64) -> str:
    """
    Why the day itself does not suit the work, or "".

    hours: of the forecast; local: on the site's clock. rain_known: hours whose rain is known; noon: UTC stamp.
    """
    if rule is None:
        return ""
    day = local[int(np.searchsorted(hours.times, noon))].astype("datetime64[D]")
    clock = ((local - day) / HOUR).astype(np.float64)
    at_work = (clock >= WORKING_H[0]) & (clock <= WORKING_H[1])
    coldest = hours.values["air_temp_c"][at_work].min(axis=0)
    if float((coldest < rule.least_air_c).mean()) > LIKELY:
        return f"Air at work about {number(float(np.median(coldest)))} °C: {rule.why}."
    around = (hours.times - noon) / HOUR
    wanted = (around > -rule.dry_before_h) & (around <= rule.dry_after_h)
    wanted &= np.arange(len(hours)) < rain_known
    if rule.dry_after_h > 0.0 and wanted.any():
        wet = float((hours.values["rain_mm"][wanted].sum(axis=0) > WET_MM).mean())
        if wet > LIKELY:
            return f"Rain is {chance(wet)}: {rule.why}."
    return ""


def headline(
    work: str, days: Sequence[tuple[datetime, float]], weeks: int, now: datetime, without: float | None = None
) -> str:
    """
    What the ranking comes to.

    work: as one speaks of it; days: moment and expected loss of those that may be, best first. without: what would be
    lost on the best of them without the work, None where that is not known. [0-1]
    """
    if not days:
        return f"No coming day suits {work}."
    at, loss = days[0]
    told = f"{day_word(at, now)} ({share(loss)} of the tree expected to be lost over {weeks} weeks)"
    bad = verdict(loss) in ("risky", "bad")
    if bad and without is not None and without >= loss - LEAST_NAMED:
        # What threatens the tree is not the work: it must not read as if it were.
        threat = f"{share(loss)} of the tree is expected to be lost over {weeks} weeks with {work}"
        return f"{threat}, and {share(without)} without it: see to what threatens it first (carewatch outlook)."
    if bad:
        return f"No coming day is kind to {work} as the tree stands; the least bad is {told}."
    others = [other for other, lost in days[1:] if abs(lost - loss) < LEAST_NAMED]
    also = f" {len(others)} more {'is' if len(others) == 1 else 'are'} as good." if others else ""
    return f"Kindest to {work}: {told}.{also}"
