"""The question to the grower, do the leaves hang: when it is asked, and in which words."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from carewatch.alerts.danger import Notice, NoticeLine
from carewatch.alerts.notices import identity, made_notice
from carewatch.alerts.rounds import in_rounds_hours
from carewatch.alerts.timing import is_quiet
from carewatch.alerts.wording import LONGEST, LONGEST_TITLE, MONTHS, Message, day_word, listed
from carewatch.care.garden import NoticeRules
from carewatch.tasks.leaf_question import LeafQuestion

# Once on the third day and once after the first hot day (common practice).
MOST_PER_WORK = 2
# Trees in one question; the others are asked about on the next days. Judged.
MOST_TREES = 5
# When leaves hang most, and when they are up again where roots suffice (common practice).
LOOK_AT, UP_BY = time(14), time(21)
USELESS_FROM = time(20)
WORDS = {
    "sever-layer": "cut from its mother",
    "root-prune": "roots cut",
    "repot": "repotted",
    "lift": "lifted",
}


@dataclass(frozen=True)
class AskedBefore:
    """A tree that a question was about, and the day on which it was asked."""

    tree: str
    on: date


def question_notice(
    questions: Sequence[LeafQuestion], asked: Sequence[AskedBefore], rules: NoticeRules, now: datetime
) -> Notice | None:
    """
    The question of a day, or None: at the hour of the rounds, with which it arrives, and never in quiet hours.

    asked: every question that was asked before. now: in the site's zone.
    """
    if not in_rounds_hours(now, rules) or is_quiet(now, rules):
        return None
    due = [question for question in questions if _is_due(question, asked, now.date())][:MOST_TREES]
    if not due or any(before.on == now.date() for before in asked):
        return None
    # Who gets it after two o'clock looks on the next day.
    day = now.date() + timedelta(days=int(now.timetz().replace(tzinfo=None) >= LOOK_AT))
    key = f"question:{now.date().isoformat()}"
    looked_at = datetime.combine(day, LOOK_AT, tzinfo=now.tzinfo)
    message = _message(due, looked_at, now, identity("notice", key)[:6])
    lines = tuple(NoticeLine("", question.tree, "") for question in due)
    useless = datetime.combine(day, USELESS_FROM, tzinfo=now.tzinfo)
    return made_notice("question", "Minor", message, now, useless, key, lines)


def _is_due(question: LeafQuestion, asked: Sequence[AskedBefore], today: date) -> bool:
    before = [each.on for each in asked if each.tree == question.tree and each.on > question.on]
    if len(before) >= MOST_PER_WORK:
        return False
    if question.hot_on is not None:
        # One that was asked weeks after the work was about a hot day.
        late = [day for day in before if day > question.once_until]
        return not late and not any(day > question.hot_on for day in before)
    return not before and today <= question.once_until


def _message(due: Sequence[LeafQuestion], looked_at: datetime, now: datetime, number: str) -> Message:
    trees = [question.tree for question in due]
    when = f"{day_word(looked_at, now)} at {looked_at:%H:%M}"
    head = f"{when[:1].upper()}{when[1:]}: do the leaves of {listed(trees)} hang?"
    if len(head) > LONGEST_TITLE:
        head = f"{when[:1].upper()}{when[1:]}: do the leaves of {trees[0]} and {len(trees) - 1} more hang?"
    alike: dict[str, list[str]] = {}
    for question in due:
        alike.setdefault(_reason(question, now), []).append(f"{question.tree} ({question.place})")
    why = "\n".join(f"{', '.join(names)}: {_counted(reason, names)}." for reason, names in alike.items())
    answer = (
        f"Look again at {UP_BY:%H:%M}, then say what you saw:\n"
        f"carewatch answer {number} hang: they hung, and were up again.\n"
        f"carewatch answer {number} firm: they did not hang."
    )
    if len(due) > 1:
        answer += f"\nFor one tree alone: carewatch answer {number} TREE hang."
    dawn = (
        "If they still hang at dawn, shade the tree and keep the wind off it at once, and say so before 10:00: "
        f"carewatch log {trees[0] if len(due) == 1 else 'TREE'} observe wilting."
    )
    leaves = "Leaves know better than any table what roots bring."
    body = f"{head}\n\n{why}\n{leaves}\n\n{answer}\n\n{dawn}"
    if len(body) > LONGEST:
        body = f"{head}\n\n{leaves}\n\n{answer}\n\n{dawn}"
    return Message(head, body)


def _counted(reason: str, trees: Sequence[str]) -> str:
    return reason if len(trees) == 1 else reason.replace("its mother", "their mother")


def _ago(days: int) -> str:
    """How long ago, in days, weeks or months, as one would say it."""
    if days <= 21:
        return f"{days} days ago"
    return f"{round(days / 7)} weeks ago" if days < 70 else f"{round(days / 30.4)} months ago"


def _reason(question: LeafQuestion, now: datetime) -> str:
    done = f"{WORDS[question.work]} {_ago((now.date() - question.on).days)}"
    hot = question.hot_on
    return done if hot is None else f"{done}, and {hot.day} {MONTHS[hot.month - 1]} was hot"
