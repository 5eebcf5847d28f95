"""Lines of the rounds that no danger stands behind: tasks of the long clock, messages that were lost, times past."""

import re
from collections.abc import Sequence
from datetime import date, datetime, timedelta

from carewatch.alerts.seasons import WINTER
from carewatch.alerts.wording import clock_time, day_word, listed
from carewatch.tasks.task import Task
from carewatch.tasks.wording import short_day

MOST_TASKS = 3
# Of a date by which a tree is to be in its winter quarters so much ahead is told by itself: today and tomorrow. Judged.
REMINDED = timedelta(days=1)


def day_said(moment: datetime, now: datetime) -> str:
    """A time that is past: today's by the clock, others by the day."""
    if moment.date() == now.date():
        return clock_time(moment)
    if moment.date() == now.date() - timedelta(days=1):
        return f"yesterday {clock_time(moment)}"
    return day_word(moment, now)


def undelivered_line(count: int) -> str:
    """How many notices reached nobody, or ""."""
    if count <= 0:
        return ""
    messages = "1 message" if count == 1 else f"{count} messages"
    return f"{messages} of the last day reached nobody: see `carewatch notify test`."


def _by_day(day: date, today: date | None) -> str:
    """A day, today and tomorrow by these words."""
    near = {} if today is None else {today: "today", today + timedelta(days=1): "tomorrow"}
    return near.get(day, short_day(day))


def _of_several(title: str) -> str:
    """The title of a task for more than one tree."""
    for one, many in ((r"\bits rim\b", "their rims"), (r"\bit\b", "them"), (r"\bthe pot\b", "the pots")):
        title = re.sub(one, many, title)
    return title


def dated(tasks: Sequence[Task], today: date) -> tuple[list[Task], list[Task]]:
    """Moves into winter quarters by today or tomorrow, which cannot wait for a Monday, and all the others."""
    near = [task for task in tasks if task.kind == WINTER and today <= task.last <= today + REMINDED]
    return near, [task for task in tasks if task not in near]


def task_lines(tasks: Sequence[Task], today: date | None = None) -> list[str]:
    """
    What the long clock has due, a line for each, at most MOST_TASKS; what is left out is counted.

    tasks: the most urgent first; what several trees at one place want alike is one line. today: at the site; that a day
    is today or tomorrow is said where it is given.
    """
    alike: dict[tuple[object, ...], list[Task]] = {}
    for task in tasks:
        alike.setdefault((task.place, task.title, task.state, task.last, task.kindest[:1]), []).append(task)
    lines = []
    for members in alike.values():
        lead, trees = members[0], listed([task.tree for task in members])
        # "By", not "until": what is banked by a day stays so.
        due = f"{'overdue since' if lead.state == 'overdue' else 'by'} {_by_day(lead.last, today)}"
        best = lead.kindest[0].on if lead.kindest else None
        day = "" if best is None else ", best today" if best == today else f", best on {short_day(best)}"
        what = lead.title if len(members) == 1 else _of_several(lead.title)
        lines.append(f"{trees} ({lead.place}): {what}, {due}{day}.")
    left = len(lines) - MOST_TASKS
    return [*lines[:MOST_TASKS], *([f"And {left} more: see `carewatch tasks`."] if left > 0 else [])]
