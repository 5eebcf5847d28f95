"""The plans for a season: one list at leaf fall of who winters where, one in spring of who comes out; then silence."""

from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime, time, timedelta

from carewatch.alerts.danger import Notice
from carewatch.alerts.farewell import BANK as BANKED
from carewatch.alerts.messages import message_of
from carewatch.alerts.notices import made_notice
from carewatch.alerts.timing import is_quiet
from carewatch.alerts.wording import Message, listed
from carewatch.care.garden import NoticeRules
from carewatch.tasks.task import BANK, Task
from carewatch.tasks.wording import short_day

WINTER, SPRING, SHADE = "winter-place", "spring-out", "second-shade"
# So long before the first of its moves the winter plan is told: to make room, to fetch bark. Judged.
AHEAD = timedelta(days=7)
# A plan that could not be delivered for so long is in the rounds, task by task. Judged.
USEFUL = timedelta(days=7)
CAREFUL = "once, level and tied"
AFTERWARDS = "After this you hear only of a place that does not hold."
_OPEN = ("overdue", "due", "soon", "later")


def season_key(kind: str, tasks: Sequence[Task], latitude: float) -> str:
    """
    Under which a plan is told once: its kind and the year in which its winter began.

    latitude: north positive. [°] A northern winter spans two years, a southern one does not.
    """
    first = min(task.first for task in tasks)
    began = first - timedelta(days=180) if latitude >= 0 else first
    return f"{kind}:{began.year}"


def season_notice(
    tasks: Sequence[Task], told: Collection[str], latitude: float, rules: NoticeRules, now: datetime
) -> tuple[Notice, str] | None:
    """
    The plan that is to be told now, with the key to remember it by, or None.

    tasks: of the long clock, all of them. told: keys of the plans that were told. now: in the site's zone.
    """
    if is_quiet(now, rules):
        return None
    for kind in (WINTER, SPRING):
        meant = [task for task in tasks if task.kind == kind and task.state in _OPEN]
        if not meant:
            continue
        key = season_key(kind, meant, latitude)
        lead = AHEAD if kind == WINTER else timedelta(0)
        if key in told or min(task.first for task in meant) - lead > now.date():
            continue
        message = _winter(meant, now.date()) if kind == WINTER else _spring(meant, now.date())
        useless = datetime.combine(now.date() + USEFUL, time(20), tzinfo=now.tzinfo)
        return made_notice("season", "Minor", message, now, useless, f"season:{key}"), key
    return None


def presses(tasks: Sequence[Task], now: datetime) -> bool:
    """Whether the first move of a season's plan is for today or tomorrow. now: in the site's zone."""
    meant = [task for task in tasks if task.kind in (WINTER, SPRING) and task.state in _OPEN]
    return any((task.last if task.kind == WINTER else task.first) <= now.date() + timedelta(days=1) for task in meant)


def quarters_of(tasks: Sequence[Task], before: Mapping[str, str]) -> dict[str, str]:
    """
    Per tree, its place of this winter, or "plunge" where its pot is banked: from the plan, until spring brings it out.

    tasks: of the long clock, all of them. before: what was known; a plan that was told stands. Where a tree was
    carried on a cold evening is no winter place by that, and months ahead of its winter a tree has none.
    """
    wanted = [task for task in tasks if task.kind == WINTER]
    found = {
        task.tree: BANKED if task.about == BANK else task.about
        for task in wanted
        if task.state not in ("done", "later")
    }
    made = {task.tree for task in wanted if task.state == "done"}
    inside = {task.tree for task in tasks if task.kind == SPRING and task.state in ("later", "soon")}
    leaving = {task.tree for task in tasks if task.kind == SPRING and task.state in ("due", "overdue", "done")}
    kept = {tree: place for tree, place in before.items() if tree in inside | set(found) | made}
    return {tree: place for tree, place in {**found, **kept}.items() if tree not in leaving}


def _winter(tasks: Sequence[Task], today: date) -> Message:
    order = sorted(tasks, key=lambda task: (max(task.last, today), task.about, task.tree))
    groups: dict[tuple[date, str, bool], list[str]] = {}
    for task in order:
        groups.setdefault((max(task.last, today), task.about, CAREFUL in task.reason), []).append(task.tree)
    lines = []
    for (day, about, careful), trees in groups.items():
        how = f", {CAREFUL}," if careful else ""
        deed = f"bank {listed(trees)} to the rim" if about == BANK else f"carry {listed(trees)}{how} into {about}"
        lines.append(f"{'Now' if day == today else f'By {short_day(day)}'}: {deed}.")
    first = "now" if order[0].last <= today else f"by {short_day(order[0].last)}"
    title = f"Winter places for {_trees(tasks)}, the first {first}."
    lead = f"{order[0].tree}: {order[0].reason.split('. ', maxsplit=1)[0].rstrip('.')}."
    asleep = " those that shed their leaves asleep," if any(task.about != BANK for task in tasks) else ""
    ending = [lead, f"All with a moist root ball,{asleep} by the day that is named.", AFTERWARDS]
    return message_of([title, *_paragraphs(lines)], ending)


def _spring(tasks: Sequence[Task], today: date) -> Message:
    order = sorted(tasks, key=lambda task: (max(task.first, today), task.about, task.tree))
    groups: dict[tuple[date, str, bool], list[str]] = {}
    for task in order:
        groups.setdefault((max(task.first, today), task.about, CAREFUL in task.reason), []).append(task.tree)
    lines = [
        f"{'Now' if day == today else f'From {short_day(day)}'}: {listed(trees)}"
        f"{f', {CAREFUL},' if careful else ''} to {home}."
        for (day, home, careful), trees in groups.items()
    ]
    first = "now" if order[0].first <= today else f"from {short_day(order[0].first)} on"
    title = f"Out of winter quarters: {_trees(tasks)}, {first}."
    ending = "Three days in shade first, then four in half sun; under cover in nights of frost."
    return message_of([title, *_paragraphs(lines)], [ending])


def _paragraphs(lines: Sequence[str]) -> list[str]:
    """So many lines a paragraph that whole paragraphs can be left out where there is no room."""
    return ["\n".join(lines[start : start + 4]) for start in range(0, len(lines), 4)]


def _trees(tasks: Sequence[Task]) -> str:
    count = len({task.tree for task in tasks})
    return "1 tree" if count == 1 else f"{count} trees"
