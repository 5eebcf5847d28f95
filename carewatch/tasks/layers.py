"""Tasks that follow from a layer: roots in its sleeve, severing in time, the first root work."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta

from carewatch.care.log import Entry
from carewatch.care.work_rules import SeasonRule
from carewatch.tasks.almanac import almanac_from
from carewatch.tasks.numbers import TaskNumbers
from carewatch.tasks.prospect import Prospect
from carewatch.tasks.task import Draft
from carewatch.tasks.wording import day_of

ROOT_WORKS = ("root-prune", "repot")
FIRST_ROOT_WORK = "root-prune"
# Of a season that is nearly over when it opens for a tree no more use is made (judged). [d]
LEAST_SEASON_DAYS = 7


def first_root_work(prospect: Prospect, numbers: TaskNumbers) -> Iterator[Draft]:
    """The first work on the roots of a layer that was planted undisturbed, in its kind's season."""
    layer = last_entry(prospect.log, ("sever-layer",))
    if layer is None or layer.roots_worked:
        return
    severed = layer.at.date()
    worked = next((entry for entry in prospect.log if entry.work in ROOT_WORKS and entry.at > layer.at), None)
    waits, practice = numbers.rules.wait(FIRST_ROOT_WORK, "sever-layer")
    rule = numbers.rules.season_of(FIRST_ROOT_WORK, prospect.tree.species)
    window = None if rule is None else _season_after(prospect, rule, severed + timedelta(days=waits))
    if rule is None or window is None:
        return
    first, last = window
    reason = (
        f"Severed on {day_of(severed)} and planted undisturbed: its first root work is due about eighteen months on, "
        f"{rule.when}."
    )
    moves = "The season decides: a warm winter brings it forward, a cold spring puts it back; what buds show wins."
    if prospect.on(first).anchorage < numbers.hold_enough:
        moves += " Its roots hold it too little so far: if that is still so then, leave it a year longer."
    done = worked.at.date() if worked is not None else None
    best, source = first + (last - first) // 2, f"{practice}; {rule.source}"
    yield Draft("first-root-work", first, best, last, reason, moves, source, done_on=done)


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
    first_look = on + timedelta(days=numbers.rules.wait("sever-layer", "set-layer")[0])
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
    weeks, root_c = _warm_weeks(prospect, numbers)
    if spring:
        reason = (
            f"Set on {day_of(on)}, too late to be severed in autumn: it needs {weeks} weeks of warm roots before the "
            "cold. Keep it on the mother tree, its sleeve from freezing through, and sever it in spring."
        )
    else:
        reason = (
            f"Set on {day_of(on)}. It has to be severed {weeks} weeks before its root zone falls below "
            f"{root_c:.0f} °C, by {day_of(last)}; otherwise it stays on until spring."
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
    weeks, warm_c = _warm_weeks(prospect, numbers)
    before = timedelta(weeks=weeks)
    first = on + timedelta(days=numbers.sever_first_days)
    if first > prospect.end:
        return None
    # The last day of a year's warm half on which the root zone is warm enough: cold days of spring are not the end.
    falls = ~season.rising & (root_c < warm_c)
    cold = prospect.first_of(falls, max(on, prospect.day(0)))
    if cold is None:
        return first, prospect.end, False
    last = cold - before
    if first <= last:
        return first, last, False
    warm = prospect.first_of(season.rising & (root_c >= warm_c), cold)
    if warm is None:
        return None
    ready = max(warm, first)
    next_cold = prospect.first_of(falls, ready)
    end = prospect.end if next_cold is None else next_cold - before
    return ready, max(ready, end), True


def _warm_weeks(prospect: Prospect, numbers: TaskNumbers) -> tuple[int, float]:
    """Weeks of a warm root zone that a severed layer needs before the cold, and how warm it must be. [°C]"""
    rule = numbers.rules.season_of("sever-layer", prospect.tree.species)
    if rule is None or rule.root_weeks is None or rule.root_above_c is None:
        return 0, prospect.tree.species.root_base_c
    return rule.root_weeks, rule.root_above_c


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


def _season_after(prospect: Prospect, rule: SeasonRule, earliest: date) -> tuple[date, date] | None:
    """First and last day of the first season that is open from `earliest` on for a week at least."""
    almanac = almanac_from(prospect.lived, prospect.stage, prospect.today)
    right = almanac.season_days(rule).right(frost_free_winter=True)
    first = prospect.first_of(right, earliest)
    while first is not None:
        end = prospect.first_of(~right, first)
        last = prospect.end if end is None else end - timedelta(days=1)
        if end is None or (last - first).days >= LEAST_SEASON_DAYS:
            return first, last
        first = prospect.first_of(right, end)
    return None


def last_look(log: Iterable[Entry], kind: str, branch: str | None, since: date) -> date | None:
    """Day of the last look of a kind at a branch that the log tells of, or None."""
    days = [
        entry.at.date()
        for entry in log
        if entry.work == "checked" and entry.measure == kind and entry.branch in (None, branch)
    ]
    return max((day for day in days if day >= since), default=None)


def last_entry(log: Iterable[Entry], works: Sequence[str]) -> Entry | None:
    """The newest entry of these works."""
    found = [entry for entry in log if entry.work in works]
    return found[-1] if found else None
