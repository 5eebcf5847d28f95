"""The plans for a season: one list at leaf fall of who winters where, one in spring of who comes out; then silence."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from types import MappingProxyType

from carewatch.alerts.danger import Notice
from carewatch.alerts.farewell import BANK as BANKED
from carewatch.alerts.farewell import JACKET
from carewatch.alerts.fitting import message_of
from carewatch.alerts.messages import in_place
from carewatch.alerts.notices import made_notice
from carewatch.alerts.timing import is_quiet
from carewatch.alerts.wording import MOST_NAMES, Message, listed
from carewatch.care.garden import NoticeRules
from carewatch.tasks.task import BANK, BY_REGION, GUESSED, WRAP, WRAP_HOLDS, Task
from carewatch.tasks.wording import short_day

WINTER, SPRING, SHADE = "winter-place", "spring-out", "second-shade"
# What is done for the winter to a pot that stays where it is: by the measure of each.
IN_PLACE: Mapping[str, str] = MappingProxyType({BANK: BANKED, WRAP: JACKET})
COVERED = tuple(IN_PLACE.values())
# So long before the first of its moves the winter plan is told: to make room, to fetch bark. Judged.
AHEAD = timedelta(days=7)
# A plan that could not be delivered for so long is in the rounds, task by task. Judged.
USEFUL = timedelta(days=7)
CAREFUL = "once, level and tied"
AFTERWARDS = "From then on you hear only of a place that is not enough."
# In a plan all are named, as far as that can be read. Judged.
MOST_LISTED = 8
# What the long clock says of trees that go when their leaves are down.
ASLEEP = "Carry it asleep"
OPEN = ("overdue", "due", "soon", "later")
# The plan for spring does not ask for a tree yet.
WAITS = ("later", "soon", "put-off")


def season_key(kind: str, tasks: Sequence[Task], latitude: float) -> str:
    """
    Under which a plan is told once: its kind and the year in which its winter began.

    latitude: north positive. [°] A northern winter spans two years, a southern one does not.
    """
    return winter_key(kind, min(task.first for task in tasks), latitude)


def winter_key(kind: str, day: date, latitude: float) -> str:
    """The key of the plan that a day of the darker half of the year belongs to. latitude: north positive. [°]"""
    began = day - timedelta(days=180) if latitude >= 0 else day
    return f"{kind}:{began.year}"


def to_tell(
    tasks: Sequence[Task],
    told: bool,
    promised: Collection[str],
    named: Collection[str],
    called: Collection[str],
    today: date,
) -> tuple[list[Task], tuple[str, ...]]:
    """
    Of the moves of the winter plan those that may be told today, and the trees that are left for later.

    tasks: open moves into winter quarters. told: the plan of this winter was told; then only the trees that it
    promised a word (promised) are left. named: trees whose place was named when they were brought back. called: trees
    of which a call is due (`called_first`): it may want them elsewhere for the nights to come, and goes first. The
    others wait with them, one plan for all, but not beyond the day before their own date.
    """
    left = [task for task in tasks if task.tree not in named and (not told or task.tree in promised)]
    free = [task for task in left if task.tree not in called]
    presses = any(task.last <= today + timedelta(days=1) for task in free)
    if len(free) < len(left) and not presses:
        return [], ()
    return free, tuple(sorted({task.tree for task in left} - {task.tree for task in free}))


def season_notice(
    tasks: Sequence[Task],
    told: Collection[str],
    latitude: float,
    rules: NoticeRules,
    now: datetime,
    later: Sequence[str] = (),
    rest: bool = False,
) -> tuple[Notice, str] | None:
    """
    The plan that is to be told now, with the key to remember it by, or None.

    tasks: of the long clock, without moves that are not to be told. told: keys of the plans that were told.
    now: in the site's zone. later: trees that the winter plan leaves for later. rest: it is what a plan left for later.
    """
    if is_quiet(now, rules):
        return None
    for kind in (WINTER, SPRING):
        meant = [task for task in tasks if task.kind == kind and task.state in OPEN]
        if not meant:
            continue
        key = season_key(kind, meant, latitude)
        lead = AHEAD if kind == WINTER else timedelta(0)
        if key in told or min(task.first for task in meant) - lead > now.date():
            continue
        message = _winter(meant, now.date(), later, rest) if kind == WINTER else _spring(meant, now.date())
        useless = datetime.combine(now.date() + USEFUL, time(20), tzinfo=now.tzinfo)
        trees = ",".join(sorted({task.tree for task in meant})) if rest and kind == WINTER else ""
        return made_notice("season", "Minor", message, now, useless, f"season:{key}{trees and ':' + trees}"), key
    return None


def presses(tasks: Sequence[Task], now: datetime) -> bool:
    """Whether the first move of a season's plan is for today or tomorrow. now: in the site's zone."""
    meant = [task for task in tasks if task.kind in (WINTER, SPRING) and task.state in OPEN]
    return any((task.last if task.kind == WINTER else task.first) <= now.date() + timedelta(days=1) for task in meant)


def place_of(task: Task) -> str:
    """Where a tree winters by a move into winter quarters: a place, or the measure that its pot gets where it is."""
    return IN_PLACE.get(task.about, task.about)


def placed(task: Task, place: str) -> Task:
    """
    The move into winter quarters with the place that was told, as by `place_of`; "": none was.

    What is done to a pot that stays where it is goes by what there is today.
    """
    if place in ("", place_of(task)) or (place in COVERED and task.about in IN_PLACE):
        return task
    about = next((about for about, measure in IN_PLACE.items() if measure == place), place)
    why = task.reason.split(". ", maxsplit=1)[0].rstrip(".")
    careful = f", {CAREFUL}" if CAREFUL in task.reason and about not in IN_PLACE else ""
    where = about if about in IN_PLACE else f"into {about}{careful}"
    return replace(task, about=about, reason=f"{why}. As it was told: {where}.")


def quarters_of(tasks: Sequence[Task], before: Mapping[str, str]) -> dict[str, str]:
    """
    Per tree, its place of this winter, or the measure for its pot where it stays: from the plan, until spring comes.

    tasks: of the long clock, all of them. before: what was known; a plan that was told stands. Where a tree was
    carried on a cold evening is no winter place by that, and months ahead of its winter a tree has none. A first-year
    layer is carried once: where it was brought for the cold it stays, whatever was planned.
    """
    wanted = [task for task in tasks if task.kind == WINTER]
    found = {task.tree: place_of(task) for task in wanted if task.state not in ("done", "later")}
    made = {task.tree for task in wanted if task.state == "done"}
    inside = {task.tree for task in tasks if task.kind == SPRING and task.state in WAITS}
    staying = {task.tree: task.place for task in tasks if task.kind == SPRING and task.state in WAITS and task.stays}
    leaving = {task.tree for task in tasks if task.kind == SPRING and task.state in ("due", "overdue", "done")}
    kept = {tree: place for tree, place in before.items() if tree in inside | set(found) | made}
    return {tree: place for tree, place in {**found, **kept, **staying}.items() if tree not in leaving}


def _winter(tasks: Sequence[Task], today: date, later: Sequence[str], rest: bool) -> Message:
    order = sorted(tasks, key=lambda task: (max(task.last, today), task.about, task.tree))
    groups: dict[tuple[date, str, bool], list[str]] = {}
    for task in order:
        groups.setdefault((max(task.last, today), task.about, CAREFUL in task.reason), []).append(task.tree)
    lines = []
    for (day, about, careful), trees in groups.items():
        how = f", {CAREFUL}," if careful else ""
        names = listed(trees, MOST_LISTED)
        deed = in_place(IN_PLACE.get(about, ""), trees) or f"carry {names}{how} into {about}"
        lines.append(f"{'Now' if day == today else f'By {short_day(day)}'}: {deed}.")
    first = "now" if order[0].last <= today else f"by {short_day(order[0].last)}"
    why = order[0].reason.split(". ", maxsplit=1)[0].rstrip(".")
    lead = f"{order[0].tree}: {why[0].lower()}{why[1:]}."
    bare = [task.tree for task in order if task.about not in IN_PLACE and ASLEEP in task.moves]
    go = "goes when its leaves are down" if len(bare) == 1 else "go when their leaves are down"
    ending = [
        lead,
        f"{'With' if len(order) == 1 else 'Each with'} a moist root ball{f'; {listed(bare)} {go}' if bare else ''}.",
        *([WRAP_HOLDS] if any(task.about == WRAP for task in order) else []),
        *_later(later),
        *(text for text in (GUESSED, BY_REGION) if any(text in task.reason for task in tasks)),
        AFTERWARDS,
    ]
    if len(lines) == 1 and len(order) <= MOST_NAMES:
        # One short line is the whole plan, and suffices on a lock screen.
        return message_of([f"For the winter, {lines[0][0].lower()}{lines[0][1:]}"], ending)
    title = f"{'The other winter places' if rest else 'Winter places'} for {_trees(tasks)}, the first {first}."
    return message_of([title, *_paragraphs(lines)], ending)


def _later(trees: Sequence[str]) -> list[str]:
    """That the plan leaves out trees of which a call is due: their place is told when that cold is over."""
    if not trees:
        return []
    wait, its = ("waits", "its winter place") if len(trees) == 1 else ("wait", "their winter places")
    return [
        f"{listed(trees, MOST_LISTED)} {wait}: what the cold of the next days asks for comes first, {its} after that."
    ]


def _spring(tasks: Sequence[Task], today: date) -> Message:
    order = sorted(tasks, key=lambda task: (max(task.first, today), task.about, task.tree))
    groups: dict[tuple[date, str, bool], list[str]] = {}
    for task in order:
        groups.setdefault((max(task.first, today), task.about, CAREFUL in task.reason), []).append(task.tree)
    lines = [
        f"{'Now' if day == today else f'From {short_day(day)}'}: {listed(trees, MOST_LISTED)}"
        f"{f', {CAREFUL},' if careful else ''} to {home}."
        for (day, home, careful), trees in groups.items()
    ]
    first = "now" if order[0].first <= today else f"from {short_day(order[0].first)} on"
    title = f"Out of winter quarters: {_trees(tasks)}, {first}."
    ending = "First three days in shade, then four in half sun; under cover in nights of frost."
    return message_of([title, *_paragraphs(lines)], [ending])


def _paragraphs(lines: Sequence[str]) -> list[str]:
    """So many lines a paragraph that whole paragraphs can be left out where there is no room."""
    return ["\n".join(lines[start : start + 4]) for start in range(0, len(lines), 4)]


def _trees(tasks: Sequence[Task]) -> str:
    count = len({task.tree for task in tasks})
    return "1 tree" if count == 1 else f"{count} trees"
