"""Tasks that follow from a layer: roots in its sleeve, severing in time, ties that may go, the first root work."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta

import numpy as np

from carewatch.care.log import Entry
from carewatch.care.species import Species
from carewatch.condition.season import before_autumn
from carewatch.condition.stage import FLUSHING
from carewatch.tasks.numbers import TaskNumbers
from carewatch.tasks.prospect import Flags, Prospect
from carewatch.tasks.task import Draft
from carewatch.tasks.wording import day_of

# Works that loosen roots: what stood still before them stands still anew. A carry, level and tied, is no such work, or
# the winter plan would put every layer back by a winter.
LOOSENS = ("sever-layer", "root-prune", "repot", "lift")
ROOT_WORKS = ("root-prune", "repot")
WARM_DAYS = 14
# Evergreens whose leaves frost of this kind hurts in winter are tender: no hardy one minds -2 °C (judged). [°C]
TENDER_ABOVE_C = -2.0


def untie(prospect: Prospect, numbers: TaskNumbers) -> Iterator[Draft]:
    """When the ties of a tree may go: after twelve months for a layer, for any tree when its roots hold it."""
    tied = _tied_since(prospect.log)
    ended = _last(prospect.log, ("untie",))
    if tied is None:
        # What was untied lately is told as done, with the window that it had.
        if ended is None or (prospect.today - ended.at.date()).days > numbers.kept_days:
            return
        tied = ended.at.date()
    loosened = [entry for entry in prospect.log if entry.work in LOOSENS]
    layer = _last(prospect.log, ("sever-layer",))
    since = loosened[-1].at.date() if loosened else tied
    still = layer is not None and (since - layer.at.date()).days < numbers.still_days
    earliest = since + timedelta(days=numbers.still_days) if still else since
    firm = prospect.first(lambda condition: condition.anchorage >= numbers.hold_enough, since)
    by_calendar = firm is not None and firm <= earliest
    first = max(earliest, firm or prospect.end)
    last = first + timedelta(days=numbers.untie_open_days)
    hold = f"its roots hold it at {prospect.now.anchorage * 100:.0f} % today"
    need = f"ties stay until {numbers.hold_enough * 100:.0f} %"
    if still:
        reason = (
            f"Its roots were left to themselves on {day_of(since)}: a layer stands absolutely still for twelve months, "
            f"and {need}; {hold}."
        )
    else:
        reason = f"{hold[0].upper()}{hold[1:]}; {need}."
    if firm is None:
        moves = "Warmth decides: so far it is not in sight, and a warm summer brings it nearer."
    elif by_calendar and still:
        moves = (
            f"The calendar decides: no warmth brings it forward; a summer so cold that its hold is not there by then "
            f"puts it back (foreseen for {day_of(firm)})."
        )
    else:
        bound = f", but not before {day_of(earliest)}" if still else ""
        moves = f"Warmth decides: a cool summer puts it back, a warm one brings it forward{bound}."
    done = ended.at.date() if ended is not None and ended.at.date() >= tied else None
    yield Draft("untie", first, first, last, reason, moves, numbers.sources["untie"], done_on=done)


def first_root_work(prospect: Prospect, numbers: TaskNumbers) -> Iterator[Draft]:
    """The first work on the roots of a layer that was planted undisturbed, in its kind's season."""
    layer = _last(prospect.log, ("sever-layer",))
    if layer is None or layer.roots_worked:
        return
    severed = layer.at.date()
    worked = next((entry for entry in prospect.log if entry.work in ROOT_WORKS and entry.at > layer.at), None)
    wanted = severed + timedelta(days=numbers.root_work_days)
    earliest = wanted - timedelta(days=numbers.root_work_early_days)
    window = _root_season(prospect, earliest, numbers)
    if window is None:
        return
    first, best, last = window
    reason = (
        f"Severed on {day_of(severed)} and planted undisturbed: its first root work is due about eighteen months on, "
        f"in {_season_word(prospect, numbers)}."
    )
    moves = "The season decides: a warm winter brings it forward, a cold spring puts it back; what buds show wins."
    if prospect.on(first).anchorage < numbers.hold_enough:
        moves += " Its roots hold it too little so far: if that is still so then, leave it a year longer."
    done = worked.at.date() if worked is not None else None
    yield Draft("first-root-work", first, best, last, reason, moves, numbers.sources["first-root-work"], done_on=done)


def sleeves(prospect: Prospect, log: Sequence[Entry], numbers: TaskNumbers) -> Iterator[Draft]:
    """Looks into the sleeves of layers on a tree, and when to sever them; log: of all trees, none after today."""
    for entry in prospect.log:
        if entry.work != "set-layer":
            continue
        severed = _severed(entry, log)
        yield from _sleeve(prospect, entry, severed, numbers)


def _sleeve(prospect: Prospect, entry: Entry, severed: Entry | None, numbers: TaskNumbers) -> Iterator[Draft]:
    on, about = entry.at.date(), entry.branch or ""
    source = numbers.sources["sleeve"]
    looked = last_look(prospect.log, "look-for-roots", entry.branch, on)
    first_look = on + timedelta(days=numbers.look_first_days)
    if looked is not None:
        first_look = max(first_look, looked + timedelta(days=numbers.look_every_days))
    window = _sever_window(prospect, on, numbers)
    if severed is None and (window is None or first_look <= window[1]):
        yield Draft(
            "look-for-roots",
            first_look,
            first_look,
            first_look + timedelta(days=numbers.look_every_days),
            f"The layer was set on {day_of(on)}; roots show from the sixth week on, sooner in warmth.",
            "Warmth moves it: a cool summer makes it weeks later. Wet the moss and shade the sleeve from strong sun.",
            source,
            about,
        )
    if window is None:
        return
    first, last, spring = window
    if spring:
        reason = (
            f"Set on {day_of(on)}, too late to be severed in autumn: it needs six weeks of warm roots before the cold. "
            "Keep it on the mother tree, its sleeve from freezing through, and sever it in spring."
        )
    else:
        reason = (
            f"Set on {day_of(on)}. It has to be severed six weeks before its root zone falls below "
            f"{numbers.sever_root_c:.0f} °C, by {day_of(last)}; otherwise it stays on until spring."
        )
    yield Draft(
        "sever",
        first,
        min(first + timedelta(days=numbers.look_every_days), last),
        last,
        reason,
        "Roots decide, not the date: sever when they fill the sleeve. A cold autumn brings the last day forward.",
        source,
        about,
        None if severed is None else severed.at.date(),
    )


def _sever_window(prospect: Prospect, on: date, numbers: TaskNumbers) -> tuple[date, date, bool] | None:
    """First and last day for severing, and whether that is in the spring after; None if none is in sight."""
    season, root_c = prospect.lived.season, prospect.lived.root_c
    first = on + timedelta(days=numbers.sever_first_days)
    if first > prospect.end:
        return None
    # The last day of a year's warm half on which the root zone is warm enough: cold days of spring are not the end.
    falls = ~season.rising & (root_c < numbers.sever_root_c)
    cold = prospect.first_of(falls, max(on, prospect.day(0)))
    if cold is None:
        return first, prospect.end, False
    last = cold - timedelta(days=numbers.sever_before_days)
    if first <= last:
        return first, last, False
    warm = prospect.first_of(season.rising & (root_c >= numbers.sever_root_c), cold)
    if warm is None:
        return None
    ready = max(warm, first)
    next_cold = prospect.first_of(falls, ready)
    end = prospect.end if next_cold is None else next_cold - timedelta(days=numbers.sever_before_days)
    return ready, max(ready, end), True


def _severed(entry: Entry, log: Iterable[Entry]) -> Entry | None:
    """The entry by which a layer left its mother tree, in the log of either."""
    for other in log:
        if other.at < entry.at:
            continue
        same = entry.branch is None or other.branch in (None, entry.branch)
        own = other.tree == entry.tree and (
            (other.work == "sever-layer" and same) or (other.work == "cut-off" and (same or other.branch == "trunk"))
        )
        taken = other.work == "sever-layer" and other.other_tree == entry.tree and same
        if own or taken:
            return other
    return None


def _root_season(prospect: Prospect, earliest: date, numbers: TaskNumbers) -> tuple[date, date, date] | None:
    """The first season for root work that ends after `earliest`: first, best and last day."""
    if earliest > prospect.end:
        return None
    if in_warm_weeks(prospect, numbers):
        warm = _warm_weeks(prospect, numbers)
        first = prospect.first_of(warm, earliest)
        if first is None:
            return None
        end = prospect.first_of(~warm, first)
        last = (end or prospect.end) - timedelta(days=1)
        return first, min(first + timedelta(days=WARM_DAYS), last), max(first, last)
    opens, closes = numbers.around_leaf_out_days[_kind(prospect)]
    leaf_out = prospect.begins(FLUSHING) & prospect.lived.season.rising
    out = prospect.first_of(leaf_out, earliest - timedelta(days=closes))
    if out is None:
        return None
    first = max(earliest, out + timedelta(days=opens))
    last = max(first, out + timedelta(days=closes))
    return first, first + (last - first) // 2, last


def is_tender(species: Species) -> bool:
    """Whether a kind wants its winter free of frost, or warm."""
    return species.evergreen and species.frost_c["winter-hard"][0] > TENDER_ABOVE_C


def _kind(prospect: Prospect) -> str:
    """The kind of tree by its leaves, as the table has it."""
    species = prospect.tree.species
    if species.leaf_class == "needle":
        return "conifer" if species.evergreen else "deciduous-conifer"
    return "evergreen" if species.evergreen else "deciduous"


def in_warm_weeks(prospect: Prospect, numbers: TaskNumbers) -> bool:
    """Whether a kind's roots are worked in the warm weeks of early summer, and not around leaf-out."""
    species = prospect.tree.species
    genus = species.asked_for.partition(" ")[0].capitalize()
    return is_tender(species) or genus in numbers.warm_genera


def _warm_weeks(prospect: Prospect, numbers: TaskNumbers) -> Flags:
    """Days of two warm weeks before the height of summer is over."""
    season, mean_c = prospect.lived.season, prospect.lived.mean_c
    recent = np.convolve(mean_c, np.ones(WARM_DAYS) / WARM_DAYS)[: mean_c.size]
    in_time = before_autumn(season) & (season.rising | (season.height >= numbers.warm_until_height))
    warm: Flags = (recent >= numbers.warm_mean_c) & in_time
    return warm


def _season_word(prospect: Prospect, numbers: TaskNumbers) -> str:
    if in_warm_weeks(prospect, numbers):
        return "the warm weeks of early summer"
    return (
        "spring, before new tips open" if prospect.tree.species.evergreen else "spring, as its leaves are about to open"
    )


def last_look(log: Iterable[Entry], kind: str, branch: str | None, since: date) -> date | None:
    """Day of the last look of a kind at a branch that the log tells of, or None."""
    days = [
        entry.at.date()
        for entry in log
        if entry.work == "checked" and entry.measure == kind and entry.branch in (None, branch)
    ]
    return max((day for day in days if day >= since), default=None)


def _tied_since(log: Iterable[Entry]) -> date | None:
    """The day on which the ties that hold a tree were first set, or None if none do."""
    since: date | None = None
    for entry in log:
        if entry.work == "untie":
            since = None
        elif since is None and (entry.work == "tie-down" or entry.tied):
            since = entry.at.date()
    return since


def _last(log: Iterable[Entry], works: Sequence[str]) -> Entry | None:
    """The newest entry of these works."""
    found = [entry for entry in log if entry.work in works]
    return found[-1] if found else None
