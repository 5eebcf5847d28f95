"""
What a forecast lacks and what stands in for it, in a grower's words: only what changes what may be said of trees.

`explain` and --json keep every remark as it was made. A remark that is not known here is shown as it is: nothing that
might make an answer wrong is hidden by being new.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from carewatch.alerts.wording import HAZARD_WORDS, listed
from carewatch.cli.documents import ForecastDocument

# A variable that is missing, and what its absence does to the answer.
_WITHOUT = {
    "wind_10m_ms": "Wind: nearly calm air is assumed, so what wind dries, rocks or breaks is not seen.",
    "gust_10m_ms": "",
    "cloud": "Clouds: a clear sky is assumed, so nights may come out too cold and days too sunny.",
    "rain_mm": "Rain: none is assumed, so pots may come out too dry, and never too wet.",
    "snowfall_cm": "Snowfall: none is assumed, so no snow loads a crown or covers a pot.",
    "snow_depth_m": "Lying snow: bare ground is assumed; under snow roots stay warmer than is said here.",
}
# A variable that is estimated, a part of how, and what that does to the answer; other estimates are near enough.
_INSTEAD = (
    ("gust_10m_ms", "", "Gusts are reckoned from the mean wind; real ones may be stronger."),
    ("global_wm2", "cloud", "How strong the sun shines is reckoned from clouds."),
    (
        "dew_point_c",
        "minimum",
        "Nothing is told of damp: the air of each day's coldest hour is assumed, so frost and drying are less sure.",
    ),
)
_NEAR_ENOUGH = ("dew_point_c", "global_wm2", "direct_normal_wm2", "diffuse_wm2", "pressure_kpa", "soil_temp_c")
ONE_RUN = "Chances rest on one forecast and the usual errors of forecasts"
SEVEN_DAYS = "Only seven days are judged: beyond them one forecast by itself says too little."
# How a remark begins or what it holds, and what it means for trees; "" for nothing.
_REMARKS = tuple(
    (re.compile(pattern), words)
    for pattern, words in (
        (r"^Rain is all precipitation ", "The forecast does not tell snow from rain: both count as rain."),
        (r"^Rain is rain without showers ", "Showers are not in the forecast: pots may get more rain than is said."),
        (r"^Rain is precipitation less the water of snowfall ", ""),
        (r"^Not in this answer: |^Hours without a value, ", ""),
        (r"^Direct radiation is given on the horizontal only|^Pressure is given for sea level only", ""),
        (r"^Values are those of the model | is that of .*\.$", ""),
        (r"^The answer has no control run; | members lack a variable that ", ""),
        (r" is given for \d+ members only; the single run serves\.$|^\d+ members of .* give ", ""),
        (r"^Times were shifted by |^Hours before .* come from ", ""),
        (
            r"^Snowfall is told from rain by |^MET Norway last updated | steps are longer than \d+ hours and are gaps",
            "",
        ),
        (r"^The ensemble ends before the single run|^A single forecast says too little beyond seven days", SEVEN_DAYS),
        (r"^\d+ members are too few for an ensemble", f"{ONE_RUN}."),
        (r"^The ensemble \S+ was not used: (.*?)\.? The single run stands alone\.$", rf"{ONE_RUN} (\1)."),
        (
            r"^Members end after (\d+) hours; ",
            "Beyond \\1 hours chances rest on one forecast and the usual errors of forecasts.",
        ),
        (
            r"^From .* UTC on values are given every few hours",
            "Further ahead the forecast has values every few hours only; what lies between is estimated.",
        ),
        (
            r"^The answer does not say its offset from UTC",
            "The forecast does not say whose time its hours are in: UTC is assumed, or every time here is wrong.",
        ),
        (
            r"^The answer does not say for which place it is",
            "The forecast does not say for which place it is: see that it is yours.",
        ),
        (
            r"^The file does not say when it was issued",
            "How old the forecast is is not known: it counts as new, and may be less sure than is said.",
        ),
        (
            r" steps are not one hour long: their sums and means",
            "Part of the forecast is not hourly: rain, snow, sun and gusts of those hours are left out.",
        ),
    )
)
_OF_AN_ENSEMBLE = re.compile(r"^Ensemble \S+: ")
_SHARED = re.compile(r"^Not given per member and taken from the single run: (.*)\.$")
# What courses may share and chances of trees depend on.
_SHARED_WORDS = {
    "wind_10m_ms": "wind",
    "gust_10m_ms": "gusts",
    "cloud": "clouds",
    "global_wm2": "sun",
    "rain_mm": "rain",
    "snowfall_cm": "snow",
    "dew_point_c": "damp",
}


@dataclass(frozen=True)
class Gaps:
    """
    What a grower should know of a forecast.

    lacks: sentences on what is missing or less sure; unjudged: sentences on dangers that cannot be told.
    more: whether there are remarks that only `explain` and --json tell.
    """

    lacks: tuple[str, ...]
    unjudged: tuple[str, ...]
    more: bool


def gaps_of(forecast: ForecastDocument) -> Gaps:
    """What the forecast lacks, for a grower."""
    unknown = {_name_of(line) for line in forecast.missing}
    lacks = [
        *(_without(line) for line in forecast.missing),
        *(_instead(line) for line in forecast.estimated if ("cloud", "") not in unknown or " cloud" not in line),
        *(_remark(note) for note in forecast.notes),
    ]
    kept = tuple(dict.fromkeys(filter(None, lacks)))
    whole = {*forecast.missing, *forecast.estimated, *forecast.notes}
    return Gaps(kept, tuple(_unjudged(forecast)), bool(whole - set(kept)))


def _without(line: str) -> str:
    """line: such as "cloud in 24 of 336 hours: a clear sky is assumed"."""
    name, extent = _name_of(line)
    if name not in _WITHOUT:
        return line
    what, _, effect = _WITHOUT[name].partition(":")
    return f"Nothing is told of {what[0].lower()}{what[1:]}{extent}:{effect}" if effect else ""


def _instead(line: str) -> str:
    name, _ = _name_of(line)
    how = line.partition(": ")[2]
    for variable, part, words in _INSTEAD:
        if name == variable and part in how:
            return words
    return "" if name in _NEAR_ENOUGH else line


def _name_of(line: str) -> tuple[str, str]:
    """The variable of a line, and in how many hours, with a space before it; "" for all of them."""
    head = line.partition(":")[0]
    name, _, extent = head.partition(" ")
    return name, f" {extent}" if extent else ""


def _remark(note: str) -> str:
    inner = _OF_AN_ENSEMBLE.sub("", note)
    shared = _SHARED.match(inner)
    if shared:
        names = [_SHARED_WORDS[name] for name in shared.group(1).split(", ") if name in _SHARED_WORDS]
        return f"Of {listed(names, len(names))} there is one course: chances do not count its doubt." if names else ""
    for pattern, words in _REMARKS:
        found = pattern.search(inner)
        if found:
            return found.expand(words)
    return note


def _unjudged(forecast: ForecastDocument) -> Iterable[str]:
    by_hours: dict[int, list[str]] = {}
    for hazard, hours in forecast.hours_judged.items():
        if hours < forecast.hours:
            by_hours.setdefault(hours, []).append(HAZARD_WORDS[hazard])
    for hours, hazards in sorted(by_hours.items()):
        names = listed(list(dict.fromkeys(hazards)), len(hazards))
        if hours:
            yield f"Judged for the first {hours} hours only, as the forecast tells no more: {names}."
        else:
            yield f"Not judged, as the forecast does not tell what it takes: {names}. They may come all the same."
