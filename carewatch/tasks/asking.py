"""Of which trees to ask whether their leaves hang: those whose roots were cut and whose leaves can tell."""

from collections.abc import Mapping, Sequence
from datetime import date

from carewatch.care.log import Entry
from carewatch.condition.leaves import verdict
from carewatch.condition.now import Condition
from carewatch.condition.recovery import CUTS_ROOTS, ROOTS_SUFFICE, Opened
from carewatch.measures.candidates import MOVE
from carewatch.measures.catalogue import parts_of
from carewatch.tasks.leaf_question import ASKED_UNTIL_DAY, THIRD_DAY, LeafQuestion

# A hot day: the first of 26 °C is the one on which new layers collapse (common practice). Asked about for so many days
# after it (judged). [°C], [d]
HOT_C, HOT_FOR_DAYS = 26.0, 3
# Leaves of less than a tenth of the crown tell nothing of its roots (judged). [0-1]
LEAST_LEAF = 0.1


def leaf_questions(
    conditions: Sequence[Condition], log: Sequence[Entry], highest_c: Mapping[date, float], today: date
) -> tuple[LeafQuestion, ...]:
    """
    The trees to ask about, the weakest roots first; what was asked already is not known here.

    log: entries of all trees, in the site's zone. highest_c: highest air temperature of each of the last days. [°C]

    Only leaves that can hang tell anything: none of needles, none while they colour, none of roots that suffice.
    """
    found = []
    for condition in conditions:
        work = _limiting(condition)
        if work is None or not _can_tell(condition):
            continue
        on = work.entry.at.date()
        looked = [
            entry.at.date()
            for entry in log
            if entry.tree == condition.tree.id and verdict(entry) and entry.at.date() > on
        ]
        hot = [
            day
            for day, air_c in highest_c.items()
            if air_c >= HOT_C and on < day < today and (today - day).days <= HOT_FOR_DAYS
        ]
        hot_on = max(hot, default=None)
        if hot_on is not None and any(day >= hot_on for day in looked):
            hot_on = None
        third = THIRD_DAY <= (today - on).days <= ASKED_UNTIL_DAY and not looked
        if third or hot_on is not None:
            tree = condition.tree.id
            found.append(LeafQuestion(tree, _stands_at(condition), work.entry.work, on, hot_on, condition.root_supply))
    return tuple(sorted(found, key=lambda question: (question.supply, question.tree)))


def _stands_at(condition: Condition) -> str:
    """The place to which it was carried last and not back, else the one where it lives."""
    moves = [part for name in condition.begun for part in parts_of(name) if part.startswith(f"{MOVE}:")]
    return moves[-1].partition(":")[2] if moves else condition.place


def _limiting(condition: Condition) -> Opened | None:
    """The last work that cut roots and still limits them, or None."""
    cut = [
        work
        for work in condition.opened
        if work.entry.work in CUTS_ROOTS and max(work.effect.root_supply, work.root_supply) < ROOTS_SUFFICE
    ]
    return max(cut, key=lambda work: work.entry.at, default=None)


def _can_tell(condition: Condition) -> bool:
    broad = condition.tree.species.leaf_class != "needle"
    return broad and condition.in_leaf and condition.leaf_area >= LEAST_LEAF and condition.stage != "colouring"
